package pcapng

import (
	"encoding/binary"
	"fmt"
)

// Block types (draft-ietf-opsawg-pcapng, section 4 and appendix A).
const (
	blockSection    = 0x0A0D0D0A
	blockInterface  = 1
	blockPacket     = 2 // obsolete, but read
	blockSimple     = 3
	blockStatistics = 5
	blockEnhanced   = 6
)

const (
	byteOrderMagic = 0x1A2B3C4D
	blockHead      = 12 // type, length and what follows them in the shortest block
	blockShortest  = 12
	lengthBytes    = 4
	typeAndLength  = 8
	sectionFixed   = 28 // type, length, magic, version, section length, length again
	interfaceFixed = 20 // type, length, link type, reserved, snap length, length again
	packetFixed    = 32 // type, length, interface, time, two lengths, length again
	packetData     = 28 // where the packet begins
	capturedAt     = 20 // where its length stands
)

const (
	// maxInterfaces is far more than a bench has; each one costs memory.
	maxInterfaces = 1024
	// maxText bounds the names and comments kept of a section.
	maxText = 1 << 20
)

// guard stands between a pcapng file and the library, which takes every length
// in it at its word. It walks the blocks, checks what they claim against what
// is there, and hands on the packets of the link types read here, several at a
// time where they follow each other. Since it looks at no further block before
// the library has taken all of them, what it knows of the section is what the
// library reads at that moment.
//
// Section and interface blocks are rewritten without their options. The
// library keeps one comment of several, cuts link types to 8 bits, gives up on
// minor version 2, which the specification declares equal to 0, and turns
// ticks of base 2 into time with an error of up to 0.07 %. The options are read
// here instead, and every interface is rewritten to count nanoseconds, so that
// the library gives the ticks themselves.
type guard struct {
	walker
	section    Section
	interfaces []*Interface // of the section
	text       int          // bytes of names and comments kept
	told       [2]bool      // that there are too many interfaces, too much text
	deaf       bool         // the section is of a version that cannot be read
	out        []byte       // what the library has yet to take of the block
	offsets    []int64      // of the packets handed on last
	placed     int          // how many of those the library has given
	scratch    [packetFixed]byte
}

// Section is what a file says of itself.
type Section struct {
	Hardware, OS, Application string
	Comments                  []string
}

// Read gives the library the checked blocks.
func (g *guard) Read(p []byte) (int, error) {
	for len(g.out) == 0 {
		if g.run(len(p)) {
			break
		}
		if err := g.block(); err != nil {
			return 0, err
		}
	}
	n := copy(p, g.out)
	g.out = g.out[n:]
	return n, nil
}

// run hands on the faultless packets that lie next in the buffer, as many as
// fit into the room the library has. It is the short way for the many; block
// takes all that is not so plain.
func (g *guard) run(room int) bool {
	g.offsets, g.placed = g.offsets[:0], 0
	b, _ := g.src.Peek(min(room, g.src.Buffered())) // it is in the buffer
	n := 0
	for g.faultless(b[n:]) {
		g.offsets = append(g.offsets, g.at+int64(n))
		n += int(g.uint32(b[n+4:]))
	}
	g.out = b[:n]
	g.take(n)
	return n > 0
}

// faultless reports whether b begins with a whole packet block that is to be
// handed on and that there is nothing to tell about.
func (g *guard) faultless(b []byte) bool {
	if g.deaf || len(b) < packetFixed || g.uint32(b) != blockEnhanced {
		return false
	}
	length := uint64(g.uint32(b[4:]))
	if length < packetFixed || length > uint64(len(b)) || length%4 != 0 || g.uint32(b[length-lengthBytes:]) != uint32(length) {
		return false
	}
	id := uint64(g.uint32(b[typeAndLength:]))
	return id < uint64(len(g.interfaces)) && g.interfaces[id].Link.Known() && uint64(g.uint32(b[capturedAt:])) <= length-packetFixed
}

// place is the interface and the offset of the packet that the library gives.
func (g *guard) place(index int) (*Interface, int64) {
	g.placed++
	return g.interfaces[index], g.offsets[g.placed-1]
}

// block takes the next block. It may hand on nothing.
func (g *guard) block() error {
	head, err := g.head(blockHead, "a block")
	if err != nil {
		return err
	}
	kind := g.uint32(head)
	if kind == blockSection {
		if err := g.order(head[typeAndLength:]); err != nil {
			return err
		}
	}
	length := int64(g.uint32(head[4:]))
	if length < blockShortest || length%4 != 0 {
		return &BrokenError{g.at, fmt.Sprintf("expected a block of 12 bytes or more in steps of four, found one of type 0x%08X that claims %d", kind, length)}
	}
	switch {
	case kind == blockSection:
		return g.sectionBlock(length)
	case g.deaf:
		return g.pass(length, "a block")
	}
	switch kind {
	case blockInterface:
		return g.interfaceBlock(length)
	case blockEnhanced, blockPacket:
		return g.packetBlock(kind, length)
	case blockSimple:
		return g.simpleBlock(length)
	case blockStatistics:
		return g.statisticsBlock(length)
	default:
		return g.pass(length, "a block")
	}
}

