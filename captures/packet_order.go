package captures

import (
	"time"

	"portside/captures/pcapng"
)

// orderReach is how many packets of a file with several interfaces are held to
// bring them into the order of time: a recorder that writes each interface
// from its own buffer is late by some hundred packets, not by thousands.
const orderReach = 4096

// packetOrder brings the records of several interfaces into the order of time.
type packetOrder struct {
	held  []*heldRecord // in the order of time from head on
	head  int
	free  []*heldRecord
	given time.Duration // the latest time that was given
	begun bool
}

// heldRecord is a record with memory of its own.
type heldRecord struct {
	sample   Sample
	message  Message
	bytes    []byte
	isSample bool
	from     *pcapng.Interface
}

func (h *heldRecord) at() time.Duration {
	if h.isSample {
		return h.sample.At
	}
	return h.message.At
}

func (h *heldRecord) record() Record {
	if h.isSample {
		return Record{Sample: &h.sample}
	}
	return Record{Message: &h.message}
}

func (o *packetOrder) empty() bool { return o.head == len(o.held) }

// inTime reports whether a record can still be given in its place.
func (o *packetOrder) inTime(at time.Duration) bool { return !o.begun || at >= o.given }

// push holds a record. Once as many are held as the order reaches, the first
// of them is given, good until the next call.
func (o *packetOrder) push(r Record, from *pcapng.Interface) (*heldRecord, bool) {
	h := o.slot()
	h.from = from
	if h.isSample = r.Sample != nil; h.isSample {
		h.sample = *r.Sample
	} else {
		h.bytes = append(h.bytes[:0], r.Message.Bytes...)
		h.message = *r.Message
		if r.Message.Bytes != nil {
			h.message.Bytes = h.bytes
		}
	}
	o.held = append(o.held, h)
	i := len(o.held) - 1
	for ; i > o.head && o.held[i-1].at() > h.at(); i-- {
		o.held[i] = o.held[i-1]
	}
	o.held[i] = h
	if len(o.held)-o.head <= orderReach {
		return nil, false
	}
	return o.pop()
}

// pop gives the first record that is held.
func (o *packetOrder) pop() (*heldRecord, bool) {
	if o.empty() {
		return nil, false
	}
	h := o.held[o.head]
	o.head++
	if o.head > orderReach {
		o.held = append(o.held[:0], o.held[o.head:]...)
		o.head = 0
	}
	o.give(h.at())
	o.free = append(o.free, h)
	return h, true
}

func (o *packetOrder) give(at time.Duration) { o.given, o.begun = at, true }

// slot is memory for one more record.
func (o *packetOrder) slot() *heldRecord {
	n := len(o.free)
	if n == 0 {
		return &heldRecord{}
	}
	h := o.free[n-1]
	o.free = o.free[:n-1]
	return h
}
