package pcapng

import (
	"io"
	"strings"
	"time"

	"github.com/google/gopacket"
	"github.com/google/gopacket/layers"
	"github.com/google/gopacket/pcapgo"
)

// Writer writes a pcapng file in nanoseconds. Nothing is on its way to the
// destination for sure before Flush.
type Writer struct {
	dst     io.Writer
	section Section
	library *pcapgo.NgWriter // nil before the first interface
	base    time.Duration    // whole seconds, the time of tick 0
	begun   bool
	names   []describes
	last    *Interface // described last, as lastID
	lastID  int
	packet  []byte
}

// describes is what an interface is known by.
type describes struct {
	link                       LinkType
	name, description, comment string
}

// NewWriter begins a file. The application is named in it; several comments
// become one, a line each.
func NewWriter(dst io.Writer, section Section) *Writer {
	return &Writer{dst: dst, section: section}
}

// Message writes a message or reset; data is header and data objects. Times
// must not go back before the whole second of the first one.
func (w *Writer) Message(at time.Duration, in *Interface, p *MessagePacket, data []byte) error {
	w.packet = p.AppendTo(w.packet[:0], data)
	return w.write(at, in)
}

// Sample writes a meter sample.
func (w *Writer) Sample(at time.Duration, in *Interface, s *SamplePacket) error {
	w.packet = s.AppendTo(w.packet[:0])
	return w.write(at, in)
}

func (w *Writer) write(at time.Duration, in *Interface) error {
	w.start(at)
	id, err := w.Describe(in)
	if err != nil {
		return err
	}
	return w.library.WritePacket(gopacket.CaptureInfo{
		Timestamp:      time.Unix(0, int64(at-w.base)),
		CaptureLength:  len(w.packet),
		Length:         len(w.packet),
		InterfaceIndex: id,
	}, w.packet)
}

// start fixes the time of tick 0. Ticks have no sign, so a recording that
// begins before 0 counts from the whole second before it.
func (w *Writer) start(at time.Duration) {
	if w.begun {
		return
	}
	w.begun = true
	if at < 0 {
		w.base = at.Truncate(time.Second) - time.Second
	}
}

// Describe writes what an interface is, once, and gives its number. Where the
// file holds packets before 0 s, it must come after the first of them.
func (w *Writer) Describe(in *Interface) (id int, err error) {
	if in == w.last {
		return w.lastID, nil
	}
	defer func() { w.last, w.lastID = in, id }()
	d := describes{in.Link, in.Name, in.Description, strings.Join(in.Comments, "\n")}
	for i := range w.names {
		if w.names[i] == d {
			return i, nil
		}
	}
	plain := pcapgo.NgInterface{
		LinkType:        layers.LinkType(d.link),
		Name:            d.name,
		Description:     d.description,
		Comment:         d.comment,
		TimestampOffset: uint64(int64(w.base / time.Second)),
	}
	if w.library == nil {
		options := pcapgo.NgWriterOptions{SectionInfo: pcapgo.NgSectionInfo{
			Hardware:    w.section.Hardware,
			OS:          w.section.OS,
			Application: w.section.Application,
			Comment:     strings.Join(w.section.Comments, "\n"),
		}}
		w.library, err = pcapgo.NewNgWriterInterface(w.dst, plain, options)
	} else {
		_, err = w.library.AddInterface(plain)
	}
	if err != nil {
		return 0, err
	}
	w.names = append(w.names, d)
	id = len(w.names) - 1
	return id, nil
}

// Flush sends on what was written.
func (w *Writer) Flush() error {
	if w.library == nil {
		return nil
	}
	return w.library.Flush()
}
