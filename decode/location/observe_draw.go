package location

import (
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/rules"
)

// drawSeen is the one pattern that the draw shows: a train of pulses and the
// low mean it causes are one observation.
func (p picture) drawSeen() (seen, string) {
	d := p.meter()
	if d == nil || d.Sampling.WithCurrent == 0 {
		return p.drawByDisplay()
	}
	for _, pattern := range []func(*draw.Result) (seen, string){p.refills, p.breaks, p.runsAway, p.stages, p.trains, p.gaveWay, p.climbs, p.overContract, p.starved, p.beats, p.cycles, p.cuts, p.fallsBelow, p.fades, p.onAndOff, p.working} {
		if s, why := pattern(d); s != nil {
			return s, why
		}
	}
	return p.steady(d)
}

// trains looks for retries that end in no working draw.
func (p picture) trains(d *draw.Result) (seen, string) {
	if f, known := p.found["retry-pulses"]; known && f.Severity == rules.Warning && !p.is("ramp-normal", rules.Note) {
		if givesUp(p.meter()) {
			return seen{drawGivesUp: 1, drawSlow: 0.2}, f.Text
		}
		return seen{drawWakes: 1, drawSlow: 0.2}, f.Text
	}
	if !p.is("retry-pulses", rules.Fault) {
		return nil, ""
	}
	longest := draw.Pulses{}
	for _, t := range d.Pulses {
		if t.Count > longest.Count {
			longest = t
		}
	}
	text := p.text("retry-pulses")
	switch {
	case longest.Count == 0:
		return nil, ""
	case longest.WithVBUS:
		return exactly(drawDrops), text
	case longest.PeriodS == nil:
		return seen{drawFast: 0.5, drawCharger: 0.5, drawSlow: 0.5}, text
	default:
		u := 0.0
		if longest.PeriodU != nil {
			u = *longest.PeriodU
		}
		return periodSeen(*longest.PeriodS, u), text
	}
}

// A machine that sleeps wakes now and then, and stays up for what it has to do: common
// practice.
const (
	givesUpS    = 4.0   // s between two starts at most
	givesUpFrom = 5     // starts
	givesUpA    = 0.045 // between them: a board that is off draws 9 to 30 mA at 19 V, one that sleeps 50 and more
)

// givesUp reports small starts at a beat that no sleep has.
func givesUp(d *draw.Result) bool {
	return slices.ContainsFunc(d.Pulses, func(t draw.Pulses) bool {
		return t.Count >= givesUpFrom && t.RestA <= givesUpA && t.PeriodS != nil && *t.PeriodS <= givesUpS
	})
}

// Families of retry periods, in seconds, each with the spread that clocks and
// designs add. Data sheets SLVSEG3E, JAJSJF0D; SLUSDU3, SLUSE65A, SLVSGF4B;
// SLVSDJ5D, SLUSDL3A.
const (
	fastFromS, fastToS       = 0.025, 0.30
	chargerFromS, chargerToS = 0.50, 0.62
	slowFromS, slowToS       = 0.90, 3.0
	fuseFromS, fuseToS       = 0.60, 0.70 // an electronic fuse may be the input switch as well
	fuseShare                = 0.4
	periodSpread             = 0.06 // of the period, one standard deviation: common practice
)

// periodSeen is the chance of a measured period under each family: full
// inside its window, falling off like a normal error outside it.
func periodSeen(period, u float64) seen {
	if period > slowToS+2*math.Hypot(periodSpread*period, u) {
		return seen{drawSlow: 1, drawOnOff: 0.5} // no family tries so seldom
	}
	near := func(from, to float64) float64 {
		off := max(from-period, period-to, 0)
		sd := math.Hypot(periodSpread*period, u)
		return max(0.02, math.Exp(-off*off/(2*sd*sd)))
	}
	fast := max(near(fastFromS, fastToS), fuseShare*near(fuseFromS, fuseToS))
	return seen{drawFast: fast, drawCharger: near(chargerFromS, chargerToS), drawSlow: near(slowFromS, slowToS)}
}

// promisedA is the current that the source promised: the contract's, else
// what the charger's label allows at the highest level seen.
func (p picture) promisedA() (float64, bool) {
	most := 0.0
	if n := p.Facts.Negotiation; n != nil {
		for _, c := range n.Contracts {
			if c.CurrentMA != nil {
				most = max(most, float64(*c.CurrentMA)/1000)
			}
		}
	}
	if most > 0 {
		return most, true
	}
	label, known := figure(p.Readings, "charger-label-w")
	if d := p.meter(); known && d != nil && d.Sampling.MaxV > 1 {
		return label / d.Sampling.MaxV, true
	}
	return 0, false
}

