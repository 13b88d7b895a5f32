package pd_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// The worked offers of the standard: every fixed and programmable supply in them carries
// what the rules allow.
func TestPPSOfferVectors(t *testing.T) {
	var v struct {
		Rules struct {
			Offers []struct {
				PDP    float64 `json:"pdp_W"`
				Offer  string
				Source string
			} `json:"pps_examples"`
		} `json:"power_rules"`
	}
	readVectors(t, "standard_vectors.json", &v)
	require.Len(t, v.Rules.Offers, 4)
	for _, o := range v.Rules.Offers {
		pdp, fixed, programmable := milliwatts(o.PDP), 0, 0
		for part := range strings.SplitSeq(o.Offer, "; ") {
			var volts int
			var amps float64
			var r pd.CurrentRange
			switch {
			case strings.HasPrefix(part, "SPR AVS"):
				_, ok := pd.SPRAVSRange(pdp)
				assert.True(t, ok, o.Offer)
				continue
			case strings.Contains(part, "Prog"):
				_, err := fmt.Sscanf(part, "%d V Prog %f A", &volts, &amps)
				require.NoError(t, err, part)
				r, _ = pd.PPSCurrent(pdp, pd.Millivolts(volts*1000))
				programmable++
			default:
				_, err := fmt.Sscanf(part, "%d V %f A", &volts, &amps)
				require.NoError(t, err, part)
				r, _ = pd.SPRFixedCurrent(pdp, pdp, pd.Millivolts(volts*1000))
				fixed++
			}
			assert.True(t, r.Contains(pd.Milliamps(math.Round(amps*1000))), "%v W: %s not in %v: %s", o.PDP, part, r, o.Source)
		}
		assert.GreaterOrEqual(t, fixed, 2, o.Offer)
		assert.GreaterOrEqual(t, programmable, 1, o.Offer)
	}
}

// The AVS ranges of tables 10.9 and 10.15 are those that ratings of table 10.2 and 10.12
// reach.
func TestAVSRangeVectors(t *testing.T) {
	var v struct {
		Rules struct {
			Ranges []struct {
				Kind   string
				Min    float64 `json:"min_V"`
				Max    float64 `json:"max_V"`
				Source string
			} `json:"avs_ranges"`
		} `json:"power_rules"`
	}
	readVectors(t, "standard_vectors.json", &v)
	require.Len(t, v.Rules.Ranges, 5)
	ratings := map[string]float64{"SPR AVS 15": 45, "SPR AVS 20": 65, "EPR AVS 28": 140, "EPR AVS 36": 180, "EPR AVS 48": 240}
	for _, want := range v.Rules.Ranges {
		watts, known := ratings[fmt.Sprintf("%s %v", want.Kind, want.Max)]
		require.True(t, known, want.Source)
		read := pd.SPRAVSRange
		if want.Kind == "EPR AVS" {
			read = pd.EPRAVSRange
		}
		w, ok := read(milliwatts(watts))
		require.True(t, ok, want.Source)
		assert.Equal(t, pd.Window{Min: want.Min, Max: want.Max}, w, want.Source)
	}
}
