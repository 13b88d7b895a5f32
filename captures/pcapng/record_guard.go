package pcapng

import (
	"encoding/binary"
	"fmt"
)

// The classic format (draft-ietf-opsawg-pcap, sections 4 and 5).
const (
	magicMicro = 0xA1B2C3D4
	magicNano  = 0xA1B23C4D

	fileHead   = 24
	recordHead = 16
	// maxRecord is the longest record that is read.
	maxRecord = bufferSize - recordHead
)

// recordGuard does for a classic file what guard does for pcapng.
type recordGuard struct {
	walker
	in      *Interface
	perUnit uint32 // units of the fraction in a second
	begun   bool
	out     []byte
	offset  int64
	scratch [fileHead]byte
}

// Read gives the library the checked records.
func (g *recordGuard) Read(p []byte) (int, error) {
	for len(g.out) == 0 {
		next := g.record
		if !g.begun {
			next = g.header
		}
		if err := next(); err != nil {
			return 0, err
		}
	}
	n := copy(p, g.out)
	g.out = g.out[n:]
	return n, nil
}

// header takes the file header and hands on one without a claimed length.
func (g *recordGuard) header() error {
	head, err := g.head(fileHead, "a pcap file")
	if err != nil {
		return err
	}
	magic := binary.BigEndian.Uint32(head)
	g.bigEndian = magic == magicMicro || magic == magicNano
	g.perUnit = 1e6
	if g.uint32(head) == magicNano {
		g.perUnit = 1e9
	}
	if major, minor := g.uint16(head[4:]), g.uint16(head[6:]); major != 2 || minor != 4 {
		return &FormatError{Expected: "a pcap file of version 2.4", Found: fmt.Sprintf("version %d.%d", major, minor)}
	}
	// The upper half of the last field holds other things (section 4); the
	// conversion drops it.
	g.in = &Interface{Link: LinkType(g.uint32(head[20:])), clock: clock{resolution: nanoseconds}}
	copy(g.scratch[:], head)
	if g.bigEndian {
		binary.BigEndian.PutUint32(g.scratch[16:], maxRecord)
	} else {
		binary.LittleEndian.PutUint32(g.scratch[16:], maxRecord)
	}
	g.begun = true
	g.out = g.scratch[:]
	g.take(fileHead)
	return nil
}

// record takes the next record and hands it on where it is whole.
func (g *recordGuard) record() error {
	head, err := g.head(recordHead, "a record")
	if err != nil {
		return err
	}
	fraction := g.uint32(head[4:])
	captured, original := int64(g.uint32(head[8:])), g.uint32(head[12:])
	length := recordHead + captured
	switch {
	case !g.in.Link.Known():
		return g.pass(length, "a record")
	case captured > maxRecord:
		g.damage(g.at, true, "a packet of %d bytes; expected %d or fewer", captured, maxRecord)
		return g.pass(length, "a record")
	case captured > int64(original):
		g.damage(g.at, true, "%d bytes were kept of a packet of %d", captured, original)
		return g.pass(length, "a record")
	case fraction >= g.perUnit:
		g.damage(g.at, true, "expected a fraction of a second below %d, found %d", g.perUnit, fraction)
		return g.pass(length, "a record")
	}
	b, err := g.whole(int(length), "a record")
	if err != nil {
		return err
	}
	g.offset = g.at
	g.take(int(length))
	g.out = b
	return nil
}
