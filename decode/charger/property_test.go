package charger_test

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/charger"
	"portside/pd"
)

// long asks for the full count of simulated chargers: go test ./decode/charger -long.
var long = flag.Bool("long", false, "run 10,000 simulated chargers")

// chargers is how many that are: once 100,000 were drawn.
var chargers = flag.Int("chargers", 10_000, "how many chargers -long simulates")

// onceAccused are seeds of sound chargers that a check once failed.
var onceAccused = []uint64{
	78656, // VBUS rose so slowly that 1 % of 4.75 V and 1 % of the reading were apart in time
}

// TestSoundChargersAreNeverAccused draws chargers inside the whole range of the
// standard and at its edges: none may fail any check.
func TestSoundChargersAreNeverAccused(t *testing.T) {
	n := 300
	if *long {
		n = *chargers
	}
	verdicts := map[charger.Verdict]int{}
	passed := map[string]int{}
	for i := range n + len(onceAccused) {
		seed := uint64(i)
		if i >= n {
			seed = onceAccused[i-n]
		}
		r := drawn(seed)
		got := r.check(r.options())
		for _, c := range got.Checks {
			require.NotEqual(t, charger.Fail, c.Result, "seed %d: %s at %v: %s", seed, c.Check, c.AtS, c.Text)
			if c.Result == charger.Pass {
				passed[c.Check]++
			}
		}
		verdicts[got.Verdict]++
	}
	require.Greater(t, verdicts[charger.WithinStandard], n*8/10, "%v", verdicts)
	for _, name := range mutated() {
		require.Positive(t, passed[name], "%s was never passed: the property does not test it", name)
	}
}

// options are those of the rig's own meter.
func (r *rig) options() charger.Options {
	return charger.Options{AtSource: r.meter.cable == 0 && r.meter.rate > 0 && r.rng.IntN(2) == 0}
}

// drawn is one sound charger with its recording.
func drawn(seed uint64) *rig {
	rng := rand.New(rand.NewPCG(seed, 11))
	r := newRig()
	r.rng, r.mid = rng, false
	either := func() bool { return rng.IntN(2) == 0 }
	r.acks, r.ends = rng.IntN(4) > 0, either()
	if rng.IntN(5) == 0 {
		r.rev = pd.Revision20
	}
	r.meter.rate = []float64{0, 1, 10, 10, 100, 100, 1000, 1000}[rng.IntN(8)]
	if rng.IntN(20) == 0 {
		r.meter.rate = 10_000
	}
	// An error of 1 % of what is read.
	r.meter.gainV, r.meter.gainA = r.draw("gain V", 1/1.01, 1/0.99), r.draw("gain A", 1/1.01, 1/0.99)
	r.meter.digitV = []float64{0.0001, 0.001, 0.01}[rng.IntN(3)]
	r.meter.digitA = []float64{0.0001, 0.001, 0.01}[rng.IntN(3)]
	r.meter.cable = []float64{0, 0.05, 0.15, 0.25}[rng.IntN(4)]
	r.meter.mean = either()
	r.meter.noAmps = rng.IntN(6) == 0
	if rng.IntN(8) == 0 {
		// The stamps of the side that wrote the log.
		r.by, r.acks, r.ends = captures.SinkItself, false, false
		if either() {
			r.by = captures.SourceItself
		}
	}
	r.story()
	if r.by != captures.RecorderUnknown {
		r.stampLate()
	}
	if rng.IntN(8) == 0 {
		r.coarse()
	}
	return r
}

// coarse cuts the stamps of the messages to whole milliseconds.
func (r *rig) coarse() {
	for i := range r.out {
		r.out[i].At = r.out[i].At / 1e6 * 1e6
		r.out[i].End = r.out[i].End / 1e6 * 1e6
	}
}

// stampLate moves the stamps as a side's own software does: what it received up to
// 5 ms late, but read before it sends the next, and what it sent up to 5 ms early.
func (r *rig) stampLate() {
	own := pd.Sink
	if r.by == captures.SourceItself {
		own = pd.Source
	}
	mine := func(m *captures.Message) bool {
		p, err := pd.ParseMessage(m.Set, m.Bytes)
		return m.Marker == captures.NoMarker && m.Set == pd.SOP && err == nil && p.PowerRole() == own
	}
	next := seconds(1e6)
	for i := len(r.out) - 1; i >= 0; i-- {
		m := &r.out[i]
		if mine(m) {
			next = m.At
		}
		m.At = min(m.At+seconds(r.draw("stamp", 0, 0.005)), next)
	}
	last := seconds(0)
	for i := range r.out {
		m := &r.out[i]
		if mine(m) {
			m.At = max(m.At-seconds(r.draw("stamp", 0, 0.005)), last)
		}
		m.At = max(m.At, last)
		last = m.At
	}
}

