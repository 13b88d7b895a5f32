package pd_test

import "portside/pd"

// The largest values the fields of the headers cover, by the width of each field.
const (
	anyWord  = 1<<32 - 1
	halfword = 1<<16 - 1
	anyKind  = 1<<30 - 1 // a supply object without its kind
	one      = 1
	twoBits  = 1<<2 - 1
	three    = 1<<3 - 1
	nibble   = 1<<4 - 1
	fiveBits = 1<<5 - 1
	sixBits  = 1<<6 - 1
	octet    = 1<<8 - 1
	nineBits = 1<<9 - 1

	supplyMV  = 1024*50 - 1  // ten bits of 50 mV
	supplyMA  = 1024*10 - 1  // ten bits of 10 mA
	supplyMW  = 1024*250 - 1 // ten bits of 250 mW
	ppsMV     = 256*100 - 1  // eight bits of 100 mV
	ppsMA     = 128*50 - 1   // seven bits of 50 mA
	requestMV = 2048*20 - 1  // eleven bits of 20 mV, all the headers have
)

func number(b bool) uint32 {
	if b {
		return 1
	}
	return 0
}

// on reports whether a number of one bit is 1.
func on(x uint32) bool { return x != 0 }

func header(x []uint32) pd.Header                 { return pd.Header(x[0]) }
func extendedHeader(x []uint32) pd.ExtendedHeader { return pd.ExtendedHeader(x[0]) }

func fixedOf(x []uint32) pd.FixedSupply {
	f, _ := pd.PDO(x[0]).Fixed()
	return f
}

func sinkFixedOf(x []uint32) pd.SinkFixedSupply {
	f, _ := pd.SinkPDO(x[0]).Fixed()
	return f
}

func batteryOf(x []uint32) pd.BatterySupply {
	b, _ := pd.PDO(x[0] | 1<<30).Battery()
	return b
}

func variableOf(x []uint32) pd.VariableSupply {
	v, _ := pd.PDO(x[0] | 2<<30).Variable()
	return v
}

func ppsOf(x []uint32) pd.PPSSupply {
	s, _ := pd.PDO(x[0] | 3<<30).PPS()
	return s
}

// fixedWith is a fixed object with bits 29 to 20 as one number.
func fixedWith(mv, ma, flags uint32) uint32 {
	return uint32(pd.FixedSupply{
		DualRolePower: on(flags >> 9 & 1), USBSuspend: on(flags >> 8 & 1), UnconstrainedPower: on(flags >> 7 & 1),
		USBCommunications: on(flags >> 6 & 1), DualRoleData: on(flags >> 5 & 1), Unchunked: on(flags >> 4 & 1),
		EPRCapable: on(flags >> 3 & 1), Reserved: flags << 20, PeakCurrent: pd.PeakCurrent(flags & 3),
		Voltage: pd.Millivolts(mv), MaxCurrent: pd.Milliamps(ma),
	}.Encode())
}

func sinkFixedWith(mv, ma, flags uint32) uint32 {
	return uint32(pd.SinkFixedSupply{
		DualRolePower: on(flags >> 9 & 1), HigherCapability: on(flags >> 8 & 1), UnconstrainedPower: on(flags >> 7 & 1),
		USBCommunications: on(flags >> 6 & 1), DualRoleData: on(flags >> 5 & 1),
		FastRoleSwapCurrent: pd.FastRoleSwapCurrent(flags >> 3 & 3), Reserved: flags << 20,
		Voltage: pd.Millivolts(mv), OperatingCurrent: pd.Milliamps(ma),
	}.Encode())
}

// requestWith are the flags of a request with bits 27 to 22 as one number.
func requestWith(position, flags uint32) pd.RequestFlags {
	return pd.RequestFlags{
		Position: int(position), GiveBack: on(flags >> 5 & 1), CapabilityMismatch: on(flags >> 4 & 1),
		USBCommunications: on(flags >> 3 & 1), NoUSBSuspend: on(flags >> 2 & 1), Unchunked: on(flags >> 1 & 1),
		EPRCapable: on(flags & 1),
	}
}

func headerWith(x []uint32, extended bool) uint32 {
	class := pd.Data
	if extended {
		class = pd.Extended
	}
	f := pd.HeaderFields{
		Type: pd.NewMessageType(class, int(x[0])), PowerRole: pd.Sink, DataRole: pd.UFP,
		Revision: pd.Revision10 + pd.Revision(x[3]), MessageID: int(x[4]), Objects: int(x[5]),
	}
	if on(x[1]) {
		f.PowerRole = pd.Source
	}
	if on(x[2]) {
		f.DataRole = pd.DFP
	}
	return uint32(f.Encode())
}

func extendedHeaderWith(x []uint32) uint32 {
	return uint32(pd.ExtendedHeaderFields{
		DataSize: int(x[0]), RequestChunk: on(x[1]), ChunkNumber: int(x[2]), Chunked: on(x[3]),
	}.Encode())
}

