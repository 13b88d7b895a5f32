package lessons

import (
	"time"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// event is one moment of a power-up: what CC carried and what the meter showed.
type event struct {
	found       bool
	at          time.Duration // on the recording's clock
	volts, amps float64       // the meter's row at it, or the last one before
	words       string        // the message in words; "" where it is none
	waited      time.Duration // from what it answers; meaningful where hasWait
	hasWait     bool
	peakA       float64 // the highest current of its stretch; meaningful where hasPeak
	hasPeak     bool
}

// events are the moments of a power-up in their order.
type events struct {
	plug, vbus, offer, heard, request, accept, voltage, ready, draw event

	ended time.Duration // of the first attempt, by a Hard Reset; 0 where none ended it

	wantV, wantA float64 // what the sink asked for; 0 where it never did
	offered      []pd.PDO
}

// eventsOf finds the moments of a recording.
func eventsOf(r *Recording) events {
	var e events
	e.plug = r.moment(0)
	e.plug.words = "nothing is said yet"
	for i := range r.Run.Rows {
		if row := &r.Run.Rows[i]; row.At >= e.plug.at && pd.SafeWindow5V().Contains(row.Volts) {
			e.vbus = r.moment(row.At)
			e.vbus.wait(row.At - e.plug.at)
			break
		}
	}
	e.talk(r)
	e.settle(r)
	e.load(r)
	return e
}

func (e *event) wait(d time.Duration) { e.waited, e.hasWait = d, d >= 0 }

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// moment reads the meter at a time.
func (r *Recording) moment(at time.Duration) event {
	e := event{found: true, at: at}
	for i := range r.Run.Rows {
		if i > 0 && r.Run.Rows[i].At > at {
			break
		}
		e.volts, e.amps = r.Run.Rows[i].Volts, r.Run.Rows[i].Amps
	}
	return e
}

// talk takes the first attempt at a contract from the messages.
func (e *events) talk(r *Recording) {
	d := message.NewDecoder()
	var answered, offered time.Duration // the ends of the last GoodCRC and offer
	for i := range r.Run.Messages {
		m := &r.Run.Messages[i]
		line := d.Decode(m)
		if m.Set == pd.HardReset && e.offer.found {
			e.ended = m.At // what follows is another attempt
			return
		}
		p, err := pd.ParseMessage(m.Set, m.Bytes)
		if err != nil || m.Set != pd.SOP {
			continue
		}
		switch p.Type() {
		case pd.GoodCRC:
			answered = message.End(m)
			if e.offer.found && p.PowerRole() == pd.Sink {
				e.say(r, &e.heard, m, line, offered)
			}
		case pd.SourceCapabilities:
			e.say(r, &e.offer, m, line, e.vbus.at)
			offered = message.End(m)
			if !e.request.found {
				e.offered = nil
				for k := range p.Header.Objects() {
					e.offered = append(e.offered, pd.PDO(p.Object(k)))
				}
			}
		case pd.Request:
			e.say(r, &e.request, m, line, answered)
			e.asked(pd.RDO(p.Object(0)))
		case pd.Accept:
			e.say(r, &e.accept, m, line, answered)
		case pd.PSRDY:
			e.say(r, &e.ready, m, line, e.accept.at)
		default:
		}
		if e.ready.found {
			return
		}
	}
}

// say keeps the first message of a kind, with the wait since what it answers.
func (e *events) say(r *Recording, to *event, m *captures.Message, line *message.Line, since time.Duration) {
	if to.found {
		return
	}
	*to = r.moment(m.At)
	to.words = line.Text()
	if since > 0 {
		to.wait(m.At - since)
	}
}

func (e *events) asked(request pd.RDO) {
	if e.wantV > 0 {
		return
	}
	position := request.Position()
	if position < 1 || position > len(e.offered) {
		return
	}
	if f, ok := e.offered[position-1].Fixed(); ok {
		e.wantV, e.wantA = float64(f.Voltage)/1000, float64(f.MaxCurrent)/1000
	}
}

// settle finds VBUS inside the window of what was asked for.
func (e *events) settle(r *Recording) {
	if !e.accept.found || e.wantV == 0 {
		return
	}
	window, _ := pd.FixedWindow(pd.Millivolts(1000 * e.wantV))
	for i := range r.Run.Rows {
		row := &r.Run.Rows[i]
		if e.ended > 0 && row.At > e.ended {
			return
		}
		if row.At >= e.accept.at && row.Volts >= window.Min {
			e.voltage = r.moment(row.At)
			e.voltage.wait(row.At - e.accept.at)
			return
		}
	}
}

// load is the steady draw after the contract that the engine saw hold longest.
func (e *events) load(r *Recording) {
	if !e.ready.found {
		return
	}
	longest := 0.0
	for _, p := range r.Diagnosis.Draw.Plateaus {
		if p.StartS < e.ready.at.Seconds() || p.CurrentA == nil || p.VoltageV == nil || p.EndS-p.StartS <= longest {
			continue
		}
		longest = p.EndS - p.StartS
		e.draw = event{found: true, at: seconds(p.StartS), volts: *p.VoltageV, amps: *p.CurrentA}
		e.draw.wait(e.draw.at - e.ready.at)
	}
	for i := range r.Run.Rows {
		if row := &r.Run.Rows[i]; row.At >= e.ready.at {
			e.draw.peakA, e.draw.hasPeak = max(e.draw.peakA, row.Amps), true
		}
	}
}
