package message

import (
	"strings"

	"portside/pd"
)

// blockKind says how the block of an extended message is read; a cable plug's
// Status has a layout of its own. EPR capabilities are no block but a list of
// supply objects.
func blockKind(p pd.Message) Kind {
	switch p.Type() {
	case pd.SourceCapabilitiesExtended:
		return KindSourceCapabilitiesExtended
	case pd.SinkCapabilitiesExtended:
		return KindSinkCapabilitiesExtended
	case pd.Status:
		if p.Set != pd.SOP {
			return KindCableStatus
		}
		return KindStatus
	case pd.PPSStatus:
		return KindPPSStatus
	case pd.GetBatteryCap:
		return KindGetBatteryCap
	case pd.GetBatteryStatus:
		return KindGetBatteryStatus
	case pd.BatteryCapabilities:
		return KindBatteryCapabilities
	case pd.GetManufacturerInfo:
		return KindGetManufacturerInfo
	case pd.ManufacturerInfo:
		return KindManufacturerInfo
	case pd.SecurityRequest, pd.SecurityResponse:
		return KindSecurity
	case pd.FirmwareUpdateRequest, pd.FirmwareUpdateResponse:
		return KindFirmware
	case pd.CountryInfo:
		return KindCountryInfo
	case pd.CountryCodes:
		return KindCountryCodes
	case pd.ExtendedControl:
		return KindExtendedControl
	case pd.VendorDefinedExtended:
		return KindVendorBlock
	default:
		return KindOtherBlock
	}
}

// opaque lists a block that means nothing outside its own standard, or one that
// is shorter than any revision makes it.
func (l *fieldList) opaque(b []byte) { l.number("size", 8*len(b)-1, 0, len(b)) }

// bitsOf gives the bits of bytes first to last of a block.
func bitsOf(first, last int) (high, low int) { return 8*last + 7, 8 * first }

func (l *fieldList) byteField(name string, at, v int) { l.number(name, 8*at+7, 8*at, v) }

// block lists the fields of a block; ok is false where it is shorter than in
// any revision.
func (l *fieldList) block(k Kind, b []byte) (ok bool) {
	switch k {
	case KindSourceCapabilitiesExtended:
		return l.sourceExtended(b)
	case KindSinkCapabilitiesExtended:
		return l.sinkExtended(b)
	case KindStatus:
		return l.status(b)
	case KindCableStatus:
		return l.cableStatus(b)
	case KindPPSStatus:
		return l.ppsStatus(b)
	case KindGetBatteryCap, KindGetBatteryStatus:
		return l.getBattery(b)
	case KindBatteryCapabilities:
		return l.batteryCapabilities(b)
	case KindGetManufacturerInfo:
		return l.getManufacturerInfo(b)
	case KindManufacturerInfo:
		return l.manufacturerInfo(b)
	case KindCountryCodes:
		return l.countryCodes(b)
	case KindCountryInfo:
		return l.countryInfo(b)
	case KindExtendedControl:
		return l.extendedControl(b)
	default:
		l.opaque(b)
		return true
	}
}

// temperature is a byte in °C; 0 is not supported, 1 stands for below 2 °C.
func (l *fieldList) temperature(at int, v uint8) {
	l.known("internal_celsius", 8*at+7, 8*at, int(v), v != 0)
}

func (l *fieldList) status(b []byte) bool {
	s, ok := pd.ParseSDB(b)
	if !ok {
		return false
	}
	l.temperature(0, s.InternalTemperature)
	l.flag("external_power", 9, s.ExternalPower)
	l.flag("external_ac", 10, s.ExternalAC)
	l.flag("input_battery", 11, s.InputBattery)
	l.flag("internal_source", 12, s.InternalSource)
	l.number("fixed_batteries", 19, 16, int(s.Batteries&0xF))
	l.number("hot_swappable_batteries", 23, 20, int(s.Batteries>>4))
	l.flag("ocp_event", 25, s.OCP)
	l.flag("otp_event", 26, s.OTP)
	l.flag("ovp_event", 27, s.OVP)
	l.flag("current_limit", 28, s.CurrentLimit)
	l.word("temperature_status", 34, 33, s.Temperature.String())
	from := len(*l)
	l.flag("limited_by_cable", 41, s.LimitedByCable)
	l.flag("limited_by_other_ports", 42, s.LimitedByOtherPorts)
	l.flag("limited_by_input", 43, s.LimitedByInput)
	l.flag("limited_by_events", 44, s.LimitedByEvents)
	l.flag("limited_by_temperature", 45, s.LimitedByTemperature)
	l.word("power_state", 50, 48, s.PowerState.String())
	l.word("indicator", 53, 51, named(indicators[:], int(s.Indicator), "indicator"))
	l.beyond(from, s.Size)
	return true
}

// indicators are the codes of the power indicator (USB PD R3.2 V1.1, table
// 6.55).
var indicators = [...]string{"off", "on", "blinking", "breathing"}

