package pd_test

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

type powerRules struct {
	Rules struct {
		SPRFixed []struct {
			PDP     float64                    `json:"pdp_W"`
			Allowed map[string][2]pd.Milliamps `json:"fixed_max_current_mA_allowed"`
			Source  string
		} `json:"spr_fixed"`
		Constrained []constrained `json:"spr_constrained_examples"`
		EPR         []constrained `json:"epr_constrained_examples"`
		PPSRanges   []struct {
			Revision string
			Prog     string
			Min      float64 `json:"min_V"`
			Max      float64 `json:"max_V"`
			Source   string
		} `json:"pps_ranges"`
	} `json:"power_rules"`
}

type constrained struct {
	Maximum float64            `json:"port_max_W"`
	Present float64            `json:"present_W"`
	Fixed   map[string]float64 // V to A
	AVS     map[string]float64 `json:"spr_avs"`
	Source  string
}

func milliwatts(w float64) pd.Milliwatts { return pd.Milliwatts(math.Round(w * 1000)) }

func voltsKey(t *testing.T, s string) pd.Millivolts {
	t.Helper()
	v, err := strconv.Atoi(s)
	require.NoError(t, err)
	return pd.Millivolts(v * 1000)
}

func TestSPRFixedCurrentVectors(t *testing.T) {
	var v powerRules
	readVectors(t, "standard_vectors.json", &v)
	require.Len(t, v.Rules.SPRFixed, 21)
	for _, want := range v.Rules.SPRFixed {
		pdp := milliwatts(want.PDP)
		for _, volts := range []string{"5", "9", "15", "20"} {
			r, ok := pd.SPRFixedCurrent(pdp, pdp, voltsKey(t, volts))
			allowed, offered := want.Allowed[volts]
			require.Equal(t, offered, ok, "%v W at %s V: %s", want.PDP, volts, want.Source)
			assert.Equal(t, allowed, [2]pd.Milliamps{r.Min, r.Max}, "%v W at %s V: %s", want.PDP, volts, want.Source)
		}
	}
}

func TestConstrainedVectors(t *testing.T) {
	var v powerRules
	readVectors(t, "standard_vectors.json", &v)
	check := func(list []constrained, rule func(maximum, present pd.Milliwatts, v pd.Millivolts) (pd.CurrentRange, bool)) {
		for _, want := range list {
			for volts, amps := range want.Fixed {
				r, ok := rule(milliwatts(want.Maximum), milliwatts(want.Present), voltsKey(t, volts))
				require.True(t, ok, want.Source)
				assert.True(t, r.Contains(pd.Milliamps(math.Round(amps*1000))), "%v of %v W at %s V: %v A not in %v", want.Present, want.Maximum, volts, amps, r)
			}
		}
	}
	require.Len(t, v.Rules.Constrained, 6)
	check(v.Rules.Constrained, pd.SPRFixedCurrent)
	require.Len(t, v.Rules.EPR, 8)
	check(v.Rules.EPR, pd.EPRFixedCurrent)
}

// USB PD R3.2 V1.1, table 10.12.
func TestEPRVoltages(t *testing.T) {
	tests := []struct {
		watts   float64
		highest float64
		top     pd.Milliamps // at the highest voltage
	}{{101, 28, 3610}, {140, 28, 5000}, {141, 36, 3920}, {180, 36, 5000}, {181, 48, 3780}, {240, 48, 5000}}
	for _, tt := range tests {
		w, ok := pd.EPRAVSRange(milliwatts(tt.watts))
		require.True(t, ok)
		assert.Equal(t, pd.Window{Min: 15, Max: tt.highest}, w)
		r, ok := pd.EPRFixedCurrent(milliwatts(tt.watts), milliwatts(tt.watts), pd.Millivolts(tt.highest*1000))
		require.True(t, ok)
		assert.Equal(t, tt.top, r.Max)
	}
	for _, watts := range []float64{100, 241} {
		_, ok := pd.EPRAVSRange(milliwatts(watts))
		assert.False(t, ok, watts)
		_, ok = pd.EPRFixedCurrent(milliwatts(watts), milliwatts(watts), 28000)
		assert.False(t, ok, watts)
	}
	_, ok := pd.EPRFixedCurrent(140_000, 140_000, 36000)
	assert.False(t, ok)
	_, ok = pd.EPRFixedCurrent(240_000, 240_000, 20000)
	assert.False(t, ok)
	r, ok := pd.SPRFixedCurrent(140_000, 140_000, 20000)
	assert.True(t, ok)
	assert.Equal(t, pd.CurrentRange{Min: 5000, Max: 5000}, r, "100 W of it in SPR")
}

