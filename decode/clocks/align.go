package clocks

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

// Alignment is how the meter's clock lies to the messages'.
type Alignment struct {
	Determined  bool
	OffsetS     float64 // to be added to the meter's times, at MiddleS
	Uncertainty float64 // standard uncertainty of it, seconds
	MiddleS     float64 // on the meter's clock: the middle of what was matched
	RatePPM     float64 // how much faster the messages' clock runs; 0 where it is not known
	RateU       float64 // standard uncertainty of it, 0 without one
	Matched     []Match
	Reason      string // why it is not determined

	// ByCurrent says that VBUS told nothing and the draw against PS_RDY did: coarse, and sure
	// only of a sink that keeps to its contract.
	ByCurrent bool

	// Certain is a match good enough to blame a source by: two or more steps of the meter,
	// without a contradiction and with no room for another.
	Certain bool

	sure   sure
	rivals []trial // that left it open
}

// Match is one step seen by both recorders.
type Match struct {
	MeterS, MessagesS float64 // middles of what each says of it
	What              string
}

// At turns a time of the meter into one of the messages' clock, to the
// microsecond: no recorder has more digits.
func (a Alignment) At(t float64) float64 {
	return math.Round((t+a.OffsetS+a.RatePPM*1e-6*(t-a.MiddleS))*1e6) / 1e6
}

const (
	crystalRate  = 100e-6  // two crystals: 20 to 50 ppm each, common practice
	ceramicRate  = 1000e-6 // a resonator or an RC clock: more than a minute a day, common practice
	sameVolts    = 0.05    // share by which a contract and its level may differ: vSrcNew, USB PD R3.2 V1.1 table 7.23
	softestStep  = 1e-3    // seconds; no two recorders agree better
	rateMatches  = 3       // a rate needs three events
	rateSigmas   = 4.0     // and stand clear of nothing, or be known to
	lineSigmas   = 2.0     // of itself by which a line may pass a pair by
	knownRate    = 25e-6   // which says more than that both clocks are crystals does: 100 ppm at most, half of which is 2 of this
	lookShare    = 0.1     // of a look: many steps tell the time no better, since what a row shows of one depends on the meter. Common practice
	seenLooks    = 3.0     // looks of the meter that a state lasts to be surely seen
	likelyShare  = 0.65    // of the surely possible uncertainty that stays where sources keep their times
	candidates   = 64      // offsets looked at closely
	clearMargin  = 1.0     // points by which the best offset must beat any other
	contradicted = 0.5     // points that a step costs which the other recorder should have seen
)

// Of aligns a meter log with a message list.
func Of(d *draw.Result, n *negotiation.Result) Alignment {
	if n.FirstS == nil {
		return Alignment{Reason: "the message list holds no message"}
	}
	meter := Recorder{MeterSteps(d), Span{d.Sampling.StartS, d.Sampling.EndS}, d.Sampling.IntervalS}
	messages := Recorder{MessageSteps(n), Span{*n.FirstS, *n.LastS}, 0}
	a := Align(meter, messages)
	if !a.Determined && (len(meter.Steps) == 0 || len(messages.Steps) == 0) {
		if by, ok := ofCurrent(d, n); ok {
			return by
		}
	}
	a.sure.widen(n.ResolutionS)
	if n.Software {
		a.sure.widen(softwareS)
	}
	// What VBUS does in a role swap is not among the steps.
	a.Certain = a.Certain && !slices.ContainsFunc(n.Contracts, func(c negotiation.Contract) bool { return c.EndedBy == "role-swap" })
	return a
}

// OfMeters aligns a meter log with another, whose clock takes the place of the
// messages'.
func OfMeters(d, reference *draw.Result) Alignment {
	of := func(r *draw.Result) Recorder {
		return Recorder{MeterSteps(r), Span{r.Sampling.StartS, r.Sampling.EndS}, r.Sampling.IntervalS}
	}
	a := Align(of(d), of(reference))
	if a.Reason == noMessageStep {
		a.Reason = "the other meter log shows no voltage step"
	}
	return a
}

