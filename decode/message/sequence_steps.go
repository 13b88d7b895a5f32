package message

import (
	"strings"

	"portside/pd"
)

// Words for what came of a sequence.
const (
	granted     = "contract: "
	rejected    = "refused"
	putOff      = "put off"
	unsupported = "not supported"
)

// advance reports whether a message goes on with the group, and what came of
// the group where the message ends it.
func (g *group) advance(u utterance, l *Line) (taken bool, outcome string) {
	if u.kind == g.last.kind && u.chunk.Chunked() && u.chunk != g.last.chunk {
		return g.chunk(u, l)
	}
	switch g.family {
	case ofNegotiation:
		return g.negotiation(u, l)
	case ofProposal:
		return g.proposal(u)
	case ofQuestion:
		return g.question(u, l)
	case ofVDM:
		return g.vdm(u, l)
	case ofEPREntry:
		return g.eprEntry(u, l)
	case ofKeepAlive:
		return u.control == pd.EPRKeepAliveAck, "answered"
	default:
		return false, "" // the offer after a Hard Reset opens the next negotiation
	}
}

// chunk takes the next piece of a block; the last one of an answer ends a
// question.
func (g *group) chunk(u utterance, l *Line) (bool, string) {
	if g.family == ofQuestion && u.kind != g.first.kind && len(l.Objects) > 0 {
		return true, answered(l)
	}
	return true, ""
}

func (g *group) negotiation(u utterance, l *Line) (bool, string) {
	switch u.kind {
	case pd.SourceCapabilities, pd.EPRSourceCapabilities:
		if g.steps[0] != pd.Request {
			return false, ""
		}
		if u.kind == g.first.kind {
			g.Tries++
		}
		return true, ""
	case pd.Request, pd.EPRRequest:
		if g.steps[0] != pd.Request {
			return false, ""
		}
		g.words, g.steps = asked(l), g.steps[1:]
		return true, ""
	case pd.Reject:
		return g.steps[0] == pd.Accept, rejected + ": " + g.words
	case pd.Wait:
		return g.steps[0] == pd.Accept, putOff + ": " + g.words
	case pd.Accept, pd.PSRDY:
		return g.next(u.kind, granted+g.words)
	default:
		return false, ""
	}
}

// next takes the step that is due; outcome is for the last one.
func (g *group) next(t pd.MessageType, outcome string) (bool, string) {
	if g.steps[0] != t {
		return false, ""
	}
	if g.steps = g.steps[1:]; len(g.steps) > 0 {
		return true, ""
	}
	return true, outcome
}

func (g *group) proposal(u utterance) (bool, string) {
	waiting := g.steps[0] == pd.Accept
	switch {
	case waiting && u.kind == pd.Reject:
		return true, rejected
	case waiting && u.kind == pd.Wait:
		return true, putOff
	case waiting && u.kind == pd.NotSupported:
		return true, unsupported
	case g.first.kind == pd.DataReset && !waiting && u.kind == pd.PSRDY:
		return true, "" // from a device that sourced VCONN
	default:
		return g.next(u.kind, "done")
	}
}

func (g *group) question(u utterance, l *Line) (bool, string) {
	switch {
	case u.kind == pd.NotSupported:
		return true, unsupported
	case u.kind == pd.Reject:
		return true, rejected
	case !AnswerTo(g.first.kind, u.kind) && (g.first.control != pd.EPRGetSinkCap || u.kind != pd.EPRSinkCapabilities):
		return false, ""
	case u.chunk.Chunked() && len(l.Objects) == 0:
		return true, ""
	default:
		return true, answered(l)
	}
}

func answered(l *Line) string {
	_, words, ok := strings.Cut(l.Text(), ": ")
	if !ok {
		return "answered"
	}
	return "answered: " + words
}

func (g *group) vdm(u utterance, l *Line) (bool, string) {
	if u.kind == pd.NotSupported {
		return true, unsupported
	}
	if u.kind != pd.VendorDefined || !u.vdm.Structured() || u.vdm.Command() != g.first.vdm.Command() {
		return false, ""
	}
	switch u.vdm.CommandType() {
	case pd.REQ:
		g.Tries++
		return u.from == g.first.from, ""
	case pd.ACK:
		_, words, _ := strings.Cut(l.Text(), ", SVID ")
		if _, rest, ok := strings.Cut(words, ", "); ok {
			return true, "answered: " + rest
		}
		return true, "answered"
	default:
		return true, u.vdm.CommandType().String()
	}
}

// eprEntry holds the swap of VCONN that may lie inside.
func (g *group) eprEntry(u utterance, l *Line) (bool, string) {
	switch u.epr {
	case pd.EPREnterAcknowledged:
		return true, ""
	case pd.EPREnterSucceeded:
		return true, "EPR mode entered"
	case pd.EPREnterFailed:
		_, why, _ := strings.Cut(l.Text(), ", ")
		return true, "failed: " + why
	}
	switch u.kind {
	case pd.VCONNSwap, pd.Accept, pd.PSRDY:
		return true, ""
	default:
		return false, ""
	}
}

// missing says what the group still waits for.
func (g *group) missing() string {
	switch g.family {
	case ofHardReset:
		return "the source offers nothing afterwards"
	case ofNegotiation, ofProposal:
		if len(g.steps) > 0 {
			return "no " + g.steps[0].String()
		}
	case ofEPREntry:
		return "no EPR_Mode Enter Succeeded"
	}
	return "no answer"
}
