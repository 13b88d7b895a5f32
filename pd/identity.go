package pd

import "fmt"

// IDHeaderVDO is the second object of a Discover Identity answer (USB PD R3.2 V1.1, table
// 6.33).
//
//	31     USB host capable
//	30     USB device capable
//	29-27  product type, UFP on SOP, cable plug on SOP'
//	26     Modal Operation Supported
//	25-23  product type DFP on SOP; reserved on SOP'
//	22-21  connector type
//	20-16  reserved
//	15-0   USB VID
type IDHeaderVDO uint32

// UFPType is bits 29 to 27 of an ID Header on SOP (USB PD R3.2 V1.1, table 6.33).
type UFPType uint8

// The product types of a UFP; other codes are reserved.
const (
	NotUFP        UFPType = 0 // 000b
	UFPHub        UFPType = 1 // 001b, UFPVDO follows
	UFPPeripheral UFPType = 2 // 010b, UFPVDO follows
	UFPPowerSink  UFPType = 3 // PSD
	UFPAdapter    UFPType = 5 // alternate mode adapter, earlier revisions
)

// String says the type in words, or "reserved type N".
func (t UFPType) String() string {
	switch t {
	case NotUFP:
		return "not a UFP"
	case UFPHub:
		return "hub"
	case UFPPeripheral:
		return "peripheral"
	case UFPPowerSink:
		return "power sinking device"
	case UFPAdapter:
		return "alternate mode adapter"
	default:
		return fmt.Sprintf("reserved type %d", uint8(t))
	}
}

// PlugType is bits 29 to 27 of an ID Header on SOP' (USB PD R3.2 V1.1, table 6.33).
type PlugType uint8

// The product types of a cable plug; other codes are reserved.
const (
	NotPlug      PlugType = 0 // 000b
	PassiveCable PlugType = 3 // PassiveCableVDO follows
	ActiveCable  PlugType = 4 // ActiveCableVDO1 and ActiveCableVDO2 follow
	VPD          PlugType = 6 // VCONN-powered device
)

// String says the type in words, or "reserved type N".
func (t PlugType) String() string {
	switch t {
	case NotPlug:
		return "not a cable plug"
	case PassiveCable:
		return "passive cable"
	case ActiveCable:
		return "active cable"
	case VPD:
		return "VPD"
	default:
		return fmt.Sprintf("reserved type %d", uint8(t))
	}
}

// DFPType is bits 25 to 23 of an ID Header on SOP (USB PD R3.2 V1.1, table 6.33).
type DFPType uint8

// The product types of a DFP; other codes are reserved.
const (
	NotDFP        DFPType = 0 // 000b
	DFPHub        DFPType = 1 // DFPVDO follows
	DFPHost       DFPType = 2 // DFPVDO follows
	DFPPowerBrick DFPType = 3 // DFPVDO follows
)

// String says the type in words, or "reserved type N".
func (t DFPType) String() string {
	switch t {
	case NotDFP:
		return "not a DFP"
	case DFPHub:
		return "hub"
	case DFPHost:
		return "host"
	case DFPPowerBrick:
		return "power brick"
	default:
		return fmt.Sprintf("reserved type %d", uint8(t))
	}
}

// ConnectorType is bits 22 and 21 of an ID Header (USB PD R3.2 V1.1, table 6.33).
type ConnectorType uint8

// The connector types; 0 comes from earlier revisions, 1 is reserved.
const (
	ConnectorLegacy     ConnectorType = 0 // 00b
	ConnectorReceptacle ConnectorType = 2 // 10b
	ConnectorPlug       ConnectorType = 3 // 11b
)

// String says the type in words.
func (t ConnectorType) String() string {
	switch t {
	case ConnectorLegacy:
		return "not stated"
	case ConnectorReceptacle:
		return "receptacle"
	case ConnectorPlug:
		return "plug"
	default:
		return fmt.Sprintf("reserved type %d", uint8(t))
	}
}

// IDHeaderFields is an ID Header taken apart. The product type holds the code of bits 29
// to 27; read it by the ordered set the answer came on.
type IDHeaderFields struct {
	USBHost   bool          // bit 31
	USBDevice bool          // bit 30
	Product   uint8         // bits 29-27; see UFP and Plug
	Modal     bool          // bit 26
	DFP       DFPType       // bits 25-23
	Connector ConnectorType // bits 22-21
	Reserved  uint32        // reserved bits, in place
	VID       uint16        // bits 15-0
}

const idHeaderReserved = 0x1F << 16

// UFP is the product type of an answer on SOP.
func (f IDHeaderFields) UFP() UFPType { return UFPType(f.Product) }

// Plug is the product type of an answer on SOP'.
func (f IDHeaderFields) Plug() PlugType { return PlugType(f.Product) }

// Fields takes the object apart; Encode is the exact inverse.
func (o IDHeaderVDO) Fields() IDHeaderFields {
	w := uint32(o)
	return IDHeaderFields{
		USBHost:   bit(w, 31),
		USBDevice: bit(w, 30),
		Product:   uint8(bits(w, 29, 27)),
		Modal:     bit(w, 26),
		DFP:       DFPType(bits(w, 25, 23)),
		Connector: ConnectorType(bits(w, 22, 21)),
		Reserved:  w & idHeaderReserved,
		VID:       uint16(w),
	}
}

