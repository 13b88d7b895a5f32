package pd_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

func TestFixedWindowVectors(t *testing.T) {
	vectors := standard(t).Windows
	require.Len(t, vectors, 7)
	for _, v := range vectors {
		static, transient := pd.FixedWindow(pd.Millivolts(v.Nominal * 1000))
		assert.Equal(t, v.Static, [2]float64{static.Min, static.Max}, v.Source)
		assert.Equal(t, v.Transient, [2]float64{transient.Min, transient.Max}, v.Source)
	}
}

// Worked from USB PD R3.2 V1.1, table 7.23: ±5 %, then ±0.1 V (PPS) or ±0.5 V (AVS).
func TestAdjustableWindows(t *testing.T) {
	static, transient := pd.PPSWindow(3300)
	assert.Equal(t, pd.Window{Min: 3.135, Max: 3.465}, static)
	assert.Equal(t, pd.Window{Min: 3.035, Max: 3.565}, transient)
	static, transient = pd.AVSWindow(15000)
	assert.Equal(t, pd.Window{Min: 14.25, Max: 15.75}, static)
	assert.Equal(t, pd.Window{Min: 13.75, Max: 16.25}, transient)
	assert.Equal(t, pd.Window{Min: 18, Max: 21}, pd.PeakWindow(20000))
	assert.Equal(t, pd.Window{Min: 4.75, Max: 5.5}, pd.RangeWindow(4750, 5500))
	assert.Equal(t, pd.Window{Min: 0, Max: 0.8}, pd.SafeWindow0V())
	assert.Equal(t, pd.Window{Min: 4.75, Max: 5.5}, pd.SafeWindow5V())
}

// The tables of USB PD R3.2 V1.1 end at 21.5 V for a 20 V contract; its cable text prints
// 21.55 V, which stays a damage limit and is no window.
func TestTwentyVoltSlip(t *testing.T) {
	_, transient := pd.FixedWindow(20000)
	assert.Equal(t, 21.5, transient.Max)
	assert.Equal(t, 21.55, pd.VCable20V.Limits(pd.Revision32).Max.Value)
}

func TestWindowContains(t *testing.T) {
	w := pd.Window{Min: 4.75, Max: 5.5}
	for v, want := range map[float64]bool{4.75: true, 5.5: true, 5: true, 4.749: false, 5.501: false} {
		assert.Equal(t, want, w.Contains(v), v)
	}
	assert.False(t, w.Contains(math.NaN()))
}

func TestSinkDisconnectVectors(t *testing.T) {
	for _, v := range standard(t).SinkDisconnect {
		w := pd.SinkDisconnectPD(pd.Millivolts(v.Nominal * 1000))
		assert.InDelta(t, v.Threshold, w.Max, 1e-6, v.Source)
		assert.Less(t, w.Min, w.Max)
	}
	assert.Equal(t, pd.Window{Min: 0.8, Max: 3.67}, pd.SinkDisconnectPD(5000), "USB Type-C R2.1, table 4-3")
	// 0.95·9 − 0.1 − 0.75 = 7.7; 80 and 90 % of it.
	assert.Equal(t, pd.Window{Min: 6.16, Max: 6.93}, pd.SinkDisconnectPPS(9000))
}

func TestCCMeaning(t *testing.T) {
	meaning := map[string]pd.CCLevel{"default USB": pd.CCDefault, "1.5 A": pd.CC1A5, "3.0 A": pd.CC3A0}
	for _, v := range standard(t).CCLevels {
		want, ok := meaning[v.Meaning]
		if !ok {
			continue // the line of comparator thresholds
		}
		assert.Equal(t, want, pd.CCMeaning(v.Range[0]), v.Source)
		assert.Equal(t, want, pd.CCMeaning(v.Range[1]), v.Source)
	}
	tests := []struct {
		volts  float64
		want   pd.CCLevel
		source string
	}{
		{0, pd.CCOpen, "USB Type-C R2.0, table 4-36"},
		{0.15, pd.CCOpen, "USB Type-C R2.0, table 4-36"},
		{0.408, pd.CCDefault, "80 µA through 5.1 kΩ"},
		{0.918, pd.CC1A5, "180 µA through 5.1 kΩ"},
		{1.683, pd.CC3A0, "330 µA through 5.1 kΩ"},
		{0.2, pd.CCTooClose, "between open and default"},
		{0.66, pd.CCTooClose, "comparator threshold, data sheet SLVSFN8B"},
		{1.23, pd.CCTooClose, "comparator threshold, data sheet SLVSFN8B"},
		{2.10, pd.CCTooClose, "USB Type-C R2.0, table 4-35: possible with Rd ±20 %"},
		{2.19, pd.CCOutside, "USB Type-C R2.0, table 4-35"},
		{5, pd.CCOutside, "VBUS on CC"},
		{-0.3, pd.CCOutside, "USB Type-C R2.0, table 4-36"},
		{math.Inf(1), pd.CCOutside, "no reading of a sound line"},
		{math.NaN(), 0, "unknown is unknown"},
	}
	for _, tt := range tests {
		assert.Equal(t, tt.want, pd.CCMeaning(tt.volts), "%v: %s", tt.volts, tt.source)
	}
	assert.Equal(t, "too close to call", pd.CCTooClose.String())
	assert.Equal(t, "unknown", pd.CCLevel(0).String())
}
