package signs

import (
	"fmt"

	"portside/pd"
)

// ignores tells a source that resets a programmable contract as if no Request had come since
// the first, though the sink asked in time and it answered: each time so long after the
// first as it has to wait for one (tPPSTimeout). Empty where it does not.
func (p Picture) ignores() string {
	n := p.Facts.Negotiation
	if n == nil || len(n.PPSMissed) > 0 {
		return ""
	}
	limits := pd.TPPSTimeout.Limits(pd.Revision32)
	resets, timed, asked, firstS := 0, 0, 0, 0.0
	var begun *float64
	renewed := 0
	for _, c := range n.Contracts {
		if c.Kind != pd.KindPPS.String() || c.StartS == nil || c.EndS == nil {
			begun = nil
			continue
		}
		if begun == nil {
			begun, renewed = c.StartS, 0
		} else {
			renewed++
		}
		if c.EndedBy == "new-contract" {
			continue
		}
		if c.EndedBy == "hard-reset" {
			resets++
			if stood := *c.EndS - *begun; renewed > 0 && stood >= limits.MinSI()-lapseSlackS && stood <= limits.MaxSI() {
				if timed++; timed == 1 {
					firstS = *c.EndS
				}
				asked += renewed
			}
		}
		begun = nil
	}
	if timed < glimpses || timed < resets {
		return ""
	}
	return fmt.Sprintf("%d times, first at %.2f s, the source resets %.0f to %.0f s after the first Request of a programmable contract, as if the %d that it answered since had not come",
		timed, firstS, limits.MinSI(), limits.MaxSI(), asked)
}
