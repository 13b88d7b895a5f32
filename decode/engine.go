// Package decode runs the stages from what was recorded to what it means: the
// draw, the negotiation, the findings, the fault location.
package decode

import (
	"fmt"
	"slices"
	"time"

	"portside/captures"
	"portside/decode/clocks"
	"portside/decode/draw"
	"portside/decode/line"
	"portside/decode/location"
	"portside/decode/negotiation"
	"portside/decode/probe"
	"portside/decode/rules"
	"portside/decode/signs"
	"portside/pd"
)

// DefaultAccuracyPercent is the limit of a meter in percent of reading, where none
// is given: common practice for inline meters (0.5 to 1 %).
const DefaultAccuracyPercent = 1.0

// AccuracyPercent is a meter's limit as it was given, else the default. Zero is a
// meter without error, and not an unknown one.
func AccuracyPercent(given *float64) float64 {
	if given == nil {
		return DefaultAccuracyPercent
	}
	return *given
}

// Options say how a recording was made. The zero value is usable.
type Options struct {
	Readings  []probe.Reading
	MeterAt   string   // source, device or "" unknown
	AccuracyV *float64 // limits of the meter in percent of reading; nil where not given
	AccuracyA *float64
}

// Engine takes the records of a recording one at a time, in the order of
// time, and keeps bounded state. It is not safe for concurrent use.
type Engine struct {
	options     Options
	accuracyV   float64 // percent of reading
	accuracyA   float64
	draw        *draw.Analyser
	negotiation *negotiation.Tracker
	meter       bool // a meter log belongs to the recording
	messages    bool
	line        *line.Result
}

// NewEngine returns an engine for one recording.
func NewEngine(o Options) *Engine {
	e := &Engine{draw: draw.New(draw.Options{}), negotiation: negotiation.New(negotiation.Options{})}
	e.SetOptions(o)
	return e
}

// SetOptions changes what is said of the recording beside its records, such as a
// reading taken after it. The next Diagnose goes by it; no record is needed again.
func (e *Engine) SetOptions(o Options) {
	e.options = o
	e.accuracyV, e.accuracyA = AccuracyPercent(o.AccuracyV), AccuracyPercent(o.AccuracyA)
}

// Sample takes the next sample. The engine keeps no pointer to it.
func (e *Engine) Sample(s *captures.Sample) {
	e.meter = true
	e.draw.Add(s)
}

// Message takes the next message. The engine keeps no pointer to it.
func (e *Engine) Message(m *captures.Message) {
	e.messages = true
	e.negotiation.Add(m)
}

// Line takes what a line recording says of the line itself, before Diagnose.
func (e *Engine) Line(r *line.Result) { e.line = r }

// Take takes the next record of a recording.
func (e *Engine) Take(r captures.Record) {
	if r.Sample != nil {
		e.Sample(r.Sample)
		return
	}
	e.Message(r.Message)
}

// Diagnose says what the records so far mean. It may be called at any time,
// and the engine goes on after it. Stats and clocks are those of the inputs,
// in their order; both may be empty where only readings were given.
func (e *Engine) Diagnose(stats []captures.Stats, given []captures.Clock) *Diagnosis {
	evidence, alignment, leftOut := e.evidence(stats, given)
	facts, findings := evidence.Facts, evidence.Findings
	where := location.Locate(evidence)

	d := &Diagnosis{
		Schema:   Schema,
		Inputs:   inputs(stats, facts.Draw != nil && facts.Draw.Turned),
		Verdict:  where.Verdict,
		Findings: findings, LeftOut: leftOut,
		Negotiation: facts.Negotiation,
		Draw:        facts.Draw,
		Clock:       pairClock(stats, given, alignment),
		Clocks:      inputClocks(stats, given, alignment),
		Suspects:    where.Suspects,
		Next:        where.Next,
		Locate:      where.Locate,
		Line:        e.line,
		NotSeen:     append(notSeen(&facts, stats, alignment), where.NotSeen...),
	}
	if d.Draw == nil {
		d.Draw = draw.New(draw.Options{}).Result()
	}
	if d.Negotiation == nil {
		d.Negotiation = negotiation.New(negotiation.Options{}).Result()
	}
	d.Measured = d.Draw.Measured
	return d
}

