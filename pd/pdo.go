package pd

// PDO is a supply object as a source offers it. [SinkPDO] is the one a sink sends.
//
// Bits 31-30 tell the kind, bits 29-28 the kind of an augmented object (USB PD R3.2 V1.1,
// tables 6.7 and 6.8). Tables 6.11 and 6.12 of the same document print the codes of
// battery and variable the other way round; its table 6.7, its running text, its sink
// tables and USB PD R3.0 V1.1 agree on the ones used here.
//
// The views take an object apart with every bit kept; their Encode is the exact inverse.
// Encoding rounds down to the unit of the field, and a value too large for its field
// loses its upper bits.
type PDO uint32 //nolint:revive // the standard's own abbreviation

// PDOKind is the kind of a supply object. The zero value is unknown.
type PDOKind uint8 //nolint:revive // goes with PDO

// The kinds of supply objects.
const (
	KindFixed    PDOKind = iota + 1 // 00b
	KindBattery                     // 01b
	KindVariable                    // 10b
	KindPPS                         // 1100b, SPR programmable power supply
	KindEPRAVS                      // 1101b, EPR adjustable voltage supply
	KindSPRAVS                      // 1110b, SPR adjustable voltage supply
	KindReserved                    // 1111b
)

var pdoKindNames = [...]string{
	KindFixed:    "fixed",
	KindBattery:  "battery",
	KindVariable: "variable",
	KindPPS:      "pps",
	KindEPRAVS:   "epr-avs",
	KindSPRAVS:   "spr-avs",
	KindReserved: "reserved",
}

// String gives "fixed", "battery", "variable", "pps", "epr-avs", "spr-avs" or "reserved".
func (k PDOKind) String() string {
	if k == 0 || int(k) >= len(pdoKindNames) {
		return "unknown"
	}
	return pdoKindNames[k]
}

// The codes in bits 31 to 28 of each kind, as they are encoded.
const (
	codeFixed    = 0b0000 << 28
	codeBattery  = 0b0100 << 28
	codeVariable = 0b1000 << 28
	codePPS      = 0b1100 << 28
	codeEPRAVS   = 0b1101 << 28
	codeSPRAVS   = 0b1110 << 28
)

func kindOf(w uint32) PDOKind {
	switch bits(w, 31, 30) {
	case 0b00:
		return KindFixed
	case 0b01:
		return KindBattery
	case 0b10:
		return KindVariable
	}
	return KindPPS + PDOKind(bits(w, 29, 28))
}

// Kind is the kind of the object.
func (p PDO) Kind() PDOKind { return kindOf(uint32(p)) }

// FixedSupply is a fixed voltage a source offers (USB PD R3.2 V1.1, table 6.9).
//
//	29     Dual-Role Power          these and the bits to 23 only in the first object
//	28     USB Suspend Supported
//	27     Unconstrained Power
//	26     USB Communications Capable
//	25     Dual-Role Data
//	24     Unchunked Extended Messages Supported (reserved in R2.0, from memory)
//	23     EPR Capable (reserved before R3.1)
//	22     reserved
//	21-20  Peak Current, see [PeakCurrent]
//	19-10  Voltage, 50 mV
//	9-0    Maximum Current, 10 mA
type FixedSupply struct {
	DualRolePower      bool        // bit 29
	USBSuspend         bool        // bit 28
	UnconstrainedPower bool        // bit 27
	USBCommunications  bool        // bit 26
	DualRoleData       bool        // bit 25
	Unchunked          bool        // bit 24
	EPRCapable         bool        // bit 23
	Reserved           uint32      // reserved bits, in place
	PeakCurrent        PeakCurrent // bits 21-20
	Voltage            Millivolts  // bits 19-10, 50 mV
	MaxCurrent         Milliamps   // bits 9-0, 10 mA
}

const fixedReserved = 1 << 22

