package pd

// SIDO is the object of a Source_Info message (USB PD R3.2 V1.1, table 6.51).
//
//	31     Port Type: 1 guaranteed capability, 0 managed
//	30-24  reserved
//	23-16  Port Maximum PDP, 1 W
//	15-8   Port Present PDP, 1 W
//	7-0    Port Reported PDP, 1 W
type SIDO uint32

// SourceInfoFields is a Source_Info object taken apart.
type SourceInfoFields struct {
	Guaranteed  bool   // bit 31; false is a managed port
	Reserved    uint32 // bits 30-24, in place
	MaximumPDP  Watts  // bits 23-16, 1 W
	PresentPDP  Watts  // bits 15-8, 1 W; with the limits of cable, temperature and input
	ReportedPDP Watts  // bits 7-0, 1 W; whole part of the largest V times A offered as fixed
}

const sourceInfoReserved = 0x7F << 24

// Fields takes the object apart; Encode is the exact inverse.
func (o SIDO) Fields() SourceInfoFields {
	w := uint32(o)
	return SourceInfoFields{
		Guaranteed:  bit(w, 31),
		Reserved:    w & sourceInfoReserved,
		MaximumPDP:  Watts(bits(w, 23, 16)),
		PresentPDP:  Watts(bits(w, 15, 8)),
		ReportedPDP: Watts(bits(w, 7, 0)),
	}
}

// Encode puts the object together.
func (f SourceInfoFields) Encode() SIDO {
	return SIDO(flag(f.Guaranteed, 31) |
		f.Reserved&sourceInfoReserved |
		put(int(f.MaximumPDP), 23, 16) |
		put(int(f.PresentPDP), 15, 8) |
		put(int(f.ReportedPDP), 7, 0))
}
