package pd

import (
	"fmt"
	"time"
)

// Symbol is one five-bit symbol on the line: a nibble of data or a K-code (USB PD R3.2
// V1.1, table 5.1). The zero value is a code that is never valid.
type Symbol uint8

// The K-codes. The nibbles of data follow them, see [NibbleSymbol].
const (
	Sync1 Symbol = iota + 1 // Sync-1, start of packet
	Sync2                   // Sync-2, start of packet
	Sync3                   // Sync-3, start of packet
	RST1                    // RST-1, resets
	RST2                    // RST-2, resets and debug sets
	EOP                     // end of packet

	firstNibble
	symbolCount = firstNibble + 16
)

// symbolCodes are the codes b4 to b0; b0 goes first over the line.
var symbolCodes = [symbolCount]uint8{
	Sync1: 0b11000,
	Sync2: 0b10001,
	Sync3: 0b00110,
	RST1:  0b00111,
	RST2:  0b11001,
	EOP:   0b01101,

	firstNibble + 0x0: 0b11110,
	firstNibble + 0x1: 0b01001,
	firstNibble + 0x2: 0b10100,
	firstNibble + 0x3: 0b10101,
	firstNibble + 0x4: 0b01010,
	firstNibble + 0x5: 0b01011,
	firstNibble + 0x6: 0b01110,
	firstNibble + 0x7: 0b01111,
	firstNibble + 0x8: 0b10010,
	firstNibble + 0x9: 0b10011,
	firstNibble + 0xA: 0b10110,
	firstNibble + 0xB: 0b10111,
	firstNibble + 0xC: 0b11010,
	firstNibble + 0xD: 0b11011,
	firstNibble + 0xE: 0b11100,
	firstNibble + 0xF: 0b11101,
}

var symbolNames = [...]string{
	Sync1: "Sync-1", Sync2: "Sync-2", Sync3: "Sync-3",
	RST1: "RST-1", RST2: "RST-2", EOP: "EOP",
}

const symbolBits = 5

var symbolsByCode = invertSymbolCodes()

func invertSymbolCodes() (t [1 << symbolBits]Symbol) {
	for s := Sync1; s < symbolCount; s++ {
		t[symbolCodes[s]] = s
	}
	return t
}

// SymbolOf finds the symbol with the code b4 to b0; zero where the code is never valid.
func SymbolOf(code uint8) Symbol {
	if int(code) >= len(symbolsByCode) {
		return 0
	}
	return symbolsByCode[code]
}

// NibbleSymbol is the symbol of the low four bits of n.
func NibbleSymbol(n byte) Symbol { return firstNibble + Symbol(n&0xF) }

// Code is the five-bit code b4 to b0, of which b0 is sent first; 0 for no symbol.
func (s Symbol) Code() uint8 {
	if s >= symbolCount {
		return 0
	}
	return symbolCodes[s]
}

// Nibble is the data of the symbol; ok is false for K-codes and invalid codes.
func (s Symbol) Nibble() (n byte, ok bool) {
	if s < firstNibble || s >= symbolCount {
		return 0, false
	}
	return byte(s - firstNibble), true
}

// String gives the name of a K-code, the nibble in hexadecimal, or "invalid".
func (s Symbol) String() string {
	if n, ok := s.Nibble(); ok {
		return fmt.Sprintf("%X", n)
	}
	if s == 0 || int(s) >= len(symbolNames) {
		return "invalid"
	}
	return symbolNames[s]
}

// orderedSetSymbols are the four K-codes of each set, first sent first (USB PD R3.2 V1.1,
// tables 5.5 to 5.9, 5.11 and 5.12).
var orderedSetSymbols = [...][4]Symbol{
	SOP:                 {Sync1, Sync1, Sync1, Sync2},
	SOPPrime:            {Sync1, Sync1, Sync3, Sync3},
	SOPDoublePrime:      {Sync1, Sync3, Sync1, Sync3},
	SOPPrimeDebug:       {Sync1, RST2, RST2, Sync3},
	SOPDoublePrimeDebug: {Sync1, RST2, Sync3, Sync2},
	HardReset:           {RST1, RST1, RST1, RST2},
	CableReset:          {RST1, Sync1, RST1, Sync3},
}

// Symbols are the four K-codes of the set, first sent first; ok is false for no set.
func (s OrderedSet) Symbols() (k [4]Symbol, ok bool) {
	if s == 0 || int(s) >= len(orderedSetSymbols) {
		return k, false
	}
	return orderedSetSymbols[s], true
}

// RecogniseOrderedSet finds the set that agrees with at least three of the four symbols,
// and in how many. Four must be accepted, three may be, two never (USB PD R3.2 V1.1,
// table 5.3). Where three agree with more than one set, none is recognised: Sync-1 RST-2
// Sync-1 Sync-3 lies as near to SOPDoublePrime as to SOPPrimeDebug.
func RecogniseOrderedSet(k [4]Symbol) (set OrderedSet, matches int) {
	const enough = 3
	for s := SOP; s <= CableReset; s++ {
		n := 0
		for i, want := range orderedSetSymbols[s] {
			if k[i] == want {
				n++
			}
		}
		switch {
		case n == len(k):
			return s, n
		case n == enough && matches == enough:
			return 0, 0
		case n == enough:
			set, matches = s, n
		}
	}
	return set, matches
}

// Lengths on the line in bits (USB PD R3.2 V1.1, sections 5.5 and 5.6).
const (
	PreambleBits = 64 // alternating, first 0, last 1, not 4b5b coded
	bitsPerByte  = 2 * symbolBits
	crcBytes     = 4
)

// AppendSymbols appends the symbols of the packet from ordered set to EOP, CRC included;
// a reset signal ends with its ordered set. An unknown set appends nothing.
func (m Message) AppendSymbols(dst []Symbol) []Symbol {
	k, ok := m.Set.Symbols()
	if !ok {
		return dst
	}
	dst = append(dst, k[:]...)
	if m.Set.IsReset() {
		return dst
	}
	for _, b := range AppendCRC(m.Bytes()) {
		dst = append(dst, NibbleSymbol(b), NibbleSymbol(b>>4))
	}
	return append(dst, EOP)
}

// LineBits is the length of the packet on the line from the first bit of the preamble to
// the last bit of the EOP.
func (m Message) LineBits() int {
	start := PreambleBits + 4*symbolBits
	if m.Set.IsReset() {
		return start
	}
	return start + (headerBytes+len(m.Body)+crcBytes)*bitsPerByte + symbolBits
}

// AirTime is how long bits of the line last at the highest, the nominal and the lowest
// bit rate allowed (USB PD R3.2 V1.1, table 5.17).
func AirTime(bits int) (shortest, nominal, longest time.Duration) {
	rate := FBitRate.Limits(Revision32)
	at := func(bitsPerSecond float64) time.Duration {
		return time.Duration(float64(bits) / bitsPerSecond * float64(time.Second))
	}
	return at(rate.MaxSI()), at(rate.NomSI()), at(rate.MinSI())
}
