package location

import "fmt"

// What VBUS does of itself, with next to nothing drawn.
const (
	supplySteady  = "steady"
	supplyRunsOut = "runs-out"
	supplyAgain   = "runs-out-again"
	supplyHunts   = "hunts"
	supplyEbbs    = "ebbs"
	supplyTires   = "recovers-slowly"
)

// supplyTopic: a light draw neither trips a source nor moves its voltage, and one that lets
// go gives a source its voltage back.
func supplyTopic(outcome string) topic {
	const discharge = "USB PD R3.2 V1.1 table 7.25 (tSafe0V): a source that lets go is quicker, and a plug that is pulled ends the draw first"
	t := topic{name: "supply", cap: physicsCap, rows: []row{
		{supplySteady, "stands, or goes as a source lets it", 99.9, like{source: 95, mains: 70, healthyPart: 99.5}, "a source keeps its window", windowTable},
		{supplyRunsOut, "runs out once under its draw", 0.05, like{source: 2, mains: 12, healthyPart: 0.3}, discharge, practice},
		{supplyAgain, "runs out under its draw some times", 0.03, like{source: 6, mains: 17, healthyPart: 0.03}, discharge, practice},
		{supplyEbbs, "sinks under a draw that keeps its power, and goes", 0.03, like{source: 2, mains: 15, healthyPart: 0.15}, "no limit of current lets a draw rise as the inverse of VBUS, and capacitors at the output are empty at once: the source's reservoir runs dry", practice},
		{supplyTires, "comes back slowly after each draw", 0.05, like{source: 3, mains: 3, healthyPart: 0.08}, "a lead gives back at once what it took: the source had given way", practice},
		{supplyHunts, "wanders by volts while next to nothing flows", 0.03, like{source: 3, mains: 1, healthyPart: 0.04}, "no lead and no load moves it so: the source's regulation", windowTable + "; " + practice},
	}}
	if outcome == supplyAgain { // nothing but a source that is not fed can do it twice
		t.cap = coldCap
	}
	return t
}

// supply is what VBUS does of itself, empty where it stands.
func (p picture) supply() (outcome, text string) {
	d := p.meter()
	if d == nil {
		return "", ""
	}
	if n := len(d.RunOuts); n > 0 && p.back == "" {
		first := d.RunOuts[0]
		text = fmt.Sprintf("at %.2f s VBUS runs out from %.4g V within %.1f s, under %.2f A at first, its source no longer fed", first.StartS, first.FromV, first.EndS-first.StartS, first.AtA)
		if n == 1 {
			return supplyRunsOut, text
		}
		more := "once"
		if n > 2 {
			more = fmt.Sprintf("%d times", n-1)
		}
		return supplyAgain, fmt.Sprintf("%s, and %s more", text, more)
	}
	if len(d.Ebbs) > 0 && p.back == "" {
		e := d.Ebbs[0]
		return supplyEbbs, fmt.Sprintf("at %.2f s VBUS sinks from %.4g V to %.4g V and goes, and the draw keeps its %.2g W as it does", e.StartS, e.FromV, e.ToV, e.AtW)
	}
	if len(d.Hunts) > 0 && !p.asksForMore() {
		h := d.Hunts[0]
		return supplyHunts, fmt.Sprintf("from %.2f s VBUS goes up and down %d times between %.4g V and %.4g V, and no more than %.0f mA flow", h.StartS, (h.Turns+1)/2, h.LowV, h.HighV, 1000*h.MostA)
	}
	if n := len(d.Recovers); n >= tiresFrom && !p.asksForMore() {
		r := d.Recovers[0]
		return supplyTires, fmt.Sprintf("%d times, first at %.2f s, VBUS comes back slowly after a draw, from %.4g V to %.4g V within %.1f s", n, r.StartS, r.FromV, r.ToV, r.EndS-r.StartS)
	}
	return "", ""
}

// tiresFrom is how often VBUS has to come back so slowly: once may be a contract that
// changes. Common practice.
const tiresFrom = 2
