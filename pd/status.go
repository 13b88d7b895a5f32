package pd

import "fmt"

// TemperatureStatus is two bits of the status blocks. The zero value is "not supported",
// as on the wire.
type TemperatureStatus uint8

// The temperature statuses (USB PD R3.2 V1.1, tables 6.55 and 6.62).
const (
	TemperatureNotSupported TemperatureStatus = iota // 00b
	TemperatureNormal                                // 01b
	TemperatureWarning                               // 10b
	TemperatureOver                                  // 11b
)

// String says the status in words.
func (s TemperatureStatus) String() string {
	switch s {
	case TemperatureNotSupported:
		return "not supported"
	case TemperatureNormal:
		return "normal"
	case TemperatureWarning:
		return "warning"
	case TemperatureOver:
		return "over temperature"
	default:
		return fmt.Sprintf("temperature status %d", uint8(s))
	}
}

// SDB is the Status block of a port (USB PD R3.2 V1.1, table 6.55).
//
//	0  internal temperature, °C; 0 not supported, 1 below 2 °C
//	1  present input: bit 1 external power, 2 AC (else DC), 3 battery, 4 internal, no battery
//	2  battery that feeds: bits 3-0 fixed 0 to 3, bits 7-4 hot-swappable 4 to 7
//	3  events: bit 1 OCP, 2 OTP, 3 OVP, 4 current limit (PPS)
//	4  bits 2-1 temperature status
//	5  power limited by: bit 1 cable, 2 other ports, 3 external power, 4 events, 5 temperature
//	6  power state: bits 2-0 state, bits 5-3 indicator
//
// USB PD R3.0 V1.1 ends after byte 4.
type SDB struct {
	Size int // bytes of the layout present

	InternalTemperature uint8 // byte 0, °C; 0 not supported, 1 below 2 °C

	ExternalPower  bool // byte 1, bit 1
	ExternalAC     bool // byte 1, bit 2; DC where false
	InputBattery   bool // byte 1, bit 3
	InternalSource bool // byte 1, bit 4; no battery

	Batteries uint8 // byte 2: bit n is battery n

	OCP          bool // byte 3, bit 1
	OTP          bool // byte 3, bit 2
	OVP          bool // byte 3, bit 3
	CurrentLimit bool // byte 3, bit 4; PPS contract: true CL, false CV

	Temperature TemperatureStatus // byte 4, bits 2-1

	LimitedByCable       bool // byte 5, bit 1
	LimitedByOtherPorts  bool // byte 5, bit 2
	LimitedByInput       bool // byte 5, bit 3
	LimitedByEvents      bool // byte 5, bit 4
	LimitedByTemperature bool // byte 5, bit 5

	PowerState PowerState // byte 6, bits 2-0
	Indicator  uint8      // byte 6, bits 5-3; 0 off, 1 on, 2 blinking, 3 breathing

	Reserved [sdbBytes]byte // reserved bits, in place
}

const (
	sdbBytes = 7
	sdbLeast = 5 // USB PD R3.0 V1.1
)

// sdbReserved are the reserved bits of each byte.
var sdbReserved = [sdbBytes]byte{0x00, 0xE1, 0x00, 0xE1, 0xF9, 0xC1, 0xC0}

// PowerState is the state a host or device says it is in: byte 6, bits 2-0 of the Status
// block (USB PD R3.2 V1.1, table 6.55).
type PowerState uint8

// The power states; 7 is reserved.
const (
	PowerStateNotSupported  PowerState = iota // 0
	PowerStateS0                              // 1, working
	PowerStateModernStandby                   // 2
	PowerStateS3                              // 3, suspended to memory
	PowerStateS4                              // 4, suspended to disk
	PowerStateS5                              // 5, soft off
	PowerStateG3                              // 6, mechanically off
)

// String names the state.
func (s PowerState) String() string {
	names := [...]string{"not supported", "S0", "modern standby", "S3", "S4", "S5", "G3"}
	if int(s) >= len(names) {
		return fmt.Sprintf("reserved state %d", uint8(s))
	}
	return names[s]
}

// ParseSDB reads the Status block of a port; ok is false where b is shorter than in any
// revision.
func ParseSDB(b []byte) (s SDB, ok bool) {
	k, ok := newBlock(b, sdbLeast, sdbBytes)
	if !ok {
		return SDB{}, false
	}
	input, events, limits, state := k.byteAt(1), k.byteAt(3), k.byteAt(5), k.byteAt(6)
	s = SDB{
		Size:                 k.size,
		InternalTemperature:  k.b[0],
		ExternalPower:        bit(input, 1),
		ExternalAC:           bit(input, 2),
		InputBattery:         bit(input, 3),
		InternalSource:       bit(input, 4),
		Batteries:            k.b[2],
		OCP:                  bit(events, 1),
		OTP:                  bit(events, 2),
		OVP:                  bit(events, 3),
		CurrentLimit:         bit(events, 4),
		Temperature:          TemperatureStatus(bits(k.byteAt(4), 2, 1)),
		LimitedByCable:       bit(limits, 1),
		LimitedByOtherPorts:  bit(limits, 2),
		LimitedByInput:       bit(limits, 3),
		LimitedByEvents:      bit(limits, 4),
		LimitedByTemperature: bit(limits, 5),
		PowerState:           PowerState(bits(state, 2, 0)),
		Indicator:            uint8(bits(state, 5, 3)),
	}
	for i, mask := range sdbReserved {
		s.Reserved[i] = k.b[i] & mask
	}
	return s, true
}

