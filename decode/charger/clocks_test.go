package charger_test

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/charger"
	"portside/decode/clocks"
	"portside/decode/draw"
	"portside/decode/message"
	"portside/decode/negotiation"
)

// crossing are the checks that need messages and meter on one clock.
var crossing = []string{
	"transition-start", "voltage-settle-time", "voltage-window", "transition-window", "slew-rate", "power-ready-before-voltage",
	"hard-reset-off", "hard-reset-recover", "hard-reset-turn-on", "pps-voltage", "pps-current-limit", "cable-voltage-drop",
}

// twoClocks are those of a message list and a meter log that no offset was stated of.
func twoClocks() []captures.Clock {
	return []captures.Clock{{Path: "messages", Offset: new(time.Duration), Reference: true}, {Path: "meter"}}
}

// TestNoCheckCrossesClocks: where the offset is neither stated nor found nothing is
// judged from messages and samples together, whatever their times look like.
func TestNoCheckCrossesClocks(t *testing.T) {
	for _, x := range brokenAlone {
		r := x.make().check(charger.Options{Clocks: twoClocks(), Alignment: clocks.Alignment{Reason: "the steps fit alike"}})
		for _, name := range crossing {
			c := find(t, r, name)
			assert.Equal(t, charger.NotObserved, c.Result, "%s: %s: %s", x.name, name, c.Text)
		}
	}
	stated := twoClocks()
	stated[1].Offset, stated[1].Stated = new(time.Duration), true
	r := newRig()
	simple(r)
	assert.Equal(t, charger.Pass, find(t, r.check(charger.Options{Clocks: stated}), "voltage-window").Result)
}

// own is the meter on a clock of its own.
type own struct{ offset, rate float64 }

// checkApart finds how the clocks lie as the program does, and checks by that.
func (r *rig) checkApart(o charger.Options, meter own) (*charger.Result, clocks.Alignment) {
	slices.SortStableFunc(r.out, func(a, b captures.Message) int { return int(a.At - b.At) })
	samples := r.samples()
	d, n := draw.New(draw.Options{}), negotiation.New(negotiation.Options{})
	for i := range samples {
		t := message.Seconds(samples[i].At)
		samples[i].At = seconds((t - meter.offset) / (1 + meter.rate))
		d.Add(&samples[i])
	}
	for i := range r.out {
		n.Add(&r.out[i])
	}
	a := clocks.Of(d.Result(), n.Result())
	if a.Certain {
		for i := range samples {
			samples[i].At = seconds(a.Surely(message.Seconds(samples[i].At)).Hi)
		}
	}
	a.Determined = a.Certain
	o.Clocks, o.Alignment = twoClocks(), a
	return run(o, r.out, samples), a
}

// TestSoundChargersOnTwoClocks draws sound chargers whose meter has a clock of its
// own, up to 1000 ppm off: where the offset is found, the truth lies in its bound and
// nothing fails.
func TestSoundChargersOnTwoClocks(t *testing.T) {
	n := 150
	if *long {
		n = 20_000
	}
	found, passed := 0, map[string]int{}
	for seed := range n {
		r := drawn(uint64(seed))
		rng := rand.New(rand.NewPCG(uint64(seed), 12))
		meter := own{offset: 400*rng.Float64() - 200}
		if rng.IntN(2) == 0 {
			meter.rate = 2e-3*rng.Float64() - 1e-3
		}
		got, a := r.checkApart(r.options(), meter)
		if a.Determined {
			found++
			for _, s := range []float64{0.5, r.now} {
				at := a.Surely((s - meter.offset) / (1 + meter.rate))
				assert.True(t, at.Lo <= s && s <= at.Hi, "seed %d: %v is not in %v: %+v", seed, s, at, a)
			}
		}
		for _, c := range got.Checks {
			require.NotEqual(t, charger.Fail, c.Result, "seed %d: %s at %v: %s: %+v %+v", seed, c.Check, c.AtS, c.Text, meter, a)
			if c.Result == charger.Pass {
				passed[c.Check]++
			}
		}
	}
	t.Logf("of %d pairs %d were aligned: %v", n, found, passed)
	assert.Greater(t, found, n/10)
	for _, name := range []string{"voltage-window", "pps-voltage", "cable-voltage-drop", "voltage-settle-time", "power-ready-before-voltage"} {
		assert.Positive(t, passed[name], name)
	}
}
