// Package negotiations holds recorded negotiations for tests, as a recorder of
// messages would have written them. README.md names where each was published.
package negotiations

import (
	"bytes"
	_ "embed" // the recordings
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"portside/captures"
	"portside/pd"
)

//go:embed recorded.json
var recorded []byte

// Negotiation is one recorded negotiation.
type Negotiation struct {
	ID       string
	Recorder string // whose software wrote the log: source or sink
	Source   string // where it was published
	Expect   Expect
	Events   []Event
}

// Expect is what a fair reading must find.
type Expect struct {
	HardResets *int            `json:"hard_resets"`
	SoftResets *int            `json:"soft_resets"`
	Contract   json.RawMessage // the last one; null for none, absent where not judged
	Must       []string
	MustNot    []string `json:"must_not"`
	AnyOf      []string `json:"any_of"`
	NotFault   []string `json:"not_fault"`
	NoFault    bool     `json:"no_fault"`
}

// Agreed is the contract expected; a nil figure is not judged.
type Agreed struct {
	Position  int
	VoltageMV *int `json:"voltage_mv"`
	CurrentMA *int `json:"current_ma"`
}

// LastContract is the contract expected last, nil for none; ok is false where
// it is not to be judged.
func (e Expect) LastContract() (c *Agreed, ok bool, err error) {
	if len(e.Contract) == 0 {
		return nil, false, nil
	}
	err = json.Unmarshal(e.Contract, &c)
	return c, true, err
}

// Event is one line of a log. OnWire is the word null where it is not known
// whether the message ever was on the line.
type Event struct {
	TimeS   float64 `json:"time_s"`
	Kind    string
	Status  string
	Type    string
	Header  *string
	Objects []*Object
	OnWire  json.RawMessage `json:"on_wire"`
}

// Object is a data object as logged: its word, or some of its fields.
type Object struct {
	Raw                string
	Kind               string
	Position           int
	VoltageMV          int  `json:"voltage_mv"`
	CurrentMA          int  `json:"current_ma"`
	OperatingMA        int  `json:"operating_ma"`
	CapabilityMismatch bool `json:"capability_mismatch"`
}

// Read gives every recorded negotiation.
func Read() ([]Negotiation, error) {
	var all []Negotiation
	err := json.Unmarshal(recorded, &all)
	return all, err
}

// Message is one row of a recording. Reconstructed marks bytes of which a part
// was not logged.
type Message struct {
	captures.Message
	Reconstructed bool
}

// Messages is the negotiation as rows of a recording, with or without those
// that note VBUS. What was not logged is rebuilt from type, roles, the logged
// fields and the next MessageID.
func (n Negotiation) Messages(vbus bool) ([]Message, error) {
	var out []Message
	nextID := map[string]int{}
	for _, e := range n.Events {
		m := Message{Message: captures.Message{At: time.Duration(e.TimeS * float64(time.Second)), By: n.by(), Set: pd.SOP}}
		switch e.Kind {
		case "vbus":
			if !vbus || e.Status == "safe0v" {
				continue
			}
			m.Set, m.Marker = 0, captures.VBUSOff
			if e.Status == "on" {
				m.Marker = captures.VBUSOn
			}
		case "reset":
			if e.Type != "Hard_Reset" {
				return nil, fmt.Errorf("%s: a reset of type %s", n.ID, e.Type)
			}
			m.Set = pd.HardReset
		case "rx", "tx":
			if string(e.OnWire) == "null" {
				continue
			}
			var err error
			if m.Bytes, m.Reconstructed, err = e.bytes(n.Recorder, nextID); err != nil {
				return nil, fmt.Errorf("%s: %w", n.ID, err)
			}
			m.Status = statuses[e.Status]
		default: // what the port manager thought; not on the line
			continue
		}
		out = append(out, m)
	}
	return out, nil
}

var statuses = map[string]captures.Status{"failed": captures.Unacknowledged, "discarded": captures.Discarded}

func (n Negotiation) by() captures.Recorder {
	if n.Recorder == "source" {
		return captures.SourceItself
	}
	return captures.SinkItself
}

