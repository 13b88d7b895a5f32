package main

import (
	"time"

	"portside/captures"
	"portside/cmd/portside/report"
	"portside/cmd/portside/text"
	"portside/decode/clocks"
	"portside/decode/draw"
	"portside/decode/negotiation"
)

// chargerPicture gathers what a report draws, from the records as they are checked.
type chargerPicture struct {
	alignment   clocks.Alignment
	draw        *draw.Analyser
	negotiation *negotiation.Tracker
	talk        report.Talk
}

func newChargerPicture(a clocks.Alignment) *chargerPicture {
	return &chargerPicture{alignment: a, draw: draw.New(draw.Options{}), negotiation: negotiation.New(negotiation.Options{})}
}

// take takes a record. A sample that comes at the latest time it may have is drawn in the
// middle of what is possible.
func (p *chargerPicture) take(r captures.Record) {
	if r.Message != nil {
		p.negotiation.Add(r.Message)
		p.talk.Add(r.Message)
		return
	}
	s := *r.Sample
	if p.alignment.Determined {
		s.At -= time.Duration(p.alignment.Spread(s.At.Seconds()) / 2 * float64(time.Second))
	}
	p.draw.Add(&s)
}

// tested is what a report shows of the charger; nothing is drawn where no report is asked for.
func (p *chargerPicture) tested(page *text.ChargerPage, given []captures.Clock, a clocks.Alignment) *report.Tested {
	t := &report.Tested{Page: page, OneClock: a.Determined || len(loose(given)) == 0}
	if p != nil {
		t.Draw, t.Negotiation, t.Talk = p.draw.Result(), p.negotiation.Result(), &p.talk
	}
	return t
}
