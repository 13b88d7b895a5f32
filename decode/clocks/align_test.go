package clocks_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"portside/decode/clocks"
)

// at is a step known to u seconds either way.
func at(t, u, from, to float64) clocks.Step {
	s := clocks.Span{Lo: t - u, Hi: t + u}
	return clocks.Step{FromV: from, ToV: to, Start: s, End: s}
}

var nan = math.NaN()

func wide(s []clocks.Step) clocks.Span {
	if len(s) == 0 {
		return clocks.Span{}
	}
	return clocks.Span{Lo: s[0].Start.Lo - 5, Hi: s[len(s)-1].End.Hi + 5}
}

func align(meter, messages []clocks.Step) clocks.Alignment {
	return clocks.Align(clocks.Recorder{Steps: meter, Span: wide(meter)}, clocks.Recorder{Steps: messages, Span: wide(messages)})
}

// Four events seen at 10, 70, 130, 190 s by one logger and at 12.503, 72.506,
// 132.509, 192.512 s by the other: 50 ppm, the rate of a crystal (common
// practice), and 2.5025 s at time zero. The fit is held against gonum's
// regression.
func TestTwoLoggersWithACrystalEach(t *testing.T) {
	x, y := []float64{10, 70, 130, 190}, []float64{12.503, 72.506, 132.509, 192.512}
	volts := []float64{5, 9, 15, 20, 9}
	var meter, messages []clocks.Step
	for i := range x {
		meter = append(meter, at(x[i], 0.0002, volts[i], volts[i+1]))
		messages = append(messages, at(y[i], 0.0002, volts[i], volts[i+1]))
	}
	a := align(meter, messages)
	require.True(t, a.Determined, a.Reason)
	assert.Len(t, a.Matched, 4)
	assert.InDelta(t, 50, a.RatePPM, 0.1)
	assert.Positive(t, a.RateU)
	assert.Less(t, a.RateU, 10.0, "a millisecond over three minutes")
	assert.InDelta(t, 2.5025, a.At(0), 1e-5)
	alpha, beta := stat.LinearRegression(x, y, nil, false)
	assert.InDelta(t, alpha+beta*100, a.At(100), 1e-6)
}

// Steps of half a second do not show 50 ppm in an hour, and show 500 ppm.
func TestARateThatTheStepsCannotHold(t *testing.T) {
	for ppm, known := range map[float64]bool{0: false, 50: false, 500: true} {
		var meter, messages []clocks.Step
		volts := []float64{5, 9, 15, 20, 9, 5, 15, 9}
		for i := range volts[1:] {
			s := 10 + 600*float64(i) + 37*float64(i*i)
			meter = append(meter, at(s, 0.5, volts[i], volts[i+1]))
			messages = append(messages, at(s*(1+ppm*1e-6)+7, 0.001, volts[i], volts[i+1]))
		}
		a := align(meter, messages)
		require.True(t, a.Determined, a.Reason)
		if !known {
			assert.Zero(t, a.RatePPM, "%g ppm", ppm)
			assert.Zero(t, a.RateU)
			continue
		}
		assert.InDelta(t, ppm, a.RatePPM, 2*a.RateU)
	}
}

func TestAlign(t *testing.T) {
	up := func(s float64) clocks.Step { return at(s, 0.05, 5, 20) }
	reset := func(s float64) clocks.Step { return at(s, 0.05, nan, 0) }
	fall := func(s float64) clocks.Step { return at(s, 0.05, 20, 0) }
	tests := []struct {
		name            string
		meter, messages []clocks.Step
		want            float64
		matched         int // 0: not determined
	}{
		{"one contract, seen by both", []clocks.Step{up(100)}, []clocks.Step{up(3)}, -97, 1},
		{
			"a meter too slow to see 5 V holds both steps in one", []clocks.Step{at(100, 0.3, 0, 20)},
			[]clocks.Step{at(2.9, 0.01, 0, 5), at(3.1, 0.01, 5, 20)}, -97, 2,
		},
		{"two contracts against one: either may be it", []clocks.Step{up(100), up(130)}, []clocks.Step{up(3)}, 0, 0},
		{"unequal distances tell which", []clocks.Step{up(100), fall(107), up(130)}, []clocks.Step{up(3), reset(10), up(33)}, -97, 3},
		{
			"a false step on the meter", []clocks.Step{up(100), fall(104), up(104.9), fall(107), up(130)},
			[]clocks.Step{up(3), reset(10), up(33)}, -97, 3,
		},
		{
			"a contract that the meter missed", []clocks.Step{up(100), fall(107), up(130)},
			[]clocks.Step{up(3), reset(10), up(17.3), up(33)}, -97, 3,
		},
		{
			"one that fits, beside others that do not", []clocks.Step{up(100), at(107, 0.05, 20, 9)},
			[]clocks.Step{up(3), at(17, 0.05, 20, 5)}, 0, 0,
		},
		{
			"equal distances do not", []clocks.Step{up(10), fall(11), up(12), fall(13), up(14)},
			[]clocks.Step{up(102), reset(103), up(104)}, 0, 0,
		},
		{"another voltage", []clocks.Step{at(100, 0.05, 5, 9)}, []clocks.Step{up(3)}, 0, 0},
		{"a fall is no rise", []clocks.Step{at(100, 0.05, 20, 5)}, []clocks.Step{up(3)}, 0, 0},
		{"no step on the meter", nil, []clocks.Step{up(3)}, 0, 0},
		{"no step in the messages", []clocks.Step{up(3)}, nil, 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := align(tt.meter, tt.messages)
			if tt.matched == 0 {
				assert.False(t, a.Determined, "%+v", a)
				assert.NotEmpty(t, a.Reason)
				return
			}
			require.True(t, a.Determined, a.Reason)
			assert.Empty(t, a.Reason)
			assert.Len(t, a.Matched, tt.matched)
			assert.InDelta(t, tt.want, a.OffsetS, 2*a.Uncertainty)
			assert.Less(t, a.Uncertainty, 0.2)
		})
	}
}

