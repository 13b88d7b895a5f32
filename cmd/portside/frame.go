package main

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"portside/captures"
	"portside/cmd/portside/text"
	"portside/decode/line"
	"portside/decode/message"
)

// showFrame draws one frame of a line recording.
func showFrame(cmd *cobra.Command, s *streams, o *decodeFlags, args []string) error {
	switch {
	case o.detail || o.sequences:
		return usage("--frame shows one message bit by bit: give it without --detail and --sequences")
	case o.frame < 1:
		return usage("--frame counts from 1, found %d", o.frame)
	}
	ctx, found := context.WithCancel(cmd.Context())
	defer found()
	var frame *line.Frame
	var said saying
	var inWords interpreter
	n := 0
	rec, err := openRecordingSeen(&o.recordingFlags, s, args, func(f *line.Frame) {
		if frame != nil {
			return
		}
		spoken := inWords.take(f)
		if n++; n == o.frame {
			frame, said = f, spoken
			found()
		}
	})
	if err != nil {
		return err
	}
	defer rec.close()
	err = rec.each(ctx, func(captures.Record) {})
	switch {
	case frame != nil && (err == nil || errors.Is(err, context.Canceled)):
	case err != nil:
		return err
	case len(rec.lines) == 0:
		return rec.without("a recording of the CC line")
	default:
		return unreadable(rec.stats()[0].Path, "expected a message %d, found %d on the line", o.frame, n)
	}
	health := rec.health()
	if o.json {
		err = writeJSON(s.out, frameDocument(o.frame, frame, health.Limits))
	} else {
		err = text.Frame(s.out, s.look(o.noColor), frameView(o.frame, frame, said, health))
	}
	if err != nil {
		return fmt.Errorf("the result could not be written: %w", err)
	}
	if rec.unread {
		return &failure{status: exitInput, told: true}
	}
	return nil
}

// telling keeps the frame of a recording that tells most: the first that is broken, else
// the first.
type telling struct {
	count int
	n     int // of the frame, from 1
	frame *line.Frame
	said  saying

	inWords interpreter
}

func (t *telling) take(f *line.Frame) {
	t.count++
	said := t.inWords.take(f)
	if f.Picture == nil || len(f.Picture.Bits) == 0 {
		return
	}
	if t.frame == nil || broken(f) && !broken(t.frame) {
		t.n, t.frame, t.said = t.count, f, said
	}
}

// broken reports a frame that nobody can use. One that is cut short comes before a
// reset, and at the end of a recording.
func broken(f *line.Frame) bool {
	return !f.Good && f.Reason != line.CutShort && f.Reason != line.RecordingEnds
}

// view is the frame as it is drawn; nil where the recording has no line.
func (t *telling) view(health *line.Result) *text.FrameView {
	if t.frame == nil || health == nil {
		return nil
	}
	v := frameView(t.n, t.frame, t.said, health)
	return &v
}

// saying is who speaks in a frame, and what.
type saying struct{ by, what string }

// interpreter says what stands in frames, each in the light of those before it: a
// Request answers an offer.
type interpreter struct{ decoder *message.Decoder }

// take says the next frame. One that is no message is said by itself.
func (i *interpreter) take(f *line.Frame) saying {
	if i.decoder == nil {
		i.decoder = message.NewDecoder()
	}
	d := i.decoder
	if !f.Good && (f.Set == 0 || f.Set.IsReset()) {
		d = message.NewDecoder()
	}
	m := f.Message()
	l := d.Decode(&m)
	return saying{who(l), l.Text()}
}

