package message

import "portside/pd"

// Deal is what a Request asks for, read against the offer it answers. The zero value
// is an unknown one.
type Deal struct {
	Known    bool // a Request was seen
	Position int
	Kind     pd.PDOKind // 0 where the offer it answers was not seen
	Voltage  pd.Millivolts
	Current  pd.Milliamps // 0 for a battery
	Power    pd.Milliwatts
	Minimum  pd.Millivolts // variable and battery only
	Maximum  pd.Millivolts
	Mismatch bool
	EPR      bool
}

// Adjustable reports a deal on an adjustable object.
func (d Deal) Adjustable() bool { return d.Kind == pd.KindSPRAVS || d.Kind == pd.KindEPRAVS }

// NewDeal reads a Request or EPR_Request of the given revision against the offers it
// answers.
func NewDeal(p pd.Message, offers *Offers, rev pd.Revision) Deal {
	if p.NumObjects() == 0 {
		return Deal{Known: true}
	}
	r := pd.RDO(p.Object(0))
	d := Deal{Known: true, Position: r.PositionFor(rev), Mismatch: r.CapabilityMismatch(), EPR: p.Type() == pd.EPRRequest}
	offer, ok := offers.For(p, rev)
	if !ok || offer.Kind() == pd.KindReserved {
		return d
	}
	d.Kind = offer.Kind()
	switch d.Kind {
	case pd.KindFixed:
		f, _ := offer.Fixed()
		d.Voltage, d.Current = f.Voltage, r.Fixed().OperatingCurrent
	case pd.KindVariable:
		v, _ := offer.Variable()
		d.Minimum, d.Maximum, d.Current = v.MinVoltage, v.MaxVoltage, r.Fixed().OperatingCurrent
	case pd.KindBattery:
		b, _ := offer.Battery()
		d.Minimum, d.Maximum, d.Power = b.MinVoltage, b.MaxVoltage, r.Battery().OperatingPower
	case pd.KindPPS:
		d.Voltage, d.Current = r.PPS().Voltage, r.PPS().OperatingCurrent
	case pd.KindSPRAVS, pd.KindEPRAVS:
		d.Voltage, d.Current = r.AVS().Voltage, r.AVS().OperatingCurrent
	}
	return d
}
