package pd

// SinkPDO is a supply object as a sink sends it: what it needs. Kinds are coded as in
// [PDO]; the fields differ (USB PD R3.2 V1.1, tables 6.17 to 6.22).
type SinkPDO uint32

// Kind is the kind of the object.
func (p SinkPDO) Kind() PDOKind { return kindOf(uint32(p)) }

// FastRoleSwapCurrent is what the old source needs at 5 V after a Fast Role Swap
// (USB PD R3.2 V1.1, table 6.17).
type FastRoleSwapCurrent uint8

// The codes of the field, bits 24 and 23.
const (
	FRSNone    FastRoleSwapCurrent = iota // no Fast Role Swap
	FRSDefault                            // default USB current
	FRS1500                               // 1.5 A
	FRS3000                               // 3 A
)

// SinkFixedSupply is a fixed voltage a sink needs (USB PD R3.2 V1.1, table 6.17).
//
//	29     Dual-Role Power          these and the bits to 20 only in the first object
//	28     Higher Capability
//	27     Unconstrained Power
//	26     USB Communications Capable
//	25     Dual-Role Data
//	24-23  Fast Role Swap required current
//	22-20  reserved
//	19-10  Voltage, 50 mV
//	9-0    Operational Current, 10 mA
type SinkFixedSupply struct {
	DualRolePower       bool                // bit 29
	HigherCapability    bool                // bit 28
	UnconstrainedPower  bool                // bit 27
	USBCommunications   bool                // bit 26
	DualRoleData        bool                // bit 25
	FastRoleSwapCurrent FastRoleSwapCurrent // bits 24-23
	Reserved            uint32              // reserved bits, in place
	Voltage             Millivolts          // bits 19-10, 50 mV
	OperatingCurrent    Milliamps           // bits 9-0, 10 mA
}

const sinkFixedReserved = 0b111 << 20

// Fixed is the object as a fixed supply; ok is false for every other kind.
func (p SinkPDO) Fixed() (f SinkFixedSupply, ok bool) {
	w := uint32(p)
	return SinkFixedSupply{
		DualRolePower:       bit(w, 29),
		HigherCapability:    bit(w, 28),
		UnconstrainedPower:  bit(w, 27),
		USBCommunications:   bit(w, 26),
		DualRoleData:        bit(w, 25),
		FastRoleSwapCurrent: FastRoleSwapCurrent(bits(w, 24, 23)),
		Reserved:            w & sinkFixedReserved,
		Voltage:             Millivolts(bits(w, 19, 10)) * unitVoltage,
		OperatingCurrent:    Milliamps(bits(w, 9, 0)) * unitCurrent,
	}, p.Kind() == KindFixed
}

// Encode puts the object together.
func (f SinkFixedSupply) Encode() SinkPDO {
	return SinkPDO(codeFixed |
		flag(f.DualRolePower, 29) |
		flag(f.HigherCapability, 28) |
		flag(f.UnconstrainedPower, 27) |
		flag(f.USBCommunications, 26) |
		flag(f.DualRoleData, 25) |
		put(int(f.FastRoleSwapCurrent), 24, 23) |
		f.Reserved&sinkFixedReserved |
		put(int(f.Voltage/unitVoltage), 19, 10) |
		put(int(f.OperatingCurrent/unitCurrent), 9, 0))
}

// SinkVariableSupply is a variable supply a sink needs (USB PD R3.2 V1.1, table 6.18),
// laid out as [VariableSupply] with the operational current.
type SinkVariableSupply struct {
	MaxVoltage       Millivolts // bits 29-20, 50 mV
	MinVoltage       Millivolts // bits 19-10, 50 mV
	OperatingCurrent Milliamps  // bits 9-0, 10 mA
}

// Variable is the object as a variable supply; ok is false for every other kind.
func (p SinkPDO) Variable() (v SinkVariableSupply, ok bool) {
	s, ok := PDO(p).Variable()
	return SinkVariableSupply{s.MaxVoltage, s.MinVoltage, s.MaxCurrent}, ok
}

// Encode puts the object together.
func (v SinkVariableSupply) Encode() SinkPDO {
	return SinkPDO(VariableSupply{v.MaxVoltage, v.MinVoltage, v.OperatingCurrent}.Encode())
}

// SinkBatterySupply is a battery supply a sink needs (USB PD R3.2 V1.1, table 6.19), laid
// out as [BatterySupply] with the operational power.
type SinkBatterySupply struct {
	MaxVoltage     Millivolts // bits 29-20, 50 mV
	MinVoltage     Millivolts // bits 19-10, 50 mV
	OperatingPower Milliwatts // bits 9-0, 250 mW
}

// Battery is the object as a battery; ok is false for every other kind.
func (p SinkPDO) Battery() (b SinkBatterySupply, ok bool) {
	s, ok := PDO(p).Battery()
	return SinkBatterySupply{s.MaxVoltage, s.MinVoltage, s.MaxPower}, ok
}

