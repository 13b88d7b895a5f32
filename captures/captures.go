// Package captures holds what was recorded at the bench: the samples of an
// inline meter and the messages of the CC line, on one timeline, each with the
// place in its file where it stood. It reads files; it never judges them.
//
// An [Input] is one file. A [Recording] is one or several inputs given
// together, merged in the order of time.
package captures

import (
	"math"
	"time"

	"portside/captures/delimited"
	"portside/pd"
)

// MaxTime bounds every time in a file and every stated shift, either way.
const MaxTime = delimited.MaxTime

// Kind says what an input holds. It is told from the content, never from the
// file's name.
type Kind uint8

// Kinds of input; the zero value is unknown.
const (
	KindUnknown  Kind = iota
	KindMeter         // a delimited text log of VBUS voltage and current
	KindMessages      // a list of PD messages
	KindPackets       // a pcapng or pcap file of PD messages, meter samples or both
	KindLine          // the CC line itself: a Value Change Dump, or rows of levels or volts
)

var kindNames = [...]string{"unknown", "meter", "messages", "pcapng", "line"}

func (k Kind) String() string { return kindNames[k] }

// Sample is one row of a meter log. Values are in SI units; NaN is a gap: the
// cell was empty or the log has no such column. A gap is never a zero.
type Sample struct {
	At          time.Duration // on the clock of the recording
	Volts, Amps float64       // VBUS; current is positive into the device
	CC          [2]float64    // slow CC levels in volts
	Line        int           // 1-based line in the file
	Input       int           // which input of the recording, from 0
}

// HasVolts reports whether the sample carries a voltage.
func (s *Sample) HasVolts() bool { return !math.IsNaN(s.Volts) }

// HasAmps reports whether the sample carries a current.
func (s *Sample) HasAmps() bool { return !math.IsNaN(s.Amps) }

// Marker is what a message recorder notes besides messages.
type Marker uint8

// Markers; the zero value stands on an ordinary message or reset.
const (
	NoMarker Marker = iota
	Attach
	Detach
	VBUSOn
	VBUSOff
)

var markerNames = [...]string{"", "Attach", "Detach", "VBUS_On", "VBUS_Off"}

func (m Marker) String() string { return markerNames[m] }

// Status is what the recorder knows of a message's fate.
type Status uint8

// Statuses; the zero value means the recorder said nothing.
const (
	StatusNone     Status = iota
	Unacknowledged        // sent and never acknowledged
	Discarded             // never sent
)

// Recorder says who wrote the recording. A source's or a sink's own software
// stamps late: see [Message.Uncertainty].
type Recorder uint8

// Recorders; the zero value is not stated.
const (
	RecorderUnknown Recorder = iota
	Observer
	SourceItself
	SinkItself
)

// Message is one row of a message list: a PD message, a reset or a marker.
type Message struct {
	At     time.Duration // first bit of the preamble
	End    time.Duration // last bit of EOP; meaningful where HasEnd
	HasEnd bool
	Marker Marker // set: nothing below but Line and Input applies
	Set    pd.OrderedSet
	Bytes  []byte // header and objects in wire order; nil for a reset
	CRC    [4]byte
	HasCRC bool
	// CRCWrong is set where the recorder says that the CRC was wrong, with or
	// without its bytes.
	CRCWrong bool
	// Broken says why the message could not be read to its end; Bytes hold what
	// could. It is empty for a whole one.
	Broken string
	Status Status
	By     Recorder
	Line   int
	Input  int
}

// Damaged reports a message that its receiver had to drop: broken, or with a
// wrong CRC.
func (m *Message) Damaged() bool { return m.Broken != "" || m.CRCWrong || m.wrongCRC() }

// Record is one entry of the timeline: exactly one of the two is set. Both
// point into memory that the next call reuses.
type Record struct {
	Sample  *Sample
	Message *Message
}

// At is the time of the record.
func (r Record) At() time.Duration {
	if r.Sample != nil {
		return r.Sample.At
	}
	return r.Message.At
}

// Input is which input of the recording the record is from, from 0.
func (r Record) Input() int {
	if r.Sample != nil {
		return r.Sample.Input
	}
	return r.Message.Input
}

// Problem is a piece of an input that could not be used.
type Problem struct {
	Line  int           // 1-based; 0 where it concerns the whole input
	At    time.Duration // meaningful where HasAt
	HasAt bool
	Text  string // what was expected and what was found
}

// Stats is what an input held, so far or in all.
type Stats struct {
	Path     string // as given
	Kind     Kind
	Records  int // usable rows
	Skipped  int // rows that could not be used
	Start    time.Duration
	End      time.Duration // both meaningful where Records > 0
	Problems []Problem     // the first 100; Skipped counts on
	Notes    []string      // what the reader decided, such as the columns it took
	Broken   bool          // the file broke off; what came before is kept
	// Messages and Samples say what was recorded, so far as it was read, whether
	// or not a record came: a list of messages without a row says that the line
	// was silent.
	Messages, Samples bool
	more              int // problems beyond those kept
}