// Fixed is the object as a fixed supply; ok is false for every other kind.
func (p PDO) Fixed() (f FixedSupply, ok bool) {
	w := uint32(p)
	return FixedSupply{
		DualRolePower:      bit(w, 29),
		USBSuspend:         bit(w, 28),
		UnconstrainedPower: bit(w, 27),
		USBCommunications:  bit(w, 26),
		DualRoleData:       bit(w, 25),
		Unchunked:          bit(w, 24),
		EPRCapable:         bit(w, 23),
		Reserved:           w & fixedReserved,
		PeakCurrent:        PeakCurrent(bits(w, 21, 20)),
		Voltage:            Millivolts(bits(w, 19, 10)) * unitVoltage,
		MaxCurrent:         Milliamps(bits(w, 9, 0)) * unitCurrent,
	}, p.Kind() == KindFixed
}

// Encode puts the object together.
func (f FixedSupply) Encode() PDO {
	return PDO(codeFixed |
		flag(f.DualRolePower, 29) |
		flag(f.USBSuspend, 28) |
		flag(f.UnconstrainedPower, 27) |
		flag(f.USBCommunications, 26) |
		flag(f.DualRoleData, 25) |
		flag(f.Unchunked, 24) |
		flag(f.EPRCapable, 23) |
		f.Reserved&fixedReserved |
		put(int(f.PeakCurrent), 21, 20) |
		put(int(f.Voltage/unitVoltage), 19, 10) |
		put(int(f.MaxCurrent/unitCurrent), 9, 0))
}

// VariableSupply is a supply without close regulation (USB PD R3.2 V1.1, table 6.11). Its
// voltages are absolute limits.
//
//	29-20  Maximum Voltage, 50 mV
//	19-10  Minimum Voltage, 50 mV
//	9-0    Maximum Current, 10 mA
type VariableSupply struct {
	MaxVoltage Millivolts // bits 29-20, 50 mV
	MinVoltage Millivolts // bits 19-10, 50 mV
	MaxCurrent Milliamps  // bits 9-0, 10 mA
}

// Variable is the object as a variable supply; ok is false for every other kind.
func (p PDO) Variable() (v VariableSupply, ok bool) {
	w := uint32(p)
	return VariableSupply{
		MaxVoltage: Millivolts(bits(w, 29, 20)) * unitVoltage,
		MinVoltage: Millivolts(bits(w, 19, 10)) * unitVoltage,
		MaxCurrent: Milliamps(bits(w, 9, 0)) * unitCurrent,
	}, p.Kind() == KindVariable
}

// Encode puts the object together.
func (v VariableSupply) Encode() PDO {
	return PDO(codeVariable |
		put(int(v.MaxVoltage/unitVoltage), 29, 20) |
		put(int(v.MinVoltage/unitVoltage), 19, 10) |
		put(int(v.MaxCurrent/unitCurrent), 9, 0))
}

// BatterySupply is a battery on the bus (USB PD R3.2 V1.1, table 6.12). Its voltages are
// absolute limits.
//
//	29-20  Maximum Voltage, 50 mV
//	19-10  Minimum Voltage, 50 mV
//	9-0    Maximum Power, 250 mW
type BatterySupply struct {
	MaxVoltage Millivolts // bits 29-20, 50 mV
	MinVoltage Millivolts // bits 19-10, 50 mV
	MaxPower   Milliwatts // bits 9-0, 250 mW
}

// Battery is the object as a battery; ok is false for every other kind.
func (p PDO) Battery() (b BatterySupply, ok bool) {
	w := uint32(p)
	return BatterySupply{
		MaxVoltage: Millivolts(bits(w, 29, 20)) * unitVoltage,
		MinVoltage: Millivolts(bits(w, 19, 10)) * unitVoltage,
		MaxPower:   Milliwatts(bits(w, 9, 0)) * unitPower,
	}, p.Kind() == KindBattery
}

// Encode puts the object together.
func (b BatterySupply) Encode() PDO {
	return PDO(codeBattery |
		put(int(b.MaxVoltage/unitVoltage), 29, 20) |
		put(int(b.MinVoltage/unitVoltage), 19, 10) |
		put(int(b.MaxPower/unitPower), 9, 0))
}