func (e Event) bytes(recorder string, nextID map[string]int) (b []byte, reconstructed bool, err error) {
	h, objects := pd.Header(0), e.Objects
	if e.Header != nil {
		word, err := strconv.ParseUint(*e.Header, 0, 16)
		if err != nil {
			return nil, false, err
		}
		h = pd.Header(word)
	} else {
		reconstructed = true
		if h, objects, err = e.header(recorder, nextID[e.Kind]); err != nil {
			return nil, false, err
		}
	}
	nextID[e.Kind] = (h.MessageID() + 1) % 8
	var words []uint32
	for _, o := range objects {
		reconstructed = reconstructed || o == nil || o.Raw == ""
		word, err := o.word(h.Type())
		if err != nil {
			return nil, false, err
		}
		words = append(words, word)
	}
	b = pd.Message{Set: pd.SOP, Header: h}.Bytes()
	for _, w := range words {
		b = append(b, byte(w), byte(w>>8), byte(w>>16), byte(w>>24))
	}
	return b, reconstructed, nil
}

// header rebuilds a header that the log does not print.
func (e Event) header(recorder string, id int) (pd.Header, []*Object, error) {
	kind, ok := pd.ParseMessageType(e.Type)
	if !ok {
		return 0, nil, fmt.Errorf("no message is called %q", e.Type)
	}
	objects := e.Objects
	if kind.Class() == pd.Data && len(objects) == 0 {
		objects = []*Object{nil}
	}
	role := pd.Sink
	if (recorder == "source") == (e.Kind == "tx") {
		role = pd.Source
	}
	f := pd.HeaderFields{Type: kind, MessageID: id, Revision: pd.Revision20, PowerRole: role, Objects: len(objects)}
	return f.Encode(), objects, nil
}

// word is the object as logged, or rebuilt from the fields that were.
func (o *Object) word(kind pd.MessageType) (uint32, error) {
	switch {
	case o != nil && o.Raw != "":
		n, err := strconv.ParseUint(o.Raw, 0, 32)
		return uint32(n), err
	case kind == pd.SourceCapabilities && o != nil:
		return uint32(pd.FixedSupply{Voltage: pd.Millivolts(o.VoltageMV), MaxCurrent: pd.Milliamps(o.CurrentMA)}.Encode()), nil
	case kind == pd.SourceCapabilities:
		return uint32(pd.FixedSupply{Voltage: 5000, MaxCurrent: 3000}.Encode()), nil
	case kind == pd.Request && o != nil && o.Kind == "rdo-avs":
		return uint32(pd.AVSRequest{RequestFlags: pd.RequestFlags{Position: o.Position}, Voltage: pd.Millivolts(o.VoltageMV), OperatingCurrent: pd.Milliamps(o.OperatingMA)}.Encode()), nil
	case kind == pd.Request && o != nil:
		i := pd.Milliamps(o.OperatingMA)
		return uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: o.Position, CapabilityMismatch: o.CapabilityMismatch}, OperatingCurrent: i, MaxCurrent: i}.Encode()), nil
	case kind == pd.Request:
		return uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: 1}, OperatingCurrent: 500, MaxCurrent: 500}.Encode()), nil
	default:
		return 0, nil
	}
}

// CSV writes messages as the text of a message list.
func CSV(messages []Message) io.Reader {
	var b bytes.Buffer
	b.WriteString("time_s,sop,bytes,status,by\n")
	for _, m := range messages {
		if m.Reconstructed {
			b.WriteString("# reconstructed\n")
		}
		sop := m.Set.String()
		if m.Marker != captures.NoMarker {
			sop = m.Marker.String()
		}
		status := map[captures.Status]string{captures.Unacknowledged: "unacknowledged", captures.Discarded: "discarded"}[m.Status]
		by := map[captures.Recorder]string{captures.SourceItself: "source", captures.SinkItself: "sink"}[m.By]
		fmt.Fprintf(&b, "%.9f,%s,%s,%s,%s\n", m.At.Seconds(), sop, strings.ToUpper(hex.EncodeToString(m.Bytes)), status, by)
	}
	return &b
}