func (p picture) gaveWay(d *draw.Result) (seen, string) {
	if !p.is("vbus-collapse", rules.Fault) || len(d.Collapses) == 0 || p.searches(d) {
		return nil, ""
	}
	if _, lower := standsLower(d); lower {
		return nil, ""
	}
	return exactly(drawDrops), p.text("vbus-collapse")
}

// standsLower is the level that VBUS falls to and stands at, carrying a working draw: it
// gives way and does not go away.
func standsLower(d *draw.Result) (draw.Level, bool) {
	if len(d.Collapses) != 1 {
		return draw.Level{}, false
	}
	c := d.Collapses[0]
	for _, l := range d.Levels {
		if l.EndS-l.StartS >= minLevelS && l.StartS >= c.TimeS-minLevelS && l.EndS > c.TimeS {
			return l, l.VoltageV >= contractV && l.VoltageV < c.FromV && l.MeanA >= standbyA
		}
	}
	return draw.Level{}, false
}

// searchFalls is how often a search of a plain 5 V source may overload it before
// it settles: open laptop embedded-controller firmware.
const searchFalls = 3

// searches reports a search of a plain source under way: the draw climbs, and
// VBUS gives way at the end of a climb.
func (p picture) searches(d *draw.Result) bool {
	return !p.contract && p.is("staircase-draw", rules.Note) && len(d.Collapses) <= searchFalls
}

func (p picture) climbs(d *draw.Result) (seen, string) {
	text := p.text("staircase-draw")
	switch {
	case p.lapsed != "" && p.is("staircase-draw", rules.Warning): // the reset ends each climb
		return nil, ""
	case p.is("staircase-draw", rules.Fault):
		return exactly(drawStairsFall), text
	case p.is("staircase-draw", rules.Warning):
		switch working := p.is("ramp-normal", rules.Note); {
		case working && !p.contract:
			return seen{drawStairsFall: 0.3, drawStairsSettle: 1}, text // the steps are too fine for this meter, and it works
		case working:
			return seen{drawStairsFall: 0.3, drawStairsSettle: 0.3, drawWorking: 0.5}, text + "; after that it works" // a start in bursts
		}
		return seen{drawStairsFall: 1, drawStairsSettle: 0.3}, text // it may settle yet
	case p.is("staircase-draw", rules.Note):
		for _, s := range d.Staircases {
			if s.SettledA != nil {
				return exactly(drawStairsSettle), text
			}
		}
		if !p.is("ramp-normal", rules.Note) {
			return seen{drawStairsFall: 1, drawStairsSettle: 1, drawWorking: 0.3}, text // the recording ends within the search, or a ramp was cut into steps
		}
	}
	return nil, ""
}

// onAndOffW is the swing of a machine that works and stops: more than one that
// sleeps and wakes. Common practice.
const (
	onAndOffW    = 8.0
	onAndOffLast = 0.4 // s that each side holds at least
	onAndOffSeen = 2   // stops before it counts
	onAndOffMost = 60  // s from stop to stop: a full battery is topped up minutes apart
	cutShort     = 0.5 // of its peak: a charge that ends has fallen further
)

// restartsMost is how often a sound machine starts again before it starts for good: memory
// that is trained anew once its battery was out. Common practice.
const restartsMost = 3

// onAndOff looks for a working draw that stops and comes back while the
// contract stands.
func (p picture) onAndOff(d *draw.Result) (seen, string) {
	if !p.contract {
		return nil, ""
	}
	stops, worked, firstS, lastS := 0, 0.0, 0.0, 0.0
	peakW, lastW := 0.0, 0.0
	var rests restsSeen
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || q.VoltageV == nil || *q.VoltageV < contractV {
			worked = 0
			continue
		}
		lasts := q.EndS - q.StartS + d.Sampling.IntervalS // a ramp is cut into single samples
		held := lasts >= max(beganS, 2*d.Sampling.IntervalS)
		rests.note(q, lasts, worked)
		switch {
		case *q.CurrentA**q.VoltageV >= onAndOffW:
			worked += lasts
			if held { // a row between two states is neither
				lastW = *q.CurrentA * *q.VoltageV
				peakW = max(peakW, lastW)
			}
		case *q.CurrentA > standbyA && held:
			lastW = *q.CurrentA * *q.VoltageV // it comes down first
		case worked >= onAndOffLast && lasts >= onAndOffLast && *q.CurrentA <= standbyA:
			worked = 0
			stops++
			lastS = q.StartS
			if stops == 1 {
				firstS = q.StartS
			}
		}
	}
	if quietS := d.Sampling.EndS - lastS; stops == 1 && worked == 0 && quietS >= minLevelS && lastW >= cutShort*peakW && !p.is("charge-taper", rules.Note) {
		restA := restSince(d, firstS)
		how := exactly(drawEnds)
		switch {
		case restA > quietA:
			how = exactly(drawHolds)
		case restA > nothingA:
			how = seen{drawEnds: 1, drawHolds: 1}
		}
		return how, fmt.Sprintf("the draw stops at %.2f s while VBUS stands, and does not come back for %.0f s, in which %.0f mA flow", firstS, quietS, 1000*restA)
	}
	if stops < onAndOffSeen || lastS-firstS > onAndOffMost*float64(stops-1) {
		return nil, ""
	}
	if stops <= restartsMost && worked >= max(atFirstS, atFirstTimes*(lastS-firstS)) {
		return nil, "" // it starts again once or twice, and then comes off
	}
	text := fmt.Sprintf("the draw stops %d times from %.2f s to %.2f s while VBUS stands", stops, firstS, lastS)
	how := rests.use(d.Sampling)
	if how[drawInUse] > 0 {
		text += fmt.Sprintf(", and never goes below %.0f mA", 1000*rests.leastA)
	}
	return how, text
}