const noMessageStep = "the messages announce no voltage step"

// Recorder is what one of the two saw, on its own clock.
type Recorder struct {
	Steps     []Step
	Span      Span    // what its recording covers
	IntervalS float64 // between its looks, 0 unknown; a state that lasts less may be missed
}

// Align matches the steps of a meter with those of a message list.
func Align(meter, messages Recorder) Alignment {
	if len(meter.Steps) == 0 {
		return Alignment{Reason: "the meter log shows no voltage step"}
	}
	if len(messages.Steps) == 0 {
		return Alignment{Reason: noMessageStep}
	}
	var best Alignment
	most := 0
	for i, rate := range []float64{0, crystalRate, ceramicRate} {
		s := search{
			meter: meter.Steps, messages: messages.Steps, meterSpan: meter.Span, messageSpan: messages.Span,
			lasting: lasting(messages.Steps, seenLooks*meter.IntervalS), leastS: seenLooks * meter.IntervalS, rate: rate,
		}
		a, matched := s.align()
		// a looser clock must earn its freedom
		if i == 0 || a.Determined && (matched >= most+2 || !best.Determined && s.splits(best.rivals)) {
			best = a
		}
		most = max(most, matched)
	}
	return best
}

// lasting tells of each step whether the states around it last long enough to
// be seen.
func lasting(steps []Step, leastS float64) []bool {
	out := make([]bool, len(steps))
	for j, s := range steps {
		before := j == 0 || s.Start.Lo-steps[j-1].End.Hi > leastS
		after := j == len(steps)-1 || steps[j+1].Start.Lo-s.End.Hi > leastS
		out[j] = before && after
	}
	return out
}

type search struct {
	meter, messages        []Step
	meterSpan, messageSpan Span
	lasting                []bool  // of each step of the messages
	leastS                 float64 // a state that lasts longer is seen by the meter
	rate                   float64 // most that the clocks drift apart, seconds a second
}

// window is a range of offsets at which one pair of steps is the same event.
type window struct {
	lo, hi float64
	i, j   int // in meter and messages
}

// trial is one offset with what it explains.
type trial struct {
	lo, hi float64
	pairs  []window
	score  float64
	spared float64 // the score where a stretch of the messages was lost: what the meter saw in it speaks once
	steps  int     // of the meter that are in pairs; one may hold two of the messages
	missed int     // steps that the other recorder should have seen and did not
}

// align finds the offset, and how many steps the best one matches.
func (s *search) align() (Alignment, int) {
	trials := s.trials(s.windows())
	if len(trials) == 0 {
		return Alignment{Reason: "no voltage step of the meter fits a message"}, 0
	}
	best := trials[0]
	n := best.steps
	margin := clearMargin
	if s.shoved(best) || n == 2 && len(s.meter) > n { // which is any start
		margin += clearMargin
	}
	for _, t := range trials[1:] {
		apart := t.lo > best.hi+softestStep || t.hi < best.lo-softestStep
		if apart && !s.subset(t, best) && !s.drifted(t, best) && t.rivals(best, margin) {
			reason := fmt.Sprintf("the steps fit at %+.3f s and at %+.3f s alike", (best.lo+best.hi)/2, (t.lo+t.hi)/2)
			return Alignment{Reason: reason, rivals: []trial{best, t}}, n
		}
	}
	fewer := min(len(s.meter), len(s.messages))
	switch {
	case n == 1 && (len(s.meter) > 1 || len(s.messages) > len(best.pairs)):
		return Alignment{Reason: "one step that fits may be chance, where others do not"}, n
	case len(best.pairs) == 1 && s.beginsDown(best):
		return Alignment{Reason: "one step that fits may be the end of a dip, where the meter log begins right before it"}, n
	case n == 2 && len(s.meter) > n && len(s.messages) > len(best.pairs):
		return Alignment{Reason: "two steps that fit may be chance, where both recordings have others"}, n
	case n == 2 && len(s.meter) > n && s.goesOn(best):
		return Alignment{Reason: "two steps that fit may be another start, where the meter log has others and the messages go on beyond it"}, n
	case 2*n <= fewer:
		return Alignment{Reason: "most steps of one side are missing on the other"}, n
	}
	a := s.fit(best)
	a.Certain = a.Determined && !math.IsInf(a.sure.offsets.Lo, 0) && !math.IsInf(a.sure.offsets.Hi, 0) && s.certain(best)
	return a, n
}