// Evidence is what a verdict on the records so far rests on.
func (e *Engine) Evidence(stats []captures.Stats, given []captures.Clock) signs.Evidence {
	out, _, _ := e.evidence(stats, given)
	return out
}

func (e *Engine) evidence(stats []captures.Stats, given []captures.Clock) (out signs.Evidence, alignment clocks.Alignment, leftOut int) {
	out.Readings = e.options.Readings
	out.Facts, alignment = e.facts(stats, given)
	out.Findings, leftOut = rules.Run(&out.Facts)
	nameInputs(out.Findings, stats, out.Facts.Aligned)
	return out, alignment, leftOut
}

// facts takes the snapshots. An input that was given but held no row is still
// a fact: an empty message list beside a meter log is evidence of silence.
func (e *Engine) facts(stats []captures.Stats, given []captures.Clock) (rules.Facts, clocks.Alignment) {
	for _, s := range stats {
		e.meter = e.meter || s.Samples
		e.messages = e.messages || s.Messages
	}
	f := rules.Facts{
		Line:      e.line,
		Aligned:   aligned(given),
		MeterAt:   e.options.MeterAt,
		AccuracyV: e.accuracyV,
		AccuracyA: e.accuracyA,
	}
	if e.meter {
		f.Draw = e.draw.Result()
	}
	if e.messages {
		f.Negotiation = e.negotiation.Result()
	}
	if f.Draw != nil && f.Negotiation != nil && adjustable(f.Negotiation) {
		f.Draw.Measured.SeriesResistanceOhm = nil
	}
	var a clocks.Alignment
	switch {
	case f.Draw == nil || f.Negotiation == nil || f.Aligned:
	case !looseMeter(stats, given): // what was stated is not estimated
		a.Reason = "the clock of a file beside the meter log is not known"
	default:
		if a = clocks.Of(f.Draw, f.Negotiation); a.Determined {
			f.Draw, f.Aligned, f.ClockU = f.Draw.Retimed(a.At), true, 2*a.Uncertainty
		}
	}
	return f, a
}

// Alignment is how the clock of the meter lies to the messages', found from what both
// saw so far.
func (e *Engine) Alignment() clocks.Alignment {
	return clocks.Of(e.draw.Result(), e.negotiation.Result())
}

// adjustable reports a contract whose voltage is asked for in steps (PPS, AVS):
// its slope on the current says nothing of the cable.
func adjustable(n *negotiation.Result) bool {
	return slices.ContainsFunc(n.Contracts, func(c negotiation.Contract) bool {
		return c.Kind == pd.KindPPS.String() || c.Kind == pd.KindSPRAVS.String() || c.Kind == pd.KindEPRAVS.String()
	})
}

// aligned reports whether every input lies on one clock that was stated.
func aligned(given []captures.Clock) bool {
	return !slices.ContainsFunc(given, func(c captures.Clock) bool { return c.Offset == nil })
}

// looseMeter reports a meter log whose clock nobody stated.
func looseMeter(stats []captures.Stats, given []captures.Clock) bool {
	for i, c := range given {
		if c.Offset == nil && i < len(stats) && stats[i].Samples {
			return true
		}
	}
	return false
}

// nameInputs says which file a finding's times belong to, where files share
// no clock.
func nameInputs(findings []rules.Finding, stats []captures.Stats, aligned bool) {
	if aligned || len(stats) < 2 {
		return
	}
	for i := range findings {
		holds := func(s captures.Stats) bool { return s.Messages }
		if findings[i].FromMeter {
			holds = func(s captures.Stats) bool { return s.Samples }
		}
		if at := slices.IndexFunc(stats, holds); at >= 0 {
			findings[i].Input = &stats[at].Path
		}
	}
}

