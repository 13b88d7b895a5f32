package pd

import (
	"fmt"
	"time"
)

// CableSpeed is the highest speed a cable carries, bits 2 to 0 of its VDO (USB PD R3.2
// V1.1, tables 6.41 and 6.42). The zero value is USB 2.0, as on the wire.
type CableSpeed uint8

// The speeds; 5 to 7 are reserved.
const (
	SpeedUSB2     CableSpeed = iota // USB 2.0 only
	SpeedUSB3Gen1                   // USB 3.2 Gen 1
	SpeedUSB3Gen2                   // USB 3.2 Gen 2 and USB4 Gen 2
	SpeedUSB4Gen3                   // USB4 Gen 3
	SpeedUSB4Gen4                   // USB4 Gen 4
)

// String says the speed in words, or "reserved speed N".
func (s CableSpeed) String() string {
	switch s {
	case SpeedUSB2:
		return "USB 2.0"
	case SpeedUSB3Gen1:
		return "USB 3.2 Gen1"
	case SpeedUSB3Gen2:
		return "USB 3.2 Gen2, USB4 Gen2"
	case SpeedUSB4Gen3:
		return "USB4 Gen3"
	case SpeedUSB4Gen4:
		return "USB4 Gen4"
	default:
		return fmt.Sprintf("reserved speed %d", uint8(s))
	}
}

// CablePlugKind is bits 19 and 18 of a cable VDO: what is at the far end (USB PD R3.2 V1.1,
// tables 6.41 and 6.42).
type CablePlugKind uint8

// The kinds; 0 and 1 are reserved.
const (
	CableTypeC   CablePlugKind = 2 // 10b
	CableCaptive CablePlugKind = 3 // 11b, the cable cannot be unplugged
)

// String gives "USB Type-C", "captive" or "reserved kind N".
func (k CablePlugKind) String() string {
	switch k {
	case CableTypeC:
		return "USB Type-C"
	case CableCaptive:
		return "captive"
	default:
		return fmt.Sprintf("reserved kind %d", uint8(k))
	}
}

// CableFields are what the VDO of a passive and the first VDO of an active cable share.
type CableFields struct {
	HardwareVersion int           // bits 31-28
	FirmwareVersion int           // bits 27-24
	VDOVersion      int           // bits 23-21
	Plug            CablePlugKind // bits 19-18
	EPRCapable      bool          // bit 17
	Latency         int           // bits 16-13; raw code, see MaxLatency
	Termination     int           // bits 12-11; raw code
	MaxVBUS         int           // bits 10-9; raw code, see MaxVoltage
	Current         int           // bits 6-5; raw code, see MaxCurrent
	Speed           CableSpeed    // bits 2-0
}

// Codes of the fields of a cable VDO (USB PD R3.2 V1.1, table 6.41).
const (
	cableVBUS50V      = 0b11
	cableCurrent3A    = 0b01
	cableCurrent5A    = 0b10
	latencyPerCode    = 10 * time.Nanosecond
	lastLatencyInTens = 7
)

// MaxVoltage is the highest contract voltage the cable may carry. Codes 1 and 2 were 30 V
// and 40 V once and are to be taken as 20 V (USB PD R3.2 V1.1, table 6.41).
func (f CableFields) MaxVoltage() Millivolts {
	if f.MaxVBUS == cableVBUS50V {
		return 50_000
	}
	return 20_000
}

// MaxCurrent is the current the cable carries; ok is false for code 0, which old cables
// show, and the reserved code 3.
func (f CableFields) MaxCurrent() (i Milliamps, ok bool) {
	switch f.Current {
	case cableCurrent3A:
		return 3000, true
	case cableCurrent5A:
		return 5000, true
	default:
		return 0, false
	}
}

// EPR reports whether a source may enter EPR mode over the cable: 50 V, 5 A and the EPR
// bit (USB PD R3.2 V1.1, section 6.4.10.1).
func (f CableFields) EPR() bool {
	return f.MaxVBUS == cableVBUS50V && f.Current == cableCurrent5A && f.EPRCapable
}

// MaxLatency is the longest delay of codes 1 to 7, which both cable kinds share, about a
// metre to each 10 ns; ok is false for the others.
func (f CableFields) MaxLatency() (d time.Duration, ok bool) {
	if f.Latency < 1 || f.Latency > lastLatencyInTens {
		return 0, false
	}
	return time.Duration(f.Latency) * latencyPerCode, true
}

func cableFields(w uint32) CableFields {
	return CableFields{
		HardwareVersion: bits(w, 31, 28),
		FirmwareVersion: bits(w, 27, 24),
		VDOVersion:      bits(w, 23, 21),
		Plug:            CablePlugKind(bits(w, 19, 18)),
		EPRCapable:      bit(w, 17),
		Latency:         bits(w, 16, 13),
		Termination:     bits(w, 12, 11),
		MaxVBUS:         bits(w, 10, 9),
		Current:         bits(w, 6, 5),
		Speed:           CableSpeed(bits(w, 2, 0)),
	}
}