// Encode puts the object together.
func (b SinkBatterySupply) Encode() SinkPDO {
	return SinkPDO(BatterySupply{b.MaxVoltage, b.MinVoltage, b.OperatingPower}.Encode())
}

// SinkPPSSupply is a programmable supply a sink can use (USB PD R3.2 V1.1, table 6.20).
//
//	27-25  reserved
//	24-17  Maximum Voltage, 100 mV
//	16     reserved
//	15-8   Minimum Voltage, 100 mV
//	7      reserved
//	6-0    Maximum Current, 50 mA
type SinkPPSSupply struct {
	Reserved   uint32     // reserved bits, in place
	MaxVoltage Millivolts // bits 24-17, 100 mV
	MinVoltage Millivolts // bits 15-8, 100 mV
	MaxCurrent Milliamps  // bits 6-0, 50 mA
}

const sinkPPSReserved = 0b111<<25 | 1<<16 | 1<<7

// PPS is the object as a programmable supply; ok is false for every other kind.
func (p SinkPDO) PPS() (s SinkPPSSupply, ok bool) {
	w := uint32(p)
	return SinkPPSSupply{
		Reserved:   w & sinkPPSReserved,
		MaxVoltage: Millivolts(bits(w, 24, 17)) * unitRange,
		MinVoltage: Millivolts(bits(w, 15, 8)) * unitRange,
		MaxCurrent: Milliamps(bits(w, 6, 0)) * unitPPSCurrent,
	}, p.Kind() == KindPPS
}

// Encode puts the object together.
func (s SinkPPSSupply) Encode() SinkPDO {
	return SinkPDO(codePPS |
		s.Reserved&sinkPPSReserved |
		put(int(s.MaxVoltage/unitRange), 24, 17) |
		put(int(s.MinVoltage/unitRange), 15, 8) |
		put(int(s.MaxCurrent/unitPPSCurrent), 6, 0))
}

// SinkSPRAVSSupply is an SPR adjustable supply a sink can use (USB PD R3.2 V1.1, table
// 6.21).
//
//	27-20  reserved
//	19-10  Maximum Current for 9 to 15 V, 10 mA
//	9-0    Maximum Current for 15 to 20 V, 10 mA
type SinkSPRAVSSupply struct {
	Reserved      uint32    // reserved bits, in place
	MaxCurrent15V Milliamps // bits 19-10, 10 mA
	MaxCurrent20V Milliamps // bits 9-0, 10 mA
}

const sinkSPRAVSReserved = 0xFF << 20

// SPRAVS is the object as an SPR adjustable supply; ok is false for every other kind.
func (p SinkPDO) SPRAVS() (s SinkSPRAVSSupply, ok bool) {
	w := uint32(p)
	return SinkSPRAVSSupply{
		Reserved:      w & sinkSPRAVSReserved,
		MaxCurrent15V: Milliamps(bits(w, 19, 10)) * unitCurrent,
		MaxCurrent20V: Milliamps(bits(w, 9, 0)) * unitCurrent,
	}, p.Kind() == KindSPRAVS
}

// Encode puts the object together.
func (s SinkSPRAVSSupply) Encode() SinkPDO {
	return SinkPDO(codeSPRAVS |
		s.Reserved&sinkSPRAVSReserved |
		put(int(s.MaxCurrent15V/unitCurrent), 19, 10) |
		put(int(s.MaxCurrent20V/unitCurrent), 9, 0))
}

// SinkEPRAVSSupply is an EPR adjustable supply a sink can use (USB PD R3.2 V1.1, table
// 6.22).
//
//	27-26  reserved
//	25-17  Maximum Voltage, 100 mV
//	16     reserved
//	15-8   Minimum Voltage, 100 mV
//	7-0    PDP, 1 W
type SinkEPRAVSSupply struct {
	Reserved   uint32     // reserved bits, in place
	MaxVoltage Millivolts // bits 25-17, 100 mV
	MinVoltage Millivolts // bits 15-8, 100 mV
	PDP        Watts      // bits 7-0, 1 W
}

const sinkEPRAVSReserved = 0b11<<26 | 1<<16

// EPRAVS is the object as an EPR adjustable supply; ok is false for every other kind.
func (p SinkPDO) EPRAVS() (s SinkEPRAVSSupply, ok bool) {
	w := uint32(p)
	return SinkEPRAVSSupply{
		Reserved:   w & sinkEPRAVSReserved,
		MaxVoltage: Millivolts(bits(w, 25, 17)) * unitRange,
		MinVoltage: Millivolts(bits(w, 15, 8)) * unitRange,
		PDP:        Watts(bits(w, 7, 0)),
	}, p.Kind() == KindEPRAVS
}

// Encode puts the object together.
func (s SinkEPRAVSSupply) Encode() SinkPDO {
	return SinkPDO(codeEPRAVS |
		s.Reserved&sinkEPRAVSReserved |
		put(int(s.MaxVoltage/unitRange), 25, 17) |
		put(int(s.MinVoltage/unitRange), 15, 8) |
		put(int(s.PDP), 7, 0))
}
