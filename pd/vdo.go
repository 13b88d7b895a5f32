package pd

import "fmt"

// SVIDs the standard itself gives (USB PD R3.2 V1.1, table 6.31).
const (
	SVIDPowerDelivery uint16 = 0xFF00 // the standard's own commands
	SVIDDisplayPort   uint16 = 0xFF01 // DisplayPort over USB Type-C
)

// CommandType says whether a structured VDM asks or answers, bits 7 and 6 of its header. The
// zero value is REQ, as on the wire.
type CommandType uint8

// The command types (USB PD R3.2 V1.1, table 6.29).
const (
	REQ  CommandType = iota // 00b, asks
	ACK                     // 01b
	NAK                     // 10b
	BUSY                    // 11b, not for Enter Mode and Exit Mode
)

// String gives "REQ", "ACK", "NAK" or "BUSY".
func (t CommandType) String() string {
	switch t {
	case REQ:
		return "REQ"
	case ACK:
		return "ACK"
	case NAK:
		return "NAK"
	case BUSY:
		return "BUSY"
	default:
		return fmt.Sprintf("command type %d", uint8(t))
	}
}

// Command is the command of a structured VDM, bits 4 to 0 of its header (USB PD R3.2 V1.1,
// table 6.29).
type Command uint8

// The commands the standard defines; 16 to 31 belong to the SVID (USB PD R3.2 V1.1, table
// 6.29).
const (
	DiscoverIdentity Command = 1 // SOP and SOP'; SVID FF00h, answer IDHeaderVDO, CertStatVDO, ProductVDO and product objects
	DiscoverSVIDs    Command = 2 // SOP and SOP'; SVID FF00h, answer SVIDsVDO
	DiscoverModes    Command = 3 // SOP and SOP'; answer one object a mode
	EnterMode        Command = 4 // with object position
	ExitMode         Command = 5 // with object position, 7 leaves all
	Attention        Command = 6 // with object position; has no answer
)

// firstSVIDCommand is the lowest command that belongs to the SVID.
const firstSVIDCommand = 16

// String gives the standard's name of the command, "SVID command N" for one of the SVID's
// own, or "reserved command N".
func (c Command) String() string {
	switch c {
	case DiscoverIdentity:
		return "Discover Identity"
	case DiscoverSVIDs:
		return "Discover SVIDs"
	case DiscoverModes:
		return "Discover Modes"
	case EnterMode:
		return "Enter Mode"
	case ExitMode:
		return "Exit Mode"
	case Attention:
		return "Attention"
	}
	if c >= firstSVIDCommand {
		return fmt.Sprintf("SVID command %d", uint8(c))
	}
	return fmt.Sprintf("reserved command %d", uint8(c))
}

// VDMHeader is the first object of a Vendor_Defined message (USB PD R3.2 V1.1, tables 6.28
// and 6.29).
//
//	31-16  SVID (structured) or VID (unstructured)
//	15     VDM Type, 1 structured
//	14-13  Structured VDM Version major: 0 is 1.0, 1 is 2.x
//	12-11  Structured VDM Version minor: 0 is 2.0, 1 is 2.1 (from R3.1 V1.6)
//	10-8   Object Position of the mode; 7 with Exit Mode leaves all
//	7-6    Command Type
//	5      reserved
//	4-0    Command
//
// Unstructured, bits 14 to 0 are the vendor's; see Vendor.
type VDMHeader uint32

// SVID is the standard or vendor ID in bits 31 to 16.
func (h VDMHeader) SVID() uint16 { return uint16(h >> 16) }

// Structured reports bit 15.
func (h VDMHeader) Structured() bool { return bit(uint32(h), 15) }

// VersionMajor is the raw field of bits 14 and 13.
func (h VDMHeader) VersionMajor() int { return bits(uint32(h), 14, 13) }

// VersionMinor is the raw field of bits 12 and 11.
func (h VDMHeader) VersionMinor() int { return bits(uint32(h), 12, 11) }

// Version is the Structured VDM Version: "1.0", "2.0", "2.1" or "reserved".
func (h VDMHeader) Version() string {
	switch {
	case h.VersionMajor() == 0 && h.VersionMinor() == 0:
		return "1.0"
	case h.VersionMajor() == 1 && h.VersionMinor() == 0:
		return "2.0"
	case h.VersionMajor() == 1 && h.VersionMinor() == 1:
		return "2.1"
	default:
		return "reserved"
	}
}

// ObjectPosition is the position of the mode, 0 when the command takes none.
func (h VDMHeader) ObjectPosition() int { return bits(uint32(h), 10, 8) }

// CommandType is bits 7 and 6.
func (h VDMHeader) CommandType() CommandType { return CommandType(bits(uint32(h), 7, 6)) }

// Command is bits 4 to 0.
func (h VDMHeader) Command() Command { return Command(bits(uint32(h), 4, 0)) }

// Vendor is bits 14 to 0, the vendor's own in an unstructured message.
func (h VDMHeader) Vendor() uint16 { return uint16(bits(uint32(h), 14, 0)) }

// VDMHeaderFields is a structured header taken apart (USB PD R3.2 V1.1, table 6.29).
type VDMHeaderFields struct {
	SVID           uint16      // bits 31-16
	VersionMajor   int         // bits 14-13; raw, 0 is 1.0 and 1 is 2.x
	VersionMinor   int         // bits 12-11; raw
	ObjectPosition int         // bits 10-8
	CommandType    CommandType // bits 7-6
	Reserved       uint32      // bit 5, in place
	Command        Command     // bits 4-0
}

const vdmReserved = 1 << 5

// Fields takes a structured header apart; ok is false for an unstructured one, where bits
// 14 to 0 mean nothing outside the vendor. Encode is the exact inverse where ok.
func (h VDMHeader) Fields() (f VDMHeaderFields, ok bool) {
	return VDMHeaderFields{
		SVID:           h.SVID(),
		VersionMajor:   h.VersionMajor(),
		VersionMinor:   h.VersionMinor(),
		ObjectPosition: h.ObjectPosition(),
		CommandType:    h.CommandType(),
		Reserved:       uint32(h) & vdmReserved,
		Command:        h.Command(),
	}, h.Structured()
}

// Encode puts a structured header together.
func (f VDMHeaderFields) Encode() VDMHeader {
	return VDMHeader(uint32(f.SVID)<<16 |
		flag(true, 15) |
		put(f.VersionMajor, 14, 13) |
		put(f.VersionMinor, 12, 11) |
		put(f.ObjectPosition, 10, 8) |
		put(int(f.CommandType), 7, 6) |
		f.Reserved&vdmReserved |
		put(int(f.Command), 4, 0))
}

// UnstructuredVDMHeader puts an unstructured header together; bit 15 of vendor is lost.
func UnstructuredVDMHeader(vid, vendor uint16) VDMHeader {
	return VDMHeader(uint32(vid)<<16 | put(int(vendor), 14, 0))
}