// order sets the byte order from the magic of a section.
func (g *guard) order(magic []byte) error {
	switch {
	case binary.LittleEndian.Uint32(magic) == byteOrderMagic:
		g.bigEndian = false
	case binary.BigEndian.Uint32(magic) == byteOrderMagic:
		g.bigEndian = true
	default:
		return &BrokenError{g.at, fmt.Sprintf("expected the byte-order magic 0x1A2B3C4D of a section, found % X", magic)}
	}
	return nil
}

// body shows a block of at most bufferSize whole, without taking it.
func (g *guard) body(length int64) ([]byte, error) {
	b, err := g.whole(int(length), "a block")
	if err != nil {
		return nil, err
	}
	if again := int64(g.uint32(b[length-lengthBytes:])); again != length {
		g.damage(g.at, false, "the block claims %d bytes at its start and %d at its end", length, again)
	}
	return b, nil
}

// sectionBlock begins a section: interfaces are counted anew.
func (g *guard) sectionBlock(length int64) error {
	const versionAt = 12
	head, err := g.whole(sectionFixed, "a section")
	if err != nil {
		return err
	}
	if length < sectionFixed {
		return &BrokenError{g.at, fmt.Sprintf("expected a section header of 28 bytes or more, found one that claims %d", length)}
	}
	major, minor := g.uint16(head[versionAt:]), g.uint16(head[versionAt+2:])
	g.interfaces, g.text, g.told, g.section = nil, 0, [2]bool{}, Section{}
	// Minor version 2 is to be read as 0 (section 4.1).
	g.deaf = major != 1 || minor != 0 && minor != 2
	if g.deaf {
		g.damage(g.at, false, "a section of version %d.%d is passed over; expected 1.0", major, minor)
		return g.pass(length, "a section")
	}
	if length > bufferSize {
		g.damage(g.at, false, "the %d bytes of options of a section are left out", length-sectionFixed)
		if err := g.pass(length, "a section"); err != nil {
			return err
		}
	} else {
		b, err := g.body(length)
		if err != nil {
			return err
		}
		g.sectionOptions(b[sectionFixed-lengthBytes : length-lengthBytes])
		g.take(int(length))
	}
	g.out = g.plainSection()
	return nil
}

func (g *guard) sectionOptions(b []byte) {
	for o, err := range g.walker.options(b) {
		if err != nil {
			g.damage(g.at, false, "the section has %v", err)
			return
		}
		switch o.code {
		case optComment:
			g.section.Comments = g.keepComment(g.section.Comments, o.value)
		case optHardware:
			g.section.Hardware = g.keep(o.value)
		case optOS:
			g.section.OS = g.keep(o.value)
		case optApplication:
			g.section.Application = g.keep(o.value)
		}
	}
}

// What is told once a section, however often it is met.
const (
	tooManyInterfaces = iota
	tooMuchText
)

func (g *guard) once(what int, format string, args ...any) {
	if !g.told[what] {
		g.told[what] = true
		g.damage(g.at, false, format, args...)
	}
}

// keep makes a string of an option, as far as the room for text goes.
func (g *guard) keep(value []byte) string {
	if g.text+len(value) > maxText {
		g.once(tooMuchText, "names and comments of more than %d bytes are left out", maxText)
		return ""
	}
	g.text += len(value)
	return string(value)
}

func (g *guard) keepComment(comments []string, value []byte) []string {
	if text := g.keep(value); text != "" {
		return append(comments, text)
	}
	return comments
}

// interfaceBlock takes up an interface. One that cannot be read is kept with
// no link type, so that those after it keep their numbers.
func (g *guard) interfaceBlock(length int64) error {
	if len(g.interfaces) >= maxInterfaces {
		g.once(tooManyInterfaces, "more than %d interfaces in a section; the rest are left out", maxInterfaces)
		return g.pass(length, "an interface description")
	}
	in := &Interface{clock: clock{resolution: microseconds}}
	if length < interfaceFixed || length > bufferSize {
		g.damage(g.at, false, "an interface description of %d bytes cannot be read; its packets are left out", length)
		if err := g.pass(length, "an interface description"); err != nil {
			return err
		}
	} else {
		b, err := g.body(length)
		if err != nil {
			return err
		}
		in.Link = LinkType(g.uint16(b[typeAndLength:]))
		if err := g.interfaceOptions(in, b[interfaceFixed-lengthBytes:length-lengthBytes]); err != nil {
			g.damage(g.at, false, "the interface has %v; its packets are left out, since their clock is not known", err)
			in.Link = 0
		}
		g.take(int(length))
	}
	g.interfaces = append(g.interfaces, in)
	g.out = g.plainInterface()
	return nil
}

