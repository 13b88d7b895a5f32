package rules_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"portside/captures"
	"portside/decode"
	"portside/decode/rules"
	"portside/pd"
)

// pair is a sound source and a sound sink that talk. Times are those of recorded
// negotiations: capabilities 98 to 216 ms after VBUS, a Request 3 to 12 ms after
// them, Accept 3 to 12 ms after that, PS_RDY 25 to 290 ms later (kernel mailing
// lists, 2019 to 2026).
type pair struct {
	random *rand.Rand
	out    []captures.Message
	now    time.Duration
	ids    [3]int // by pd.PowerRole
	source bool   // whether this side's data role has been swapped
	marks  bool   // the recorder notes Attach, VBUS and Detach

	asked step   // what the last Request asks for
	steps []step // what stood on VBUS, from when on
	back  bool   // power flows out of the device
}

// step is what stands on VBUS from a time on, and the most that may flow.
type step struct{ atS, volts, amps float64 }

func (p *pair) stands(volts, amps float64) {
	if p.back {
		amps = -amps
	}
	p.steps = append(p.steps, step{p.now.Seconds(), volts, amps})
}

// waveform is the meter's side of the conversation: the machine takes 0.8 of what
// it may, once the voltage has stood for 0.4 s, rising over 2 s. A small step of
// PPS or another current at the same voltage does not interrupt it.
func (p *pair) waveform(t float64) (volts, amps float64) {
	for i := len(p.steps) - 1; i >= 0; i-- {
		s := p.steps[i]
		if t >= s.atS {
			since := t - s.atS
			for j := i; j > 0 && math.Abs(p.steps[j-1].volts-s.volts) < 0.5 && p.steps[j-1].amps*s.amps > 0; j-- {
				since = t - p.steps[j-1].atS
			}
			if s.volts == 0 {
				return 0, 0
			}
			return s.volts, s.amps * max(0.03, 0.8*min(1, (since-0.4)/2))
		}
	}
	return 0, 0
}

func newPair(seed uint64) *pair {
	return &pair{random: rand.New(rand.NewPCG(seed, 7)), now: 1234567 * time.Microsecond, marks: seed%2 == 0}
}

func (p *pair) waitMS(from, to float64) {
	p.now += time.Duration((from + (to-from)*p.random.Float64()) * float64(time.Millisecond))
}

func (p *pair) mark(m captures.Marker) {
	if p.marks {
		p.out = append(p.out, captures.Message{At: p.now, Marker: m})
	}
}

// say sends a message and its GoodCRC. A bit takes 10/3 µs, GoodCRC comes within
// tTransmit.
func (p *pair) say(from pd.PowerRole, kind pd.MessageType, objects ...uint32) {
	p.sayAs(from, from, kind, objects...)
}

// sayAs sends a message whose role bit is not that of the side, as within a swap.
func (p *pair) sayAs(from, bit pd.PowerRole, kind pd.MessageType, objects ...uint32) {
	f := pd.HeaderFields{Type: kind, MessageID: p.ids[from], Revision: pd.Revision3x, PowerRole: bit, DataRole: pd.UFP}
	if (from == pd.Source) != p.source {
		f.DataRole = pd.DFP
	}
	p.put(pd.NewMessage(pd.SOP, f, objects...))
	p.waitMS(0.04, 0.19)
	ack := f
	ack.Type, ack.PowerRole = pd.GoodCRC, 3-bit
	p.put(pd.NewMessage(pd.SOP, ack))
	p.ids[from] = (p.ids[from] + 1) % 8
}

func (p *pair) put(m pd.Message) {
	p.out = append(p.out, captures.Message{At: p.now, Set: m.Set, Bytes: m.Bytes()})
	p.now += time.Duration(float64(149+40*m.NumObjects()) / 300e3 * float64(time.Second))
}

func fixedSupply(mv pd.Millivolts, ma pd.Milliamps) uint32 {
	return uint32(pd.FixedSupply{Voltage: mv, MaxCurrent: ma}.Encode())
}