// restSince is the draw of the plateau that lasts longest from then on.
func restSince(d *draw.Result, fromS float64) float64 {
	amps, longest := 0.0, 0.0
	for _, q := range d.Plateaus {
		if s := q.EndS - q.StartS + d.Sampling.IntervalS; q.StartS >= fromS && q.CurrentA != nil && s > longest {
			amps, longest = *q.CurrentA, s
		}
	}
	return amps
}

func (p picture) overContract(*draw.Result) (seen, string) {
	if !p.is("over-contract-current", rules.Fault) {
		return nil, ""
	}
	return exactly(drawOver), p.text("over-contract-current")
}

func (p picture) starved(*draw.Result) (seen, string) {
	if !p.is("series-resistance-high", rules.Fault) {
		return nil, ""
	}
	return exactly(drawStarved), p.text("series-resistance-high")
}

// working looks for a draw that came and stayed, or falls as a charge does.
func (p picture) working(d *draw.Result) (seen, string) {
	switch {
	case p.is("charge-taper", rules.Note):
		return exactly(drawTaper), p.text("charge-taper")
	case !p.is("ramp-normal", rules.Note):
		return nil, ""
	}
	text := p.text("ramp-normal")
	if f, fell := p.found["vbus-collapse"]; fell && f.Severity == rules.Warning && !p.contract {
		return seen{drawStairsSettle: 1, drawWorking: 0.3}, text + "; before that " + f.Text
	}
	if from, ok := precharge(d); ok {
		return seen{drawPrecharge: 1, drawWorking: 1}, text + fmt.Sprintf("; it begins as a precharge at %.2f s", from)
	}
	amps, volts, known := lastDraw(d)
	if !known {
		return exactly(drawWorking), text
	}
	allowed, promised := p.promisedA()
	switch {
	case !p.contract && p.ramped(d) < worksLowA: // always-on rails take nearly as much, however long
		amps = p.ramped(d)
		rails := railsAtMost * min(1, (worksLowA-amps)/(worksLowA-standbyLowA))
		return seen{drawStandby: rails, drawWorking: 1 - rails}, fmt.Sprintf("%s; it is %.2f A at %.1f V", text, amps, volts)
	case promised && p.contract && amps >= atLimit*allowed && amps*volts > lightW && flat(d) && p.is("capability-mismatch", rules.Warning):
		return seen{drawAtLimit: 1, drawWorking: 1}, text + fmt.Sprintf("; it stands flat at %.2f A of the %.2f A promised, and the machine wants more", amps, allowed)
	case promised && p.contract && amps >= atLimit*allowed && amps*volts > lightW && flat(d):
		return leapSeen(d, drawAtLimit), text + fmt.Sprintf("; it stands flat at %.2f A of the %.2f A promised", amps, allowed)
	case p.contract && amps*volts > lightW && flat(d):
		return leapSeen(d, drawLeap), text + fmt.Sprintf("; it stands flat at %.2f A", amps)
	case p.contract && amps <= standbyA && flat(d):
		return seen{drawHolds: 1, drawStandby: 1}, text + fmt.Sprintf("; in the end it is %.0f mA", 1000*amps)
	case p.contract && amps*volts <= lightW && flat(d):
		return exactly(drawLight), text + fmt.Sprintf("; it is a steady %.1f W", amps*volts)
	default:
		return exactly(drawWorking), text
	}
}

