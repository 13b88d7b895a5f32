package signs

import (
	"fmt"
	"slices"

	"portside/decode/draw"
	"portside/decode/rules"
)

// A draw that comes down as a charge does, in less time than most. Common practice.
const (
	fadeFromA = 0.15 // above a standby: what comes down from it is a charge
	fadesMost = 2    // more are a course that is run through again and again
	fadeShort = 0.2  // how often something else comes down so
)

// fades tells a charge near its end, in a recording too short for a taper's time constant. A
// fault cuts off all at once, or makes the draw grow.
func (p Picture) fades(d *draw.Result) (Seen, string) {
	n := len(d.Fades)
	if n == 0 || n > fadesMost || p.Is("charge-taper", rules.Note) {
		return nil, ""
	}
	f := d.Fades[n-1]
	if f.ToA <= quietA || restSince(d, f.EndS) <= quietA && d.Sampling.EndS-f.EndS >= minLevelS {
		return nil, "" // a machine lives on
	}
	again := slices.ContainsFunc(d.Plateaus, func(q draw.Plateau) bool {
		return q.StartS >= f.EndS && q.EndS-q.StartS >= beganS && q.CurrentA != nil && *q.CurrentA >= f.FromA
	})
	if f.FromA < fadeFromA || again || p.BreaksDown() {
		return nil, ""
	}
	return Seen{DrawTaper: 1, DrawWorking: fadeShort}, fmt.Sprintf("from %.2f s the draw fades from %.2f A to %.2f A within %.0f s, as a charge does that comes to its end", f.StartS, f.FromA, f.ToA, f.EndS-f.StartS)
}