// beyond makes the fields from there on null that lie past the end of a block
// of an earlier revision.
func (l *fieldList) beyond(from, size int) {
	list := *l
	for i := from; i < len(list); i++ {
		if list[i].High >= 8*size {
			list[i].form = formNull
		}
	}
}

func (l *fieldList) cableStatus(b []byte) bool {
	s, ok := pd.ParseCSDB(b)
	if !ok {
		return false
	}
	l.temperature(0, s.InternalTemperature)
	l.flag("thermal_shutdown", 8, s.ThermalShutdown)
	return true
}

func (l *fieldList) ppsStatus(b []byte) bool {
	s, ok := pd.ParsePPSSDB(b)
	if !ok {
		return false
	}
	v, known := s.Voltage()
	l.known("output_voltage_mv", 15, 0, int(v), known)
	i, known := s.Current()
	l.known("output_current_ma", 23, 16, int(i), known)
	l.word("temperature_status", 26, 25, s.Temperature.String())
	l.flag("current_limit", 27, s.CurrentLimit)
	return true
}

func (l *fieldList) getBattery(b []byte) bool {
	g, ok := pd.ParseGBDB(b)
	if ok {
		l.byteField("battery", 0, int(g))
	}
	return ok
}

func (l *fieldList) batteryCapabilities(b []byte) bool {
	c, ok := pd.ParseBCDB(b)
	if !ok {
		return false
	}
	l.hex4("vid", 15, 0, c.VID)
	l.hex4("pid", 31, 16, c.PID)
	l.capacity("design_capacity_wh", 47, 32, c.DesignCapacity)
	l.capacity("last_full_capacity_wh", 63, 48, c.LastFullCapacity)
	l.flag("invalid_battery_reference", 64, c.InvalidReference)
	return true
}

func (l *fieldList) getManufacturerInfo(b []byte) bool {
	g, ok := pd.ParseGMIDB(b)
	if !ok {
		return false
	}
	l.word("target", 7, 0, named(infoTargets[:], int(g.Target), "target"))
	l.byteField("battery", 1, int(g.Reference))
	return true
}

// infoTargets are the codes of USB PD R3.2 V1.1, table 6.60.
var infoTargets = [...]string{"port or cable plug", "battery"}

func (l *fieldList) manufacturerInfo(b []byte) bool {
	m, ok := pd.ParseMIDB(b)
	if !ok {
		return false
	}
	l.hex4("vid", 15, 0, m.VID)
	l.hex4("pid", 31, 16, m.PID)
	high, low := bitsOf(4, max(len(b)-1, 4))
	l.word("manufacturer", high, low, printable(m.String()))
	return true
}

// printable keeps printable ASCII and spells every other byte as \xNN: the
// text of another device must not steer a terminal.
func printable(s string) string {
	var b []byte
	for i := range len(s) {
		if c := s[i]; c >= 0x20 && c < 0x7F && c != '\\' {
			b = append(b, c)
			continue
		}
		b = append(b, '\\', 'x', hexDigits[s[i]>>4], hexDigits[s[i]&0xF])
	}
	return string(b)
}

func (l *fieldList) countryCodes(b []byte) bool {
	c, ok := pd.ParseCountryCodes(b)
	if !ok {
		return false
	}
	l.byteField("count", 0, int(c.Count))
	var list []string
	for i := 0; i+1 < len(c.Codes); i += 2 {
		list = append(list, printable(string(c.Codes[i:i+2])))
	}
	high, low := bitsOf(2, max(len(b)-1, 2))
	l.word("countries", high, low, strings.Join(list, " "))
	return true
}

func (l *fieldList) countryInfo(b []byte) bool {
	c, ok := pd.ParseCountryInfo(b)
	if !ok {
		return false
	}
	l.word("country", 15, 0, printable(string([]byte{c.First, c.Second})))
	high, low := bitsOf(4, max(len(b)-1, 4))
	l.word("data", high, low, string(appendBytes(nil, c.Data)))
	return true
}

func (l *fieldList) extendedControl(b []byte) bool {
	e, ok := pd.ParseECDB(b)
	if !ok {
		return false
	}
	l.word("type", 7, 0, e.Type.String())
	l.byteField("data", 1, int(e.Data))
	return true
}