// AppendTo appends the Size bytes of the block to dst.
func (s SDB) AppendTo(dst []byte) []byte {
	var k block
	k.setByte(0, uint32(s.InternalTemperature))
	k.setByte(1, flag(s.ExternalPower, 1)|flag(s.ExternalAC, 2)|flag(s.InputBattery, 3)|flag(s.InternalSource, 4))
	k.setByte(2, uint32(s.Batteries))
	k.setByte(3, flag(s.OCP, 1)|flag(s.OTP, 2)|flag(s.OVP, 3)|flag(s.CurrentLimit, 4))
	k.setByte(4, put(int(s.Temperature), 2, 1))
	k.setByte(5, flag(s.LimitedByCable, 1)|flag(s.LimitedByOtherPorts, 2)|flag(s.LimitedByInput, 3)|
		flag(s.LimitedByEvents, 4)|flag(s.LimitedByTemperature, 5))
	k.setByte(6, put(int(s.PowerState), 2, 0)|put(int(s.Indicator), 5, 3))
	for i, mask := range sdbReserved {
		k.setByte(i, uint32(s.Reserved[i]&mask))
	}
	return k.appendTo(dst, s.Size, sdbBytes)
}

// CSDB is the Status block of a cable plug (USB PD R3.2 V1.1, table 6.56).
//
//	0  internal temperature, °C; 0 not supported, 1 below 2 °C
//	1  bit 0 thermal shutdown
type CSDB struct {
	InternalTemperature uint8 // byte 0, °C; 0 not supported, 1 below 2 °C
	ThermalShutdown     bool  // byte 1, bit 0
	Reserved            uint8 // bits 7 to 1 of byte 1, in place
}

const csdbBytes = 2

// ParseCSDB reads the Status block of a cable plug; ok is false where b is shorter.
func ParseCSDB(b []byte) (s CSDB, ok bool) {
	k, ok := newBlock(b, csdbBytes, csdbBytes)
	if !ok {
		return CSDB{}, false
	}
	return CSDB{
		InternalTemperature: k.b[0],
		ThermalShutdown:     bit(k.byteAt(1), 0),
		Reserved:            k.b[1] &^ 1,
	}, true
}

// AppendTo appends the block to dst.
func (s CSDB) AppendTo(dst []byte) []byte {
	return append(dst, s.InternalTemperature, byte(flag(s.ThermalShutdown, 0))|s.Reserved&^1)
}

// PPSSDB is the PPS_Status block (USB PD R3.2 V1.1, table 6.62).
//
//	0-1  output voltage, 20 mV, within 3 %; FFFFh not supported
//	2    output current, 50 mA, within 150 mA; FFh not supported
//	3    bits 2-1 temperature status, bit 3 current limit
type PPSSDB struct {
	RawVoltage   uint16            // bytes 0-1, 20 mV; see Voltage
	RawCurrent   uint8             // byte 2, 50 mA; see Current
	Temperature  TemperatureStatus // byte 3, bits 2-1
	CurrentLimit bool              // byte 3, bit 3
	Reserved     uint8             // reserved bits of byte 3, in place
}

const (
	ppssdbBytes    = 4
	ppssdbReserved = 0xF1

	ppsVoltageUnknown = 0xFFFF
	ppsCurrentUnknown = 0xFF
)

// Voltage is the output voltage the source measures; ok is false where it does not say.
func (s PPSSDB) Voltage() (v Millivolts, ok bool) {
	return Millivolts(s.RawVoltage) * unitPPSRequest, s.RawVoltage != ppsVoltageUnknown
}

// Current is the output current the source measures; ok is false where it does not say.
func (s PPSSDB) Current() (i Milliamps, ok bool) {
	return Milliamps(s.RawCurrent) * unitPPSCurrent, s.RawCurrent != ppsCurrentUnknown
}

// ParsePPSSDB reads the PPS_Status block; ok is false where b is shorter.
func ParsePPSSDB(b []byte) (s PPSSDB, ok bool) {
	k, ok := newBlock(b, ppssdbBytes, ppssdbBytes)
	if !ok {
		return PPSSDB{}, false
	}
	flags := k.byteAt(3)
	return PPSSDB{
		RawVoltage:   uint16(k.wordAt(0)),
		RawCurrent:   k.b[2],
		Temperature:  TemperatureStatus(bits(flags, 2, 1)),
		CurrentLimit: bit(flags, 3),
		Reserved:     k.b[3] & ppssdbReserved,
	}, true
}

// AppendTo appends the block to dst.
func (s PPSSDB) AppendTo(dst []byte) []byte {
	flags := put(int(s.Temperature), 2, 1) | flag(s.CurrentLimit, 3)
	return append(dst, byte(s.RawVoltage), byte(s.RawVoltage>>8), s.RawCurrent, byte(flags)|s.Reserved&ppssdbReserved)
}
