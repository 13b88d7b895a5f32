package message

import (
	"time"

	"portside/captures"
	"portside/pd"
)

// due is a wait as the standard counts it.
type due struct {
	parameter pd.Parameter // 0 where nothing limits the wait
	since     span
	after     string       // in words; left out where it is the line before
	slack     pd.Parameter // whose maximum may be added, 0 for none
	latest    bool         // a timer that must not run out: it has no earliest end
}

// utterance is what decides which limits a message has to do with.
type utterance struct {
	set     pd.OrderedSet
	kind    pd.MessageType
	id      int
	from    pd.PowerRole
	vdm     pd.VDMHeader
	epr     pd.EPRAction
	control pd.ExtendedControlType
	chunk   pd.ExtendedHeader
	terms   terms
}

func heardIn(l *Line, m *captures.Message) utterance {
	u := utterance{set: m.Set, kind: l.Header.Type(), id: l.Header.Raw.MessageID(), from: l.From, chunk: l.Header.Extended}
	if m.Set != pd.SOP {
		u.from = CableEnd(l.Header.Raw)
	}
	if len(l.Objects) == 0 {
		return u
	}
	o := &l.Objects[0]
	switch o.Kind {
	case KindVDMHeader:
		u.vdm = pd.VDMHeader(o.Raw)
	case KindEPRMode:
		u.epr = pd.EPRMDO(o.Raw).Action()
	case KindExtendedControl:
		e, _ := pd.ParseECDB(o.Block)
		u.control = e.Type
	case KindRequestPPS:
		u.terms = terms{o.Kind, pd.RDO(o.Raw).PPS().Voltage, u.kind == pd.EPRRequest}
	case KindRequestAVS:
		u.terms = terms{o.Kind, pd.RDO(o.Raw).AVS().Voltage, u.kind == pd.EPRRequest}
	case KindRequestFixed, KindRequestBattery, KindRequest:
		u.terms = terms{o.Kind, 0, u.kind == pd.EPRRequest}
	}
	return u
}

// unseenGoodCRC is what a wait counts from that a recorder without GoodCRC does
// not show.
const unseenGoodCRC = "its GoodCRC"

// due finds the limit of the wait before a message that begins at start.
func (t *Timing) due(said utterance, start span) due {
	s := &t.sets[said.set]
	if p := t.answer(s.said, said); p != 0 && s.end.set {
		return due{parameter: p, since: s.heard, after: unseenGoodCRC}
	}
	if said.set != pd.SOP {
		return s.askedAgain(said, start)
	}
	switch said.kind {
	case pd.PSRDY:
		return t.powerReady()
	case pd.SourceCapabilities, pd.EPRSourceCapabilities:
		return t.capabilities(said)
	case pd.Request, pd.PRSwap, pd.DRSwap, pd.VCONNSwap, pd.EnterUSB:
		return t.again(said)
	case pd.EPRMode:
		if said.epr == pd.EPREnterSucceeded {
			return due{parameter: pd.TEnterEPR, since: t.entering, after: "EPR_Mode Enter", latest: true}
		}
	case pd.ExtendedControl:
		if said.control == pd.EPRKeepAlive {
			return due{parameter: pd.TSinkEPRKeepAlive, since: t.traffic, after: "the last traffic", latest: true}
		}
	case pd.DataResetComplete:
		if t.accepted.of == pd.DataReset {
			return due{parameter: pd.TDataReset, since: t.accepted.at, after: "the Accept", latest: true}
		}
	}
	return due{}
}

// longestRetry tells a retry, 1.3 ms after, from a new attempt, 100 ms after at
// the earliest.
const longestRetry = shortestSoftware

// questions are the questions of the standard with the messages that answer them
// (USB PD R3.2 V1.1, section 6.6.2); Not_Supported and Reject answer any.
var questions = [...]struct{ question, answer pd.MessageType }{
	{pd.SourceCapabilities, pd.Request},
	{pd.EPRSourceCapabilities, pd.EPRRequest},
	{pd.GetSourceCap, pd.SourceCapabilities},
	{pd.GetSinkCap, pd.SinkCapabilities},
	{pd.GetSourceCapExtended, pd.SourceCapabilitiesExtended},
	{pd.GetSinkCapExtended, pd.SinkCapabilitiesExtended},
	{pd.GetStatus, pd.Status},
	{pd.GetPPSStatus, pd.PPSStatus},
	{pd.GetCountryCodes, pd.CountryCodes},
	{pd.GetCountryInfo, pd.CountryInfo},
	{pd.GetSourceInfo, pd.SourceInfo},
	{pd.GetRevision, pd.RevisionMessage},
	{pd.GetBatteryCap, pd.BatteryCapabilities},
	{pd.GetBatteryStatus, pd.BatteryStatus},
	{pd.GetManufacturerInfo, pd.ManufacturerInfo},
	{pd.SecurityRequest, pd.SecurityResponse},
	{pd.FirmwareUpdateRequest, pd.FirmwareUpdateResponse},
}