func (f CableFields) encode() uint32 {
	return put(f.HardwareVersion, 31, 28) |
		put(f.FirmwareVersion, 27, 24) |
		put(f.VDOVersion, 23, 21) |
		put(int(f.Plug), 19, 18) |
		flag(f.EPRCapable, 17) |
		put(f.Latency, 16, 13) |
		put(f.Termination, 12, 11) |
		put(f.MaxVBUS, 10, 9) |
		put(f.Current, 6, 5) |
		put(int(f.Speed), 2, 0)
}

// PassiveCableVDO describes a passive cable (USB PD R3.2 V1.1, table 6.41).
//
//	31-28  hardware version
//	27-24  firmware version
//	23-21  VDO version
//	20     reserved
//	19-18  plug: 2 USB Type-C, 3 captive
//	17     EPR Capable
//	16-13  latency: up to 10 ns times the code, 8 longer
//	12-11  0 VCONN only for discovery, 1 VCONN required
//	10-9   maximum VBUS: 0 20 V, 3 50 V
//	8-7    reserved
//	6-5    current: 1 3 A, 2 5 A
//	4-3    reserved
//	2-0    highest speed
type PassiveCableVDO uint32

// PassiveCableFields is a Passive Cable VDO taken apart.
type PassiveCableFields struct {
	CableFields
	Reserved uint32 // reserved bits, in place
}

const passiveCableReserved = 1<<20 | 0b11<<7 | 0b11<<3

// Fields takes the object apart; Encode is the exact inverse.
func (o PassiveCableVDO) Fields() PassiveCableFields {
	return PassiveCableFields{cableFields(uint32(o)), uint32(o) & passiveCableReserved}
}

// Encode puts the object together.
func (f PassiveCableFields) Encode() PassiveCableVDO {
	return PassiveCableVDO(f.encode() | f.Reserved&passiveCableReserved)
}

// ActiveCableVDO1 is the first object of an active cable (USB PD R3.2 V1.1, table 6.42):
// as [PassiveCableVDO], with latency codes 8, 9 and 10 for 1, 2 and 3 µs, bits 12-11 = 2
// one end active and 3 both, and
//
//	8      SBU not supported
//	7      SBU active
//	4      VBUS through the cable
//	3      a controller answers on the far plug
type ActiveCableVDO1 uint32

// ActiveCable1Fields is the first object of an active cable taken apart.
type ActiveCable1Fields struct {
	CableFields
	SBUNotSupported   bool   // bit 8
	SBUActive         bool   // bit 7
	VBUSThrough       bool   // bit 4
	FarPlugController bool   // bit 3; a controller answers on SOP''
	Reserved          uint32 // bit 20, in place
}

const activeCable1Reserved = 1 << 20

// Fields takes the object apart; Encode is the exact inverse.
func (o ActiveCableVDO1) Fields() ActiveCable1Fields {
	w := uint32(o)
	return ActiveCable1Fields{
		CableFields:       cableFields(w),
		SBUNotSupported:   bit(w, 8),
		SBUActive:         bit(w, 7),
		VBUSThrough:       bit(w, 4),
		FarPlugController: bit(w, 3),
		Reserved:          w & activeCable1Reserved,
	}
}

// Encode puts the object together.
func (f ActiveCable1Fields) Encode() ActiveCableVDO1 {
	return ActiveCableVDO1(f.encode() |
		flag(f.SBUNotSupported, 8) |
		flag(f.SBUActive, 7) |
		flag(f.VBUSThrough, 4) |
		flag(f.FarPlugController, 3) |
		f.Reserved&activeCable1Reserved)
}

// ActiveCableVDO2 is the second object of an active cable (USB PD R3.2 V1.1, table 6.43).
//
//	31-24  maximum operating temperature, °C
//	23-16  shutdown temperature, °C
//	15     reserved
//	14-12  power in U3/CLd
//	11     U3 to U0 through U3S
//	10     optical
//	9      re-timer
//	8      USB4 not supported
//	7-6    USB 2.0 hub hops
//	5      USB 2.0 not supported
//	4      USB 3.2 not supported
//	3      two lanes
//	2      optically isolated
//	1      USB4 asymmetric
//	0      Gen 2 or higher
type ActiveCableVDO2 uint32