// goesOnS is how long a message list lasts beyond a meter log at least that was not
// recorded along with it: hands on two recorders are nearer, common practice.
const goesOnS = 3.0

// goesOn reports messages beyond what the meter covers.
func (s *search) goesOn(t trial) bool {
	return s.messageSpan.Hi-(s.meterSpan.Hi+t.lo) > goesOnS
}

// beginsDown reports a rise from 0 V that the meter log begins with sooner than a source
// comes back by itself: what was before may be no attach.
func (s *search) beginsDown(t trial) bool {
	first := s.meter[t.pairs[0].i]
	down := first.Start.Lo - s.meterSpan.Lo
	return first.FromV <= pd.SafeWindow0V().Max && down < pd.TSrcRecoverSPR.Limits(pd.Revision32).MaxSI()
}

// shoved reports recordings pushed past one another, so that the meter log begins with
// steps before the messages and these go on beyond it: who records one plug-in with both
// begins and ends them about together.
func (s *search) shoved(t trial) bool {
	return s.goesOn(t) && s.meter[0].End.Hi+t.hi < s.messageSpan.Lo
}

// rivals reports a trial that may be the truth although best has more points:
// none or one is what a single false step makes.
func (t trial) rivals(best trial, margin float64) bool {
	fewer := best.score - t.spared
	return fewer < margin || fewer == margin && t.steps >= best.steps-1
}

// certain reports a match that leaves no room for another: at least two steps of the
// meter, in the order of the messages, no contradiction, and of one recorder every
// step. Where both saw more, in parts that the other does not cover, what fits may be
// another part. Both levels of each step must be those of the messages.
func (s *search) certain(t trial) bool {
	from, to := map[int]bool{}, map[int]bool{}
	for _, p := range t.pairs {
		m, g := s.meter[p.i], s.messages[p.j]
		if m.fleeting {
			return false
		}
		from[p.i] = from[p.i] || g.FromV != g.FromV || same(m.FromV, g.FromV)
		to[p.i] = to[p.i] || same(m.ToV, g.ToV)
	}
	for _, p := range t.pairs {
		if !from[p.i] || !to[p.i] {
			return false
		}
	}
	matched := make([]int, 0, len(t.pairs))
	ofMessages := map[int]bool{}
	pairs := slices.SortedFunc(slices.Values(t.pairs), func(a, b window) int {
		return cmp.Compare(s.messages[a.j].Start.middle(), s.messages[b.j].Start.middle())
	})
	for _, p := range pairs {
		if len(matched) == 0 || matched[len(matched)-1] != p.i {
			matched = append(matched, p.i)
		}
		ofMessages[p.j] = true
	}
	unseen := 0
	for j := range s.messages {
		if s.lasting[j] && !ofMessages[j] {
			unseen++
		}
	}
	return t.missed == 0 && len(matched) > 1 && slices.IsSorted(matched) && (len(matched) == len(s.meter) || unseen == 0)
}

// subset reports a trial near best that merely explains part of it.
func (s *search) subset(t, best trial) bool {
	return len(t.pairs) < len(best.pairs) && !slices.ContainsFunc(t.pairs, func(w window) bool {
		return !slices.ContainsFunc(best.pairs, func(b window) bool { return b.i == w.i && b.j == w.j })
	})
}

