package line

import (
	"math"
	"time"

	"portside/pd"
)

const (
	// glitch is the longest pulse that is taken for chatter of one edge, or for
	// a spike, in ns: twice the chatter of an edge of 0.7 us under the noise
	// allowed (USB PD R3.2 V1.1, table 5.19), a fifth of the shortest pulse of
	// a frame.
	glitch = 300
	// smear is the longest run of such pulses that is one edge.
	smear = 800
	// unknownIsGap is how long a level may be unknown within an edge, in ns.
	unknownIsGap = 1000
	// maxEdges are kept of one stretch of traffic: the longest message has
	// 2769 bits, at most two edges each, and spikes.
	maxEdges = 16 << 10
	// resetPreamble is how many good bits of preamble make a reset credible.
	resetPreamble = pd.PreambleBits / 2
	// reportPreamble is the same for a packet that is broken.
	reportPreamble = 16
	// reportNoSet is the same for one whose ordered set is not known.
	reportNoSet = pd.PreambleBits / 2
)

// idleNs is how long without edges ends a stretch of traffic, in ns: the
// longest window in which the standard looks for edges.
func idleNs() int64 {
	d, _ := pd.TTransitionWindow.Limits(pd.Revision32).MaxDuration()
	return int64(d)
}

// receiver finds the frames among the edges of one signal.
type receiver struct {
	signal   int
	emit     func(*Frame)
	pictures bool // keep the bits of each frame
	rest     *restLevel
	idle     int64 // ns without edges that end a stretch of traffic

	edges    []int64 // of the stretch of traffic at hand, in ns
	plateaus []plateau
	rises    bool // edges[0] rises

	pending cluster

	quick, thorough reading
	sequencer       sequencer

	count    int    // edges so far
	held     *Frame // broken, and not given yet: a preamble inside it may cut it short
	heldEnd  int64
	carriers int  // stretches of BIST carrier
	carried  span // the last of them
}

// span is a stretch of time in ns.
type span struct{ from, to int64 }

// cluster is one edge that may still turn out to be several.
type cluster struct {
	first, last int64
	count       int
	rises       bool
	before      plateau
}

// plateau is the level between two edges, as far as it was recorded in volts.
type plateau struct{ volts float32 }

// reading is one way to read a frame.
type reading struct {
	parser *parser
	steps  []step
	clock  clock // at the end of it
	outcome
}

func newReceiver(signal int, emit func(*Frame)) *receiver {
	return &receiver{
		signal: signal, emit: emit, idle: idleNs(),
		edges:    make([]int64, 0, maxEdges),
		quick:    reading{parser: newParser()},
		thorough: reading{parser: newParser()},
	}
}

// edge takes the next change of level; before is the level left behind.
func (r *receiver) edge(at int64, rises bool, before plateau) {
	c := &r.pending
	if c.count > 0 && at-c.last < glitch && at-c.first < smear {
		c.last = at
		c.count++
		return
	}
	r.flush()
	*c = cluster{first: at, last: at, count: 1, rises: rises, before: before}
}

// flush settles the pending edge: an even number of changes is a spike, an
// odd one an edge in their middle.
func (r *receiver) flush() {
	c := &r.pending
	if c.count%2 == 1 {
		r.add((c.first+c.last)/2, c.rises, c.before)
	}
	c.count = 0
}

func (r *receiver) add(at int64, rises bool, before plateau) {
	r.count++
	n := len(r.edges)
	switch {
	case n > 0 && at-r.edges[n-1] >= r.idle:
		r.close(at)
	case n == maxEdges:
		r.process(false, at)
	}
	if len(r.edges) == 0 {
		r.rises = rises
	}
	r.edges = append(r.edges, at)
	r.plateaus = append(r.plateaus, before)
}

// tick says that time went on to at, and nothing changed since.
func (r *receiver) tick(at int64) {
	if r.pending.count > 0 && at-r.pending.last >= glitch {
		r.flush()
	}
	if n := len(r.edges); n > 0 && at-r.edges[n-1] >= r.idle {
		r.close(at)
	}
}

// cut says that the recording ends at, or is broken off.
func (r *receiver) cut(at int64) {
	r.flush()
	r.close(at)
}

// settled is the time up to which every frame was given.
func (r *receiver) settled(now int64) int64 {
	switch {
	case r.held != nil:
		return int64(r.held.Start)
	case len(r.edges) > 0:
		return r.edges[0]
	case r.pending.count > 0:
		return r.pending.first
	}
	return now
}

// close reads what is left of a stretch of traffic; the line is known up to until.
func (r *receiver) close(until int64) {
	r.process(true, until)
	r.edges = r.edges[:0]
	r.plateaus = r.plateaus[:0]
}

// process looks for frames among the edges at hand; the line is known up to
// until. Unless the stretch is closed it keeps a frame that is not over.
func (r *receiver) process(closed bool, until int64) {
	from := 0
	for {
		l, ok := findPreamble(r.edges, from, r.rises)
		if !ok {
			from = max(from, len(r.edges)-lockEdges-periodEdges)
			break
		}
		next, over := r.frame(l, closed || l.edge == 0, until)
		if !over {
			from = l.edge
			break
		}
		from = next
	}
	if closed {
		r.release()
		return
	}
	r.drop(from)
}

// drop forgets the first edges.
func (r *receiver) drop(n int) {
	if n%2 == 1 {
		r.rises = !r.rises
	}
	r.edges = r.edges[:copy(r.edges, r.edges[n:])]
	r.plateaus = r.plateaus[:copy(r.plateaus, r.plateaus[n:])]
}

