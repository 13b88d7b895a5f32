package message

import "portside/pd"

// request lists a request object as the kind of the offer it answers lays it
// out; without one it shows what all request objects share.
func (l *fieldList) request(o *Object) {
	r := pd.RDO(o.Raw)
	l.number("position", 31, 28, r.PositionFor(o.Revision))
	switch o.Kind {
	case KindRequestFixed:
		f := r.Fixed()
		l.number("operating_ma", 19, 10, int(f.OperatingCurrent))
		l.number("maximum_ma", 9, 0, int(f.MaxCurrent))
	case KindRequestBattery:
		b := r.Battery()
		l.number("operating_mw", 19, 10, int(b.OperatingPower))
		l.number("maximum_mw", 9, 0, int(b.MaxPower))
	case KindRequestPPS:
		s := r.PPS()
		l.number("voltage_mv", 20, 9, int(s.Voltage))
		l.number("operating_ma", 6, 0, int(s.OperatingCurrent))
	case KindRequestAVS:
		s := r.AVS()
		l.number("voltage_mv", 20, 9, int(s.Voltage))
		l.number("operating_ma", 6, 0, int(s.OperatingCurrent))
	}
	f := r.Flags()
	l.flag("capability_mismatch", 26, f.CapabilityMismatch)
	l.flag("give_back", 27, f.GiveBack)
	l.flag("usb_communications", 25, f.USBCommunications)
	l.flag("no_usb_suspend", 24, f.NoUSBSuspend)
	l.flag("unchunked", 23, f.Unchunked)
	l.flag("epr_capable", 22, f.EPRCapable)
}
