// Package lessons tells power-ups step by step, and sets cases to solve, from
// the simulated bench. Its prose holds no figure: each one that a lesson shows
// comes from the simulated recording, from the engine that read it, or from the
// standard's tables.
package lessons

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"portside/captures"
	"portside/captures/bench"
	"portside/decode"
	"portside/decode/probe"
)

// Lesson is one power-up, walked through, beside the sound one it is held to.
type Lesson struct {
	Name, Title, Lead string
	Steps             []Step
	Mine              *Recording
	Sound             *Recording // nil where the lesson itself is of a sound machine
	PartsAt           int        // the step at which it leaves the sound one; -1: it never does
}

// Recording is a simulated power-up with what the engine reads of it. Meter
// and messages share one clock.
type Recording struct {
	Run       *bench.Run
	Diagnosis *decode.Diagnosis
	seen      events
}

// First is the lesson to begin with: a sound machine that charges.
const First = "sound-charging"

// aloneSound is the sound counterpart of a board whose battery is out.
const aloneSound = "board-alone"

// ErrNoLesson is returned for a name that no lesson has.
var ErrNoLesson = errors.New("there is no such lesson")

// List names the lessons: the sound power-up first, then a family of faults
// each.
func List() []bench.Family {
	var out []bench.Family
	for _, f := range bench.Families() {
		switch {
		case f.Name == First:
			out = slices.Insert(out, 0, f)
		case f.Location != bench.Healthy:
			out = append(out, f)
		}
	}
	return out
}

// New makes the lesson of a family of the bench. The same seed gives the same
// lesson.
func New(name string, seed uint64) (*Lesson, error) {
	f, ok := bench.FindFamily(name)
	if !ok {
		return nil, ErrNoLesson
	}
	mine, err := record(f, seed)
	if err != nil {
		return nil, err
	}
	l := &Lesson{Name: f.Name, Title: f.Title, Lead: lead(mine), Mine: mine, PartsAt: -1}
	if f.Location != bench.Healthy {
		beside := First
		if !mine.Run.Scenario.Parameters.BatteryConnected {
			beside = aloneSound
		}
		sound, _ := bench.FindFamily(beside)
		if l.Sound, err = record(sound, seed); err != nil {
			return nil, err
		}
	}
	l.walk()
	return l, nil
}

// lead says what stands on the bench, from its parameters.
func lead(r *Recording) string {
	p := &r.Run.Scenario.Parameters
	charger, battery := "a charger without messages", "its battery disconnected"
	if p.SourcePD {
		charger = fmt.Sprintf("a charger of %.3g W", float64(offered(p))/1000)
	}
	if p.BatteryConnected {
		battery = fmt.Sprintf("a battery of %.3g cells", p.BatteryCells)
	}
	return fmt.Sprintf("On the simulated bench: %s, a cable, and a machine with %s. The meter sits at the %s's end of the cable. Time is counted from the moment the plug goes in.", charger, battery, p.Meter)
}

// A lesson is told from a good meter on the messages' clock, for so long.
const (
	lessonHz   = 500.0
	longestS   = 60.0
	lessonStep = 0.001
)

// record simulates a power-up and has the engine read it.
func record(f bench.Family, seed uint64) (*Recording, error) {
	s := f.Draw(seed)
	p := &s.Parameters
	p.DurationS = min(p.DurationS, longestS)
	p.MessagesRecorded, p.MessagesNoAck = true, false
	p.MeterHz, p.MeterJitterS, p.MeterDropped, p.MeterClockPPM = lessonHz, 0, 0, 0
	p.MeterStepV, p.MeterStepA, p.MeterNoiseV, p.MeterNoiseA = lessonStep, lessonStep, lessonStep, lessonStep
	p.MeterGainV, p.MeterGainA, p.MeterOffsetV, p.MeterOffsetA = 1, 1, 0, 0
	p.MeterStartS, p.MessagesStartS = -p.AttachS, -p.AttachS // time is counted from the plug
	p.MeterFromS, p.MessagesFromS = 0, 0
	if p.SinkWantsMW > offered(p) && !slices.Contains(f.Rules, mismatch) {
		p.SinkWantsMW = offered(p) // no mismatch that the lesson is not about
	}
	run, err := bench.Simulate(s, seed)
	if err != nil {
		return nil, err
	}
	r := &Recording{Run: run, Diagnosis: diagnose(run, true)}
	r.seen = eventsOf(r)
	return r, nil
}

// diagnose has the engine read a run. Where oneClock is false it must find out
// by itself how the two clocks lie.
func diagnose(run *bench.Run, oneClock bool, readings ...probe.Reading) *decode.Diagnosis {
	e := decode.NewEngine(decode.Options{MeterAt: string(run.Scenario.Parameters.Meter), Readings: readings})
	for i := range run.Rows {
		e.Sample(&run.Rows[i])
	}
	stats := []captures.Stats{{Path: "meter.csv", Kind: captures.KindMeter, Records: len(run.Rows), Samples: true}}
	clocks := []captures.Clock{{Path: "meter.csv"}}
	if run.Scenario.Parameters.MessagesRecorded {
		for i := range run.Messages {
			e.Message(&run.Messages[i])
		}
		stats = append(stats, captures.Stats{Path: "messages.csv", Kind: captures.KindMessages, Records: len(run.Messages), Messages: true})
		clocks = append(clocks, captures.Clock{Path: "messages.csv", Offset: new(time.Duration), Reference: true})
	}
	if oneClock || len(clocks) == 1 {
		clocks[0].Offset, clocks[0].Stated = new(time.Duration), true
	}
	return e.Diagnose(stats, clocks)
}

// mismatch is the rule of a sink that wants more than it is offered.
const mismatch = "capability-mismatch"

// offered is the most power that the source offers, in milliwatts.
func offered(p *bench.Parameters) int {
	most := 0.0
	for _, o := range p.Offers {
		most = max(most, o.Volts*o.Amps)
	}
	return int(1000 * most)
}
