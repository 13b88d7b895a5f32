package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
)

// Loads at 5, 9 and 20 V, 4 s each, and what their draw goes with. The figures of
// two voltages are those of the worked examples: 1 W is 0.20 A at 5 V and 0.05 A at
// 20 V, 50 ohm are 0.10 A and 0.40 A, 1 W beside 200 ohm are 0.225 A and 0.150 A.
func TestLawOfTheLoad(t *testing.T) {
	constant := func(a float64) func(float64) float64 { return func(float64) float64 { return a } }
	tests := []struct {
		name string
		load func(volts float64) float64
		want string
	}{
		{"50 ohm", func(v float64) float64 { return v / 50 }, draw.LawResistive},
		{"1 W", func(v float64) float64 { return 1 / v }, draw.LawConstantPower},
		{"0.3 A", constant(0.3), draw.LawConstantCurrent},
		{"1 W beside 200 ohm", func(v float64) float64 { return 1/v + v/200 }, draw.LawMixed},
		{"more than a resistor: another state of the load", func(v float64) float64 { return 0.01 * math.Pow(v/5, 2.5) }, draw.LawUnknown},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := rows(800, 0.01, noisy(3, func(at float64) (float64, float64) {
				v := []float64{5, 20}[min(1, int(at/4))]
				return v, tt.load(v)
			})).Result()
			assert.Equal(t, tt.want, r.Load.Law, r.Load.Why)
			assert.NotEmpty(t, r.Load.Why)
		})
	}
}

// One voltage tells no law.
func TestOneVoltageTellsNoLaw(t *testing.T) {
	r := rows(800, 0.01, noisy(3, func(float64) (float64, float64) { return 20, 0.5 })).Result()
	assert.Equal(t, draw.LawUnknown, r.Load.Law)
	assert.Nil(t, r.Load.ExponentLow)
	assert.Nil(t, r.Load.IncrementalOhm)
}

// A converter of 60 W at 20 V meets a change of the voltage with -6.7 ohm, one of
// 15 W at 5 V with -1.7 ohm: -V²/P (by hand). A loop of 0.4 ohm carries at most
// 5²/(4·0.4) = 15.6 W at 5 V, the maximum power theorem.
func TestConverterOnAWeakSource(t *testing.T) {
	at := func(volts, amps float64) draw.Load {
		l := draw.Load{Law: draw.LawConstantPower}
		u := 0.001
		l.Converter(volts, amps, &draw.Quantity{Value: 0.4, Uncertainty: &u})
		return l
	}
	l := at(20, 3)
	require.NotNil(t, l.IncrementalOhm)
	assert.InDelta(t, -6.67, *l.IncrementalOhm, 0.01)
	l = at(5, 3)
	assert.InDelta(t, -1.67, *l.IncrementalOhm, 0.01)
	require.NotNil(t, l.CollapseW)
	assert.InDelta(t, 15.6, *l.CollapseW, 0.05)
}

// Three loads on a line do not show that the source wandered while they changed.
func TestResistanceOfFewLoadsIsNotExact(t *testing.T) {
	loads := func(levels ...float64) *draw.Quantity {
		return rows(100*len(levels), 0.01, func(t float64) (float64, float64) {
			a := levels[min(int(t), len(levels)-1)]
			return 20 - 0.15*a, a
		}).Result().Measured.SeriesResistanceOhm
	}
	few := loads(0.4, 0.6, 0.8)
	require.NotNil(t, few)
	assert.InDelta(t, 0.15, few.Value, 0.002)
	assert.Greater(t, *few.Uncertainty, 0.005, "3 mV over 0.4 A")
	wide := loads(0.4, 1.2, 2.0, 2.8)
	require.NotNil(t, wide)
	assert.Less(t, *wide.Uncertainty, 0.0025)
}

// TestLeakAcrossASlowStep: a resistor of 40 ohm draws 0.125 A at 5 V and 0.5 A at 20 V
// (Ohm's law), rows 0.2 s apart; what ramps up behind the step is another state.
func TestLeakAcrossASlowStep(t *testing.T) {
	for _, c := range []struct {
		name  string
		after func(s float64) float64 // the draw once VBUS has arrived
		found bool
	}{
		{"a leak, and a machine that starts 1 s later", func(s float64) float64 { return 0.5 + 1.2*min(1, max(0, s-1)) }, true},
		{"a machine that ramps up at once", func(s float64) float64 { return 0.125 + 1.5*min(1, s/2) }, false},
	} {
		r := rows(200, 0.2, noisy(3, func(t float64) (float64, float64) {
			switch {
			case t < 2:
				return 0, 0
			case t < 2.5:
				return 5, 0.125
			}
			return 20, c.after(t - 2.5)
		})).Result()
		n := r.Measured.LoadExponent
		if !c.found {
			assert.Nil(t, n, c.name)
			continue
		}
		require.NotNil(t, n, c.name)
		assert.InDelta(t, 1, n.Value, 0.05, c.name)
		assert.InDelta(t, 40, r.Measured.LeakResistanceOhm.Value, 2, c.name)
	}
}

