package pd

import "time"

// OverloadField is one of the three peak current fields of Source_Capabilities_Extended and
// the load characteristics of Sink_Capabilities_Extended (USB PD R3.2 V1.1, tables 6.54 and
// 6.65).
//
//	15     source: VBUS droops 5 % more; sink: tolerates the droop
//	14-11  duty cycle, 5 %
//	10-5   period, 20 ms
//	4-0    overload, 10 %; more than 25 is 250 %
type OverloadField uint16

const (
	overloadPercentUnit = 10
	overloadLastCode    = 25
	overloadDutyUnit    = 5
)

// Percent is the overload on top of the operating current, 0 to 250.
func (o OverloadField) Percent() int {
	return min(bits(uint32(o), 4, 0), overloadLastCode) * overloadPercentUnit
}

// Period is the period of the overload.
func (o OverloadField) Period() time.Duration {
	return time.Duration(bits(uint32(o), 10, 5)) * overloadPeriod
}

// DutyPercent is the share of the period that the overload lasts.
func (o OverloadField) DutyPercent() int { return bits(uint32(o), 14, 11) * overloadDutyUnit }

// Droop is bit 15.
func (o OverloadField) Droop() bool { return bit(uint32(o), 15) }

// SCEDB is the Source_Capabilities_Extended block (USB PD R3.2 V1.1, table 6.54).
//
//	0-1    VID, FFFFh none
//	2-3    PID
//	4-7    XID, 0 none
//	8      firmware version
//	9      hardware version
//	10     voltage regulation: bits 1-0 load step slew, bit 2 load step size
//	11     hold-up time, ms; 0 not supported
//	12     compliance: bit 0 LPS, 1 PS1, 2 PS2
//	13     touch current: bit 0 low, 1 ground pin, 2 ground pin is protective earth
//	14-19  peak currents 1 to 3
//	20     touch temperature: 0 IEC 60950-1, 1 IEC 62368-1 TS1, 2 TS2
//	21     inputs: bit 0 external, 1 external unconstrained, 2 battery
//	22     bits 3-0 fixed batteries, bits 7-4 slots for hot-swappable ones
//	23     SPR PDP rating, W, bits 6-0
//	24     EPR PDP rating, W
//
// USB PD R3.0 V1.1 ends after byte 23. The bytes from 10 to 13 and 20 to 22 are raw.
type SCEDB struct {
	Size              int              // bytes of the layout present
	VID, PID          uint16           // bytes 0-1; FFFFh none. Bytes 2-3
	XID               uint32           // bytes 4-7; 0 none
	FirmwareVersion   uint8            // byte 8
	HardwareVersion   uint8            // byte 9
	VoltageRegulation uint8            // byte 10; raw, see LoadStepPercent
	HoldUpMs          uint8            // byte 11, ms; 0 not supported
	Compliance        uint8            // byte 12; bit 0 LPS, 1 PS1, 2 PS2
	TouchCurrent      uint8            // byte 13; bit 0 low, 1 ground pin, 2 protective earth
	PeakCurrents      [3]OverloadField // bytes 14-19
	TouchTemperature  uint8            // byte 20
	Inputs            uint8            // byte 21; bit 0 external, 1 unconstrained, 2 battery
	Batteries         uint8            // byte 22; bits 3-0 fixed, bits 7-4 slots
	SPRPDP            Watts            // byte 23, bits 6-0, 1 W
	SPRPDPReserved    uint8            // bit 7 of byte 23, in place
	EPRPDP            Watts            // byte 24, 1 W; 0 where the block ends before it, or the source is SPR only
}

const (
	scedbBytes = 25
	scedbLeast = 24 // USB PD R3.0 V1.1
	pdpTopBit  = 1 << 7
)

// LoadStepSlewMilliampsPerMicrosecond is the load step the source follows: 150 or 500
// mA/µs; ok is false for a reserved code.
func (s SCEDB) LoadStepSlewMilliampsPerMicrosecond() (slew int, ok bool) {
	return loadStepSlew(s.VoltageRegulation)
}

