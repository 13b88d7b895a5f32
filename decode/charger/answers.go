package charger

import (
	"math"

	"portside/pd"
)

// seeGoodCRCTime holds the GoodCRC of the source, and of the plug, to its time.
func seeGoodCRCTime(c *Checker, e *event) {
	const what = "from the end of a message to the GoodCRC"
	l := c.limit(pd.TTransmit)
	switch {
	case e.msg.Set == pd.SOP && e.from == pd.Source:
		c.time(checkGoodCRCTime, what, c.link.last.end, e.start, l)
	case e.msg.Set != pd.SOP && e.msg.Type() == pd.GoodCRC && e.msg.Header.CablePlug() && c.cable.answers(e):
		c.time(checkGoodCRCTime, what+" of the cable", c.cable.lastEnd, e.start, l)
	}
}

// soonestRepeatS parts the retry of a message from its next attempt: far beyond the
// one (USB PD R3.2 V1.1, tReceive + tRetry, 1.3 ms) and below the other
// (tTypeCSendSourceCap, 100 ms).
const soonestRepeatS = 0.05

// retries reports that a message sent again is a retry of the link layer.
func (c *Checker) retries(e *event) bool { return e.start.s-c.link.last.end.s < soonestRepeatS }

// seeRetryTime holds the source's retries to their time.
func seeRetryTime(c *Checker, e *event) {
	if e.from != pd.Source || !c.retries(e) || c.link.crowded {
		return
	}
	// R3.0 has 75 µs where R3.2 has 195: the longer is granted to all.
	receive, retry := c.limit(pd.TReceive), limitsOf(pd.TRetry, pd.Revision32)
	l := limit{receive.min, receive.max + retry.max, "tReceive + tRetry"}
	c.time(checkRetryTime, "from the end of a message to its retry", c.link.last.end, e.start, l)
}

// seeRetryCount counts the retries of one message.
func seeRetryCount(c *Checker, e *event) {
	if e.from != pd.Source || !c.retries(e) {
		return
	}
	most := pd.NRetryCount.Limits(e.msg.Header.Revision()).Nom.Value
	c.judge(checkRetryCount, exact, "retries", "retries of one message",
		reading{value: float64(c.link.last.retries + 1)}, atMost(most, "nRetryCount"), e.start.s)
}

// seeAnswerTime holds Accept, Reject and Wait to their time after the Request.
func seeAnswerTime(c *Checker, e *event) {
	if e.from != pd.Source || !answersRequest(e) {
		return
	}
	if at, ok := c.link.heardAt(c.link.request); ok && c.link.request.kind != 0 {
		c.time(checkAnswerTime, "from the GoodCRC of the Request to its answer", at, e.start, c.limit(pd.TReceiverResponse))
	}
}

func answersRequest(e *event) bool {
	switch e.msg.Type() {
	case pd.Accept, pd.Reject, pd.Wait:
		return isRequest(e.asked)
	default:
		return false
	}
}

func isRequest(t pd.MessageType) bool { return t == pd.Request || t == pd.EPRRequest }

// owed is what the source owes next.
type owed struct {
	what     string // empty: nothing
	from     moment
	untilS   float64 // after this it is missing, whatever comes
	resetS   float64 // a Hard Reset before this has another cause, and one after it tells
	byReset  bool    // a Hard Reset is what is owed
	complete bool    // a whole chain of Request, answer and PS_RDY was seen
}

// seeMissing follows what was due. What a sink's own software did not read may have
// been sent all the same.
func seeMissing(c *Checker, e *event) {
	if e.software && c.seen.sinkSide {
		c.because(checkAnswerMissing, "what the sink's own software did not read may have been sent all the same")
		return
	}
	c.settle(e)
	t := e.msg.Type()
	switch {
	case isRequest(t) && e.from == pd.Sink && !c.link.shown[pd.Sink]:
		c.owe("an answer to the Request", e.end.plus(ackTime()), pd.TSenderResponse)
	case e.sourceSays(pd.Accept) && isRequest(e.asked) && !c.link.shown[pd.Source]:
		c.oweReady(e.end.plus(ackTime()))
	case e.sourceSays(pd.PSRDY) && c.move.open:
		c.owed.complete = true
		c.kept(checkAnswerMissing, "every Request was answered and every Accept led to PS_RDY")
	}
}

// seeMissingAfterAck starts what an acknowledged message makes due.
func seeMissingAfterAck(c *Checker, e *event) {
	if e.software && c.seen.sinkSide {
		return
	}
	last := &c.link.last
	switch {
	case isRequest(last.kind) && last.from == pd.Sink:
		c.owe("an answer to the Request", last.ackEnd, pd.TSenderResponse)
	case last.kind == pd.Accept && last.from == pd.Source && c.move.open:
		c.oweReady(last.ackEnd)
	case last.kind == pd.SourceCapabilities && last.from == pd.Source && !c.offering.asked:
		c.oweReset(last.ackEnd)
	}
}