var fullOffer = []uint32{
	fixedSupply(5000, 3000), fixedSupply(9000, 3000), fixedSupply(15000, 3000), fixedSupply(20000, 3250),
	uint32(pd.PPSSupply{MinVoltage: 3300, MaxVoltage: 21000, MaxCurrent: 3000}.Encode()),
}

func (p *pair) plug() {
	p.back = false
	p.mark(captures.Attach)
	p.waitMS(100, 200)
	p.mark(captures.VBUSOn)
	p.stands(5.1, 0.1)
	p.waitMS(98, 216)
	p.ids = [3]int{}
	p.say(pd.Source, pd.SourceCapabilities, fullOffer...)
	p.ask(4, 3250)
}

func (p *pair) ask(position int, ma pd.Milliamps) {
	p.waitMS(3, 12)
	p.asked = step{volts: []float64{0, 5.05, 9.1, 15, 20.1}[position], amps: float64(ma) / 1000}
	p.say(pd.Sink, pd.Request, uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: position}, OperatingCurrent: ma, MaxCurrent: ma}.Encode()))
	p.granted(25, 290)
}

func (p *pair) granted(fromMS, toMS float64) {
	p.waitMS(3, 12)
	p.say(pd.Source, pd.Accept)
	p.waitMS(fromMS/2, toMS/2)
	p.stands(p.asked.volts, p.asked.amps)
	p.waitMS(fromMS/2, toMS/2)
	p.say(pd.Source, pd.PSRDY)
}

// keepsPPS is a PPS contract kept alive every 3 to 9 s (tPPSRequest is 10 s).
func (p *pair) keepsPPS(times int) {
	for i := range times {
		mv := pd.Millivolts(8000 + 20*(i%40))
		p.asked = step{volts: mv.Volts(), amps: 2.5}
		p.say(pd.Sink, pd.Request, uint32(pd.PPSRequest{RequestFlags: pd.RequestFlags{Position: 5}, Voltage: mv, OperatingCurrent: 2500}.Encode()))
		p.granted(2, 20)
		p.waitMS(3000, 9000)
	}
}

func eprMode(a pd.EPRAction) uint32 { return uint32(pd.EPRModeFields{Action: a}.Encode()) }

// eprKeepAlive is Extended_Control with EPR_KeepAlive (type 3) and its answer
// (type 4), two bytes of data in one chunk (USB PD R3.2 V1.1, section 6.5.14).
func eprKeepAlive(kind uint32) uint32 { return 1<<15 | 2 | kind<<16 }

// entersEPR enters EPR mode, takes 28 V and keeps the mode alive.
func (p *pair) entersEPR(times int) {
	p.say(pd.Sink, pd.EPRMode, eprMode(pd.EPREnter))
	p.waitMS(2, 10)
	p.say(pd.Source, pd.EPRMode, eprMode(pd.EPREnterAcknowledged))
	p.waitMS(20, 60)
	p.say(pd.Source, pd.EPRMode, eprMode(pd.EPREnterSucceeded))
	p.waitMS(10, 100)
	offer := append([]uint32{1<<15 | 32}, fullOffer[:4]...)
	offer = append(offer, 0, 0)
	p.extended(pd.Source, pd.EPRSourceCapabilities, offer...)
	p.waitMS(1, 4)
	p.extended(pd.Sink, pd.EPRSourceCapabilities, 1<<15|1<<10|1<<11)
	p.waitMS(1, 4)
	p.extended(pd.Source, pd.EPRSourceCapabilities, 1<<15|1<<11|32|(fixedSupply(28000, 5000)&0xFFFF)<<16, fixedSupply(28000, 5000)>>16)
	p.waitMS(3, 12)
	p.asked = step{volts: 28.1, amps: 5}
	p.say(pd.Sink, pd.EPRRequest, uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: 8}, OperatingCurrent: 5000, MaxCurrent: 5000}.Encode()), fixedSupply(28000, 5000))
	p.granted(25, 500)
	for range times {
		p.waitMS(250, 480)
		p.extended(pd.Sink, pd.ExtendedControl, eprKeepAlive(3))
		p.waitMS(1, 4)
		p.extended(pd.Source, pd.ExtendedControl, eprKeepAlive(4))
	}
}

