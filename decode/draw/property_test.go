package draw_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/draw"
)

// busy is a log with something of everything.
func busy(seed uint64) func(t float64) (float64, float64) {
	return noisy(seed, func(t float64) (float64, float64) {
		switch {
		case t < 2:
			return 0, 0
		case t < 12:
			_, a := hiccup(t)
			return 20.1, a
		case t < 30:
			return 20.1 - 0.1, climbing(math.Mod(t-12, 6))
		case t < 60:
			return 19.9, 1 + 0.3*math.Floor(math.Mod(t, 7))
		}
		return 19.9, 0.1 + 1.9*math.Exp(-(t-60)/80)
	})
}

func fed(f func(t float64) (v, a float64), shift time.Duration, scale float64) *draw.Result {
	an := draw.New(draw.Options{})
	for i := range 26000 {
		at := time.Duration(i) * 10 * time.Millisecond
		v, a := f(at.Seconds())
		an.Add(&captures.Sample{At: at + shift, Volts: v, Amps: a * scale})
	}
	return an.Result()
}

func TestShiftInTimeChangesNothing(t *testing.T) {
	here, there := fed(busy(1), 0, 1), fed(busy(1), 40*time.Hour, 1)
	const by, within = 144000.0, 1e-6
	require.Len(t, there.Plateaus, len(here.Plateaus))
	for i, p := range here.Plateaus {
		require.InDelta(t, p.StartS+by, there.Plateaus[i].StartS, within)
		require.InDelta(t, *p.CurrentA, *there.Plateaus[i].CurrentA, within)
	}
	require.Len(t, there.Spikes, len(here.Spikes))
	require.Len(t, there.Pulses, len(here.Pulses))
	for i, p := range here.Pulses {
		require.InDelta(t, *p.SeenS, *there.Pulses[i].SeenS, within)
	}
	require.Len(t, there.Staircases, len(here.Staircases))
	require.Len(t, there.Tapers, len(here.Tapers))
	for i, p := range here.Tapers {
		require.InEpsilon(t, *p.TauS, *there.Tapers[i].TauS, within)
	}
	require.InEpsilon(t, *here.EnergyWh, *there.EnergyWh, within)
}

func TestFoundInTheBusyLog(t *testing.T) {
	r := fed(busy(1), 0, 1)
	require.NotEmpty(t, r.Pulses)
	assert.Equal(t, 7, r.Pulses[0].Count)
	require.NotEmpty(t, r.Staircases)
	assert.InDelta(t, 0.064, r.Staircases[0].StepA, 0.001)
	require.Len(t, r.Tapers, 1)
	require.NotNil(t, r.Tapers[0].TauU)
	assert.InDelta(t, 80, *r.Tapers[0].TauS, 3**r.Tapers[0].TauU)
	assert.InDelta(t, 60, r.Tapers[0].StartS, 1)
}

// A meter turned round shows the same with the other sign.
func TestTurnedLogSaysTheSame(t *testing.T) {
	here, turned := fed(busy(2), 0, 1), fed(busy(2), 0, -1)
	assert.True(t, turned.Turned)
	assert.False(t, here.Turned)
	require.Len(t, turned.Plateaus, len(here.Plateaus))
	assert.Len(t, turned.Spikes, len(here.Spikes))
	assert.Len(t, turned.Pulses, len(here.Pulses))
	assert.Len(t, turned.Staircases, len(here.Staircases))
	assert.Len(t, turned.Tapers, len(here.Tapers))
	assert.InDelta(t, *here.EnergyWh, *turned.EnergyWh, 1e-3)
}

// Twice the current in twice the digits: the same things at the same times.
func TestScaleOfCurrentChangesNoTimes(t *testing.T) {
	one, two := fed(busy(3), 0, 1), fed(busy(3), 0, 2)
	require.Len(t, two.Pulses, len(one.Pulses))
	assert.InDelta(t, *one.Pulses[0].SeenS, *two.Pulses[0].SeenS, 1e-9)
	require.Len(t, two.Staircases, len(one.Staircases))
	assert.InDelta(t, 2*one.Staircases[0].StepA, two.Staircases[0].StepA, 1e-3)
	require.Len(t, two.Tapers, len(one.Tapers))
	assert.InDelta(t, *one.Tapers[0].TauS, *two.Tapers[0].TauS, 3**one.Tapers[0].TauU)
	assert.InEpsilon(t, 2**one.EnergyWh, *two.EnergyWh, 1e-9)
}

