package compare

import (
	"fmt"
	"math"
	"slices"

	"portside/decode"
	"portside/decode/draw"
	"portside/decode/location"
	"portside/decode/rules"
	"portside/pd"
)

const (
	// shownShare is the probability of a sound machine from which on a repair is shown:
	// of the drawn machines that read healthy below it, one in ten still had its fault.
	shownShare = 0.74
	// openShare is the probability from which on a location is left open.
	openShare = 0.05
	// longerThan is how many times as long as it held before a draw must hold after: what
	// comes at random stays away for three of its mean distances in one of 20.
	longerThan = 3.0
	// loadShare is how much of the draw at which it failed proves the same load: the
	// mains and the battery's state move it by a fifth (common practice).
	loadShare = 0.8
	// restA is the most that a machine takes before it begins to work: above 60 mA at
	// 19 V a board is suspicious (common practice).
	restA = 0.1
	// leastRows of a meter have to lie on tries that it would show: by chance none of
	// three expected ones does in one of 20.
	leastRows = 3.0
)

const damagedTalk = "crc-errors" // garbles more at one time than at another: less of it is no cure

// unproven says what is missing for the proof of a repair.
func unproven(before, after Recording) string {
	is := after.Diagnosis.Verdict.Location
	if is == rules.Healthy {
		return unshown(before, after)
	}
	if short := shorted(after.Readings); short != "" {
		return "after, " + short + " still reads as a short"
	}
	if faulty(is) {
		return "the recording from after reads faulty " + sideWords[is]
	}
	return faultOpen
}

const faultOpen = "the recording from after leaves a fault open; record again, through start and charge"

// evidence is both recordings, as the demands look at them.
type evidence struct {
	before, after Recording
	b, a          *phases
}

// demands are what a recording that reads healthy has to show before a repair is proven,
// by what was wrong before. Each says what is missing, "" where nothing is.
var demands = [...]func(e *evidence) string{
	wasFaulty, noShort, noWarning, contractMade, staysOn, signatureGone, stayedLongEnough,
	retriesWouldShow, sameLoad, resistanceKnown, restsLow, climbs, inWindow, sure,
}

// unshown says what keeps a recording that reads healthy from proving a repair; "" where
// nothing does. Which side was at fault before need not be known, as long as one was.
func unshown(before, after Recording) string {
	e := &evidence{before, after, look(before), look(after)}
	for _, demand := range demands {
		if why := demand(e); why != "" {
			return why
		}
	}
	return ""
}

func wasFaulty(e *evidence) string {
	if v := e.before.Diagnosis.Verdict; !faulty(v.Location) && v.Locations[rules.Healthy] >= openShare {
		return "the recording from before leaves open that nothing was wrong; only a reading from before, or the complaint itself, shows that something was"
	}
	return ""
}

func noShort(e *evidence) string {
	if short := shorted(e.after.Readings); short != "" {
		return "after, " + short + " still reads as a short"
	}
	return ""
}

func noWarning(e *evidence) string {
	if w := warned(e); w != "" {
		return fmt.Sprintf("the recording from after raises %s, which may be what was wrong before", w)
	}
	return ""
}

// warned names a warning of the recording from after that may be what was wrong before:
// it points to a side that was open then, and could have done it. That the charger
// offers too little is no fault of what was repaired, where it did before or offered
// nothing; "" without one.
func warned(e *evidence) string {
	open := sides(e.before.Diagnosis.Verdict)
	for _, f := range e.after.Diagnosis.Findings {
		switch {
		case f.Severity == rules.Note && f.Rule != damagedTalk,
			f.Rule == smallCharger && smallBefore(e.before.Diagnosis),
			f.Rule == lossyPath && lossWasNothing(e):
			continue
		}
		if slices.ContainsFunc(open, func(l rules.Location) bool { return slices.Contains(f.PointsTo, l) }) {
			return f.Rule
		}
	}
	return ""
}

// smallBefore reports a charger that offered too little before, or was not seen to
// offer anything that was taken.
func smallBefore(b *decode.Diagnosis) bool {
	return len(b.Negotiation.Contracts) == 0 || raised(b, smallCharger)
}

// lossyPath is the rule of a loss between source and meter.
const lossyPath = "series-resistance-high"

// lossWasNothing reports that the resistance from after takes less than a sound cable may
// at all that was drawn before: then it was not what was wrong.
func lossWasNothing(e *evidence) bool {
	if e.b.peak == nil || e.a.resistance == nil || raised(e.before.Diagnosis, lossyPath) {
		return false
	}
	return e.b.peak.x*e.a.resistance.x < pd.VCableDropGND.Limits(pd.Revision32).MaxSI()
}

// raised reports a finding of the rule that is more than a note.
func raised(d *decode.Diagnosis, rule string) bool {
	return slices.ContainsFunc(d.Findings, func(f rules.Finding) bool { return f.Rule == rule && f.Severity != rules.Note })
}

// sides are the locations other than healthy that a verdict leaves open.
func sides(v location.Verdict) []rules.Location {
	var out []rules.Location
	for _, l := range [...]rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort} {
		if l == v.Location || v.Locations[l] >= openShare {
			out = append(out, l)
		}
	}
	return out
}

func contractMade(e *evidence) string {
	if e.a.volts == nil && e.a.contractV == nil {
		return "the recording from after shows no contract"
	}
	return ""
}