func (p *pair) extended(from pd.PowerRole, kind pd.MessageType, objects ...uint32) {
	p.say(from, kind, objects...)
}

const hardReset = "Hard Reset under load"

// accused reports a finding that says more than the conversation holds. That a
// contract was lost to a Hard Reset is true.
func accused(f rules.Finding, course string) bool {
	return f.Severity != rules.Note && !(f.Rule == "contract-lost" && strings.Contains(course, hardReset))
}

// life is what may happen inside a sound contract.
var life = []struct {
	name string
	do   func(*pair)
}{
	{"the sink asks for less", func(p *pair) { p.say(pd.Sink, pd.GetSourceCap); p.offers(fullOffer); p.ask(2, 2000) }},
	{"the source offers less", func(p *pair) { p.offers(fullOffer[:3]); p.ask(3, 2000) }},
	{"the source offers only 5 V", func(p *pair) { p.offers(fullOffer[:1]); p.ask(1, 3000) }},
	{"the source offers all again", func(p *pair) { p.offers(fullOffer); p.ask(4, 3250) }},
	{"the data roles are swapped", func(p *pair) {
		p.say(pd.Sink, pd.DRSwap)
		p.waitMS(2, 12)
		p.say(pd.Source, pd.Accept)
		p.source = !p.source
	}},
	{"the data roles are not swapped", func(p *pair) { p.say(pd.Sink, pd.DRSwap); p.waitMS(2, 12); p.say(pd.Source, pd.Reject) }},
	{"VCONN is swapped", func(p *pair) {
		p.say(pd.Source, pd.VCONNSwap)
		p.waitMS(2, 12)
		p.say(pd.Sink, pd.Accept)
		p.waitMS(10, 60)
		p.say(pd.Sink, pd.PSRDY)
	}},
	{"the power roles are not swapped", func(p *pair) { p.say(pd.Source, pd.PRSwap); p.waitMS(2, 12); p.say(pd.Sink, pd.Wait) }},
	{"the power roles are swapped", func(p *pair) {
		p.say(pd.Source, pd.PRSwap)
		p.waitMS(2, 12)
		p.say(pd.Sink, pd.Accept)
		p.stands(p.steps[len(p.steps)-1].volts, 0) // it stops drawing first
		p.waitMS(25, 60)
		p.mark(captures.VBUSOff)
		p.stands(0, 0)
		p.back = !p.back
		p.waitMS(50, 300)
		p.sayAs(pd.Source, pd.Sink, pd.PSRDY)
		p.waitMS(30, 90)
		p.mark(captures.VBUSOn)
		p.stands(5.1, 0.1)
		p.waitMS(1, 20)
		p.sayAs(pd.Sink, pd.Source, pd.PSRDY)
		p.ids, p.source = [3]int{}, !p.source
		p.waitMS(22, 100)
		p.say(pd.Source, pd.SourceCapabilities, fullOffer...)
		p.ask(4, 3250)
	}},
	{"the sink tells its capabilities", func(p *pair) {
		p.say(pd.Source, pd.GetSinkCap)
		p.waitMS(2, 12)
		p.say(pd.Sink, pd.SinkCapabilities, fixedSupply(5000, 900), fixedSupply(20000, 3250))
	}},
	{"an identity is asked for and not supported", func(p *pair) {
		p.say(pd.Source, pd.VendorDefined, 0xFF008001)
		p.waitMS(2, 12)
		p.say(pd.Sink, pd.NotSupported)
	}},
	{"the source refuses more and the contract stands", func(p *pair) {
		p.say(pd.Sink, pd.Request, uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: 3}, OperatingCurrent: 3000, MaxCurrent: 3000}.Encode()))
		p.waitMS(3, 12)
		p.say(pd.Source, pd.Wait)
	}},
	{"the sink starts anew with Soft_Reset", func(p *pair) {
		p.ids = [3]int{}
		p.say(pd.Sink, pd.SoftReset)
		p.waitMS(4, 13)
		p.say(pd.Source, pd.Accept)
		p.waitMS(4, 100)
		p.say(pd.Source, pd.SourceCapabilities, fullOffer...)
		p.ask(4, 3250)
	}},
	{"PPS for a while", func(p *pair) { p.keepsPPS(20) }},
	{hardReset, func(p *pair) {
		p.out = append(p.out, captures.Message{At: p.now, Set: pd.HardReset})
		p.ids = [3]int{}
		p.waitMS(25, 35)
		p.mark(captures.VBUSOff)
		p.stands(0, 0)
		p.back = false
		p.waitMS(700, 1100)
		p.mark(captures.VBUSOn)
		p.stands(5.1, 0.1)
		p.waitMS(98, 216)
		p.say(pd.Source, pd.SourceCapabilities, fullOffer...)
		p.ask(4, 3250)
	}},
	{"the plug is pulled and put back", func(p *pair) {
		p.mark(captures.VBUSOff)
		p.stands(0, 0)
		p.waitMS(1, 20)
		p.mark(captures.Detach)
		p.waitMS(2500, 9000)
		p.plug()
	}},
}

