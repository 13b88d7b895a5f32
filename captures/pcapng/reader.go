package pcapng

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
	"time"

	"github.com/google/gopacket"
	"github.com/google/gopacket/pcapgo"
)

// Packet is one packet of a file. It points into memory that the next call of
// [Reader.Next] reuses.
type Packet struct {
	At        time.Duration // since 1970-01-01 00:00 UTC, as the file's clock has it
	Interface *Interface
	Offset    int64          // of its block or record in the file
	Cut       int            // bytes that the recorder left out at the end
	Message   *MessagePacket // set for LinkMessages
	PD        *Message       // set beside Message, unless it is a reset
	Sample    *SamplePacket  // set for LinkSamples
}

// Reader reads the packets of a pcapng or pcap file in the order in which they
// stand. Memory is bounded whatever the file claims.
type Reader struct {
	library gopacket.ZeroCopyPacketDataSource
	blocks  *guard       // of a pcapng file, else nil
	records *recordGuard // of a pcap file, else nil
	damaged func(Damage)
	packet  Packet
	outer   MessagePacket
	inner   Message
	sample  SamplePacket
}

// SniffLen is how many bytes [Sniff] wants to see.
const SniffLen = 4

// Sniff reports whether a file that begins with start is one of pcapng or
// pcap.
func Sniff(start []byte) bool {
	if len(start) < SniffLen {
		return false
	}
	switch binary.BigEndian.Uint32(start) {
	case blockSection:
		return true
	}
	return isRecords(start)
}

func isRecords(start []byte) bool {
	big, little := binary.BigEndian.Uint32(start), binary.LittleEndian.Uint32(start)
	return big == magicMicro || big == magicNano || little == magicMicro || little == magicNano
}

// NewReader reads the start of a file. damaged is called for each piece that
// cannot be used, before Next returns what stands behind it. The error is a
// *[FormatError] or *[BrokenError], or what the source ended with.
func NewReader(src io.Reader, damaged func(Damage)) (*Reader, error) {
	walk := walker{src: bufio.NewReaderSize(src, bufferSize), damaged: damaged}
	start, err := walk.src.Peek(SniffLen)
	switch {
	case err != nil && !errors.Is(err, io.EOF):
		return nil, err
	case !Sniff(start):
		return nil, &FormatError{Expected: "a pcapng or pcap file", Found: "another beginning"}
	}
	r := &Reader{damaged: damaged}
	if isRecords(start) {
		r.records = &recordGuard{walker: walk}
		r.library, err = pcapgo.NewReader(r.records)
	} else {
		r.blocks = &guard{walker: walk}
		r.library, err = pcapgo.NewNgReader(r.blocks, pcapgo.NgReaderOptions{WantMixedLinkType: true})
	}
	if errors.Is(err, io.EOF) {
		return nil, &FormatError{Expected: "a section of version 1.0", Found: "none"}
	}
	if err != nil {
		return nil, err
	}
	return r, nil
}

// Next gives the next packet of a link type read here, then io.EOF. A packet
// that cannot be used is told as damage and left out. A *[BrokenError] means
// that the rest of the file is lost; any other error comes from the source.
func (r *Reader) Next() (*Packet, error) {
	for {
		data, info, err := r.library.ZeroCopyReadPacketData()
		if err != nil {
			return nil, err
		}
		if r.take(data, &info) {
			return &r.packet, nil
		}
	}
}

// take decodes a packet. It is false for one that cannot be used, which is
// told.
func (r *Reader) take(data []byte, info *gopacket.CaptureInfo) bool {
	in, offset := r.place(info.InterfaceIndex)
	at, ok := in.clock.at(uint64(info.Timestamp.UnixNano()))
	if !ok {
		r.damaged(Damage{Offset: offset, Skipped: true, Text: "the time stamp is out of range"})
		return false
	}
	r.packet = Packet{At: at, Interface: in, Offset: offset, Cut: max(0, info.Length-info.CaptureLength)}
	var err error
	if in.Link == LinkSamples {
		r.packet.Sample = &r.sample
		err = r.sample.DecodeFromBytes(data, gopacket.NilDecodeFeedback)
	} else {
		err = r.message(data)
	}
	if err != nil {
		r.damaged(Damage{Offset: offset, Skipped: true, Text: "a packet has " + err.Error()})
		return false
	}
	return true
}

// message decodes both layers of a message.
func (r *Reader) message(data []byte) error {
	r.packet.Message = &r.outer
	if err := r.outer.decode(data, r.packet.Cut > 0, gopacket.NilDecodeFeedback); err != nil {
		return err
	}
	if r.outer.NextLayerType() != LayerTypeMessage {
		return nil
	}
	r.packet.PD = &r.inner
	r.inner.Set = r.outer.Set
	return r.inner.DecodeFromBytes(r.outer.LayerPayload(), gopacket.NilDecodeFeedback)
}

// place is the interface and the offset of the packet that was read last.
func (r *Reader) place(index int) (*Interface, int64) {
	if r.records != nil {
		return r.records.in, r.records.offset
	}
	return r.blocks.place(index)
}

// Interfaces gives the interfaces described so far, of a pcapng file those of
// the section being read.
func (r *Reader) Interfaces() []*Interface {
	if r.records != nil {
		return []*Interface{r.records.in}
	}
	return r.blocks.interfaces
}

// Section is what the section being read says of itself; a pcap file says
// nothing.
func (r *Reader) Section() Section {
	if r.records != nil {
		return Section{}
	}
	return r.blocks.section
}
