package probe

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseReadingTakesEachForm(t *testing.T) {
	tests := []struct {
		given string
		want  float64
	}{
		{"main-rail-ohm=0.8ohm", 0.8}, {"main-rail-ohm=800mohm", 0.8}, {"main-rail-ohm=4.7kohm", 4700}, {"main-rail-ohm=1.2Mohm", 1.2e6},
		{"main-rail-ohm=0.8 ohm", 0.8}, {"main-rail-ohm=.8Ω", 0.8}, {"main-rail-ohm=4.7k\u2126", 4700}, {"main-rail-ohm=1e3ohm", 1000},
		{"main-rail-ohm=open", math.Inf(1)}, {"main-rail-ohm=short", 0},
		{"main-rail-diode-v=0.45V", 0.45}, {"main-rail-diode-v=450mV", 0.45}, {"vbus-diode-v=open", math.Inf(1)},
		{"main-rail-v=-2mV", -0.002}, {"display-a=20mA", 0.02}, {"display-v=20.1V", 20.1}, {"charger-label-w=65W", 65},
	}
	for _, tt := range tests {
		r, err := ParseReading(tt.given)
		require.NoError(t, err, tt.given)
		assert.Equal(t, tt.given, r.String())
		if math.IsInf(tt.want, 1) {
			assert.True(t, math.IsInf(r.Value, 1), tt.given)
		} else {
			assert.InDelta(t, tt.want, r.Value, 1e-9*max(1, tt.want), tt.given)
		}
	}
}

// Every name takes each of its forms and refuses a bare number, a wrong unit,
// an unknown word and nothing at all, naming what it takes.
func TestEveryReading(t *testing.T) {
	wrong := map[string]string{"ohm": "1V", "V": "1ohm", "A": "1V", "W": "1A", "": "1ohm"}
	for _, f := range Readings() {
		for _, w := range f.Words {
			r, err := ParseReading(f.Name + "=" + w)
			require.NoError(t, err, f.Name)
			assert.Equal(t, w, r.Word)
		}
		if f.Unit == "" && f.Words == nil {
			r, err := ParseReading(f.Name + "=left rear")
			require.NoError(t, err)
			assert.Equal(t, "left rear", r.Word)
			continue
		}
		if f.Unit != "" {
			for _, prefix := range []string{"", "m"} {
				_, err := ParseReading(f.Name + "=1" + prefix + f.Unit)
				assert.NoError(t, err, f.Name)
			}
		}
		for _, bad := range []string{"0.8", "1", wrong[f.Unit], "maybe", "", "1x" + f.Unit, "NaN" + f.Unit, "0x10" + f.Unit, "1,5" + f.Unit} {
			_, err := ParseReading(f.Name + "=" + bad)
			var e *ReadingError
			require.ErrorAs(t, err, &e, "%s=%s", f.Name, bad)
			assert.Equal(t, f.Name, e.Name)
			assert.NotEmpty(t, e.Accepted)
			for _, form := range e.Accepted {
				assert.Contains(t, err.Error(), form)
			}
		}
	}
}

func TestParseReadingNamesTheNearest(t *testing.T) {
	tests := []struct{ given, nearest string }{
		{"main-rail-om=1ohm", "main-rail-ohm"}, {"mainrail-ohm=1ohm", "main-rail-ohm"}, {"vbus_ohm=1ohm", "vbus-ohm"},
		{"other-prot=same", "other-port"}, {"other-port=sme", "same"}, {"battery=discconnected", "disconnected"}, {"display-pattern=stair", "staircase"},
		{"soldering-iron=1V", ""},
	}
	for _, tt := range tests {
		_, err := ParseReading(tt.given)
		var e *ReadingError
		require.ErrorAs(t, err, &e, tt.given)
		assert.Equal(t, tt.nearest, e.Nearest, tt.given)
		if tt.nearest != "" {
			assert.Contains(t, err.Error(), "did you mean "+tt.nearest+"?")
		}
	}
}

func TestParseReadingRefusesWhatNoMeterShows(t *testing.T) {
	for _, given := range []string{
		"main-rail-ohm=-1ohm", "main-rail-ohm=1e300ohm", "main-rail-diode-v=-0.4V", "main-rail-v=230V", "charger-label-w=0W", "charger-label-w=65kW",
		"display-a=open", "charger-label-w=short", "recorded-port=\x07", "recorded-port=" + strings.Repeat("x", 500), "=1ohm", "main-rail-ohm", "",
	} {
		_, err := ParseReading(given)
		var e *ReadingError
		assert.ErrorAs(t, err, &e, given)
	}
}

func TestParseReadingsNamesBothOfADouble(t *testing.T) {
	_, err := ParseReadings([]string{"vbus-ohm=1kohm", "battery=connected", "vbus-ohm=2kohm"})
	require.Error(t, err)
	assert.Contains(t, err.Error(), "vbus-ohm=1kohm")
	assert.Contains(t, err.Error(), "vbus-ohm=2kohm")
	got, err := ParseReadings([]string{"vbus-ohm=1kohm", "battery=connected"})
	require.NoError(t, err)
	assert.Len(t, got, 2)
}

func FuzzParseReading(f *testing.F) {
	for _, seed := range []string{"main-rail-ohm=0.8ohm", "display-pattern=steady", "cc1-ohm=open", "vbus-v=-1mV", "=", "recorded-port=x", "main-rail-ohm=1e-5Mohm"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, given string) {
		r, err := ParseReading(given)
		if err != nil {
			var e *ReadingError
			if !errors.As(err, &e) || e.Problem == "" || e.Error() == "" {
				t.Fatalf("%q gave %v", given, err)
			}
			return
		}
		if math.IsNaN(r.Value) && r.Word == "" || math.IsInf(r.Value, -1) {
			t.Fatalf("%q gave %v", given, r)
		}
		again, err := ParseReading(r.String())
		if err != nil || again.Word != r.Word || again.Value != r.Value && !math.IsNaN(r.Value) {
			t.Fatalf("%q came back as %v, %v", given, again, err)
		}
	})
}
