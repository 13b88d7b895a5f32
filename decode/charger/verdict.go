package charger

import (
	"fmt"
)

// Finish says what the records so far mean. It ends the recording: nothing may be
// added after it.
func (c *Checker) Finish() *Result {
	c.dispatch(ended, &event{start: moment{s: c.lastKnown()}})
	n := c.negotiation.Result()
	r := &Result{Schema: Schema, Offers: n.Offers}
	if mw := c.rating.pdp(); mw > 0 {
		w := watts(mw)
		r.PDPW = &w
	}
	for id := range checkCount {
		r.Checks = append(r.Checks, c.outcome(id))
	}
	r.Verdict = verdict(r, len(n.Contracts) > 0 && c.sawOffer())
	r.Summary = summary(r)
	return r
}

// lastKnown is until when the recording shows that the connection lasted.
func (c *Checker) lastKnown() float64 {
	m := &c.meter
	if c.oneClock && m.have && !m.off {
		return max(c.seen.lastS, m.at-m.slip)
	}
	return c.seen.lastS
}

func (c *Checker) sawOffer() bool { return len(c.offering.objects) > 0 }

// outcome is one check as it stands at the end.
func (c *Checker) outcome(id checkID) Check {
	row, t := &table[id], &c.tallies[id]
	out, ok := t.outcome(c.stepOf(t.grid))
	if !ok {
		out = Check{Result: NotObserved, Measured: Values{}, Limit: Values{}, Uncertainty: Values{}, Text: c.reason(id)}
	}
	out.Check, out.Source, out.Effect = row.name, row.source, row.effect
	return out
}

func (c *Checker) stepOf(g coarseness) float64 {
	switch g {
	case ofStamps:
		return c.seen.stamps.timeStep()
	case ofVolts:
		return c.meter.step()
	case ofAmps:
		return c.meter.amps.valueStep()
	default:
		return 0
	}
}

// reason says why a check could not be made.
func (c *Checker) reason(id checkID) string {
	row, t := &table[id], &c.tallies[id]
	lacks := func(n need, has bool) bool { return row.needs&n != 0 && !has }
	switch {
	case t.n > 0:
		step := c.stepOf(t.grid)
		unit := unitOf(t.finer.key)
		return fmt.Sprintf("the recording is too coarse: +/- %s against a limit of %s", figure(t.finer.r.off+step, unit), figure(t.finer.limit.room(), unit))
	case lacks(fromLine, c.seen.frames > 0):
		return "the CC line itself was not recorded"
	case lacks(messages, c.seen.messages > 0):
		return "no messages were recorded"
	case lacks(acknowledgements, c.seen.goodCRCs > 0):
		return "the recorder does not show GoodCRC"
	case lacks(volts, c.seen.samples > 0):
		return "no meter log of VBUS was given"
	case lacks(amps, c.seen.currents > 0):
		return "the meter log has no current"
	case lacks(sharedClock, c.oneClock):
		return c.apart()
	case t.why != "":
		return t.why
	default:
		return row.occasion
	}
}

// apart says why messages and samples could not be judged together.
func (c *Checker) apart() string {
	why := "the clocks of meter and messages are not known to each other"
	if c.alignment.Reason != "" {
		why += ": " + c.alignment.Reason
	}
	return why + "; --shift meter=SECONDS states it"
}

func verdict(r *Result, contract bool) Verdict {
	switch {
	case r.Count(Fail) > 0:
		return OutsideStandard
	case !contract:
		return NotEnoughEvidence
	default:
		return WithinStandard
	}
}

// summary is the verdict in one sentence for the customer.
func summary(r *Result) string {
	passed, failed, unseen := r.Count(Pass), r.Count(Fail), r.Count(NotObserved)
	switch r.Verdict {
	case OutsideStandard:
		return fmt.Sprintf("outside the standard in %d of the %d checks this recording can show; %d could not be observed", failed, passed+failed, unseen)
	case WithinStandard:
		return fmt.Sprintf("within the standard in the %d checks this recording can show; %d could not be observed", passed, unseen)
	default:
		return fmt.Sprintf("not enough evidence: no offer with a contract was recorded; %d checks passed, %d could not be observed", passed, unseen)
	}
}
