package line

import (
	"math/bits"

	"portside/pd"
)

const (
	setBits    = 20 // four symbols of five bits
	allSymbols = 4
	symbolBits = 5
	// carrierBits of alternation are no preamble: BIST Carrier Mode sends
	// nothing else for 30 to 60 ms (USB PD R3.2 V1.1, section 5.9).
	carrierBits = 4 * pd.PreambleBits
	// lateSet is how many bits after the first that is no preamble an ordered
	// set may still begin: a glitch in the preamble costs a bit or two.
	lateSet = 10
	// maxMessageBytes is header, extended header, 260 bytes of data and CRC
	// (USB PD R3.2 V1.1, sections 6.2.1.2 and 5.6.2).
	maxMessageBytes = 2 + 2 + 260 + crcBytes
	crcBytes        = 4
)

// setWord is an ordered set as 20 bits, the first sent lowest.
type setWord struct {
	word uint32
	set  pd.OrderedSet
}

func orderedSetWords() (words []setWord) {
	for s := pd.SOP; s <= pd.CableReset; s++ {
		symbols, _ := s.Symbols()
		var word uint32
		for i, k := range symbols {
			word |= uint32(k.Code()) << (i * symbolBits)
		}
		words = append(words, setWord{word, s})
	}
	return words
}

// parser turns bits into an ordered set and bytes.
type parser struct {
	words   []setWord
	bits    []byte // from the first bit of preamble that was recognised
	run     int    // alternating bits up to the last one
	brokeAt int    // first bit that broke the alternation, -1 before
	last20  uint32

	setAt   int // first bit of the ordered set, -1 before
	set     pd.OrderedSet
	matches int

	code  uint8 // of the symbol being read
	coded int
	low   byte // nibble waiting for the high one
	half  bool
	data  []byte // with the CRC

	reason  Reason
	carrier bool
}

func newParser() *parser { return &parser{words: orderedSetWords()} }

func (p *parser) reset() {
	*p = parser{words: p.words, bits: p.bits[:0], data: p.data[:0], brokeAt: -1, setAt: -1}
}

// push takes the next bit; true when the frame is over: whole, or broken for
// the reason given.
func (p *parser) push(bit byte) (done bool) {
	p.bits = append(p.bits, bit)
	if p.setAt >= 0 {
		return p.body(bit)
	}
	n := len(p.bits)
	p.last20 = p.last20>>1 | uint32(bit)<<(setBits-1)
	if n == 1 || bit != p.bits[n-2] {
		p.run++
		if p.brokeAt < 0 {
			p.carrier = p.run >= carrierBits
			p.reason = NoOrderedSet
			return p.carrier
		}
	} else {
		p.run = 1
		if p.brokeAt < 0 {
			p.brokeAt = n - 1
		}
	}
	return p.seek(n)
}

// seek looks for the ordered set once the preamble is over.
func (p *parser) seek(n int) (done bool) {
	for _, w := range p.words {
		if n >= setBits && p.last20 == w.word {
			return p.begin(n-setBits, w.set, allSymbols)
		}
	}
	if n < p.brokeAt+lateSet+setBits {
		return false
	}
	if done, found := p.late(); found {
		return done
	}
	const preambleAgain = 16
	if p.run >= preambleAgain {
		p.brokeAt = -1 // a disturbed preamble goes on
		return false
	}
	p.reason = NoOrderedSet
	return true
}

// late looks for an ordered set that is not whole around the end of the preamble.
func (p *parser) late() (done, found bool) {
	if p.brokeAt < 0 {
		return false, false
	}
	for at := max(0, p.brokeAt-lateSet); at <= p.brokeAt+lateSet && at+setBits <= len(p.bits); at++ {
		if set := p.nearest(p.bits[at : at+setBits]); set != 0 {
			return p.begin(at, set, allSymbols-1), true
		}
	}
	return false, false
}

// clearlyNearest is by how many bits another set must be further away: the
// debug sets are only five and six bits from the others.
const clearlyNearest = 3

// nearest finds the ordered set of which three symbols of four are right.
// The fourth can be so wrong that three of another set are right as well: two
// sets agree in two places. So the set must also be clearly nearer than any
// other in single bits.
func (p *parser) nearest(received []byte) pd.OrderedSet {
	var word uint32
	for i, bit := range received {
		word |= uint32(bit) << i
	}
	best, least, next := setWord{}, setBits+1, setBits+1
	for _, w := range p.words {
		switch d := bits.OnesCount32(word ^ w.word); {
		case d < least:
			best, least, next = w, d, least
		case d < next:
			next = d
		}
	}
	wrong := 0
	for i := range allSymbols {
		const symbolMask = 1<<symbolBits - 1
		if (word^best.word)>>(i*symbolBits)&symbolMask != 0 {
			wrong++
		}
	}
	if wrong > 1 || next-least < clearlyNearest {
		return 0
	}
	return best.set
}

// begin takes an ordered set, and reads what followed it already.
func (p *parser) begin(at int, set pd.OrderedSet, matches int) (done bool) {
	p.setAt, p.set, p.matches = at, set, matches
	p.reason = Whole
	if set.IsReset() {
		p.bits = p.bits[:at+setBits]
		return true
	}
	for i, bit := range p.bits[at+setBits:] {
		if p.body(bit) {
			p.bits = p.bits[:at+setBits+i+1]
			return true
		}
	}
	return false
}

// body takes a bit behind the ordered set.
func (p *parser) body(bit byte) (done bool) {
	p.code |= bit << p.coded
	if p.coded++; p.coded < symbolBits {
		return false
	}
	symbol := pd.SymbolOf(p.code)
	p.code, p.coded = 0, 0
	nibble, isData := symbol.Nibble()
	switch {
	case isData && len(p.data) == maxMessageBytes:
		p.reason = TooLong
		return true
	case isData && p.half:
		p.data = append(p.data, p.low|nibble<<4)
		p.half = false
		return false
	case isData:
		p.low, p.half = nibble, true
		return false
	case symbol == pd.EOP:
		p.reason = p.verdict()
		return true
	}
	p.reason = BadSymbol
	return true
}

// verdict judges the bytes between ordered set and EOP.
func (p *parser) verdict() Reason {
	const headerBytes, objectBytes = 2, 4
	n := len(p.data)
	if p.half || n < headerBytes+crcBytes {
		return CutShort
	}
	if pd.CheckCRC(p.data[:n-crcBytes], [crcBytes]byte(p.data[n-crcBytes:])) {
		return Whole
	}
	header := pd.Header(uint16(p.data[0]) | uint16(p.data[1])<<8)
	if !header.Extended() && n < headerBytes+objectBytes*header.Objects()+crcBytes {
		return CutShort
	}
	return CRCWrong
}

// preamble counts the good bits right before the ordered set, or before what
// took its place.
func (p *parser) preamble() int {
	at := p.setAt
	switch {
	case at < 0 && p.brokeAt < 0:
		return p.run
	case at < 0:
		at = p.brokeAt
	case at > 0 && p.bits[at-1] != 1:
		return 0
	}
	n := min(1, at)
	for n > 0 && n < at && p.bits[at-1-n] != p.bits[at-n] {
		n++
	}
	return n
}
