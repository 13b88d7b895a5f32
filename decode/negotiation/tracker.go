package negotiation

import (
	"errors"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// Options of a [Tracker]; the zero value is the usual one.
type Options struct{}

// Tracker follows the negotiation message by message. It is not safe for
// concurrent use.
type Tracker struct {
	limits   limits
	clock    clock
	speakers message.Speakers
	repeats  *message.Repeats
	offers   message.Offers
	sides    [3]side // by pd.PowerRole
	result   Result  // the counters and single values

	stage    stage
	wait     wait
	attempt  attempt
	contract openContract
	deal     deal        // of the last Request
	revision pd.Revision // of the pair; 0 until an offer or a Request is seen
	epr      bool        // EPR mode has been entered
	decided  bool        // whether the recording begins inside is settled
	fresh    bool        // a beginning, a reset or an offer is in the recording
	traffic  stamp       // the last message on SOP
	counters [3]counter  // by pd.PowerRole
	restart  restart
	pending  pending
	misheard misheard

	phases     kept[phase]
	attempts   kept[Attempt]
	contracts  kept[Contract]
	resets     kept[Reset]
	mismatches kept[Moment]
	refusals   kept[Moment]
	missed     kept[Moment]
	vbus       kept[VBUSNote]
	attaches   kept[float64]
	detaches   kept[float64]
}

// stage is what the negotiation waits for.
type stage uint8

const (
	idle stage = iota
	forVBUS
	forCapabilities
	forSoftAccept
	forRequest
	forAnswer
	forReady
	settled // in a contract, nothing under way
	refused // Reject without a contract
	putOff  // Wait without a contract
)

// side is what is known of the acknowledgements to one side's messages.
type side struct {
	shown    bool // the recorder shows GoodCRC to this side
	without  int  // messages with no GoodCRC after them
	reported int  // messages that the recorder calls unacknowledged
	again    int  // messages said again, offers apart
}

// pending is the last message on SOP that wants a GoodCRC.
type pending struct {
	open   bool
	kind   pd.MessageType
	id     int
	from   pd.PowerRole
	end    stamp
	failed bool
}

// misheard is the last message on SOP with a wrong CRC, until another comes.
type misheard struct {
	open bool
	id   int
}

// New returns a tracker for one recording.
func New(Options) *Tracker {
	t := &Tracker{limits: newLimits(), repeats: message.NewRepeats()}
	t.phases.size = sizeOf
	t.attempts.size = func(a Attempt) float64 { return a.EndS - a.StartS }
	t.contracts.size = func(c Contract) float64 {
		if c.StartS == nil || c.EndS == nil {
			return lateFirst
		}
		return *c.EndS - *c.StartS
	}
	t.resets.size = func(Reset) float64 { return 0 }
	t.mismatches.size = func(Moment) float64 { return 0 }
	t.refusals.size = func(Moment) float64 { return 0 }
	t.missed.size = func(Moment) float64 { return 0 }
	t.vbus.size = func(VBUSNote) float64 { return 0 }
	t.attaches.size = func(float64) float64 { return 0 }
	t.detaches.size = func(float64) float64 { return 0 }
	return t
}

// Add takes the next message in the order of time. Nothing of m is kept.
func (t *Tracker) Add(m *captures.Message) {
	at := t.clock.at(m)
	switch {
	case m.Marker != captures.NoMarker:
		t.marker(m.Marker, at)
	case m.Status == captures.Discarded: // it never was on the line
	case m.Set == pd.HardReset:
		t.result.Messages++
		t.hardReset(at)
	case m.Set == pd.CableReset:
		t.result.Messages++
		t.resets.add(Reset{TimeS: at.s, Cable: true})
	default:
		t.result.Messages++
		t.packet(m, at)
	}
}

func (t *Tracker) packet(m *captures.Message, at stamp) {
	p, err := pd.ParseMessage(m.Set, m.Bytes)
	if m.Damaged() && !errors.Is(err, pd.ErrNoHeader) {
		t.damaged(p, at)
		return
	}
	if err != nil {
		t.result.Malformed++
		if errors.Is(err, pd.ErrNoHeader) {
			return
		}
	}
	if !p.Type().Defined() {
		if err == nil {
			t.result.Malformed++
		}
		return
	}
	end := t.clock.end(m, p, at)
	if p.Set != pd.SOP {
		t.cable(m, p)
		return
	}
	if p.Type() == pd.GoodCRC {
		t.goodCRC(m, p, end)
		return
	}
	t.spoken(m, p, at, end)
}

// damaged counts a message whose CRC is wrong: its receiver drops it, and so
// does the tracker.
func (t *Tracker) damaged(p pd.Message, at stamp) {
	e := &t.result.CRCErrors
	if e.Source+e.Sink+e.Cable == 0 {
		e.FirstS = at.s
	}
	e.LastS = at.s
	if p.Set == pd.SOP && p.Type() != pd.GoodCRC {
		t.missedAck()
		t.misheard = misheard{open: true, id: p.Header.MessageID()}
	}
	switch p.PowerRole() {
	case pd.Source:
		e.Source++
	case pd.Sink:
		e.Sink++
	default:
		e.Cable++
	}
}

func (t *Tracker) goodCRC(m *captures.Message, p pd.Message, end stamp) {
	t.result.GoodCRCs++
	from := t.speakers.From(p)
	t.count(from)
	if !t.decided && !t.misheard.open {
		t.decided, t.result.BeginsInside = true, true // what it acknowledges came before
	}
	if t.misheard.open && t.misheard.id == p.Header.MessageID() {
		t.result.CRCErrors.Misread++
	}
	t.misheard = misheard{}
	to := t.pending.from
	if !t.pending.open || t.pending.id != p.Header.MessageID() {
		return
	}
	t.sides[to].shown = true
	t.repeats.Acknowledge(pd.SOP, to, t.pending.id)
	t.pending.open = false
	if t.wait.of != 0 && t.wait.of == t.pending.kind {
		t.acknowledged(end.sentBy(from, m))
	}
	switch t.pending.kind {
	case pd.SourceCapabilities, pd.EPRSourceCapabilities:
		t.attempt.heard = true
	case pd.Request, pd.EPRRequest:
		t.attempt.Heard = Acknowledged
	case pd.Accept:
		t.attempt.AnswerHeard = Acknowledged
	}
}

func (t *Tracker) count(from pd.PowerRole) {
	switch from {
	case pd.Source:
		t.result.FromSource++
	case pd.Sink:
		t.result.FromSink++
	}
}

// spoken takes a message on SOP that wants a GoodCRC.
func (t *Tracker) spoken(m *captures.Message, p pd.Message, at, end stamp) {
	t.misheard = misheard{}
	t.begins(p)
	t.keptAlive(at)
	asked, swapping := t.speakers.Asked(), t.speakers.Swapping()
	from := t.speakers.From(p)
	at, end = at.sentBy(from, m), end.sentBy(from, m)
	t.count(from)
	acked := t.pending.kind == p.Type() && t.pending.id == p.Header.MessageID() && t.pending.from == from && !t.pending.open && !t.pending.failed
	t.missedAck()
	again := t.repeats.See(m, from, message.End(m))
	if again && acked && from == pd.Source {
		t.result.CRCErrors.UnheardSource++
	}
	t.pending = pending{open: true, kind: p.Type(), id: p.Header.MessageID(), from: from, end: end}
	if m.Status == captures.Unacknowledged {
		t.sides[from].reported++
		t.pending.open, t.pending.failed = false, true
	}
	t.traffic = end
	if again {
		if p.Type() != pd.SourceCapabilities { // an offer that nobody hears is told by its attempt
			t.sides[from].again++
		}
		t.repeated(p, at, end)
		return
	}
	if t.stage == forReady && from == pd.Sink {
		t.attempt.Interrupted = true
	}
	before := t.counters[from]
	t.counted(p, from, asked, at)
	t.take(p, from, asked, swapping, at, end)
	if t.stage == forAnswer && from == pd.Sink {
		t.attempt.SaidBefore = before.known && before.id == p.Header.MessageID()
	}
}

// missedAck counts the last message where no GoodCRC followed it.
func (t *Tracker) missedAck() {
	if t.pending.open {
		t.sides[t.pending.from].without++
	}
	t.pending = pending{}
}

// repeated takes a message that is only said again: what waits for its answer
// waits from here.
func (t *Tracker) repeated(p pd.Message, at, end stamp) {
	if t.wait.of != 0 && t.wait.of == p.Type() {
		t.wait.from, t.wait.slack = end, t.limits.ackS
	}
	if t.stage == forAnswer && (p.Type() == pd.Request || p.Type() == pd.EPRRequest) {
		t.attempt.again++
		t.attempt.Heard = Unacknowledged // nobody repeats what was acknowledged
	}
	if t.stage == forReady && p.Type() == pd.Accept {
		t.attempt.AnswerHeard = Unacknowledged
	}
	if t.stage == settled && t.contract.open && p.Type() == pd.PSRDY {
		t.contract.Unheard = true
	}
	if t.stage == forSoftAccept && p.Type() == pd.SoftReset {
		t.attempt.again++
	}
	if p.Type() != pd.SourceCapabilities || t.stage != forRequest {
		return
	}
	if !t.attempt.heard {
		t.attempt.unheard = true // nobody repeats what was acknowledged
	}
	if at.s-t.attempt.offerS > t.limits.soonestRepeatS/2 {
		t.offered(at, end)
	}
}

// take moves the negotiation on by one message.
func (t *Tracker) take(p pd.Message, from pd.PowerRole, asked pd.MessageType, swapping bool, at, end stamp) {
	switch p.Type() {
	case pd.SourceCapabilities, pd.EPRSourceCapabilities:
		t.capabilities(p, from, asked, at, end)
	case pd.Request, pd.EPRRequest:
		t.request(p, at, end)
	case pd.Accept:
		t.accept(asked, at, end)
	case pd.Reject, pd.Wait:
		t.refuse(p.Type(), at, end)
	case pd.PSRDY:
		t.powerReady(from, swapping, at, end)
	case pd.SoftReset:
		t.softReset(from, at, end)
	case pd.EPRMode:
		t.eprMode(p, at, end)
	case pd.Alert:
		if p.NumObjects() > 0 {
			t.says(from).alert(pd.ADO(p.Object(0)).Fields())
		}
	case pd.Status:
		if s, ok := pd.ParseSDB(p.Block()); ok {
			t.says(from).status(s)
		}
	case pd.SinkCapabilities:
		if from == pd.Sink {
			t.result.SinkMV = highest(p)
		}
	}
}

// begins settles, at the first message on SOP, whether the recording begins
// inside a connection: an offer with MessageID 0 is how one begins.
func (t *Tracker) begins(p pd.Message) {
	if t.decided {
		return
	}
	t.decided = true
	start := p.Type() == pd.SourceCapabilities && p.Header.MessageID() == 0
	t.result.BeginsInside = !start
}

// keptAlive notes a programmable or EPR contract that went without traffic for
// longer than its keep-alive allows.
func (t *Tracker) keptAlive(at stamp) {
	if !t.contract.open || t.stage != settled {
		return
	}
	var l limit
	switch {
	case t.contract.deal.Kind == pd.KindPPS:
		l = t.limits.request
	case t.epr:
		l = t.limits.keepAlive
	default:
		return
	}
	due := t.traffic.s + l.s
	if at.s-due > spread(t.traffic, at)+t.slack() {
		t.missed.add(Moment{due})
	}
}

// slack is by how much two stamps may be off together through the coarseness
// of the recorder.
func (t *Tracker) slack() float64 { return 2 * t.clock.resolution() }
