package text

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"portside/captures"
	"portside/decode"
	"portside/decode/live"
	"portside/decode/rules"
)

// Events prints what happens while a recording is followed.
type Events interface {
	Tell(live.Event) error
	// Status shows where things stand; only a terminal has a line for it.
	Status(*decode.Diagnosis, captures.Sample) error
	Close() error
}

// NewEvents prints one event a line. On a terminal the last line is the state
// of things, drawn again in place.
func NewEvents(w io.Writer, look Look, terminal bool) Events {
	return &events{w: w, look: look, terminal: terminal}
}

type events struct {
	w        io.Writer
	look     Look
	terminal bool
	drawn    bool // a status line stands on the screen
}

const eraseLine = "\r\x1b[K"

func (e *events) Tell(x live.Event) error {
	if err := e.erase(); err != nil {
		return err
	}
	p := newPage(e.w, e.look)
	when := unknown
	if x.TimeS != nil {
		when = strconv.FormatFloat(*x.TimeS, 'f', 3, 64)
	}
	word, style := eventWord(x)
	p.item(fmt.Sprintf("%10s  %-8s  ", when, word), style, eventText(x))
	return p.close()
}

func eventWord(e live.Event) (word, style string) {
	switch e.Event {
	case live.Finding:
		return severity(e.Severity), severityStyle(e.Severity)
	case live.Unplug:
		return "UNPLUG", red
	case live.Verdict, live.End:
		return string(e.Event), bold
	}
	return string(e.Event), ""
}

func eventText(e live.Event) string {
	switch {
	case e.Event != live.Verdict && e.Event != live.End:
		return capital(stop(e.Text))
	case e.Verdict == rules.Undetermined:
		return "NOT SETTLED: " + stop(e.Text)
	}
	return strings.ToUpper(side(e.Verdict)) + ": " + stop(e.Text)
}

func (e *events) Status(d *decode.Diagnosis, last captures.Sample) error {
	if !e.terminal || d.Draw.Sampling.N == 0 && d.Negotiation.Messages == 0 {
		return nil
	}
	width := e.look.Width
	if width == 0 {
		width = DefaultWidth
	}
	e.drawn = true
	_, err := io.WriteString(e.w, eraseLine+cut(statusLine(d, last), width-1))
	return err
}

// statusLine is voltage, current, power, contract, draw and verdict so far.
func statusLine(d *decode.Diagnosis, last captures.Sample) string {
	var parts []string
	if d.Draw.Sampling.N > 0 {
		parts = append(parts, fixed(last.Volts, 2, "V"), fixed(last.Amps, 3, "A"), fixed(last.Volts*last.Amps, 1, "W"))
	}
	if n := len(d.Negotiation.Contracts); n > 0 && d.Negotiation.Contracts[n-1].EndS == nil {
		c := d.Negotiation.Contracts[n-1]
		parts = append(parts, fmt.Sprintf("contract %s %s", milli(c.VoltageMV, "V"), milli(c.CurrentMA, "A")))
	}
	if n := len(d.Draw.Profile); n > 0 {
		parts = append(parts, d.Draw.Profile[n-1].Phase)
	}
	return strings.Join(append(parts, strings.TrimSuffix(verdictLine(&d.Verdict), ".")), " | ")
}

// fixed prints a figure of constant width, so that a live line stands still.
func fixed(x float64, digits int, unit string) string {
	if math.IsNaN(x) {
		return unknown + " " + unit
	}
	return fmt.Sprintf("%6.*f %s", digits, x, unit)
}

func (e *events) erase() error {
	if !e.drawn {
		return nil
	}
	e.drawn = false
	_, err := io.WriteString(e.w, eraseLine)
	return err
}

func (e *events) Close() error { return e.erase() }
