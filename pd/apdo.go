package pd

// PPSSupply is an SPR programmable power supply (USB PD R3.2 V1.1, table 6.13).
//
//	27     PPS Power Limited
//	26-25  reserved
//	24-17  Maximum Voltage, 100 mV
//	16     reserved
//	15-8   Minimum Voltage, 100 mV
//	7      reserved
//	6-0    Maximum Current, 50 mA
type PPSSupply struct {
	PowerLimited bool       // bit 27
	Reserved     uint32     // reserved bits, in place
	MaxVoltage   Millivolts // bits 24-17, 100 mV
	MinVoltage   Millivolts // bits 15-8, 100 mV
	MaxCurrent   Milliamps  // bits 6-0, 50 mA
}

const ppsReserved = 0b11<<25 | 1<<16 | 1<<7

// PPS is the object as a programmable supply; ok is false for every other kind.
func (p PDO) PPS() (s PPSSupply, ok bool) {
	w := uint32(p)
	return PPSSupply{
		PowerLimited: bit(w, 27),
		Reserved:     w & ppsReserved,
		MaxVoltage:   Millivolts(bits(w, 24, 17)) * unitRange,
		MinVoltage:   Millivolts(bits(w, 15, 8)) * unitRange,
		MaxCurrent:   Milliamps(bits(w, 6, 0)) * unitPPSCurrent,
	}, p.Kind() == KindPPS
}

// Encode puts the object together.
func (s PPSSupply) Encode() PDO {
	return PDO(codePPS |
		flag(s.PowerLimited, 27) |
		s.Reserved&ppsReserved |
		put(int(s.MaxVoltage/unitRange), 24, 17) |
		put(int(s.MinVoltage/unitRange), 15, 8) |
		put(int(s.MaxCurrent/unitPPSCurrent), 6, 0))
}

// SPRAVSSupply is an SPR adjustable voltage supply (USB PD R3.2 V1.1, table 6.14). It has
// no voltage fields: 9 to 15 V, or to 20 V when the second current is not 0.
//
//	27-26  Peak Current, see [PeakCurrent]
//	25-20  reserved
//	19-10  Maximum Current for 9 to 15 V, 10 mA
//	9-0    Maximum Current for 15 to 20 V, 10 mA
type SPRAVSSupply struct {
	PeakCurrent   PeakCurrent // bits 27-26
	Reserved      uint32      // reserved bits, in place
	MaxCurrent15V Milliamps   // bits 19-10, 10 mA
	MaxCurrent20V Milliamps   // bits 9-0, 10 mA
}

const sprAVSReserved = 0x3F << 20

// SPRAVS is the object as an SPR adjustable supply; ok is false for every other kind.
func (p PDO) SPRAVS() (s SPRAVSSupply, ok bool) {
	w := uint32(p)
	return SPRAVSSupply{
		PeakCurrent:   PeakCurrent(bits(w, 27, 26)),
		Reserved:      w & sprAVSReserved,
		MaxCurrent15V: Milliamps(bits(w, 19, 10)) * unitCurrent,
		MaxCurrent20V: Milliamps(bits(w, 9, 0)) * unitCurrent,
	}, p.Kind() == KindSPRAVS
}

// Encode puts the object together.
func (s SPRAVSSupply) Encode() PDO {
	return PDO(codeSPRAVS |
		put(int(s.PeakCurrent), 27, 26) |
		s.Reserved&sprAVSReserved |
		put(int(s.MaxCurrent15V/unitCurrent), 19, 10) |
		put(int(s.MaxCurrent20V/unitCurrent), 9, 0))
}

// Range is the voltage range of the supply, which its object does not carry: from
// [SPRAVSMinVoltage] to [SPRAVSMaxVoltage], or to [SPRAVSStepVoltage] without a current for
// more.
func (s SPRAVSSupply) Range() (lowest, highest Millivolts) {
	if s.MaxCurrent20V == 0 {
		return SPRAVSMinVoltage, SPRAVSStepVoltage
	}
	return SPRAVSMinVoltage, SPRAVSMaxVoltage
}

// CurrentAt is the current offered at a voltage; ok is false outside the range. At exactly
// 15 V the second current holds where there is one (USB PD R3.2 V1.1, table 10.2, note 5).
func (s SPRAVSSupply) CurrentAt(v Millivolts) (i Milliamps, ok bool) {
	lowest, highest := s.Range()
	switch {
	case v < lowest || v > highest:
		return 0, false
	case v < SPRAVSStepVoltage || highest == SPRAVSStepVoltage:
		return s.MaxCurrent15V, true
	default:
		return s.MaxCurrent20V, true
	}
}

// EPRAVSSupply is an EPR adjustable voltage supply (USB PD R3.2 V1.1, table 6.15).
//
//	27-26  Peak Current, see [PeakCurrent]
//	25-17  Maximum Voltage, 100 mV
//	16     reserved
//	15-8   Minimum Voltage, 100 mV
//	7-0    PDP, 1 W
type EPRAVSSupply struct {
	PeakCurrent PeakCurrent // bits 27-26
	Reserved    uint32      // reserved bits, in place
	MaxVoltage  Millivolts  // bits 25-17, 100 mV
	MinVoltage  Millivolts  // bits 15-8, 100 mV
	PDP         Watts       // bits 7-0, 1 W
}

const eprAVSReserved = 1 << 16

// EPRAVS is the object as an EPR adjustable supply; ok is false for every other kind.
func (p PDO) EPRAVS() (s EPRAVSSupply, ok bool) {
	w := uint32(p)
	return EPRAVSSupply{
		PeakCurrent: PeakCurrent(bits(w, 27, 26)),
		Reserved:    w & eprAVSReserved,
		MaxVoltage:  Millivolts(bits(w, 25, 17)) * unitRange,
		MinVoltage:  Millivolts(bits(w, 15, 8)) * unitRange,
		PDP:         Watts(bits(w, 7, 0)),
	}, p.Kind() == KindEPRAVS
}

// Encode puts the object together.
func (s EPRAVSSupply) Encode() PDO {
	return PDO(codeEPRAVS |
		put(int(s.PeakCurrent), 27, 26) |
		s.Reserved&eprAVSReserved |
		put(int(s.MaxVoltage/unitRange), 25, 17) |
		put(int(s.MinVoltage/unitRange), 15, 8) |
		put(int(s.PDP), 7, 0))
}

// CurrentAt is the current offered at a voltage: PDP / V rounded down to 50 mA, up to 5 A
// (USB PD R3.2 V1.1, sections 6.4.2 and 10.2.3.3); ok is false outside the range.
func (s EPRAVSSupply) CurrentAt(v Millivolts) (i Milliamps, ok bool) {
	if v <= 0 || v < s.MinVoltage || v > s.MaxVoltage {
		return 0, false
	}
	down, _ := currentAt(Milliwatts(s.PDP)*milliwattsPerWatt, v, unitPPSCurrent)
	return down, true
}
