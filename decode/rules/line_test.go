package rules

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/draw"
	"portside/decode/line"
	"portside/decode/negotiation"
)

// Levels of CC at a sink: USB Type-C R2.0 tables 4-35 and 4-36. A source turns
// VBUS on only for Rd (section 4.5.2.2) and offers within tFirstSourceCap.
func TestLineRules(t *testing.T) {
	stuck := func(level string) line.Line { return line.Line{Name: "cc", SeenS: 5, Stuck: &level} }
	resting := func(level string, volts float64) line.Line {
		return line.Line{Name: "cc1", SeenS: 5, RestV: &volts, Rests: []line.Rest{{Level: level, S: 5}}}
	}
	speaking := func(x line.Line) line.Line { x.Frames = 20; return x }
	ref := func(s string) *string { return &s }
	down := func(x line.Line) line.Line { x.Rd = new(bool); *x.Rd = true; return x }
	off, contract := &draw.Result{}, &draw.Result{Sampling: draw.Sampling{MaxV: 20.1}}
	heavy := &draw.Result{Sampling: draw.Sampling{MaxV: 5.1, MaxA: 2.8, WithCurrent: 100}}
	light := &draw.Result{Sampling: draw.Sampling{MaxV: 5.1, MaxA: 0.1, WithCurrent: 100}}
	vbus := &draw.Result{Sampling: draw.Sampling{MaxV: 5.1}}
	tests := []struct {
		name  string
		facts Facts
		want  map[string]Severity
	}{
		{"stays high with VBUS", Facts{Draw: vbus, Line: &line.Result{Lines: []line.Line{stuck("high")}}}, map[string]Severity{"cc-stuck-high": Note}},
		{"stays high in a contract that stood before", Facts{Draw: contract, Line: &line.Result{Lines: []line.Line{stuck("high")}}}, nil},
		{"VCONN beside a pin with Rd", Facts{Draw: vbus, Line: &line.Result{Rd: ref("one"), Lines: []line.Line{resting("outside every level", 5), down(resting("3.0 A", 1.6))}}}, nil},
		{"VCONN beside a pin with Rd, no meter", Facts{Line: &line.Result{Rd: ref("one"), Lines: []line.Line{resting("outside every level", 5), down(resting("3.0 A", 1.6))}}}, nil},
		{"far too high with VBUS", Facts{Draw: vbus, Line: &line.Result{Lines: []line.Line{resting("outside every level", 3.3)}}}, map[string]Severity{"cc-stuck-high": Fault}},
		{"stays low", Facts{Line: &line.Result{Lines: []line.Line{stuck("low")}}}, map[string]Severity{"cc-stuck-low": Note}},
		{"rests at nothing", Facts{Line: &line.Result{Lines: []line.Line{resting("open", 0.02)}}}, map[string]Severity{"cc-stuck-low": Warning}},
		{"one pin of two low is right", Facts{Line: &line.Result{Lines: []line.Line{stuck("low"), resting("3.0 A", 1.6)}}}, nil},
		{"pulled up, nobody pulls down, VBUS off", Facts{Draw: off, Line: &line.Result{Lines: []line.Line{resting("outside every level", 3.3)}}}, map[string]Severity{"rd-missing": Fault}},
		{"pulled up, and nobody pulls down", Facts{Line: &line.Result{Lines: []line.Line{resting("outside every level", 3.3), resting("open", 0.01)}}}, map[string]Severity{"rd-missing": Warning}},
		{"one line high and nothing else known", Facts{Line: &line.Result{Lines: []line.Line{resting("outside every level", 3.3)}}}, nil},
		{"silent between the levels", Facts{Line: &line.Result{Lines: []line.Line{resting("too close to call", 1.23)}}}, map[string]Severity{"rp-wrong": Warning}},
		{"sampled so slowly that rests have holes", Facts{Line: &line.Result{Lines: []line.Line{{Name: "cc", SeenS: 9, RestV: new(float64), Rests: []line.Rest{{Level: "open", S: 4}}}}}}, map[string]Severity{"cc-stuck-low": Warning}},
		{"pulled down on both", Facts{Line: &line.Result{Rd: ref("both"), Frames: 20, Lines: []line.Line{speaking(resting("3.0 A", 1.6)), resting("3.0 A", 1.6)}}}, map[string]Severity{"rd-on-both": Warning}},
		{"speaks between the levels", Facts{Line: &line.Result{Frames: 20, Lines: []line.Line{speaking(resting("too close to call", 1.23))}}}, map[string]Severity{"rp-wrong": Warning}},
		{"speaks between the levels, and rested right before the load came", Facts{Line: &line.Result{Frames: 20, Rp: ref("1.5A"), Lines: []line.Line{speaking(resting("too close to call", 1.23))}}}, nil},
		{"speaks between the levels, from within a contract on", Facts{Negotiation: &negotiation.Result{BeginsInside: true}, Line: &line.Result{Frames: 20, Lines: []line.Line{speaking(resting("too close to call", 1.23))}}}, nil},
		{"the same, and hardly a load", Facts{Draw: light, Negotiation: &negotiation.Result{BeginsInside: true}, Line: &line.Result{Frames: 20, Lines: []line.Line{speaking(resting("too close to call", 1.23))}}}, map[string]Severity{"rp-wrong": Warning}},
		{"silent between the levels under load", Facts{Draw: heavy, Line: &line.Result{Lines: []line.Line{resting("too close to call", 1.23)}}}, nil},
		{"silent between the levels, hardly a load", Facts{Draw: light, Line: &line.Result{Lines: []line.Line{resting("too close to call", 1.23)}}}, map[string]Severity{"rp-wrong": Warning}},
		{"too high for any drop in the ground", Facts{Draw: heavy, Negotiation: &negotiation.Result{BeginsInside: true}, Line: &line.Result{Frames: 20, Lines: []line.Line{speaking(resting("outside every level", 2.4))}}}, map[string]Severity{"rp-wrong": Warning}},
		{"Ra of a cable beside a pin that speaks", Facts{Draw: vbus, Line: &line.Result{Rd: ref("one"), Rp: ref("1.5A"), Frames: 20, Lines: []line.Line{speaking(down(resting("1.5 A", 0.92))), resting("too close to call", 0.18)}}}, nil},
		{"Ra of a cable beside a silent pin with Rd", Facts{Draw: vbus, Line: &line.Result{Rd: ref("one"), Lines: []line.Line{down(resting("1.5 A", 0.92)), resting("too close to call", 0.18)}}}, nil},
		{"two silent pins, one between the levels", Facts{Draw: light, Line: &line.Result{Lines: []line.Line{resting("open", 0), resting("too close to call", 1.23)}}}, map[string]Severity{"rp-wrong": Warning}},
		{"a sound line", Facts{Draw: vbus, Line: &line.Result{Rd: ref("one"), Frames: 20, Lines: []line.Line{speaking(resting("3.0 A", 1.6))}}}, nil},
		{"seen too briefly", Facts{Line: &line.Result{Lines: []line.Line{{Name: "cc", SeenS: 0.3, Stuck: ref("low")}}}}, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			found, _ := Run(&tt.facts)
			got := map[string]Severity{}
			for _, f := range found {
				switch f.Rule {
				case "cc-stuck-high", "cc-stuck-low", "rd-missing", "rd-on-both", "rp-wrong":
					got[f.Rule] = f.Severity
					assert.False(t, f.FromMeter)
				}
			}
			if tt.want == nil {
				tt.want = map[string]Severity{}
			}
			assert.Equal(t, tt.want, got)
		})
	}
}

