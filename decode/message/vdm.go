package message

import "portside/pd"

// vdmHeader lists the first object of a Vendor_Defined message. Below the VID
// an unstructured one means nothing outside its vendor, so most is null there.
func (l *fieldList) vdmHeader(h pd.VDMHeader) {
	l.hex4("svid", 31, 16, h.SVID())
	l.flag("structured", 15, h.Structured())
	if !h.Structured() {
		l.null("vdm_version", 14, 11)
		l.null("object_position", 10, 8)
		l.null("command_type", 7, 6)
		l.null("command", 4, 0)
		l.null("command_name", 4, 0)
		l.hex4("vendor_data", 14, 0, h.Vendor())
		return
	}
	l.word("vdm_version", 14, 11, h.Version())
	l.number("object_position", 10, 8, h.ObjectPosition())
	l.word("command_type", 7, 6, h.CommandType().String())
	l.number("command", 4, 0, int(h.Command()))
	l.word("command_name", 4, 0, h.Command().String())
	l.null("vendor_data", 14, 0)
}

// idHeader lists the ID Header; the product type of bits 29 to 27 is read by
// who answered.
func (l *fieldList) idHeader(o pd.IDHeaderVDO, plug bool) {
	f := o.Fields()
	l.flag("usb_host", 31, f.USBHost)
	l.flag("usb_device", 30, f.USBDevice)
	if plug {
		l.word("product_type", 29, 27, f.Plug().String())
	} else {
		l.word("product_type", 29, 27, f.UFP().String())
	}
	l.flag("modal_operation", 26, f.Modal)
	if plug {
		l.null("product_type_dfp", 25, 23)
	} else {
		l.word("product_type_dfp", 25, 23, f.DFP.String())
	}
	l.word("connector", 22, 21, f.Connector.String())
	l.hex4("usb_vid", 15, 0, f.VID)
}

func (l *fieldList) product(o pd.ProductVDO) {
	l.hex4("usb_pid", 31, 16, o.PID())
	l.hex4("bcd_device", 15, 0, o.Release())
}

// cable lists what passive cables and the first object of active ones share.
func (l *fieldList) cable(f pd.CableFields) {
	l.number("hardware_version", 31, 28, f.HardwareVersion)
	l.number("firmware_version", 27, 24, f.FirmwareVersion)
	l.number("vdo_version", 23, 21, f.VDOVersion)
	l.word("plug", 19, 18, f.Plug.String())
	l.flag("epr_capable", 17, f.EPRCapable)
	latency, ok := f.MaxLatency()
	l.micros("latency_us", 16, 13, latency, ok)
	l.number("latency_code", 16, 13, f.Latency)
	l.number("termination_code", 12, 11, f.Termination)
	l.number("max_vbus_mv", 10, 9, int(f.MaxVoltage()))
	current, ok := f.MaxCurrent()
	l.known("current_ma", 6, 5, int(current), ok)
	l.number("current_code", 6, 5, f.Current)
	l.word("speed", 2, 0, f.Speed.String())
}

func (l *fieldList) activeCable1(o pd.ActiveCableVDO1) {
	f := o.Fields()
	l.cable(f.CableFields)
	l.flag("sbu_supported", 8, !f.SBUNotSupported)
	l.flag("sbu_active", 7, f.SBUActive)
	l.flag("vbus_through", 4, f.VBUSThrough)
	l.flag("far_plug_controller", 3, f.FarPlugController)
}

