package charger

import (
	"math"

	"portside/captures"
	"portside/pd"
)

// cable is what was said on the sets of the cable.
type cable struct {
	asked    bool
	answered bool
	known    bool          // the answer said what the cable carries
	current  pd.Milliamps  // 0 where the answer does not say
	voltage  pd.Millivolts //
	epr      bool

	lastID   int // of the last message to the cable
	lastEnd  moment
	lastOpen bool
}

// cableVDO is where the answer to Discover Identity carries the VDO of a cable:
// behind the header, ID Header, Cert Stat and Product (USB PD R3.2 V1.1, section
// 6.4.4.3.1).
const cableVDO = 4

// answers reports a GoodCRC of the plug to the last message of a port.
func (k *cable) answers(e *event) bool {
	return k.lastOpen && k.lastID == e.msg.Header.MessageID()
}

// take reads a message to or from the cable.
func (k *cable) take(m *captures.Message, e *event) {
	plug := e.msg.Header.CablePlug()
	if e.msg.Type() == pd.GoodCRC {
		k.lastOpen = false
		return
	}
	k.lastID, k.lastEnd, k.lastOpen = e.msg.Header.MessageID(), e.end, !plug
	if e.msg.Set != pd.SOPPrime || e.msg.Type() != pd.VendorDefined || e.msg.NumObjects() == 0 || m.Status == captures.Unacknowledged && plug {
		return
	}
	h := pd.VDMHeader(e.msg.Object(0))
	if !h.Structured() || h.Command() != pd.DiscoverIdentity {
		return
	}
	switch h.CommandType() {
	case pd.REQ:
		k.asked = true
	case pd.ACK:
		k.answer(e.msg)
	}
}

// answer reads what the cable says of itself.
func (k *cable) answer(p pd.Message) {
	k.answered = true
	if p.NumObjects() <= cableVDO {
		return
	}
	switch pd.IDHeaderVDO(p.Object(1)).Fields().Plug() {
	case pd.PassiveCable, pd.ActiveCable:
	default:
		return
	}
	f := pd.PassiveCableVDO(p.Object(cableVDO)).Fields()
	k.known, k.voltage, k.epr = true, f.MaxVoltage(), f.EPR()
	k.current, _ = f.MaxCurrent()
}

// forget drops the cable with the connection.
func (k *cable) forget() { *k = cable{} }

// demand is the most an offer asks of the cable.
func demand(list []pd.PDO) (v pd.Millivolts, i pd.Milliamps) {
	for _, p := range list {
		switch p.Kind() {
		case pd.KindFixed:
			f, _ := p.Fixed()
			v, i = max(v, f.Voltage), max(i, f.MaxCurrent)
		case pd.KindVariable:
			s, _ := p.Variable()
			v, i = max(v, s.MaxVoltage), max(i, s.MaxCurrent)
		case pd.KindBattery:
			s, _ := p.Battery()
			v = max(v, s.MaxVoltage)
		case pd.KindPPS: // 21 V lies within the window of 20 V
			s, _ := p.PPS()
			i = max(i, s.MaxCurrent)
		case pd.KindSPRAVS:
			s, _ := p.SPRAVS()
			i = max(i, s.MaxCurrent15V, s.MaxCurrent20V)
		case pd.KindEPRAVS:
			s, _ := p.EPRAVS()
			v = max(v, s.MaxVoltage)
		}
	}
	return v, i
}

// seeCableLimit: more than any cable carries needs a cable that was asked.
func seeCableLimit(c *Checker, e *event) {
	v, i := demand(c.offering.objects)
	k := &c.cable
	switch {
	case v <= pd.SPRAVSMaxVoltage && i <= pd.CableCurrentDefault, e.asked == pd.GetSourceCap:
	case k.answered:
		c.kept(checkCableLimit, "the cable was read before more than 3 A or 20 V was offered")
	case k.asked && i > pd.CableCurrentDefault:
		c.brokeBy(checkCableLimit, e.start.s, Values{"current_a": i.Amps()}, Values{"current_a": pd.CableCurrentDefault.Amps()},
			"%s is offered though no cable answered", figure(i.Amps(), "A"))
	case k.asked:
		c.brokeBy(checkCableLimit, e.start.s, Values{"voltage_v": v.Volts()}, Values{"voltage_v": pd.SPRAVSMaxVoltage.Volts()},
			"%s is offered though no cable answered", figure(v.Volts(), "V"))
	default:
		c.because(checkCableLimit, "more than 3 A or 20 V is offered and the cable was not asked; it may be captive")
	}
}

