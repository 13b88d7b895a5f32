package message

import (
	"strconv"
	"strings"

	"portside/pd"
)

// words builds a line of parts with commas between them.
type words struct {
	b     []byte
	begun bool
}

func (w *words) part() {
	if w.begun {
		w.b = append(w.b, ", "...)
	}
	w.begun = true
}

func (w *words) add(parts ...string) {
	w.part()
	for _, s := range parts {
		w.b = append(w.b, s...)
	}
}

func (w *words) number(before string, n int, after string) {
	w.part()
	w.b = append(w.b, before...)
	w.b = strconv.AppendInt(w.b, int64(n), 10)
	w.b = append(w.b, after...)
}

// milli adds thousandths of a unit, or says that they are not given.
func (w *words) milli(before string, n int, unit string, ok bool) {
	w.part()
	w.b = append(w.b, before...)
	if !ok {
		w.b = append(w.b, "not given"...)
		return
	}
	w.b = appendMilli(w.b, n, unit)
}

func (w *words) hex(before string, v uint32, digits int) {
	w.part()
	w.b = append(w.b, before...)
	w.b = appendHex(w.b, v, digits)
}

// flags adds the names of the flags of an object that are set.
func (w *words) flags(list []Field) {
	for i := range list {
		if list[i].On() {
			w.add(strings.ReplaceAll(list[i].Name, "_", " "))
		}
	}
}

// appendSingle puts the object of a message of its own into words.
func (l *Line) appendSingle(b []byte, o *Object) []byte {
	w := words{b: b}
	switch o.Kind {
	case KindEPRMode:
		w.eprMode(pd.EPRMDO(o.Raw))
	case KindAlert:
		l.fields = o.AppendFields(l.fields[:0])
		w.alert(pd.ADO(o.Raw).Fields(), l.fields)
	case KindBatteryStatus:
		w.batteryStatus(pd.BSDO(o.Raw).Fields())
	case KindRevision:
		f := pd.RMDO(o.Raw).Fields()
		w.add(dotted(f.RevisionMajor, f.RevisionMinor))
		w.add("version ", dotted(f.VersionMajor, f.VersionMinor))
	case KindSourceInfo:
		f := pd.SIDO(o.Raw).Fields()
		w.add(portType(f.Guaranteed), " port")
		w.number("maximum ", int(f.MaximumPDP), " W")
		w.number("present ", int(f.PresentPDP), " W")
		w.number("reported ", int(f.ReportedPDP), " W")
	case KindCountryCode:
		if code, ok := pd.CCDO(o.Raw).Fields().Code(); ok {
			w.add(code)
		} else {
			w.hex("", o.Raw, 8)
		}
	case KindEnterUSB:
		l.fields = o.AppendFields(l.fields[:0])
		w.enterUSB(pd.EUDO(o.Raw).Fields(), l.fields)
	case KindBIST:
		w.add(pd.BDO(o.Raw).Fields().Mode.String())
	default:
		w.hex("", o.Raw, 8)
	}
	return w.b
}

func (w *words) eprMode(o pd.EPRMDO) {
	w.add(o.Action().String())
	if pdp, ok := o.SinkPDP(); ok {
		w.number("sink of ", int(pdp), " W")
		return
	}
	if why, ok := o.Failure(); ok {
		w.add(why.String())
		return
	}
	if o.Data() != 0 {
		w.number("data ", int(o.Data()), "")
	}
}

func (w *words) alert(f pd.AlertFields, list []Field) {
	w.flags(list)
	if f.ExtendedAlert {
		w.add(f.ExtendedType.String())
	}
	if !w.begun {
		w.add("no event")
	}
}

func (w *words) batteryStatus(f pd.BatteryStatusFields) {
	switch {
	case f.InvalidReference:
		w.add("no such battery")
	case !f.Present:
		w.add("no battery present")
	default:
		w.add(f.ChargingStatus.String())
	}
	_, ok := f.CapacityWh()
	w.milli("charge ", int(f.Capacity)*tenthInThousandths, " Wh", ok)
}

