package negotiation

import "portside/pd"

// counter is the MessageID that a side used last.
type counter struct {
	known bool
	id    int
}

// anew reports a MessageID that begins the count again where it was not due: it
// counts to nMessageIDCount and then from 0 (USB PD R3.2 V1.1 section 6.7.1).
func (c counter) anew(id int) bool {
	highest := int(pd.NMessageIDCount.Limits(pd.Revision32).Nom.Value)
	return c.known && id == 0 && c.id != highest
}

// restart is an offer by a source whose count began anew inside a contract, with
// no reset recorded.
type restart struct {
	open bool
	at   stamp
}

// counted follows the MessageIDs. Where source and then sink count anew inside a
// contract, both began afresh: VBUS went away, or the plug was moved, and the
// contract ended with that though no message says so.
func (t *Tracker) counted(p pd.Message, from pd.PowerRole, asked pd.MessageType, at stamp) {
	anew := t.counters[from].anew(p.Header.MessageID())
	t.counters[from] = counter{known: true, id: p.Header.MessageID()}
	switch {
	case p.Type() == pd.SourceCapabilities && from == pd.Source:
		inside := t.contract.open && t.stage == settled && asked == 0 && !t.epr
		t.restart = restart{open: anew && inside, at: at}
	case p.Type() == pd.Request && t.restart.open:
		t.restart.open = false
		if anew && t.stage == forRequest {
			t.endContract(t.restart.at, byRestart)
			t.attempt.standing, t.attempt.optional = false, false
		}
	case p.Type() == pd.SoftReset:
		t.counters = [3]counter{}
		t.restart = restart{}
	}
}
