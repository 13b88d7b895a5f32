package message

import (
	"bytes"
	"encoding/binary"
	"slices"

	"portside/captures"
	"portside/pd"
)

// judge tells what a message breaks of the standard. Of one that was damaged or
// never sent nothing is told: its receiver had to drop it. Nor is it of a type
// that no message has, which is told already.
func (d *Decoder) judge(m *captures.Message, p pd.Message, part Part) {
	if d.line.CRC == WrongCRC || m.Status == captures.Discarded || !p.Type().Defined() {
		return
	}
	slot := d.lawful.at(m.Bytes)
	if !slot.holds(p.Set, m.Bytes) {
		found := p.Validate(0)
		if len(found) == 0 && !p.Header.Extended() {
			slot.keep(p.Set, m.Bytes)
		}
		d.tell(found)
	}
	switch t := p.Type(); {
	case t == pd.Request || t == pd.EPRRequest:
		d.judgeRequest(p)
	case part.Block != nil && len(part.Block) > len(p.Block()): // in chunks
		plug, _ := p.CablePlug()
		d.tell(pd.ValidateBlock(t, part.Block, plug, d.revision))
	}
}

// judgeRequest judges a request by the offer it answers.
func (d *Decoder) judgeRequest(p pd.Message) {
	if p.NumObjects() == 0 || d.offers.Len() == 0 {
		return
	}
	found := pd.RDO(p.Object(0)).ValidateFor(d.offers.list, p.Type() == pd.EPRRequest, d.revision)
	if len(found) == 0 {
		return
	}
	said := p.Validate(0)
	d.tell(slices.DeleteFunc(found, func(v pd.Violation) bool {
		return v.Rule == pd.RulePosition || slices.ContainsFunc(said, func(s pd.Violation) bool { return s.Rule == v.Rule && s.Bits == v.Bits })
	}))
}

// tell adds violations to the problems. That header and bytes disagree is told
// already, with both numbers.
func (d *Decoder) tell(list []pd.Violation) {
	for _, v := range list {
		if v.Rule != pd.RuleLength {
			d.line.Problems = append(d.line.Problems, v.String())
		}
	}
}

// lawful remembers packets that break nothing. A recording says the same few
// again and again, and judging one costs more than all other reading of it.
type lawful struct {
	slots [lawfulSlots]lawfulPacket
}

// lawfulSlots holds what one connection says, several times over.
const lawfulSlots = 512

// lawfulPacket is one place; of size 0 it holds none.
type lawfulPacket struct {
	set   pd.OrderedSet
	size  uint8
	bytes [longestCommon]byte
}

// at is the place of a packet, which may be taken by another one. Header and
// end tell most of them apart.
func (l *lawful) at(packet []byte) *lawfulPacket {
	key := uint64(binary.LittleEndian.Uint16(packet))
	if n := len(packet); n >= objectBytes {
		key |= uint64(binary.LittleEndian.Uint32(packet[n-objectBytes:])) << 16
	}
	return &l.slots[key*spread>>32%lawfulSlots]
}

func (p *lawfulPacket) holds(set pd.OrderedSet, packet []byte) bool {
	return p.set == set && bytes.Equal(p.bytes[:p.size], packet)
}

func (p *lawfulPacket) keep(set pd.OrderedSet, packet []byte) {
	if len(packet) > longestCommon {
		return
	}
	p.set, p.size = set, uint8(copy(p.bytes[:], packet))
}