func (w *words) enterUSB(f pd.EnterUSBFields, list []Field) {
	w.add(f.Mode.String())
	w.add("cable ", f.CableType.String())
	w.add(f.CableSpeed.String())
	if current, ok := f.MaxCableCurrent(); ok && current == 0 {
		w.add("no VBUS")
	} else {
		w.current(current, ok, f.CableCurrent)
	}
	w.flags(list)
}

// appendVDM puts a Vendor_Defined message into words.
func (l *Line) appendVDM(b []byte) []byte {
	w := words{b: b}
	h := pd.VDMHeader(l.Objects[0].Raw)
	if h.Structured() {
		w.add(h.Command().String(), " ", h.CommandType().String())
		w.hex("SVID ", uint32(h.SVID()), 4)
		if n := h.ObjectPosition(); n != 0 {
			w.number("object ", n, "")
		}
	} else {
		w.hex("vendor ", uint32(h.SVID()), 4)
		w.add("unstructured")
	}
	for i := range l.Objects[1:] {
		w.vdo(&l.Objects[i+1])
	}
	return w.b
}

// vdo adds what a technician asks of an object of a Vendor_Defined message.
func (w *words) vdo(o *Object) {
	switch o.Kind {
	case KindIDHeader, KindIDHeaderPlug:
		w.idHeader(pd.IDHeaderVDO(o.Raw).Fields(), o.Kind == KindIDHeaderPlug)
	case KindCertStat:
		if o.Raw != 0 {
			w.hex("XID ", o.Raw, 8)
		}
	case KindProduct:
		w.hex("PID ", uint32(pd.ProductVDO(o.Raw).PID()), 4)
	case KindPassiveCable:
		w.cable(pd.PassiveCableVDO(o.Raw).Fields().CableFields)
	case KindR20Cable:
		f := pd.R20CableVDO(o.Raw).Fields()
		current, ok := f.MaxCurrent()
		w.current(current, ok, f.Current)
	case KindActiveCable1:
		w.cable(pd.ActiveCableVDO1(o.Raw).Fields().CableFields)
	case KindActiveCable2:
		w.number("to ", pd.ActiveCableVDO2(o.Raw).Fields().MaxOperatingC, " C")
	case KindVPD:
		f := pd.VPDVDO(o.Raw).Fields()
		if f.ChargeThrough {
			w.add("charge through")
		}
	case KindUFP:
		w.add("device ", pd.CableSpeed(pd.UFPVDO(o.Raw).Fields().Speed).String())
	case KindDFP:
		w.number("host port ", pd.DFPVDO(o.Raw).Fields().PortNumber, "")
	case KindSVIDs:
		w.svid(uint16(o.Raw >> 16))
		w.svid(uint16(o.Raw))
	case KindMode:
		w.hex("mode ", o.Raw, 8)
	default:
		w.hex("", o.Raw, 8)
	}
}

func (w *words) svid(v uint16) {
	if v == 0 {
		w.add("end of the list")
		return
	}
	w.hex("", uint32(v), 4)
}

func (w *words) idHeader(f pd.IDHeaderFields, plug bool) {
	w.hex("VID ", uint32(f.VID), 4)
	if plug {
		w.add(f.Plug().String())
		return
	}
	if f.UFP() != pd.NotUFP {
		w.add(f.UFP().String())
	}
	if f.DFP != pd.NotDFP {
		w.add(f.DFP.String())
	}
}

func (w *words) cable(f pd.CableFields) {
	current, ok := f.MaxCurrent()
	w.current(current, ok, f.Current)
	w.milli("", int(f.MaxVoltage()), " V", true)
	if f.EPRCapable {
		w.add("EPR capable")
	}
	w.add(f.Speed.String())
}

// current adds a cable's current, or the code that gives none.
func (w *words) current(i pd.Milliamps, ok bool, code int) {
	if !ok {
		w.number("current code ", code, "")
		return
	}
	w.milli("", int(i), " A", true)
}