// interfaceOptions reads the options; an error leaves the clock unknown.
func (g *guard) interfaceOptions(in *Interface, b []byte) error {
	for o, err := range g.walker.options(b) {
		if err != nil {
			return err
		}
		switch o.code {
		case optComment:
			in.Comments = g.keepComment(in.Comments, o.value)
		case optIfName:
			in.Name = g.keep(o.value)
		case optIfDescription:
			in.Description = g.keep(o.value)
		case optIfTsresol:
			if len(o.value) != 1 {
				return fmt.Errorf("%w: expected one byte of if_tsresol, found %d", errOption, len(o.value))
			}
			in.clock.resolution = o.value[0]
		case optIfTsoffset:
			if len(o.value) != 8 {
				return fmt.Errorf("%w: expected eight bytes of if_tsoffset, found %d", errOption, len(o.value))
			}
			in.clock.offset = int64(g.uint64(o.value))
		}
	}
	return nil
}

// packetBlock hands on a packet that is whole and of a link type read here.
func (g *guard) packetBlock(kind uint32, length int64) error {
	switch {
	case length < packetFixed:
		g.damage(g.at, true, "expected a packet block of 32 bytes or more, found one that claims %d", length)
		return g.pass(length, "a packet block")
	case length > bufferSize:
		return g.largePacket(kind, length)
	}
	b, err := g.body(length)
	if err != nil {
		return err
	}
	captured, room := int64(g.uint32(b[capturedAt:])), length-packetFixed
	known := g.wanted(kind, b)
	if known && captured > room {
		g.damage(g.at, true, "a packet of %d bytes in a block with room for %d", captured, room)
		known = false
	}
	if known {
		g.out, g.offsets = b, append(g.offsets, g.at)
	}
	g.take(int(length))
	return nil
}

// wanted reports whether a packet is of an interface read here. One of no
// interface at all is told.
func (g *guard) wanted(kind uint32, block []byte) bool {
	id := int(g.uint32(block[typeAndLength:]))
	if kind == blockPacket {
		id = int(g.uint16(block[typeAndLength:]))
	}
	if id >= len(g.interfaces) {
		g.damage(g.at, true, "a packet of interface %d; the section has described %d", id, len(g.interfaces))
		return false
	}
	return g.interfaces[id].Link.Known()
}

// largePacket leaves out a packet block that is too long to be read.
func (g *guard) largePacket(kind uint32, length int64) error {
	head, err := g.whole(packetData, "a packet block")
	if err != nil {
		return err
	}
	if g.wanted(kind, head) {
		g.damage(g.at, true, "a packet block of %d bytes; expected %d or fewer", length, bufferSize)
	}
	return g.pass(length, "a packet block")
}

// simpleBlock leaves out a packet that has no time.
func (g *guard) simpleBlock(length int64) error {
	if len(g.interfaces) > 0 && g.interfaces[0].Link.Known() {
		g.damage(g.at, true, "a Simple Packet Block has no time stamp")
	}
	return g.pass(length, "a packet block")
}

// statisticsBlock takes note of how many packets the recorder lost.
func (g *guard) statisticsBlock(length int64) error {
	const fixed, optionsAt = 24, 20
	if length < fixed || length > bufferSize {
		return g.pass(length, "a block")
	}
	b, err := g.body(length)
	if err != nil {
		return err
	}
	if id := int(g.uint32(b[typeAndLength:])); id < len(g.interfaces) {
		in := g.interfaces[id]
		in.lost = lost{}
		for o, err := range g.walker.options(b[optionsAt : length-lengthBytes]) {
			if err != nil || len(o.value) != 8 {
				continue
			}
			switch o.code {
			case optIsbIfdrop:
				in.lost.byInterface = g.uint64(o.value)
			case optIsbOsdrop:
				in.lost.bySystem = g.uint64(o.value)
			}
		}
	}
	g.take(int(length))
	return nil
}

// plainSection is a section header of version 1.0 without options.
func (g *guard) plainSection() []byte {
	b := g.scratch[:0]
	b = g.append32(b, blockSection, sectionFixed, byteOrderMagic)
	b = g.append16(b, 1, 0)
	return g.append32(b, 0xFFFFFFFF, 0xFFFFFFFF, sectionFixed)
}

// plainInterface is an interface that counts nanoseconds and sets no limit of
// length: the library would reserve it.
func (g *guard) plainInterface() []byte {
	const length = interfaceFixed + 12
	b := g.scratch[:0]
	b = g.append32(b, blockInterface, length)
	b = g.append16(b, 0, 0)
	b = g.append32(b, 0)
	b = g.append16(b, optIfTsresol, 1)
	b = append(b, nanoseconds, 0, 0, 0)
	return g.append32(b, optEndOfOptions, length)
}

func (g *guard) append32(b []byte, words ...uint32) []byte {
	for _, word := range words {
		if g.bigEndian {
			b = binary.BigEndian.AppendUint32(b, word)
		} else {
			b = binary.LittleEndian.AppendUint32(b, word)
		}
	}
	return b
}

func (g *guard) append16(b []byte, words ...uint16) []byte {
	for _, word := range words {
		if g.bigEndian {
			b = binary.BigEndian.AppendUint16(b, word)
		} else {
			b = binary.LittleEndian.AppendUint16(b, word)
		}
	}
	return b
}
