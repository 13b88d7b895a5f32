package negotiation

import (
	"strings"

	"portside/pd"
)

// limit is a time the standard allows, one parameter or several in a row.
type limit struct {
	name string
	s    float64 // seconds; 0 where the standard states none
}

func atMost(rev pd.Revision, parameters ...pd.Parameter) limit {
	names := make([]string, len(parameters))
	var sum float64
	for i, p := range parameters {
		l := p.Limits(rev)
		names[i] = l.Name
		sum += l.MaxSI()
	}
	return limit{strings.Join(names, " + "), sum}
}

// limits are those that hold for every pair; the ones that depend on the
// revision or on the kind of supply are looked up when they are needed.
type limits struct {
	turnOn          limit // attach to VBUS
	firstOffer      limit // VBUS, or the Accept of a Soft_Reset, to the first offer
	resetOn         limit // Hard Reset to VBUS
	resetOffer      limit // Hard Reset to the first offer
	resetOnEPR      limit // the same two out of EPR mode
	resetOfferEPR   limit
	sinkWait        limit // how long a sink waits for an offer
	sinkPatience    limit // how long a sink waits for PS_RDY
	sinkPatienceEPR limit
	offerRepeat     limit // distance of unanswered offers
	request         limit // longest between the Requests of a PPS contract
	keepAlive       limit // the same in EPR

	soonestResetS  float64 // earliest end of a sink's wait after a Hard Reset, VBUS not seen
	soonestRepeatS float64
	repeats        int     // of a message that nobody acknowledges, at the least
	afterWaitS     float64 // a sink may ask again after Wait
	ackS           float64 // end of a message to the end of its GoodCRC, at most
}

func newLimits() limits {
	const rev = pd.Revision32
	_, _, control := pd.AirTime(pd.Message{Set: pd.SOP}.LineBits())
	first := atMost(rev, pd.TFirstSourceCap)
	return limits{
		turnOn:          atMost(rev, pd.TVBUSON),
		firstOffer:      first,
		resetOn:         atMost(rev, pd.TPSHardReset, pd.TSafe0V, pd.TSrcRecoverSPR, pd.TSrcTurnOn),
		resetOffer:      atMost(rev, pd.TPSHardReset, pd.TSafe0V, pd.TSrcRecoverSPR, pd.TSrcTurnOn, pd.TFirstSourceCap),
		resetOnEPR:      atMost(rev, pd.TPSHardReset, pd.TSafe0V, pd.TSrcRecoverEPR, pd.TSrcTurnOn),
		resetOfferEPR:   atMost(rev, pd.TPSHardReset, pd.TSafe0V, pd.TSrcRecoverEPR, pd.TSrcTurnOn, pd.TFirstSourceCap),
		sinkWait:        atMost(rev, pd.TTypeCSinkWaitCap),
		sinkPatience:    atMost(rev, pd.TPSTransitionSPR),
		sinkPatienceEPR: atMost(rev, pd.TPSTransitionEPR),
		offerRepeat:     atMost(rev, pd.TTypeCSendSourceCap),
		request:         atMost(rev, pd.TPPSRequest),
		keepAlive:       atMost(rev, pd.TSinkEPRKeepAlive),
		soonestResetS:   pd.TPSHardReset.Limits(rev).MinSI() + pd.TSrcRecoverSPR.Limits(rev).MinSI() + first.s,
		soonestRepeatS:  pd.TTypeCSendSourceCap.Limits(rev).MinSI(),
		repeats:         int(pd.NRetryCount.Limits(rev).Nom.Value),
		afterWaitS:      pd.TSinkRequest.Limits(rev).MinSI(),
		ackS:            atMost(rev, pd.TTransmit).s + control.Seconds(),
	}
}

// answer is how long a partner may take to answer, and giveUp how long the
// other side waits for it.
func answer(rev pd.Revision) limit { return atMost(rev, pd.TReceiverResponse) }

func giveUp(rev pd.Revision) limit { return atMost(rev, pd.TSenderResponse) }

// ready is how long the source may take from Accept to PS_RDY, by where the
// supply comes from and goes to.
func ready(rev pd.Revision, from, to deal) limit {
	step := to.Voltage - from.Voltage
	if step < 0 {
		step = -step
	}
	sameObject := from.Known && from.Position == to.Position && from.Kind == to.Kind
	switch {
	case sameObject && to.Kind == pd.KindPPS && small(step, pd.VPpsSmallStep):
		return atMost(rev, pd.TPpsSrcTransSmall)
	case sameObject && to.Kind == pd.KindPPS:
		return atMost(rev, pd.TPpsSrcTransLarge)
	case sameObject && to.Adjustable() && small(step, pd.VAvsSmallStep):
		return atMost(rev, pd.TAvsSrcTransSmall)
	case to.Adjustable():
		return atMost(rev, pd.TAvsSrcTransLarge)
	case from.EPR || to.EPR || to.Kind == 0: // unknown: the longer time, so that nothing sound is late
		return atMost(rev, pd.TSrcTransReqEPR)
	default:
		return atMost(rev, pd.TSrcTransReqSPR)
	}
}

func small(step pd.Millivolts, p pd.Parameter) bool {
	return step.Volts() <= p.Limits(pd.Revision32).MaxSI()
}