// drifted reports a trial that best agrees with, seen at another time of clocks that run
// apart: no step is another one's in it.
func (s *search) drifted(t, best trial) bool {
	if math.Abs(t.lo+t.hi-best.lo-best.hi)/2 > s.rate*(s.meterSpan.Hi-s.meterSpan.Lo) {
		return false
	}
	ofMeter, ofMessages := map[int][]int{}, map[int]int{}
	for _, b := range best.pairs {
		ofMeter[b.i], ofMessages[b.j] = append(ofMeter[b.i], b.j), b.i
	}
	return !slices.ContainsFunc(t.pairs, func(w window) bool {
		i, known := ofMessages[w.j]
		if known {
			return i != w.i
		}
		return len(ofMeter[w.i]) > 0
	})
}

// splits reports rivals that are the two ends of what one clock of this search explains.
func (s *search) splits(rivals []trial) bool {
	return len(rivals) == 2 && s.drifted(rivals[1], rivals[0])
}

func (s *search) windows() []window {
	var out []window
	for i, m := range s.meter {
		for j, p := range s.messages {
			if !contains(m, p) || s.passesOver(m, j) {
				continue
			}
			lo, hi := offsets(m, p)
			slack := s.rate * math.Abs(m.Start.middle()-s.meterSpan.middle())
			if lo <= hi {
				out = append(out, window{lo: lo - slack, hi: hi + slack, i: i, j: j})
			}
		}
	}
	return out
}

// contains reports that the meter's step may be or hold the other: a slow meter
// sees one step from 0 V to 20 V where two were made.
func contains(m, p Step) bool {
	if p.FromV != p.FromV {
		return same(m.ToV, p.ToV) && (p.ToV > 0 || m.FromV > m.ToV)
	}
	if p.ToV < p.FromV {
		return same(m.ToV, p.ToV) && same(m.FromV, p.FromV)
	}
	return m.ToV > m.FromV &&
		(m.FromV <= p.FromV || same(m.FromV, p.FromV)) && (m.ToV >= p.ToV || same(m.ToV, p.ToV))
}

// passesOver reports a step of the meter that goes on beyond the j-th of the messages
// although VBUS stood there long enough to be seen.
func (s *search) passesOver(m Step, j int) bool {
	if s.leastS == 0 { // how often the meter looks is not known
		return false
	}
	p := s.messages[j]
	before, after := math.Inf(1), s.messageSpan.Hi
	if j > 0 {
		before = s.messages[j-1].End.Hi
	}
	if j+1 < len(s.messages) {
		after = s.messages[j+1].Start.Lo
	}
	stood := p.Start.Lo-before > s.leastS
	return !same(m.ToV, p.ToV) && after-p.End.Hi > s.leastS || p.FromV == p.FromV && !same(m.FromV, p.FromV) && stood
}

// offsets are those at which the meter's step holds the other: that did not
// begin before it, nor end after it, and at the same time where the voltages
// are the same.
func offsets(m, p Step) (lo, hi float64) {
	lo, hi = p.End.Lo-m.End.Hi, p.Start.Hi-m.Start.Lo
	if p.FromV != p.FromV && !risesTwice(m, p) || same(m.FromV, p.FromV) {
		lo = max(lo, p.Start.Lo-m.Start.Hi)
	}
	if same(m.ToV, p.ToV) {
		hi = min(hi, p.End.Hi-m.End.Lo)
	}
	return lo, hi
}

// risesTwice reports a step of the meter from no voltage to a contract: VBUS stood at 5 V
// on the way, so that the contract's step began later.
func risesTwice(m, p Step) bool {
	return p.ToV > 0 && m.FromV <= pd.SafeWindow0V().Max
}

func same(a, b float64) bool {
	if a == supply5V || b == supply5V {
		return math.Abs(a-b) <= pd.SafeWindow5V().Max-supply5V+sameVolts
	}
	return math.Abs(a-b) <= sameVolts*max(a, b)
}

