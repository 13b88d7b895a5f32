package pd

import "fmt"

// EUDO is the object of an Enter_USB message (USB PD R3.2 V1.1, table 6.49).
//
//	31     reserved
//	30-28  USB mode, see [USBMode]
//	27     reserved
//	26     USB4 DRD
//	25     USB3 DRD
//	24     reserved
//	23-21  cable speed, coded as in a cable's VDO, see [CableSpeed]
//	20-19  cable type, see [USBCableType]
//	18-17  cable current: 0 no VBUS, 2 3 A, 3 5 A; other codes than in a cable's VDO
//	16     PCIe
//	15     DisplayPort
//	14     Thunderbolt 3
//	13     host present
//	12-0   reserved
type EUDO uint32

// USBMode is the mode a DFP enters, bits 30 to 28 of an Enter_USB object. The zero value is
// USB 2.0, as on the wire.
type USBMode uint8

// The modes; 3 to 7 are reserved.
const (
	USBMode2  USBMode = iota // USB 2.0
	USBMode32                // USB 3.2
	USBMode4                 // USB4
)

// String gives "USB 2.0", "USB 3.2", "USB4" or "reserved mode N".
func (m USBMode) String() string {
	switch m {
	case USBMode2:
		return "USB 2.0"
	case USBMode32:
		return "USB 3.2"
	case USBMode4:
		return "USB4"
	default:
		return fmt.Sprintf("reserved mode %d", uint8(m))
	}
}

// USBCableType is what is inside the cable, bits 20 and 19 of an Enter_USB object. The zero
// value is passive, as on the wire.
type USBCableType uint8

// The cable types; two bits have no other code.
const (
	USBCablePassive  USBCableType = iota // 00b
	USBCableReTimer                      // 01b
	USBCableReDriver                     // 10b
	USBCableOptical                      // 11b
)

// String gives "passive", "active re-timer", "active re-driver" or "optically isolated".
func (t USBCableType) String() string {
	switch t {
	case USBCablePassive:
		return "passive"
	case USBCableReTimer:
		return "active re-timer"
	case USBCableReDriver:
		return "active re-driver"
	case USBCableOptical:
		return "optically isolated"
	default:
		return fmt.Sprintf("cable type %d", uint8(t))
	}
}

// EnterUSBFields is an Enter_USB object taken apart.
type EnterUSBFields struct {
	Mode         USBMode      // bits 30-28
	USB4DRD      bool         // bit 26
	USB3DRD      bool         // bit 25
	CableSpeed   CableSpeed   // bits 23-21
	CableType    USBCableType // bits 20-19
	CableCurrent int          // bits 18-17; raw code, see MaxCableCurrent
	PCIe         bool         // bit 16
	DisplayPort  bool         // bit 15
	Thunderbolt3 bool         // bit 14
	HostPresent  bool         // bit 13
	Reserved     uint32       // reserved bits, in place
}

// Codes of the cable current (USB PD R3.2 V1.1, table 6.49).
const (
	enterUSBNoVBUS = 0
	enterUSB3A     = 2
	enterUSB5A     = 3
)

// MaxCableCurrent is the current the cable carries, 0 where it has no VBUS; ok is false for
// the reserved code 1.
func (f EnterUSBFields) MaxCableCurrent() (i Milliamps, ok bool) {
	switch f.CableCurrent {
	case enterUSBNoVBUS:
		return 0, true
	case enterUSB3A:
		return 3000, true
	case enterUSB5A:
		return 5000, true
	default:
		return 0, false
	}
}

const enterUSBReserved = 1<<31 | 1<<27 | 1<<24 | 0x1FFF

// Fields takes the object apart; Encode is the exact inverse.
func (o EUDO) Fields() EnterUSBFields {
	w := uint32(o)
	return EnterUSBFields{
		Mode:         USBMode(bits(w, 30, 28)),
		USB4DRD:      bit(w, 26),
		USB3DRD:      bit(w, 25),
		CableSpeed:   CableSpeed(bits(w, 23, 21)),
		CableType:    USBCableType(bits(w, 20, 19)),
		CableCurrent: bits(w, 18, 17),
		PCIe:         bit(w, 16),
		DisplayPort:  bit(w, 15),
		Thunderbolt3: bit(w, 14),
		HostPresent:  bit(w, 13),
		Reserved:     w & enterUSBReserved,
	}
}

// Encode puts the object together.
func (f EnterUSBFields) Encode() EUDO {
	return EUDO(put(int(f.Mode), 30, 28) |
		flag(f.USB4DRD, 26) |
		flag(f.USB3DRD, 25) |
		put(int(f.CableSpeed), 23, 21) |
		put(int(f.CableType), 20, 19) |
		put(f.CableCurrent, 18, 17) |
		flag(f.PCIe, 16) |
		flag(f.DisplayPort, 15) |
		flag(f.Thunderbolt3, 14) |
		flag(f.HostPresent, 13) |
		f.Reserved&enterUSBReserved)
}
