package signs

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/draw"
	"portside/decode/rules"
	"portside/decode/signs/build"
)

// tried is a machine that takes floorA at 20 V, with 1.5 A on top of it for onS at such times.
func tried(floorA, onS, endS float64, at ...float64) []build.Build {
	out, from := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.005)}, 1.0
	for _, t := range at {
		out = append(out, build.Level(from, t, 20, floorA), build.Level(t, t+onS, 20, floorA+1.5))
		from = t + onS
	}
	return append(out, build.Level(from, endS, 20, floorA), func(f *rules.Facts) { f.Draw.Sampling.EndS = endS })
}

// letDown is a machine at 0.3 A whose charge of 1 A more comes and goes, six times, each 8 s, and
// goes by such currents, each for as long.
func letDown(stepS float64, amps ...float64) []build.Build {
	out, at := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.005), build.Level(1, 2.98, 20, 0.3)}, 3.0
	for range 6 {
		next := at + 8
		out = append(out, build.Level(at, at+3, 20, 1.3))
		at += 3.02
		for _, a := range amps {
			out = append(out, build.Level(at, at+stepS, 20, a))
			at += stepS + 0.02
		}
		out = append(out, build.Level(at, next-0.02, 20, 0.3))
		at = next
	}
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = at })
}

// lostEach are contracts that end by a Hard Reset after such times, with idleA drawn from each and atA at
// its end; restA flow before the first, and a meter's zero is off by 1 mA.
func lostEach(restA, atA, idleA float64, stood ...float64) []build.Build {
	out, at := []build.Build{build.Meter(1000, 60), build.Level(0, 1, 0, 0.001), build.Level(1, 1.5, 5.1, restA)}, 1.5
	var times, lost []float64
	for _, s := range stood {
		lost = append(lost, at)
		out = append(out, build.Level(at, at+s, 20, idleA))
		at += s
		times = append(times, at)
		out = append(out, build.Level(at, at+1, 0, 0.001), build.Level(at+1, at+1.5, 5.1, restA))
		at += 1.5
	}
	out = append(out, build.Collapses(atA, times...), build.Messages(60, 30), build.Lost(lost...), build.Ended(stood[0], "hard-reset"))
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = at })
}

// drew is a draw of 2 A for so long at each of the contracts.
func drew(seconds float64) build.Build {
	return func(f *rules.Facts) {
		var out []draw.Plateau
		for _, q := range f.Draw.Plateaus {
			if volts(q) > 19 {
				at := q.StartS + seconds
				out = append(out, draw.Plateau{StartS: q.StartS, EndS: at, VoltageV: q.VoltageV, CurrentA: build.Ref(2.0), N: 100})
				q.StartS = at
			}
			out = append(out, q)
		}
		f.Draw.Plateaus = out
		for i := range f.Draw.Levels {
			if l := &f.Draw.Levels[i]; l.VoltageV > 19 {
				l.MeanA = 2 * seconds / (l.EndS - l.StartS)
			}
		}
	}
}

// zeroAt is a meter whose zero is off by as much more.
func zeroAt(amps float64) build.Build {
	return func(f *rules.Facts) {
		d := f.Draw
		for i := range d.Levels {
			d.Levels[i].MeanA += amps
		}
		for i := range d.Plateaus {
			d.Plateaus[i].CurrentA = build.Ref(*d.Plateaus[i].CurrentA + amps)
		}
		for i := range d.Collapses {
			d.Collapses[i].AtA += amps
		}
	}
}