// Inputs lists the files and what could be read of them.
func Inputs(stats []captures.Stats) []Input { return inputs(stats, false) }

// inputs lists the files. A turned meter is told where its file is.
func inputs(stats []captures.Stats, turned bool) []Input {
	out := []Input{}
	for _, s := range stats {
		in := Input{Path: s.Path, Kind: s.Kind.String(), Records: s.Records, Skipped: s.Skipped, Problems: []Problem{}, Notes: []string{}}
		if s.Records > 0 {
			in.StartS, in.EndS = seconds(s.Start), seconds(s.End)
		}
		for _, p := range s.Problems {
			problem := Problem{Text: p.Text}
			if p.Line > 0 {
				problem.Line = &p.Line
			}
			if p.HasAt {
				problem.TimeS = seconds(p.At)
			}
			in.Problems = append(in.Problems, problem)
		}
		in.Notes = append(in.Notes, s.Notes...)
		if turned && s.Samples {
			in.Notes = append(in.Notes, "the current was negative during the draw: the meter was turned round, and its sign is turned here")
		}
		out = append(out, in)
	}
	return out
}

func seconds(d time.Duration) *float64 {
	s := d.Seconds()
	return &s
}

// notSeen says what the recording cannot show, and why.
func notSeen(f *rules.Facts, stats []captures.Stats, a clocks.Alignment) []string {
	out := []string{}
	if f.Negotiation == nil {
		out = append(out, "the negotiation: no message list was given, so the CC line is unknown")
	} else {
		out = append(out, notSeenMessages(f.Negotiation)...)
	}
	if f.Draw == nil {
		out = append(out, "voltage and current: no meter log was given")
	} else {
		out = append(out, notSeenDraw(f.Draw)...)
	}
	if f.Draw != nil && f.Negotiation != nil && !f.Aligned {
		files := "files"
		if len(stats) == 2 {
			files = "two files"
		}
		out = append(out, "what happened first across the "+files+": "+a.Reason+"; state the offset with --shift meter=SECONDS if you know it")
	}
	for _, s := range stats {
		if s.Skipped > 0 {
			out = append(out, fmt.Sprintf("rows of %s that could not be read: %d", s.Path, s.Skipped))
		}
	}
	return out
}

func notSeenMessages(n *negotiation.Result) []string {
	var out []string
	if n.Messages > 0 && n.GoodCRCs == 0 {
		out = append(out, "acknowledgements: the recorder shows no GoodCRC, so nothing is judged unacknowledged")
	}
	if n.BeginsInside {
		out = append(out, "how the connection began: the recording begins inside it, and what came before is unknown")
	}
	if n.Software {
		out = append(out, "limits below 15 ms: the times are software stamps of one side")
	}
	return out
}

// pulseOfInterestS is the on-time of a charger's retry into a short: 10 ms,
// data sheet SLUSDU3.
const pulseOfInterestS = 0.010

func notSeenDraw(d *draw.Result) []string {
	var out []string
	s := d.Sampling
	if s.IntervalS > pulseOfInterestS {
		missed := 100 * (1 - pulseOfInterestS/s.IntervalS)
		out = append(out, fmt.Sprintf("short pulses: at %.3g samples a second a 10 ms pulse is missed %.0f times in 100", 1/s.IntervalS, missed))
	}
	if s.N > 0 && s.WithCurrent == 0 {
		out = append(out, "the draw: the log has no current")
	}
	if s.N > 0 && s.WithVoltage == 0 {
		out = append(out, "VBUS: the log has no voltage")
	}
	for _, g := range d.Gaps[:min(3, len(d.Gaps))] {
		out = append(out, fmt.Sprintf("from %.2f s to %.2f s: the log has a gap", g.StartS, g.EndS))
	}
	if more := len(d.Gaps) - 3; more > 0 {
		out = append(out, fmt.Sprintf("%d further gaps of the log", more))
	}
	return out
}
