package pd

// The product objects that R3 no longer has. Products of R2.0 still send them, with a
// Structured VDM Version of 1.0 in the header before them. USB PD R2.0 was not read: the
// layouts are those of the Linux 6.1 headers.

// R20CableVDO describes a passive or active cable of R2.0, in the place of [PassiveCableVDO]
// and [ActiveCableVDO1]. It states no highest voltage: take 20 V.
//
//	31-28  hardware version
//	27-24  firmware version
//	23-20  reserved
//	19-18  far end: 0 Type-A, 1 Type-B, 2 Type-C, 3 captive
//	17     reserved
//	16-13  latency, as in [CableFields]
//	12-11  termination, as in [CableFields]
//	10-7   directionality of SSTX1, SSTX2, SSRX1, SSRX2: 1 configurable
//	6-5    current: 1 3 A, 2 5 A
//	4      VBUS through the cable
//	3      a controller answers on the far plug
//	2-0    SuperSpeed signalling: 0 none, 1 Gen 1, 2 Gen 2
type R20CableVDO uint32

// R20CableFields is a cable object of R2.0 taken apart.
type R20CableFields struct {
	HardwareVersion   int    // bits 31-28
	FirmwareVersion   int    // bits 27-24
	Plug              int    // raw code of bits 19 and 18
	Latency           int    // bits 16-13; raw code
	Termination       int    // bits 12-11; raw code
	Directionality    int    // raw bits 10 to 7
	Current           int    // bits 6-5; raw code, see MaxCurrent
	VBUSThrough       bool   // bit 4
	FarPlugController bool   // bit 3; a controller answers on SOP''
	Signalling        int    // bits 2-0; raw code
	Reserved          uint32 // reserved bits, in place
}

const r20CableReserved = 0xF<<20 | 1<<17

// MaxCurrent is the current the cable carries; ok is false for the codes 0 and 3.
func (f R20CableFields) MaxCurrent() (i Milliamps, ok bool) {
	return CableFields{Current: f.Current}.MaxCurrent()
}

// Fields takes the object apart; Encode is the exact inverse.
func (o R20CableVDO) Fields() R20CableFields {
	w := uint32(o)
	return R20CableFields{
		HardwareVersion:   bits(w, 31, 28),
		FirmwareVersion:   bits(w, 27, 24),
		Plug:              bits(w, 19, 18),
		Latency:           bits(w, 16, 13),
		Termination:       bits(w, 12, 11),
		Directionality:    bits(w, 10, 7),
		Current:           bits(w, 6, 5),
		VBUSThrough:       bit(w, 4),
		FarPlugController: bit(w, 3),
		Signalling:        bits(w, 2, 0),
		Reserved:          w & r20CableReserved,
	}
}

// Encode puts the object together.
func (f R20CableFields) Encode() R20CableVDO {
	return R20CableVDO(put(f.HardwareVersion, 31, 28) |
		put(f.FirmwareVersion, 27, 24) |
		put(f.Plug, 19, 18) |
		put(f.Latency, 16, 13) |
		put(f.Termination, 12, 11) |
		put(f.Directionality, 10, 7) |
		put(f.Current, 6, 5) |
		flag(f.VBUSThrough, 4) |
		flag(f.FarPlugController, 3) |
		put(f.Signalling, 2, 0) |
		f.Reserved&r20CableReserved)
}

// AMAVDO describes an alternate mode adapter; R3.2 deprecates it.
//
//	31-28  hardware version
//	27-24  firmware version
//	23-12  reserved
//	11-8   directionality of SSTX1, SSTX2, SSRX1, SSRX2: 1 configurable
//	7-5    VCONN power: 1, 1.5, 2, 3, 4, 5, 6 W
//	4      VCONN Required
//	3      VBUS Required
//	2-0    USB signalling: 0 USB 2.0, 1 Gen 1, 2 Gen 2, 3 billboard only
type AMAVDO uint32

// AMAFields is the object of an alternate mode adapter taken apart.
type AMAFields struct {
	HardwareVersion int    // bits 31-28
	FirmwareVersion int    // bits 27-24
	Directionality  int    // raw bits 11 to 8
	VCONNPower      int    // bits 7-5; raw code
	VCONNRequired   bool   // bit 4
	VBUSRequired    bool   // bit 3
	Signalling      int    // bits 2-0; raw code
	Reserved        uint32 // bits 23 to 12, in place
}

const amaReserved = 0xFFF << 12

// Fields takes the object apart; Encode is the exact inverse.
func (o AMAVDO) Fields() AMAFields {
	w := uint32(o)
	return AMAFields{
		HardwareVersion: bits(w, 31, 28),
		FirmwareVersion: bits(w, 27, 24),
		Directionality:  bits(w, 11, 8),
		VCONNPower:      bits(w, 7, 5),
		VCONNRequired:   bit(w, 4),
		VBUSRequired:    bit(w, 3),
		Signalling:      bits(w, 2, 0),
		Reserved:        w & amaReserved,
	}
}

// Encode puts the object together.
func (f AMAFields) Encode() AMAVDO {
	return AMAVDO(put(f.HardwareVersion, 31, 28) |
		put(f.FirmwareVersion, 27, 24) |
		put(f.Directionality, 11, 8) |
		put(f.VCONNPower, 7, 5) |
		flag(f.VCONNRequired, 4) |
		flag(f.VBUSRequired, 3) |
		put(f.Signalling, 2, 0) |
		f.Reserved&amaReserved)
}