// structured drops what only the whole header has: bit 15.
func structured(f pd.VDMHeaderFields) uint32 { return uint32(f.Encode()) &^ (1 << 15) }

func passiveCableWith(x []uint32, epr bool) uint32 {
	return uint32(pd.PassiveCableFields{CableFields: pd.CableFields{
		HardwareVersion: int(x[0]), FirmwareVersion: int(x[1]), VDOVersion: int(x[2]), Plug: pd.CablePlugKind(x[3]),
		EPRCapable: epr, Latency: int(x[4]), Termination: int(x[5]), MaxVBUS: int(x[6]), Current: int(x[7]),
		Speed: pd.CableSpeed(x[8]),
	}}.Encode())
}

func activeCable1With(x []uint32) uint32 {
	return uint32(pd.ActiveCable1Fields{
		CableFields: pd.CableFields{
			HardwareVersion: int(x[0]), FirmwareVersion: int(x[1]), VDOVersion: int(x[2]), Plug: pd.CablePlugKind(x[3]),
			Latency: int(x[4]), Termination: int(x[5]), MaxVBUS: int(x[6]), Current: int(x[9]), Speed: pd.CableSpeed(x[12]),
		},
		SBUNotSupported: on(x[7]), SBUActive: on(x[8]), VBUSThrough: on(x[10]), FarPlugController: on(x[11]),
	}.Encode())
}

func activeCable2With(x []uint32, asymmetric bool) uint32 {
	return uint32(pd.ActiveCable2Fields{
		MaxOperatingC: int(x[0]), ShutdownC: int(x[1]), U3Power: int(x[2]), ThroughU3S: on(x[3]), Optical: on(x[4]),
		ReTimer: on(x[5]), USB4NotSupported: on(x[6]), HubHops: int(x[7]), USB2NotSupported: on(x[8]),
		USB3NotSupported: on(x[9]), TwoLanes: on(x[10]), OpticallyIsolated: on(x[11]), Gen2OrHigher: on(x[12]),
		USB4Asymmetric: asymmetric,
	}.Encode())
}

func ppsRequestWith(position, mv, ma, flags uint32) uint32 {
	return uint32(pd.PPSRequest{
		RequestFlags: requestWith(position, flags), Voltage: pd.Millivolts(mv), OperatingCurrent: pd.Milliamps(ma),
	}.Encode())
}

// alertByte is bits 31 to 24 of an Alert, put together from the fields.
func alertByte(x []uint32) uint32 {
	f := pd.ADO(x[0]).Fields()
	return number(f.ExtendedAlert)<<7 | number(f.OVP)<<6 | number(f.SourceInputChange)<<5 |
		number(f.OperatingConditionChange)<<4 | number(f.OTP)<<3 | number(f.OCP)<<2 |
		number(f.BatteryStatusChange)<<1 | f.Reserved>>24
}

type numbers = []uint32

