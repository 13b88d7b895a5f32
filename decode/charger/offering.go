package charger

import (
	"slices"

	"portside/pd"
)

// offering is the offer under judgement.
type offering struct {
	asked      bool // by Get_Source_Cap: no Request need follow
	softAccept bool // a Soft_Reset was accepted and no offer made since

	objects []pd.PDO // by position; 0 where a position is empty
	epr     bool
	atS     float64
	fresh   bool // it differs from the one before
	last    [2][]pd.PDO
	ratings []pd.Milliwatts // present ratings that explain the fixed objects
}

// eprFirst is the first position of an EPR object, counted from 0 (USB PD R3.2 V1.1,
// section 6.5.15.1).
const eprFirst = 7

// spr are the objects of the first seven positions.
func (o *offering) spr() []pd.PDO { return o.objects[:min(len(o.objects), eprFirst)] }

// extended are the objects from the eighth position on.
func (o *offering) extended() []pd.PDO { return o.objects[min(len(o.objects), eprFirst):] }

// seeOffer takes a whole offer apart. It stands before the checks of the offer, and
// one that was judged already is only counted.
func seeOffer(c *Checker, e *event) {
	o := &c.offering
	o.epr = e.msg.Type() == pd.EPRSourceCapabilities
	o.atS = e.start.s
	o.objects = o.objects[:0]
	for i := 1; i <= c.link.offers.Len(); i++ {
		p, _ := c.link.offers.At(i)
		o.objects = append(o.objects, p)
	}
	kind := 0
	if o.epr {
		kind = 1
	}
	o.fresh = !slices.Equal(o.objects, o.last[kind])
	o.last[kind] = append(o.last[kind][:0], o.objects...)
	if !o.fresh {
		return
	}
	for _, p := range o.objects {
		if p.Kind() == pd.KindSPRAVS && !c.rating.hasSPRAVS {
			c.rating.hasSPRAVS = true
			clear(c.limits)
		}
		if s, ok := p.EPRAVS(); ok {
			const perWatt = 1000
			c.rating.avs = max(c.rating.avs, pd.Milliwatts(s.PDP)*perWatt)
		}
	}
}

// seeFirst5V: the first object is fixed at 5 V.
func seeFirst5V(c *Checker, _ *event) {
	o := &c.offering
	if !o.fresh {
		return
	}
	if len(o.objects) > 0 {
		if f, ok := o.objects[0].Fixed(); ok && f.Voltage == implicit5V {
			c.kept(checkFirst5V, "the first object is 5 V fixed")
			return
		}
	}
	c.broke(checkFirst5V, o.atS, "the first object is not 5 V fixed: %s", o.words(0))
}

// rank is the place of a kind of object in an SPR offer (USB PD R3.2 V1.1, section
// 6.4.1.4).
func rank(k pd.PDOKind) int {
	switch k {
	case pd.KindFixed:
		return 1
	case pd.KindBattery:
		return 2
	case pd.KindVariable:
		return 3
	case pd.KindSPRAVS:
		return 4
	case pd.KindPPS:
		return 5
	default:
		return 0
	}
}

// risesBy is the voltage by which objects of one kind are in order.
func risesBy(p pd.PDO) pd.Millivolts {
	switch p.Kind() {
	case pd.KindFixed:
		f, _ := p.Fixed()
		return f.Voltage
	case pd.KindBattery:
		b, _ := p.Battery()
		return b.MinVoltage
	case pd.KindVariable:
		v, _ := p.Variable()
		return v.MinVoltage
	case pd.KindPPS:
		s, _ := p.PPS()
		return s.MaxVoltage
	case pd.KindEPRAVS:
		s, _ := p.EPRAVS()
		return s.MaxVoltage
	default:
		return 0
	}
}

// seeOrder: kinds and voltages rise, EPR objects stand from position 8 on.
func seeOrder(c *Checker, _ *event) {
	o := &c.offering
	if !o.fresh {
		return
	}
	if at, why := o.disorder(); why != "" {
		c.broke(checkOrder, o.atS, "object %d (%s) %s", at+1, o.words(at), why)
		return
	}
	c.kept(checkOrder, "kinds and voltages rise")
}

// disorder finds the first object out of place, counted from 0.
func (o *offering) disorder() (at int, why string) {
	const (
		mostSPR = 7
		most    = 11
	)
	if !o.epr && len(o.objects) > mostSPR || len(o.objects) > most {
		return mostSPR, "is one too many"
	}
	var last pd.PDO
	for i, p := range o.spr() {
		switch {
		case p == 0 && o.epr:
			continue
		case p.Kind() == pd.KindEPRAVS || isEPRFixed(p):
			return i, "is an EPR object before position 8"
		case p.Kind() == pd.KindReserved || i == 0 || last == 0:
		case rank(p.Kind()) < rank(last.Kind()):
			return i, "stands behind a " + last.Kind().String() + " object"
		case p.Kind() == last.Kind() && risesBy(p) < risesBy(last) && i > 1:
			return i, "has a lower voltage than the one before"
		}
		if p.Kind() != pd.KindReserved && i > 0 {
			last = p
		}
	}
	return o.extendedDisorder()
}

