// Package line turns recordings of the CC line into messages, and says how
// healthy the line is.
//
// A [Decoder] takes the events of a recording and gives a [Frame] for each
// packet and reset on the line. A frame is good only if its CRC is right. A
// reset has none: it is good only after 32 good bits of preamble, with three
// of its four symbols, and quiet after it. What is broken is given as broken,
// with what could be read and where it broke.
package line

import (
	"time"

	"portside/pd"
)

// Reason says why a frame is not good.
type Reason uint8

// Reasons; the zero value stands on a good frame.
const (
	Whole         Reason = iota
	NoOrderedSet         // a preamble, and nothing known after it
	BadTiming            // no edge where the bit code needs one, or one where none may be
	BadSymbol            // five bits that are no symbol of data
	FellSilent           // the line went idle inside the packet
	CutShort             // an EOP before the CRC, as before a Hard Reset
	CRCWrong             // whole, and the CRC does not agree
	TooLong              // longer than any message
	ShortPreamble        // a reset after too few good bits of preamble
	NotQuiet             // a reset with traffic right after it
	RecordingEnds        // the recording ends, or is broken off, inside the frame
)

var reasonTexts = [...]string{
	Whole:         "whole",
	NoOrderedSet:  "a preamble without a known ordered set after it",
	BadTiming:     "the edges do not follow the bit code",
	BadSymbol:     "five bits that are no symbol of data",
	FellSilent:    "the line fell silent inside the packet",
	CutShort:      "the packet was cut short by an EOP",
	CRCWrong:      "the CRC is wrong",
	TooLong:       "longer than any message",
	ShortPreamble: "a reset after too short a preamble",
	NotQuiet:      "a reset, but the line was not quiet after it",
	RecordingEnds: "the recording ends inside the frame",
}

// String says it in words.
func (r Reason) String() string { return reasonTexts[r] }

// Frame is one packet or reset on the line, or what could be read of it.
type Frame struct {
	Signal int           // which signal of the recording
	Start  time.Duration // first bit of the preamble: 64 bits before the ordered set where one was read
	End    time.Duration // last bit of the EOP, of a reset's ordered set, or where it broke
	Good   bool
	Reason Reason // why it is not good

	Set        pd.OrderedSet // 0 where none was recognised
	SetMatches int           // 3 or 4 symbols of it
	Bytes      []byte        // header and payload in wire order, as far as they were read
	CRC        [4]byte
	HasCRC     bool // CRC holds the four bytes before the EOP

	PreambleBits int // good ones, right before the ordered set
	Bits         int // read, from the first good bit of the preamble to End
	Measured     Measured
	Picture      *Picture // only where it was asked for
}

// Picture is a frame bit by bit.
type Picture struct {
	Bits   []byte          // 0 and 1, from the first good bit of the preamble
	Starts []time.Duration // of each bit
	SetAt  int             // first bit of the ordered set, -1 where none was recognised
	High   bool            // the line is high in the first half of the first bit
}

// Symbols are the symbols from the ordered set on, as far as they are whole.
func (p *Picture) Symbols() []pd.Symbol {
	var out []pd.Symbol
	for at := p.SetAt; at >= 0 && at+symbolBits <= len(p.Bits); at += symbolBits {
		var code uint8
		for i, bit := range p.Bits[at : at+symbolBits] {
			code |= bit << i
		}
		out = append(out, pd.SymbolOf(code))
	}
	return out
}

// Measured is how the frame's edges lay.
type Measured struct {
	BitRateHz    float64 // mean over the frame
	DriftPercent float64 // largest deviation of a sliding mean of 32 bits from the mean of the last 32 bits of preamble; NaN where too little was read
	DriftU       float64 // standard uncertainty of the drift by jitter and sampling, in percent
	JitterUS     float64 // standard deviation of the edges about the tracked clock
	DutyPercent  float64 // share of high in an even pattern
	HighV, LowV  float64 // levels of the swing in volts; NaN where no volts were recorded
	RestV        float64 // the line's level before the frame; NaN where unknown
}

// Header is the message header; ok is false where it was not read whole, or
// where there is none.
func (f *Frame) Header() (h pd.Header, ok bool) {
	const headerBytes = 2
	if f.Set == 0 || f.Set.IsReset() || len(f.Bytes) < headerBytes {
		return 0, false
	}
	return pd.Header(uint16(f.Bytes[0]) | uint16(f.Bytes[1])<<8), true
}
