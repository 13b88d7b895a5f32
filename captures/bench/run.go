package bench

import (
	"container/heap"
	"errors"
	"fmt"
	"math/rand/v2"

	"portside/captures"
)

// Run is one simulated plug-in: what the meter and the message recorder wrote,
// and what really happened. Times of Rows lie on the meter's clock, times of
// Messages on the recorder's.
type Run struct {
	Scenario Scenario
	Seed     uint64
	Rows     []captures.Sample
	Messages []captures.Message
	Energy   Energy

	frames []captures.Message // everything that CC carried, on the bench's clock
}

// Energy is where the energy of a run went, in joules.
type Energy struct {
	Source  float64 // given by the source
	Cable   float64 // lost in cable and meter
	Port    float64 // controller, input switch, leaks
	Charger float64 // lost in the charger circuit
	Rail    float64 // load and fault of the main rail
	Battery float64 // into the battery's terminals, charging loss included
	Stored  float64 // in the capacitors at the end
}

// Errors of a run.
var (
	ErrParameter = errors.New("parameter out of range")
	ErrSolver    = errors.New("the circuit could not be solved")
)

// seedStream parts this package's random numbers from those of other users of
// the same seed.
const seedStream = 0x62656e6368

// Simulate runs a scenario. The same scenario and seed give the same run. The
// error wraps [ErrParameter] or [ErrSolver].
func Simulate(s Scenario, seed uint64) (*Run, error) {
	b, err := newBench(s.Parameters, rand.New(rand.NewPCG(seed, seedStream)))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.Name, err)
	}
	if err := b.run(); err != nil {
		return nil, fmt.Errorf("%s: %w", s.Name, err)
	}
	b.energy.Stored = b.c.stored(&b.y)
	return &Run{
		Scenario: s, Seed: seed, Rows: b.meter.rows, Messages: b.line.recorded(&b.p), Energy: b.energy,
		frames: b.line.heard,
	}, nil
}

// bench is a run in progress. All times in it are seconds on the bench's own
// clock, which starts with the recording.
type bench struct {
	p         Parameters
	random    *rand.Rand
	c         circuit
	solver    solver
	y         state
	now       float64
	h         float64 // length of the next step
	tolerance float64 // 1, or less to check the solver
	events    eventQueue
	sequence  int
	watches   []*watch

	source *sourcePolicy
	sink   *sinkPolicy
	device *device
	cable  *cable
	line   *line
	meter  *meter

	energy  Energy
	observe func(t float64, y *state, f flows, h float64) // for tests; nil otherwise
}

func newBench(p Parameters, random *rand.Rand) (*bench, error) {
	if err := p.Check(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrParameter, err)
	}
	b := &bench{p: p, random: random, h: firstStepS, tolerance: 1}
	b.c = circuit{p: &b.p, parted: p.CableOpen}
	b.solver = solver{f: b.c.derivative, slopes: b.c.slopes}
	if p.RailShortAfterS == 0 {
		b.c.shortOhm = p.RailShortOhm
	}
	if p.BatteryConnected {
		b.y[nodeRail] = b.c.openCircuit(&b.y)
	}
	b.line = &line{b: b}
	b.source = newSourcePolicy(b)
	b.sink = newSinkPolicy(b)
	b.cable = newCable(b)
	b.device = &device{b: b}
	b.meter = newMeter(b)
	b.at(p.AttachS, b.attach)
	return b, nil
}

func (b *bench) attach() {
	b.c.attached = true
	b.source.attach()
	b.sink.awaitVBUS()
	if b.p.ReplugS > 0 {
		b.at(b.p.AttachS+b.p.ReplugS, b.unplug)
	}
	if b.p.ContactEveryS > 0 {
		b.wear()
	}
}

// unplug pulls the plug and puts it back.
func (b *bench) unplug() {
	b.c.attached = false
	b.source.detach()
	b.after(b.p.ReplugForS, func() {
		b.c.attached = true
		b.source.attach()
	})
}

// wear is a contact that opens now and then. Where CC opens with VBUS the
// source takes it for a detach.
func (b *bench) wear() {
	b.after(atLeast(b.p.ContactEveryS*b.random.ExpFloat64()), func() {
		b.c.parted = true
		if b.p.ContactWithCC {
			b.source.detach()
		}
		b.after(atLeast(b.p.ContactForMS/1000)*b.uniform(0.3, 1.7), func() {
			b.c.parted = false
			if b.p.ContactWithCC {
				b.source.attach()
			}
			b.wear()
		})
	})
}

// Steps that a run may take. A sound one takes some hundred a second; a circuit
// that oscillates would take millions.
const (
	spareSteps     = 500_000
	stepsPerSecond = 50_000
)

// Longest step: the search for what a guard watches must not be jumped over
// by a step in which it came and went.
const longestStepS = 0.05

func (b *bench) run() error {
	budget := spareSteps + int(b.p.DurationS*stepsPerSecond)
	for b.now < b.p.DurationS {
		if budget--; budget < 0 {
			return fmt.Errorf("%w: it oscillates at %g s", ErrSolver, b.now)
		}
		stop := b.p.DurationS
		if b.meter.endsSteps {
			stop = min(stop, b.meter.next)
		}
		if len(b.events) > 0 {
			stop = min(stop, b.events[0].at)
		}
		if stop > b.now {
			if err := b.advance(stop); err != nil {
				return err
			}
		}
		b.meter.read()
		for len(b.events) > 0 && b.events[0].at <= b.now {
			heap.Pop(&b.events).(*event).do()
			b.h = firstStepS
		}
	}
	return nil
}