func (l *fieldList) sourceExtended(b []byte) bool {
	s, ok := pd.ParseSCEDB(b)
	if !ok {
		return false
	}
	l.product16(s.VID, s.PID, s.XID)
	l.byteField("firmware_version", 8, int(s.FirmwareVersion))
	l.byteField("hardware_version", 9, int(s.HardwareVersion))
	slew, known := s.LoadStepSlewMilliampsPerMicrosecond()
	l.known("load_step_ma_per_us", 81, 80, slew, known)
	l.number("load_step_percent", 82, 82, s.LoadStepPercent())
	l.known("hold_up_ms", 95, 88, int(s.HoldUpMs), s.HoldUpMs != 0)
	l.flag("compliance_lps", 96, s.Compliance&1 == 1)
	l.flag("compliance_ps1", 97, s.Compliance>>1&1 == 1)
	l.flag("compliance_ps2", 98, s.Compliance>>2&1 == 1)
	l.flag("low_touch_current", 104, s.TouchCurrent&1 == 1)
	l.flag("ground_pin", 105, s.TouchCurrent>>1&1 == 1)
	l.flag("ground_pin_protective_earth", 106, s.TouchCurrent>>2&1 == 1)
	for i, o := range s.PeakCurrents {
		l.overload(sourceOverloads[i], 14+2*i, o)
	}
	l.word("touch_temperature", 167, 160, named(sourceTouch[:], int(s.TouchTemperature), "code"))
	l.flag("external_supply", 168, s.Inputs&1 == 1)
	l.flag("external_unconstrained", 169, s.Inputs>>1&1 == 1)
	l.flag("internal_battery", 170, s.Inputs>>2&1 == 1)
	l.number("fixed_batteries", 179, 176, int(s.Batteries&0xF))
	l.number("hot_swappable_slots", 183, 180, int(s.Batteries>>4))
	from := len(*l)
	l.number("spr_pdp_w", 190, 184, int(s.SPRPDP))
	l.byteField("epr_pdp_w", 24, int(s.EPRPDP))
	l.beyond(from, s.Size)
	return true
}

func (l *fieldList) product16(vid, pid uint16, xid uint32) {
	l.hex4("vid", 15, 0, vid)
	l.hex4("pid", 31, 16, pid)
	l.hex8("xid", 63, 32, xid)
}

// overloadNames are the names of one overload's fields.
type overloadNames struct{ percent, period, duty, droop string }

var (
	sourceOverloads = [...]overloadNames{
		{"peak_current_1_percent", "peak_current_1_period_ms", "peak_current_1_duty_percent", "peak_current_1_droop"},
		{"peak_current_2_percent", "peak_current_2_period_ms", "peak_current_2_duty_percent", "peak_current_2_droop"},
		{"peak_current_3_percent", "peak_current_3_period_ms", "peak_current_3_duty_percent", "peak_current_3_droop"},
	}
	sinkOverload = overloadNames{"load_percent", "load_period_ms", "load_duty_percent", "load_droop"}
)

func (l *fieldList) overload(names overloadNames, at int, o pd.OverloadField) {
	l.number(names.percent, 8*at+4, 8*at, o.Percent())
	l.number(names.period, 8*at+10, 8*at+5, int(o.Period().Milliseconds()))
	l.number(names.duty, 8*at+14, 8*at+11, o.DutyPercent())
	l.flag(names.droop, 8*at+15, o.Droop())
}

// Touch temperatures (USB PD R3.2 V1.1, tables 6.54 and 6.65).
var (
	sourceTouch = [...]string{"IEC 60950-1", "IEC 62368-1 TS1", "IEC 62368-1 TS2"}
	sinkTouch   = [...]string{"not applicable", "IEC 60950-1", "IEC 62368-1 TS1", "IEC 62368-1 TS2"}
)

func (l *fieldList) sinkExtended(b []byte) bool {
	s, ok := pd.ParseSKEDB(b)
	if !ok {
		return false
	}
	l.product16(s.VID, s.PID, s.XID)
	l.byteField("firmware_version", 8, int(s.FirmwareVersion))
	l.byteField("hardware_version", 9, int(s.HardwareVersion))
	l.byteField("block_version", 10, int(s.Version))
	slew, known := s.LoadStepSlewMilliampsPerMicrosecond()
	l.known("load_step_ma_per_us", 89, 88, slew, known)
	l.overload(sinkOverload, 12, s.LoadCharacteristics)
	l.flag("compliance_lps", 112, s.Compliance&1 == 1)
	l.flag("compliance_ps1", 113, s.Compliance>>1&1 == 1)
	l.flag("compliance_ps2", 114, s.Compliance>>2&1 == 1)
	l.word("touch_temperature", 127, 120, named(sinkTouch[:], int(s.TouchTemperature), "code"))
	l.number("fixed_batteries", 131, 128, int(s.Batteries&0xF))
	l.number("hot_swappable_slots", 135, 132, int(s.Batteries>>4))
	for i, name := range sinkModes {
		l.flag(name, 136+i, s.Modes>>i&1 == 1)
	}
	from := len(*l)
	l.number("spr_minimum_pdp_w", 150, 144, int(s.SPRMin))
	l.number("spr_operational_pdp_w", 158, 152, int(s.SPROp))
	l.number("spr_maximum_pdp_w", 166, 160, int(s.SPRMax))
	l.byteField("epr_minimum_pdp_w", 21, int(s.EPRMin))
	l.byteField("epr_operational_pdp_w", 22, int(s.EPROp))
	l.byteField("epr_maximum_pdp_w", 23, int(s.EPRMax))
	l.beyond(from, s.Size)
	return true
}

// sinkModes are the bits of byte 17 of Sink_Capabilities_Extended.
var sinkModes = [...]string{"pps_charging", "vbus_powered", "mains_powered", "battery_powered", "endless_battery", "avs_support"}