// trials are the offsets at which most windows overlap, the best first.
func (s *search) trials(all []window) []trial {
	type end struct {
		at   float64
		open bool
	}
	ends := make([]end, 0, 2*len(all))
	for _, w := range all {
		ends = append(ends, end{w.lo, true}, end{w.hi, false})
	}
	slices.SortFunc(ends, func(a, b end) int {
		if c := cmp.Compare(a.at, b.at); c != 0 {
			return c
		}
		if a.open == b.open {
			return 0
		}
		if a.open {
			return -1
		}
		return 1
	})
	type peak struct{ lo, hi, depth float64 }
	var peaks []peak
	depth := 0.0
	for k, e := range ends {
		if e.open {
			depth++
			continue
		}
		if ends[k-1].open {
			peaks = append(peaks, peak{ends[k-1].at, e.at, depth})
		}
		depth--
	}
	slices.SortStableFunc(peaks, func(a, b peak) int { return cmp.Compare(b.depth, a.depth) })
	var out []trial
	for _, p := range peaks[:min(len(peaks), candidates)] {
		out = append(out, s.trial((p.lo+p.hi)/2, all))
	}
	slices.SortStableFunc(out, func(a, b trial) int { return cmp.Compare(b.score, a.score) })
	return out
}

// trial matches the steps at one offset, each once, and counts what the other
// recorder should have seen and did not.
func (s *search) trial(offset float64, all []window) trial {
	t := trial{lo: math.Inf(-1), hi: math.Inf(1)}
	usedI, usedJ := make([]bool, len(s.meter)), make([]bool, len(s.messages))
	seenI := make([]bool, len(s.meter)) // by a step it contains, and open to another
	passed := passage{}
	for _, w := range all {
		if offset < w.lo || offset > w.hi || usedI[w.i] || usedJ[w.j] || !passed.admits(w.i, s.meter[w.i], s.messages[w.j]) {
			continue
		}
		usedI[w.i] = same(s.meter[w.i].ToV, s.messages[w.j].ToV) && same(s.meter[w.i].FromV, s.messages[w.j].FromV)
		if !seenI[w.i] {
			t.steps++
		}
		usedJ[w.j], seenI[w.i] = true, true
		t.pairs = append(t.pairs, w)
		t.lo, t.hi = max(t.lo, w.lo), min(t.hi, w.hi)
	}
	stretches, inside := 0, false
	for i, m := range s.meter {
		missed := !seenI[i] && m.Start.Lo+offset > s.messageSpan.Lo && m.End.Hi+offset < s.messageSpan.Hi
		if missed {
			t.missed++
			if !inside {
				stretches++
			}
		}
		inside = missed
	}
	spared := t.missed - stretches
	for j, p := range s.messages {
		if !usedJ[j] && s.lasting[j] && p.moves() && p.Start.Lo-offset > s.meterSpan.Lo && p.End.Hi-offset < s.meterSpan.Hi {
			t.missed++
		}
	}
	t.score = float64(len(t.pairs)) - contradicted*float64(t.missed)
	t.spared = t.score + contradicted*float64(spared)
	return t
}

// passage keeps matched steps in the order of time: the meter's follow one another, so
// that a later one is none that the messages have surely before an earlier one's. And one
// step of the meter holds two only where VBUS stood between them no longer than between its
// rows.
type passage struct {
	at            int     // the meter's step that is matched
	before, inAll float64 // the latest start of what was matched before it, and so far
	done          float64 // when what was matched last with it was over
	begun         bool
}

func (p *passage) admits(i int, m, of Step) bool {
	if !p.begun {
		*p = passage{at: i, before: math.Inf(-1), inAll: math.Inf(-1), done: math.Inf(1), begun: true}
	}
	if i != p.at {
		p.at, p.before, p.done = i, p.inAll, math.Inf(1)
	}
	stood := of.Start.Lo - p.done // before it, where the meter saw one step
	if of.End.Hi < p.before || m.within > 0 && stood > m.within {
		return false
	}
	p.inAll, p.done = max(p.inAll, of.Start.Lo), of.End.Hi
	return true
}

