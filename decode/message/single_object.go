package message

import (
	"strconv"

	"portside/pd"
)

// The objects of data messages that carry one object of their own.

// alert lists one boolean for each event bit and each battery bit (USB PD R3.2
// V1.1, table 6.47).
func (l *fieldList) alert(o pd.ADO) {
	a := o.Fields()
	l.flag("battery_status_change_event", 25, a.BatteryStatusChange)
	l.flag("ocp_event", 26, a.OCP)
	l.flag("otp_event", 27, a.OTP)
	l.flag("operating_condition_change", 28, a.OperatingConditionChange)
	l.flag("source_input_change_event", 29, a.SourceInputChange)
	l.flag("ovp_event", 30, a.OVP)
	l.flag("extended_alert_event", 31, a.ExtendedAlert)
	for i, name := range fixedBatteryNames {
		l.flag(name, 20+i, a.FixedBatteries>>i&1 == 1)
	}
	for i, name := range swappableBatteryNames {
		l.flag(name, 16+i, a.HotSwappableBatteries>>i&1 == 1)
	}
	l.number("extended_alert_event_type", 3, 0, int(a.ExtendedType))
}

var (
	fixedBatteryNames     = [...]string{"fixed_battery_0", "fixed_battery_1", "fixed_battery_2", "fixed_battery_3"}
	swappableBatteryNames = [...]string{"hot_swappable_battery_4", "hot_swappable_battery_5", "hot_swappable_battery_6", "hot_swappable_battery_7"}
)

func (l *fieldList) eprMode(o pd.EPRMDO) {
	l.word("action", 31, 24, o.Action().String())
	l.number("data", 23, 16, int(o.Data()))
	pdp, ok := o.SinkPDP()
	l.known("sink_pdp_w", 23, 16, int(pdp), ok)
	if why, ok := o.Failure(); ok {
		l.word("failure", 23, 16, why.String())
	} else {
		l.null("failure", 23, 16)
	}
}

func (l *fieldList) batteryStatus(o pd.BSDO) {
	f := o.Fields()
	l.capacity("capacity_wh", 31, 16, f.Capacity)
	if f.Present {
		l.word("charging_status", 11, 10, f.ChargingStatus.String())
	} else {
		l.null("charging_status", 11, 10)
	}
	l.flag("battery_present", 9, f.Present)
	l.flag("invalid_battery_reference", 8, f.InvalidReference)
}

func (l *fieldList) revision(o pd.RMDO) {
	f := o.Fields()
	l.word("revision", 31, 24, dotted(f.RevisionMajor, f.RevisionMinor))
	l.word("version", 23, 16, dotted(f.VersionMajor, f.VersionMinor))
}

func dotted(major, minor int) string { return strconv.Itoa(major) + "." + strconv.Itoa(minor) }

func (l *fieldList) sourceInfo(o pd.SIDO) {
	f := o.Fields()
	l.word("port_type", 31, 31, portType(f.Guaranteed))
	l.number("maximum_pdp_w", 23, 16, int(f.MaximumPDP))
	l.number("present_pdp_w", 15, 8, int(f.PresentPDP))
	l.number("reported_pdp_w", 7, 0, int(f.ReportedPDP))
}

func portType(guaranteed bool) string {
	if guaranteed {
		return "guaranteed"
	}
	return "managed"
}

func (l *fieldList) countryCode(o pd.CCDO) {
	if code, ok := o.Fields().Code(); ok {
		l.word("country", 31, 16, code)
		return
	}
	l.null("country", 31, 16)
}

func (l *fieldList) enterUSB(o pd.EUDO) {
	f := o.Fields()
	l.word("usb_mode", 30, 28, f.Mode.String())
	l.flag("usb4_drd", 26, f.USB4DRD)
	l.flag("usb3_drd", 25, f.USB3DRD)
	l.word("cable_speed", 23, 21, f.CableSpeed.String())
	l.word("cable_type", 20, 19, f.CableType.String())
	current, ok := f.MaxCableCurrent()
	l.known("cable_current_ma", 18, 17, int(current), ok)
	l.number("cable_current_code", 18, 17, f.CableCurrent)
	l.flag("pcie", 16, f.PCIe)
	l.flag("displayport", 15, f.DisplayPort)
	l.flag("thunderbolt_3", 14, f.Thunderbolt3)
	l.flag("host_present", 13, f.HostPresent)
}

// named is the word of a code, or "reserved mode 5" where it has none.
func named(words []string, code int, what string) string {
	if code >= 0 && code < len(words) && words[code] != "" {
		return words[code]
	}
	return "reserved " + what + " " + strconv.Itoa(code)
}

func (l *fieldList) bist(o pd.BDO) { l.word("mode", 31, 28, o.Fields().Mode.String()) }