// A meter of one look a second cannot see VBUS leave for 0.4 s, so that it does
// not speaks for nothing, and either contract may be the one it saw.
func TestShortStatesAreNoContradiction(t *testing.T) {
	meter := []clocks.Step{at(1.5, 0.5, 0, 20)}
	messages := []clocks.Step{
		at(1.3, 0.05, 0, 5), at(1.5, 0.05, 5, 20),
		at(8.0, 0.05, nan, 0), at(8.4, 0.05, 0, 5), at(8.6, 0.05, 5, 20),
	}
	slow := clocks.Recorder{Steps: meter, Span: clocks.Span{Lo: 0, Hi: 20}, IntervalS: 1}
	a := clocks.Align(slow, clocks.Recorder{Steps: messages, Span: clocks.Span{Lo: 1, Hi: 9}})
	assert.False(t, a.Determined, "%+v", a)
	assert.Contains(t, a.Reason, "alike")
}

// A source that keeps its times is placed by them, and one that does not is
// still inside what is stated.
func TestLikelyTimesSharpenAndDoNotMislead(t *testing.T) {
	slow := clocks.Span{Lo: 3.000, Hi: 3.270} // Accept to PS_RDY
	message := clocks.Step{FromV: 5, ToV: 20, Start: slow, End: slow, Likely: clocks.Span{Lo: 3.025, Hi: 3.045}}
	for _, begins := range []float64{3.030, 3.120} {
		seen := clocks.Span{Lo: begins + 97 - 0.005, Hi: begins + 97 + 0.005}
		done := clocks.Span{Lo: seen.Lo + 0.1, Hi: seen.Hi + 0.1}
		a := align([]clocks.Step{{FromV: 5, ToV: 20, Start: seen, End: done}}, []clocks.Step{message})
		require.True(t, a.Determined, a.Reason)
		assert.InDelta(t, -97, a.OffsetS, 5*a.Uncertainty, "VBUS begins at %v", begins)
	}
}

// With steps lost on either side and false ones added, an offset that is named
// is the right one: none is off by five times its uncertainty, where that is
// below a second.
func TestNamedOffsetsAreRight(t *testing.T) {
	chance := rand.New(rand.NewPCG(5, 6))
	volts := []float64{0, 5, 9, 15, 20}
	named, within := 0, 0
	const cases = 5000
	for range cases {
		offset := 1000 * (chance.Float64() - 0.5)
		interval := []float64{0.01, 0.02, 0.1, 0.5, 1}[chance.IntN(5)]
		var meter, messages []clocks.Step
		now, from := 0.0, 0.0
		for range 2 + chance.IntN(10) {
			now += 0.5 + 10*chance.ExpFloat64()
			to := volts[chance.IntN(len(volts))]
			if to == from {
				continue
			}
			if chance.IntN(8) > 0 {
				// sampled: the step lies anywhere between two samples
				first := now - interval*chance.Float64()
				span := clocks.Span{Lo: first, Hi: first + interval}
				meter = append(meter, clocks.Step{FromV: from, ToV: to, Start: span, End: span})
			}
			if chance.IntN(8) > 0 {
				before := 0.2 * chance.Float64()
				span := clocks.Span{Lo: now + offset - before, Hi: now + offset - before + 0.2}
				messages = append(messages, clocks.Step{FromV: from, ToV: to, Start: span, End: span})
			}
			if chance.IntN(10) == 0 {
				meter = append(meter, at(now+0.3*chance.Float64(), interval, volts[chance.IntN(5)], volts[chance.IntN(5)]))
			}
			from = to
		}
		a := clocks.Align(
			clocks.Recorder{Steps: meter, Span: wide(meter), IntervalS: interval},
			clocks.Recorder{Steps: messages, Span: wide(messages)})
		if !a.Determined {
			continue
		}
		named++
		off := math.Abs(a.At(now/2) - now/2 - offset)
		if off <= 2*a.Uncertainty {
			within++
		}
		if a.Uncertainty < 1 {
			assert.LessOrEqual(t, off, 5*a.Uncertainty+0.001, "offset %v of %v, %d matched of %d and %d", a.OffsetS, offset, len(a.Matched), len(meter), len(messages))
		}
	}
	t.Logf("%d of %d named, %.1f %% of these within two uncertainties", named, cases, 100*float64(within)/float64(named))
	assert.Greater(t, named, cases/3)
	assert.Greater(t, float64(within), 0.9*float64(named))
}
