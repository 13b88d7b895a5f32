package charger

import (
	"portside/captures"
	"portside/pd"
)

// eprEntry follows the steps into EPR mode.
type eprEntry struct {
	enter     spoken // the sink's Enter; kind 0 where none is open
	answered  bool
	succeeded spoken
}

// seeEPREntry holds the source's steps to their times.
func seeEPREntry(c *Checker, e *event) {
	s := &c.entry
	if e.msg.Type() == pd.EPRSourceCapabilities && e.from == pd.Source && s.succeeded.kind != 0 {
		if at, ok := c.link.heardAt(s.succeeded); ok && !isChunkRequest(e.msg) {
			c.time(checkEPREntry, "from the GoodCRC of Enter Succeeded to EPR_Source_Capabilities", at, e.start, c.limit(pd.TFirstSourceCap))
			*s = eprEntry{}
		}
		return
	}
	if e.msg.Type() != pd.EPRMode || e.msg.NumObjects() == 0 {
		return
	}
	switch pd.EPRMDO(e.msg.Object(0)).Action() {
	case pd.EPREnter:
		*s = eprEntry{enter: newSpoken(e)}
	case pd.EPREnterAcknowledged:
		c.answersEnter(e)
	case pd.EPREnterFailed:
		if !s.answered {
			c.answersEnter(e)
		}
		*s = eprEntry{}
	case pd.EPREnterSucceeded:
		c.entered(e)
	}
}

func isChunkRequest(p pd.Message) bool {
	x, ok := p.ExtendedHeader()
	return ok && x.RequestChunk()
}

func newSpoken(e *event) spoken {
	return spoken{kind: e.msg.Type(), from: e.from, id: e.msg.Header.MessageID(), start: e.start, end: e.end, first: e.start, sent: 1, status: captures.StatusNone}
}

// answersEnter holds the first answer to Enter to its time.
func (c *Checker) answersEnter(e *event) {
	s := &c.entry
	if s.enter.kind == 0 || s.answered {
		return
	}
	s.answered = true
	if at, ok := c.link.heardAt(s.enter); ok {
		c.time(checkEPREntry, "from the GoodCRC of EPR_Mode Enter to its answer", at, e.start, c.limit(pd.TReceiverResponse))
	}
}

// entered holds Enter Succeeded to its time and to what the cable said.
func (c *Checker) entered(e *event) {
	s := &c.entry
	if s.enter.kind == 0 {
		return
	}
	if !s.answered {
		c.broke(checkEPREntry, e.start.s, "Enter Succeeded came without Enter Acknowledged")
	}
	if c.cable.known && !c.cable.epr {
		c.broke(checkEPREntry, e.start.s, "EPR mode was entered over a cable that does not carry 50 V and 5 A with the EPR bit")
	}
	if at, ok := c.link.heardAt(s.enter); ok {
		c.time(checkEPREntry, "from the GoodCRC of EPR_Mode Enter to Enter Succeeded", at, e.start, noMin(c.limit(pd.TEnterEPR)))
	}
	s.succeeded = newSpoken(e)
}

// seeEPRAcked dates the steps by their GoodCRC.
func seeEPRAcked(c *Checker, _ *event) {
	s, last := &c.entry, &c.link.last
	if last.kind != pd.EPRMode {
		return
	}
	for _, step := range []*spoken{&s.enter, &s.succeeded} {
		if step.kind != 0 && step.from == last.from && step.id == last.id {
			*step = *last
		}
	}
}

func dropEPREntry(c *Checker, _ *event) { c.entry = eprEntry{} }

// seeKeepAlive holds EPR_KeepAlive_Ack to the time of an answer.
func seeKeepAlive(c *Checker, e *event) {
	if e.from != pd.Source || extendedControl(e.msg) != pd.EPRKeepAliveAck {
		return
	}
	last := &c.link.last
	if last.kind != pd.ExtendedControl || last.from != pd.Sink {
		return
	}
	if at, ok := c.link.heardAt(*last); ok {
		c.time(checkEPRKeepAlive, "from the GoodCRC of EPR_KeepAlive to its answer", at, e.start, c.limit(pd.TReceiverResponse))
	}
}

func extendedControl(p pd.Message) pd.ExtendedControlType {
	if p.Type() != pd.ExtendedControl {
		return 0
	}
	b, ok := pd.ParseECDB(p.Block())
	if !ok {
		return 0
	}
	return b.Type
}