// TestRounds: what fails does so at a beat of its own; what is let go of goes by a ramp.
func TestRounds(t *testing.T) {
	rounds := func(p Picture) string { s, _ := p.cycles(p.Meter()); return largest(s) }
	showSigns(t, []sign{
		{"eight tries of a second, each 6 s, beside a machine that runs on 5.6 W", tried(0.28, 1, 54, 4, 10, 16, 22, 28, 34, 40, 46), rounds, DrawCuts, "the pack or its charger lets go: common practice"},
		{"one of them 2 s early", tried(0.28, 1, 54, 4, 10, 16, 20, 28, 34, 40, 46, 52), rounds, "", "two lengths of eight are off the beat: common practice"},
		{"one of twelve left out", tried(0.28, 1, 82, 4, 10, 16, 28, 34, 40, 46, 52, 58, 64, 70, 76), rounds, DrawCuts, "a try that work hides: common practice"},
		{"3 s of each, one left out", tried(0.28, 3, 82, 4, 10, 16, 28, 34, 40, 46, 52, 58, 64, 70, 76), rounds, "", "a charge that is let on and off: common practice"},
		{"3 s of each", tried(0.28, 3, 54, 4, 10, 16, 22, 28, 34, 40, 46), rounds, DrawCuts, "common practice"},
		{"four of its rounds, the third late", append([]build.Build{}, roundsOf(3, 3, 4, 3)...), rounds, DrawCycles, "four that keep to a quarter: common practice"},
		{"five, one left out", tried(0.28, 1, 40, 4, 10, 16, 28, 34), rounds, "", "few rounds tell a beat only where all keep it: common practice"},
		{"each second, as software polls", tried(0.28, 0.1, 12, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11), rounds, "", "common practice"},
		{"for 0.2 s each 6 s", tried(0.28, 0.2, 54, 4, 10, 16, 22, 28, 34, 40, 46), rounds, "", "common practice"},
		{"beside a machine in standby", tried(0.05, 1, 54, 4, 10, 16, 22, 28, 34, 40, 46), rounds, "", "it wakes: common practice"},

		{"a charge that goes by a ramp of 0.7 s", letDown(0.08, 1.2, 1.1, 0.9, 0.8, 0.6, 0.5, 0.4), rounds, DrawPauses, "a pack that is warm: common practice"},
		{"in three steps", letDown(0.22, 1.0, 0.7, 0.5), rounds, DrawPauses, "none takes more than 35 % of it: common practice"},
		{"in one step and a rest", letDown(0.8, 0.6), rounds, DrawCuts, "common practice"},
		{"by a ramp of 0.2 s", letDown(0.02, 1.0, 0.8, 0.6, 0.4), rounds, DrawCuts, "a charger circuit's own way down: common practice"},
		{"at once", letDown(0, 0.3), rounds, DrawCuts, "what trips ends at once: common practice"},
		{"by a ramp of 3 s", letDown(0.5, 1.2, 1.0, 0.9, 0.7, 0.5, 0.4), rounds, DrawCuts, "a load that comes off part by part: common practice"},
	})
}

// TestContractsThatNothingDrawsFrom: a charger at the right voltage keeps no machine from drawing.
func TestContractsThatNothingDrawsFrom(t *testing.T) {
	ends := func(p Picture) string { s, _ := p.Ending(); return largest(s) }
	closes := func(p Picture) string { pattern, _ := p.DrawSeen(); s, _ := p.Closes(pattern); return one(s) }
	showSigns(t, []sign{
		{"three of 2 s", lostEach(0.009, 0.008, 0.008, 2, 2, 2), ends, EndNever, "common practice"},
		{"three, and another that has just begun", append(lostEach(0.009, 0.008, 0.008, 2, 2, 2), build.Level(15.5, 16, 20, 0.008), func(f *rules.Facts) { f.Draw.Sampling.EndS = 16 }), ends, EndNever, "common practice"},
		{"one of them of 1 s", lostEach(0.009, 0.008, 0.008, 2, 1, 2), ends, EndEarly, "a machine may take a second to start: common practice"},
		{"one", lostEach(0.009, 0.008, 0.008, 2), ends, EndEarly, "as above"},
		{"three of 2 s with 1 W", lostEach(0.009, 0.05, 0.05, 2, 2, 2), ends, EndEarly, "a standby is a draw: common practice"},

		{"the charge of capacitors in each", append(lostEach(0.009, 0.008, 0.008, 2, 2, 2, 2), gulps(4)), closes, ClosesSeen, "C V: common practice"},
		{"five charges in four contracts", append(lostEach(0.009, 0.008, 0.008, 2, 2, 2, 2), gulps(5)), closes, "", "tries: common practice"},
		{"none, and no row shows more than 8 mA", lostEach(0.009, 0.008, 0.008, 2, 2, 2, 2), closes, ClosesNever, "C V: common practice"},
		{"none, and a machine draws from one", append(lostEach(0.009, 0.008, 0.008, 2, 2, 2, 2), build.Level(60, 70, 20, 1)), closes, "", "common practice"},

		{"the draw ends, and 8 mA with it", append(lostEach(0.009, 0.001, 0.001, 2, 2, 2), drew(1)), ends, EndAll, "the port controller is fed before the switches: common practice"},
		{"the draw ends, and 8 mA flow on", append(lostEach(0.009, 0.009, 0.009, 2, 2, 2), drew(1)), ends, EndIdle, "as above"},
		{"3 of 8 mA flow on", append(lostEach(0.009, 0.004, 0.004, 2, 2, 2), drew(1)), ends, EndIdle, "as above"},
		{"all ends, and the meter shows 4 mA without VBUS", append(append(lostEach(0.009, 0.001, 0.001, 2, 2, 2), drew(1)), zeroAt(0.003)), ends, EndAll, "as above"},
		{"3 of 8 mA flow on, and it shows 6 mA without", append(append(lostEach(0.009, 0.004, 0.004, 2, 2, 2), drew(1)), zeroAt(0.005)), ends, EndIdle, "as above"},
		{"all ends, and that was 3 mA", append(lostEach(0.004, 0.001, 0.001, 2, 2, 2), drew(1)), ends, EndIdle, "a meter's last digits: common practice"},
		{"one contract", append(lostEach(0.009, 0.001, 0.001, 2), drew(1)), ends, EndIdle, "once may be a plug: common practice"},
		{"in rows of 0.25 s", append(append(lostEach(0.009, 0.001, 0.001, 2, 2, 2), drew(1)), every(0.25)), ends, EndLoaded, "a row mixes the break with what follows: common practice"},
		{"two of five", append(append(lostEach(0.009, 0.009, 0.009, 2, 2, 2), drew(1)), build.Collapses(0.001, 20, 24)), ends, EndIdle, "as above"},
		{"once of three", append(append(lostEach(0.009, 0.009, 0.009, 2, 2, 2), drew(1)), build.Collapses(0.001, 20)), ends, EndIdle, "as above"},
	})
}

