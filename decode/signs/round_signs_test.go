package signs

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"portside/captures"
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
	return topsUp(0.3, []float64{8, 8, 8, 8, 8, 8}, stepS, amps...)
}

// topsUp is a draw of 1 A for 3 s beside what the machine takes, once in each of such rounds.
func topsUp(idleA float64, rounds []float64, stepS float64, amps ...float64) []build.Build {
	out, at := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.005), build.Level(1, 2.98, 20, idleA)}, 3.0
	for _, s := range rounds {
		next := at + s
		out = append(out, build.Level(at, at+3, 20, idleA+1))
		at += 3.02
		for _, a := range amps {
			out = append(out, build.Level(at, at+stepS, 20, a))
			at += stepS + 0.02
		}
		out = append(out, build.Level(at, next-0.02, 20, idleA))
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

// fiveGoes are falls of VBUS from 5 V without a current.
func fiveGoes(times ...float64) build.Build {
	return func(f *rules.Facts) {
		n := len(f.Draw.Collapses)
		build.Collapses(0.001, times...)(f)
		for i := range f.Draw.Collapses[n:] {
			f.Draw.Collapses[n+i].FromV = 5.1
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
		{"five of 1.5 s in a machine that waits, one left out", tried(0.2, 1.5, 40, 4, 10, 16, 28, 34), rounds, "", "as above"},
		{"five, one left out", tried(0.28, 1, 40, 4, 10, 16, 28, 34), rounds, "", "few rounds tell a beat only where all keep it: common practice"},
		{"each second, as software polls", tried(0.28, 0.1, 12, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11), rounds, "", "common practice"},
		{"for 0.2 s each 6 s", tried(0.28, 0.2, 54, 4, 10, 16, 22, 28, 34, 40, 46), rounds, "", "common practice"},
		{"beside a machine in standby", tried(0.05, 1, 54, 4, 10, 16, 22, 28, 34, 40, 46), rounds, "", "it wakes: common practice"},

		{"a charge that goes by a ramp of 0.7 s", letDown(0.08, 1.2, 1.1, 0.9, 0.8, 0.6, 0.5, 0.4), rounds, DrawPauses, "a pack that is warm: common practice"},
		{"in three steps", letDown(0.22, 1.0, 0.7, 0.5), rounds, DrawPauses, "none takes more than 35 % of it: common practice"},
		{"in one step and a rest", letDown(0.8, 0.6), rounds, DrawCuts, "common practice"},
		{"by a ramp of 0.2 s", letDown(0.02, 1.0, 0.8, 0.6, 0.4), rounds, DrawCuts, "a charger circuit's own way down: common practice"},
		{"at once", letDown(0, 0.3), rounds, DrawCuts, "what trips ends at once: common practice"},
		{"evenly, for 3.5 s", letDown(0.3, 1.2, 1.1, 1.0, 0.92, 0.85, 0.77, 0.7, 0.62, 0.55, 0.47, 0.4), rounds, DrawPauses, "a charge is let down in small steps: common practice"},
		{"by a ramp of 3 s", letDown(0.5, 1.2, 1.0, 0.9, 0.7, 0.5, 0.4), rounds, DrawCuts, "a load that comes off part by part: common practice"},
	})
}

// TestPausesOffTheBeat: what a warm pack waits for keeps no beat.
func TestPausesOffTheBeat(t *testing.T) {
	stops := func(p Picture) string { s, _ := p.onAndOff(p.Meter()); return largest(s) }
	pauses := func(p Picture) string {
		if s, _ := p.onAndOff(p.Meter()); s[DrawPauses] > 0 {
			return DrawPauses
		}
		return ""
	}
	ramp := []float64{0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1}
	showSigns(t, []sign{
		{"four, by a ramp of 0.9 s", topsUp(0.02, []float64{8, 14, 10, 20}, 0.08, ramp...), stops, DrawPauses, "a pack that is warm: common practice"},
		{"four, at once", topsUp(0.02, []float64{8, 14, 10, 20}, 0, 0.02), pauses, "", "what trips ends at once: common practice"},
		{"once, by a ramp of 0.5 s, at the end", topsUp(0.02, []float64{20}, 0.04, ramp...), pauses, DrawPauses, "as above"},
		{"once, at once", topsUp(0.02, []float64{20}, 0, 0.02), pauses, "", "as above"},
	})
}

// TestRoundsOfALead: what a contact does to VBUS is no beat of the machine.
func TestRoundsOfALead(t *testing.T) {
	p := seeing(tried(0.28, 1, 54, 4, 10, 16, 22, 28, 34, 40, 46)...)
	s, _ := p.cycles(p.Meter())
	assert.NotNil(t, s)
	p.Found["contact-unsteady"] = rules.Finding{Severity: rules.Warning}
	s, _ = p.cycles(p.Meter())
	assert.Nil(t, s)
}

// TestContractsThatNothingDrawsFrom: a charger at the right voltage keeps no machine from drawing.
func TestContractsThatNothingDrawsFrom(t *testing.T) {
	ends := func(p Picture) string { s, _ := p.Ending(); return largest(s) }
	closes := func(p Picture) string { pattern, _ := p.DrawSeen(); s, _ := p.Closes(pattern); return one(s) }
	showSigns(t, []sign{
		{"three of 2 s", lostEach(0.009, 0.008, 0.008, 2, 2, 2), ends, EndNever, "common practice"},
		{"three, and another that has just begun", append(lostEach(0.009, 0.008, 0.008, 2, 2, 2), build.Level(15.5, 16, 20, 0.008), func(f *rules.Facts) { f.Draw.Sampling.EndS = 16 }), ends, EndNever, "common practice"},
		{"one of them of 1 s", lostEach(0.009, 0.008, 0.008, 2, 1, 2), ends, EndEarly, "a machine may take a second to start: common practice"},
		{"three, and nobody measures the draw", append(lostEach(0.009, 0.008, 0.008, 2, 2, 2), func(f *rules.Facts) {
			f.Draw.Sampling.WithCurrent = 0
			for i := range f.Draw.Levels {
				f.Draw.Levels[i].MeanA = math.NaN()
			}
		}), ends, EndLoaded, "what is not seen says nothing"},
		{"one", lostEach(0.009, 0.008, 0.008, 2), ends, EndEarly, "as above"},
		{"three of 2 s with 1 W", lostEach(0.009, 0.05, 0.05, 2, 2, 2), ends, EndEarly, "a standby is a draw: common practice"},

		{"the charge of capacitors in each", append(lostEach(0.009, 0.008, 0.008, 2, 2, 2, 2), gulps(4)), closes, ClosesSeen, "C V: common practice"},
		{"the same, and each is lost within a second", append(lostEach(0.009, 0.008, 0.008, 0.8, 0.8, 0.8, 0.8), gulps(4)), closes, ClosesLost, "a machine has not begun to draw by then: common practice"},
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
		{"8 mA flow on, and 5 V goes four times with nothing", append(append(lostEach(0.009, 0.009, 0.009, 2, 2, 2), drew(1)), fiveGoes(20, 22, 24, 26)), ends, EndIdle, "as above"},
		{"once of three", append(append(lostEach(0.009, 0.009, 0.009, 2, 2, 2), drew(1)), build.Collapses(0.001, 20)), ends, EndIdle, "as above"},
	})
}

// surgingFor is a machine at baseA whose draw leaps to topA for lastS at such times.
func surgingFor(baseA, topA, lastS float64, at ...float64) []build.Build {
	out, from := []build.Build{build.Meter(200, 60), build.Level(0, 1, 5.1, 0.005)}, 1.0
	for _, t := range at {
		out = append(out, build.Level(from, t-0.005, 20, baseA), build.Level(t, t+lastS-0.005, 20, topA))
		from = t + lastS
	}
	return append(out, build.Level(from, from+3, 20, baseA), func(f *rules.Facts) { f.Draw.Sampling.EndS = from + 3 })
}

// TestSurges: a clock's beat beside a machine that runs is no work of its own.
func TestSurges(t *testing.T) {
	cut := func(p Picture) string { s, _ := p.surgesCut(p.Meter()); return one(s) }
	each := func(s float64, n int) (at []float64) {
		for i := range n {
			at = append(at, 4+s*float64(i))
		}
		return at
	}
	showSigns(t, []sign{
		{"eight of 2 A for 50 ms, each 4 s, beside 0.4 A", surgingFor(0.4, 2, 0.05, each(4, 8)...), cut, DrawCuts, "common practice"},
		{"five", surgingFor(0.4, 2, 0.05, each(4, 5)...), cut, "", "common practice"},
		{"each second", surgingFor(0.4, 2, 0.05, each(1, 20)...), cut, "", "software that polls: common practice"},
		{"for 0.5 s", surgingFor(0.4, 2, 0.5, each(4, 8)...), cut, "", "work: common practice"},
		{"at no beat", surgingFor(0.4, 2, 0.05, 4, 8, 13, 16, 21, 24, 30, 33), cut, "", "common practice"},
		{"one left out of ten", surgingFor(0.4, 2, 0.05, 4, 8, 12, 16, 24, 28, 32, 36, 40), cut, DrawCuts, "common practice"},
		{"of 0.9 A", surgingFor(0.4, 0.9, 0.05, each(4, 8)...), cut, "", "10 W are a processor's: common practice"},
		{"of 1.5 A beside 0.8 A", surgingFor(0.8, 1.5, 0.05, each(4, 8)...), cut, "", "less than it takes anyway: common practice"},
		{"each in two steps", surgingFor(0.4, 2, 0.05, 4, 4.1, 8, 8.1, 12, 12.1, 16, 16.1, 20, 20.1, 24, 24.1), cut, DrawCuts, "common practice"},
		{"of 2 A and 1.2 A in turn", append(surgingFor(0.4, 2, 0.05, each(4, 8)...), func(f *rules.Facts) {
			tops := 0
			for i := range f.Draw.Plateaus {
				if q := &f.Draw.Plateaus[i]; amps(*q) == 2 {
					if tops++; tops%2 == 0 {
						q.CurrentA = build.Ref(1.2)
					}
				}
			}
		}), cut, "", "work is of all heights: common practice"},
		{"beside a machine in standby", surgingFor(0.05, 2, 0.05, each(4, 8)...), cut, "", "tries: common practice"},
		{"in rows of 0.1 s", append(surgingFor(0.4, 2, 0.05, each(4, 8)...), every(0.1)), cut, "", "common practice"},
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
		edges = append(edges, build.Level(at, at, 20, 1), build.Level(at+0.25, at+5, 20, 2.5), build.Level(at+5.25, at+5.25, 15, 0.9), build.Level(at+5.5, at+5.5, 15, 1.2), build.Level(at+5.75, at+10, 15, 1.875))
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

// TestSteeredResistor: 26 ohm take 0.346, 0.369 and 0.396 A at 9, 9.6 and 10.3 V (Ohm's law).
func TestSteeredResistor(t *testing.T) {
	ohmic := func(p Picture) string { s, _ := p.Ohmic(p.Meter()); return one(s) }
	steps := func(draw func(volts float64) float64, volts ...float64) []build.Build {
		out, at := []build.Build{build.Meter(100, 60), build.Level(0, 1, 5.1, 0.005), build.Level(1, 1.5, 9, 0.002)}, 1.51
		for _, v := range volts {
			out = append(out, build.Level(at, at+3, v, draw(v)))
			at += 3.01
		}
		return append(out, func(f *rules.Facts) { f.Draw.Sampling.ResolutionA = 0.0001 })
	}
	resistor := func(v float64) float64 { return v / 26 }
	showSigns(t, []sign{
		{"three steps within a seventh", steps(resistor, 9, 9.6, 10.3), ohmic, OhmicBehind, "Ohm's law"},
		{"three that are off by 1.2 %", steps(func(v float64) float64 { return v / (26 + 0.25*(v-9)) }, 9, 9.6, 10.3), ohmic, "", "few points tell less: common practice"},
		{"three, and a third of the time something else", append(steps(resistor, 9, 9.6, 10.3), func(f *rules.Facts) {
			for i := range 50 {
				at := 11 + 0.1*float64(i)
				build.Level(at, at+0.09, 9.6, 0.1+0.6*float64(i%2))(f)
			}
		}), ohmic, "", "a resistor goes on: common practice"},
		{"two", steps(resistor, 9, 10.3), ohmic, "", "two points of any law: common practice"},
		{"three within a twentieth", steps(resistor, 9, 9.2, 9.4), ohmic, "", "common practice"},
		{"four that are off by 1 % at most", steps(func(v float64) float64 { return v / (26 + 0.15*(v-9)) }, 9, 9.6, 10.3, 10.9), ohmic, OhmicBehind, "common practice"},
		{"9 W at each", steps(func(v float64) float64 { return 9 / v }, 9, 9.6, 10.3, 10.9), ohmic, "", "a converter: common practice"},
		{"0.35 A at each", steps(func(float64) float64 { return 0.35 }, 9, 9.6, 10.3, 10.9), ohmic, "", "a charge at its limit: common practice"},
	})
}

// TestBackToFive: a source that goes back to 5 V says so by a new offer, and a sink asks for it.
func TestBackToFive(t *testing.T) {
	slips := said(func(p Picture) string { return p.Slips(p.Meter()) })
	contract := []build.Build{build.Meter(10, 60), build.Level(0, 0.5, 5.1, 0.005), build.Messages(10, 6), build.Offered(5000, 20000), build.Contract(0.9, 20000, 3000), func(f *rules.Facts) {
		for i := range f.Negotiation.Contracts {
			f.Negotiation.Contracts[i].EndS = nil
		}
	}}
	with := func(levels ...build.Build) []build.Build {
		return append(append([]build.Build{}, contract...), levels...)
	}
	showSigns(t, []sign{
		{"after 3 s at 20 V and 0.04 A", with(build.Level(1, 4, 20, 0.04), build.Level(4.5, 40, 5.1, 0.17)), slips, "yes", "USB PD R3.2 V1.1 section 6.4.1"},
		{"for 2 s", with(build.Level(1, 4, 20, 0.04), build.Level(4.5, 6.5, 5.1, 0.17)), slips, "", "a new negotiation: common practice"},
		{"after 1.5 A", with(build.Level(1, 4, 20, 1.5), build.Level(4.5, 40, 5.1, 0.17)), slips, "", "a machine that has had enough: common practice"},
		{"to 0 V", with(build.Level(1, 4, 20, 0.04), build.Level(4.5, 40, 0.02, 0)), slips, "", "a plug that is pulled"},
	})
}

// TestShortedCC: Rd leaves 0.25 V of the least pull-up (USB Type-C R2.0 table 4-36); 0 V is a short.
func TestShortedCC(t *testing.T) {
	logged := func(cc func(t float64) float64, volts func(t float64) float64) Picture {
		f := build.Built(build.Meter(20, 30))
		an := draw.New(draw.Options{})
		for i := range 600 {
			at := float64(i) / 20
			an.Add(&captures.Sample{At: time.Duration(at * 1e9), Volts: volts(at), Amps: 0, CC: [2]float64{cc(at), 0.01}, Line: i + 2})
		}
		f.Draw = an.Result()
		findings, _ := rules.Run(&f)
		return Look(Evidence{Facts: f, Findings: findings})
	}
	off := func(float64) float64 { return 0.01 }
	falls := func(to, at, until float64) func(float64) float64 {
		return func(t float64) float64 {
			if t < at || t > until {
				return 3.3
			}
			return to
		}
	}
	assert.NotEmpty(t, logged(falls(0.01, 3, 99), off).Shorts())
	assert.Empty(t, logged(falls(0.41, 3, 99), off).Shorts(), "Rd")
	assert.Empty(t, logged(falls(0.01, 3, 20), off).Shorts(), "it comes up again")
	assert.Empty(t, logged(falls(0.01, 0, 99), off).Shorts(), "it was never up")
	assert.Empty(t, logged(falls(0.01, 29, 99), off).Shorts(), "for a second")
	assert.Empty(t, logged(falls(0.01, 0.1, 99), off).Shorts(), "it was up for two rows")
	assert.Empty(t, logged(falls(0.01, 3, 99), func(t float64) float64 {
		if t > 2 && t < 2.5 {
			return 5
		}
		return 0.01
	}).Shorts(), "VBUS was there")
}
