package signs

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs/build"
)

// How a contract ends tells sides apart. Sources beside the rows of the table.
func TestEndings(t *testing.T) {
	start := []build.Build{build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.6, 19.9, 0.9), build.Level(1.6, 2.4, 0.1, 0)}
	tests := []struct {
		name  string
		atA   float64
		heldS float64
		by    string
		want  string
	}{
		{"the switches close into a short", 0.8, 0.02, "hard-reset", EndAtOnce},
		{"a source gives way below its promise", 1.2, 3, "hard-reset", EndLoaded},
		{"an overload", 3.6, 3, "hard-reset", EndOver},
		{"the device lets go first", 0.01, 3, "hard-reset", EndIdle},
		{"the plug moves", 1.2, 3, "restart", EndOpen},
		{"an overload after which both begin anew", 3.6, 3, "restart", EndOver},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			builds := append(append([]build.Build{}, start...), build.Collapses(tt.atA, 1.6, 8, 14), build.Messages(60, 30), build.Lost(1, 7, 13), build.Ended(tt.heldS, tt.by))
			s, why := seeing(builds...).Ending()
			assert.InDelta(t, 1, s[tt.want], 1e-12, why)
			total := 0.0
			for _, x := range s {
				total += x
			}
			assert.InDelta(t, 1, total, 1e-12, why)
		})
	}
}

// A recorder that shows no GoodCRC cannot tell a deaf sink from one that
// never asks.
func TestARecorderWithoutGoodCRC(t *testing.T) {
	deaf := func(f *rules.Facts) { f.Negotiation.GoodCRCs = 0 }
	p := seeing(build.Messages(80, 40), build.Attempts(negotiation.StepRequest, 15), deaf)
	assert.Equal(t, Seen{Unanswered: 1, NoRequest: 1, LostOnTheWay: 1}, p.State, "nor does it show whether VBUS arrives")
}

// VBUS that a short takes down for a moment, and that is back without 5 V, is what is
// left of the same contract: a new one is asked for at vSafe5V, after Source_Capabilities
// (tTypeCSendSourceCap, USB PD R3.2 V1.1, table 6.68). It is no sign that contracts end
// after any time. Rows too far apart to show 5 V prove nothing.
func TestTheRestOfAContractIsNoOther(t *testing.T) {
	for _, c := range []struct {
		hz   float64
		want []float64
	}{{1000, []float64{0.081, 0.081}}, {10, []float64{0.18, 0.65, 0.18}}} {
		f := rules.Facts{}
		for _, b := range []build.Build{build.Meter(c.hz, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.08, 19.9, 5), build.Level(1.08, 1.11, 0.4, 2.6), build.Level(1.11, 1.66, 19.9, 0.01),
			build.Level(1.66, 2, 0, 0), build.Level(2, 3, 5.1, 0.02), build.Level(3, 3.08, 19.9, 5), build.Level(3.08, 4, 0.4, 2.6)} {
			b(&f)
		}
		assert.InDeltaSlice(t, c.want, heldLevels(f.Draw), 1e-9, "%g Hz", c.hz)
	}
}

// A meter sees VBUS go; the source sends its Hard Reset some time after.
func TestHeldIsWhatTheMeterSaw(t *testing.T) {
	short := []build.Build{build.Meter(100, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.06, 19.9, 0.01), build.Level(1.06, 2, 0.1, 0), build.Level(2, 3, 5.1, 0.02), build.Level(3, 3.06, 19.9, 0.01), build.Level(3.06, 4, 0.1, 0),
		build.Collapses(3.6, 1.06, 3.06), build.Messages(60, 30), build.Lost(1, 3), build.Ended(0.5, "hard-reset")}
	seconds, _ := seeing(short...).held()
	assert.InDelta(t, 0.07, seconds, 1e-9)
}

// Rows of a second show no contract of a tenth of one: the messages do.
func TestHeldIsWhatTheMessagesSay(t *testing.T) {
	short := []build.Build{build.Meter(1, 30), build.Level(0, 30, 3.6, 0.17), build.Messages(60, 30), build.Lost(1, 3), build.Ended(0.1, "hard-reset")}
	seconds, _ := seeing(short...).held()
	assert.InDelta(t, 0.1, seconds, 1e-9)
}

// Each try that ends alone has a finding of its own: their number is told beside the first.
func TestStallTellsHowOften(t *testing.T) {
	p := seeing(build.Meter(50, 30), build.Level(0, 30, 5.1, 0.01), build.Messages(60, 30), stalls(negotiation.StepPowerReady, 3))
	p.Found = map[string]rules.Finding{"power-ready-missing": {Text: "PS_RDY never came", Values: map[string]any{"attempts": 1}}}
	assert.Equal(t, "PS_RDY never came; 3 attempts end so", p.stallText(negotiation.StepPowerReady))
	p.Found["power-ready-missing"].Values["attempts"] = 3
	assert.Equal(t, "PS_RDY never came", p.stallText(negotiation.StepPowerReady))
}