func (l *fieldList) activeCable2(o pd.ActiveCableVDO2) {
	f := o.Fields()
	l.number("max_operating_celsius", 31, 24, f.MaxOperatingC)
	l.number("shutdown_celsius", 23, 16, f.ShutdownC)
	l.number("u3_power_code", 14, 12, f.U3Power)
	l.flag("through_u3s", 11, f.ThroughU3S)
	l.flag("optical", 10, f.Optical)
	l.flag("re_timer", 9, f.ReTimer)
	l.flag("usb4_supported", 8, !f.USB4NotSupported)
	l.number("usb2_hub_hops", 7, 6, f.HubHops)
	l.flag("usb2_supported", 5, !f.USB2NotSupported)
	l.flag("usb3_supported", 4, !f.USB3NotSupported)
	l.flag("two_lanes", 3, f.TwoLanes)
	l.flag("optically_isolated", 2, f.OpticallyIsolated)
	l.flag("usb4_asymmetric", 1, f.USB4Asymmetric)
	l.flag("gen2_or_higher", 0, f.Gen2OrHigher)
}

func (l *fieldList) ufp(o pd.UFPVDO) {
	f := o.Fields()
	l.number("vdo_version", 31, 29, f.Version)
	l.flag("usb4_device", 27, f.DeviceCapability>>3&1 == 1)
	l.flag("usb3_device", 26, f.DeviceCapability>>2&1 == 1)
	l.flag("billboard_only", 25, f.DeviceCapability>>1&1 == 1)
	l.flag("usb2_device", 24, f.DeviceCapability&1 == 1)
	l.number("vconn_power_code", 10, 8, f.VCONNPower)
	l.flag("vconn_required", 7, f.VCONNRequired)
	l.flag("vbus_required", 6, !f.VBUSNotRequired)
	l.flag("alternate_mode_not_reconfiguring", 5, f.AlternateModes>>2&1 == 1)
	l.flag("alternate_mode_reconfiguring", 4, f.AlternateModes>>1&1 == 1)
	l.flag("alternate_mode_thunderbolt_3", 3, f.AlternateModes&1 == 1)
	l.word("speed", 2, 0, pd.CableSpeed(f.Speed).String())
}

func (l *fieldList) dfp(o pd.DFPVDO) {
	f := o.Fields()
	l.number("vdo_version", 31, 29, f.Version)
	l.flag("usb4_host", 26, f.HostCapability>>2&1 == 1)
	l.flag("usb3_host", 25, f.HostCapability>>1&1 == 1)
	l.flag("usb2_host", 24, f.HostCapability&1 == 1)
	l.number("port_number", 4, 0, f.PortNumber)
}

func (l *fieldList) vpd(o pd.VPDVDO) {
	f := o.Fields()
	l.number("hardware_version", 31, 28, f.HardwareVersion)
	l.number("firmware_version", 27, 24, f.FirmwareVersion)
	l.number("vdo_version", 23, 21, f.VDOVersion)
	l.number("max_vbus_code", 16, 15, f.MaxVBUS)
	l.flag("charge_through_5a", 14, f.ChargeThrough5A)
	l.thousandths("vbus_impedance_ohm", 12, 7, f.VBUSMilliohms, true)
	l.thousandths("ground_impedance_ohm", 6, 1, f.GroundMilliohms, true)
	l.flag("charge_through", 0, f.ChargeThrough)
}

func (l *fieldList) svids(o pd.SVIDsVDO) {
	pair := o.SVIDs()
	l.hex4("svid_1", 31, 16, pair[0])
	l.hex4("svid_2", 15, 0, pair[1])
}

// r20Cable lists the cable object of R2.0, which has no voltage.
func (l *fieldList) r20Cable(o pd.R20CableVDO) {
	f := o.Fields()
	l.number("hardware_version", 31, 28, f.HardwareVersion)
	l.number("firmware_version", 27, 24, f.FirmwareVersion)
	l.number("plug_code", 19, 18, f.Plug)
	l.number("latency_code", 16, 13, f.Latency)
	l.number("termination_code", 12, 11, f.Termination)
	l.number("directionality_code", 10, 7, f.Directionality)
	current, ok := f.MaxCurrent()
	l.known("current_ma", 6, 5, int(current), ok)
	l.number("current_code", 6, 5, f.Current)
	l.flag("vbus_through", 4, f.VBUSThrough)
	l.flag("far_plug_controller", 3, f.FarPlugController)
	l.number("signalling_code", 2, 0, f.Signalling)
}

