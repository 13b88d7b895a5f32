package clocks_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/clocks"
	"portside/decode/draw"
	"portside/decode/negotiation"
)

// atFive is what a meter sees of a source that stays at 5 V, until a time: the draw goes to
// each current in turn.
func atFive(interval, until float64, at, amps []float64) *draw.Result {
	d := draw.New(draw.Options{})
	for t := 0.0; t < until; t += interval {
		a := 0.03
		for k := range at {
			if t >= at[k] {
				a = amps[k]
			}
		}
		ripple := 0.002 * math.Sin(17*t)
		d.Add(&captures.Sample{At: time.Duration(t * 1e9), Volts: 5.05 - 0.05*a + ripple/10, Amps: a + ripple})
	}
	return d.Result()
}

// contracts are of 5 V, with the PS_RDY 40 ms after the Accept.
func contracts(ready []float64, ma []int) *negotiation.Result {
	n := negotiation.New(negotiation.Options{}).Result()
	first, last := ready[0]-0.2, ready[len(ready)-1]
	n.FirstS, n.LastS, n.BeginsInside = &first, &last, true
	five := 5000
	for k, at := range ready {
		request, accept := at-0.06, at-0.04
		c := negotiation.Contract{StartS: &at, VoltageMV: &five, CurrentMA: &ma[k], Kind: "fixed"}
		if k+1 < len(ready) {
			c.EndS, c.EndedBy = &ready[k+1], "new-contract"
		}
		n.Contracts = append(n.Contracts, c)
		n.Phases = append(n.Phases,
			negotiation.Phase{Phase: "answer", StartS: &request, EndS: &accept},
			negotiation.Phase{Phase: "power-ready", StartS: &accept, EndS: &at})
	}
	return n
}

func TestOffsetByCurrent(t *testing.T) {
	tests := []struct {
		name     string
		at, amps []float64 // of the draw, on a clock 100 s ahead
		ready    []float64
		ma       []int
		want     bool
	}{
		{"a contract that allows more, and more is drawn", []float64{10.2}, []float64{2}, []float64{-90}, []int{3000}, true},
		{"half an ampere needs no contract", []float64{10.2}, []float64{0.45}, []float64{-90}, []int{3000}, false},
		{"two rises, one contract", []float64{4, 7, 10.2}, []float64{2, 0.1, 2}, []float64{-90}, []int{3000}, false},
		{"two contracts, one rise", []float64{10.2}, []float64{2.5}, []float64{-90, -80}, []int{1500, 3000}, false},
		{"two contracts, a rise for each", []float64{10.2, 20.3}, []float64{1.4, 2.5}, []float64{-90, -80}, []int{1500, 3000}, true},
		{"two contracts, rises that do not follow them", []float64{10.2, 25.3}, []float64{1.4, 2.5}, []float64{-90, -80}, []int{1500, 3000}, false},
		{"more than the contract allows", []float64{10.2}, []float64{2}, []float64{-90}, []int{1500}, false},
		{"a contract that allows no more", []float64{10.2}, []float64{2}, []float64{-90}, []int{500}, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := clocks.Of(atFive(0.05, 40, tt.at, tt.amps), contracts(tt.ready, tt.ma))
			require.Equal(t, tt.want, a.Determined, "%s %+v", a.Reason, a)
			if !tt.want {
				assert.NotEmpty(t, a.Reason)
				return
			}
			assert.True(t, a.ByCurrent)
			assert.False(t, a.Certain, "no source is blamed by it")
			assert.Len(t, a.Matched, len(tt.ready))
			assert.InDelta(t, -100, a.OffsetS, 2*a.Uncertainty)
			assert.GreaterOrEqual(t, a.Uncertainty, 1.0)
		})
	}
}

// A step of VBUS that both saw is the evidence, whatever the current does.
func TestCurrentNeverBeatsAStep(t *testing.T) {
	d := draw.New(draw.Options{})
	for s := 0.0; s < 30; s += 0.02 {
		v, a := 5.0, 0.03
		if s >= 10 {
			v = 9
		}
		if s >= 13 { // a machine that waits for three seconds
			a = 1.5
		}
		d.Add(&captures.Sample{At: time.Duration(s * 1e9), Volts: v, Amps: a})
	}
	n := contracts([]float64{-89.97}, []int{3000})
	nine := 9000
	n.Contracts[0].VoltageMV = &nine
	a := clocks.Of(d.Result(), n)
	require.True(t, a.Determined, a.Reason)
	assert.False(t, a.ByCurrent)
	assert.InDelta(t, -100, a.OffsetS, 0.05)
}

// TestCurrentCoverage draws machines that wait 40 ms to 1.2 s after PS_RDY, and one in ten
// up to 3 s (common practice), and false bursts of current before and after.
func TestCurrentCoverage(t *testing.T) {
	chance := rand.New(rand.NewPCG(11, 12))
	const cases = 400
	named, within := 0, 0
	for range cases {
		delay := 0.04 * math.Pow(30, chance.Float64())
		if chance.IntN(10) == 0 {
			delay = 1.2 + 1.8*chance.Float64()
		}
		interval := []float64{0.02, 0.1, 0.5, 1}[chance.IntN(4)]
		at, amps := []float64{15 + delay}, []float64{0.7 + 2*chance.Float64()}
		if chance.IntN(4) == 0 {
			from := 2 + 10*chance.Float64()
			at, amps = append([]float64{from, from + 2}, at...), append([]float64{0.8, 0.03}, amps...)
		}
		offset := 1000 * (chance.Float64() - 0.5)
		a := clocks.Of(atFive(interval, 30, at, amps), contracts([]float64{15 + offset}, []int{3000}))
		if !a.Determined {
			continue
		}
		named++
		off := math.Abs(a.OffsetS - offset)
		assert.LessOrEqual(t, off, 5*a.Uncertainty)
		if off <= 2*a.Uncertainty {
			within++
		}
	}
	t.Logf("%d of %d named, %d within 2 u", named, cases, within)
	assert.Greater(t, named, cases/2)
	assert.GreaterOrEqual(t, float64(within), 0.9*float64(named))
}