// story is what happens in the recording: a connection, and one to three things
// after it.
func (r *rig) story() {
	if r.by == captures.RecorderUnknown && r.rng.IntN(8) == 0 {
		r.rev = pd.Revision3x
		r.extendedStory()
		return
	}
	watts := float64(1 + r.rng.IntN(100))
	if watts >= 10 && r.rng.IntN(2) == 0 {
		watts = []float64{10, 15, 18, 20, 27, 28, 30, 45, 46, 60, 61, 65, 100}[r.rng.IntN(13)]
	}
	present := watts
	if watts > 15 && r.rng.IntN(4) == 0 {
		present = 10 + float64(r.rng.IntN(int(watts)-9))
	}
	r32 := r.rev == pd.Revision3x && r.rng.IntN(2) == 0
	list := r.offerOf(watts, present, r32, r.rev == pd.Revision3x && r.rng.IntN(2) == 0)
	r.begin(list)
	switch {
	case r32:
		r.states(watts, present)
	case r.rev == pd.Revision3x && r.rng.IntN(4) == 0:
		r.later = append(r.later, func() {
			r.wait("pause", 0.02, 0.05)
			r.sink(pd.GetRevision).wait("answer", 0.0001, 0.015)
			r.source(pd.RevisionMessage, uint32(pd.RevisionFields{RevisionMajor: 3, RevisionMinor: 1, VersionMajor: 1, VersionMinor: 8}.Encode()))
		})
	}
	v := r.contract(list, 5)
	for range 1 + r.rng.IntN(3) {
		v = r.chapter(list, v)
	}
}

// extendedStory goes into EPR mode and out of it by a Hard Reset.
func (r *rig) extendedStory() {
	r.meter.cable = min(r.meter.cable, 0.15)
	watts := float64(101 + r.rng.IntN(140))
	present := watts
	if r.rng.IntN(3) == 0 {
		present = 36 + float64(r.rng.IntN(int(watts)-35))
	}
	spr := r.offerOf(100, present, true, false)
	spr[0] |= 1 << 23
	if len(spr) < 4 || r.rng.IntN(8) == 0 {
		spr = offer140SPR
	}
	epr := r.extendedOf(watts, present)
	r.enterEPR(spr, epr)
	if r.rng.IntN(2) == 0 {
		r.adjusts(epr)
	} else {
		f, _ := pd.PDO(epr[0]).Fixed()
		r.negotiate(move{request: ask(8, f.MaxCurrent), copy: epr[0], from: 20, to: 28, window: window(28), settle: 0.7, most: 0.76})
	}
	for range 3 {
		r.wait("keep alive", 0.01, 0.5)
		r.block(pd.Sink, pd.ExtendedControl, pd.ECDB{Type: pd.EPRKeepAlive}.AppendTo(nil))
		r.wait("answer", 0.0001, 0.015)
		r.block(pd.Source, pd.ExtendedControl, pd.ECDB{Type: pd.EPRKeepAliveAck}.AppendTo(nil))
	}
	if r.rng.IntN(2) == 0 {
		r.wait("silence", 0.75, 1)
		r.now -= 0.002
	}
	r.hard(true).wait("first offer", 0.002, 0.25)
	r.source(pd.SourceCapabilities, spr...).negotiate(to(1, 500, 5, 5))
}

// adjusts asks for the adjustable object of an EPR offer: any voltage, then a small
// step and a large one.
func (r *rig) adjusts(epr []uint32) {
	offer := epr[len(epr)-1]
	s, _ := pd.PDO(offer).EPRAVS()
	position, from := 7+len(epr), 20.0
	v := s.MinVoltage + pd.Millivolts(100*r.rng.IntN(int(s.MaxVoltage-s.MinVoltage)/100+1))
	for _, step := range []pd.Millivolts{0, 1000, -4000} {
		v = max(s.MinVoltage, min(s.MaxVoltage, v+step))
		amps := math.Floor(math.Min(float64(s.PDP)/v.Volts(), 5)*20) / 20
		m := move{
			request: askAVS(position, v, pd.Milliamps(amps*1000)), copy: offer, from: from, to: v.Volts(),
			window: [2]float64{0.95 * v.Volts(), 1.05 * v.Volts()}, settle: 0.7, most: 0.7, fromAccept: true,
		}
		if m.inside = r.object == position; m.inside && abs(m.to-m.from) <= 1+1e-9 {
			m.settle, m.most = 0.05, 0.05
		}
		r.object = position
		r.negotiate(m).wait("pause", 0.02, 0.4)
		from = v.Volts()
	}
}

