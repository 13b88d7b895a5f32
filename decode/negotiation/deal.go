package negotiation

import (
	"portside/decode/message"
	"portside/pd"
)

// deal is what a Request asks for. The zero value is an unknown one.
type deal struct {
	known    bool // a Request was seen
	position int
	kind     pd.PDOKind // 0 where the offer it answers was not seen
	voltage  pd.Millivolts
	current  pd.Milliamps
	power    pd.Milliwatts
	minimum  pd.Millivolts // variable and battery only
	maximum  pd.Millivolts
	mismatch bool
	epr      bool
}

func (d deal) adjustable() bool { return d.kind == pd.KindSPRAVS || d.kind == pd.KindEPRAVS }

// newDeal reads a Request against the offers it answers.
func newDeal(p pd.Message, offers *message.Offers, rev pd.Revision) deal {
	if p.NumObjects() == 0 {
		return deal{known: true}
	}
	r := pd.RDO(p.Object(0))
	d := deal{known: true, position: r.PositionFor(rev), mismatch: r.CapabilityMismatch(), epr: p.Type() == pd.EPRRequest}
	offer, ok := offers.For(p, rev)
	if !ok || offer.Kind() == pd.KindReserved {
		return d
	}
	d.kind = offer.Kind()
	switch d.kind {
	case pd.KindFixed:
		f, _ := offer.Fixed()
		d.voltage, d.current = f.Voltage, r.Fixed().OperatingCurrent
	case pd.KindVariable:
		v, _ := offer.Variable()
		d.minimum, d.maximum, d.current = v.MinVoltage, v.MaxVoltage, r.Fixed().OperatingCurrent
	case pd.KindBattery:
		b, _ := offer.Battery()
		d.minimum, d.maximum, d.power = b.MinVoltage, b.MaxVoltage, r.Battery().OperatingPower
	case pd.KindPPS:
		d.voltage, d.current = r.PPS().Voltage, r.PPS().OperatingCurrent
	case pd.KindSPRAVS, pd.KindEPRAVS:
		d.voltage, d.current = r.AVS().Voltage, r.AVS().OperatingCurrent
	}
	return d
}

// same reports a Request that only keeps a contract alive.
func (d deal) same(o deal) bool {
	d.mismatch, o.mismatch = false, false
	return d == o
}

// contract is the deal as it is published, from the PS_RDY on.
func (d deal) contract(startS float64, implied bool) Contract {
	c := Contract{StartS: known(startS), Kind: d.kind.String(), Position: d.position, Mismatch: d.mismatch, Implied: implied}
	switch d.kind {
	case 0:
	case pd.KindVariable:
		c.CurrentMA = number(int(d.current))
		c.MinVoltageMV, c.MaxVoltageMV = number(int(d.minimum)), number(int(d.maximum))
	case pd.KindBattery:
		c.PowerMW = number(int(d.power))
		c.MinVoltageMV, c.MaxVoltageMV = number(int(d.minimum)), number(int(d.maximum))
	default:
		c.VoltageMV, c.CurrentMA = number(int(d.voltage)), number(int(d.current))
	}
	return c
}

func number(n int) *int { return &n }

// offerList is the source's capabilities as they are published.
func offerList(o *message.Offers) []Offer {
	list := make([]Offer, 0, o.Len())
	for position := 1; position <= o.Len(); position++ {
		if p, ok := o.At(position); ok {
			list = append(list, newOffer(position, p))
		}
	}
	return list
}

func newOffer(position int, p pd.PDO) Offer {
	o := Offer{Position: position, Kind: p.Kind().String()}
	switch p.Kind() {
	case pd.KindFixed:
		f, _ := p.Fixed()
		o.VoltageMV, o.CurrentMA = number(int(f.Voltage)), number(int(f.MaxCurrent))
	case pd.KindVariable:
		v, _ := p.Variable()
		o.MinVoltageMV, o.VoltageMV, o.CurrentMA = number(int(v.MinVoltage)), number(int(v.MaxVoltage)), number(int(v.MaxCurrent))
	case pd.KindBattery:
		b, _ := p.Battery()
		o.MinVoltageMV, o.VoltageMV, o.PowerMW = number(int(b.MinVoltage)), number(int(b.MaxVoltage)), number(int(b.MaxPower))
	case pd.KindPPS:
		s, _ := p.PPS()
		o.MinVoltageMV, o.VoltageMV, o.CurrentMA = number(int(s.MinVoltage)), number(int(s.MaxVoltage)), number(int(s.MaxCurrent))
	case pd.KindEPRAVS:
		s, _ := p.EPRAVS()
		o.MinVoltageMV, o.VoltageMV, o.PowerMW = number(int(s.MinVoltage)), number(int(s.MaxVoltage)), number(int(s.PDP)*1000)
	case pd.KindSPRAVS:
		s, _ := p.SPRAVS() // the object has no voltages
		o.CurrentMA = number(int(max(s.MaxCurrent15V, s.MaxCurrent20V)))
	}
	return o
}

// most is the highest fixed voltage and the highest power in the offers.
func most(o *message.Offers) (mv, mw int) {
	for position := 1; position <= o.Len(); position++ {
		p, ok := o.At(position)
		if !ok {
			continue
		}
		if f, ok := p.Fixed(); ok {
			mv = max(mv, int(f.Voltage))
			mw = max(mw, int(f.Voltage)*int(f.MaxCurrent)/1000)
		}
		if v, ok := p.Variable(); ok {
			mw = max(mw, int(v.MaxVoltage)*int(v.MaxCurrent)/1000)
		}
		if b, ok := p.Battery(); ok {
			mw = max(mw, int(b.MaxPower))
		}
		if s, ok := p.EPRAVS(); ok {
			mw = max(mw, int(s.PDP)*1000)
		}
	}
	return mv, mw
}
