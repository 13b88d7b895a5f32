package charger

import (
	"fmt"

	"portside/decode/message"
	"portside/pd"
)

// deal is what a Request asks for.
type deal struct {
	message.Deal
	stale bool // offered anew or reset since: a Request may begin it afresh
}

// implicit is what feeds before a contract: 5 V.
const implicit5V pd.Millivolts = 5000

func implicitDeal() deal { return deal{Deal: message.Deal{Kind: pd.KindFixed, Voltage: implicit5V}} }

// sameObject reports a change that may be one inside a programmable or adjustable
// object.
func (d deal) sameObject(o deal) bool {
	return d.Known && d.Kind == o.Kind && d.Position == o.Position && (d.Kind == pd.KindPPS || d.Adjustable())
}

// inside reports a change that surely is one: neither an offer nor a reset came
// between.
func (d deal) inside(o deal) bool { return !d.stale && d.sameObject(o) }

// windows are where the voltage may stand and where it may go in transients; ok is
// false where the deal is not known.
func (d deal) windows() (static, transient pd.Window, ok bool) {
	switch d.Kind {
	case pd.KindFixed:
		static, transient = pd.FixedWindow(d.Voltage)
	case pd.KindPPS:
		static, transient = pd.PPSWindow(d.Voltage)
	case pd.KindSPRAVS, pd.KindEPRAVS:
		static, transient = pd.AVSWindow(d.Voltage)
	case pd.KindVariable, pd.KindBattery:
		static = pd.RangeWindow(d.Minimum, d.Maximum)
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
	case d.Kind == pd.KindBattery:
		return d.Power.Watts() / volts, volts > 0
	case d.Kind == 0 || !d.Known:
		return 0, false
	default:
		return d.Current.Amps(), true
	}
}

func (d deal) words() string {
	switch d.Kind {
	case pd.KindVariable, pd.KindBattery:
		return fmt.Sprintf("%s %s to %s", d.Kind, figure(d.Minimum.Volts(), "V"), figure(d.Maximum.Volts(), "V"))
	case pd.KindFixed:
		return figure(d.Voltage.Volts(), "V")
	case 0:
		return "an unknown contract"
	default:
		return fmt.Sprintf("%s at %s", d.Kind, figure(d.Voltage.Volts(), "V"))
	}
}
