package lessons

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"

	"portside/captures/bench"
	"portside/decode"
	"portside/decode/location"
	"portside/decode/probe"
	"portside/decode/rules"
)

// Case is one case to be solved.
type Case struct {
	Number int    // from 1
	Level  int    // 1 to 3
	Seed   uint64 // of its bench
	Run    *bench.Run
	Plain  *decode.Diagnosis // of the recording alone

	Readings []probe.Reading
	Minutes  float64
	Unsafe   string // why it is lost: a shorted node was powered; "" while it is not
	opened   bool
}

// Levels of difficulty, by the share that the engine gives the truth from the
// recording alone.
const (
	Levels   = 3
	plain    = 0.75
	hardly   = 0.45
	drawMost = 60 // tries to find a case of a level
)

// practiceStream parts the draws of practice from those of the bench.
const practiceStream = 0x70726163

// NewCase draws the case of a number at a level. The same seed, number and
// level give the same case.
func NewCase(seed uint64, number, level int) (*Case, error) {
	r := rand.New(rand.NewPCG(seed, practiceStream+uint64(number)<<8+uint64(level)))
	all := bench.Families()
	var last *Case
	for range drawMost {
		f := all[r.IntN(len(all))]
		c := &Case{Number: number, Level: level, Seed: r.Uint64N(1e6)}
		run, err := bench.Simulate(f.Draw(c.Seed), c.Seed)
		if errors.Is(err, bench.ErrSolver) {
			continue
		}
		if err != nil {
			return nil, err
		}
		c.Run, c.Plain = run, diagnose(run, false)
		if last = c; levelOf(c) == level {
			return c, nil
		}
	}
	if last == nil {
		return nil, errors.New("no case could be drawn")
	}
	last.Level = levelOf(last)
	return last, nil
}

func levelOf(c *Case) int {
	switch share := c.Plain.Verdict.Locations[c.Truth()]; {
	case share >= plain:
		return 1
	case share >= hardly:
		return 2
	}
	return Levels
}

// Truth is where the fault lies.
func (c *Case) Truth() rules.Location { return locationOf(&c.Run.Scenario) }

// Part is the faulty part; "" where all is sound.
func (c *Case) Part() string { return c.Run.Scenario.Part }

// ErrNoReading is wrapped for a measurement that nobody can make here.
var ErrNoReading = errors.New("no such measurement")

// Asks lists what can be measured here, with what it takes from now on.
func (c *Case) Asks() []location.Ask {
	var out []location.Ask
	for _, a := range location.Asks() {
		if _, ok := c.Run.Scenario.Reading(a.Reading, c.Run.Seed); !ok {
			continue
		}
		if a.Inside && !c.opened {
			a.Minutes += location.OpenMinutes
		}
		out = append(out, a)
	}
	return out
}

// Measure takes a reading of the simulated unit and its minutes. Powering a
// node that is shorted, before its cold reading or in spite of it, loses the
// case.
func (c *Case) Measure(name string) (probe.Reading, location.Ask, error) {
	all := c.Asks()
	i := slices.IndexFunc(all, func(a location.Ask) bool { return a.Reading == name })
	if i < 0 {
		return probe.Reading{}, location.Ask{}, fmt.Errorf("%w: %s", ErrNoReading, name)
	}
	ask := all[i]
	if ask.Powers && c.Unsafe == "" {
		c.Unsafe = c.harm(ask)
	}
	value, _ := c.Run.Scenario.Reading(name, c.Run.Seed)
	r, err := probe.ParseReading(name + "=" + value)
	if err != nil {
		return r, ask, err
	}
	c.Minutes += ask.Minutes
	c.opened = c.opened || ask.Inside
	c.Readings = slices.DeleteFunc(c.Readings, func(x probe.Reading) bool { return x.Name == name })
	c.Readings = append(c.Readings, r)
	return r, ask, nil
}

// harm says what goes up in smoke when the unit is powered now.
func (c *Case) harm(ask location.Ask) string {
	cold := location.ColdReadings(c.Part())
	if len(cold) == 0 {
		return ""
	}
	i := slices.IndexFunc(c.Readings, func(r probe.Reading) bool { return slices.Contains(cold, r.Name) })
	switch {
	case i < 0:
		return fmt.Sprintf("%s powers the unit, and %s was not read cold before: the short got the current", ask.Reading, cold[0])
	case location.ReadsShort(c.Readings[i]):
		return fmt.Sprintf("%s powers the unit, although %s had read a short", ask.Reading, c.Readings[i])
	}
	return ""
}

// Points of a case.
const (
	fullPoints  = 100
	leastPoints = 20 // of a right and safe answer, however long it took
)

// Score is what an answer is worth: nothing where it is wrong or a short was
// powered, else a hundred less one a minute.
func (c *Case) Score(answer rules.Location) int {
	if answer != c.Truth() || c.Unsafe != "" {
		return 0
	}
	return max(leastPoints, fullPoints-int(c.Minutes+0.5))
}

// Explained is what the engine says of the recording with the readings taken.
func (c *Case) Explained() *decode.Diagnosis { return diagnose(c.Run, false, c.Readings...) }