// ramped is the current that stood longest of the draw that came and stayed.
func (p picture) ramped(d *draw.Result) float64 {
	f, amps, longest := p.found["ramp-normal"], math.Inf(1), 0.0
	for _, x := range d.Plateaus {
		if x.CurrentA == nil || f.StartS == nil || f.EndS == nil {
			continue
		}
		if long := min(x.EndS, *f.EndS) - max(x.StartS, *f.StartS); long > longest {
			amps, longest = *x.CurrentA, long
		}
	}
	return amps
}

// A precharge is a tenth of the charge current or less for a while, then a
// step up: three times tells the step from the ramp of one phase. Common
// practice; 0.05 to 0.1 C against 0.2 to 1 C.
const (
	prechargeS    = 5.0
	prechargeStep = 3.0
)

// precharge looks for a light draw that held before the last one.
func precharge(d *draw.Result) (fromS float64, ok bool) {
	for _, phase := range d.Profile {
		if phase.Phase == "precharge" {
			return phase.StartS, true
		}
	}
	if len(d.Plateaus) == 0 {
		return 0, false
	}
	last := d.Plateaus[len(d.Plateaus)-1]
	for _, q := range d.Plateaus {
		if q.CurrentA == nil || q.VoltageV == nil || last.CurrentA == nil || *q.CurrentA < standbyA || q.EndS-q.StartS < prechargeS {
			continue
		}
		return q.StartS, *q.CurrentA**q.VoltageV <= lightW && *last.CurrentA >= prechargeStep**q.CurrentA
	}
	return 0, false
}

// railsAtMost is how often a steady draw of no more than always-on rails take is theirs
// alone: small machines charge with as little. Common practice.
const railsAtMost = 0.3

// leapS is the longest rise that is still a leap: charge currents are ramped
// over tenths of a second, a short is there at once. Common practice.
const (
	leapS      = 0.1
	leapEveryS = 0.12 // rows further apart do not tell the two
)

// leapSeen tells a leap to a flat draw from a ramp to it, where the sampling can.
func leapSeen(d *draw.Result, leap string) seen {
	if d.Sampling.IntervalS > leapEveryS || d.Sampling.IntervalS <= 0 {
		return seen{leap: 1, drawWorking: 1}
	}
	quietTo, from := math.NaN(), math.NaN()
	for _, q := range d.Plateaus {
		if q.CurrentA == nil {
			continue
		}
		if *q.CurrentA < standbyA {
			quietTo = q.EndS
		} else if q.EndS-q.StartS >= minLevelS {
			from = q.StartS
			break
		}
	}
	switch rise := from - quietTo; {
	case rise <= leapS+d.Sampling.IntervalS/2: // between two samples
		return exactly(leap)
	case rise <= leapS/2+2*d.Sampling.IntervalS && d.Sampling.IntervalS > leapS/2: // a leap within a row is seen across two
		return seen{leap: 1, drawWorking: 0.3}
	case rise <= 2*leapS+d.Sampling.IntervalS:
		return seen{leap: 1, drawWorking: 1}
	}
	return exactly(drawWorking)
}

// lastDraw is the draw of the plateau that lasted longest in the second half
// of the recording.
func lastDraw(d *draw.Result) (amps, volts float64, known bool) {
	middle, longest := (d.Sampling.StartS+d.Sampling.EndS)/2, 0.0
	for _, q := range d.Plateaus {
		if q.EndS > middle && q.CurrentA != nil && q.VoltageV != nil && q.EndS-q.StartS > longest {
			amps, volts, known, longest = *q.CurrentA, *q.VoltageV, true, q.EndS-q.StartS
		}
	}
	return amps, volts, known
}

// flatShare is how much of a working draw one plateau must hold to be called
// flat: a machine that runs moves more. Common practice.
const flatShare = 0.8

func flat(d *draw.Result) bool {
	total, longest := 0.0, 0.0
	for _, q := range d.Plateaus {
		if q.CurrentA != nil && *q.CurrentA >= standbyA {
			total += q.EndS - q.StartS
			longest = max(longest, q.EndS-q.StartS)
		}
	}
	return longest > flatShare*total
}

// nothingA is less than any machine's standby at 20 V: 0.2 W and more. Common practice.
const nothingA = 0.01

// startsS is what a machine may take from the contract to its draw: common practice.
const startsS = 1.0

