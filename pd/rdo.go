package pd

// RDO is a request object (USB PD R3.2 V1.1, tables 6.23 to 6.26).
//
//	31-28  Object Position, from 1
//	27     GiveBack, deprecated; reserved for PPS and AVS
//	26     Capability Mismatch
//	25     USB Communications Capable
//	24     No USB Suspend
//	23     Unchunked Extended Messages Supported
//	22     EPR Capable
//	21     reserved
//	20-0   by the kind of the object at Position, see the views
//
// USB PD R3.0 V1.1 has the position in bits 30-28 with bit 31 reserved, GiveBack with a
// minimum current in bits 9-0, and no bit 22; see [RDO.PositionFor].
//
// The object does not tell its kind: choose the view by the object it asks for. Every view
// keeps every bit and its Encode is the exact inverse.
type RDO uint32

// Position is the position of the object asked for, counted from 1; 0, 14 and 15 are
// reserved (USB PD R3.2 V1.1, table 6.23).
func (r RDO) Position() int { return bits(uint32(r), 31, 28) }

// PositionFor is the position as a pair at that revision reads it: below R3.1 three bits,
// since bit 31 is reserved there (USB PD R3.0 V1.1). A header's 3.x reads as the newest.
func (r RDO) PositionFor(rev Revision) int {
	switch rev {
	case Revision10, Revision20, Revision30:
		return bits(uint32(r), 30, 28)
	default:
		return r.Position()
	}
}

// GiveBack is bit 27: the sink gives power back on GotoMin; deprecated.
func (r RDO) GiveBack() bool { return bit(uint32(r), 27) }

// CapabilityMismatch is bit 26: no offer satisfies the sink.
func (r RDO) CapabilityMismatch() bool { return bit(uint32(r), 26) }

// USBCommunications is bit 25: the sink has USB data lines.
func (r RDO) USBCommunications() bool { return bit(uint32(r), 25) }

// NoUSBSuspend is bit 24: the sink asks to draw on in USB suspend.
func (r RDO) NoUSBSuspend() bool { return bit(uint32(r), 24) }

// Unchunked is bit 23: the sink takes unchunked extended messages.
func (r RDO) Unchunked() bool { return bit(uint32(r), 23) }

// EPRCapable is bit 22: the sink can work in EPR mode.
func (r RDO) EPRCapable() bool { return bit(uint32(r), 22) }

// RequestFlags are the fields all request objects share (USB PD R3.2 V1.1, tables 6.23 to
// 6.26).
type RequestFlags struct {
	Position           int  // bits 31-28, from 1
	GiveBack           bool // bit 27; deprecated
	CapabilityMismatch bool // bit 26
	USBCommunications  bool // bit 25
	NoUSBSuspend       bool // bit 24
	Unchunked          bool // bit 23
	EPRCapable         bool // bit 22
}

// Flags are the fields all request objects share.
func (r RDO) Flags() RequestFlags {
	return RequestFlags{
		Position:           r.Position(),
		GiveBack:           r.GiveBack(),
		CapabilityMismatch: r.CapabilityMismatch(),
		USBCommunications:  r.USBCommunications(),
		NoUSBSuspend:       r.NoUSBSuspend(),
		Unchunked:          r.Unchunked(),
		EPRCapable:         r.EPRCapable(),
	}
}

func (f RequestFlags) encode() uint32 {
	return put(f.Position, 31, 28) |
		flag(f.GiveBack, 27) |
		flag(f.CapabilityMismatch, 26) |
		flag(f.USBCommunications, 25) |
		flag(f.NoUSBSuspend, 24) |
		flag(f.Unchunked, 23) |
		flag(f.EPRCapable, 22)
}

// The reserved bits below the flags.
const (
	requestReserved    = 0b11 << 20
	adjustableReserved = 1<<21 | 0b11<<7
)

// FixedRequest asks for a fixed or variable object (USB PD R3.2 V1.1, table 6.23).
//
//	21-20  reserved
//	19-10  Operating Current, 10 mA
//	9-0    Maximum Operating Current, 10 mA, deprecated: equals the operating current; the
//	       minimum current when GiveBack is set in a pair before R3.2
type FixedRequest struct {
	RequestFlags
	Reserved         uint32    // reserved bits, in place
	OperatingCurrent Milliamps // bits 19-10, 10 mA
	MaxCurrent       Milliamps // bits 9-0, 10 mA
}

// Fixed reads the object as a request for a fixed or variable supply.
func (r RDO) Fixed() FixedRequest {
	w := uint32(r)
	return FixedRequest{
		RequestFlags:     r.Flags(),
		Reserved:         w & requestReserved,
		OperatingCurrent: Milliamps(bits(w, 19, 10)) * unitCurrent,
		MaxCurrent:       Milliamps(bits(w, 9, 0)) * unitCurrent,
	}
}