// fit turns matched windows into an offset, and a rate where it is known.
func (s *search) fit(t trial) Alignment {
	a := Alignment{Determined: true}
	var x, y, w []float64
	for _, p := range t.pairs {
		m, g := s.meter[p.i], s.messages[p.j]
		at := m.Start.middle()
		lo, hi := offsets(m, g)
		u := max(softestStep, (hi-lo)/math.Sqrt(12))
		x, y, w = append(x, at), append(y, (lo+hi)/2), append(w, 1/(u*u))
		a.Matched = append(a.Matched, Match{MeterS: at, MessagesS: g.Start.middle(), What: g.What})
	}
	a.MiddleS = (x[0] + x[len(x)-1]) / 2
	line := fitLine(x, y, w, a.MiddleS)
	past, runs := s.through(line, a.MiddleS, t.pairs)
	runs = runs && len(x) >= rateMatches
	lo, hi := s.common(t.pairs, -1)
	alike := hi >= lo // one offset explains all
	known := line.slopeU <= knownRate
	if !alike && (!runs || !known && math.Abs(line.slope) <= rateSigmas*line.slopeU) {
		return Alignment{Reason: "the steps fit no clock that runs evenly"}
	}
	if alike {
		a.sure = newSure(x, s.possible(t.pairs))
		a.OffsetS, a.Uncertainty = s.offset(t.pairs)
	}
	drift := crystalRate * (x[len(x)-1] - x[0]) / 2
	if alike && drift <= a.Uncertainty {
		return a
	}
	if !runs {
		a.Uncertainty = math.Hypot(a.Uncertainty, drift/math.Sqrt(3))
		return a
	}
	a.OffsetS, a.Uncertainty = line.offset, max(line.offsetU, lookShare*s.leastS/seenLooks)
	even := s.tilted(line.slope, a.MiddleS)
	if lo, hi := even.common(t.pairs, -1); hi >= lo {
		a.OffsetS, a.Uncertainty = even.offset(t.pairs)
	}
	if !alike || known {
		a.RatePPM, a.RateU, a.sure = line.slope*1e6, line.slopeU*1e6, s.widest(x, t.pairs, past)
	}
	return a
}

// offset is the one of clocks that run alike, and its uncertainty.
func (s *search) offset(pairs []window) (offset, u float64) {
	lo, hi := s.common(pairs, -1)
	offset, u = (lo+hi)/2, max(softestStep, (hi-lo)/math.Sqrt(12))
	disturbed := s.influence(pairs, offset) // times that were kept do not mend a false event
	if from, to := s.likely(pairs, lo, hi); to >= from {
		offset, u = (from+to)/2, max(likelyShare*u, (to-from)/math.Sqrt(12))
	}
	return offset, max(u, disturbed, s.narrowest(pairs)/math.Sqrt(12), lookShare*s.leastS/seenLooks)
}

// tilted has the meter's clock run as fast as the messages', about a time.
func (s *search) tilted(slope, middle float64) *search {
	out := *s
	out.meter = slices.Clone(s.meter)
	for i := range out.meter {
		m := &out.meter[i]
		by := slope * (m.Start.middle() - middle)
		for _, span := range []*Span{&m.Start, &m.End} {
			span.Lo, span.Hi = span.Lo+by, span.Hi+by
		}
	}
	return &out
}

// widest is what clocks leave possible that run apart, by a line that is off the worst
// pair by so much.
func (s *search) widest(x []float64, pairs []window, past float64) sure {
	out := newSure(x, Span{})
	meter, messages := surely(s.meter), surely(s.messages)
	for _, p := range pairs {
		lo, hi := offsets(meter[p.i], messages[p.j])
		out.width = max(out.width, hi-lo+2*softestStep+past)
	}
	return out
}

// common are the offsets that all pairs allow but the one left out.
func (s *search) common(pairs []window, without int) (lo, hi float64) {
	lo, hi = math.Inf(-1), math.Inf(1)
	for k, p := range pairs {
		if k != without {
			from, to := offsets(s.meter[p.i], s.messages[p.j])
			lo, hi = max(lo, from), min(hi, to)
		}
	}
	return lo, hi
}

