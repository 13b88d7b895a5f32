package evaluate

import (
	"errors"
	"io"

	"portside/captures"
	"portside/decode"
	"portside/decode/probe"
	"portside/decode/rules"
)

// What a case is judged from.
const (
	Meter    = "meter"
	Messages = "messages"
	Both     = "both"
)

// Judge reads the case's own files, as a user's would be, and says what the
// verdict is, with what was read at the bench.
func Judge(c Case, inputs string, readings ...probe.Reading) (Judged, *decode.Diagnosis, error) {
	r, err := take(c, inputs)
	if err != nil {
		return Judged{}, nil, err
	}
	d := r.diagnose(readings)
	j := Judged{Family: c.Family, Inputs: inputs, Truth: c.Truth, Named: d.Verdict.Location, Shares: d.Verdict.Locations}
	if d.Draw.Sampling.IntervalS > 0 {
		j.MeterHz = 1 / d.Draw.Sampling.IntervalS
	}
	return j, d, nil
}

// taken is a case whose files were read: readings may be added without reading
// them again.
type taken struct {
	engine    *decode.Engine
	recording *captures.Recording
	meterAt   string
}

func take(c Case, inputs string) (*taken, error) {
	var files []captures.RecordingInput
	for _, f := range c.files {
		if f.meter && inputs == Messages || !f.meter && inputs == Meter {
			continue
		}
		r, err := f.open()
		if err != nil {
			return nil, err
		}
		defer r.Close() //nolint:errcheck // it was only read
		in, err := captures.Open(f.name, r, reading())
		if err != nil {
			return nil, err
		}
		files = append(files, captures.RecordingInput{Input: in})
	}
	t := &taken{decode.NewEngine(decode.Options{MeterAt: c.MeterAt}), captures.NewRecording(files), c.MeterAt}
	for {
		record, err := t.recording.Next()
		if errors.Is(err, io.EOF) {
			return t, nil
		}
		if err != nil {
			return nil, err
		}
		t.engine.Take(record)
	}
}

func (t *taken) diagnose(readings []probe.Reading) *decode.Diagnosis {
	t.engine.SetOptions(decode.Options{MeterAt: t.meterAt, Readings: readings})
	return t.engine.Diagnose(t.recording.Stats(), t.recording.Clocks())
}

// Opponents are simple ways to tell the side, to beat in the same run.
var Opponents = []struct {
	Name string
	Tell func(*decode.Diagnosis) rules.Location
}{
	{"always the most frequent", func(*decode.Diagnosis) rules.Location { return rules.BehindPort }},
	{"thresholds on voltage and current", thresholds},
	{"a senior's list of questions", questions},
}

// thresholds look at the display: no VBUS, stuck at 5 V, no draw, a draw.
func thresholds(d *decode.Diagnosis) rules.Location {
	s := d.Draw.Sampling
	switch {
	case s.N == 0 || s.WithVoltage == 0:
		return rules.BehindPort
	case s.MaxV < 4:
		return rules.BeforePort
	case s.MaxV < 6:
		return rules.AtPort
	case s.MaxA < 0.1:
		return rules.BehindPort
	}
	return rules.Healthy
}

// questions go from the wall to the board, as a senior technician asks them:
// common practice.
func questions(d *decode.Diagnosis) rules.Location {
	for _, x := range []struct {
		rule string
		side rules.Location
	}{
		{"power-ready-missing", rules.BeforePort}, {"vbus-out-of-range", rules.BeforePort},
		{"series-resistance-high", rules.BeforePort},
		{"capabilities-unanswered", rules.AtPort}, {"request-missing", rules.AtPort},
		{"staircase-draw", rules.BehindPort}, {"retry-pulses", rules.BehindPort},
		{"vbus-collapse", rules.BeforePort}, {"stuck-at-5v", rules.AtPort}, {"no-vbus", rules.AtPort},
		{"resistive-load", rules.AtPort}, {"no-draw-at-contract", rules.BehindPort},
	} {
		for _, f := range d.Findings {
			if f.Rule == x.rule && f.Severity != rules.Note {
				return x.side
			}
		}
	}
	return rules.Healthy
}