// MinCurrent is the current the sink goes down to on GotoMin; ok is false without
// GiveBack, where bits 9 to 0 are the maximum (USB PD R3.0 V1.1; deprecated in R3.2).
func (f FixedRequest) MinCurrent() (i Milliamps, ok bool) { return f.MaxCurrent, f.GiveBack }

// Encode puts the object together.
func (f FixedRequest) Encode() RDO {
	return RDO(f.encode() | f.Reserved&requestReserved |
		put(int(f.OperatingCurrent/unitCurrent), 19, 10) |
		put(int(f.MaxCurrent/unitCurrent), 9, 0))
}

// BatteryRequest asks for a battery object (USB PD R3.2 V1.1, table 6.24).
//
//	21-20  reserved
//	19-10  Operating Power, 250 mW
//	9-0    Maximum Operating Power, 250 mW, deprecated as in [FixedRequest]
type BatteryRequest struct {
	RequestFlags
	Reserved       uint32     // reserved bits, in place
	OperatingPower Milliwatts // bits 19-10, 250 mW
	MaxPower       Milliwatts // bits 9-0, 250 mW
}

// Battery reads the object as a request for a battery.
func (r RDO) Battery() BatteryRequest {
	w := uint32(r)
	return BatteryRequest{
		RequestFlags:   r.Flags(),
		Reserved:       w & requestReserved,
		OperatingPower: Milliwatts(bits(w, 19, 10)) * unitPower,
		MaxPower:       Milliwatts(bits(w, 9, 0)) * unitPower,
	}
}

// MinPower is the power the sink goes down to, as [FixedRequest.MinCurrent].
func (b BatteryRequest) MinPower() (p Milliwatts, ok bool) { return b.MaxPower, b.GiveBack }

// Encode puts the object together.
func (b BatteryRequest) Encode() RDO {
	return RDO(b.encode() | b.Reserved&requestReserved |
		put(int(b.OperatingPower/unitPower), 19, 10) |
		put(int(b.MaxPower/unitPower), 9, 0))
}

// PPSRequest asks for a programmable supply (USB PD R3.2 V1.1, table 6.25).
//
//	21     reserved
//	20-9   Output Voltage, 20 mV
//	8-7    reserved
//	6-0    Operating Current, 50 mA
type PPSRequest struct {
	RequestFlags
	Reserved         uint32     // reserved bits, in place
	Voltage          Millivolts // bits 20-9, 20 mV
	OperatingCurrent Milliamps  // bits 6-0, 50 mA
}

// PPS reads the object as a request for a programmable supply.
func (r RDO) PPS() PPSRequest {
	w := uint32(r)
	return PPSRequest{
		RequestFlags:     r.Flags(),
		Reserved:         w & adjustableReserved,
		Voltage:          Millivolts(bits(w, 20, 9)) * unitPPSRequest,
		OperatingCurrent: Milliamps(bits(w, 6, 0)) * unitPPSCurrent,
	}
}

// Encode puts the object together.
func (p PPSRequest) Encode() RDO {
	return RDO(p.encode() | p.Reserved&adjustableReserved |
		put(int(p.Voltage/unitPPSRequest), 20, 9) |
		put(int(p.OperatingCurrent/unitPPSCurrent), 6, 0))
}

// AVSRequest asks for an SPR or EPR adjustable supply (USB PD R3.2 V1.1, table 6.26).
//
//	21     reserved
//	20-9   Output Voltage, 25 mV; the two low bits are 0, so that steps are 100 mV
//	8-7    reserved
//	6-0    Operating Current, 50 mA
type AVSRequest struct {
	RequestFlags
	Reserved         uint32     // reserved bits, in place
	Voltage          Millivolts // bits 20-9, 25 mV
	OperatingCurrent Milliamps  // bits 6-0, 50 mA
}

// AVS reads the object as a request for an adjustable supply.
func (r RDO) AVS() AVSRequest {
	w := uint32(r)
	return AVSRequest{
		RequestFlags:     r.Flags(),
		Reserved:         w & adjustableReserved,
		Voltage:          Millivolts(bits(w, 20, 9)) * unitAVSRequest,
		OperatingCurrent: Milliamps(bits(w, 6, 0)) * unitPPSCurrent,
	}
}

// Encode puts the object together.
func (a AVSRequest) Encode() RDO {
	return RDO(a.encode() | a.Reserved&adjustableReserved |
		put(int(a.Voltage/unitAVSRequest), 20, 9) |
		put(int(a.OperatingCurrent/unitPPSCurrent), 6, 0))
}