// possible are the offsets that all pairs allow, whichever one of three or more is
// left out as false.
func (s *search) possible(pairs []window) Span {
	sure := *s
	sure.meter, sure.messages = surely(s.meter), surely(s.messages)
	var out Span
	out.Lo, out.Hi = sure.common(pairs, -1)
	for k := range pairs {
		if len(pairs) < 3 {
			break
		}
		lo, hi := sure.common(pairs, k)
		out.Lo, out.Hi = min(out.Lo, lo), max(out.Hi, hi)
	}
	return out
}

// surely are the steps with all the room that they may have.
func surely(steps []Step) []Step {
	out := slices.Clone(steps)
	for i := range out {
		p := &out[i]
		p.Start, p.End = cmp.Or(p.surelyStart, p.Start), cmp.Or(p.surelyEnd, p.End)
	}
	return out
}

// likely are those of the possible offsets at which every source kept its times.
func (s *search) likely(pairs []window, lo, hi float64) (from, to float64) {
	from, to = lo, hi
	for _, p := range pairs {
		m, g := s.meter[p.i], s.messages[p.j]
		if g.Likely == (Span{}) {
			continue
		}
		g.Start = g.Likely
		a, b := offsets(m, g)
		from, to = max(from, a), min(to, b)
	}
	return from, to
}

// narrowest is how narrow a range of offsets n pairs leave by chance at least: the
// n-th part of the narrowest pair's. Where less is left, one of them is disturbed.
func (s *search) narrowest(pairs []window) float64 {
	least := math.Inf(1)
	for _, p := range pairs {
		lo, hi := offsets(s.meter[p.i], s.messages[p.j])
		least = min(least, hi-lo)
	}
	return least / float64(len(pairs))
}

// influence is half of what the offset moves by when the most influential pair
// is left out: a single false event may be that pair.
func (s *search) influence(pairs []window, offset float64) float64 {
	if len(pairs) < 3 {
		return 0
	}
	most := 0.0
	for k := range pairs {
		lo, hi := s.common(pairs, k)
		most = max(most, math.Abs((lo+hi)/2-offset))
	}
	return most / 2
}

// through reports a line that every pair of steps allows, and by how much it is off the
// worst of them: of many pairs one lies at the edge of what it allows, and the line may
// pass it by as much as it is known.
func (s *search) through(l line, middle float64, pairs []window) (by float64, ok bool) {
	for _, p := range pairs {
		m := s.meter[p.i]
		lo, hi := offsets(m, s.messages[p.j])
		away := m.Start.middle() - middle
		at := l.offset + l.slope*away
		off := max(lo-at, at-hi, 0)
		if off > softestStep+lineSigmas*math.Hypot(l.offsetU, l.slopeU*away) {
			return 0, false
		}
		by = max(by, off)
	}
	return by, true
}

type line struct {
	slope, slopeU   float64
	offset, offsetU float64 // at the middle
}

// manyFree is how many points beside two show their own scatter.
const manyFree = 3

// fitLine fits y over x by weighted least squares about the middle. Where the
// points scatter more than their weights say, the uncertainties grow with them
// (Birge 1932), and shrink to [likelyShare] where many scatter less.
func fitLine(x, y, w []float64, middle float64) line {
	var sw, sx, sy, sxx, sxy float64
	for i := range x {
		d := x[i] - middle
		sw += w[i]
		sx += w[i] * d
		sy += w[i] * y[i]
		sxx += w[i] * d * d
		sxy += w[i] * d * y[i]
	}
	det := sw*sxx - sx*sx
	if det <= 0 {
		return line{slopeU: math.Inf(1)}
	}
	l := line{slope: (sw*sxy - sx*sy) / det, offset: (sxx*sy - sx*sxy) / det}
	chi := 0.0
	for i := range x {
		r := y[i] - l.offset - l.slope*(x[i]-middle)
		chi += w[i] * r * r
	}
	grow := 1.0
	if free := len(x) - 2; free > 0 {
		grow = max(1, math.Sqrt(chi/float64(free)))
		if free >= manyFree {
			grow = max(likelyShare, math.Sqrt(chi/float64(free)))
		}
	}
	l.slopeU, l.offsetU = math.Sqrt(sw/det)*grow, math.Sqrt(sxx/det)*grow
	return l
}
