package message

import (
	"time"

	"portside/captures"
	"portside/pd"
)

// Timing says which time of the standard limits the wait before a message, and
// whether it was kept, as far as the stamps of the recorder can show it. It
// takes the lines of one recording in the order of time.
type Timing struct {
	sets     [lastSet]saying
	accepted struct {
		of      pd.MessageType // what the Accept answered; 0 for none open
		at      span           // end of its GoodCRC
		halfWay bool           // of a swap of power: the old source has switched off
	}
	entering span // end of the GoodCRC to EPR_Mode Enter; unset for none open
	refused  map[pd.MessageType]span
	offering span           // start of the attempt at Source_Capabilities that went unanswered
	restart  pd.MessageType // what makes the next capabilities due: Soft_Reset, PR_Swap, EPR_Mode
	restarts span
	traffic  span // end of the last traffic on SOP
	line     span // end of the line before, whatever it was
	asked    terms
	agreed   terms // of the contract, once it is ready
	epr      bool
	revision pd.Revision
}

// terms are what decides how long a transition may take.
type terms struct {
	kind    Kind
	voltage pd.Millivolts
	epr     bool
}

// saying is the last message on a set that wants a GoodCRC.
type saying struct {
	said  utterance
	start span
	end   span
	heard span // end of its GoodCRC; estimated where none was recorded
	acked bool
}

// span is a moment as far as it is known. The zero value is unset.
type span struct {
	lo, hi time.Duration
	set    bool
}

func (s span) plus(lo, hi time.Duration) span { return span{s.lo + lo, s.hi + hi, s.set} }

// Limited is a wait that the standard limits.
type Limited struct {
	Name     string // the parameter
	Since    string // from what it counts, "" where that is the end of the line before
	Measured time.Duration
	Min, Max time.Duration // the limits; 0 for none
	Document string
	Verdict  Verdict
}

// Verdict says whether a limit was kept. The zero value is none.
type Verdict uint8

// The verdicts.
const (
	Kept        Verdict = iota + 1
	Broken              // by more than the stamps can be off
	TooClose            // the stamps do not tell
	NotObserved         // stamps of a side's own software say nothing of so short a time
)

// NewTiming returns the timing of one recording.
func NewTiming() *Timing { return &Timing{refused: map[pd.MessageType]span{}} }

// shortestSoftware is the shortest limit that stamps of a side's own software
// can show.
const shortestSoftware = 15 * time.Millisecond

// Add takes the next line with its message; ok is false where no limit of the
// standard applies that the recording can show.
func (t *Timing) Add(l *Line, m *captures.Message) (lim Limited, ok bool) {
	start, end := stamps(m)
	switch {
	case m.Marker == captures.Attach || m.Marker == captures.Detach:
		*t = *NewTiming()
	case m.Marker != captures.NoMarker:
	case m.Set == pd.HardReset:
		lim, ok = t.judge(t.beforeHardReset(), start, m)
		ok = ok && lim.Verdict != Broken // then it came for another reason
		*t = *NewTiming()
	case !l.Header.Present || l.CRC == WrongCRC || m.Status == captures.Discarded || m.Set >= lastSet:
	case l.Header.Type() == pd.GoodCRC:
		lim, ok = t.goodCRC(l, m, start, end)
	default:
		lim, ok = t.message(l, m, start, end)
	}
	t.line = end
	return lim, ok
}

// stamps are when a message began and ended. Where only its length is known,
// the bit rate is what the standard allows.
func stamps(m *captures.Message) (start, end span) {
	start = span{m.At, m.At, true}
	if m.By == captures.SourceItself || m.By == captures.SinkItself {
		start = start.plus(-softwareSpread, softwareSpread)
	}
	if m.HasEnd && m.End >= m.At {
		return start, start.plus(m.End-m.At, m.End-m.At)
	}
	shortest, _, longest := airTime(m)
	return start, start.plus(shortest, longest)
}

// goodCRC judges tTransmit and keeps when the message was heard.
func (t *Timing) goodCRC(l *Line, m *captures.Message, start, end span) (Limited, bool) {
	s := &t.sets[m.Set]
	if !s.end.set || s.acked || s.said.id != l.Header.Raw.MessageID() {
		return Limited{}, false
	}
	lim, ok := t.judge(due{parameter: pd.TTransmit, since: s.end}, start, m)
	s.acked, s.heard = true, end
	t.acknowledged(s)
	return lim, ok
}

// acknowledged moves on what counts from the GoodCRC of a message.
func (t *Timing) acknowledged(s *saying) {
	if s.said.set != pd.SOP {
		return
	}
	t.traffic = s.heard
	switch s.said.kind {
	case pd.Accept:
		t.accepted.at = s.heard
		if t.restart == pd.SoftReset {
			t.restarts = s.heard
		}
	case pd.EPRMode:
		switch s.said.epr {
		case pd.EPREnter:
			t.entering = s.heard
		case pd.EPREnterSucceeded, pd.EPRExit:
			t.restarts = s.heard
		}
	case pd.PSRDY:
		if t.restart == pd.PRSwap {
			t.restarts = s.heard
		}
	case pd.SourceCapabilities:
		if s.acked {
			t.offering = span{}
		}
	}
}

