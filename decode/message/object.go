package message

import (
	"encoding/json"
	"fmt"

	"portside/pd"
)

// Object is one data object. Its fields are taken from the word when they are
// asked for; pd has the typed views for every other use.
type Object struct {
	Raw      uint32
	Kind     Kind
	First    bool        // the first object of its message, which alone carries flags
	Revision pd.Revision // of the pair, since it decides how a position is read
}

// Field is one field by its name; the value is an int, a bool or a string.
type Field struct {
	Name  string
	Value any
}

// Name is the kind as it is published, such as "fixed" or "rdo-pps".
func (o Object) Name() string {
	switch o.Kind {
	case KindSupply:
		return pd.PDO(o.Raw).Kind().String()
	case KindSinkSupply:
		return pd.SinkPDO(o.Raw).Kind().String()
	default:
		return kindNames[o.Kind]
	}
}

// MarshalJSON writes raw, kind and the fields of the kind, in this order.
func (o Object) MarshalJSON() ([]byte, error) {
	b := append([]byte(`{"raw":"`), appendHex(nil, o.Raw, 8)...)
	b = append(b, `","kind":"`...)
	b = append(b, o.Name()...)
	b = append(b, '"')
	for _, f := range o.Fields() {
		b = append(b, `,"`...)
		b = append(b, f.Name...)
		b = append(b, `":`...)
		v, err := json.Marshal(f.Value)
		if err != nil {
			return nil, err
		}
		b = append(b, v...)
	}
	return append(b, '}'), nil
}

// Fields are the fields of the kind in the order of the bits; none for a kind
// that is not taken apart.
func (o Object) Fields() []Field {
	switch o.Kind {
	case KindSupply:
		return o.supply()
	case KindSinkSupply:
		return o.sinkSupply()
	case KindRequest, KindRequestFixed, KindRequestBattery, KindRequestPPS, KindRequestAVS:
		return o.request()
	case KindVDMHeader:
		return o.vdmHeader()
	case KindAlert:
		return o.alert()
	default:
		return nil
	}
}

func (o Object) supply() []Field {
	p := pd.PDO(o.Raw)
	if f, ok := p.Fixed(); ok {
		out := []Field{{"voltage_mv", int(f.Voltage)}, {"current_ma", int(f.MaxCurrent)}, {"peak_current", int(f.PeakCurrent)}}
		if o.First {
			out = append(out,
				Field{"dual_role_power", f.DualRolePower}, Field{"usb_suspend", f.USBSuspend},
				Field{"unconstrained_power", f.UnconstrainedPower}, Field{"usb_communications", f.USBCommunications},
				Field{"dual_role_data", f.DualRoleData}, Field{"unchunked", f.Unchunked}, Field{"epr_capable", f.EPRCapable})
		}
		return out
	}
	if v, ok := p.Variable(); ok {
		return []Field{{"min_voltage_mv", int(v.MinVoltage)}, {"max_voltage_mv", int(v.MaxVoltage)}, {"current_ma", int(v.MaxCurrent)}}
	}
	if b, ok := p.Battery(); ok {
		return []Field{{"min_voltage_mv", int(b.MinVoltage)}, {"max_voltage_mv", int(b.MaxVoltage)}, {"power_mw", int(b.MaxPower)}}
	}
	if s, ok := p.PPS(); ok {
		return []Field{{"min_voltage_mv", int(s.MinVoltage)}, {"max_voltage_mv", int(s.MaxVoltage)}, {"current_ma", int(s.MaxCurrent)}, {"power_limited", s.PowerLimited}}
	}
	if s, ok := p.EPRAVS(); ok {
		return []Field{{"min_voltage_mv", int(s.MinVoltage)}, {"max_voltage_mv", int(s.MaxVoltage)}, {"pdp_w", int(s.PDP)}, {"peak_current", int(s.PeakCurrent)}}
	}
	if s, ok := p.SPRAVS(); ok {
		return []Field{{"current_15v_ma", int(s.MaxCurrent15V)}, {"current_20v_ma", int(s.MaxCurrent20V)}, {"peak_current", int(s.PeakCurrent)}}
	}
	return nil
}