func loadStepSlew(code uint8) (slew int, ok bool) {
	switch code & 0b11 {
	case 0:
		return 150, true
	case 1:
		return 500, true
	default:
		return 0, false
	}
}

// LoadStepPercent is the size of that step, in percent of the operating current.
func (s SCEDB) LoadStepPercent() int {
	if bit(uint32(s.VoltageRegulation), 2) {
		return 90
	}
	return 25
}

// ParseSCEDB reads the block; ok is false where b is shorter than in any revision.
func ParseSCEDB(b []byte) (s SCEDB, ok bool) {
	k, ok := newBlock(b, scedbLeast, scedbBytes)
	if !ok {
		return SCEDB{}, false
	}
	return SCEDB{
		Size:              k.size,
		VID:               uint16(k.wordAt(0)),
		PID:               uint16(k.wordAt(2)),
		XID:               k.dwordAt(4),
		FirmwareVersion:   k.b[8],
		HardwareVersion:   k.b[9],
		VoltageRegulation: k.b[10],
		HoldUpMs:          k.b[11],
		Compliance:        k.b[12],
		TouchCurrent:      k.b[13],
		PeakCurrents: [3]OverloadField{
			OverloadField(k.wordAt(14)), OverloadField(k.wordAt(16)), OverloadField(k.wordAt(18)),
		},
		TouchTemperature: k.b[20],
		Inputs:           k.b[21],
		Batteries:        k.b[22],
		SPRPDP:           Watts(k.b[23] &^ pdpTopBit),
		SPRPDPReserved:   k.b[23] & pdpTopBit,
		EPRPDP:           Watts(k.b[24]),
	}, true
}

// AppendTo appends the Size bytes of the block to dst.
func (s SCEDB) AppendTo(dst []byte) []byte {
	var k block
	k.setWord(0, uint32(s.VID))
	k.setWord(2, uint32(s.PID))
	k.setDword(4, s.XID)
	k.setByte(8, uint32(s.FirmwareVersion))
	k.setByte(9, uint32(s.HardwareVersion))
	k.setByte(10, uint32(s.VoltageRegulation))
	k.setByte(11, uint32(s.HoldUpMs))
	k.setByte(12, uint32(s.Compliance))
	k.setByte(13, uint32(s.TouchCurrent))
	for i, o := range s.PeakCurrents {
		k.setWord(14+2*i, uint32(o))
	}
	k.setByte(20, uint32(s.TouchTemperature))
	k.setByte(21, uint32(s.Inputs))
	k.setByte(22, uint32(s.Batteries))
	k.setByte(23, put(int(s.SPRPDP), 6, 0)|uint32(s.SPRPDPReserved&pdpTopBit))
	k.setByte(24, put(int(s.EPRPDP), 7, 0))
	return k.appendTo(dst, s.Size, scedbBytes)
}

// SKEDB is the Sink_Capabilities_Extended block (USB PD R3.2 V1.1, table 6.65).
//
//	0-1    VID
//	2-3    PID
//	4-7    XID
//	8      firmware version
//	9      hardware version
//	10     version of the block, 1
//	11     load step: bits 1-0 slew
//	12-13  load characteristics
//	14     compliance required
//	15     touch temperature: 0 not applicable, 1 IEC 60950-1, 2 TS1, 3 TS2
//	16     batteries
//	17     modes: bit 0 PPS, 1 VBUS powered, 2 AC, 3 battery, 4 endless battery, 5 AVS
//	18-20  SPR minimum, operational and maximum PDP, W, bits 6-0
//	21-23  EPR minimum, operational and maximum PDP, W
//
// Later versions of R3.0 ended after byte 20 (from memory).
type SKEDB struct {
	Size                  int           // bytes of the layout present
	VID, PID              uint16        // bytes 0-1, bytes 2-3
	XID                   uint32        // bytes 4-7
	FirmwareVersion       uint8         // byte 8
	HardwareVersion       uint8         // byte 9
	Version               uint8         // byte 10; 1
	LoadStep              uint8         // byte 11; bits 1-0 slew
	LoadCharacteristics   OverloadField // bytes 12-13
	Compliance            uint8         // byte 14
	TouchTemperature      uint8         // byte 15
	Batteries             uint8         // byte 16; bits 3-0 fixed, bits 7-4 slots
	Modes                 uint8         // byte 17; raw
	SPRMin, SPROp, SPRMax Watts         // bytes 18, 19 and 20, bits 6-0, 1 W
	SPRReserved           [3]uint8      // bit 7 of bytes 18 to 20, in place
	EPRMin, EPROp, EPRMax Watts         // bytes 21, 22 and 23, 1 W
}

