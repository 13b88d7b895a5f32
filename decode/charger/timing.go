package charger

import (
	"math"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// attach is when the source's end of CC was first seen.
type attach struct {
	at      moment
	pending bool
	meter   bool    // it was seen in the samples
	lowS    float64 // CC was surely low then
	wasLow  bool
	lastS   float64 // the last sample with a level
	seen    bool
}

// level takes the CC columns of a sample: CC at the sink leaves 0 V when the
// source's pull-up comes.
func (a *attach) level(m *meter, s *captures.Sample) {
	v := math.Inf(-1)
	for _, cc := range s.CC {
		if !math.IsNaN(cc) {
			v = max(v, cc)
		}
	}
	at := message.Seconds(s.At)
	switch {
	case v <= pd.VCCOpen.Limits(pd.Revision32).MaxSI():
		a.lowS, a.wasLow = a.lastS, a.seen // the sample is the mean since the one before
		if a.meter {
			a.pending = false
		}
	case a.wasLow && v >= pd.VCCDefault.Limits(pd.Revision32).MinSI():
		a.at, a.pending, a.meter, a.wasLow = m.within(a.lowS, at), true, true, false
	}
	a.lastS, a.seen = at, true
}

const turnOnWhat = "from the attach, debounce included, to VBUS at vSafe5V"

// seeAttached takes the attach as a recorder notes it.
func seeAttached(c *Checker, e *event) {
	if a := &c.attach; !a.pending {
		a.at, a.pending, a.meter = e.start, true, false
	}
}

// seeTurnOn looks for VBUS after the attach in the samples.
func seeTurnOn(c *Checker, _ *event) {
	a, m := &c.attach, &c.meter
	if !a.pending || !m.up || between(a.at, m.rise.at).value < -a.at.late || !a.meter && !c.oneClock {
		return
	}
	c.turnedOn(m.rise.at)
}

// seePoweredOn takes VBUS as a recorder notes it.
func seePoweredOn(c *Checker, e *event) {
	if a := &c.attach; a.pending && !a.meter && !(c.oneClock && c.meter.have) {
		c.turnedOn(e.start)
	}
}

func (c *Checker) turnedOn(at moment) {
	debounce, on := c.limit(pd.TCCDebounce), c.limit(pd.TVBUSON)
	c.time(checkVBUSTurnOn, turnOnWhat, c.attach.at, at, atMost(debounce.max+on.max, "tCCDebounce + tVBUSON"))
	c.attach.pending = false
}

func dropAttach(c *Checker, _ *event) {
	if !c.attach.meter {
		c.attach.pending = false
	}
}

// firstOffer is what the source's first capabilities are timed from.
type firstOffer struct {
	from     moment
	what     string // empty: nothing
	riseUsed int    // which rise of VBUS was used
	offered  bool
	offerS   float64 // the last offer
}

const (
	fromVBUS = "from VBUS at vSafe5V to the first Source_Capabilities"
	fromSoft = "from the GoodCRC of the Accept to a Soft_Reset to the first Source_Capabilities"
)

// seeFirstStart takes VBUS as a recorder notes it.
func seeFirstStart(c *Checker, e *event) { c.first.from, c.first.what = e.start, fromVBUS }

// seeFirstAfterSoft takes the Accept of a Soft_Reset once it is acknowledged.
func seeFirstAfterSoft(c *Checker, _ *event) {
	if c.first.what == "" && c.offering.softAccept && c.link.last.kind == pd.Accept && c.link.last.from == pd.Source {
		c.first.from, c.first.what = c.link.last.ackEnd, fromSoft
	}
}

// seeFirstOffer holds the first capabilities to their time. A sink's own software
// may have listened too late for them.
func seeFirstOffer(c *Checker, e *event) {
	f := &c.first
	if e.sourceSays(pd.Accept) && e.asked == pd.SoftReset {
		c.offering.softAccept, f.what = true, ""
		if !c.link.shown[pd.Source] {
			f.from, f.what = e.end.plus(ackTime()), fromSoft
		}
		return
	}
	if !e.sourceSays(pd.SourceCapabilities) {
		if e.from == pd.Sink {
			c.offering.softAccept = c.offering.softAccept && e.msg.Type() != pd.Request
		}
		return
	}
	if m := &c.meter; c.oneClock && m.up && m.rises != f.riseUsed && !c.seen.inside && f.what != fromSoft {
		f.riseUsed = m.rises
		if !f.offered || m.rise.at.soonest() > f.offerS { // else the meter saw it too late
			f.from, f.what = m.rise.at, fromVBUS
		}
	}
	f.offered, f.offerS = true, e.start.s
	if f.what == "" {
		return
	}
	l := c.limit(pd.TFirstSourceCap)
	if r := between(f.from, e.start); c.seen.sinkSide && r.value > l.max {
		c.because(checkFirstCapabilitiesTime, "the sink's own software may have listened too late for the first capabilities")
	} else {
		c.time(checkFirstCapabilitiesTime, f.what, f.from, e.start, l)
	}
	f.what, c.offering.softAccept = "", false
}

func dropFirst(c *Checker, _ *event) { c.first.what, c.offering.softAccept = "", false }

// seeRepeat holds the interval of capabilities that nobody answers, start to start,
// an attempt counted with its retries.
func seeRepeat(c *Checker, e *event) {
	last := &c.link.last
	if !e.sourceSays(pd.SourceCapabilities) || last.kind != pd.SourceCapabilities || last.from != pd.Source ||
		last.acked || last.id != e.msg.Header.MessageID() || c.retries(e) {
		return
	}
	send, receive := c.limit(pd.TTypeCSendSourceCap), c.limit(pd.TReceive)
	l := limit{send.min, send.max + receive.max, "tTypeCSendSourceCap"}
	if e.start.s-last.first.s > 2*l.max && !c.neverOff(last.first) {
		c.because(checkCapabilitiesRepeatTime, "the pause is so long that the plug may have been pulled in it")
		return
	}
	c.time(checkCapabilitiesRepeatTime, "interval of Source_Capabilities that nobody acknowledged", last.first, e.start, l)
}

// neverOff reports that VBUS is known to have stayed on since a moment.
func (c *Checker) neverOff(since moment) bool {
	return c.oneClock && c.meter.have && c.meter.up && c.meter.rise.at.s < since.s
}

// dropRise gives up on VBUS coming up that the meter has not seen by the first
// contract: from there on it goes elsewhere.
func dropRise(c *Checker, _ *event) {
	c.attach.pending = c.attach.pending && !c.oneClock
	c.meter.off = false
}
