package message

import "portside/pd"

// supply lists an object of a source's capabilities.
func (l *fieldList) supply(p pd.PDO, first bool) {
	switch p.Kind() {
	case pd.KindFixed:
		l.fixed(p, first)
	case pd.KindVariable:
		v, _ := p.Variable()
		l.voltageRange(29, 20, v.MaxVoltage, 19, 10, v.MinVoltage)
		l.number("current_ma", 9, 0, int(v.MaxCurrent))
	case pd.KindBattery:
		b, _ := p.Battery()
		l.voltageRange(29, 20, b.MaxVoltage, 19, 10, b.MinVoltage)
		l.number("power_mw", 9, 0, int(b.MaxPower))
	case pd.KindPPS:
		s, _ := p.PPS()
		l.voltageRange(24, 17, s.MaxVoltage, 15, 8, s.MinVoltage)
		l.number("current_ma", 6, 0, int(s.MaxCurrent))
		l.flag("power_limited", 27, s.PowerLimited)
	case pd.KindEPRAVS:
		s, _ := p.EPRAVS()
		l.voltageRange(25, 17, s.MaxVoltage, 15, 8, s.MinVoltage)
		l.number("pdp_w", 7, 0, int(s.PDP))
		l.number("peak_current", 27, 26, int(s.PeakCurrent))
	case pd.KindSPRAVS:
		s, _ := p.SPRAVS()
		l.number("current_15v_ma", 19, 10, int(s.MaxCurrent15V))
		l.number("current_20v_ma", 9, 0, int(s.MaxCurrent20V))
		l.number("peak_current", 27, 26, int(s.PeakCurrent))
	}
}

func (l *fieldList) fixed(p pd.PDO, first bool) {
	f, _ := p.Fixed()
	l.number("voltage_mv", 19, 10, int(f.Voltage))
	l.number("current_ma", 9, 0, int(f.MaxCurrent))
	l.number("peak_current", 21, 20, int(f.PeakCurrent))
	if !first {
		return
	}
	l.flag("dual_role_power", 29, f.DualRolePower)
	l.flag("usb_suspend", 28, f.USBSuspend)
	l.flag("unconstrained_power", 27, f.UnconstrainedPower)
	l.flag("usb_communications", 26, f.USBCommunications)
	l.flag("dual_role_data", 25, f.DualRoleData)
	l.flag("unchunked", 24, f.Unchunked)
	l.flag("epr_capable", 23, f.EPRCapable)
}

func (l *fieldList) voltageRange(hiMax, loMax int, highest pd.Millivolts, hiMin, loMin int, lowest pd.Millivolts) {
	l.number("min_voltage_mv", hiMin, loMin, int(lowest))
	l.number("max_voltage_mv", hiMax, loMax, int(highest))
}

// sinkSupply lists an object of a sink's capabilities, with operating values.
func (l *fieldList) sinkSupply(p pd.SinkPDO, first bool) {
	switch p.Kind() {
	case pd.KindFixed:
		l.sinkFixed(p, first)
	case pd.KindVariable:
		v, _ := p.Variable()
		l.voltageRange(29, 20, v.MaxVoltage, 19, 10, v.MinVoltage)
		l.number("current_ma", 9, 0, int(v.OperatingCurrent))
	case pd.KindBattery:
		b, _ := p.Battery()
		l.voltageRange(29, 20, b.MaxVoltage, 19, 10, b.MinVoltage)
		l.number("power_mw", 9, 0, int(b.OperatingPower))
	case pd.KindPPS:
		s, _ := p.PPS()
		l.voltageRange(24, 17, s.MaxVoltage, 15, 8, s.MinVoltage)
		l.number("current_ma", 6, 0, int(s.MaxCurrent))
	case pd.KindEPRAVS:
		s, _ := p.EPRAVS()
		l.voltageRange(25, 17, s.MaxVoltage, 15, 8, s.MinVoltage)
		l.number("pdp_w", 7, 0, int(s.PDP))
	case pd.KindSPRAVS:
		s, _ := p.SPRAVS()
		l.number("current_15v_ma", 19, 10, int(s.MaxCurrent15V))
		l.number("current_20v_ma", 9, 0, int(s.MaxCurrent20V))
	}
}

func (l *fieldList) sinkFixed(p pd.SinkPDO, first bool) {
	f, _ := p.Fixed()
	l.number("voltage_mv", 19, 10, int(f.Voltage))
	l.number("current_ma", 9, 0, int(f.OperatingCurrent))
	if !first {
		return
	}
	l.flag("dual_role_power", 29, f.DualRolePower)
	l.flag("higher_capability", 28, f.HigherCapability)
	l.flag("unconstrained_power", 27, f.UnconstrainedPower)
	l.flag("usb_communications", 26, f.USBCommunications)
	l.flag("dual_role_data", 25, f.DualRoleData)
	l.number("fast_role_swap_current", 24, 23, int(f.FastRoleSwapCurrent))
}