// AnswerTo reports whether a message of one kind can answer one of another. Of
// Vendor_Defined, EPR_Mode and Extended_Control the objects decide.
func AnswerTo(question, answer pd.MessageType) bool {
	switch answer {
	case pd.Accept, pd.Wait, pd.Reject:
		return proposes(question) || answer == pd.Reject && asks(question)
	case pd.NotSupported:
		return proposes(question) || asks(question)
	}
	for _, a := range questions {
		if a.question == question && a.answer == answer {
			return true
		}
	}
	return false
}

func asks(question pd.MessageType) bool {
	for _, a := range questions {
		if a.question == question {
			return true
		}
	}
	return false
}

// proposes reports a message that is accepted, rejected or put off.
func proposes(t pd.MessageType) bool {
	switch t {
	case pd.Request, pd.EPRRequest, pd.DRSwap, pd.PRSwap, pd.VCONNSwap, pd.FRSwap, pd.SoftReset, pd.DataReset, pd.EnterUSB:
		return true
	default:
		return false
	}
}

// answer is the limit of the wait between a question and its answer, 0 where
// the second does not answer the first.
func (t *Timing) answer(q, a utterance) pd.Parameter {
	if q.kind == 0 || q.from == a.from {
		return 0
	}
	switch {
	case q.kind == a.kind && q.chunk.Chunked() && !q.chunk.RequestChunk() && a.chunk.RequestChunk():
		return pd.TChunkReceiverRequest
	case q.kind == a.kind && q.chunk.RequestChunk() && !a.chunk.RequestChunk():
		return pd.TChunkReceiverResponse
	case q.kind == pd.VendorDefined && a.kind == pd.VendorDefined:
		return vdmAnswer(q.vdm, a.vdm)
	case q.epr == pd.EPREnter && (a.epr == pd.EPREnterAcknowledged || a.epr == pd.EPREnterFailed),
		q.control == pd.EPRKeepAlive && a.control == pd.EPRKeepAliveAck,
		q.control == pd.EPRGetSourceCap && a.kind == pd.EPRSourceCapabilities,
		q.control == pd.EPRGetSinkCap && a.kind == pd.EPRSinkCapabilities,
		AnswerTo(q.kind, a.kind):
		return pd.TReceiverResponse
	default:
		return 0
	}
}

func vdmAnswer(q, a pd.VDMHeader) pd.Parameter {
	if !q.Structured() || !a.Structured() || q.CommandType() != pd.REQ || a.CommandType() == pd.REQ || q.Command() != a.Command() {
		return 0
	}
	switch q.Command() {
	case pd.EnterMode:
		return pd.TVDMEnterMode
	case pd.ExitMode:
		return pd.TVDMExitMode
	default:
		return pd.TVDMReceiverResponse
	}
}

// askedAgain is the interval of questions to a cable that does not answer. What is asked when
// the last series must be over is a series of its own, as after a new plug-in.
func (s *saying) askedAgain(said utterance, start span) due {
	again := s.said.vdm == said.vdm && said.vdm.Command() == pd.DiscoverIdentity && said.vdm.CommandType() == pd.REQ
	if !again || s.acked || s.said.from != said.from || start.lo-s.start.hi > longestSeries() {
		return due{}
	}
	return due{parameter: pd.TDiscoverIdentity, since: s.start, after: "the question before"}
}

// longestSeries is what all tries to read a cable take.
func longestSeries() time.Duration {
	tries := pd.NDiscoverIdentityCount.Limits(pd.Revision32).Nom.Value
	interval, _ := pd.TDiscoverIdentity.Limits(pd.Revision32).MaxDuration()
	return time.Duration(tries) * interval
}