// begin plugs in, with what may go before a contract.
func (r *rig) begin(list []uint32) {
	r.now += 0.5
	r.mark(captures.Attach)
	r.wait("debounce", 0.1, 0.2)
	on := r.draw("turn on", 0.001, 0.275)
	r.now += on
	r.ramp(r.now-min(on, 0.005), r.now, 4.75)
	r.ramp(r.now, r.now+1e-4, r.draw("5 V", 4.75, 5.5))
	r.mark(captures.VBUSOn)
	offered := r.now + r.draw("first offer", 0.002, 0.25)
	if r.by == captures.RecorderUnknown && r.acks && r.rng.IntN(2) == 0 && offered-r.now > 0.02 {
		r.readCable([]pd.CableFields{cable5A, cableEPR}[r.rng.IntN(2)])
		r.meter.cable = min(r.meter.cable, 0.15) // 0.75 V at 5 A
	}
	r.now = max(r.now, offered)
	for range r.rng.IntN(3) {
		start := r.now
		r.unheard(pd.Source, pd.SourceCapabilities, list...)
		if r.acks || r.by == captures.SourceItself {
			for range 2 {
				r.wait("retry", 0.0009, 0.001295)
				r.unheard(pd.Source, pd.SourceCapabilities, list...)
			}
		}
		r.now = start + r.draw("repeat", 0.1, 0.2)
	}
	r.source(pd.SourceCapabilities, list...)
}

// states has the source say what it is once a contract stands.
func (r *rig) states(watts, present float64) {
	r.later = append(r.later, func() {
		r.wait("pause", 0.02, 0.05)
		r.sink(pd.GetRevision).wait("answer", 0.0001, 0.015)
		r.source(pd.RevisionMessage, uint32(pd.RevisionFields{RevisionMajor: 3, RevisionMinor: 2, VersionMajor: 1, VersionMinor: 1}.Encode()))
		r.wait("pause", 0.02, 0.05)
		r.sink(pd.GetSourceInfo).wait("answer", 0.0001, 0.015)
		r.source(pd.SourceInfo, uint32(pd.SourceInfoFields{MaximumPDP: pd.Watts(watts), PresentPDP: pd.Watts(present)}.Encode()))
	})
}

// contract asks for one of the objects and loads it; it gives the voltage.
func (r *rig) contract(list []uint32, from float64) float64 {
	position := 1 + r.rng.IntN(len(list))
	p := pd.PDO(list[position-1])
	m := move{from: from, settle: 0.275, most: 0.325}
	amps := 0.0
	switch p.Kind() {
	case pd.KindFixed:
		f, _ := p.Fixed()
		m = to(position, f.MaxCurrent, from, f.Voltage.Volts())
		amps = f.MaxCurrent.Amps()
	case pd.KindPPS:
		s, _ := p.PPS()
		v := (s.MinVoltage + pd.Millivolts(r.rng.IntN(int(s.MaxVoltage-s.MinVoltage)))) / 20 * 20
		m = r.toPPS(position, v, max(1000, s.MaxCurrent), from)
		amps = max(1000, s.MaxCurrent).Amps()
	case pd.KindSPRAVS:
		v := pd.Millivolts(9000 + 100*r.rng.IntN(50))
		s, _ := p.SPRAVS()
		i := s.MaxCurrent15V / 50 * 50
		m.request, m.to, m.window = askAVS(position, v, i), v.Volts(), [2]float64{0.95 * v.Volts(), 1.05 * v.Volts()}
		m.settle, m.most, m.fromAccept = 0.7, 0.7, true
		if m.inside = r.object == position; m.inside && abs(m.to-from) <= 1+1e-9 {
			m.settle, m.most = 0.05, 0.05
		}
		amps = i.Amps()
	}
	r.object = position
	r.negotiate(m)
	if amps > 0.15 && r.meter.cable*amps <= 0.75 {
		r.load(r.draw("load", 0.05, amps), m.window[0], r.draw("lasting", 0.1, 1))
	}
	if amps > 0.05 && r.meter.cable*amps > 0.75 {
		r.load(0.05, m.window[0], 0.3)
	}
	for _, f := range r.later {
		f()
	}
	r.later = nil
	return m.to
}

