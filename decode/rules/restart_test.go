package rules

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/negotiation"
)

// Moving the plug once or twice is common practice at the bench; a source that
// gives way does it over and over.
func TestContractsThatBeginAnew(t *testing.T) {
	tests := []struct {
		name     string
		endsS    []float64
		severity Severity
	}{
		{"the plug was moved once", []float64{6.4}, Note},
		{"and again", []float64{6.4, 20}, Note},
		{"over and over", []float64{6.4, 10.4, 14.4}, Fault},
		{"each port, both ways up", []float64{6.4, 16.4, 27}, Warning},
		{"over and over, on another day", []float64{6.4, 600, 1200}, Note},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			n := negotiation.New(negotiation.Options{}).Result()
			n.Messages, n.FromSource = 100, 50
			for _, s := range tt.endsS {
				start := s - 3
				n.Contracts = append(n.Contracts, negotiation.Contract{StartS: &start, EndS: &s, Kind: "fixed", EndedBy: "restart"})
			}
			last := tt.endsS[len(tt.endsS)-1] + 0.2
			n.Contracts = append(n.Contracts, negotiation.Contract{StartS: &last, Kind: "fixed"})
			findings, _ := Run(&Facts{Negotiation: n})
			var lost []Finding
			for _, f := range findings {
				if f.Rule == "contract-lost" {
					lost = append(lost, f)
				}
			}
			require.Len(t, lost, 1)
			assert.Equal(t, tt.severity, lost[0].Severity)
			assert.Equal(t, len(tt.endsS), lost[0].Values["count"])
		})
	}
}