// frameView is the frame as it is drawn, and what is said in it.
func frameView(n int, f *line.Frame, said saying, health *line.Result) text.FrameView {
	p, m, limits := f.Picture, f.Measured, health.Limits
	view := text.FrameView{
		Title: fmt.Sprintf("Message %d of the line, at %s s", n, seconds(f.Start)),
		Set:   f.Set.String(), Bits: p.Bits, SetAt: p.SetAt, High: p.High, Symbols: p.Symbols(),
	}
	view.Who, view.Said = said.by, said.what
	if !f.Good {
		view.Broken = f.Reason.String()
	}
	for _, at := range p.Starts {
		view.StartsUS = append(view.StartsUS, float64(at-f.Start)/1e3)
	}
	figure := func(name, format string, value float64, limit string) {
		if !math.IsNaN(value) {
			view.Figures = append(view.Figures, text.FrameFigure{Name: name, Value: fmt.Sprintf(format, value), Limit: limit})
		}
	}
	figure("bit rate", "%.2f kbit/s", m.BitRateHz/1e3, fmt.Sprintf("%g to %g kbit/s", limits.BitRateHz[0]/1e3, limits.BitRateHz[1]/1e3))
	figure("preamble", "%.0f good bits", float64(f.PreambleBits), fmt.Sprintf("%d bits, of which the first may be lost", limits.PreambleBits))
	figure("drift", "%.2f %%", m.DriftPercent, fmt.Sprintf("at most %g %%", limits.DriftPercent))
	figure("jitter", "%.3f us"+text.GridJitter(health), m.JitterUS, fmt.Sprintf("every edge within %.2f us of its place", limits.EdgeUS))
	figure("duty", "%.1f %%", m.DutyPercent, "50 %")
	figure("swing", "%.2f V", m.HighV-m.LowV, fmt.Sprintf("%g to %g V", limits.SwingV[0], limits.SwingV[1]))
	figure("rest before it", "%.2f V", m.RestV, "by Rp")
	return view
}

const frameSchema = "portside/frame/1"

// frameJSON is one frame of the line as a JSON document.
type frameJSON struct {
	Schema   string      `json:"schema"`
	Frame    int         `json:"frame"`
	StartS   float64     `json:"start_s"`
	EndS     float64     `json:"end_s"`
	SOP      string      `json:"sop"`
	CRCOK    *bool       `json:"crc_ok"` // null for a reset
	Problem  *string     `json:"problem"`
	Bytes    string      `json:"bytes"`
	CRC      *string     `json:"crc"`
	Bits     string      `json:"bits"`
	SetAt    *int        `json:"set_at"` // the bit where the ordered set begins
	Symbols  []string    `json:"symbols"`
	Preamble int         `json:"preamble_bits"`
	RateHz   float64     `json:"bit_rate_hz"`
	Drift    *float64    `json:"drift_percent"`
	JitterUS *float64    `json:"jitter_us"`
	Duty     *float64    `json:"duty_percent"`
	HighV    *float64    `json:"high_v"`
	LowV     *float64    `json:"low_v"`
	RestV    *float64    `json:"rest_v"`
	Limits   line.Limits `json:"limits"`
}

func frameDocument(n int, f *line.Frame, limits line.Limits) frameJSON {
	m := f.Measured
	known := func(v float64) *float64 {
		if math.IsNaN(v) {
			return nil
		}
		return &v
	}
	out := frameJSON{
		Schema: frameSchema, Frame: n, StartS: f.Start.Seconds(), EndS: f.End.Seconds(), SOP: f.Set.String(),
		Bytes: hex.EncodeToString(f.Bytes), Symbols: []string{}, Preamble: f.PreambleBits, RateHz: m.BitRateHz,
		Drift: known(m.DriftPercent), JitterUS: known(m.JitterUS), Duty: known(m.DutyPercent),
		HighV: known(m.HighV), LowV: known(m.LowV), RestV: known(m.RestV), Limits: limits,
	}
	if !f.Set.IsReset() {
		out.CRCOK = &f.Good
	}
	if !f.Good {
		why := f.Reason.String()
		out.Problem = &why
	}
	if f.HasCRC {
		crc := hex.EncodeToString(f.CRC[:])
		out.CRC = &crc
	}
	bits := make([]byte, len(f.Picture.Bits))
	for i, b := range f.Picture.Bits {
		bits[i] = '0' + b
	}
	out.Bits = string(bits)
	if f.Picture.SetAt >= 0 {
		out.SetAt = &f.Picture.SetAt
	}
	for _, s := range f.Picture.Symbols() {
		out.Symbols = append(out.Symbols, s.String())
	}
	return out
}
