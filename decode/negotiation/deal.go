package negotiation

import (
	"portside/decode/message"
	"portside/pd"
)

// deal is what a Request asks for.
type deal struct{ message.Deal }

// same reports a Request that only keeps a contract alive.
func (d deal) same(o deal) bool {
	d.Mismatch, o.Mismatch = false, false
	return d == o
}

// contract is the deal as it is published, from the PS_RDY on.
func (d deal) contract(startS float64, implied bool) Contract {
	c := Contract{StartS: known(startS), Kind: d.Kind.String(), Position: d.Position, Mismatch: d.Mismatch, Implied: implied}
	switch d.Kind {
	case 0:
	case pd.KindVariable:
		c.CurrentMA = number(int(d.Current))
		c.MinVoltageMV, c.MaxVoltageMV = number(int(d.Minimum)), number(int(d.Maximum))
	case pd.KindBattery:
		c.PowerMW = number(int(d.Power))
		c.MinVoltageMV, c.MaxVoltageMV = number(int(d.Minimum)), number(int(d.Maximum))
	default:
		c.VoltageMV, c.CurrentMA = number(int(d.Voltage)), number(int(d.Current))
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

// highest is the highest voltage that a sink's capabilities name, in mV.
func highest(p pd.Message) int {
	mv := pd.Millivolts(0)
	for _, w := range p.Objects() {
		o := pd.SinkPDO(w)
		if f, ok := o.Fixed(); ok {
			mv = max(mv, f.Voltage)
		}
		if v, ok := o.Variable(); ok {
			mv = max(mv, v.MaxVoltage)
		}
		if b, ok := o.Battery(); ok {
			mv = max(mv, b.MaxVoltage)
		}
		if s, ok := o.PPS(); ok {
			mv = max(mv, s.MaxVoltage)
		}
	}
	return int(mv)
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
