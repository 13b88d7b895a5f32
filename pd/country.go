package pd

// CCDO is the object of a Get_Country_Info message (USB PD R3.2 V1.1, table 6.48).
//
//	31-24  first letter of the country code
//	23-16  second letter
//	15-0   reserved
type CCDO uint32

// CountryCodeFields is a Get_Country_Info object taken apart.
type CountryCodeFields struct {
	First, Second byte // letters, as the sender wrote them
	Reserved      uint16
}

// Fields takes the object apart; Encode is the exact inverse.
func (o CCDO) Fields() CountryCodeFields {
	return CountryCodeFields{First: byte(o >> 24), Second: byte(o >> 16), Reserved: uint16(o)}
}

// Encode puts the object together.
func (f CountryCodeFields) Encode() CCDO {
	return CCDO(uint32(f.First)<<24 | uint32(f.Second)<<16 | uint32(f.Reserved))
}

// Code is the two-letter code; ok is false where the bytes are no capital letters.
func (f CountryCodeFields) Code() (code string, ok bool) {
	capital := func(b byte) bool { return b >= 'A' && b <= 'Z' }
	if !capital(f.First) || !capital(f.Second) {
		return "", false
	}
	return string([]byte{f.First, f.Second}), true
}