// owe starts a wait of the sink's timer p for something of the source.
func (c *Checker) owe(what string, from moment, p pd.Parameter) {
	l := c.limit(p)
	c.owed.what, c.owed.from, c.owed.byReset = what, from, false
	c.owed.untilS, c.owed.resetS = l.max, l.min
}

func (c *Checker) oweReady(from moment) {
	p := pd.TPSTransitionSPR
	if c.move.epr || c.link.asking.Kind == 0 || c.link.asking.Adjustable() {
		p = pd.TPSTransitionEPR
	}
	c.owe("PS_RDY after the Accept", from, p)
	c.owed.resetS = max(c.owed.resetS, c.move.readyLimit(c).max)
}

// oweReset starts the source's own wait for a Request, which ends in a Hard Reset.
func (c *Checker) oweReset(from moment) {
	c.owe("a Hard Reset after capabilities that no Request followed", from, pd.TSenderResponse)
	c.owed.byReset = true
	c.owed.untilS += c.limit(pd.THardReset).max
}

// settle looks whether the next message came too late for what was owed, and ends
// the wait: another message in between is another story.
func (c *Checker) settle(e *event) {
	o := &c.owed
	if o.what == "" {
		return
	}
	if late := between(o.from, e.start); !c.seen.damaged && !c.owedBy(e) && late.surelyAbove(o.untilS+c.seen.stamps.timeStep()) {
		c.missing(late.value, o.untilS, e.start.s)
	}
	o.what = ""
}

// owedBy reports a message that is what was owed, however late, or one that begins
// something new.
func (c *Checker) owedBy(e *event) bool {
	switch {
	case c.owed.byReset:
		return e.from != pd.Source
	case answersRequest(e), e.sourceSays(pd.PSRDY):
		return true
	default:
		return e.sourceSays(pd.SourceCapabilities) && e.msg.Header.MessageID() == 0
	}
}

func (c *Checker) missing(waited, limit, atS float64) {
	c.brokeBy(checkAnswerMissing, atS, Values{"time_s": waited}, Values{"time_s": limit},
		"%s never came: %s went by", c.owed.what, figure(waited, "s"))
}

// seeMissingReset takes a Hard Reset: what was due by then never came.
func seeMissingReset(c *Checker, e *event) {
	o := &c.owed
	if o.what == "" || o.byReset || c.seen.damaged {
		o.what = ""
		return
	}
	if late := between(o.from, e.start); late.surelyAbove(o.resetS) {
		c.missing(late.value, o.resetS, e.start.s)
	}
	o.what = ""
}

// dropOwed ends the wait with the connection.
func dropOwed(c *Checker, _ *event) {
	c.owed.what = ""
	c.deaf = deaf{}
}

// seeMissingEnd looks whether the recording went on for long enough.
func seeMissingEnd(c *Checker, e *event) {
	if c.owed.what == "" || c.owed.byReset || c.seen.damaged {
		return
	}
	if late := between(c.owed.from, e.start); late.surelyAbove(c.owed.untilS + c.seen.stamps.timeStep()) {
		c.missing(late.value, c.owed.untilS, e.start.s)
	}
}

// deaf is a message of the sink that got no GoodCRC in all its tries.
type deaf struct {
	tries  int
	openS  float64 // when the last try ended; 0 where none is open
	failed bool
}

// deafLasts is how soon the source must be heard again for its silence to be its
// own: within the time of a plug that is pulled (tSinkDisconnect and margin, common
// practice).
const deafLasts = 0.5

// seeUnacknowledged looks whether the source acknowledges. One GoodCRC may get lost
// on the line; all those of one message in a row do not.
func seeUnacknowledged(c *Checker, e *event) {
	d, last := &c.deaf, &c.link.last
	if !c.link.shown[pd.Sink] || e.software {
		return
	}
	if last.kind != 0 && last.from == pd.Sink && !last.acked && !c.seen.damaged {
		most := pd.NRetryCount.Limits(pd.Revision20).Nom.Value
		if last.revision.Is3() {
			most = pd.NRetryCount.Limits(pd.Revision32).Nom.Value
		}
		if last.sent > int(math.Round(most)) {
			d.failed, d.openS, d.tries = true, last.end.s, last.sent
		}
	}
	if d.failed && e.from == pd.Source {
		if e.start.s-d.openS < deafLasts {
			c.broke(checkAnswerMissing, d.openS, "a message of the sink got no GoodCRC in %d tries, though the source was there", d.tries)
		}
		*d = deaf{}
	}
}