// message judges the wait before a message and keeps it.
func (t *Timing) message(l *Line, m *captures.Message, start, end span) (Limited, bool) {
	said := heardIn(l, m)
	if said.kind == pd.SourceCapabilities || said.kind == pd.Request || said.kind == pd.EPRRequest {
		t.revision = l.Header.Raw.Revision()
	}
	s := &t.sets[said.set]
	if l.Repeat && s.end.set && start.lo-s.end.hi < longestRetry {
		lim, ok := t.judge(due{parameter: pd.TReceive, since: s.end, slack: pd.TRetry}, start, m)
		s.end, s.heard, s.acked = end, end.plus(ackSpan()), false
		return lim, ok
	}
	lim, ok := t.judge(t.due(said, start), start, m)
	t.keep(said, start, end)
	return lim, ok
}

// keep remembers a message for those that follow.
func (t *Timing) keep(said utterance, start, end span) {
	s := &t.sets[said.set]
	before := s.said
	*s = saying{said: said, start: start, end: end, heard: end.plus(ackSpan())}
	if said.set != pd.SOP {
		return
	}
	t.traffic = s.heard
	switch said.kind {
	case pd.SourceCapabilities, pd.EPRSourceCapabilities:
		t.restart, t.offering = 0, start
	case pd.Request, pd.EPRRequest:
		t.asked, t.offering = said.terms, span{}
		t.accepted.of = 0
	case pd.Accept:
		t.accepted.of, t.accepted.halfWay = before.kind, false
		if before.kind == pd.SoftReset {
			t.restart = pd.SoftReset
		}
	case pd.Wait:
		t.refused[before.kind] = end
	case pd.EPRMode:
		t.keepEPR(said)
	case pd.PSRDY:
		t.ready()
	}
	t.acknowledged(s) // by the estimate, until the GoodCRC is seen
}

func (t *Timing) keepEPR(said utterance) {
	switch said.epr {
	case pd.EPREnterSucceeded:
		t.epr, t.entering, t.restart = true, span{}, pd.EPRMode
	case pd.EPRExit:
		t.epr, t.restart = false, pd.EPRMode
	case pd.EPREnterFailed:
		t.entering = span{}
	}
}

// ready ends what an Accept began; a PR_Swap has two of them.
func (t *Timing) ready() {
	switch t.accepted.of {
	case pd.Request, pd.EPRRequest:
		t.agreed = t.asked
	case pd.PRSwap, pd.FRSwap:
		if t.accepted.halfWay = !t.accepted.halfWay; t.accepted.halfWay {
			return
		}
		t.restart = pd.PRSwap
	}
	t.accepted.of = 0
}

// ackSpan is what passes from the end of a message to the end of its GoodCRC:
// the wait of at least tInterFrameGap and at most tTransmit, and its length.
func ackSpan() (lo, hi time.Duration) {
	shortest, _, longest := pd.AirTime(pd.Message{Set: pd.SOP}.LineBits())
	gap, _ := pd.TInterFrameGap.Limits(pd.Revision32).MinDuration()
	transmit, _ := pd.TTransmit.Limits(pd.Revision32).MaxDuration()
	return gap + shortest, transmit + longest
}

// judge holds a wait against its limit.
func (t *Timing) judge(d due, start span, m *captures.Message) (Limited, bool) {
	if d.parameter == 0 || !d.since.set {
		return Limited{}, false
	}
	limits := t.limits(d.parameter)
	least, hasLeast := limits.MinDuration()
	most, hasMost := limits.MaxDuration()
	if d.slack != 0 {
		more, _ := t.limits(d.slack).MaxDuration()
		most += more
	}
	if d.latest {
		least, hasLeast = 0, false
	}
	if !hasLeast && !hasMost {
		return Limited{}, false
	}
	out := Limited{Name: limits.Name, Since: d.after, Min: least, Max: most, Document: limits.Document}
	if d.since == t.line {
		out.Since = ""
	}
	out.Measured = (start.lo+start.hi)/2 - (d.since.lo+d.since.hi)/2
	out.Verdict = verdict(start.lo-d.since.hi, start.hi-d.since.lo, out)
	if bound := max(least, most); bound < shortestSoftware && (m.By == captures.SourceItself || m.By == captures.SinkItself) {
		out.Verdict = NotObserved
	}
	return out, true
}

func verdict(lo, hi time.Duration, l Limited) Verdict {
	switch {
	case l.Max > 0 && lo > l.Max || l.Min > 0 && hi < l.Min:
		return Broken
	case (l.Max == 0 || hi <= l.Max) && lo >= l.Min:
		return Kept
	default:
		return TooClose
	}
}

// limits are those of the pair's revision; a header's 3.x may be any R3.
func (t *Timing) limits(p pd.Parameter) pd.Limits {
	if t.revision == pd.Revision20 {
		return p.Limits(pd.Revision20)
	}
	return p.Widest(pd.Revision30, pd.Revision31, pd.Revision32)
}