// USB PD R3.2 V1.1, tables 10.2 and 10.9.
func TestSPRAVSRange(t *testing.T) {
	want := map[float64]float64{15: 0, 27: 0, 28: 15, 45: 15, 46: 20, 100: 20, 140: 20}
	for watts, highest := range want {
		w, ok := pd.SPRAVSRange(milliwatts(watts))
		assert.Equal(t, highest != 0, ok, watts)
		assert.Equal(t, highest, w.Max, watts)
	}
}

// USB PD R3.2 V1.1, table 10.11 and the worked offers beside it.
func TestPPSCurrent(t *testing.T) {
	tests := []struct {
		watts    float64
		nominal  pd.Millivolts
		min, max pd.Milliamps
		rule     pd.PPSRule
	}{
		{15, 9000, 0, 1650, pd.PPSOptional},
		{18, 9000, 2000, 2000, pd.PPSRequired},
		{20, 9000, 2200, 2200, pd.PPSRequired},
		{27, 9000, 3000, 3000, pd.PPSRequired},
		{36, 9000, 3000, 4000, pd.PPSRequired},
		{36, 15000, 2400, 2400, pd.PPSRequired},
		{45, 9000, 0, 5000, pd.PPSOptional},
		{45, 15000, 3000, 3000, pd.PPSRequired},
		{50, 15000, 3000, 3300, pd.PPSRequired},
		{50, 20000, 2500, 2500, pd.PPSRequired},
		{60, 15000, 0, 4000, pd.PPSOptional},
		{60, 20000, 3000, 3000, pd.PPSRequired},
		{80, 20000, 4000, 4000, pd.PPSRequired},
		{100, 20000, 5000, 5000, pd.PPSRequired},
		{140, 20000, 5000, 5000, pd.PPSRequired},
		{27, 15000, 0, 1800, pd.PPSOptional},
		{27, 5000, 0, 0, 0},
		{27, 12000, 0, 0, 0},
	}
	for _, tt := range tests {
		r, rule := pd.PPSCurrent(milliwatts(tt.watts), tt.nominal)
		assert.Equal(t, tt.rule, rule, "%v W at %v mV", tt.watts, tt.nominal)
		assert.Equal(t, pd.CurrentRange{Min: tt.min, Max: tt.max}, r, "%v W at %v mV", tt.watts, tt.nominal)
	}
}

func TestPPSRangeVectors(t *testing.T) {
	var v powerRules
	readVectors(t, "standard_vectors.json", &v)
	revisions := map[string]pd.Revision{"R3.2 V1.1": pd.Revision32, "R3.0 V1.1": pd.Revision30}
	require.Len(t, v.Rules.PPSRanges, 7)
	for _, want := range v.Rules.PPSRanges {
		w, ok := pd.PPSRange(revisions[want.Revision], voltsKey(t, want.Prog[:len(want.Prog)-2]))
		require.True(t, ok, want.Source)
		assert.Equal(t, pd.Window{Min: want.Min, Max: want.Max}, w, want.Source)
	}
	_, ok := pd.PPSRange(pd.Revision32, 5000)
	assert.False(t, ok, "USB PD R3.2 V1.1 has no 5 V Prog")
}
