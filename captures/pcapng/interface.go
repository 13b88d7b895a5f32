package pcapng

import (
	"math"
	"math/bits"
	"time"
)

// Interface is what a file says of one interface: an Interface Description
// Block of pcapng, or the file header of a classic pcap.
type Interface struct {
	Link        LinkType
	Name        string   // if_name, empty where not given
	Description string   // if_description, empty where not given
	Comments    []string // opt_comment, in the order given
	clock       clock
	lost        lost
}

// lost is how many packets the recorder says it dropped, as of the latest
// statistics.
type lost struct{ byInterface, bySystem uint64 }

// Lost is how many packets the recorder itself says it dropped, as far as the
// file was read: what is missing there was not silence on the line.
func (in *Interface) Lost() uint64 { return in.lost.byInterface + in.lost.bySystem }

// clock turns the ticks of an interface into time
// (draft-ietf-opsawg-pcapng, section 4.2, if_tsresol and if_tsoffset).
type clock struct {
	resolution byte  // as in if_tsresol: the exponent, the top bit for base 2
	offset     int64 // seconds
}

const (
	baseTwo       = 0x80
	microseconds  = 6 // where an interface has no if_tsresol
	nanoseconds   = 9
	secondsToNano = 1_000_000_000
)

// powersOfTen holds all that fit into 64 bits.
var powersOfTen = [...]uint64{
	1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19,
}

// at is the time of a tick since 1970, cut to whole nanoseconds; ok is false
// beyond what a time.Duration holds (some 292 years).
func (c clock) at(ticks uint64) (at time.Duration, ok bool) {
	ns, ok := c.nanoseconds(ticks)
	if !ok {
		return 0, false
	}
	if c.offset == 0 {
		return time.Duration(ns), true
	}
	const most = math.MaxInt64 / secondsToNano
	if c.offset > most || c.offset < -most {
		return 0, false
	}
	shift := c.offset * secondsToNano
	if shift > 0 && ns > math.MaxInt64-shift {
		return 0, false
	}
	return time.Duration(ns + shift), true
}

func (c clock) nanoseconds(ticks uint64) (ns int64, ok bool) {
	exponent := int(c.resolution &^ baseTwo)
	var high, low uint64
	switch {
	case c.resolution&baseTwo != 0:
		high, low = bits.Mul64(ticks, secondsToNano)
		high, low = shiftRight(high, low, exponent)
	case exponent <= nanoseconds:
		high, low = bits.Mul64(ticks, powersOfTen[nanoseconds-exponent])
	case exponent-nanoseconds < len(powersOfTen):
		low = ticks / powersOfTen[exponent-nanoseconds]
	}
	if high != 0 || low > math.MaxInt64 {
		return 0, false
	}
	return int64(low), true
}

// shiftRight shifts a number of 128 bits right by 0 to 127.
func shiftRight(high, low uint64, by int) (uint64, uint64) {
	if by >= 64 {
		return 0, high >> (by - 64)
	}
	return high >> by, low>>by | high<<(64-by)
}
