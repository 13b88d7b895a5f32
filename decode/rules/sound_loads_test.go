package rules_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode"
	"portside/decode/rules"
)

// busy is the draw of a machine that works: stretches of 0.1 to 8 s between its
// least and its most, ramps between some, bursts on others, and sleep.
type busy struct {
	endS       []float64
	fromA, toA []float64
	burstS     []float64 // distance of bursts; 0 none
	burstA     []float64
}

// newBusy draws one. Sleep is 60 mA or more at 20 V, work 0.25 to 2.5 A (common
// practice).
func newBusy(random *rand.Rand, endS, mostA float64) *busy {
	b := &busy{}
	t, a := 0.0, 0.3*mostA
	typical := math.Pow(10, -1+2*random.Float64()) // of a stretch
	for t < endS {
		t += typical * (0.3 + 1.4*random.Float64())
		next := a
		switch random.IntN(5) {
		case 0:
			next = mostA * (0.1 + 0.9*random.Float64())
		case 1:
			next = a * (0.9 + 0.2*random.Float64())
		case 2:
			next = mostA * 0.15
		}
		next = min(next, mostA)
		from := next
		if random.IntN(3) == 0 {
			from = a
		}
		burst, high := 0.0, 0.0
		if random.IntN(4) == 0 {
			burst, high = 0.2+random.Float64(), (mostA-next)*random.Float64()
		}
		b.endS, b.fromA, b.toA = append(b.endS, t), append(b.fromA, from), append(b.toA, next)
		b.burstS, b.burstA = append(b.burstS, burst), append(b.burstA, high)
		a = next
	}
	return b
}

func (b *busy) amps(t float64) float64 {
	last := len(b.endS) - 1
	i := last
	for lo, hi := 0, last; lo <= hi; {
		mid := (lo + hi) / 2
		if b.endS[mid] > t {
			i, hi = mid, mid-1
		} else {
			lo = mid + 1
		}
	}
	start := 0.0
	if i > 0 {
		start = b.endS[i-1]
	}
	a := b.toA[i]
	if span := b.endS[i] - start; t < b.endS[i] {
		a = b.fromA[i] + (b.toA[i]-b.fromA[i])*(t-start)/span
	}
	if p := b.burstS[i]; p > 0 && math.Mod(t, p) < 0.1*p {
		a += b.burstA[i]
	}
	return a
}

// Whatever a sound machine does with its power, nothing is accused.
func TestSoundLoads(t *testing.T) {
	for seed := range rounds(16) {
		random := rand.New(rand.NewPCG(seed, 11))
		volts := []float64{5.1, 9.05, 15.1, 20.1}[random.IntN(4)]
		load := newBusy(random, 60, []float64{1.4, 1.9, 2.5, 3.0}[random.IntN(4)])
		draws := load.amps
		if volts < 6 { // less is what a machine draws that is stuck there
			draws = func(t float64) float64 { return 0.35 + load.amps(t) }
		}
		w := between(steadily(0.01, 0), 2.2, pluggedIn(volts, draws))
		for _, l := range loggers {
			e := decode.NewEngine(decode.Options{})
			l.log(e, 0, 40, w)
			for _, f := range e.Diagnose(nil, nil).Findings {
				assert.Equal(t, rules.Note, f.Severity, fmt.Sprintf("%d at %.0f V, %s: %s: %s", seed, volts, l.name, f.Rule, f.Text))
			}
		}
	}
}
