package text

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode"
	"portside/decode/location"
	"portside/decode/rules"
)

// What two rules say alike, and what rules two sides out alike, stands once; a note that
// points elsewhere carries nothing.
func TestWhyOnce(t *testing.T) {
	const refused = "the Request was refused 158 times from 3.84 s on"
	before := []rules.Location{rules.BeforePort}
	d := &decode.Diagnosis{
		Verdict: location.Verdict{
			Location: rules.BeforePort, Probability: 0.88, Locations: map[rules.Location]float64{rules.BeforePort: 0.88},
			Excluded: []location.Excluded{{Location: rules.BehindPort, Why: "from 3.84 s: " + refused}, {Location: rules.Healthy, Why: "from 3.84 s: " + refused}},
		},
		Findings: []rules.Finding{
			{Rule: "request-refused", Severity: rules.Fault, PointsTo: before, Text: refused},
			{Rule: "contract-stalled", Severity: rules.Fault, PointsTo: before, Text: refused},
			{Rule: "ramp-normal", Severity: rules.Note, PointsTo: []rules.Location{rules.Healthy}, Text: "the draw stays up"},
		},
		Suspects: []location.Suspect{{Part: "source", Location: ref(rules.BeforePort), Probability: 0.8, Why: refused}},
	}
	p := &sheet{}
	p.facts(d, letter(d.Findings))
	var out strings.Builder
	for _, s := range p.sections {
		fmt.Fprintln(&out, s)
	}
	why := out.String()
	assert.Equal(t, 1, strings.Count(why, "158 times"))
	assert.Contains(t, why, "Not behind the port, not healthy: see a.")
	assert.Contains(t, why, "For the source: see a.")
	assert.NotContains(t, why, "stays up")

	d.Findings = nil
	p = &sheet{}
	p.facts(d, nil)
	assert.Contains(t, fmt.Sprint(p.sections), "not healthy: from 3.84 s: "+refused, "without a finding the reason itself stands")
	d.Suspects[0].Why = d.Verdict.Excluded[0].Why
	p = &sheet{}
	p.facts(d, nil)
	assert.Contains(t, fmt.Sprint(p.sections), "For the source: the same.")
}
