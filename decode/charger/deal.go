package charger

import (
	"fmt"

	"portside/decode/message"
	"portside/pd"
)

// deal is what a Request asks for; the zero value is an unknown one.
type deal struct {
	known            bool // a Request was seen
	kind             pd.PDOKind
	position         int
	voltage          pd.Millivolts
	minimum, maximum pd.Millivolts // variable and battery
	current          pd.Milliamps  // 0 for a battery
	power            pd.Milliwatts // battery only
	epr              bool
	stale            bool // offered anew or reset since: a Request may begin it afresh
}

// implicit is what feeds before a contract: 5 V.
const implicit5V pd.Millivolts = 5000

func implicitDeal() deal { return deal{kind: pd.KindFixed, voltage: implicit5V} }

// newDeal reads a Request against the offers it answers.
func newDeal(p pd.Message, offers *message.Offers, rev pd.Revision) deal {
	if p.NumObjects() == 0 {
		return deal{}
	}
	r := pd.RDO(p.Object(0))
	d := deal{known: true, position: r.PositionFor(rev), epr: p.Type() == pd.EPRRequest}
	offer, ok := offers.For(p, rev)
	if !ok {
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

func (d deal) adjustable() bool { return d.kind == pd.KindSPRAVS || d.kind == pd.KindEPRAVS }

// sameObject reports a change that may be one inside a programmable or adjustable
// object.
func (d deal) sameObject(o deal) bool {
	return d.known && d.kind == o.kind && d.position == o.position && (d.kind == pd.KindPPS || d.adjustable())
}

// inside reports a change that surely is one: neither an offer nor a reset came
// between.
func (d deal) inside(o deal) bool { return !d.stale && d.sameObject(o) }

// windows are where the voltage may stand and where it may go in transients; ok is
// false where the deal is not known.
func (d deal) windows() (static, transient pd.Window, ok bool) {
	switch d.kind {
	case pd.KindFixed:
		static, transient = pd.FixedWindow(d.voltage)
	case pd.KindPPS:
		static, transient = pd.PPSWindow(d.voltage)
	case pd.KindSPRAVS, pd.KindEPRAVS:
		static, transient = pd.AVSWindow(d.voltage)
	case pd.KindVariable, pd.KindBattery:
		static = pd.RangeWindow(d.minimum, d.maximum)
		transient = static
	default:
		return pd.Window{}, pd.Window{}, false
	}
	return static, transient, static.Max > 0
}

// draws is the most the sink may draw at a voltage; ok is false where it is not
// known.
func (d deal) draws(volts float64) (amps float64, ok bool) {
	switch {
	case d.kind == pd.KindBattery:
		return d.power.Watts() / volts, volts > 0
	case d.kind == 0 || !d.known:
		return 0, false
	default:
		return d.current.Amps(), true
	}
}

func (d deal) words() string {
	switch d.kind {
	case pd.KindVariable, pd.KindBattery:
		return fmt.Sprintf("%s %s to %s", d.kind, figure(d.minimum.Volts(), "V"), figure(d.maximum.Volts(), "V"))
	case pd.KindFixed:
		return figure(d.voltage.Volts(), "V")
	case 0:
		return "an unknown contract"
	default:
		return fmt.Sprintf("%s at %s", d.kind, figure(d.voltage.Volts(), "V"))
	}
}