func staysOn(e *evidence) string {
	if e.a.peak != nil && (e.a.steady == nil || e.a.steady.x < drawsA) {
		return "the recording from after shows no draw that stays"
	}
	return ""
}

// signatureGone asks that what was seen before is seen no more.
func signatureGone(e *evidence) string {
	for _, x := range [...]struct {
		before, after *int
		what          string
	}{
		{e.b.pulses, e.a.pulses, "retry pulses"},
		{e.b.resets, e.a.resets, "collapses of a climb"},
		{e.b.collapses, e.a.collapses, "collapses of VBUS"},
	} {
		if x.before != nil && x.after != nil && *x.before > 0 && *x.after > 0 {
			return fmt.Sprintf("there are %s before, and there still are after", x.what)
		}
	}
	return ""
}

// stayedLongEnough asks a fault that came and went to stay away.
func stayedLongEnough(e *evidence) string {
	if e.b.comesAndGoes() && e.a.recordedS < longerThan*e.b.heldS {
		return fmt.Sprintf("before, the fault came and went, and the draw held for %.0f s at a time; record for %.0f s or more after the contract", e.b.heldS, math.Ceil(longerThan*e.b.heldS))
	}
	return ""
}

// retriesWouldShow asks for a meter that would have shown the tries of before. A draw that
// stands above what these reach is none of them.
func retriesWouldShow(e *evidence) string {
	for _, p := range e.before.Diagnosis.Draw.Pulses {
		if e.a.peak == nil || e.a.steady != nil && e.a.steady.x >= p.PeakA || wouldShow(p, e) {
			continue
		}
		return "the tries of before are too short for the meter of after, and what it draws now could be they; record it as fast as before"
	}
	return ""
}

// wouldShow reports a train of pulses that the meter of after would have shown, whether
// its rows are instants or means.
func wouldShow(p draw.Pulses, e *evidence) bool {
	was, is := e.before.Diagnosis.Draw.Sampling, e.after.Diagnosis.Draw.Sampling
	if is.IntervalS <= was.IntervalS {
		return true
	}
	if p.PeriodS == nil || p.OnS == nil {
		return false
	}
	share := min(1, *p.OnS / *p.PeriodS)
	hit := share * e.a.recordedS / is.IntervalS // rows on a try, if these are instants
	left := (p.PeakA - p.RestA) * min(1, *p.OnS/is.IntervalS)
	return hit >= leastRows && left > max(2*is.ResolutionA, 5*is.NoiseA)
}

// sameLoad asks a source or a cable that gave way to carry as much as it failed at.
func sameLoad(e *evidence) string {
	at := e.b.failedAt(e.before.Diagnosis)
	if e.before.Diagnosis.Verdict.Location != rules.BeforePort || at == 0 || e.a.peak == nil || e.a.peak.x >= loadShare*at {
		return ""
	}
	return fmt.Sprintf("before, it failed at %.2f A, and after, no more than %.2f A are drawn; let the machine draw as much", at, e.a.peak.x)
}

// failedAt is the draw of a working machine at which VBUS gave way; 0 where none is known.
// What flows into a short is no load.
func (p *phases) failedAt(d *decode.Diagnosis) float64 {
	most := 0.0
	for _, c := range d.Draw.Collapses {
		if c.HeldA == 0 && (p.contractA == nil || c.AtA <= p.contractA.x) {
			most = max(most, c.AtA)
		}
	}
	return most
}

// resistanceKnown asks for a figure where the loss on the way was the fault.
func resistanceKnown(e *evidence) string {
	if raised(e.before.Diagnosis, lossyPath) && e.a.resistance == nil {
		return "before, the way to the meter lost voltage, and after, its resistance cannot be told; let the draw change"
	}
	return ""
}

// restsLow asks for a machine that takes next to nothing before it begins to work: a leak
// draws from the contract on.
func restsLow(e *evidence) string {
	if e.a.rest == nil || e.a.rest.x < restA {
		return ""
	}
	return fmt.Sprintf("the recording from after draws %.2f A before the machine begins to work, as a leak would; measure the port cold", e.a.rest.x)
}

// climbs asks for a draw that begins as a machine's does, where a short behind the port
// was the fault: what is left of one draws all from the first moment, and the same for
// ever.
func climbs(e *evidence) string {
	if e.before.Diagnosis.Verdict.Location != rules.BehindPort || e.a.steady == nil || e.a.climb == nil || *e.a.climb {
		return ""
	}
	return "after, the whole draw stands at once and never changes, as a leak on the main rail would; record faster, or through a start"
}

// sure asks that what was open before is closed: a side that was not may stay open.
// inWindow asks that VBUS never stood above the window of a fixed contract, with the
// meter's own limit on top.
func inWindow(e *evidence) string {
	if e.a.kind != kindFixed || e.a.contractV == nil || e.a.volts == nil ||
		math.Abs(e.a.volts.x-e.a.contractV.x) > steadyShare*e.a.contractV.x {
		return ""
	}
	window := pd.VSrcNew.Limits(pd.Revision32)
	if e.a.highestV <= e.a.contractV.x*window.Max.Value*(1+e.a.accuracyV/100) {
		return ""
	}
	return fmt.Sprintf("after, VBUS stands at %.1f V on a contract of %.3g V", e.a.highestV, e.a.contractV.x)
}

func sure(e *evidence) string {
	if e.after.Diagnosis.Verdict.Locations[rules.Healthy] < shownShare {
		return faultOpen
	}
	return ""
}
