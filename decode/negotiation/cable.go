package negotiation

import (
	"portside/captures"
	"portside/pd"
)

// cable takes a message to or from the cable. It never moves the negotiation
// between the ports.
func (t *Tracker) cable(m *captures.Message, p pd.Message) {
	if p.Type() == pd.GoodCRC {
		t.result.GoodCRCs++
		// Only a recorder on the line itself hears the cable, and it hears all.
		t.sides[pd.Source].shown, t.sides[pd.Sink].shown = true, true
		t.repeats.Acknowledge(p.Set, 0, p.Header.MessageID())
	}
	plug, _ := p.CablePlug()
	if plug {
		t.result.FromCable++
	}
	if p.Type() != pd.VendorDefined || p.NumObjects() == 0 || m.Status == captures.Unacknowledged && plug {
		return
	}
	h := pd.VDMHeader(p.Object(0))
	if !h.Structured() || h.Command() != pd.DiscoverIdentity {
		return
	}
	c := &t.result.CableAnswers
	switch h.CommandType() {
	case pd.REQ:
		c.Asked = true
	case pd.ACK:
		c.Answered = true
		if i, ok := cableCurrent(p); ok {
			c.CurrentMA = int(i)
		}
	}
}

// cableVDO is where the answer to Discover Identity carries the VDO of a cable
// (USB PD R3.2 V1.1, section 6.4.4.3.1): header, ID Header, Cert Stat, Product.
const cableVDO = 4

func cableCurrent(p pd.Message) (pd.Milliamps, bool) {
	if p.NumObjects() <= cableVDO {
		return 0, false
	}
	return pd.PassiveCableVDO(p.Object(cableVDO)).Fields().MaxCurrent()
}