// frame reads one frame from its preamble on. It says where to look for the
// next, or that this one is not over.
func (r *receiver) frame(l lock, final bool, until int64) (next int, over bool) {
	best := &r.quick
	best.steps, best.clock, best.outcome = follow(r.edges, l, best.parser, best.steps[:0])
	if best.parser.carrier {
		return r.carrier(l, best), true
	}
	if best.reason != Whole {
		if best.end == len(r.edges) && !final {
			return 0, false
		}
		best.lateSet()
	}
	if best.reason != Whole {
		t := &r.thorough
		t.parser.reset()
		t.steps, t.clock, t.outcome = r.sequencer.read(r.edges, l, t.parser, t.steps[:0])
		if t.end >= len(r.edges) && !final {
			return 0, false
		}
		t.lateSet()
		if t.better(best) {
			best = t
		}
	}
	if best.reason == Whole && best.parser.set.IsReset() {
		if !final && r.edges[len(r.edges)-1] < r.edges[best.end]+r.idle {
			return 0, false
		}
		best.reason = r.resetReason(best, until)
	}
	f := r.describe(l, best)
	if best.reason == Whole {
		r.deliver(f, r.edges[l.edge], r.edges[best.end])
		return best.end, true
	}
	if best.credible() {
		if best.end >= len(r.edges)-1 && until < r.edges[len(r.edges)-1]+r.idle {
			f.Reason = RecordingEnds
		}
		r.deliver(f, r.edges[l.edge], int64(f.End))
	}
	return max(best.edgeOfSet(), l.edge+lockEdges-1), true
}

// lateSet looks once more for an ordered set with a wrong symbol, in a frame
// that ended before it was looked for: a reset ends right behind it.
func (a *reading) lateSet() {
	p := a.parser
	if p.setAt >= 0 || p.brokeAt < 0 {
		return
	}
	done, found := p.late()
	switch {
	case found && done:
		a.reason = p.reason
		a.end = int(a.steps[a.stepOfBit(len(p.bits))].edge)
	case !found && len(p.bits) >= p.brokeAt+setBits-symbolBits:
		a.reason = NoOrderedSet
	}
}

// better reports whether the reading tells more than another one does.
func (a *reading) better(b *reading) bool {
	if (a.reason == Whole) != (b.reason == Whole) {
		return a.reason == Whole
	}
	return len(a.parser.bits) > len(b.parser.bits)
}

// credible reports whether a broken frame is worth telling: noise has no
// preamble and no ordered set.
func (a *reading) credible() bool {
	p := a.parser
	if p.set == 0 {
		return p.preamble() >= reportNoSet
	}
	return p.matches == allSymbols || p.preamble() >= reportPreamble
}

// edgeOfSet is the edge where the ordered set begins, or where the preamble
// ends without one.
func (a *reading) edgeOfSet() int {
	at := a.parser.setAt
	if at < 0 {
		at = a.parser.brokeAt
	}
	if at < 0 {
		return a.end
	}
	return int(a.steps[a.stepOfBit(at)].edge)
}

// stepOfBit is the step whose edge begins a bit, or the one before it where
// that edge was lost.
func (a *reading) stepOfBit(bit int) int {
	halves := 0
	for i, s := range a.steps {
		halves += int(s.halves)
		if halves == 2*bit {
			return i
		}
		if halves > 2*bit {
			return i - 1
		}
	}
	return len(a.steps) - 1
}

// resetReason tells whether a reset counts.
func (r *receiver) resetReason(a *reading, until int64) Reason {
	end := r.edges[a.end]
	after := 0
	for _, at := range r.edges[a.end+1:] {
		if at > end+r.idle {
			break
		}
		after++
	}
	busy := pd.NTransitionCount.Limits(pd.Revision32).Min.Value
	switch {
	case a.parser.preamble() < resetPreamble:
		return ShortPreamble
	case float64(after) >= busy:
		return NotQuiet
	case until < end+r.idle:
		return RecordingEnds
	}
	return Whole
}

// carrier passes over alternation without end.
func (r *receiver) carrier(l lock, a *reading) (next int) {
	most := int64(mostHalves * a.clock.half)
	next = a.end
	for next+1 < len(r.edges) && r.edges[next+1]-r.edges[next] < most {
		next++
	}
	from, to := r.edges[l.edge], r.edges[next]
	if r.carriers == 0 || from-r.carried.to >= r.idle {
		r.carriers++
	}
	r.carried = span{from, to}
	return next
}

// deliver gives a frame. A broken one waits for the next: where that one's
// preamble begins inside it, it ends there.
func (r *receiver) deliver(f *Frame, begin, end int64) {
	if r.held != nil && begin < r.heldEnd {
		if f.Set == 0 { // its data looked like a preamble
			return
		}
		r.held.cutAt(time.Duration(begin))
	}
	r.release()
	if f.Good {
		r.emit(f)
		return
	}
	r.held, r.heldEnd = f, end
}

func (r *receiver) release() {
	if r.held != nil {
		r.emit(r.held)
		r.held = nil
	}
}

// cutAt ends a broken frame where another one begins.
func (f *Frame) cutAt(at time.Duration) {
	const bitsPerByte = 2 * symbolBits
	f.Reason = CutShort
	f.End = at
	f.HasCRC = false
	if f.Set == 0 || !(f.Measured.BitRateHz > 0) {
		return
	}
	bits := (at-f.Start).Seconds()*f.Measured.BitRateHz - pd.PreambleBits - setBits
	whole := max(0, int(math.Round(bits))) / bitsPerByte
	f.Bytes = f.Bytes[:min(len(f.Bytes), whole)]
}
