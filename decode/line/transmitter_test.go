package line_test

import (
	"cmp"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"

	"portside/captures/line"
)

// The transmitter is written from the standard apart from the receiver: its
// own tables, its own CRC, its own edges.

// lineCodes are the five bits of each nibble as they cross the line, first
// sent first (USB PD R3.2 V1.1, table 5.1).
var lineCodes = [16]string{
	"01111", "10010", "00101", "10101", "01010", "11010", "01110", "11110",
	"01001", "11001", "01101", "11101", "01011", "11011", "00111", "10111",
}

// kCodes as they cross the line (USB PD R3.2 V1.1, table 5.1).
var kCodes = map[string]string{
	"Sync-1": "00011", "Sync-2": "10001", "Sync-3": "01100",
	"RST-1": "11100", "RST-2": "10011", "EOP": "10110",
}

// sets by the name used in message lists (USB PD R3.2 V1.1, tables 5.5 to 5.12).
var sets = map[string][4]string{
	"SOP":         {"Sync-1", "Sync-1", "Sync-1", "Sync-2"},
	"SOP'":        {"Sync-1", "Sync-1", "Sync-3", "Sync-3"},
	"SOP''":       {"Sync-1", "Sync-3", "Sync-1", "Sync-3"},
	"SOP'_Debug":  {"Sync-1", "RST-2", "RST-2", "Sync-3"},
	"SOP''_Debug": {"Sync-1", "RST-2", "Sync-3", "Sync-2"},
	"Hard_Reset":  {"RST-1", "RST-1", "RST-1", "RST-2"},
	"Cable_Reset": {"RST-1", "Sync-1", "RST-1", "Sync-3"},
}

var setNames = []string{"SOP", "SOP'", "SOP''", "SOP'_Debug", "SOP''_Debug"}

// crc32Bits is the CRC bit by bit as appendix A of USB PD R3.2 V1.1 has it.
func crc32Bits(data []byte) [4]byte {
	crc := uint32(0xFFFFFFFF)
	for _, b := range data {
		for i := range 8 {
			bit := uint32(b>>i)&1 ^ crc>>31
			crc <<= 1
			if bit == 1 {
				crc ^= 0x04C11DB7
			}
		}
	}
	crc = ^crc
	var mirrored uint32
	for i := range 32 {
		mirrored |= (crc >> i & 1) << (31 - i)
	}
	var out [4]byte
	binary.LittleEndian.PutUint32(out[:], mirrored)
	return out
}

// bitsOf is the whole packet on the line, '0' and '1'.
func bitsOf(set string, data []byte) string {
	var b []byte
	for range 32 {
		b = append(b, "01"...)
	}
	for _, k := range sets[set] {
		b = append(b, kCodes[k]...)
	}
	if set == "Hard_Reset" || set == "Cable_Reset" {
		return string(b)
	}
	crc := crc32Bits(data)
	for _, c := range append(slices.Clone(data), crc[:]...) {
		b = append(b, lineCodes[c&15]...)
		b = append(b, lineCodes[c>>4]...)
	}
	return string(append(b, kCodes["EOP"]...))
}

// transmitter is one speaker. Times are in microseconds.
type transmitter struct {
	rate   float64 // kbit/s
	drift  float64 // how much the rate changes over 100 bits, as a part of it
	jitter float64 // each edge is off by up to this, uniformly
	gauss  float64 // and by this much in the mean
	duty   float64 // rising edges late by this, falling ones early
	rng    *rand.Rand
}

// edges are the times at which the level changes, from the first bit's edge
// at begin on. The line rests at the level rest and the driver begins low
// (USB PD R3.2 V1.1, section 5.8.1). The closing edges after the last bit are
// there. ends is the end of the last bit.
func (x *transmitter) edges(bits string, begin float64, rest int) (times []float64, ends float64) {
	level := rest
	change := func(at float64, to int) {
		if to == level {
			return
		}
		level = to
		off := x.duty
		if to == 0 {
			off = -off
		}
		if x.jitter > 0 {
			off += x.jitter * (2*x.rng.Float64() - 1)
		}
		if x.gauss > 0 {
			off += x.gauss * x.rng.NormFloat64()
		}
		times = append(times, at+off)
	}
	at, rate := begin, x.rate
	change(at, 0) // the first edge exists only where the line did not rest low
	for i, c := range []byte(bits) {
		ui := 1000 / rate
		if i > 0 {
			change(at, 1-level)
		}
		if c == '1' {
			change(at+ui/2, 1-level)
		}
		at += ui
		rate *= 1 + x.drift/100
	}
	ends = at
	change(at, 1-level)
	if level == 1 {
		change(at+1000/rate, 0)
	}
	released := ends + 1 + 1000/rate + 5*x.rng.Float64()
	if rest == 1 {
		change(released, 1)
	}
	slices.Sort(times)
	return times, ends
}

// sample puts edges on a grid of samples: a change is seen at the next one.
// Two changes between two samples are not seen. Times in us, rate in MS/s.
func sample(times []float64, rate, phase float64, rest int) (at []float64) {
	index := func(t float64) float64 { return math.Ceil(t*rate - phase) }
	for i := 0; i < len(times); {
		n := i + 1
		for n < len(times) && index(times[n]) == index(times[i]) {
			n++
		}
		if (n-i)%2 == 1 {
			at = append(at, (index(times[i])+phase)/rate)
		}
		i = n
	}
	return at
}

func sorted(times []float64) []float64 {
	slices.Sort(times)
	return times
}

func sortEvents(events []line.Event) {
	slices.SortStableFunc(events, func(a, b line.Event) int { return cmp.Compare(a.At, b.At) })
}