func (p *pair) offers(list []uint32) {
	p.waitMS(2, 12)
	p.say(pd.Source, pd.SourceCapabilities, list...)
}

// recorders are how a conversation may have been written down.
var recorders = []struct {
	name string
	read func(m captures.Message, random *rand.Rand) (captures.Message, bool)
}{
	{"every message", func(m captures.Message, _ *rand.Rand) (captures.Message, bool) { return m, true }},
	{"whole milliseconds", func(m captures.Message, _ *rand.Rand) (captures.Message, bool) {
		m.At = m.At.Truncate(time.Millisecond)
		return m, true
	}},
	{"without GoodCRC", func(m captures.Message, _ *rand.Rand) (captures.Message, bool) { return m, !goodCRC(m) }},
	{"the sink's own software", func(m captures.Message, r *rand.Rand) (captures.Message, bool) {
		m.By = captures.SinkItself
		if m.Marker == captures.NoMarker && role(m) == pd.Source {
			m.At += time.Duration((2.1 + 2.9*r.Float64()) * float64(time.Millisecond)) // recorded logs
		}
		return m, !goodCRC(m)
	}},
}

func header(m captures.Message) pd.Header {
	return pd.Header(uint16(m.Bytes[0]) | uint16(m.Bytes[1])<<8)
}

func goodCRC(m captures.Message) bool {
	return len(m.Bytes) >= 2 && header(m).Type() == pd.GoodCRC
}

func role(m captures.Message) pd.PowerRole {
	if len(m.Bytes) < 2 {
		return 0
	}
	return header(m).PowerRole()
}

// written is the conversation as a recorder wrote it, from the n-th row on.
func (p *pair) written(recorder int, from, to int) *decode.Engine {
	e := decode.NewEngine(decode.Options{})
	random := rand.New(rand.NewPCG(3, 4))
	last := time.Duration(0)
	for _, m := range p.out[from:to] {
		m, ok := recorders[recorder].read(m, random)
		if !ok {
			continue
		}
		m.At = max(m.At, last)
		last = m.At
		e.Message(&m)
	}
	return e
}

// converse is a sound conversation of random course, and the course in words.
func converse(seed uint64) (p *pair, course string) {
	p = newPair(seed)
	p.plug()
	course = "plug"
	for range 1 + p.random.IntN(6) {
		p.waitMS(2000, 9000)
		step := life[p.random.IntN(len(life))]
		course += ", " + step.name
		step.do(p)
	}
	if seed%5 == 0 {
		p.waitMS(300, 900)
		course += ", EPR"
		p.entersEPR(30)
	}
	return p, course
}