var kernelChecks = []kernelCheck{
	// pd.h: headers.
	{"PD_HEADER", "PD_HEADER(a, b, c, d, e, f, g)", numbers{fiveBits, one, one, twoBits, three, three, one},
		func(x numbers) uint32 { return headerWith(x, on(x[6])) }},
	{"PD_HEADER_LE", "PD_HEADER_LE(a, b, c, d, e, f)", numbers{fiveBits, one, one, twoBits, three, three},
		func(x numbers) uint32 { return headerWith(x, false) }},
	{"pd_header_cnt", "pd_header_cnt(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(header(x).Objects()) }},
	{"pd_header_cnt_le", "pd_header_cnt_le(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(header(x).Objects()) }},
	{"pd_header_type", "pd_header_type(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(header(x).Type().Code()) }},
	{"pd_header_type_le", "pd_header_type_le(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(header(x).Type().Code()) }},
	{"pd_header_msgid", "pd_header_msgid(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(header(x).MessageID()) }},
	{"pd_header_msgid_le", "pd_header_msgid_le(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(header(x).MessageID()) }},
	{"pd_header_rev", "pd_header_rev(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(header(x).Revision() - pd.Revision10) }},
	{"pd_header_rev_le", "pd_header_rev_le(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(header(x).Revision() - pd.Revision10) }},
	{"PD_HEADER_EXT_HDR", "(a & PD_HEADER_EXT_HDR) != 0", numbers{halfword}, func(x numbers) uint32 { return number(header(x).Extended()) }},
	{"PD_HEADER_PWR_ROLE", "(a & PD_HEADER_PWR_ROLE) != 0", numbers{halfword}, func(x numbers) uint32 { return number(header(x).PowerRole() == pd.Source) }},
	{"PD_HEADER_DATA_ROLE", "(a & PD_HEADER_DATA_ROLE) != 0", numbers{halfword}, func(x numbers) uint32 { return number(header(x).DataRole() == pd.DFP) }},
	{"PD_EXT_HDR", "PD_EXT_HDR(a, b, c, d)", numbers{nineBits, one, nibble, one}, extendedHeaderWith},
	{"PD_EXT_HDR_LE", "PD_EXT_HDR_LE(a, b, c, d)", numbers{nineBits, one, nibble, one}, extendedHeaderWith},
	{"pd_ext_header_chunk_num", "pd_ext_header_chunk_num(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(extendedHeader(x).ChunkNumber()) }},
	{"pd_ext_header_data_size", "pd_ext_header_data_size(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(extendedHeader(x).DataSize()) }},
	{"pd_ext_header_data_size_le", "pd_ext_header_data_size_le(a)", numbers{halfword}, func(x numbers) uint32 { return uint32(extendedHeader(x).DataSize()) }},
	{"PD_EXT_HDR_CHUNKED", "(a & PD_EXT_HDR_CHUNKED) != 0", numbers{halfword}, func(x numbers) uint32 { return number(extendedHeader(x).Chunked()) }},
	{"PD_EXT_HDR_REQ_CHUNK", "(a & PD_EXT_HDR_REQ_CHUNK) != 0", numbers{halfword}, func(x numbers) uint32 { return number(extendedHeader(x).RequestChunk()) }},

	// pd.h: supply objects.
	{"PDO_TYPE", "PDO_TYPE(a)", numbers{twoBits}, func(x numbers) uint32 {
		return [...]uint32{uint32(pd.FixedSupply{}.Encode()), uint32(pd.BatterySupply{}.Encode()), uint32(pd.VariableSupply{}.Encode()), uint32(pd.PPSSupply{}.Encode())}[x[0]]
	}},
	{"pdo_type", "pdo_type(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(min(pd.PDO(x[0]).Kind(), pd.KindPPS) - pd.KindFixed) }},
	{"PDO_FIXED_VOLT", "PDO_FIXED_VOLT(a)", numbers{supplyMV}, func(x numbers) uint32 { return fixedWith(x[0], 0, 0) }},
	{"PDO_FIXED_CURR", "PDO_FIXED_CURR(a)", numbers{supplyMA}, func(x numbers) uint32 { return fixedWith(0, x[0], 0) }},
	{"PDO_FIXED", "PDO_FIXED(a, b, c << 20)", numbers{supplyMV, supplyMA, 1<<10 - 1}, func(x numbers) uint32 { return fixedWith(x[0], x[1], x[2]) }},
	{"PDO_FIXED", "PDO_FIXED(a, b, c << 20)", numbers{supplyMV, supplyMA, 1<<10 - 1}, func(x numbers) uint32 { return sinkFixedWith(x[0], x[1], x[2]) }},
	{"PDO_FIXED_DUAL_ROLE", "(a & PDO_FIXED_DUAL_ROLE) != 0", numbers{anyKind}, func(x numbers) uint32 { return number(fixedOf(x).DualRolePower) }},
	{"PDO_FIXED_SUSPEND", "(a & PDO_FIXED_SUSPEND) != 0", numbers{anyKind}, func(x numbers) uint32 { return number(fixedOf(x).USBSuspend) }},
	{"PDO_FIXED_HIGHER_CAP", "(a & PDO_FIXED_HIGHER_CAP) != 0", numbers{anyKind}, func(x numbers) uint32 { return number(sinkFixedOf(x).HigherCapability) }},
	{"PDO_FIXED_EXTPOWER", "(a & PDO_FIXED_EXTPOWER) != 0", numbers{anyKind}, func(x numbers) uint32 { return number(fixedOf(x).UnconstrainedPower) }},
	{"PDO_FIXED_USB_COMM", "(a & PDO_FIXED_USB_COMM) != 0", numbers{anyKind}, func(x numbers) uint32 { return number(fixedOf(x).USBCommunications) }},
	{"PDO_FIXED_DATA_SWAP", "(a & PDO_FIXED_DATA_SWAP) != 0", numbers{anyKind}, func(x numbers) uint32 { return number(fixedOf(x).DualRoleData) }},
	{"PDO_FIXED_UNCHUNK_EXT", "(a & PDO_FIXED_UNCHUNK_EXT) != 0", numbers{anyKind}, func(x numbers) uint32 { return number(fixedOf(x).Unchunked) }},
	{"PDO_FIXED_FRS_CURR_MASK", "(a & PDO_FIXED_FRS_CURR_MASK) >> PDO_FIXED_FRS_CURR_SHIFT", numbers{anyKind}, func(x numbers) uint32 { return uint32(sinkFixedOf(x).FastRoleSwapCurrent) }},
	{"pdo_fixed_voltage", "pdo_fixed_voltage(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(fixedOf(x).Voltage) }},
	{"PDO_BATT_MIN_VOLT", "PDO_TYPE(PDO_TYPE_BATT) | PDO_BATT_MIN_VOLT(a)", numbers{supplyMV}, func(x numbers) uint32 { return uint32(pd.BatterySupply{MinVoltage: pd.Millivolts(x[0])}.Encode()) }},
	{"PDO_BATT_MAX_VOLT", "PDO_TYPE(PDO_TYPE_BATT) | PDO_BATT_MAX_VOLT(a)", numbers{supplyMV}, func(x numbers) uint32 { return uint32(pd.BatterySupply{MaxVoltage: pd.Millivolts(x[0])}.Encode()) }},
	{"PDO_BATT_MAX_POWER", "PDO_TYPE(PDO_TYPE_BATT) | PDO_BATT_MAX_POWER(a)", numbers{supplyMW}, func(x numbers) uint32 { return uint32(pd.BatterySupply{MaxPower: pd.Milliwatts(x[0])}.Encode()) }},
	{"PDO_BATT", "PDO_BATT(a, b, c)", numbers{supplyMV, supplyMV, supplyMW}, func(x numbers) uint32 {
		return uint32(pd.BatterySupply{MinVoltage: pd.Millivolts(x[0]), MaxVoltage: pd.Millivolts(x[1]), MaxPower: pd.Milliwatts(x[2])}.Encode())
	}},
	{"PDO_BATT", "PDO_BATT(a, b, c)", numbers{supplyMV, supplyMV, supplyMW}, func(x numbers) uint32 {
		return uint32(pd.SinkBatterySupply{MinVoltage: pd.Millivolts(x[0]), MaxVoltage: pd.Millivolts(x[1]), OperatingPower: pd.Milliwatts(x[2])}.Encode())
	}},
	{"PDO_VAR_MIN_VOLT", "PDO_TYPE(2u) | PDO_VAR_MIN_VOLT(a)", numbers{supplyMV}, func(x numbers) uint32 { return uint32(pd.VariableSupply{MinVoltage: pd.Millivolts(x[0])}.Encode()) }},
	{"PDO_VAR_MAX_VOLT", "PDO_TYPE(2u) | PDO_VAR_MAX_VOLT(a)", numbers{supplyMV}, func(x numbers) uint32 { return uint32(pd.VariableSupply{MaxVoltage: pd.Millivolts(x[0])}.Encode()) }},
	{"PDO_VAR_MAX_CURR", "PDO_TYPE(2u) | PDO_VAR_MAX_CURR(a)", numbers{supplyMA}, func(x numbers) uint32 { return uint32(pd.VariableSupply{MaxCurrent: pd.Milliamps(x[0])}.Encode()) }},
	{"PDO_VAR", "PDO_VAR(a, b, c)", numbers{supplyMV, supplyMV, supplyMA}, func(x numbers) uint32 {
		return uint32(pd.VariableSupply{MinVoltage: pd.Millivolts(x[0]), MaxVoltage: pd.Millivolts(x[1]), MaxCurrent: pd.Milliamps(x[2])}.Encode())
	}},
	{"PDO_VAR", "PDO_VAR(a, b, c)", numbers{supplyMV, supplyMV, supplyMA}, func(x numbers) uint32 {
		return uint32(pd.SinkVariableSupply{MinVoltage: pd.Millivolts(x[0]), MaxVoltage: pd.Millivolts(x[1]), OperatingCurrent: pd.Milliamps(x[2])}.Encode())
	}},
	{"pdo_min_voltage", "pdo_min_voltage(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(variableOf(x).MinVoltage) }},
	{"pdo_min_voltage", "pdo_min_voltage(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(batteryOf(x).MinVoltage) }},
	{"pdo_max_voltage", "pdo_max_voltage(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(variableOf(x).MaxVoltage) }},
	{"pdo_max_voltage", "pdo_max_voltage(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(batteryOf(x).MaxVoltage) }},
	{"pdo_max_current", "pdo_max_current(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(variableOf(x).MaxCurrent) }},
	{"pdo_max_current", "pdo_max_current(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(fixedOf(x).MaxCurrent) }},
	{"pdo_max_power", "pdo_max_power(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(batteryOf(x).MaxPower) }},
	{"PDO_APDO_TYPE", "PDO_TYPE(3u) | PDO_APDO_TYPE(a)", numbers{2}, func(x numbers) uint32 {
		return [...]uint32{uint32(pd.PPSSupply{}.Encode()), uint32(pd.EPRAVSSupply{}.Encode()), uint32(pd.SPRAVSSupply{}.Encode())}[x[0]]
	}},
	{"pdo_apdo_type", "pdo_apdo_type(a | 3u << 30)", numbers{anyKind}, func(x numbers) uint32 { return uint32(pd.PDO(x[0]|3<<30).Kind() - pd.KindPPS) }},
	{"PDO_PPS_APDO_MIN_VOLT", "PDO_TYPE(3u) | PDO_PPS_APDO_MIN_VOLT(a)", numbers{ppsMV}, func(x numbers) uint32 { return uint32(pd.PPSSupply{MinVoltage: pd.Millivolts(x[0])}.Encode()) }},
	{"PDO_PPS_APDO_MAX_VOLT", "PDO_TYPE(3u) | PDO_PPS_APDO_MAX_VOLT(a)", numbers{ppsMV}, func(x numbers) uint32 { return uint32(pd.PPSSupply{MaxVoltage: pd.Millivolts(x[0])}.Encode()) }},
	{"PDO_PPS_APDO_MAX_CURR", "PDO_TYPE(3u) | PDO_PPS_APDO_MAX_CURR(a)", numbers{ppsMA}, func(x numbers) uint32 { return uint32(pd.PPSSupply{MaxCurrent: pd.Milliamps(x[0])}.Encode()) }},
	{"PDO_PPS_APDO", "PDO_PPS_APDO(a, b, c)", numbers{ppsMV, ppsMV, ppsMA}, func(x numbers) uint32 {
		return uint32(pd.PPSSupply{MinVoltage: pd.Millivolts(x[0]), MaxVoltage: pd.Millivolts(x[1]), MaxCurrent: pd.Milliamps(x[2])}.Encode())
	}},
	{"PDO_PPS_APDO", "PDO_PPS_APDO(a, b, c)", numbers{ppsMV, ppsMV, ppsMA}, func(x numbers) uint32 {
		return uint32(pd.SinkPPSSupply{MinVoltage: pd.Millivolts(x[0]), MaxVoltage: pd.Millivolts(x[1]), MaxCurrent: pd.Milliamps(x[2])}.Encode())
	}},
	{"pdo_pps_apdo_min_voltage", "pdo_pps_apdo_min_voltage(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(ppsOf(x).MinVoltage) }},
	{"pdo_pps_apdo_max_voltage", "pdo_pps_apdo_max_voltage(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(ppsOf(x).MaxVoltage) }},
	{"pdo_pps_apdo_max_current", "pdo_pps_apdo_max_current(a)", numbers{anyKind}, func(x numbers) uint32 { return uint32(ppsOf(x).MaxCurrent) }},

	// pd.h: requests.
	{"RDO_OBJ", "RDO_OBJ(a)", numbers{three}, func(x numbers) uint32 {
		return uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: int(x[0])}}.Encode())
	}},
	{"PDO_FIXED_OP_CURR", "PDO_FIXED_OP_CURR(a)", numbers{supplyMA}, func(x numbers) uint32 { return uint32(pd.FixedRequest{OperatingCurrent: pd.Milliamps(x[0])}.Encode()) }},
	{"PDO_FIXED_MAX_CURR", "PDO_FIXED_MAX_CURR(a)", numbers{supplyMA}, func(x numbers) uint32 { return uint32(pd.FixedRequest{MaxCurrent: pd.Milliamps(x[0])}.Encode()) }},
	{"RDO_FIXED", "RDO_FIXED(a, b, c, d << 22)", numbers{three, supplyMA, supplyMA, sixBits}, func(x numbers) uint32 {
		return uint32(pd.FixedRequest{RequestFlags: requestWith(x[0], x[3]), OperatingCurrent: pd.Milliamps(x[1]), MaxCurrent: pd.Milliamps(x[2])}.Encode())
	}},
	{"RDO_BATT_OP_PWR", "RDO_BATT_OP_PWR(a)", numbers{supplyMW}, func(x numbers) uint32 { return uint32(pd.BatteryRequest{OperatingPower: pd.Milliwatts(x[0])}.Encode()) }},
	{"RDO_BATT_MAX_PWR", "RDO_BATT_MAX_PWR(a)", numbers{supplyMW}, func(x numbers) uint32 { return uint32(pd.BatteryRequest{MaxPower: pd.Milliwatts(x[0])}.Encode()) }},
	{"RDO_BATT", "RDO_BATT(a, b, c, d << 22)", numbers{three, supplyMW, supplyMW, sixBits}, func(x numbers) uint32 {
		return uint32(pd.BatteryRequest{RequestFlags: requestWith(x[0], x[3]), OperatingPower: pd.Milliwatts(x[1]), MaxPower: pd.Milliwatts(x[2])}.Encode())
	}},
	{"PDO_PROG_OUT_VOLT", "PDO_PROG_OUT_VOLT(a)", numbers{requestMV}, func(x numbers) uint32 { return uint32(pd.PPSRequest{Voltage: pd.Millivolts(x[0])}.Encode()) }},
	{"PDO_PROG_OP_CURR", "PDO_PROG_OP_CURR(a)", numbers{ppsMA}, func(x numbers) uint32 { return uint32(pd.PPSRequest{OperatingCurrent: pd.Milliamps(x[0])}.Encode()) }},
	{"RDO_PROG", "RDO_PROG(a, b, c, d << 22)", numbers{three, requestMV, ppsMA, sixBits}, func(x numbers) uint32 { return ppsRequestWith(x[0], x[1], x[2], x[3]) }},
	{"rdo_index", "rdo_index(a)", numbers{1<<31 - 1}, func(x numbers) uint32 { return uint32(pd.RDO(x[0]).Position()) }},
	{"rdo_op_current", "rdo_op_current(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.RDO(x[0]).Fixed().OperatingCurrent) }},
	{"rdo_max_current", "rdo_max_current(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.RDO(x[0]).Fixed().MaxCurrent) }},
	{"rdo_op_power", "rdo_op_power(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.RDO(x[0]).Battery().OperatingPower) }},
	{"rdo_max_power", "rdo_max_power(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.RDO(x[0]).Battery().MaxPower) }},
	{"RDO_GIVE_BACK", "(a & RDO_GIVE_BACK) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.RDO(x[0]).GiveBack()) }},
	{"RDO_CAP_MISMATCH", "(a & RDO_CAP_MISMATCH) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.RDO(x[0]).CapabilityMismatch()) }},
	{"RDO_USB_COMM", "(a & RDO_USB_COMM) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.RDO(x[0]).USBCommunications()) }},
	{"RDO_NO_SUSPEND", "(a & RDO_NO_SUSPEND) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.RDO(x[0]).NoUSBSuspend()) }},

	// pd.h: Enter_USB.
	{"EUDO_USB_MODE_MASK", "(a & EUDO_USB_MODE_MASK) >> EUDO_USB_MODE_SHIFT", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.EUDO(x[0]).Fields().Mode) }},
	{"EUDO_USB4_DRD", "(a & EUDO_USB4_DRD) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.EUDO(x[0]).Fields().USB4DRD) }},
	{"EUDO_USB3_DRD", "(a & EUDO_USB3_DRD) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.EUDO(x[0]).Fields().USB3DRD) }},
	{"EUDO_CABLE_SPEED_MASK", "(a & EUDO_CABLE_SPEED_MASK) >> EUDO_CABLE_SPEED_SHIFT", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.EUDO(x[0]).Fields().CableSpeed) }},
	{"EUDO_CABLE_TYPE_MASK", "(a & EUDO_CABLE_TYPE_MASK) >> EUDO_CABLE_TYPE_SHIFT", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.EUDO(x[0]).Fields().CableType) }},
	{"EUDO_CABLE_CURRENT_MASK", "(a & EUDO_CABLE_CURRENT_MASK) >> EUDO_CABLE_CURRENT_SHIFT", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.EUDO(x[0]).Fields().CableCurrent) }},
	{"EUDO_PCIE_SUPPORT", "(a & EUDO_PCIE_SUPPORT) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.EUDO(x[0]).Fields().PCIe) }},
	{"EUDO_DP_SUPPORT", "(a & EUDO_DP_SUPPORT) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.EUDO(x[0]).Fields().DisplayPort) }},
	{"EUDO_TBT_SUPPORT", "(a & EUDO_TBT_SUPPORT) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.EUDO(x[0]).Fields().Thunderbolt3) }},
	{"EUDO_HOST_PRESENT", "(a & EUDO_HOST_PRESENT) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.EUDO(x[0]).Fields().HostPresent) }},

	// pd_vdo.h: the header of a VDM. The macro's version is the major one alone; bits 12 and
	// 11 are part of what it calls custom.
	{"VDO", "VDO(a, 1, b, c)", numbers{halfword, twoBits, 1<<13 - 1}, func(x numbers) uint32 {
		return uint32(pd.VDMHeaderFields{
			SVID: uint16(x[0]), VersionMajor: int(x[1]), VersionMinor: int(x[2] >> 11), ObjectPosition: int(x[2] >> 8 & 7),
			CommandType: pd.CommandType(x[2] >> 6 & 3), Reserved: x[2], Command: pd.Command(x[2] & 0x1F),
		}.Encode())
	}},
	{"VDO", "VDO(a, 0, 0, b)", numbers{halfword, 1<<15 - 1}, func(x numbers) uint32 { return uint32(pd.UnstructuredVDMHeader(uint16(x[0]), uint16(x[1]))) }},
	{"VDO_SVDM_TYPE", "VDO_SVDM_TYPE", numbers{one}, func(numbers) uint32 { return uint32(pd.VDMHeaderFields{}.Encode()) }},
	{"VDO_SVDM_VERS", "VDO_SVDM_VERS(a)", numbers{twoBits}, func(x numbers) uint32 { return structured(pd.VDMHeaderFields{VersionMajor: int(x[0])}) }},
	{"VDO_OPOS", "VDO_OPOS(a)", numbers{three}, func(x numbers) uint32 { return structured(pd.VDMHeaderFields{ObjectPosition: int(x[0])}) }},
	{"VDO_CMDT", "VDO_CMDT(a)", numbers{twoBits}, func(x numbers) uint32 {
		return structured(pd.VDMHeaderFields{CommandType: pd.CommandType(x[0])})
	}},
	{"VDO_CMD_VENDOR", "VDO_CMD_VENDOR(a)", numbers{nibble}, func(x numbers) uint32 { return structured(pd.VDMHeaderFields{Command: pd.Command(16 + x[0])}) }},
	{"PD_VDO_VID", "PD_VDO_VID(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.VDMHeader(x[0]).SVID()) }},
	{"PD_VDO_SVDM", "PD_VDO_SVDM(a)", numbers{anyWord}, func(x numbers) uint32 { return number(pd.VDMHeader(x[0]).Structured()) }},
	{"PD_VDO_SVDM_VER", "PD_VDO_SVDM_VER(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.VDMHeader(x[0]).VersionMajor()) }},
	{"PD_VDO_OPOS", "PD_VDO_OPOS(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.VDMHeader(x[0]).ObjectPosition()) }},
	{"PD_VDO_CMD", "PD_VDO_CMD(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.VDMHeader(x[0]).Command()) }},
	{"PD_VDO_CMDT", "PD_VDO_CMDT(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.VDMHeader(x[0]).CommandType()) }},

	// pd_vdo.h: identity.
	{"VDO_IDH", "VDO_IDH(a, b, c, d, e, f, g)", numbers{one, one, three, one, three, twoBits, halfword}, func(x numbers) uint32 {
		return uint32(pd.IDHeaderFields{
			USBHost: on(x[0]), USBDevice: on(x[1]), Product: uint8(x[2]), Modal: on(x[3]), DFP: pd.DFPType(x[4]),
			Connector: pd.ConnectorType(x[5]), VID: uint16(x[6]),
		}.Encode())
	}},
	{"PD_IDH_PTYPE", "PD_IDH_PTYPE(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.IDHeaderVDO(x[0]).Fields().Product) }},
	{"PD_IDH_VID", "PD_IDH_VID(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.IDHeaderVDO(x[0]).Fields().VID) }},
	{"PD_IDH_MODAL_SUPP", "PD_IDH_MODAL_SUPP(a) != 0", numbers{anyWord}, func(x numbers) uint32 { return number(pd.IDHeaderVDO(x[0]).Fields().Modal) }},
	{"PD_IDH_DFP_PTYPE", "PD_IDH_DFP_PTYPE(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.IDHeaderVDO(x[0]).Fields().DFP) }},
	{"PD_IDH_CONN_TYPE", "PD_IDH_CONN_TYPE(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.IDHeaderVDO(x[0]).Fields().Connector) }},
	{"PD_CSTAT_XID", "PD_CSTAT_XID(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.CertStatVDO(x[0])) }},
	{"VDO_CERT", "VDO_CERT(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.CertStatVDO(x[0])) }},
	{"VDO_PRODUCT", "VDO_PRODUCT(a, b)", numbers{halfword, halfword}, func(x numbers) uint32 { return uint32(pd.NewProductVDO(uint16(x[0]), uint16(x[1]))) }},
	{"PD_PRODUCT_PID", "PD_PRODUCT_PID(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.ProductVDO(x[0]).PID()) }},
	{"PD_VDO_UFP_DEVCAP", "PD_VDO_UFP_DEVCAP(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.UFPVDO(x[0]).Fields().DeviceCapability) }},
	{"VDO_UFP", "VDO_UFP(a, b, c, d, e, f, g, h)", numbers{three, nibble, twoBits, three, one, one, three, three}, func(x numbers) uint32 {
		return uint32(pd.UFPFields{
			Version: int(x[0]), DeviceCapability: int(x[1]), LegacyConnector: int(x[2]), VCONNPower: int(x[3]),
			VCONNRequired: on(x[4]), VBUSNotRequired: on(x[5]), AlternateModes: int(x[6]), Speed: int(x[7]),
		}.Encode())
	}},
	{"PD_VDO_DFP_HOSTCAP", "PD_VDO_DFP_HOSTCAP(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.DFPVDO(x[0]).Fields().HostCapability) }},
	{"VDO_DFP", "VDO_DFP(a, b, c, d)", numbers{three, three, twoBits, fiveBits}, func(x numbers) uint32 {
		return uint32(pd.DFPFields{Version: int(x[0]), HostCapability: int(x[1]), LegacyConnector: int(x[2]), PortNumber: int(x[3])}.Encode())
	}},
	{"VDO_SVID", "VDO_SVID(a, b)", numbers{halfword, halfword}, func(x numbers) uint32 { return uint32(pd.NewSVIDsVDO(uint16(x[0]), uint16(x[1]))) }},
	{"PD_VDO_SVID_SVID0", "PD_VDO_SVID_SVID0(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.SVIDsVDO(x[0]).SVIDs()[0]) }},
	{"PD_VDO_SVID_SVID1", "PD_VDO_SVID_SVID1(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.SVIDsVDO(x[0]).SVIDs()[1]) }},

	// pd_vdo.h: cables. The macros of R2.0 cut versions and latency to three bits.
	{"VDO_CABLE", "VDO_CABLE(a, b, c, d, e, f, g, h, i, j, k, l, m)", numbers{three, three, twoBits, three, twoBits, one, one, one, one, twoBits, one, one, three}, func(x numbers) uint32 {
		return uint32(pd.R20CableFields{
			HardwareVersion: int(x[0]), FirmwareVersion: int(x[1]), Plug: int(x[2]), Latency: int(x[3]), Termination: int(x[4]),
			Directionality: int(x[5]<<3 | x[6]<<2 | x[7]<<1 | x[8]), Current: int(x[9]), VBUSThrough: on(x[10]),
			FarPlugController: on(x[11]), Signalling: int(x[12]),
		}.Encode())
	}},
	{"VDO_PCABLE", "VDO_PCABLE(a, b, c, d, e, f, g, h, i)", numbers{nibble, nibble, three, twoBits, nibble, twoBits, twoBits, twoBits, three}, func(x numbers) uint32 {
		return passiveCableWith(x, false)
	}},
	{"VDO_ACABLE1", "VDO_ACABLE1(a, b, c, d, e, f, g, h, i, j, k, l, m)", numbers{nibble, nibble, three, twoBits, nibble, twoBits, twoBits, one, one, twoBits, one, one, three}, activeCable1With},
	{"VDO_TYPEC_CABLE_TYPE", "VDO_TYPEC_CABLE_TYPE(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.PassiveCableVDO(x[0]).Fields().Plug) }},
	{"VDO_ACABLE2", "VDO_ACABLE2(a, b, c, d, e, f, g, h, i, j, k, l, m)", numbers{octet, octet, three, one, one, one, one, twoBits, one, one, one, one, one}, func(x numbers) uint32 {
		return activeCable2With(x, false)
	}},
	{"VDO_AMA", "VDO_AMA(a, b, c, d, e, f, g, h, i, j)", numbers{three, three, one, one, one, one, three, one, one, three}, func(x numbers) uint32 {
		return uint32(pd.AMAFields{
			HardwareVersion: int(x[0]), FirmwareVersion: int(x[1]), Directionality: int(x[2]<<3 | x[3]<<2 | x[4]<<1 | x[5]),
			VCONNPower: int(x[6]), VCONNRequired: on(x[7]), VBUSRequired: on(x[8]), Signalling: int(x[9]),
		}.Encode())
	}},
	{"PD_VDO_AMA_VCONN_REQ", "PD_VDO_AMA_VCONN_REQ(a)", numbers{anyWord}, func(x numbers) uint32 { return number(pd.AMAVDO(x[0]).Fields().VCONNRequired) }},
	{"PD_VDO_AMA_VBUS_REQ", "PD_VDO_AMA_VBUS_REQ(a)", numbers{anyWord}, func(x numbers) uint32 { return number(pd.AMAVDO(x[0]).Fields().VBUSRequired) }},
	{"VDO_VPD", "VDO_VPD(a, b, c, d, e, f, g, h)", numbers{nibble, nibble, three, twoBits, one, sixBits, sixBits, one}, func(x numbers) uint32 {
		return uint32(pd.VPDFields{
			HardwareVersion: int(x[0]), FirmwareVersion: int(x[1]), VDOVersion: int(x[2]), MaxVBUS: int(x[3]),
			ChargeThrough5A: on(x[4]), VBUSMilliohms: int(2 * x[5]), GroundMilliohms: int(x[6]), ChargeThrough: on(x[7]),
		}.Encode())
	}},

	// pd_ado.h and pd_bdo.h.
	{"usb_pd_ado_type", "usb_pd_ado_type(a)", numbers{anyWord}, alertByte},
	{"usb_pd_ado_fixed_batt", "usb_pd_ado_fixed_batt(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.ADO(x[0]).Fields().FixedBatteries) }},
	{"usb_pd_ado_hot_swap_batt", "usb_pd_ado_hot_swap_batt(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.ADO(x[0]).Fields().HotSwappableBatteries) }},
	{"BDO_MODE_MASK", "BDO_MODE_MASK(a)", numbers{anyWord}, func(x numbers) uint32 { return uint32(pd.BISTFields{Mode: pd.BDO(x[0]).Fields().Mode}.Encode()) }},
}
