package pd

// EUDO is the object of an Enter_USB message (USB PD R3.2 V1.1, table 6.49).
//
//	31     reserved
//	30-28  USB mode: 0 USB 2.0, 1 USB 3.2, 2 USB4
//	27     reserved
//	26     USB4 DRD
//	25     USB3 DRD
//	24     reserved
//	23-21  cable speed: 0 USB 2.0, 1 Gen 1, 2 Gen 2, 3 USB4 Gen 3, 4 USB4 Gen 4
//	20-19  cable type: 0 passive, 1 re-timer, 2 re-driver, 3 optical
//	18-17  cable current: 0 no VBUS, 2 3 A, 3 5 A
//	16     PCIe
//	15     DisplayPort
//	14     Thunderbolt 3
//	13     host present
//	12-0   reserved
type EUDO uint32

// EnterUSBFields is an Enter_USB object taken apart; the numbers are the raw codes above.
type EnterUSBFields struct {
	Mode         int
	USB4DRD      bool
	USB3DRD      bool
	CableSpeed   int
	CableType    int
	CableCurrent int
	PCIe         bool
	DisplayPort  bool
	Thunderbolt3 bool
	HostPresent  bool
	Reserved     uint32 // reserved bits, in place
}

const enterUSBReserved = 1<<31 | 1<<27 | 1<<24 | 0x1FFF

// Fields takes the object apart; Encode is the exact inverse.
func (o EUDO) Fields() EnterUSBFields {
	w := uint32(o)
	return EnterUSBFields{
		Mode:         bits(w, 30, 28),
		USB4DRD:      bit(w, 26),
		USB3DRD:      bit(w, 25),
		CableSpeed:   bits(w, 23, 21),
		CableType:    bits(w, 20, 19),
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
	return EUDO(put(f.Mode, 30, 28) |
		flag(f.USB4DRD, 26) |
		flag(f.USB3DRD, 25) |
		put(f.CableSpeed, 23, 21) |
		put(f.CableType, 20, 19) |
		put(f.CableCurrent, 18, 17) |
		flag(f.PCIe, 16) |
		flag(f.DisplayPort, 15) |
		flag(f.Thunderbolt3, 14) |
		flag(f.HostPresent, 13) |
		f.Reserved&enterUSBReserved)
}