// Encode puts the object together.
func (f IDHeaderFields) Encode() IDHeaderVDO {
	return IDHeaderVDO(flag(f.USBHost, 31) |
		flag(f.USBDevice, 30) |
		put(int(f.Product), 29, 27) |
		flag(f.Modal, 26) |
		put(int(f.DFP), 25, 23) |
		put(int(f.Connector), 22, 21) |
		f.Reserved&idHeaderReserved |
		uint32(f.VID))
}

// CertStatVDO is the XID of the product (USB PD R3.2 V1.1, table 6.37); 0 is none.
type CertStatVDO uint32

// ProductVDO is the product ID and the device's release (USB PD R3.2 V1.1, table 6.38).
type ProductVDO uint32

// PID is bits 31 to 16.
func (o ProductVDO) PID() uint16 { return uint16(o >> 16) }

// Release is bcdDevice, bits 15 to 0.
func (o ProductVDO) Release() uint16 { return uint16(o) }

// NewProductVDO puts the object together.
func NewProductVDO(pid, release uint16) ProductVDO {
	return ProductVDO(uint32(pid)<<16 | uint32(release))
}

// UFPVDO describes a UFP (USB PD R3.2 V1.1, table 6.39).
//
//	31-29  version, 3 is 1.3
//	28     reserved
//	27-24  device capability: bit 24 USB 2.0, 25 billboard only, 26 USB 3.2, 27 USB4
//	23-22  connector type of earlier revisions
//	21-11  reserved
//	10-8   VCONN power: 1, 1.5, 2, 3, 4, 5, 6 W
//	7      VCONN Required
//	6      VBUS not required
//	5-3    alternate modes: bit 3 TBT3, 4 reconfiguring, 5 not reconfiguring
//	2-0    highest speed
type UFPVDO uint32

// UFPFields is a UFP VDO taken apart; the numbers are the raw codes.
type UFPFields struct {
	Version          int    // bits 31-29
	DeviceCapability int    // bits 27-24
	LegacyConnector  int    // bits 23-22
	VCONNPower       int    // bits 10-8
	VCONNRequired    bool   // bit 7
	VBUSNotRequired  bool   // bit 6
	AlternateModes   int    // bits 5-3
	Speed            int    // bits 2-0
	Reserved         uint32 // reserved bits, in place
}

const ufpReserved = 1<<28 | 0x7FF<<11

// Fields takes the object apart; Encode is the exact inverse.
func (o UFPVDO) Fields() UFPFields {
	w := uint32(o)
	return UFPFields{
		Version:          bits(w, 31, 29),
		DeviceCapability: bits(w, 27, 24),
		LegacyConnector:  bits(w, 23, 22),
		VCONNPower:       bits(w, 10, 8),
		VCONNRequired:    bit(w, 7),
		VBUSNotRequired:  bit(w, 6),
		AlternateModes:   bits(w, 5, 3),
		Speed:            bits(w, 2, 0),
		Reserved:         w & ufpReserved,
	}
}

// Encode puts the object together.
func (f UFPFields) Encode() UFPVDO {
	return UFPVDO(put(f.Version, 31, 29) |
		put(f.DeviceCapability, 27, 24) |
		put(f.LegacyConnector, 23, 22) |
		put(f.VCONNPower, 10, 8) |
		flag(f.VCONNRequired, 7) |
		flag(f.VBUSNotRequired, 6) |
		put(f.AlternateModes, 5, 3) |
		put(f.Speed, 2, 0) |
		f.Reserved&ufpReserved)
}

// DFPVDO describes a DFP (USB PD R3.2 V1.1, table 6.40).
//
//	31-29  version, 2 is 1.2
//	28-27  reserved
//	26-24  host capability: bit 24 USB 2.0, 25 USB 3.2, 26 USB4
//	23-22  connector type of earlier revisions
//	21-5   reserved
//	4-0    port number
type DFPVDO uint32

// DFPFields is a DFP VDO taken apart; the numbers are the raw codes.
type DFPFields struct {
	Version         int    // bits 31-29
	HostCapability  int    // bits 26-24
	LegacyConnector int    // bits 23-22
	PortNumber      int    // bits 4-0
	Reserved        uint32 // reserved bits, in place
}

const dfpReserved = 0b11<<27 | 0x1FFFF<<5

// Fields takes the object apart; Encode is the exact inverse.
func (o DFPVDO) Fields() DFPFields {
	w := uint32(o)
	return DFPFields{
		Version:         bits(w, 31, 29),
		HostCapability:  bits(w, 26, 24),
		LegacyConnector: bits(w, 23, 22),
		PortNumber:      bits(w, 4, 0),
		Reserved:        w & dfpReserved,
	}
}

// Encode puts the object together.
func (f DFPFields) Encode() DFPVDO {
	return DFPVDO(put(f.Version, 31, 29) |
		put(f.HostCapability, 26, 24) |
		put(f.LegacyConnector, 23, 22) |
		put(f.PortNumber, 4, 0) |
		f.Reserved&dfpReserved)
}
