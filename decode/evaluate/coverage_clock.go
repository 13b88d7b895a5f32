package evaluate

import (
	"math"
	"math/rand/v2"
	"time"

	"portside/captures"
	"portside/pd"
)

// plugIn is a session of two recorders: the messages on the true time, the
// meter on a clock of its own.
type plugIn struct {
	chance   *rand.Rand
	now      float64
	messages []captures.Message
	corners  []corner // of VBUS
	ids      [3]int
}

// corner is where a straight stretch ends.
type corner struct{ at, volts float64 }

func (p *plugIn) wait(low, high float64) { p.now += between(p.chance, low, high) }

func (p *plugIn) put(set pd.OrderedSet, bytes []byte) {
	const air = 0.0008 // seconds, of a short message at 300 kbit/s
	p.messages = append(p.messages, captures.Message{At: seconds(p.now), End: seconds(p.now + air), HasEnd: true, Set: set, Bytes: bytes})
	p.now += air
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }

func (p *plugIn) say(from pd.PowerRole, kind pd.MessageType, objects ...uint32) {
	head := pd.HeaderFields{Type: kind, MessageID: p.ids[from], Revision: pd.Revision3x, PowerRole: from, DataRole: pd.UFP}
	if from == pd.Source {
		head.DataRole = pd.DFP
	}
	p.put(pd.SOP, pd.NewMessage(pd.SOP, head, objects...).Bytes())
	p.wait(30e-6, 190e-6)
	head.Type, head.PowerRole = pd.GoodCRC, pd.Sink+pd.Source-from
	p.put(pd.SOP, pd.NewMessage(pd.SOP, head).Bytes())
	p.ids[from] = (p.ids[from] + 1) % 8
	p.wait(0.001, 0.004)
}

// ramp takes VBUS to a level within so many seconds.
func (p *plugIn) ramp(volts, within float64) {
	last := corner{}
	if len(p.corners) > 0 {
		last = p.corners[len(p.corners)-1]
	}
	p.corners = append(p.corners, corner{p.now, last.volts}, corner{p.now + within, volts})
	p.now += within
}

var fourSupplies = [...]pd.Millivolts{5000, 9000, 15000, 20000}

func (p *plugIn) attach() {
	p.ids = [3]int{}
	p.ramp(5*between(p.chance, 0.98, 1.03), between(p.chance, 0.001, 0.02))
	p.wait(0.05, 0.25) // tFirstSourceCap, USB PD R3.2 V1.1 table 6.68
	var offers []uint32
	for _, v := range fourSupplies {
		offers = append(offers, uint32(pd.FixedSupply{Voltage: v, MaxCurrent: 3000}.Encode()))
	}
	p.say(pd.Source, pd.SourceCapabilities, offers...)
}

// contract asks for an offer, from 1.
func (p *plugIn) contract(position int) {
	rdo := pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: position}, OperatingCurrent: 1000, MaxCurrent: 3000}
	p.say(pd.Sink, pd.Request, uint32(rdo.Encode()))
	p.say(pd.Source, pd.Accept)
	// Most sources wait tSrcTransition, some a good deal longer: common practice.
	if p.chance.IntN(8) == 0 {
		p.wait(0.035, 0.12)
	} else {
		p.wait(0.025, 0.035)
	}
	p.ramp(float64(fourSupplies[position-1])/1000*between(p.chance, 0.985, 1.03), between(p.chance, 0.002, 0.06))
	p.wait(0.002, 0.05)
	p.say(pd.Source, pd.PSRDY)
}

// reset is a Hard_Reset and the attach after it.
func (p *plugIn) reset() {
	p.put(pd.HardReset, nil)
	p.wait(0.025, 0.035) // tPSHardReset, table 6.68
	p.ramp(0, between(p.chance, 0.02, 0.5))
	p.wait(0.66, 1) // tSrcRecover, table 6.68
	p.attach()
}

// volts are those of VBUS at a time.
func (p *plugIn) volts(hint *int, t float64) float64 {
	for *hint+1 < len(p.corners) && p.corners[*hint+1].at < t {
		*hint++
	}
	for *hint > 0 && p.corners[*hint].at >= t {
		*hint--
	}
	a := p.corners[*hint]
	if t <= a.at || *hint+1 == len(p.corners) {
		if t <= a.at {
			return a.volts
		}
		return p.corners[len(p.corners)-1].volts
	}
	b := p.corners[*hint+1]
	return a.volts + (b.volts-a.volts)*(t-a.at)/max(b.at-a.at, 1e-9)
}

// session is a plug-in with some contracts and resets, with messages lost and
// false dips of VBUS in it.
func session(chance *rand.Rand) *plugIn {
	p := &plugIn{chance: chance, now: 2}
	p.corners = []corner{{0, 0}}
	p.attach()
	for n := 1 + chance.IntN(8); n > 0; n-- {
		if chance.IntN(6) == 0 {
			p.wait(0.5, 8)
			p.reset()
		}
		p.contract(1 + chance.IntN(len(fourSupplies)))
		p.wait(0.5, 12)
		if chance.IntN(6) == 0 { // VBUS goes away and comes back, and nobody says why
			was := p.corners[len(p.corners)-1].volts
			p.ramp(between(chance, 0, was), 0.01)
			p.wait(0.1, 1)
			p.ramp(was, 0.01)
			p.wait(0.5, 3)
		}
	}
	if chance.IntN(3) == 0 { // a stretch of the messages is lost
		from := chance.IntN(len(p.messages))
		p.messages = append(p.messages[:from:from], p.messages[min(len(p.messages), from+chance.IntN(12)):]...)
	}
	return p
}

// drawOffset has two recorders see one session.
func drawOffset(chance *rand.Rand) Estimate {
	return offsetAt(chance, pick(chance, 0.001, 0.002, 0.01, 0.02, 0.1, 0.5, 1))
}

// CoverOffsets is the coverage of the clock offset for meters of one interval.
func CoverOffsets(cases int, seed uint64, intervalS float64) Coverage {
	chance := rand.New(rand.NewPCG(seed, math.Float64bits(intervalS)))
	all := make([]Estimate, cases)
	for k := range all {
		all[k] = offsetAt(chance, intervalS)
	}
	return cover("clock offset", true, all)
}

func offsetAt(chance *rand.Rand, intervalS float64) Estimate {
	p := session(chance)
	m := drawMeter(chance, intervalS)
	offset := between(chance, -500, 500)
	a := p.seenBy(m, offset, offset+pick(chance, 0, between(chance, 0, 3)))
	truth := a.MiddleS/(1+m.clock) - a.MiddleS - offset // the offset is that of the middle
	return Estimate{Truth: truth, Value: a.OffsetS, Uncertainty: a.Uncertainty, Given: a.Determined && a.Uncertainty < 1}
}