// chapter is one thing that happens within a connection.
func (r *rig) chapter(list []uint32, v float64) float64 {
	r.wait("pause", 0.02, 0.2)
	switch r.rng.IntN(7) {
	case 0:
		if r.by == captures.RecorderUnknown || r.rev == pd.Revision3x {
			r.hard(false).wait("first offer", 0.002, 0.25)
			r.source(pd.SourceCapabilities, list...)
			return r.contract(list, 5)
		}
	case 1:
		r.sink(pd.SoftReset).wait("answer", 0.0001, 0.015)
		r.source(pd.Accept).wait("first offer", 0.002, 0.25)
		r.source(pd.SourceCapabilities, list...)
	case 2:
		r.sink(pd.GetSourceCap).wait("answer", 0.0001, 0.015)
		r.source(pd.SourceCapabilities, list...)
	case 3:
		r.sink(pd.DRSwap).wait("answer", 0.0001, 0.015)
		r.source(pd.Accept)
		r.dfp = !r.dfp
		r.wait("pause", 0.02, 0.2)
		r.source(pd.SourceCapabilities, list...)
	case 4:
		return r.renew(list, v)
	case 5:
		r.wait("request", 0.001, 0.015).sink(pd.Request, ask(1, 100)).wait("answer", 0.0001, 0.015)
		r.source([]pd.MessageType{pd.Reject, pd.Wait}[r.rng.IntN(2)])
		return v
	default:
		r.swap()
		r.wait("swap start", 0.02, 0.2)
		r.source(pd.SourceCapabilities, list...)
		return r.contract(list, 5)
	}
	return r.contract(list, v)
}

// toPPS is a move to a programmable object, or inside it.
func (r *rig) toPPS(position int, v pd.Millivolts, i pd.Milliamps, from float64) move {
	m := move{request: askPPS(position, v, i), from: from, to: v.Volts(), settle: 0.275, most: 0.325}
	m.window = [2]float64{0.95 * m.to, 1.05 * m.to}
	if r.object == position {
		m.inside, m.fromAccept, m.most = true, true, 0.275
		if abs(m.to-m.from) <= 0.5+1e-9 {
			m.settle, m.most = 0.025, 0.025
		}
	}
	return m
}

// renew asks for the programmable object more than once, a small and a large step
// away.
func (r *rig) renew(list []uint32, v float64) float64 {
	for i, w := range list {
		s, ok := pd.PDO(w).PPS()
		if !ok {
			continue
		}
		for _, step := range []pd.Millivolts{0, -480, 1200} {
			to := max(s.MinVoltage, min(s.MaxVoltage, pd.Millivolts(v*1000)+step)) / 20 * 20
			r.wait("pause", 0.05, 9)
			r.negotiate(r.toPPS(i+1, to, max(1000, s.MaxCurrent), v))
			r.object, v = i+1, to.Volts()
		}
		return v
	}
	return v
}

// swap hands the source's part over and takes it back, passing over what VBUS does.
func (r *rig) swap() {
	for range 2 {
		r.sink(pd.PRSwap).wait("answer", 0.0001, 0.015)
		r.source(pd.Accept)
		r.draws(r.now, 0)
		r.ramp(r.now+0.026, r.now+0.3, 0)
		r.wait("swap off", 0.3, 0.6)
		// The old source already says it is the sink.
		f := r.header(pd.PSRDY, pd.Source)
		f.PowerRole = pd.Sink
		r.sends(pd.NewMessage(pd.SOP, f)).ack(pd.Source)
		r.ramp(r.now, r.now+0.2, 5)
		r.wait("swap on", 0.2, 0.28)
		f = r.header(pd.PSRDY, pd.Sink)
		f.PowerRole = pd.Source
		r.sends(pd.NewMessage(pd.SOP, f)).ack(pd.Sink)
		// From here on the ports have changed sides: so have their counters and data roles.
		r.ids[pd.Source], r.ids[pd.Sink] = r.ids[pd.Sink], r.ids[pd.Source]
		r.dfp = !r.dfp
		r.wait("pause", 0.05, 0.2)
	}
}