// TestHowHigh: 0.25 ohm is a sound cable's limit (USB Type-C R2.0 section 4.4.1). Shares by the normal
// table: 0.75 for 0.68 deviations, 0.66 for 0.42; a limit is known to a tenth.
func TestHowHigh(t *testing.T) {
	for ohm, want := range map[float64]float64{0.641: 0.75, 0.625: 0.66, 0.8: 1, 0.5: 0.05} {
		s := HowHigh(&draw.Quantity{Value: ohm, Uncertainty: build.Ref(0.005)})
		assert.InDelta(t, want, s[SeriesExtreme], 0.01, "%g ohm", ohm)
		assert.InDelta(t, 1, s[SeriesHigh]+s[SeriesFar]+s[SeriesExtreme], 1e-9)
	}
	assert.Equal(t, Exactly(SeriesHigh), HowHigh(&draw.Quantity{Value: 0.9}), "of what is not known how sure it is")
	surely := func(ohm, within float64) bool {
		return extreme(&draw.Quantity{Value: ohm, Uncertainty: build.Ref(within)})
	}
	assert.True(t, surely(0.65, 0.02))
	assert.False(t, surely(0.62, 0.02), "two deviations reach below 0.6 ohm")
	near := HowHigh(&draw.Quantity{Value: 0.28, Uncertainty: build.Ref(0.01)})
	assert.Greater(t, near[SeriesHigh], 0.99)
}

// TestResistorInOneStep: V/R is there or not; a charger circuit comes back by its ramp.
func TestResistorInOneStep(t *testing.T) {
	ramped := func(stepS float64) bool {
		out, at := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.005), build.Level(1, 10, 20, 2.5)}, 10.02
		for i := 1.0; i < 10; i++ {
			out = append(out, build.Level(at, at+stepS, 15, 1.875*i/10))
			at += stepS + 0.02
		}
		return keepsTo(build.Built(append(out, build.Level(at, 60, 15, 1.875))...).Draw, 8)
	}
	edges, at := []build.Build{build.Meter(4, 60), build.Level(0, 1, 5.1, 0.005)}, 1.0
	for range 5 { // a row is a mean over the switch's step
		edges = append(edges, build.Level(at, at, 20, 1), build.Level(at+0.25, at+5, 20, 2.5), build.Level(at+5.25, at+5.25, 15, 1.2), build.Level(at+5.5, at+10, 15, 1.875))
		at += 10.25
	}
	one := func(f *rules.Facts) {
		for i := range f.Draw.Plateaus {
			if q := &f.Draw.Plateaus[i]; q.EndS == q.StartS {
				q.N = 1
			}
		}
	}
	assert.True(t, keepsTo(build.Built(append(edges, one)...).Draw, 8), "single rows")
	assert.True(t, ramped(0), "0.2 s")
	assert.False(t, ramped(0.13), "1.3 s")
}
