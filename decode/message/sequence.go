package message

import (
	"cmp"
	"slices"
	"sort"
	"strings"
	"time"

	"portside/captures"
	"portside/pd"
)

// Sequence is a group of messages that belong together: a question with its
// answer, an offer with the contract it led to, a swap, a reset.
type Sequence struct {
	Name       string // in words, such as "power negotiation"
	Start, End time.Duration
	Messages   int    // GoodCRC not counted
	Tries      int    // how often the first message was sent, repeats included
	Outcome    string // what came of it, in words
	Complete   bool   // it came to its regular end, refusals included
}

// AppendJSON appends the sequence as one JSON object.
func (q *Sequence) AppendJSON(b []byte) []byte {
	w := newJSON(b)
	w.text("sequence", []byte(q.Name))
	w.seconds("start_s", q.Start)
	w.seconds("duration_s", q.End-q.Start)
	w.number("messages", q.Messages)
	w.number("tries", q.Tries)
	w.flag("complete", q.Complete)
	w.text("outcome", []byte(q.Outcome))
	w.close('}')
	return w.b
}

// Sequences groups the lines of one recording, in the order of time. It keeps
// a bounded number of open groups. The zero value is ready.
type Sequences struct {
	open     []group
	contract string     // the last request that was granted
	held     []Sequence // ended, while one that began earlier is open
	done     []Sequence
}

// openGroups is how many groups are followed at once; two nested ones on SOP
// and one to each plug are the most that the standard lets happen.
const openGroups = 6

// family is the form of a group: which messages take it on.
type family uint8

const (
	ofNegotiation family = iota
	ofProposal           // a message that is accepted, with PS_RDY to follow
	ofQuestion
	ofVDM
	ofEPREntry
	ofKeepAlive
	ofHardReset
)

// group is a sequence that is still open.
type group struct {
	Sequence
	family family
	set    pd.OrderedSet
	first  utterance
	last   utterance
	steps  []pd.MessageType // still to come
	words  string           // what was asked for, or answered
	wait   time.Duration    // after which it is given up
}

// How long a group waits for its next message. The longest timer inside one is
// tPSTransition of 1.02 s; a Hard Reset has tNoResponse of 5.5 s.
const (
	groupWait     = 2 * time.Second
	hardResetWait = 6 * time.Second
)

// mostHeld bounds the sequences that wait for one that began before them.
const mostHeld = 256

// Add takes the next line with its message and gives the sequences that ended
// with it or before it, in the order of their beginnings. The list holds until
// the next call.
func (s *Sequences) Add(l *Line, m *captures.Message) []Sequence {
	s.expire(l.At)
	switch {
	case m.Marker == captures.Attach || m.Marker == captures.Detach:
		s.finishAll("ended by " + m.Marker.String())
	case m.Marker != captures.NoMarker:
	case m.Set == pd.HardReset:
		s.hardReset(l)
	case m.Set == pd.CableReset:
		s.single(l, "cable reset", "")
	case !l.Header.Present || l.CRC == WrongCRC || m.Status == captures.Discarded:
	case l.Header.Type() == pd.GoodCRC:
		s.acknowledge(l, m.Set)
	default:
		s.take(heardIn(l, m), l)
	}
	return s.release()
}

// Close gives the sequences that the recording leaves open.
func (s *Sequences) Close() []Sequence {
	s.finishAll("the recording ends")
	return s.release()
}

// release gives what ended and began before everything that is still open.
func (s *Sequences) release() []Sequence {
	slices.SortStableFunc(s.held, func(a, b Sequence) int { return cmp.Compare(a.Start, b.Start) })
	n := len(s.held)
	for i := range s.open {
		first := s.open[i].Start
		n = min(n, sort.Search(len(s.held), func(k int) bool { return s.held[k].Start > first }))
	}
	n = max(n, len(s.held)-mostHeld)
	s.done = append(s.done[:0], s.held[:n]...)
	s.held = append(s.held[:0], s.held[n:]...)
	return s.done
}

func (s *Sequences) expire(now time.Duration) {
	for i := 0; i < len(s.open); {
		if g := &s.open[i]; now-g.End > g.wait {
			s.finish(i, g.missing(), false)
			continue
		}
		i++
	}
}

func (s *Sequences) finishAll(why string) {
	for len(s.open) > 0 {
		outcome := s.open[0].missing()
		if why != "" {
			outcome += "; " + why
		}
		s.finish(0, outcome, false)
	}
}

func (s *Sequences) finish(i int, outcome string, complete bool) {
	g := s.open[i]
	g.Outcome, g.Complete = outcome, complete
	s.held = append(s.held, g.Sequence)
	s.open = append(s.open[:i], s.open[i+1:]...)
}

// acknowledge lets the group of the acknowledged message last until here.
func (s *Sequences) acknowledge(l *Line, set pd.OrderedSet) {
	for i := len(s.open) - 1; i >= 0; i-- {
		if g := &s.open[i]; g.set == set && g.last.id == l.Header.Raw.MessageID() {
			g.End = l.End
			return
		}
	}
}

func (s *Sequences) hardReset(l *Line) {
	s.finishAll("ended by Hard_Reset")
	s.begin(group{Sequence: started("hard reset", l), family: ofHardReset, set: pd.SOP, wait: hardResetWait})
}

func started(name string, l *Line) Sequence {
	return Sequence{Name: name, Start: l.At, End: l.End, Messages: 1, Tries: 1}
}

