package charger

import (
	"portside/decode/message"
	"portside/pd"
)

// link is what the messages so far say about the two ports.
type link struct {
	speakers message.Speakers
	repeats  *message.Repeats
	offers   message.Offers
	last     spoken // on SOP
	shown    [pd.Source + 1]bool
	swapped  bool // by PR_Swap or FR_Swap: what feeds now is not the charger

	awayS     float64 // the last message while the charger was not what feeds
	epr       bool    // EPR mode
	request   spoken
	asking    deal
	contract  deal // known only while one stands
	standing  bool
	resetting bool // a Hard Reset, and no offer since
	crowded   bool // something else was on the line since the last message
}

// elsewhere reports that the charger is not what feeds, or that it is just handing
// over.
func (l *link) elsewhere() bool { return l.swapped || l.speakers.Swapping() }

// heardAt is when a message's GoodCRC ended. Where the recorder does not show
// GoodCRC to that side it follows from the standard's times; ok is false where it
// would be shown and was not.
func (l *link) heardAt(s spoken) (at moment, ok bool) {
	switch {
	case s.acked:
		return s.ackEnd, true
	case l.shown[s.from]:
		return moment{}, false
	default:
		return s.end.plus(ackTime()), true
	}
}

// ackTime is from the end of a message to the end of its GoodCRC.
func ackTime() moment {
	shortest, _, longest := pd.AirTime(pd.Message{Set: pd.SOP}.LineBits())
	gap := pd.TInterFrameGap.Limits(pd.Revision32).MinSI()
	transmit := pd.TTransmit.Limits(pd.Revision32).MaxSI()
	return within(gap+shortest.Seconds(), transmit+longest.Seconds())
}

// plus adds a time that is itself uncertain.
func (m moment) plus(by moment) moment {
	m.s += by.s
	m.early += by.early
	m.late += by.late
	return m
}

// forget drops what a Hard Reset or the end of a connection ends.
func (l *link) forget() {
	l.repeats.Forget()
	l.offers.Forget()
	l.speakers = message.Speakers{}
	l.last, l.request = spoken{}, spoken{}
	l.asking, l.contract = deal{}, deal{}
	l.standing, l.epr, l.swapped = false, false, false
}