func (l *fieldList) ama(o pd.AMAVDO) {
	f := o.Fields()
	l.number("hardware_version", 31, 28, f.HardwareVersion)
	l.number("firmware_version", 27, 24, f.FirmwareVersion)
	l.number("directionality_code", 11, 8, f.Directionality)
	l.number("vconn_power_code", 7, 5, f.VCONNPower)
	l.flag("vconn_required", 4, f.VCONNRequired)
	l.flag("vbus_required", 3, f.VBUSRequired)
	l.number("signalling_code", 2, 0, f.Signalling)
}

// vdmKinds tells the objects after the header of a structured answer apart.
func vdmKinds(set pd.OrderedSet, list []Object) {
	for i := range list {
		list[i].Kind = KindVDO
	}
	if len(list) == 0 {
		return
	}
	list[0].Kind = KindVDMHeader
	h := pd.VDMHeader(list[0].Raw)
	if !h.Structured() || h.CommandType() != pd.ACK {
		return
	}
	switch h.Command() {
	case pd.DiscoverIdentity:
		identityKinds(h, set, list[1:])
	case pd.DiscoverSVIDs:
		setKinds(list[1:], KindSVIDs, KindSVIDs, KindSVIDs, KindSVIDs, KindSVIDs, KindSVIDs)
	case pd.DiscoverModes:
		setKinds(list[1:], KindMode, KindMode, KindMode, KindMode, KindMode, KindMode)
	}
}

// setKinds names objects in turn; those beyond the names stay plain.
func setKinds(list []Object, kinds ...Kind) {
	for i := range min(len(list), len(kinds)) {
		list[i].Kind = kinds[i]
	}
}

// productObjects is where the objects of the product type begin, after ID
// Header, Cert Stat and Product (USB PD R3.2 V1.1, table 6.32).
const productObjects = 3

// identityKinds tells the objects of a Discover Identity answer apart.
func identityKinds(h pd.VDMHeader, set pd.OrderedSet, list []Object) {
	plug := set != pd.SOP
	if plug {
		setKinds(list, KindIDHeaderPlug, KindCertStat, KindProduct)
	} else {
		setKinds(list, KindIDHeader, KindCertStat, KindProduct)
	}
	if len(list) <= productObjects {
		return
	}
	id, rest := pd.IDHeaderVDO(list[0].Raw).Fields(), list[productObjects:]
	if plug {
		plugKinds(id.Plug(), h.VersionMajor() == 0, rest)
		return
	}
	portKinds(id, rest)
}

// plugKinds: a Structured VDM Version of 1.0 means the one cable object of R2.0.
func plugKinds(t pd.PlugType, r20 bool, rest []Object) {
	switch {
	case r20 && (t == pd.PassiveCable || t == pd.ActiveCable):
		setKinds(rest, KindR20Cable)
	case t == pd.PassiveCable:
		setKinds(rest, KindPassiveCable)
	case t == pd.ActiveCable:
		setKinds(rest, KindActiveCable1, KindActiveCable2)
	case t == pd.VPD:
		setKinds(rest, KindVPD)
	}
}

// portKinds: a dual-role data product answers UFP VDO, an object of zeros and
// DFP VDO (USB PD R3.2 V1.1, section 6.4.4.3.1).
func portKinds(id pd.IDHeaderFields, rest []Object) {
	ufp := id.UFP() == pd.UFPHub || id.UFP() == pd.UFPPeripheral || id.UFP() == pd.UFPPowerSink
	dfp := id.DFP == pd.DFPHub || id.DFP == pd.DFPHost || id.DFP == pd.DFPPowerBrick
	switch {
	case id.UFP() == pd.UFPAdapter:
		setKinds(rest, KindAMA)
	case ufp && dfp:
		setKinds(rest, KindUFP, KindVDO, KindDFP)
	case ufp:
		setKinds(rest, KindUFP)
	case dfp:
		setKinds(rest, KindDFP)
	}
}