// A source that nobody acknowledges: the line says more than a list, in which
// the answers may be left out.
func TestUnansweredOnTheLine(t *testing.T) {
	n := func() *negotiation.Result {
		return &negotiation.Result{Messages: 15, FromSource: 15, Attempts: []negotiation.Attempt{{StartS: 1, EndS: 3, Missing: negotiation.StepAcknowledge}}}
	}
	silent := "sink"
	text := func(l *line.Result) string {
		found, _ := Run(&Facts{Negotiation: n(), Line: l})
		for _, f := range found {
			if f.Rule == "capabilities-unanswered" {
				return f.Text
			}
		}
		return ""
	}
	assert.Contains(t, text(&line.Result{SilentPort: &silent, OffersInVain: 15, Frames: 15}), "look at the sink's CC path")
	assert.NotContains(t, text(&line.Result{OffersInVain: 15, Frames: 15}), "CC path")
	assert.NotEmpty(t, text(nil))
	assert.NotContains(t, text(nil), "CC path")
}

// A finding about the line lies where the line was recorded, on whatever clock.
func TestTimesOfLineFindings(t *testing.T) {
	low := "low"
	x := line.Line{Name: "cc", StartS: 86_390, SeenS: 25, Stuck: &low}
	found, _ := Run(&Facts{Line: &line.Result{Lines: []line.Line{x}}})
	assert.Len(t, found, 1)
	assert.Equal(t, "cc-stuck-low", found[0].Rule)
	assert.InDelta(t, 86_390, *found[0].StartS, 1e-9)
	assert.InDelta(t, 86_415, *found[0].EndS, 1e-9)
}