// extendedDisorder looks at positions 8 to 11: fixed and rising, then one adjustable
// supply.
func (o *offering) extendedDisorder() (at int, why string) {
	var last pd.PDO
	for i, p := range o.extended() {
		at = eprFirst + i
		switch {
		case p == 0:
			continue
		case p.Kind() != pd.KindFixed && p.Kind() != pd.KindEPRAVS || p.Kind() == pd.KindFixed && !isEPRFixed(p):
			return at, "is no EPR object"
		case last.Kind() == pd.KindEPRAVS && last != 0:
			return at, "stands behind the EPR adjustable supply"
		case last != 0 && p.Kind() == last.Kind() && risesBy(p) < risesBy(last):
			return at, "has a lower voltage than the one before"
		}
		last = p
	}
	return 0, ""
}

// isEPRFixed reports a fixed voltage above what SPR has.
func isEPRFixed(p pd.PDO) bool {
	f, ok := p.Fixed()
	return ok && f.Voltage > pd.SPRAVSMaxVoltage
}

// seeDuplicates: never two objects of one kind and voltage.
func seeDuplicates(c *Checker, _ *event) {
	o := &c.offering
	if !o.fresh {
		return
	}
	for i, p := range o.objects {
		for j, q := range o.objects[:i] {
			if p != 0 && q != 0 && sameSupply(p, q) {
				c.broke(checkDuplicates, o.atS, "objects %d and %d are both %s", j+1, i+1, o.words(i))
				return
			}
		}
	}
	c.kept(checkDuplicates, "no kind and voltage stands twice")
}

func sameSupply(p, q pd.PDO) bool {
	if p.Kind() != q.Kind() {
		return false
	}
	switch p.Kind() {
	case pd.KindFixed, pd.KindSPRAVS, pd.KindEPRAVS:
		return risesBy(p) == risesBy(q) || p.Kind() == pd.KindEPRAVS
	case pd.KindBattery:
		a, _ := p.Battery()
		b, _ := q.Battery()
		return a.MinVoltage == b.MinVoltage && a.MaxVoltage == b.MaxVoltage
	case pd.KindVariable:
		a, _ := p.Variable()
		b, _ := q.Variable()
		return a.MinVoltage == b.MinVoltage && a.MaxVoltage == b.MaxVoltage
	case pd.KindPPS:
		a, _ := p.PPS()
		b, _ := q.PPS()
		return a.MinVoltage == b.MinVoltage && a.MaxVoltage == b.MaxVoltage
	default:
		return false
	}
}

// seeFlags: bits 29 to 23 of a fixed object belong to the first one only.
func seeFlags(c *Checker, _ *event) {
	o := &c.offering
	if !o.fresh {
		return
	}
	for i, p := range o.objects {
		if i == 0 || p == 0 {
			continue
		}
		if f, ok := p.Fixed(); ok && (f.DualRolePower || f.USBSuspend || f.UnconstrainedPower ||
			f.USBCommunications || f.DualRoleData || f.Unchunked || f.EPRCapable) {
			c.broke(checkFlags, o.atS, "object %d (%s) has flags that belong to the first object only", i+1, o.words(i))
			return
		}
	}
	c.kept(checkFlags, "only the first object carries flags")
}

// seeReserved: reserved bits and kinds are not used.
func seeReserved(c *Checker, _ *event) {
	o := &c.offering
	if !o.fresh {
		return
	}
	for i, p := range o.objects {
		if p != 0 && reservedBits(p) {
			c.broke(checkReserved, o.atS, "object %d (0x%08X) has reserved bits set", i+1, uint32(p))
			return
		}
	}
	c.kept(checkReserved, "all reserved bits are 0")
}

func reservedBits(p pd.PDO) bool {
	switch p.Kind() {
	case pd.KindFixed:
		f, _ := p.Fixed()
		return f.Reserved != 0
	case pd.KindPPS:
		s, _ := p.PPS()
		return s.Reserved != 0
	case pd.KindSPRAVS:
		s, _ := p.SPRAVS()
		return s.Reserved != 0
	case pd.KindEPRAVS:
		s, _ := p.EPRAVS()
		return s.Reserved != 0
	default:
		return p.Kind() == pd.KindReserved
	}
}

// words names the object at a position counted from 0.
func (o *offering) words(i int) string {
	if i >= len(o.objects) {
		return "none"
	}
	return supplyWords(o.objects[i])
}