// locateS is how closely the moment of a watched condition is found.
const locateS = 10e-6

// advance takes one accepted step that ends at stop at the latest.
func (b *bench) advance(stop float64) error {
	left := stop - b.now
	h := min(b.h, longestStepS, left)
	for {
		s := b.solver.try(b.now, &b.y, h, b.tolerance)
		if s.failed && h < minStepS {
			return fmt.Errorf("%w at %g s", ErrSolver, b.now)
		}
		if s.failed || s.err > 1 && h >= minStepS { // below, the error is a jump in time, such as the end of a soft start
			h /= 4
			continue
		}
		if h > locateS && b.anyWatch(&s.y) {
			h = max(h/4, locateS)
			continue
		}
		b.accept(&s)
		if s.h == left {
			b.now = stop
		}
		if next := nextLength(h, s.err); h < left || next > b.h {
			b.h = next
		}
		return b.fireWatches()
	}
}

// accept moves to the end of the step and integrates every flow over it with
// the step's own weights.
func (b *bench) accept(s *step) {
	f1, f2 := b.c.flows(s.t1, &s.y1), b.c.flows(s.t2, &s.y)
	w1, w2 := (1-sdirkGamma)*s.h, sdirkGamma*s.h
	b.account(&s.y1, &f1, w1)
	b.account(&s.y, &f2, w2)
	if b.meter.endsSteps {
		b.meter.add(&s.y1, &f1, w1)
		b.meter.add(&s.y, &f2, w2)
	} else {
		f0 := b.c.flows(b.now, &b.y)
		b.meter.during(&chord{b.now, s.h, [3]view{b.meter.view(&b.y, &f0), b.meter.view(&s.y1, &f1), b.meter.view(&s.y, &f2)}})
	}
	b.y = s.y
	b.now += s.h
	if b.observe != nil {
		b.observe(b.now, &b.y, f2, s.h)
	}
}

func (b *bench) account(y *state, f *flows, w float64) {
	e := &b.energy
	e.Source += w * y[nodeSource] * f.source
	e.Cable += w * f.cable * f.cable * b.p.loopOhm()
	e.Port += w * (y[nodePort]*b.c.portCurrent(y[nodePort]) + (y[nodePort]-y[nodeInput])*f.input +
		y[nodeInput]*b.c.inputLoss(y[nodeInput]) + y[nodeSource]*y[nodeSource]/sourceLeakOhm)
	e.Charger += w * (y[nodeInput]*f.charger - y[nodeRail]*y[chargerOut])
	e.Rail += w * y[nodeRail] * (f.load + f.short + y[nodeRail]/railBleedOhm)
	e.Battery += w * y[nodeRail] * f.battery
}

// uniform draws from a range.
func (b *bench) uniform(from, to float64) float64 { return from + (to-from)*b.random.Float64() }

// event is something that happens at a known time.
type event struct {
	at       float64
	sequence int // keeps the order of events at one time
	do       func()
}

type eventQueue []*event

func (q eventQueue) Len() int { return len(q) }
func (q eventQueue) Less(i, j int) bool {
	if q[i].at != q[j].at {
		return q[i].at < q[j].at
	}
	return q[i].sequence < q[j].sequence
}
func (q eventQueue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *eventQueue) Push(x any)   { *q = append(*q, x.(*event)) }
func (q *eventQueue) Pop() any {
	last := len(*q) - 1
	e := (*q)[last]
	*q = (*q)[:last]
	return e
}

func (b *bench) at(t float64, do func()) {
	b.sequence++
	heap.Push(&b.events, &event{at: max(t, b.now), sequence: b.sequence, do: do})
}

func (b *bench) after(d float64, do func()) { b.at(b.now+d, do) }

// watch is something that happens when the circuit reaches a condition.
type watch struct {
	reached func(t float64, y *state) bool
	do      func()
}

// when does something once, when the circuit reaches a condition. The returned
// function calls it off.
func (b *bench) when(reached func(t float64, y *state) bool, do func()) (cancel func()) {
	w := &watch{reached, do}
	b.watches = append(b.watches, w)
	return func() { b.drop(w) }
}

func (b *bench) drop(w *watch) {
	for i := range b.watches {
		if b.watches[i] == w {
			b.watches = append(b.watches[:i:i], b.watches[i+1:]...)
			return
		}
	}
}

func (b *bench) anyWatch(y *state) bool {
	for _, w := range b.watches {
		if w.reached(b.now, y) {
			return true
		}
	}
	return false
}

func (b *bench) fireWatches() error {
	fired := 0
	for i := 0; i < len(b.watches); {
		w := b.watches[i]
		if !w.reached(b.now, &b.y) {
			i++
			continue
		}
		if fired++; fired > 1000 {
			return fmt.Errorf("%w: a condition never settles at %g s", ErrSolver, b.now)
		}
		b.drop(w)
		w.do()
		b.h = firstStepS
		i = 0
	}
	return nil
}
