package line

import (
	"bufio"
	"fmt"
	"io"
	"time"

	"portside/pd"
)

// Frame is one packet as a speaker puts it on CC.
type Frame struct {
	At, End time.Duration // first bit of the preamble, last bit of the EOP
	Set     pd.OrderedSet
	Bytes   []byte  // header and data objects in wire order; none in a reset
	CRC     [4]byte // as sent, right or wrong
}

// holdLow is how long the driver keeps CC low before it lets go: at least 1 us
// (tHoldLowBMC, USB PD R3.2 V1.1, table 5.18).
const holdLow = 2 * time.Microsecond

// AppendEdges appends the times at which CC changes its level while the frame
// is sent. The line rests high, as Rp pulls it, and rests high again after the
// last edge. Biphase mark code: a change at the begin of each bit, another in
// the middle of a 1 (USB PD R3.2 V1.1, sections 5.6 and 5.8.1).
func (f Frame) AppendEdges(dst []time.Duration) []time.Duration {
	bits := f.bits()
	at := func(half int) time.Duration {
		return f.At + time.Duration(float64(f.End-f.At)*float64(half)/float64(2*len(bits)))
	}
	first := len(dst)
	dst = append(dst, f.At) // the driver begins low
	for i, one := range bits {
		if i > 0 {
			dst = append(dst, at(2*i))
		}
		if one {
			dst = append(dst, at(2*i+1))
		}
	}
	dst = append(dst, at(2*len(bits)))
	if (len(dst)-first)%2 == 0 { // high: one more bit brings it low
		dst = append(dst, at(2*len(bits)+2))
	}
	return append(dst, dst[len(dst)-1]+holdLow)
}

// bits are what crosses the line, preamble first.
func (f Frame) bits() []bool {
	var out []bool
	for range pd.PreambleBits / 2 {
		out = append(out, false, true)
	}
	put := func(s pd.Symbol) {
		const symbolBits = 5
		for i := range symbolBits {
			out = append(out, s.Code()>>i&1 == 1)
		}
	}
	set, _ := f.Set.Symbols()
	for _, s := range set {
		put(s)
	}
	if f.Set.IsReset() {
		return out
	}
	for _, b := range append(f.Bytes[:len(f.Bytes):len(f.Bytes)], f.CRC[:]...) {
		put(pd.NibbleSymbol(b))
		put(pd.NibbleSymbol(b >> 4))
	}
	put(pd.EOP)
	return out
}

// VCDWriter writes frames as a Value Change Dump (IEEE 1364) with one one-bit
// signal, in nanoseconds. Frames come in order of time and do not overlap.
type VCDWriter struct {
	w     *bufio.Writer
	edges []time.Duration
	level byte
}

// NewVCDWriter begins a dump of the signal at a time, which is not negative.
func NewVCDWriter(w io.Writer, signal string, at time.Duration) *VCDWriter {
	v := &VCDWriter{w: bufio.NewWriter(w), level: '1'}
	// The buffer keeps the first error for Close.
	_, _ = fmt.Fprintf(v.w, "$timescale 1 ns $end\n$scope module line $end\n$var wire 1 ! %s $end\n"+
		"$upscope $end\n$enddefinitions $end\n#%d\n$dumpvars\n1!\n$end\n", signal, at.Nanoseconds())
	return v
}

// Write puts one frame on the line.
func (v *VCDWriter) Write(f Frame) error {
	v.edges = f.AppendEdges(v.edges[:0])
	for _, at := range v.edges {
		v.level ^= '0' ^ '1'
		if _, err := fmt.Fprintf(v.w, "#%d\n%c!\n", at.Nanoseconds(), v.level); err != nil {
			return err
		}
	}
	return nil
}

// Close ends the dump at a time and says whether all of it was written.
func (v *VCDWriter) Close(at time.Duration) error {
	_, _ = fmt.Fprintf(v.w, "#%d\n", at.Nanoseconds())
	return v.w.Flush()
}