// ActiveCable2Fields is the second object of an active cable taken apart.
type ActiveCable2Fields struct {
	MaxOperatingC     int    // bits 31-24, °C
	ShutdownC         int    // bits 23-16, °C
	Reserved          uint32 // bit 15, in place
	U3Power           int    // bits 14-12; raw code
	ThroughU3S        bool   // bit 11
	Optical           bool   // bit 10
	ReTimer           bool   // bit 9
	USB4NotSupported  bool   // bit 8
	HubHops           int    // bits 7-6
	USB2NotSupported  bool   // bit 5
	USB3NotSupported  bool   // bit 4
	TwoLanes          bool   // bit 3
	OpticallyIsolated bool   // bit 2
	USB4Asymmetric    bool   // bit 1
	Gen2OrHigher      bool   // bit 0
}

const activeCable2Reserved = 1 << 15

// Fields takes the object apart; Encode is the exact inverse.
func (o ActiveCableVDO2) Fields() ActiveCable2Fields {
	w := uint32(o)
	return ActiveCable2Fields{
		MaxOperatingC:     bits(w, 31, 24),
		ShutdownC:         bits(w, 23, 16),
		Reserved:          w & activeCable2Reserved,
		U3Power:           bits(w, 14, 12),
		ThroughU3S:        bit(w, 11),
		Optical:           bit(w, 10),
		ReTimer:           bit(w, 9),
		USB4NotSupported:  bit(w, 8),
		HubHops:           bits(w, 7, 6),
		USB2NotSupported:  bit(w, 5),
		USB3NotSupported:  bit(w, 4),
		TwoLanes:          bit(w, 3),
		OpticallyIsolated: bit(w, 2),
		USB4Asymmetric:    bit(w, 1),
		Gen2OrHigher:      bit(w, 0),
	}
}

// Encode puts the object together.
func (f ActiveCable2Fields) Encode() ActiveCableVDO2 {
	return ActiveCableVDO2(put(f.MaxOperatingC, 31, 24) |
		put(f.ShutdownC, 23, 16) |
		f.Reserved&activeCable2Reserved |
		put(f.U3Power, 14, 12) |
		flag(f.ThroughU3S, 11) |
		flag(f.Optical, 10) |
		flag(f.ReTimer, 9) |
		flag(f.USB4NotSupported, 8) |
		put(f.HubHops, 7, 6) |
		flag(f.USB2NotSupported, 5) |
		flag(f.USB3NotSupported, 4) |
		flag(f.TwoLanes, 3) |
		flag(f.OpticallyIsolated, 2) |
		flag(f.USB4Asymmetric, 1) |
		flag(f.Gen2OrHigher, 0))
}

// VPDVDO describes a VCONN-powered device (USB PD R3.2 V1.1, table 6.44).
//
//	31-28  hardware version
//	27-24  firmware version
//	23-21  VDO version
//	20-17  reserved
//	16-15  maximum VBUS as in a cable; only 20 V is left
//	14     charge through carries 5 A
//	13     reserved
//	12-7   VBUS impedance, 2 mΩ
//	6-1    ground impedance, 1 mΩ
//	0      charge through supported
type VPDVDO uint32

// VPDFields is a VPD VDO taken apart.
type VPDFields struct {
	HardwareVersion int    // bits 31-28
	FirmwareVersion int    // bits 27-24
	VDOVersion      int    // bits 23-21
	MaxVBUS         int    // bits 16-15; raw code
	ChargeThrough5A bool   // bit 14
	VBUSMilliohms   int    // bits 12-7, 2 mΩ; even
	GroundMilliohms int    // bits 6-1, 1 mΩ
	ChargeThrough   bool   // bit 0
	Reserved        uint32 // reserved bits, in place
}

const (
	vpdReserved      = 0xF<<17 | 1<<13
	vpdVBUSMilliohms = 2
)

// Fields takes the object apart; Encode is the exact inverse.
func (o VPDVDO) Fields() VPDFields {
	w := uint32(o)
	return VPDFields{
		HardwareVersion: bits(w, 31, 28),
		FirmwareVersion: bits(w, 27, 24),
		VDOVersion:      bits(w, 23, 21),
		MaxVBUS:         bits(w, 16, 15),
		ChargeThrough5A: bit(w, 14),
		VBUSMilliohms:   bits(w, 12, 7) * vpdVBUSMilliohms,
		GroundMilliohms: bits(w, 6, 1),
		ChargeThrough:   bit(w, 0),
		Reserved:        w & vpdReserved,
	}
}

// Encode puts the object together.
func (f VPDFields) Encode() VPDVDO {
	return VPDVDO(put(f.HardwareVersion, 31, 28) |
		put(f.FirmwareVersion, 27, 24) |
		put(f.VDOVersion, 23, 21) |
		put(f.MaxVBUS, 16, 15) |
		flag(f.ChargeThrough5A, 14) |
		put(f.VBUSMilliohms/vpdVBUSMilliohms, 12, 7) |
		put(f.GroundMilliohms, 6, 1) |
		flag(f.ChargeThrough, 0) |
		f.Reserved&vpdReserved)
}
