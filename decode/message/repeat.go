package message

import (
	"bytes"
	"encoding/binary"
	"time"

	"portside/captures"
	"portside/pd"
)

// softwareSpread is how late a side stamps what it received in its own
// software: 2.1 to 5.0 ms in recorded logs.
const softwareSpread = 5 * time.Millisecond

// coarseStamp is the slack for two stamps that a recorder of whole
// milliseconds rounded.
const coarseStamp = time.Millisecond

// Repeats recognises a message that is only said again: same ordered set, same
// sender, same MessageID and bytes, and either inside the time of a retry or
// with a first transmission that is not known to have been acknowledged. The
// zero value is not usable; see [NewRepeats].
type Repeats struct {
	window time.Duration
	last   [lastSet][senders]spoken
	shown  [senders]bool // GoodCRC to this sender on SOP has been recorded
	all    bool          // GoodCRC of or to a cable has been recorded, and so is every other
}

const (
	lastSet = pd.SOPDoublePrimeDebug + 1
	senders = pd.Source + 1 // unknown, sink, source; the cable's two ends likewise
)

// spoken is the last message of one sender on one set.
type spoken struct {
	bytes  []byte
	end    time.Duration
	acked  bool
	failed bool // the recorder says that it was never acknowledged
}

// NewRepeats returns a memory for one recording.
func NewRepeats() *Repeats {
	receive, _ := pd.TReceive.Limits(pd.Revision32).MaxDuration()
	retry, _ := pd.TRetry.Limits(pd.Revision32).MaxDuration()
	return &Repeats{window: receive + retry}
}

// See takes the next message that wants a GoodCRC and reports whether it is a
// repeat. from tells the two ends of the set apart; end is when it ended.
func (r *Repeats) See(m *captures.Message, from pd.PowerRole, end time.Duration) bool {
	if m.Set == 0 || m.Set >= lastSet || from >= senders || len(m.Bytes) > pd.MaxExtendedMsgLen+objectBytes {
		return false
	}
	was := &r.last[m.Set][from]
	again := len(was.bytes) > 0 && bytes.Equal(was.bytes, m.Bytes) &&
		(m.At-was.end <= r.window+r.slack(m, was.end) || !was.acked && !was.failed && !r.shows(m.Set, from))
	if !again && restarts(m.Bytes) {
		r.forget(m.Set)
	}
	r.putOff(m, from, end)
	if answers(m.Bytes) {
		r.last[m.Set][other(from)].acked = true
	}
	was.bytes = append(was.bytes[:0], m.Bytes...)
	was.end, was.acked, was.failed = end, false, m.Status == captures.Unacknowledged
	return again
}

// putOff lets the other side's retry wait for the end of what is said in between.
func (r *Repeats) putOff(m *captures.Message, from pd.PowerRole, end time.Duration) {
	was := &r.last[m.Set][other(from)]
	if len(was.bytes) > 0 && m.At >= was.end && m.At-was.end <= r.window+r.slack(m, was.end) {
		was.end = max(was.end, end)
	}
}

// Damaged takes a message whose CRC is wrong. Its bytes are worth nothing, but
// where its MessageID is that of the last message of the sender, the next retry
// counts from it.
func (r *Repeats) Damaged(m *captures.Message, from pd.PowerRole, end time.Duration) {
	if m.Set == 0 || m.Set >= lastSet || from >= senders || len(m.Bytes) < headerBytes {
		return
	}
	was := &r.last[m.Set][from]
	if len(was.bytes) >= headerBytes && headerOf(was.bytes).MessageID() == headerOf(m.Bytes).MessageID() && m.At-was.end <= r.window+r.slack(m, was.end) {
		was.end = end
	}
}

func (r *Repeats) slack(m *captures.Message, end time.Duration) time.Duration {
	switch {
	case m.By == captures.SourceItself || m.By == captures.SinkItself:
		return softwareSpread
	case m.At%coarseStamp == 0 && end%coarseStamp == 0 || m.At%coarseStamp == 0 && !m.HasEnd:
		return coarseStamp
	default:
		return 0
	}
}

// Acknowledge takes a GoodCRC to the last message of a sender.
func (r *Repeats) Acknowledge(set pd.OrderedSet, to pd.PowerRole, id int) {
	if set == 0 || set >= lastSet || to >= senders {
		return
	}
	if set == pd.SOP {
		r.shown[to] = true
	} else {
		r.all = true
	}
	was := &r.last[set][to]
	if len(was.bytes) >= headerBytes && headerOf(was.bytes).MessageID() == id {
		was.acked = true
	}
}

// shows reports whether the recorder shows the GoodCRC to a sender. Only one
// that listens to the line itself hears the cable, and it hears all.
func (r *Repeats) shows(set pd.OrderedSet, to pd.PowerRole) bool {
	return r.all || set == pd.SOP && r.shown[to]
}

// Forget drops what was said, as a reset of the counters does.
func (r *Repeats) Forget() {
	for set := range r.last {
		r.forget(pd.OrderedSet(set))
	}
}

func (r *Repeats) forget(set pd.OrderedSet) {
	for from := range r.last[set] {
		r.last[set][from].bytes = r.last[set][from].bytes[:0]
	}
}

// restarts reports a Soft_Reset, after which the counters of its set begin
// anew (USB PD R3.2 V1.1, section 6.8.1).
func restarts(b []byte) bool {
	return len(b) >= headerBytes && headerOf(b).Type() == pd.SoftReset
}

// answers reports a message that shows that the other side was heard.
func answers(b []byte) bool {
	if len(b) < headerBytes {
		return false
	}
	switch headerOf(b).Type() {
	case pd.Accept, pd.Reject, pd.Wait:
		return true
	default:
		return false
	}
}

const headerBytes = 2

func headerOf(b []byte) pd.Header { return pd.Header(binary.LittleEndian.Uint16(b)) }

// CableEnd stands in for the sender on the sets of the cable, where bit 8
// tells plug and port apart as it tells source and sink on SOP.
func CableEnd(h pd.Header) pd.PowerRole { return h.PowerRole() }
