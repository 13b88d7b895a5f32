package signs

import (
	"fmt"

	"portside/decode/draw"
)

// Rejoins says that a lead before the meter opened under a contract, empty where none is seen to.
func Rejoins(d *draw.Result) string {
	switch r := d.Rejoins; {
	case r.Count > 1:
		return fmt.Sprintf("%d times, first at %.2f s, VBUS is back at the contract's voltage without a moment at 5 V: the source had kept it", r.Count, r.FirstS)
	case r.Count == 1:
		return fmt.Sprintf("at %.2f s VBUS is back at the contract's voltage without a moment at 5 V: the source had kept it", r.FirstS)
	}
	return ""
}