// powerReady is how long a transition may take. Short steps of a programmable
// or adjustable voltage have less time than long ones.
func (t *Timing) powerReady() due {
	switch t.accepted.of {
	case pd.Request, pd.EPRRequest:
		return due{parameter: t.transition(), since: t.accepted.at, after: "the Accept"}
	case pd.VCONNSwap:
		return due{parameter: pd.TVCONNSourceOn, since: t.accepted.at, after: "the Accept"}
	case pd.PRSwap:
		if t.accepted.halfWay {
			return due{parameter: pd.TSrcTransOn, since: t.sets[pd.SOP].heard, after: unseenGoodCRC}
		}
		return due{parameter: pd.TSrcTransOff, since: t.accepted.at, after: "the Accept"}
	case pd.FRSwap:
		if t.accepted.halfWay {
			return due{parameter: pd.TFRSwapComplete, since: t.sets[pd.SOP].heard, after: unseenGoodCRC}
		}
		return due{}
	default:
		return due{}
	}
}

func (t *Timing) transition() pd.Parameter {
	step := t.asked.voltage - t.agreed.voltage
	within := func(p pd.Parameter) bool {
		return float64(max(step, -step)) <= p.Limits(pd.Revision32).MaxSI()*1000
	}
	switch same := t.asked.kind == t.agreed.kind; {
	case t.asked.kind == KindRequestPPS && same && within(pd.VPpsSmallStep):
		return pd.TPpsSrcTransSmall
	case t.asked.kind == KindRequestPPS && same:
		return pd.TPpsSrcTransLarge
	case t.asked.kind == KindRequestAVS && same && within(pd.VAvsSmallStep):
		return pd.TAvsSrcTransSmall
	case t.asked.kind == KindRequestAVS:
		return pd.TAvsSrcTransLarge
	case t.asked.epr || t.agreed.epr:
		return pd.TSrcTransReqEPR
	default:
		return pd.TSrcTransReqSPR
	}
}

// capabilities are due after a reset, a swap or a step of EPR mode, and again
// while nobody answers them.
func (t *Timing) capabilities(said utterance) due {
	switch {
	case t.restart == pd.SoftReset:
		return due{parameter: pd.TFirstSourceCap, since: t.restarts, after: "what called for it"}
	case t.restart == pd.EPRMode:
		return due{parameter: pd.TFirstSourceCap, since: t.restarts, after: "what called for it"}
	case t.restart == pd.PRSwap:
		return due{parameter: pd.TSwapSourceStart, since: t.restarts, after: "what called for it"}
	case said.kind == pd.SourceCapabilities && t.sets[pd.SOP].said.kind == pd.SourceCapabilities && !t.sets[pd.SOP].acked:
		// The timer begins with the attempt's last wait for a GoodCRC.
		return due{parameter: pd.TTypeCSendSourceCap, since: t.offering, after: "the attempt before", slack: pd.TReceive}
	default:
		return due{}
	}
}

// again is how long a side waits with a question that was put off, and how soon
// a programmable contract must be asked for again.
func (t *Timing) again(said utterance) due {
	if since, ok := t.refused[said.kind]; ok {
		delete(t.refused, said.kind)
		return due{parameter: waits(said.kind), since: since, after: "the Wait"}
	}
	if said.kind == pd.Request && t.agreed.kind == KindRequestPPS && said.terms.kind == KindRequestPPS {
		return due{parameter: pd.TPPSRequest, since: t.traffic, after: "the last traffic"}
	}
	return due{}
}

func waits(t pd.MessageType) pd.Parameter {
	switch t {
	case pd.PRSwap:
		return pd.TPRSwapWait
	case pd.DRSwap:
		return pd.TDRSwapWait
	case pd.VCONNSwap:
		return pd.TVCONNSwapWait
	case pd.EnterUSB:
		return pd.TEnterUSBWait
	default:
		return pd.TSinkRequest
	}
}

// beforeHardReset is the timer that a Hard Reset ends: of an answer, or of a
// PS_RDY, that never came.
func (t *Timing) beforeHardReset() due {
	s := &t.sets[pd.SOP]
	switch {
	case t.accepted.of == pd.Request && s.said.kind == pd.Accept:
		return due{parameter: pd.TPSTransitionSPR, since: t.accepted.at, after: "the Accept"}
	case t.accepted.of == pd.EPRRequest && s.said.kind == pd.Accept:
		return due{parameter: pd.TPSTransitionEPR, since: t.accepted.at, after: "the Accept"}
	case s.acked && (s.said.kind == pd.SourceCapabilities || s.said.kind == pd.Request || s.said.kind == pd.EPRRequest):
		return due{parameter: pd.TSenderResponse, since: s.heard, after: unseenGoodCRC}
	default:
		return due{}
	}
}