// appendBlock puts a whole block into words.
func (l *Line) appendBlock(b []byte, o *Object) []byte {
	w := words{b: b}
	l.fields = o.AppendFields(l.fields[:0])
	if !w.block(o.Kind, o.Block, l.fields) {
		w.number("block of ", len(o.Block), " bytes")
	}
	return w.b
}

// block reports false for a block that is shown by its length.
func (w *words) block(k Kind, b []byte, list []Field) bool {
	switch k {
	case KindStatus, KindCableStatus:
		return w.status(list)
	case KindPPSStatus:
		return w.ppsStatus(b)
	case KindSourceCapabilitiesExtended:
		s, ok := pd.ParseSCEDB(b)
		w.extended(ok, s.VID, s.PID)
		if ok && s.SPRPDP > 0 {
			w.number("SPR ", int(s.SPRPDP), " W")
		}
		if ok && s.EPRPDP > 0 {
			w.number("EPR ", int(s.EPRPDP), " W")
		}
		return ok
	case KindSinkCapabilitiesExtended:
		s, ok := pd.ParseSKEDB(b)
		w.extended(ok, s.VID, s.PID)
		if ok {
			w.number("operates at ", int(s.SPROp), " W")
			w.number("up to ", int(max(s.SPRMax, s.EPRMax)), " W")
		}
		return ok
	case KindGetBatteryCap, KindGetBatteryStatus:
		g, ok := pd.ParseGBDB(b)
		if ok {
			w.number("battery ", int(g), "")
		}
		return ok
	case KindBatteryCapabilities:
		return w.batteryCapabilities(b)
	case KindExtendedControl, KindGetManufacturerInfo, KindManufacturerInfo, KindCountryCodes, KindCountryInfo:
		return w.plainFields(list)
	default:
		return false
	}
}

func (w *words) extended(ok bool, vid, pid uint16) {
	if ok {
		w.hex("VID ", uint32(vid), 4)
		w.hex("PID ", uint32(pid), 4)
	}
}

// plainFields adds the words and numbers of a small block.
func (w *words) plainFields(list []Field) bool {
	for i := range list {
		f := &list[i]
		switch {
		case f.Name == "size":
			return false
		case f.form == formHex4:
			w.add(strings.ToUpper(f.Name), " ", f.Word())
		case f.form == formWord && f.word != "":
			w.add(f.word)
		case f.form == formNumber && f.number != 0:
			w.add(f.Name, " ", f.Word())
		}
	}
	return w.begun
}

// status adds the temperature and every flag of a Status block that is set.
func (w *words) status(list []Field) bool {
	for i := range list {
		f := &list[i]
		switch {
		case f.Name == "size":
			return false
		case f.Name == "internal_celsius" && f.form == formNumber && f.number == 1:
			w.add("below 2 C")
		case f.Name == "internal_celsius" && f.form == formNumber:
			w.add(f.Word(), " C")
		case f.Name == "temperature_status":
			w.add("temperature ", f.word)
		case f.On():
			w.add(strings.ReplaceAll(f.Name, "_", " "))
		}
	}
	if !w.begun {
		w.add("nothing to tell")
	}
	return true
}

func (w *words) ppsStatus(b []byte) bool {
	s, ok := pd.ParsePPSSDB(b)
	if !ok {
		return false
	}
	v, known := s.Voltage()
	w.milli("voltage ", int(v), " V", known)
	i, known := s.Current()
	w.milli("current ", int(i), " A", known)
	w.add("temperature ", s.Temperature.String())
	if s.CurrentLimit {
		w.add("limiting current")
	}
	return true
}

func (w *words) batteryCapabilities(b []byte) bool {
	c, ok := pd.ParseBCDB(b)
	if !ok {
		return false
	}
	if c.InvalidReference {
		w.add("no such battery")
	}
	_, known := pd.CapacityWh(c.DesignCapacity)
	w.milli("design ", int(c.DesignCapacity)*tenthInThousandths, " Wh", known)
	_, known = pd.CapacityWh(c.LastFullCapacity)
	w.milli("last full ", int(c.LastFullCapacity)*tenthInThousandths, " Wh", known)
	return true
}
