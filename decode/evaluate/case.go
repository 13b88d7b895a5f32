// Package evaluate measures how right and how honest the verdict is: on cases
// drawn at random from the simulated bench, or on a folder of confirmed jobs. It
// changes nothing in the verdict.
package evaluate

import (
	"bytes"
	"io"
	"math/rand/v2"

	"portside/captures/bench"
	"portside/decode/rules"
)

// Case is a recording whose answer is known.
type Case struct {
	Family  string // that it was drawn from, or the name of its folder
	Truth   rules.Location
	MeterAt string     // source or device; empty where nobody noted it
	Run     *bench.Run // nil where the case was not simulated
	files   []file
}

// file is one recording of a case.
type file struct {
	name  string
	meter bool // else messages, of whatever kind
	open  func() (io.ReadCloser, error)
}

// Draw simulates the case of a seed: a family of the bench, with machine,
// charger, cable, fault and meter drawn from its stated ranges.
func Draw(seed uint64) (Case, error) {
	all := bench.Families()
	f := all[rand.New(rand.NewPCG(seed, 0x5EED)).IntN(len(all))]
	run, err := bench.Simulate(f.Draw(seed), seed)
	if err != nil {
		return Case{}, err
	}
	return Simulated(f.Name, run), nil
}

// Simulated is the case of a run, with the files that a user would have of it.
func Simulated(family string, run *bench.Run) Case {
	c := Case{Family: family, Truth: rules.Location(run.Scenario.Location), MeterAt: string(run.Scenario.Parameters.Meter), Run: run}
	if run.Scenario.Parameters.MessagesRecorded && len(run.Messages) > 0 {
		c.files = append(c.files, file{name: "messages.csv", open: written(run.WriteMessagesCSV)})
	}
	c.files = append(c.files, file{name: "meter.csv", meter: true, open: written(run.WriteMeterCSV)})
	return c
}

func written(write func(io.Writer) error) func() (io.ReadCloser, error) {
	return func() (io.ReadCloser, error) {
		var b bytes.Buffer
		err := write(&b)
		return io.NopCloser(&b), err
	}
}

// holds reports files for the inputs: messages and meter logs where both are
// asked for.
func (c Case) holds(inputs string) bool {
	meters, messages := 0, 0
	for _, f := range c.files {
		if f.meter {
			meters++
		} else {
			messages++
		}
	}
	switch inputs {
	case Meter:
		return meters > 0
	case Messages:
		return messages > 0
	default:
		return meters > 0 && messages > 0
	}
}