// What six rows a voltage leave open of an exponent is as large as their own scatter says,
// and as small: with 20 mA of noise on rows of 10 mA the differences of a short log may
// show a quarter of it, and rows of 0.1 mA are known a hundred times as well.
func TestExponentFromFewRows(t *testing.T) {
	scatter := [...]float64{0.03, -0.02, 0, -0.01, -0.02, -0.03, 0.02, 0.03, 0, 0.01, -0.02, 0} // of a meter with 20 mA of noise
	ladder := func(scale, digit float64) *draw.Quantity {
		return rows(12, 1, func(t float64) (float64, float64) {
			v := []float64{5.08, 20.12}[min(1, int(t/6))]
			a := 0.78 + scale*scatter[min(int(t), len(scatter)-1)]
			return v, math.Round(a/digit) * digit
		}).Result().Measured.LoadExponent
	}
	loud := ladder(1, 0.01)
	require.NotNil(t, loud)
	assert.InDelta(t, 0, loud.Value, 2**loud.Uncertainty)
	assert.Greater(t, *loud.Uncertainty, 0.01, "20 mA over the root of 6 are 1 % of 0.78 A at each end, over ln 4")
	fine := ladder(0.01, 0.0001)
	require.NotNil(t, fine)
	assert.Less(t, *fine.Uncertainty, 0.0005)
	assert.InDelta(t, 0, fine.Value, 2**fine.Uncertainty)
}

// A line of the power over the square of the voltage rises for a constant current too; a
// leak is named where a resistor beside a constant power explains each of the currents.
func TestLeakOfSeveralVoltages(t *testing.T) {
	tests := []struct {
		name string
		load func(volts float64) float64
		ohm  float64 // 0 for none
	}{
		{"0.3 A", func(float64) float64 { return 0.3 }, 0},
		{"6 W", func(v float64) float64 { return 6 / v }, 0},
		{"the root of the voltage", func(v float64) float64 { return 0.1 * math.Sqrt(v) }, 0},
		{"40 ohm", func(v float64) float64 { return v / 40 }, 40},
		{"1 W beside 200 ohm", func(v float64) float64 { return 1/v + v/200 }, 200},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			q := rows(1600, 0.01, noisy(3, func(at float64) (float64, float64) {
				v := []float64{5, 9, 15, 20}[min(3, int(at/4))]
				return v, tt.load(v)
			})).Result().Measured.LeakResistanceOhm
			if tt.ohm == 0 {
				if q != nil {
					t.Errorf("a leak of %.0f +- %.0f ohm", q.Value, *q.Uncertainty)
				}
				return
			}
			require.NotNil(t, q)
			assert.InDelta(t, tt.ohm, q.Value, 2**q.Uncertainty)
		})
	}
}

// A level at which the machine wakes now and then holds two states; three others are
// enough without it: 100 ohm beside 0.5 W.
func TestLeakBesideAMachineThatWakes(t *testing.T) {
	q := rows(8000, 0.01, noisy(3, func(at float64) (float64, float64) {
		v := []float64{5, 9, 15, 20}[min(3, int(at/20))]
		a := v/100 + 0.5/v
		if v == 20 && math.Mod(at, 6) < 0.5 {
			a += 0.15
		}
		return v, a
	})).Result().Measured.LeakResistanceOhm
	require.NotNil(t, q)
	assert.InDelta(t, 100, q.Value, 2**q.Uncertainty)
}

// A converter of 18 W on a supply that walks from 8 to 10 V takes more from less: a line
// of -4.5 ohm by its negative slope, and no loss on the way, which would begin at 18 V.
func TestConverterOnAWalkingSupplyIsNoResistance(t *testing.T) {
	walk := func(t float64) (float64, float64) {
		v := 9 + 0.6*math.Sin(t/5)
		return v, 18 / v
	}
	for _, interval := range []float64{0.01, 0.1, 1} {
		assert.Nil(t, rows(int(80/interval), interval, noisy(4, walk)).Result().Measured.SeriesResistanceOhm, "rows of %g s", interval)
	}
	lossy := rows(800, 0.1, noisy(4, func(t float64) (float64, float64) {
		a := []float64{0.3, 2.5, 1.2, 2}[int(t/5)%4]
		return 9.2 - 0.5*a, a
	})).Result().Measured.SeriesResistanceOhm
	require.NotNil(t, lossy)
	assert.InDelta(t, 0.5, lossy.Value, 2**lossy.Uncertainty)
}

// A supply that walks from 8.4 to 9.6 V tells the law of a draw that follows; one that
// rises with a voltage that the machine asks for is its own doing, and a cable under
// changing loads has a slope of -V/RI, no law.
func TestLawOnAWalkingSupply(t *testing.T) {
	walk := func(load func(volts float64) float64) func(t float64) (float64, float64) {
		return func(t float64) (float64, float64) {
			v := 9 + 0.6*math.Sin(t/5)
			return v, load(v)
		}
	}
	tests := []struct {
		name string
		f    func(t float64) (float64, float64)
		want string
		n    float64
	}{
		{"18 W", walk(func(v float64) float64 { return 18 / v }), draw.LawConstantPower, -1},
		{"more with more voltage", walk(func(v float64) float64 { return v / 5 }), draw.LawUnknown, 0},
		{"a lossy cable under changing loads", func(t float64) (float64, float64) {
			a := 0.3 + 0.3*float64(int(t/4)%9)
			return 20 - 0.5*a, a
		}, draw.LawUnknown, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, interval := range []float64{0.01, 0.1} {
				r := rows(int(80/interval), interval, noisy(4, tt.f)).Result()
				assert.Equal(t, tt.want, r.Load.Law, r.Load.Why)
				if tt.want == draw.LawUnknown {
					assert.Nil(t, r.Measured.LoadExponent)
					continue
				}
				require.NotNil(t, r.Measured.LoadExponent)
				assert.InDelta(t, tt.n, r.Measured.LoadExponent.Value, max(0.01, 2**r.Measured.LoadExponent.Uncertainty))
			}
		})
	}
}