// seeCableIdentity: the offer stays within what the cable answered.
func seeCableIdentity(c *Checker, e *event) {
	v, i := demand(c.offering.objects)
	k := &c.cable
	switch {
	case !k.known || e.asked == pd.GetSourceCap:
	case k.current > 0 && i > k.current:
		c.brokeBy(checkCableIdentity, e.start.s, Values{"current_a": i.Amps()}, Values{"current_a": k.current.Amps()},
			"%s is offered over a cable of %s", figure(i.Amps(), "A"), figure(k.current.Amps(), "A"))
	case max(v, pd.SPRAVSMaxVoltage) > k.voltage:
		c.brokeBy(checkCableIdentity, e.start.s, Values{"voltage_v": v.Volts()}, Values{"voltage_v": k.voltage.Volts()},
			"%s is offered over a cable of %s", figure(v.Volts(), "V"), figure(k.voltage.Volts(), "V"))
	default:
		c.kept(checkCableIdentity, "the offer stays within what the cable carries")
	}
}

// seeCableDraw: so does the draw, as far as the contract lets it be.
func seeCableDraw(c *Checker, _ *event) {
	k, m := &c.cable, &c.meter
	if !k.known || k.current == 0 || math.IsNaN(m.i) || !c.inContract() || m.overdrawn(c.link.contract) {
		return
	}
	c.judge(checkCableIdentity, ofAmps, "current_a", "current through the cable",
		reading{m.i, m.offA(m.i)}, atMost(k.current.Amps(), "what the cable answered"), m.dated())
}

// slope gathers voltage over current within one contract.
type slope struct {
	n                float64
	i, v, ii, iv, vv float64 // sums about the first sample
	firstI, firstV   float64
	leastI, mostI    float64
	window           pd.Window
	atS              float64
}

// slopeSpan is the span of the current below which a slope says nothing (as the
// series resistance of a recording is given from 0.2 A on).
const slopeSpan = 0.2

// seeSlope takes a sample of a fixed contract.
func seeSlope(c *Checker, _ *event) {
	m, s := &c.meter, &c.slope
	if !c.inContract() || c.link.contract.Kind != pd.KindFixed || math.IsNaN(m.i) || c.steady.lost || m.overdrawn(c.link.contract) {
		return
	}
	if s.n == 0 {
		s.window, _, _ = c.link.contract.windows()
		s.leastI, s.mostI = m.i, m.i
		s.firstI, s.firstV = m.i, m.v
	}
	// Sums about the first sample keep their digits.
	i, v := m.i-s.firstI, m.v-s.firstV
	s.n++
	s.i += i
	s.v += v
	s.ii += i * i
	s.iv += i * v
	s.vv += v * v
	s.leastI, s.mostI = min(s.leastI, m.i), max(s.mostI, m.i)
	s.atS = m.dated()
}

// seeSlopeEnd judges the loop resistance of the contract that ends: it contains the
// source's own regulation, which may use up its whole window.
func seeSlopeEnd(c *Checker, _ *event) {
	s, m := c.slope, &c.meter
	c.slope = slope{}
	if s.n < enoughValues || s.mostI-s.leastI < slopeSpan {
		return
	}
	det := s.n*s.ii - s.i*s.i
	if det <= 0 {
		return
	}
	b := (s.n*s.iv - s.i*s.v) / det
	noLoad := s.firstV + s.v/s.n - b*(s.i/s.n+s.firstI)
	rating := pd.CableCurrentDefault
	if c.cable.known {
		rating = max(rating, c.cable.current)
	}
	regulation := max(noLoad-s.window.Min, 0) / s.mostI
	most := cableDrop()/rating.Amps() + regulation
	residual := max(s.vv-s.v*s.v/s.n-b*(s.iv-s.i*s.v/s.n), 0) / max(s.n-2, 1)
	scatter := 2 * math.Sqrt(residual*s.n/det) // two standard errors
	digits := (m.step() + math.Abs(b)*m.amps.valueStep()) / (s.mostI - s.leastI)
	off := math.Abs(b)*(m.accuracyV+m.accuracyA) + m.offV(noLoad)/s.mostI + scatter + digits
	c.judge(checkCableVoltageDrop, exact, "resistance_ohm", "loop resistance upstream of the meter, the source's regulation included",
		reading{-b, off}, atMost(most, "cable drop and vSrcNew"), s.atS)
}