// steady is a draw without any pattern: none, standby, light or working, by
// its mean at the level that lasted. What the meter may have missed counts.
func (p picture) steady(d *draw.Result) (seen, string) {
	level, known := lastLevel(d, p.contract)
	if !known || math.IsNaN(level.MeanA) || level.VoltageV < rules.LowestContractV || level.EndS < d.Sampling.EndS && level.EndS-level.StartS < startsS {
		return nil, ""
	}
	spikes := 0
	if p.is("current-spike", rules.Note) {
		spikes = spikesAlike(d)
	}
	text := fmt.Sprintf("at %.2f V the draw is %.0f mA", level.VoltageV, level.MeanA*1000)
	standby := standbyLowA
	if p.contract {
		standby = standbyA
	}
	resolution := max(d.Sampling.ResolutionA, quietA)
	switch {
	case level.MeanA <= resolution && p.contract && level.MeanA > nothingA: // little more than a meter's zero may be off
		s := quietSeen(drawNone, spikes, d.Sampling)
		for pattern, x := range quietSeen(drawStandby, spikes, d.Sampling) {
			s[pattern] = max(s[pattern], x)
		}
		return s, text
	case level.MeanA <= resolution:
		return quietSeen(drawNone, spikes, d.Sampling), text + ", which a meter cannot tell from nothing"
	case level.MeanA <= standby:
		return quietSeen(drawStandby, spikes, d.Sampling), text
	case p.contract && level.MeanA*level.VoltageV <= lightW:
		return exactly(drawLight), text
	default:
		return exactly(drawWorking), text
	}
}

// Spikes of one height that are far shorter than a machine stays awake are tries, of which
// a slow meter sees some: common practice.
const (
	tryS     = 0.05
	tryAlike = 2.0 // of the median height, either way
	settledS = 1.0 // after VBUS rose: before it capacitors fill and switches close
)

// spikesAlike counts short spikes of one height that stand on a quiet draw, once VBUS has
// settled.
func spikesAlike(d *draw.Result) int {
	var heights []float64
	next, since := 0, math.Inf(-1)
	for _, s := range d.Spikes {
		for ; next < len(d.Levels) && d.Levels[next].StartS <= s.TimeS; next++ {
			since = d.Levels[next].StartS
		}
		if s.TimeS-since >= settledS && s.DurationS <= tryS && s.BaselineA <= standbyA && s.PeakA >= standbyA {
			heights = append(heights, s.PeakA)
		}
	}
	typical := middle(heights)
	alike := 0
	for _, h := range heights {
		if h <= tryAlike*typical && h >= typical/tryAlike {
			alike++
		}
	}
	return alike
}

// lastLevel is the level that lasted longest among those that count.
func lastLevel(d *draw.Result, contract bool) (draw.Level, bool) {
	best, known := draw.Level{}, false
	for _, l := range d.Levels {
		if contract != (l.VoltageV >= contractV) || l.NominalV == 0 {
			continue
		}
		if !known || l.EndS-l.StartS > best.EndS-best.StartS {
			best, known = l, true
		}
	}
	return best, known
}

// drawByDisplay reads what a display shows. It is taken once or twice a
// second, so a short pulse is missed.
func (p picture) drawByDisplay() (seen, string) {
	amps, known := figure(p.Readings, "display-a")
	pattern := word(p.Readings, "display-pattern")
	if !known && pattern == "" || p.state[noVBUS] > 0 {
		return nil, ""
	}
	display := draw.Sampling{IntervalS: 0.5, EndS: 30, ResolutionA: 0.01}
	text := "the display"
	if r, has := find(p.Readings, "display-a"); has {
		text += " shows " + r.Text
	}
	if pattern != "" {
		text += " " + pattern
	}
	switch pattern {
	case "pulsing":
		return seen{drawFast: 1, drawCharger: 0.7, drawSlow: 1, drawDrops: 0.6, drawStandby: 0.02, drawWorking: 0.03}, text
	case "staircase":
		return seen{drawStairsFall: 1, drawStairsSettle: 0.8, drawWorking: 0.1}, text
	case "climbing":
		return seen{drawWorking: 1, drawPrecharge: 0.5, drawStairsSettle: 0.5, drawStairsFall: 0.2, drawAtLimit: 0.5}, text
	case "falling":
		return seen{drawTaper: 1, drawWorking: 0.2}, text
	}
	standby := standbyLowA
	if p.contract {
		standby = standbyA
	}
	volts, _ := figure(p.Readings, "display-v")
	switch {
	case !known:
		return nil, ""
	case amps <= quietA:
		return quietSeen(drawNone, 0, display), text
	case amps <= standby:
		return quietSeen(drawStandby, 0, display), text
	case p.contract && volts > 0 && amps*volts <= lightW:
		return exactly(drawLight), text
	default:
		return seen{drawWorking: 1, drawAtLimit: 1, drawTaper: 0.8, drawPrecharge: 0.3}, text
	}
}
