package pd

// RMDO is the object of a Revision message (USB PD R3.2 V1.1, table 6.52).
//
//	31-28  Revision major
//	27-24  Revision minor
//	23-20  Version major
//	19-16  Version minor
//	15-0   reserved
type RMDO uint32

// RevisionFields is a Revision object taken apart: R3.2 V1.1 is 3, 2, 1, 1.
type RevisionFields struct {
	RevisionMajor, RevisionMinor int    // bits 31-28, bits 27-24
	VersionMajor, VersionMinor   int    // bits 23-20, bits 19-16
	Reserved                     uint16 // bits 15-0
}

// Fields takes the object apart; Encode is the exact inverse.
func (o RMDO) Fields() RevisionFields {
	w := uint32(o)
	return RevisionFields{
		RevisionMajor: bits(w, 31, 28),
		RevisionMinor: bits(w, 27, 24),
		VersionMajor:  bits(w, 23, 20),
		VersionMinor:  bits(w, 19, 16),
		Reserved:      uint16(w),
	}
}

// Encode puts the object together.
func (f RevisionFields) Encode() RMDO {
	return RMDO(put(f.RevisionMajor, 31, 28) |
		put(f.RevisionMinor, 27, 24) |
		put(f.VersionMajor, 23, 20) |
		put(f.VersionMinor, 19, 16) |
		uint32(f.Reserved))
}

// Revision is the revision the object names; unknown when this package knows none so
// numbered.
func (o RMDO) Revision() Revision {
	switch f := o.Fields(); [2]int{f.RevisionMajor, f.RevisionMinor} {
	case [2]int{1, 0}:
		return Revision10
	case [2]int{2, 0}:
		return Revision20
	case [2]int{3, 0}:
		return Revision30
	case [2]int{3, 1}:
		return Revision31
	case [2]int{3, 2}:
		return Revision32
	default:
		return 0
	}
}
