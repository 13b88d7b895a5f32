package compare

import (
	"fmt"
	"math"

	"portside/decode"
	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

// value is a figure with its standard uncertainty, nil where that is unknown.
type value struct {
	x float64
	u *float64
}

// phases are what one recording says of each phase of a power-up. Times are
// since the phase before; what the recording does not show is nil.
type phases struct {
	kind       string // of the contract; "" without one, or where only VBUS tells
	contractV  *value
	toContract *value
	recordedS  float64 // after the contract; infinite where there is none
	heldS      float64 // that the steady draw stayed

	volts, steady, ramp, peak *value

	contractA *value // what the contract allows
	rest      *value // draw on the contract before the machine begins to work
	climb     *bool  // the draw takes its time to the steady one, or moves later; nil where its begin was not recorded

	highestV float64 // that VBUS stood at on the contract's level; 0 where unknown

	pulses, resets, collapses, hardResets *int

	resistance, leak, inrush, energy *value

	accuracyV, accuracyA float64 // limits in percent of reading
}

const (
	enoughS     = 1.0 // a recording that ends sooner after its contract shows no ramp: common practice
	steadyShare = 0.1 // VBUS of a steady draw lies this near its level
	steadyS     = 0.5 // shorter is no steady draw
)

// aboveSupplyV is where vSafe5V ends: VBUS above it stands on a contract.
var aboveSupplyV = pd.VSafe5V.Limits(pd.Revision32).MaxSI()

// Kinds of contract that cannot be compared with one another.
const (
	kindFixed      = "at a fixed voltage"
	kindAdjustable = "at an adjustable voltage (PPS or AVS)"
	kindEPR        = "in extended power range"
)

func look(r Recording) *phases {
	d := r.Diagnosis
	p := &phases{recordedS: math.Inf(1), accuracyV: decode.AccuracyPercent(r.AccuracyV), accuracyA: decode.AccuracyPercent(r.AccuracyA)}
	var contract *negotiation.Contract
	if d.Negotiation.Messages > 0 {
		contract = longest(d.Negotiation)
		p.hardResets = &d.Negotiation.HardResets
	}
	if contract != nil {
		p.takeContract(d.Negotiation, contract)
	}
	if d.Draw.Sampling.N > 0 {
		p.takeDraw(d, contract)
	}
	return p
}

// longest is the contract that stood longest.
func longest(n *negotiation.Result) *negotiation.Contract {
	var best *negotiation.Contract
	most := -1.0
	for i := range n.Contracts {
		c := &n.Contracts[i]
		length := math.Inf(1)
		if c.EndS != nil && c.StartS != nil {
			length = *c.EndS - *c.StartS
		}
		if length > most {
			best, most = c, length
		}
	}
	return best
}

func (p *phases) takeContract(n *negotiation.Result, c *negotiation.Contract) {
	p.kind = kindFixed
	switch {
	case c.Kind == pd.KindPPS.String(), c.Kind == pd.KindSPRAVS.String():
		p.kind = kindAdjustable
	case c.Kind == pd.KindEPRAVS.String(), c.VoltageMV != nil && *c.VoltageMV > maxSPRVoltageMV:
		p.kind = kindEPR
	case c.Kind == "unknown":
		p.kind = ""
	}
	if c.VoltageMV != nil {
		p.contractV = &value{x: float64(*c.VoltageMV) / 1000}
	}
	if c.CurrentMA != nil {
		p.contractA = &value{x: float64(*c.CurrentMA) / 1000}
	}
	if c.StartS == nil {
		return
	}
	if n.AttachS != nil {
		p.toContract = &value{x: *c.StartS - *n.AttachS}
	}
	if n.LastS != nil {
		p.recordedS = *n.LastS - *c.StartS
	}
}

// maxSPRVoltageMV is the highest fixed voltage outside extended power range.
const maxSPRVoltageMV = 20_000

func (p *phases) takeDraw(d *decode.Diagnosis, contract *negotiation.Contract) {
	r := d.Draw
	level := contractLevel(r)
	if level != nil {
		p.volts = &value{x: level.VoltageV, u: uncertain(level.VoltageV, p.accuracyV, r.Sampling.NoiseV, level.N)}
		p.recordedS = r.Sampling.EndS - level.StartS
	}
	if contract != nil && contract.StartS != nil && d.Clock.OffsetS != nil {
		p.recordedS = r.Sampling.EndS - *contract.StartS
	}
	if r.Sampling.WithCurrent > 0 {
		p.peak = &value{x: r.Sampling.MaxA, u: uncertain(r.Sampling.MaxA, p.accuracyA, r.Sampling.NoiseA, 1)}
		p.takeSteady(r, level)
		pulses, resets, collapses := 0, 0, len(r.Collapses)
		for _, x := range r.Pulses {
			pulses += x.Count
		}
		for _, x := range r.Staircases {
			resets += x.Resets
		}
		p.pulses, p.resets, p.collapses = &pulses, &resets, &collapses
	}
	m := r.Measured
	p.resistance, p.leak, p.inrush = quantity(m.SeriesResistanceOhm), quantity(m.LeakResistanceOhm), quantity(m.InrushChargeC)
	if r.EnergyWh != nil {
		p.energy = &value{x: *r.EnergyWh}
	}
}

// contractLevel is the longest run of VBUS above 5 V, which stands on a
// contract whether or not its messages were recorded.
func contractLevel(r *draw.Result) *draw.Level {
	var best *draw.Level
	for i := range r.Levels {
		l := &r.Levels[i]
		if l.VoltageV > aboveSupplyV && (best == nil || l.EndS-l.StartS > best.EndS-best.StartS) {
			best = l
		}
	}
	return best
}

// takeSteady finds the draw that stands longest on the contract's level.
func (p *phases) takeSteady(r *draw.Result, level *draw.Level) {
	if level == nil {
		return
	}
	var best *draw.Plateau
	for i := range r.Plateaus {
		x := &r.Plateaus[i]
		if stands(x, level) && x.N >= restRows {
			p.highestV = max(p.highestV, *x.VoltageV)
		}
		if !stands(x, level) || x.EndS-x.StartS < steadyS {
			continue
		}
		if best == nil || x.EndS-x.StartS > best.EndS-best.StartS {
			best = x
		}
	}
	if best == nil {
		return
	}
	p.steady = &value{x: *best.CurrentA, u: uncertain(*best.CurrentA, p.accuracyA, max(best.AmpsSD, r.Sampling.NoiseA), best.N)}
	p.heldS = best.EndS - best.StartS
	p.ramp = &value{x: max(0, best.StartS-level.StartS), u: edge(r.Sampling.IntervalS)}
	p.takeBegin(r, level, best)
}

// stands reports a plateau of the draw on a level.
func stands(x *draw.Plateau, level *draw.Level) bool {
	return x.CurrentA != nil && x.VoltageV != nil && x.StartS >= level.StartS && x.EndS <= level.EndS &&
		math.Abs(*x.VoltageV-level.VoltageV) <= steadyShare*level.VoltageV
}

// uncertain is the standard uncertainty of a mean of n samples: their noise,
// and the meter's limit in percent of reading, over the root of three (JCGM
// 100:2008, 4.3.7). The two recordings may be of two meters.
func uncertain(x, percent, sigma float64, n int) *float64 {
	if n == 0 || math.IsNaN(sigma) {
		return nil
	}
	u := math.Hypot(sigma/math.Sqrt(float64(n)), x*percent/100/math.Sqrt(3))
	return &u
}

// edge is the standard uncertainty of the time between two edges, each of
// which lies anywhere between two samples: JCGM 100:2008, 4.3.7.
func edge(intervalS float64) *float64 {
	u := intervalS / math.Sqrt(6)
	return &u
}

func quantity(q *draw.Quantity) *value {
	if q == nil {
		return nil
	}
	return &value{x: q.Value, u: q.Uncertainty}
}

func (p *phases) tooShort() bool { return p.recordedS < enoughS }

// comesAndGoes reports a fault that lets the machine work for a while.
func (p *phases) comesAndGoes() bool {
	gone := p.collapses != nil && *p.collapses > 0 || p.hardResets != nil && *p.hardResets > 0
	return gone && p.steady != nil && p.steady.x >= drawsA
}

// drawsA is the least that is a draw: current monitors have offsets of 10 mA
// class, data sheet SBOS844C.
const drawsA = 0.02

// story is the draw in one clause: what failed, else what stands.
func (p *phases) story() string {
	at := "at 5 V"
	switch {
	case p.contractV != nil:
		at = fmt.Sprintf("at %.3g V", p.contractV.x)
	case p.volts != nil:
		at = fmt.Sprintf("at %.1f V", p.volts.x)
	}
	switch {
	case p.pulses != nil && *p.pulses > 0:
		return fmt.Sprintf("it drew %d short pulses of up to %.2f A and gave up", *p.pulses, p.peak.x)
	case p.resets != nil && *p.resets > 0:
		return fmt.Sprintf("the draw climbed and collapsed %s", times(*p.resets))
	case p.collapses != nil && *p.collapses > 0:
		return fmt.Sprintf("VBUS collapsed %s", times(*p.collapses))
	case p.contractV == nil && p.volts == nil:
		return "no contract above 5 V was made"
	case p.steady == nil:
		return fmt.Sprintf("a contract %s was made", at)
	case p.steady.x < drawsA:
		return fmt.Sprintf("next to nothing was drawn %s", at)
	}
	return fmt.Sprintf("%.2g s after the contract the draw %s reaches %.2f A and stays", p.ramp.x, at, p.steady.x)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