func (o Object) sinkSupply() []Field {
	p := pd.SinkPDO(o.Raw)
	if f, ok := p.Fixed(); ok {
		out := []Field{{"voltage_mv", int(f.Voltage)}, {"current_ma", int(f.OperatingCurrent)}}
		if o.First {
			out = append(out,
				Field{"dual_role_power", f.DualRolePower}, Field{"higher_capability", f.HigherCapability},
				Field{"unconstrained_power", f.UnconstrainedPower}, Field{"usb_communications", f.USBCommunications},
				Field{"dual_role_data", f.DualRoleData}, Field{"fast_role_swap_current", int(f.FastRoleSwapCurrent)})
		}
		return out
	}
	if v, ok := p.Variable(); ok {
		return []Field{{"min_voltage_mv", int(v.MinVoltage)}, {"max_voltage_mv", int(v.MaxVoltage)}, {"current_ma", int(v.OperatingCurrent)}}
	}
	if b, ok := p.Battery(); ok {
		return []Field{{"min_voltage_mv", int(b.MinVoltage)}, {"max_voltage_mv", int(b.MaxVoltage)}, {"power_mw", int(b.OperatingPower)}}
	}
	if s, ok := p.PPS(); ok {
		return []Field{{"min_voltage_mv", int(s.MinVoltage)}, {"max_voltage_mv", int(s.MaxVoltage)}, {"current_ma", int(s.MaxCurrent)}}
	}
	if s, ok := p.EPRAVS(); ok {
		return []Field{{"min_voltage_mv", int(s.MinVoltage)}, {"max_voltage_mv", int(s.MaxVoltage)}, {"pdp_w", int(s.PDP)}}
	}
	if s, ok := p.SPRAVS(); ok {
		return []Field{{"current_15v_ma", int(s.MaxCurrent15V)}, {"current_20v_ma", int(s.MaxCurrent20V)}}
	}
	return nil
}

func (o Object) request() []Field {
	r := pd.RDO(o.Raw)
	out := []Field{{"position", r.PositionFor(o.Revision)}}
	switch o.Kind {
	case KindRequestFixed:
		f := r.Fixed()
		out = append(out, Field{"operating_ma", int(f.OperatingCurrent)}, Field{"maximum_ma", int(f.MaxCurrent)})
	case KindRequestBattery:
		b := r.Battery()
		out = append(out, Field{"operating_mw", int(b.OperatingPower)}, Field{"maximum_mw", int(b.MaxPower)})
	case KindRequestPPS:
		s := r.PPS()
		out = append(out, Field{"voltage_mv", int(s.Voltage)}, Field{"operating_ma", int(s.OperatingCurrent)})
	case KindRequestAVS:
		s := r.AVS()
		out = append(out, Field{"voltage_mv", int(s.Voltage)}, Field{"operating_ma", int(s.OperatingCurrent)})
	}
	return append(out,
		Field{"capability_mismatch", r.CapabilityMismatch()}, Field{"give_back", r.GiveBack()},
		Field{"usb_communications", r.USBCommunications()}, Field{"no_usb_suspend", r.NoUSBSuspend()},
		Field{"unchunked", r.Unchunked()}, Field{"epr_capable", r.EPRCapable()})
}

// vdmHeader of an unstructured message means nothing below the VID outside
// its vendor, so those fields are null there.
func (o Object) vdmHeader() []Field {
	h := pd.VDMHeader(o.Raw)
	out := []Field{{"svid", string(appendHex(nil, uint32(h.SVID()), 4))}, {"structured", h.Structured()}}
	if !h.Structured() {
		return append(out, Field{"vdm_version", nil}, Field{"object_position", nil}, Field{"command_type", nil}, Field{"command", nil})
	}
	return append(out, Field{"vdm_version", h.Version()}, Field{"object_position", h.ObjectPosition()},
		Field{"command_type", h.CommandType().String()}, Field{"command", h.Command().String()})
}

// alert has one boolean for each event bit and each battery bit (USB PD R3.2
// V1.1, table 6.47).
func (o Object) alert() []Field {
	a := pd.ADO(o.Raw).Fields()
	out := []Field{
		{"battery_status_change_event", a.BatteryStatusChange},
		{"ocp_event", a.OCP},
		{"otp_event", a.OTP},
		{"operating_condition_change", a.OperatingConditionChange},
		{"source_input_change_event", a.SourceInputChange},
		{"ovp_event", a.OVP},
		{"extended_alert_event", a.ExtendedAlert},
	}
	for i := range 4 {
		out = append(out, Field{fmt.Sprintf("fixed_battery_%d", i), a.FixedBatteries>>i&1 == 1})
	}
	for i := range 4 {
		out = append(out, Field{fmt.Sprintf("hot_swappable_battery_%d", i+4), a.HotSwappableBatteries>>i&1 == 1})
	}
	return append(out, Field{"extended_alert_event_type", int(a.ExtendedType)})
}
