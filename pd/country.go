package pd

// CCDO is the object of a Get_Country_Info message (USB PD R3.2 V1.1, table 6.48).
//
//	31-24  first letter of the country code
//	23-16  second letter
//	15-0   reserved
type CCDO uint32

// CountryCodeFields is a Get_Country_Info object taken apart.
type CountryCodeFields struct {
	First, Second byte   // bits 31-24, bits 23-16; letters, as the sender wrote them
	Reserved      uint16 // bits 15-0
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

// CountryCodesBlock is the Country_Codes block: a count, a reserved byte, then pairs of
// letters (USB PD R3.2 V1.1, table 6.63). Codes shares the bytes given to
// ParseCountryCodes.
type CountryCodesBlock struct {
	Count    uint8  // as sent; the pairs present may be fewer
	Reserved uint8  // byte 1
	Codes    []byte // two letters each, as sent
}

const countryBlockLeast = 2

// ParseCountryCodes reads the block; ok is false where b is shorter than its fixed part.
func ParseCountryCodes(b []byte) (c CountryCodesBlock, ok bool) {
	if len(b) < countryBlockLeast {
		return CountryCodesBlock{}, false
	}
	return CountryCodesBlock{Count: b[0], Reserved: b[1], Codes: b[countryBlockLeast:]}, true
}

// AppendTo appends the block to dst.
func (c CountryCodesBlock) AppendTo(dst []byte) []byte {
	return append(append(dst, c.Count, c.Reserved), c.Codes...)
}

// CountryInfoBlock is the Country_Info block: the code, two reserved bytes, then data of
// that country's own (USB PD R3.2 V1.1, table 6.64). Data shares the bytes given to
// ParseCountryInfo.
type CountryInfoBlock struct {
	First, Second byte    // bytes 0 and 1, letters as sent
	Reserved      [2]byte // bytes 2 and 3
	Data          []byte  // from byte 4 on
}

const countryInfoLeast = 4

// ParseCountryInfo reads the block; ok is false where b is shorter than its fixed part.
func ParseCountryInfo(b []byte) (c CountryInfoBlock, ok bool) {
	if len(b) < countryInfoLeast {
		return CountryInfoBlock{}, false
	}
	return CountryInfoBlock{
		First: b[0], Second: b[1], Reserved: [2]byte{b[2], b[3]}, Data: b[countryInfoLeast:],
	}, true
}

// AppendTo appends the block to dst.
func (c CountryInfoBlock) AppendTo(dst []byte) []byte {
	return append(append(dst, c.First, c.Second, c.Reserved[0], c.Reserved[1]), c.Data...)
}
