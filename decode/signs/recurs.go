package signs

import (
	"fmt"

	"portside/decode/draw"
	"portside/decode/rules"
)

// A machine at work draws as its work goes. What draws the same course again and again begins
// again and again. Common practice.
const (
	recurMostS = 12.0 // of a round: a battery that is topped up begins more seldom
	recurWorks = 0.25 // of it at least is drawn: what wakes for a moment goes on sleeping
	recurLowW  = 5.0  // of the floor at most: on more a machine idles
)

// recurs tells a draw that repeats its course, whatever its shape, while VBUS stands.
func (p Picture) recurs(d *draw.Result) (Seen, string) {
	if !p.Contract || p.BreaksDown() || p.Is("resistive-load", rules.Note) || p.Is("contact-unsteady", rules.Note) { // a leak stands beside it; what moves VBUS moves the draw
		return nil, ""
	}
	for _, r := range d.Recurs {
		if n := p.Facts.Negotiation; n != nil && float64(len(n.Contracts)) >= atMost*float64(r.Rounds) {
			continue // a machine lets go for each new one
		}
		if r.PeriodS <= recurMostS && r.Works >= recurWorks && r.LowW < recurLowW {
			return Exactly(DrawCycles), fmt.Sprintf("from %.2f s on the draw runs through the same course %d times, each %.3g s, between %.2g A and %.2g A, while VBUS stands", r.StartS, r.Rounds, r.PeriodS, r.LowA, r.HighA)
		}
	}
	return nil, ""
}