// single is a sequence of one message.
func (s *Sequences) single(l *Line, name, outcome string) {
	one := started(name, l)
	one.Outcome, one.Complete = outcome, true
	s.held = append(s.held, one)
}

func (s *Sequences) begin(g group) {
	if len(s.open) == openGroups {
		s.finish(0, s.open[0].missing(), false)
	}
	s.open = append(s.open, g)
}

// take gives a message to the group that waits for it, the latest first, or
// begins another.
func (s *Sequences) take(u utterance, l *Line) {
	for i := len(s.open) - 1; i >= 0; i-- {
		g := &s.open[i]
		if g.set != u.set {
			continue
		}
		if l.Repeat && u.kind == g.last.kind && u.id == g.last.id {
			g.repeated(l)
			return
		}
		taken, outcome := g.advance(u, l)
		if !taken {
			continue
		}
		g.End, g.last = l.End, u
		g.Messages++
		if outcome == "" {
			return
		}
		if g.family == ofNegotiation && strings.HasPrefix(outcome, granted) {
			s.contract = g.words
		}
		s.finish(i, outcome, true)
		return
	}
	s.start(u, l)
}

func (g *group) repeated(l *Line) {
	g.End = l.End
	g.Messages++
	if g.last.kind == g.first.kind {
		g.Tries++
	}
}

// start begins the group that a message opens; what opens none stands alone.
func (s *Sequences) start(u utterance, l *Line) {
	g := group{Sequence: started("", l), set: u.set, first: u, last: u, wait: groupWait}
	switch {
	case u.kind == pd.SourceCapabilities || u.kind == pd.EPRSourceCapabilities || u.kind == pd.GetSourceCap || u.control == pd.EPRGetSourceCap:
		s.supersede()
		s.resumed(l)
		g.family, g.Name, g.steps = ofNegotiation, "power negotiation", []pd.MessageType{pd.Request, pd.Accept, pd.PSRDY}
		if u.kind == pd.EPRSourceCapabilities || u.control == pd.EPRGetSourceCap {
			g.Name = "EPR negotiation"
		}
	case u.kind == pd.Request || u.kind == pd.EPRRequest:
		s.supersede()
		g.family, g.Name, g.steps = ofNegotiation, s.requestName(u, l), []pd.MessageType{pd.Accept, pd.PSRDY}
		g.words = asked(l)
	case proposes(u.kind):
		g.family, g.Name, g.steps = ofProposal, u.kind.String(), proposalSteps(u.kind)
		if u.kind == pd.SoftReset {
			s.finishAll("ended by Soft_Reset")
			g.Name = "soft reset"
		}
	case asks(u.kind) || u.control == pd.EPRGetSinkCap:
		g.family, g.Name = ofQuestion, u.kind.String()
	case u.kind == pd.VendorDefined && u.vdm.Structured() && u.vdm.CommandType() == pd.REQ && u.vdm.Command() != pd.Attention:
		g.family, g.Name = ofVDM, vdmName(u)
	case u.epr == pd.EPREnter:
		g.family, g.Name = ofEPREntry, "EPR entry"
	case u.epr == pd.EPRExit:
		s.single(l, "EPR exit", "")
		return
	case u.control == pd.EPRKeepAlive:
		g.family, g.Name = ofKeepAlive, "EPR keep-alive"
	default:
		name, words, _ := strings.Cut(l.Text(), ": ")
		s.single(l, name, words)
		return
	}
	s.begin(g)
}

// supersede ends a negotiation that a new offer or request overtakes.
func (s *Sequences) supersede() {
	for i := len(s.open) - 1; i >= 0; i-- {
		if g := &s.open[i]; g.family == ofNegotiation {
			s.finish(i, g.missing(), false)
		}
	}
}

// resumed ends a hard reset with the offer after it.
func (s *Sequences) resumed(l *Line) {
	for i := range s.open {
		if s.open[i].family == ofHardReset {
			s.open[i].End = l.At
			s.finish(i, "the source offers again", true)
			return
		}
	}
}

// requestName tells a request that only keeps a programmable contract alive
// from one for something else.
func (s *Sequences) requestName(u utterance, l *Line) string {
	switch {
	case u.terms.kind == KindRequestPPS && asked(l) == s.contract:
		return "PPS keep-alive"
	case u.terms.kind == KindRequestPPS:
		return "PPS request"
	default:
		return "new request"
	}
}

// asked is what a request says, without its fate.
func asked(l *Line) string {
	_, words, _ := strings.Cut(l.Text(), ": ")
	words, _, _ = strings.Cut(words, " (")
	return words
}

func proposalSteps(t pd.MessageType) []pd.MessageType {
	switch t {
	case pd.PRSwap, pd.FRSwap:
		return []pd.MessageType{pd.Accept, pd.PSRDY, pd.PSRDY}
	case pd.VCONNSwap:
		return []pd.MessageType{pd.Accept, pd.PSRDY}
	case pd.DataReset:
		return []pd.MessageType{pd.Accept, pd.DataResetComplete}
	default:
		return []pd.MessageType{pd.Accept}
	}
}

func vdmName(u utterance) string {
	name := u.vdm.Command().String()
	if u.vdm.Command() != pd.DiscoverIdentity {
		return name
	}
	switch u.set {
	case pd.SOP:
		return "partner identity"
	case pd.SOPPrime:
		return "cable identity"
	default:
		return "identity on " + u.set.String()
	}
}
