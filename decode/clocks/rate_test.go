package clocks_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/clocks"
	"portside/decode/draw"
)

// anHour has eight contracts in 80 minutes, known to u seconds by either recorder and to be
// off by up to that, of two clocks that run apart.
func anHour(ppm, u float64) (meter, messages []clocks.Step) {
	chance := rand.New(rand.NewPCG(3, 4))
	volts := []float64{5, 9, 15, 20, 9, 5, 15, 9, 20}
	for i := range volts[1:] {
		s := 10 + 600*float64(i) + 17*float64(i*i)
		off := func() float64 { return u * (2*chance.Float64() - 1) }
		meter = append(meter, at(s+off(), u, volts[i], volts[i+1]))
		messages = append(messages, at(s*(1+ppm*1e-6)+7+off(), u, volts[i], volts[i+1]))
	}
	return meter, messages
}

// What the steps tell of the rate is said, whether or not one offset would do: that of
// clocks which run alike too.
func TestARateThatTheStepsTell(t *testing.T) {
	for _, ppm := range []float64{-60, -12, 0, 12, 60, 400} {
		a := align(anHour(ppm, 0.05))
		require.True(t, a.Determined, a.Reason)
		assert.Len(t, a.Matched, 8)
		assert.Positive(t, a.RateU, "%g ppm", ppm)
		assert.LessOrEqual(t, a.RateU, 25.0)
		assert.InDelta(t, ppm, a.RatePPM, 2*a.RateU)
		for _, x := range []float64{10, a.MiddleS, 5000} {
			assert.InDelta(t, 7+ppm*1e-6*x, a.At(x)-x, 2*(a.Uncertainty+a.RateU*1e-6*2500), "%g ppm at %g s", ppm, x)
		}
	}
}

// Clocks that drift fit at one offset early and at another late: that is one match, and
// no two.
func TestADriftIsNoRival(t *testing.T) {
	chance := rand.New(rand.NewPCG(7, 8))
	volts := []float64{5, 9, 15, 20}
	const cases = 300
	told := 0
	for range cases {
		ppm, look := 20+180*chance.Float64(), 0.03+0.2*chance.Float64()
		var meter, messages []clocks.Step
		now, from := 10.0, 0.0
		for range 24 {
			to := volts[chance.IntN(len(volts))]
			if now += 20 + 380*chance.Float64(); to == from {
				continue
			}
			u := 0.01 + 0.05*chance.Float64()
			off := u * (2*chance.Float64() - 1)
			seen := look * (2*chance.Float64() - 1)
			meter, messages = append(meter, at(now+seen, look, from, to)), append(messages, at(now*(1+ppm*1e-6)+7+off, u, from, to))
			from = to
		}
		a := align(meter, messages)
		if !a.Determined {
			t.Log(ppm, look, len(meter), now, a.Reason)
		}
		if a.Determined {
			told++
			assert.InDelta(t, 7+ppm*1e-6*a.MiddleS, a.OffsetS, 5*a.Uncertainty)
		}
	}
	assert.Greater(t, told, cases*98/100)
}

// Two steps say nothing of the rate, and an offset from steps an hour apart is no better
// than two crystals are.
func TestAnOffsetOfTwoStepsFarApart(t *testing.T) {
	meter := []clocks.Step{at(100, 0.01, 5, 20), at(3700, 0.01, 20, 9)}
	messages := []clocks.Step{at(3, 0.01, 5, 20), at(3603, 0.01, 20, 9)}
	a := align(meter, messages)
	require.True(t, a.Determined, a.Reason)
	assert.Zero(t, a.RateU)
	assert.Greater(t, a.Uncertainty, 0.05)
}

// A meter whose rows are means stays in the band of a level although VBUS has left it: a
// step may have begun half a look before the last row of the level.
func TestStepsOfAMeterThatAverages(t *testing.T) {
	levels := func(gap float64) *draw.Result {
		r := &draw.Result{Sampling: draw.Sampling{IntervalS: 0.1}}
		for i, v := range []float64{5, 9, 20, 15} {
			r.Levels = append(r.Levels, draw.Level{NominalV: v, N: 90, StartS: 10 * float64(i), EndS: 10*float64(i+1) - gap})
		}
		return r
	}
	instants, means := clocks.MeterSteps(levels(0.1)), clocks.MeterSteps(levels(0.2))
	require.Len(t, instants, 3)
	require.Len(t, means, 3)
	assert.InDelta(t, 9.9-0.025, instants[0].Start.Lo, 1e-9)
	assert.InDelta(t, 9.8-0.05, means[0].Start.Lo, 1e-9)
	assert.InDelta(t, 9.9, means[0].Start.Hi, 1e-9)
}

// The meter's steps follow one another: an attach that the messages have before a
// Hard_Reset is not the step that the meter saw after it.
func TestMatchesKeepTheOrderOfTime(t *testing.T) {
	meter := []clocks.Step{at(198.9, 0.75, 3.9, 0), at(199.9, 0.75, 0, 15)}
	messages := []clocks.Step{at(2.07, 0.17, 0, 5), at(2.63, 0.3, nan, 0), at(3.76, 0.17, 0, 5)}
	a := clocks.Align(
		clocks.Recorder{Steps: meter, Span: clocks.Span{Lo: 196.4, Hi: 206.4}, IntervalS: 1},
		clocks.Recorder{Steps: messages, Span: clocks.Span{Lo: 2.2, Hi: 3.9}})
	for k, m := range a.Matched {
		for _, before := range a.Matched[:k] {
			assert.False(t, m.MeterS > before.MeterS && m.MessagesS < before.MessagesS, "%+v", a.Matched)
		}
	}
}
