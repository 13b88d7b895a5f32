package evaluate

import (
	"flag"
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/location"
	"portside/decode/probe"
)

var long = flag.Bool("long", false, "take true readings in 2,000 cases")

// A true reading speaks for the truth, on average: each measurement that may be
// asked for, after others in any order, over cases of every family. A verdict that
// misreads a measurement loses here.
func TestTrueReadingsSpeakForTheTruth(t *testing.T) {
	cases, slack := 24, 0.06 // of a natural logarithm, for so few cases
	if *long {
		cases, slack = 2000, 0.005
	}
	var mu sync.Mutex
	moved, n := map[string]float64{}, map[string]float64{}
	total := 0.0
	err := each(Options{Cases: cases, First: 800000, Workers: 2}, func(c Case) error {
		inputs := Both
		if !c.holds(Both) {
			inputs = Meter
		}
		unit, err := take(c, inputs)
		if err != nil {
			return err
		}
		asks := location.Asks()
		r := rand.New(rand.NewPCG(c.Run.Seed, 5))
		r.Shuffle(len(asks), func(i, j int) { asks[i], asks[j] = asks[j], asks[i] })
		var given []probe.Reading
		last := math.Log(unit.diagnose(nil).Verdict.Locations[c.Truth])
		for _, a := range asks {
			reading, err := answer(c, a.Reading)
			if err != nil {
				return err
			}
			given = append(given, reading)
			now := math.Log(unit.diagnose(given).Verdict.Locations[c.Truth])
			mu.Lock()
			moved[a.Reading], n[a.Reading], total = moved[a.Reading]+now-last, n[a.Reading]+1, total+now-last
			mu.Unlock()
			last = now
		}
		return nil
	})
	require.NoError(t, err)
	for reading := range moved {
		assert.Greater(t, moved[reading]/n[reading], -slack, reading)
	}
	assert.Greater(t, total/float64(cases), 0.15, "all readings together")
}

// What the walks come to, counted by hand.
func TestTally(t *testing.T) {
	never := math.Inf(1)
	r := &AdviceReport{
		Advice:   []Walk{{}, {Minutes: 7, Steps: 1}, {Minutes: 15, Steps: 1, Worst: -0.8}, {Minutes: 3, Steps: 1}, {Minutes: never, Steps: 4, Unsafe: 1}, {Minutes: never, Steps: 2, Wrong: true}},
		Order:    []Walk{{}, {Minutes: 10, Steps: 3}, {Minutes: 17, Steps: 2, Unsafe: 2}, {Minutes: never, Steps: 10}, {Minutes: 30, Steps: 9}, {Minutes: never, Steps: 10}},
		Quickest: []float64{0, 7, never, 3, 20, never},
	}
	assert.Equal(t, AdviceTally{
		Cases: 6, Beforehand: 1, Both: 2, AdviceOnly: 1, OrderOnly: 1, Neither: 1, Quick: 1, Early: 1, NoRoom: 1,
		AdviceWrong: 1, AdviceUnsafe: 1, OrderUnsafe: 2, Readings: 9, Halved: 1, AdviceMinutes: 22, OrderMinutes: 27,
	}, r.Tally())
}
