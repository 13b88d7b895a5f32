package charger

import (
	"errors"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// Message takes the next message, reset or marker in the order of time. Nothing of
// m is kept.
func (c *Checker) Message(m *captures.Message) {
	c.negotiation.Add(m)
	at := c.stamp(m)
	away := c.link.elsewhere()
	c.take(m, at)
	if away || c.link.elsewhere() {
		c.link.awayS = at.s
	}
}

func (c *Checker) take(m *captures.Message, at moment) {
	switch {
	case m.Marker != captures.NoMarker:
		c.marker(m.Marker, at)
	case m.Status == captures.Discarded: // it never was on the line
	case m.Set == pd.HardReset:
		c.seen.messages++
		p := pd.Message{Set: pd.HardReset}
		c.hardReset(&event{msg: p, start: at, end: endOf(m, p, at), software: at.software})
	case m.Set == pd.CableReset:
		c.seen.messages++
	default:
		c.seen.messages++
		c.packet(m, at)
	}
}

func (c *Checker) packet(m *captures.Message, at moment) {
	p, err := pd.ParseMessage(m.Set, m.Bytes)
	if errors.Is(err, pd.ErrNoHeader) || m.Damaged() || !p.Type().Defined() {
		c.seen.damaged = true // its receiver drops it, and so does the checker
		return
	}
	e := &event{msg: p, start: at, end: endOf(m, p, at), whole: err == nil, software: at.software}
	switch {
	case p.Set != pd.SOP:
		c.toCable(m, e)
	case p.Type() == pd.GoodCRC:
		c.goodCRC(m, e)
	default:
		c.spoken(m, e)
	}
}

func (c *Checker) goodCRC(m *captures.Message, e *event) {
	c.seen.goodCRCs++
	e.from = c.link.speakers.From(e.msg)
	c.place(m, e)
	last := &c.link.last
	if last.kind == 0 || last.acked || last.id != e.msg.Header.MessageID() {
		return
	}
	c.link.shown[last.from] = true
	c.link.repeats.Acknowledge(pd.SOP, last.from, last.id)
	last.acked, last.ackEnd = true, e.end
	c.dispatch(acked, e)
	c.heard()
}

// place sharpens the event's times by who spoke, and counts.
func (c *Checker) place(m *captures.Message, e *event) {
	e.start, e.end = e.start.sentBy(e.from, m.By), e.end.sentBy(e.from, m.By)
	switch e.from {
	case pd.Source:
		c.seen.fromSource++
	case pd.Sink:
		c.seen.fromSink++
	}
}

// spoken takes a message on SOP that wants a GoodCRC.
func (c *Checker) spoken(m *captures.Message, e *event) {
	c.begins(e)
	swapping := c.link.speakers.Swapping()
	e.asked = c.link.speakers.Asked()
	e.from = c.link.speakers.From(e.msg)
	c.place(m, e)
	repeat := c.link.repeats.See(m, e.from, message.End(m))
	if c.sameAgain(e, repeat) {
		c.dispatch(again, e)
		c.resend(m, e)
		return
	}
	c.dispatch(said, e)
	c.link.last = spoken{
		kind: e.msg.Type(), header: e.msg.Header, from: e.from, id: e.msg.Header.MessageID(), revision: e.msg.Header.Revision(),
		start: e.start, end: e.end, first: e.start, sent: 1, status: m.Status,
	}
	c.link.crowded, c.seen.damaged = false, false
	c.advance(e, swapping)
}

// sameAgain reports the last message sent once more. Where its end was not recorded a
// late retry looks like a new message, and its header tells that it is none.
func (c *Checker) sameAgain(e *event, repeat bool) bool {
	last := &c.link.last
	return last.from == e.from && last.header == e.msg.Header &&
		(repeat || !last.acked && c.retries(e))
}

// resend notes that the last message was sent once more.
func (c *Checker) resend(m *captures.Message, e *event) {
	last := &c.link.last
	if c.retries(e) {
		last.sent++
		last.retries++
	} else {
		last.first, last.sent, last.retries = e.start, 1, 0
	}
	last.start, last.end, last.acked, last.status = e.start, e.end, false, m.Status
	c.link.crowded = false
	if last.kind == pd.Request || last.kind == pd.EPRRequest {
		c.link.request = *last
	}
	if last.kind == pd.SourceCapabilities {
		c.offer(e)
	}
}

// begins settles, at the first message on SOP, whether the recording begins inside a
// connection: an offer with MessageID 0 is how one begins.
func (c *Checker) begins(e *event) {
	if c.seen.decided {
		return
	}
	c.seen.decided = true
	c.seen.inside = e.msg.Type() != pd.SourceCapabilities || e.msg.Header.MessageID() != 0
}

// advance moves the state of the link on by a message.
func (c *Checker) advance(e *event, swapping bool) {
	l := &c.link
	switch e.msg.Type() {
	case pd.SourceCapabilities, pd.EPRSourceCapabilities:
		c.offer(e)
	case pd.Request, pd.EPRRequest:
		l.request = l.last
		l.asking = deal{Deal: message.NewDeal(e.msg, &l.offers, c.rating.reads(e.msg.Header.Revision()))}
		l.epr = l.epr || e.msg.Type() == pd.EPRRequest
	case pd.Accept:
		if e.from == pd.Source && (e.asked == pd.Request || e.asked == pd.EPRRequest || e.asked == 0 && c.seen.inside && !l.standing) {
			c.begin()
		}
	case pd.PSRDY:
		c.ready(e, swapping)
	case pd.SoftReset:
		c.move.open, l.contract.stale = false, true
		l.request = spoken{}
	case pd.EPRMode:
		c.eprMode(e)
	}
}

// offer reads the source's capabilities.
func (c *Checker) offer(e *event) {
	if e.from != pd.Source || c.link.elsewhere() {
		return
	}
	c.link.resetting, c.link.contract.stale = false, true
	c.move.open = false
	if e.whole && c.link.offers.Take(e.msg) {
		c.dispatch(offered, e)
	}
}

// begin opens a transition: the Request was accepted.
func (c *Checker) begin() {
	l := &c.link
	if l.elsewhere() {
		return
	}
	from := l.contract
	if !l.standing && !c.seen.inside {
		from = implicitDeal()
	}
	c.move = transition{open: true, from: from, to: l.asking, epr: l.epr || from.EPR || l.asking.EPR, said: l.last.start}
	if at, ok := l.heardAt(l.last); ok {
		c.acceptHeard(at)
	}
}

// acceptHeard starts the source's times: the Accept was acknowledged.
func (c *Checker) acceptHeard(at moment) {
	c.move.accepted, c.move.heard = at, true
	c.move.begin(c)
	c.dispatch(accepted, &event{start: at, end: at, software: at.software})
}

// heard moves the link on by a GoodCRC.
func (c *Checker) heard() {
	l := &c.link
	switch l.last.kind {
	case pd.Request, pd.EPRRequest:
		l.request = l.last
	case pd.Accept:
		if c.move.open && l.last.from == pd.Source {
			c.acceptHeard(l.last.ackEnd)
		}
	}
}

// ready takes a PS_RDY: the end of a transition, or a step of a swap.
func (c *Checker) ready(e *event, swapping bool) {
	l := &c.link
	if swapping {
		if !l.speakers.Swapping() {
			c.handedOver()
		}
		return
	}
	if e.from != pd.Source || l.elsewhere() || !c.move.open {
		return
	}
	c.move.open, c.move.done, c.move.ready = false, true, e.start
	l.contract, l.standing = c.move.to, true
	c.dispatch(agreed, e)
}

// handedOver ends a role swap: what feeds now is the other port.
func (c *Checker) handedOver() {
	l := &c.link
	l.swapped = !l.swapped
	l.repeats.Forget()
	l.offers.Forget()
	l.contract, l.standing, l.epr, l.request = deal{}, false, false, spoken{}
	c.move, c.reset, c.slope, c.quiet = transition{}, hardReset{}, slope{}, quiet{}
	c.ids, c.roles, c.revision, c.owed, c.deaf, c.entry = ids{}, roles{}, agreement{}, owed{}, deaf{}, eprEntry{}
	c.first.what = ""
	c.meter.lost()
}

func (c *Checker) eprMode(e *event) {
	if e.msg.NumObjects() == 0 {
		return
	}
	switch pd.EPRMDO(e.msg.Object(0)).Action() {
	case pd.EPREnterSucceeded:
		c.link.epr = true
	case pd.EPRExit:
		c.link.epr = false
	}
}

// hardReset takes a Hard Reset: roles, contract and counters start anew.
func (c *Checker) hardReset(e *event) {
	c.seen.decided = true
	c.dispatch(resetHard, e)
	c.link.forget()
	c.link.resetting = true
	c.move = transition{}
}

// marker takes what a recorder notes besides messages.
func (c *Checker) marker(k captures.Marker, at moment) {
	c.seen.decided = true
	e := &event{start: at, end: at, software: at.software}
	switch k {
	case captures.Attach:
		c.leave(e)
		c.dispatch(attached, e)
	case captures.Detach:
		c.leave(e)
	case captures.VBUSOn:
		c.dispatch(poweredOn, e)
	case captures.VBUSOff:
		if !c.link.resetting && !c.link.speakers.Swapping() {
			c.leave(e)
		}
	}
}

func (c *Checker) leave(e *event) {
	c.dispatch(gone, e)
	c.link.forget()
	c.link.resetting = false
	c.move = transition{}
	c.cable.forget()
}

// toCable takes a message to or from the cable.
func (c *Checker) toCable(m *captures.Message, e *event) {
	if e.msg.Type() == pd.GoodCRC {
		c.seen.goodCRCs++
		c.link.repeats.Acknowledge(e.msg.Set, message.CableEnd(e.msg.Header), e.msg.Header.MessageID())
	}
	c.link.crowded = true
	c.dispatch(cabled, e)
	c.cable.take(m, e)
}