// A sound conversation of whatever course, however recorded and wherever the
// recording begins and ends, holds nothing to accuse.
func TestSoundConversations(t *testing.T) {
	for seed := range rounds(60) {
		p, course := converse(seed)
		for i, r := range recorders {
			for range 6 {
				from := p.random.IntN(len(p.out))
				if from%3 == 0 {
					from = 0
				}
				to := from + 1 + p.random.IntN(len(p.out)-from)
				if to%3 == 0 {
					to = len(p.out)
				}
				name := fmt.Sprintf("%d %s, rows %d to %d of %d: %s", seed, r.name, from, to, len(p.out), course)
				d := p.written(i, from, to).Diagnose(nil, nil)
				for _, f := range d.Findings {
					assert.False(t, accused(f, course), "%s\n%s %s: %s", name, f.Severity, f.Rule, f.Text)
				}
				for _, phase := range d.Negotiation.Phases {
					assert.False(t, phase.Late, "%s\nlate: %+v (%s) %v", name, phase, phase.Limit, *phase.StartS)
				}
			}
		}
		if t.Failed() {
			return
		}
	}
}

// Nor does it beside the log of a meter, on one clock or on two.
func TestSoundPairs(t *testing.T) {
	for seed := range rounds(12) {
		p, course := converse(seed)
		end := p.now.Seconds() + 8
		for i, r := range recorders {
			for _, l := range []logger{loggers[0], loggers[3], loggers[4]} {
				for _, clocks := range [][]captures.Clock{nil, {{Reference: true, Offset: new(time.Duration)}, {}}} {
					e := p.written(i, 0, len(p.out))
					l.log(e, 0, end, p.waveform)
					d := e.Diagnose([]captures.Stats{{}, {Samples: true}}, clocks)
					for _, f := range d.Findings {
						if clocks != nil && strings.Contains(course, hardReset) && f.Rule == "vbus-collapse" {
							continue // an offset told from the data cannot say which came first
						}
						assert.False(t, accused(f, course), "%d %s, %s, one clock %t: %s\n%s: %s", seed, r.name, l.name, clocks == nil, course, f.Rule, f.Text)
					}
				}
			}
		}
	}
}

// A sink on a source without PD tries Hard Reset two or three times and takes 5 V
// (recorded sinks), and nobody is accused, whatever the recorder notes.
func TestPlainSourceBesideMessages(t *testing.T) {
	for _, marks := range []bool{true, false} {
		for _, resets := range []int{0, 2, 3} {
			for _, l := range loggers[:5] {
				p := newPair(1)
				p.marks = marks
				p.mark(captures.VBUSOn)
				for range resets {
					p.waitMS(310, 620)
					p.out = append(p.out, captures.Message{At: p.now, Set: pd.HardReset, By: captures.SinkItself})
				}
				p.waitMS(20_000, 20_001)
				p.mark(captures.VBUSOn)
				e := p.written(3, 0, len(p.out))
				l.log(e, 0, 60, between(steadily(5.1, 0), 2, steadily(5.1, 1.4)))
				d := e.Diagnose([]captures.Stats{{Path: "m.csv", Kind: captures.KindMeter, Samples: true, Records: 1}, {Path: "p.csv", Kind: captures.KindMessages, Messages: true}}, nil)
				name := fmt.Sprintf("%d resets, marks %t, %s", resets, marks, l.name)
				checkSound(t, d, nil)
				said := false
				for _, f := range d.Findings {
					said = said || f.Rule == "no-source-capabilities"
				}
				assert.True(t, said, "%s: the silence is worth a note: %+v", name, d.Findings)
			}
		}
	}
}

// A PPS contract of a day and EPR kept alive for an hour leave nothing behind:
// tPPSRequest 10 s, tSinkEPRKeepAlive 0.5 s (USB PD R3.2 V1.1, table 6.68).
func TestLongContracts(t *testing.T) {
	long := newPair(2)
	long.plug()
	long.keepsPPS(15_000)
	epr := newPair(4)
	epr.plug()
	epr.waitMS(300, 900)
	epr.entersEPR(9_000)
	for _, p := range []*pair{long, epr} {
		for i := range recorders {
			d := p.written(i, 0, len(p.out)).Diagnose(nil, nil)
			for _, f := range d.Findings {
				assert.Equal(t, rules.Note, f.Severity, "%s: %s", f.Rule, f.Text)
			}
			assert.LessOrEqual(t, len(d.Negotiation.Contracts), 10_000)
			assert.NotEmpty(t, d.Negotiation.Contracts)
			assert.Empty(t, d.Negotiation.PPSMissed)
		}
	}
}
