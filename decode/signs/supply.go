package signs

import (
	"cmp"
	"fmt"
	"slices"

	"portside/decode/draw"
)

// What VBUS does of itself, with next to nothing drawn.
const (
	SupplySteady  = "steady"
	SupplyRunsOut = "runs-out"
	SupplyAgain   = "runs-out-again"
	SupplyHunts   = "hunts"
	SupplyEbbs    = "ebbs"
	SupplyTires   = "recovers-slowly"
)

// Supply is what VBUS does of itself, empty where it stands.
func (p Picture) Supply() (outcome, text string) {
	d := p.Meter()
	if d == nil {
		return "", ""
	}
	if outs := runOuts(d); len(outs) > 0 && p.Back == "" {
		n, first := len(outs), outs[0]
		text = fmt.Sprintf("at %.2f s VBUS runs out from %.4g V within %.1f s, under %.2f A at first, its source no longer fed", first.StartS, first.FromV, first.EndS-first.StartS, first.AtA)
		if n == 1 {
			return SupplyRunsOut, text
		}
		more := "once"
		if n > 2 {
			more = fmt.Sprintf("%d times", n-1)
		}
		return SupplyAgain, fmt.Sprintf("%s, and %s more", text, more)
	}
	if len(d.Ebbs) > 0 && p.Back == "" {
		e := d.Ebbs[0]
		return SupplyEbbs, fmt.Sprintf("at %.2f s VBUS sinks from %.4g V to %.4g V and goes, and the draw keeps its %.2g W as it does", e.StartS, e.FromV, e.ToV, e.AtW)
	}
	if len(d.Hunts) > 0 && !p.asksForMore() {
		h := d.Hunts[0]
		load := fmt.Sprintf("and no more than %.0f mA flow", 1000*h.MostA)
		if h.AtW > 0 {
			load = fmt.Sprintf("and the draw keeps its %.2g W", h.AtW)
		}
		return SupplyHunts, fmt.Sprintf("from %.2f s VBUS goes up and down %d times between %.4g V and %.4g V, %s", h.StartS, (h.Turns+1)/2, h.LowV, h.HighV, load)
	}
	if n := len(d.Recovers); n >= tiresFrom && !p.asksForMore() {
		r := d.Recovers[0]
		return SupplyTires, fmt.Sprintf("%d times, first at %.2f s, VBUS comes back slowly after a draw, from %.4g V to %.4g V within %.1f s", n, r.StartS, r.FromV, r.ToV, r.EndS-r.StartS)
	}
	return "", ""
}

// runOuts are the times that VBUS went as its source's capacitors emptied: told by how long it took, or
// by how it went with the draw.
func runOuts(d *draw.Result) []draw.RunOut {
	out := slices.Clone(d.RunOuts)
	for _, x := range d.Drains {
		if !slices.ContainsFunc(out, func(o draw.RunOut) bool { return o.StartS < x.EndS && x.StartS < o.EndS }) {
			out = append(out, draw.RunOut(x))
		}
	}
	slices.SortFunc(out, func(a, b draw.RunOut) int { return cmp.Compare(a.StartS, b.StartS) })
	return out
}

// tiresFrom is how often VBUS has to come back so slowly: once may be a contract that
// changes. Common practice.
const tiresFrom = 2
