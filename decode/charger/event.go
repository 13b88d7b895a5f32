package charger

import (
	"portside/captures"
	"portside/pd"
)

// eventKind is what a check can listen to.
type eventKind uint8

const (
	said      eventKind = iota // a message on SOP, sent for the first time
	again                      // the same message once more
	acked                      // a GoodCRC to the last message on SOP
	cabled                     // a message on the sets of the cable
	offered                    // a whole offer of the source, new or the same
	accepted                   // a Request was accepted, and that acknowledged
	agreed                     // PS_RDY: the contract stands
	resetHard                  // a Hard Reset
	attached                   // a recorder notes the attach
	poweredOn                  // a recorder notes that VBUS is there
	gone                       // the connection is over: detach, or VBUS off outside a reset
	sampled                    // a sample with a voltage
	ended                      // the recording is over
	eventKinds
)

// event is one thing that happened. Checks see it before the state of the link
// moves on by it.
type event struct {
	msg        pd.Message
	from       pd.PowerRole // the port that feeds is the source
	start, end moment
	asked      pd.MessageType // the question that an answer answers
	whole      bool           // header and bytes agree
	software   bool
}

// sourceSays reports a message of the source.
func (e *event) sourceSays(t pd.MessageType) bool {
	return e.from == pd.Source && e.msg.Type() == t
}

func (e *event) sinkSays(t pd.MessageType) bool { return e.from == pd.Sink && e.msg.Type() == t }

// dispatch hands an event to the checks that listen to its kind. What a port does
// that took the source's place by a role swap is not the charger's.
func (c *Checker) dispatch(k eventKind, e *event) {
	if c.link.elsewhere() && k < resetHard {
		return
	}
	for _, see := range c.listeners[k] {
		see(c, e)
	}
}

// spoken is a message on SOP, of which the last is kept.
type spoken struct {
	kind       pd.MessageType
	header     pd.Header
	from       pd.PowerRole
	id         int
	revision   pd.Revision
	start, end moment // of the last time it was sent
	first      moment // start of the first time
	sent       int    // how often in this attempt
	retries    int    // of this attempt
	acked      bool
	ackEnd     moment
	status     captures.Status
}