// Energy by hand: the trapezoid of 20 V and 0 to 1 A over 100 s is 1000 Ws; a
// gap of 100 s adds nothing.
func TestEnergy(t *testing.T) {
	an := draw.New(draw.Options{})
	for i := range 101 {
		an.Add(&captures.Sample{At: time.Duration(i) * time.Second, Volts: 20, Amps: float64(i) / 100})
	}
	require.NotNil(t, an.Result().EnergyWh)
	assert.InDelta(t, 1000.0/3600, *an.Result().EnergyWh, 1e-9)
	an.Add(&captures.Sample{At: 200 * time.Second, Volts: 20, Amps: 1})
	an.Add(&captures.Sample{At: 201 * time.Second, Volts: 20, Amps: 1})
	assert.InDelta(t, 1020.0/3600, *an.Result().EnergyWh, 1e-9)
	require.Len(t, an.Result().Gaps, 1)
}

func TestNothingAndLittle(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3} {
		r := rows(n, 1, func(float64) (float64, float64) { return 0, 0 }).Result()
		assert.Equal(t, n, r.Sampling.N)
		assert.Empty(t, r.Spikes)
		assert.Nil(t, r.Measured.SeriesResistanceOhm)
		if n > 0 {
			assert.Len(t, r.Plateaus, 1)
		}
	}
	r := rows(500, 0.1, func(float64) (float64, float64) { return 0, 0 }).Result()
	require.Len(t, r.Levels, 1)
	assert.Zero(t, r.Levels[0].NominalV, "VBUS never came")
	r = rows(500, 0.1, func(float64) (float64, float64) { return math.NaN(), math.NaN() }).Result()
	assert.Empty(t, r.Plateaus)
	assert.Equal(t, 500, r.Sampling.N)
}

// The worked example of a 1 W load beside a leak of 200 ohm: 0.225 A at 5 V,
// 0.150 A at 20 V, so -0.29; and no leak from two voltages that look like that.
// A third and a fourth voltage separate it. By hand: I = 1/V + V/200.
func TestLoadAndLeakTogether(t *testing.T) {
	two := rows(3000, 0.01, noisy(2, func(t float64) (float64, float64) {
		if t < 10 {
			return 5, 0.225
		}
		return 20, 0.150
	})).Result().Measured
	require.NotNil(t, two.LoadExponent)
	assert.InDelta(t, -0.29, two.LoadExponent.Value, 0.01)
	assert.Nil(t, two.LeakResistanceOhm)
	four := rows(4000, 0.01, noisy(2, func(t float64) (float64, float64) {
		v := []float64{5, 9, 15, 20}[int(t/10)]
		return v, 1/v + v/200
	})).Result().Measured
	require.NotNil(t, four.LeakResistanceOhm)
	require.NotNil(t, four.LeakResistanceOhm.Uncertainty)
	assert.InDelta(t, 200, four.LeakResistanceOhm.Value, 3**four.LeakResistanceOhm.Uncertainty)
	assert.InDelta(t, 200, four.LeakResistanceOhm.Value, 10)
}

// Each list ends at 10,000 entries, the largest kept in the order of time.
func TestListsAreBounded(t *testing.T) {
	an := draw.New(draw.Options{})
	for i := range 400000 {
		a := 0.1
		if i%20 == 10 {
			a = 0.5 + float64(i%7)*0.1
		}
		an.Add(&captures.Sample{At: time.Duration(i) * time.Millisecond, Volts: 20, Amps: a})
	}
	r := an.Result()
	assert.Len(t, r.Spikes, 10000)
	assert.GreaterOrEqual(t, r.LeftOut, 9000)
	least := math.Inf(1)
	for i, s := range r.Spikes {
		least = min(least, s.PeakA)
		if i > 0 {
			require.Greater(t, s.TimeS, r.Spikes[i-1].TimeS)
		}
	}
	assert.Greater(t, least, 0.65, "the smallest went")
	assert.LessOrEqual(t, len(r.Trace), 1024)
}
