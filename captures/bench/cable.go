package bench

import "portside/pd"

// Times of the talk with the cable, in seconds, inside USB Type-C R2.1 table
// 4-31 (tVCONNStable 50 ms) and USB PD R3.2 V1.1 table 6.68 (tDiscoverIdentity
// 40 to 50 ms, tVDMReceiverResponse 15 ms).
const (
	vconnFromS, vconnToS = 0.051, 0.058
	againFromS, againToS = 0.042, 0.048
	plugFromS, plugToS   = 0.0015, 0.004
	askTakesS            = 0.012 // the question, its retries or the answer
)

// silentCableA is what a cable carries that says nothing of itself: USB PD
// R3.2 V1.1 section 4.4.
const silentCableA = 3.0

// cable is the electronic marker in the plug next to the source.
type cable struct {
	b       *bench
	speaker speaker
}

func newCable(b *bench) *cable {
	c := &cable{b: b}
	c.speaker = speaker{
		set: pd.SOPPrime, plug: true, rate: b.uniform(290e3, 310e3),
		alive: func() bool { return b.p.CableMarked }, receive: c.receive, reset: nothing,
	}
	return c
}

func (c *cable) receive(m pd.Message) {
	epoch := c.b.line.epoch
	if m.Type() != pd.VendorDefined || pd.VDMHeader(m.Object(0)).CommandType() != pd.REQ {
		return
	}
	c.b.after(c.b.uniform(plugFromS, plugToS), func() {
		if epoch == c.b.line.epoch {
			c.b.line.send(&c.speaker, &c.b.source.toCable, pd.VendorDefined, identity(c.b.p.EPR), func(bool) {})
		}
	})
}

func discoverIdentity(kind pd.CommandType) uint32 {
	return uint32(pd.VDMHeaderFields{
		SVID: pd.SVIDPowerDelivery, VersionMajor: 1, VersionMinor: 1, CommandType: kind, Command: pd.DiscoverIdentity,
	}.Encode())
}

// Objects of the identity beside the header (USB PD R3.2 V1.1, tables 6.33,
// 6.37, 6.38 and 6.41).
const (
	idHeader  = 3<<27 | 3<<21 | 0xFFFF // passive cable, plug, a maker without a vendor ID
	certStat  = 0                      // not certified
	product   = 0
	cableFive = 2<<18 | 1<<13 | 2<<5 // USB Type-C plug, about 10 ns, 20 V, 5 A, USB 2.0
	cableEPR  = 1<<17 | 3<<9         // and for extended range: its bit, 50 V
)

// What such a cable carries.
const markedCableA = 5.0

// identity is a passive cable of a maker without a vendor ID, for 20 V and 5 A,
// about one metre long, USB 2.0; one for extended range says so.
func identity(epr bool) []uint32 {
	vdo := uint32(cableFive)
	if epr {
		vdo |= cableEPR
	}
	return []uint32{discoverIdentity(pd.ACK), idHeader, certStat, product, vdo}
}

// askCable reads the cable before more than 3 A are offered, again while time
// is left before the offer is due.
func (s *sourcePolicy) askCable(due float64) {
	if s.b.now+askTakesS > due {
		return
	}
	asked := s.b.now
	s.b.line.send(&s.toCable, &s.b.cable.speaker, pd.VendorDefined, []uint32{discoverIdentity(pd.REQ)}, func(ok bool) {
		if !ok {
			s.later(s.b.uniform(againFromS, againToS)-(s.b.now-asked), func() { s.askCable(due) })
		}
	})
}

// cableAnswered hears the identity.
func (s *sourcePolicy) cableAnswered(m pd.Message) {
	if m.Type() == pd.VendorDefined && pd.VDMHeader(m.Object(0)).CommandType() == pd.ACK {
		s.cableA = markedCableA
	}
}

// offered is what the source may offer through the cable it has read.
func (s *sourcePolicy) offered() []Offer {
	out := append([]Offer(nil), s.b.p.Offers...)
	for i := range out {
		out[i].Amps = min(out[i].Amps, s.cableA)
	}
	return out
}

// wantsCable reports an offer that needs a cable which says what it carries.
func (s *sourcePolicy) wantsCable() bool {
	for _, o := range s.b.p.Offers {
		if o.Amps > silentCableA {
			return true
		}
	}
	return false
}