const (
	skedbBytes = 24
	skedbLeast = 21
)

// LoadStepSlewMilliampsPerMicrosecond is the load step the sink makes: 150 or 500 mA/µs;
// ok is false for a reserved code.
func (s SKEDB) LoadStepSlewMilliampsPerMicrosecond() (slew int, ok bool) {
	return loadStepSlew(s.LoadStep)
}

// ParseSKEDB reads the block; ok is false where b is shorter than in any revision.
func ParseSKEDB(b []byte) (s SKEDB, ok bool) {
	k, ok := newBlock(b, skedbLeast, skedbBytes)
	if !ok {
		return SKEDB{}, false
	}
	return SKEDB{
		Size:                k.size,
		VID:                 uint16(k.wordAt(0)),
		PID:                 uint16(k.wordAt(2)),
		XID:                 k.dwordAt(4),
		FirmwareVersion:     k.b[8],
		HardwareVersion:     k.b[9],
		Version:             k.b[10],
		LoadStep:            k.b[11],
		LoadCharacteristics: OverloadField(k.wordAt(12)),
		Compliance:          k.b[14],
		TouchTemperature:    k.b[15],
		Batteries:           k.b[16],
		Modes:               k.b[17],
		SPRMin:              Watts(k.b[18] &^ pdpTopBit),
		SPROp:               Watts(k.b[19] &^ pdpTopBit),
		SPRMax:              Watts(k.b[20] &^ pdpTopBit),
		SPRReserved:         [3]uint8{k.b[18] & pdpTopBit, k.b[19] & pdpTopBit, k.b[20] & pdpTopBit},
		EPRMin:              Watts(k.b[21]),
		EPROp:               Watts(k.b[22]),
		EPRMax:              Watts(k.b[23]),
	}, true
}

// AppendTo appends the Size bytes of the block to dst.
func (s SKEDB) AppendTo(dst []byte) []byte {
	var k block
	k.setWord(0, uint32(s.VID))
	k.setWord(2, uint32(s.PID))
	k.setDword(4, s.XID)
	k.setByte(8, uint32(s.FirmwareVersion))
	k.setByte(9, uint32(s.HardwareVersion))
	k.setByte(10, uint32(s.Version))
	k.setByte(11, uint32(s.LoadStep))
	k.setWord(12, uint32(s.LoadCharacteristics))
	k.setByte(14, uint32(s.Compliance))
	k.setByte(15, uint32(s.TouchTemperature))
	k.setByte(16, uint32(s.Batteries))
	k.setByte(17, uint32(s.Modes))
	for i, p := range []Watts{s.SPRMin, s.SPROp, s.SPRMax} {
		k.setByte(18+i, put(int(p), 6, 0)|uint32(s.SPRReserved[i]&pdpTopBit))
	}
	for i, p := range []Watts{s.EPRMin, s.EPROp, s.EPRMax} {
		k.setByte(21+i, put(int(p), 7, 0))
	}
	return k.appendTo(dst, s.Size, skedbBytes)
}
