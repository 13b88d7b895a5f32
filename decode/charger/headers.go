package charger

import (
	"portside/pd"
)

// ids follows the source's MessageID on SOP.
type ids struct {
	known bool
	last  int
	acked bool // the last one was acknowledged
	fresh bool // a Hard Reset or an attach: the next offer begins at 0
}

const (
	idCount = 8
	// mostAbandoned is how many messages in a row a source may give up before they are
	// sent, which uses up their IDs (USB PD R3.2 V1.1, section 6.7.1; the number is common
	// practice).
	mostAbandoned = 3
)

// seeMessageID: 0 after a reset, up by one with each acknowledged message. What was
// abandoned uses up an ID as well, so that a gap is legal.
func seeMessageID(c *Checker, e *event) {
	if e.from != pd.Source {
		return
	}
	s, id := &c.ids, e.msg.Header.MessageID()
	was := *s
	*s = ids{known: true, last: id}
	switch {
	case e.msg.Type() == pd.SoftReset, e.msg.Type() == pd.Accept && e.asked == pd.SoftReset,
		was.fresh && e.msg.Type() == pd.SourceCapabilities:
		if id != 0 {
			c.broke(checkMessageID, e.start.s, "%s begins anew with MessageID %d, not 0", e.msg.Type(), id)
			return
		}
	case was.fresh || !was.known || c.seen.damaged || !was.acked:
		return
	case e.msg.Type() == pd.SourceCapabilities && id == 0 && (id-was.last+idCount)%idCount != 1:
		return // as after a plug that was pulled and put back, which no recorder need note
	case id == was.last:
		c.broke(checkMessageID, e.start.s, "MessageID %d is used again for another message, %s", id, e.msg.Type())
		return
	case (id-was.last+idCount)%idCount > mostAbandoned+1:
		c.broke(checkMessageID, e.start.s, "MessageID goes from %d to %d", was.last, id)
		return
	}
	c.kept(checkMessageID, "each acknowledged message raises the MessageID, and resets set it to 0")
}

// seeIDAcked notes the GoodCRC to the source.
func seeIDAcked(c *Checker, _ *event) {
	if c.link.last.from == pd.Source {
		c.ids.acked = true
	}
}

func restartIDs(c *Checker, _ *event) { c.ids = ids{fresh: true} }

// roles follows the source's data role; its power role is that of a source.
type roles struct {
	known    bool
	data     pd.DataRole
	swapping bool // a DR_Swap was accepted and that is not acknowledged yet
}

// seeRoles: Source, and DFP until a DR_Swap.
func seeRoles(c *Checker, e *event) {
	if e.from != pd.Source {
		return
	}
	r, h := &c.roles, e.msg.Header
	if r.swapping {
		*r = roles{} // whether the swap was heard is not known
	}
	if !r.known {
		r.known, r.data = true, h.DataRole()
	}
	switch {
	case h.PowerRole() != pd.Source:
		c.broke(checkHeaderRoles, e.start.s, "%s of the source says it is the sink", e.msg.Type())
	case h.DataRole() != r.data:
		c.broke(checkHeaderRoles, e.start.s, "%s says the source is %s, and it is %s", e.msg.Type(), h.DataRole(), r.data)
		r.data = h.DataRole()
	default:
		c.kept(checkHeaderRoles, "power and data role of every message are those of the source")
	}
	if e.msg.Type() == pd.Accept && e.asked == pd.DRSwap {
		r.swapping = true
		if !c.link.shown[pd.Source] {
			c.swapData()
		}
	}
}

// seeRolesAfterAck swaps the data role once both have agreed: the source's Accept
// was heard, or the sink's came.
func seeRolesAfterAck(c *Checker, _ *event) {
	if c.roles.swapping && c.link.last.kind == pd.Accept {
		c.swapData()
	}
}

// seeSinkAccepts follows a DR_Swap that the sink accepts.
func seeSinkAccepts(c *Checker, e *event) {
	if !e.sinkSays(pd.Accept) || e.asked != pd.DRSwap {
		return
	}
	c.roles.swapping = true
	if !c.link.shown[pd.Sink] {
		c.swapData()
	}
}

func (c *Checker) swapData() {
	r := &c.roles
	r.swapping = false
	if r.data == pd.DFP {
		r.data = pd.UFP
	} else {
		r.data = pd.DFP
	}
}

// resetRoles: a Hard Reset and an attach make the source the DFP.
func resetRoles(c *Checker, _ *event) { c.roles = roles{known: true, data: pd.DFP} }

// agreement is the revision that holds between the ports.
type agreement struct {
	announced pd.Revision // by the source
	asked     pd.Revision // by the sink's Request
	agreed    pd.Revision // 0 while open
}

// seeRevision: what Source_Capabilities and Request settled holds until a Hard
// Reset or detach.
func seeRevision(c *Checker, e *event) {
	a, rev := &c.revision, e.msg.Header.Revision()
	switch {
	case e.from == pd.Sink && isRequest(e.msg.Type()) && rev != a.asked:
		changed := a.asked != 0
		a.asked, a.agreed = rev, 0
		if a.announced != 0 && !changed {
			a.agreed = min(rev, a.announced)
		}
	case e.from != pd.Source:
	case a.asked == 0:
		if e.msg.Type() == pd.SourceCapabilities {
			a.announced = max(a.announced, rev)
		}
	case a.agreed == 0:
		a.agreed = rev
	case rev != a.agreed:
		c.broke(checkRevisionKept, e.start.s, "%s is of revision %s, agreed was %s", e.msg.Type(), rev, a.agreed)
	default:
		c.kept(checkRevisionKept, "every message keeps to revision "+a.agreed.String())
	}
}

func dropRevision(c *Checker, _ *event) { c.revision = agreement{} }
