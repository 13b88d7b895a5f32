package signs

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs/build"
)

// faded is a machine that charges at 20 V and comes down from 0.4 A to toA, and rests at restA.
func faded(toA, restA float64) []build.Build {
	return []build.Build{build.Meter(10, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.1, 20, 0.4), build.Level(20, 60, 20, restA), func(f *rules.Facts) {
		f.Draw.Fades = []draw.Taper{{StartS: 1, EndS: 20, FromA: 0.4, ToA: toA}}
	}}
}

// fallen are so many falls like the last.
func fallen(count int) build.Build {
	return func(f *rules.Facts) {
		for range count - 1 {
			f.Draw.Fades = append(f.Draw.Fades, f.Draw.Fades[0])
		}
	}
}

// growing is a draw at 20 V that follows a law for so many seconds, and then is gone, in rows
// of half a second; once or again and again.
func growing(law func(share float64) float64, seconds float64, rounds int) []build.Build {
	out, at := []build.Build{build.Meter(2, 200), build.Level(0, 1, 5.1, 0.02)}, 1.0
	for range rounds {
		for t := 0.0; t < seconds; t += 0.5 {
			out = append(out, build.Level(at+t, at+t+0.4, 20, law(t/seconds)))
		}
		at += seconds
		out = append(out, build.Level(at, at+4, 20, 0.01))
		at += 4.5
	}
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = at })
}

// limited has each growth stand at a limit for 8 s before it is gone.
func limited(grown []build.Build, amps float64) []build.Build {
	return append(grown, func(f *rules.Facts) {
		var out []draw.Plateau
		later, at := 0.0, 0.0 // rows at the limit, which a regulator comes to from below
		for _, q := range f.Draw.Plateaus {
			q.StartS, q.EndS = q.StartS+later, q.EndS+later
			switch over := *q.CurrentA > amps; {
			case !over:
				at = 0
			case at == 0:
				q.EndS, later = q.EndS+8, later+8
				fallthrough
			default:
				at++
				q.CurrentA = build.Ref(amps * (1 - 0.02/at))
			}
			out = append(out, q)
		}
		f.Draw.Plateaus = out
		f.Draw.Levels = []draw.Level{{StartS: 1, EndS: out[len(out)-1].EndS, VoltageV: 20, NominalV: 20, MaxA: amps, MeanA: amps / 2, N: 100}}
		f.Draw.Sampling.EndS = out[len(out)-1].EndS
	})
}

// doubling goes from 0.1 A to 3.2 A.
func doubling(share float64) float64 { return 0.1 * math.Pow(2, 5*share) }

// trebling goes from 0.5 A to 1.5 A.
func trebling(share float64) float64 { return 0.5 * math.Pow(3, share) }

// straight goes there too.
func straight(share float64) float64 { return 0.1 + 3.1*share }

// steep is straight as well, and less steep by its logarithm.
func steep(share float64) float64 { return 0.8 + 2.5*share }

// waiting stands for most of the time, and then rises.
func waiting(share float64) float64 { return 0.1 + max(0, share-0.8)*15.5 }

// surging is a standby of 40 mA that a surge of 2 ms takes down to leftA for half a second.
func surging(leftA float64, times int) []build.Build { return surgingTo(0.6, leftA, times) }

func surgingTo(peakA, leftA float64, times int) []build.Build {
	out, at := []build.Build{build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.5, 20, 0.04)}, 1.5
	for range times {
		out = append(out, build.Level(at, at+0.002, 20, peakA), build.Level(at+0.003, at+0.5, 20, leftA), build.Level(at+0.501, at+1.8, 20, 0.04))
		at += 1.801
	}
	return out
}

// departing is a draw of 2 A that ends with its contract, as the rows given show it.
func departing(hz float64, averaging bool, rows ...[2]float64) []build.Build {
	out, at := []build.Build{build.Meter(hz, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 20, 20, 2)}, 20+1/hz
	for _, r := range rows {
		out = append(out, build.Level(at, at, r[0], r[1]))
		at += 1 / hz
	}
	return append(out, build.Level(at, 60, 0, 0), func(f *rules.Facts) {
		f.Draw.Sampling.Averaging = &averaging
		f.Draw.Levels = []draw.Level{f.Draw.Levels[0], f.Draw.Levels[1]}
	})
}

// pulledAt are tries in which VBUS rises by 1 V in 2 ms, stands for so long, and then 4 A take
// it down.
func pulledAt(stoodS float64, tries int) []build.Build {
	out, at := []build.Build{build.Meter(500, 30), build.Level(0, 1, 5.1, 0.01)}, 1.0
	for range tries {
		for v := 6.0; v <= 14; v++ {
			out = append(out, build.Level(at, at+0.001, v, 0.01))
			at += 0.002
		}
		if stoodS > 0 {
			out = append(out, build.Level(at, at+stoodS, 15, 0.01))
			at += stoodS + 0.002
		}
		out = append(out, build.Level(at, at+0.001, 14.5, 1), build.Level(at+0.002, at+0.003, 13, 4), build.Collapses(1, at+0.004), build.Level(at+0.005, at+1, 0, 0))
		at += 1.002
	}
	return out
}

// staged is a standby of 5 mA from which the draw takes these, 0.4 s each, again and again.
func staged(rounds int, everyS float64, amps ...float64) []build.Build {
	out, at := []build.Build{build.Meter(100, 60), build.Level(0, 1, 5.1, 0.005)}, 1.0
	for range rounds {
		rests := at
		for _, a := range amps {
			out = append(out, build.Level(at, at+0.4, 20, a))
			at += 0.41
		}
		out = append(out, build.Level(at, rests+everyS-0.01, 20, 0.005))
		at = rests + everyS
	}
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = at })
}

// recurring is a draw at 20 V whose course comes again.
func recurring(r draw.Recurrence) []build.Build {
	r.StartS, r.EndS, r.Rounds, r.Likeness, r.LowA, r.HighA = 2, 34, 8, 0.95, 0.05, 0.9
	return []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 40, 20, 0.6), func(f *rules.Facts) {
		f.Draw.Recurs = []draw.Recurrence{r}
	}}
}

// charging is a machine at 0.2 A whose charge climbs to topA within 1.5 s, holds there, and is
// cut off, so many times, each after everyS and a moment more or less.
func charging(rounds int, topA, heldS, everyS, jitterS float64) []build.Build {
	out, at := []build.Build{build.Meter(100, 120), build.Level(0, 1, 5.1, 0.005), build.Level(1, 3, 20, 0.2)}, 3.0
	for i := range rounds {
		from := at
		for k := range 10 {
			out = append(out, build.Level(at, at+0.14, 20, 0.2+(topA-0.2)*float64(k+1)/10))
			at += 0.15
		}
		if heldS > 0 {
			out = append(out, build.Level(at, at+heldS, 20, topA))
			at += heldS + 0.01
		}
		until := from + everyS + jitterS*float64(i%3-1)
		out = append(out, build.Level(at, until-0.01, 20, 0.2))
		at = until
	}
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = at })
}

// creepingTo are tries in which VBUS rises from 5 V within such a time, and goes away.
func creepingTo(volts, seconds float64, tries int, amps float64) []build.Build {
	out, at := []build.Build{build.Meter(100, 30)}, 0.0
	for range tries {
		out = append(out, build.Level(at, at+0.3, 5.1, 0.01))
		at += 0.31
		for i := 1.0; i <= 10; i++ {
			out = append(out, build.Level(at, at+seconds/10-0.01, 5.1+(volts-5.1)*i/10, amps))
			at += seconds / 10
		}
		out = append(out, build.Level(at, at+1, 0, 0))
		at += 1.01
	}
	return out
}

// switched is a draw that goes from topA to restA and back at once, so many times, in rows of 20 ms; a
// ramp of 0.4 s leads up to each top where it is asked for.
func switched(times int, restA float64, ramp bool, topA ...float64) []build.Build {
	out, at := []build.Build{build.Meter(50, 100), build.Level(0, 1, 5.1, 0.02)}, 1.0
	for i := range times {
		top := topA[i%len(topA)]
		if ramp {
			for step := range 20 {
				out = append(out, build.Level(at, at, 20, restA+(top-restA)*float64(step)/20))
				at += 0.02
			}
		}
		out = append(out, build.Level(at, at+1, 20, top), build.Level(at+1.02, at+3+float64(i%3), 20, restA))
		at += 3.02 + float64(i%3)
	}
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = at })
}

// sinking is a draw of 2 A that comes at once and goes by a ramp of 0.4 s.
func sinking(times int) []build.Build {
	out, at := []build.Build{build.Meter(50, 100), build.Level(0, 1, 5.1, 0.02)}, 1.0
	for i := range times {
		out = append(out, build.Level(at, at+1, 20, 2))
		at += 1.02
		for step := range 20 {
			out = append(out, build.Level(at, at, 20, 2-1.87*float64(step)/20))
			at += 0.02
		}
		out = append(out, build.Level(at, at+1+1.5*float64(i%3), 20, 0.13))
		at += 1.02 + 1.5*float64(i%3)
	}
	return append(out, build.Level(at, at+1, 20, 2), func(f *rules.Facts) { f.Draw.Sampling.EndS = at + 1 })
}

// uneasy rests now at one draw, now at another.
func uneasy(times int) []build.Build {
	out, at := []build.Build{build.Meter(50, 100), build.Level(0, 1, 5.1, 0.02)}, 1.0
	for i := range times {
		out = append(out, build.Level(at, at+1, 20, 2), build.Level(at+1.02, at+3+float64(i%3), 20, []float64{0.13, 0.3, 0.5}[i%3]))
		at += 3.02 + float64(i%3)
	}
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = at })
}

// leftA is what flows while a contact, or a switch, is open.
func leftA(amps float64) build.Build {
	return func(f *rules.Facts) {
		f.Draw.Levels = append([]draw.Level{{StartS: -1, EndS: 0, MeanA: 0.001, N: 50}}, f.Draw.Levels...)
		f.Draw.Sampling.ResolutionA = 0.0001
		for i := range f.Draw.Bounces {
			f.Draw.Bounces[i].LeftA = 0.001 + amps
		}
	}
}

// unplugged is a meter that saw what it shows without VBUS, before a controller drew idleA at 5 V and a
// draw stopped five times at restA.
func unplugged(idleA, restA float64) []build.Build {
	out, at := []build.Build{build.Meter(50, 60), build.Level(0, 1, 0.01, 0), build.Level(1, 2, 5.1, idleA)}, 2.0
	for _, s := range []float64{3, 1, 6, 2, 9} {
		out = append(out, build.Level(at, at+s, 20, 1), build.Level(at+s, at+2*s, 20, restA))
		at += 2 * s
	}
	return append(out, build.Level(at, at+1, 20, 1), func(f *rules.Facts) { f.Draw.Sampling.EndS, f.Draw.Sampling.ResolutionA = at+1, 0.0001 })
}

// TestSignsOfTheDraw has each sign beside the nearest that is none.
func TestSignsOfTheDraw(t *testing.T) {
	draws := func(p Picture) string { s, _ := p.DrawSeen(); return largest(s) }
	leaves := func(p Picture) string { s, _ := p.Gone(); return one(s) }
	came := func(p Picture) string { return largest(p.State) }
	cut := func(p Picture) string { s, _ := p.cuts(p.Meter()); return one(s) }
	again := func(p Picture) string { s, _ := p.recurs(p.Meter()); return one(s) }
	showSigns(t, []sign{
		{"comes down from 0.4 A to 0.2 A, and rests at 50 mA", faded(0.2, 0.05), draws, DrawTaper, "the end of a constant-voltage phase: common practice"},
		{"and goes down to nothing", faded(0.2, 0.003), draws, DrawNone, "a fault cuts off all: common practice"},
		{"comes down to nothing", faded(0.01, 0.05), draws, DrawStandby, "common practice"},
		{"comes down three times", append(faded(0.2, 0.05), fallen(3)), draws, DrawStandby, "a course that is run through again: common practice"},
		{"and works on at 0.5 A", faded(0.2, 0.6), draws, DrawWorking, "common practice"},

		{"doubles each 4 s, and is gone", growing(doubling, 20, 1), draws, DrawRunsAway, "a part that conducts the better the hotter it is: common practice"},
		{"three times", growing(doubling, 20, 3), draws, DrawRunsAway, "as above"},
		{"as far as a limit, twice", limited(growing(doubling, 20, 2), 2), draws, DrawRunsAway, "a charger circuit limits its input: common practice"},
		{"to three times as much, and does so three times", growing(trebling, 20, 3), draws, DrawRunsAway, "as above"},
		{"once", growing(trebling, 20, 1), draws, DrawEnds, "a start: common practice"},
		{"in 5 s", growing(doubling, 5, 3), draws, DrawOnOff, "a start: common practice"},
		{"along a straight line", growing(straight, 20, 1), draws, DrawEnds, "a charger's ramp: common practice"},
		{"along a straight line from 0.8 A to 3.3 A", growing(steep, 20, 1), draws, DrawEnds, "as above"},
		{"doubles each 4 s, and holds", append(growing(doubling, 20, 1)[:42], build.Level(21, 60, 20, 3.2)), draws, DrawWorking, "a load that settles: common practice"},
		{"late", growing(waiting, 20, 1), draws, DrawEnds, "a machine that waits and works: common practice"},

		{"40 mA, 0.1 A, 0.2 A and off, five times", staged(5, 3, 0.04, 0.1, 0.2), draws, DrawStages, "a start that fails at the same point: common practice"},
		{"three times", staged(3, 3, 0.04, 0.1, 0.2), draws, DrawNone, "common practice"},
		{"0.2 A, 0.1 A, 40 mA, five times", staged(5, 3, 0.2, 0.1, 0.04), draws, DrawNone, "what wakes lets go by and by: common practice"},
		{"40 mA, 0.2 A, 60 mA, 50 mA, five times", staged(5, 3, 0.04, 0.2, 0.06, 0.05), draws, DrawNone, "it is not cut off at its top: common practice"},
		{"0.2 A at once, five times", staged(5, 3, 0.2, 0.2), draws, DrawNone, "as above"},

		{"the same course eight times", recurring(draw.Recurrence{PeriodS: 4, Works: 0.5, LowW: 1}), again, DrawCycles, "what works draws as its work goes: common practice"},
		{"each 12.5 s", recurring(draw.Recurrence{PeriodS: 12.5, Works: 0.5, LowW: 1}), again, "", "a battery that is topped up: common practice"},
		{"for a fifth of the time", recurring(draw.Recurrence{PeriodS: 4, Works: 0.2, LowW: 1}), again, "", "a machine that sleeps and wakes: common practice"},
		{"above 6 W", recurring(draw.Recurrence{PeriodS: 4, Works: 0.5, LowW: 6}), again, "", "a machine that runs: common practice"},
		{"beside a leak", append(recurring(draw.Recurrence{PeriodS: 4, Works: 0.5, LowW: 1}), build.Exponent(1, 500)), again, "", "the leak is what is wrong"},
		{"while VBUS breaks down", append(recurring(draw.Recurrence{PeriodS: 4, Works: 0.5, LowW: 1}), build.Collapses(0.5, 6, 10, 14, 18)), again, "", "the draw ends with it"},
		{"at 5 V", []build.Build{build.Meter(50, 40), build.Level(0, 40, 5.1, 0.6), func(f *rules.Facts) {
			f.Draw.Recurs = []draw.Recurrence{{PeriodS: 4, Works: 0.5, LowW: 1}}
		}}, again, "", "a search of the limit does so: open laptop embedded-controller firmware"},

		{"gone for milliseconds, and back in a charge of 4 A, twice", build.Bounced(2), draws, DrawBounces, "a contact: common practice"},
		{"once", build.Bounced(1), draws, DrawLeap, "a plug that is touched: common practice"},
		{"5 mA flow on meanwhile", append(build.Bounced(2), leftA(0.005)), draws, DrawBouncesFed, "a port controller's supply: common practice"},
		{"1 mA", append(build.Bounced(2), leftA(0.001)), draws, DrawBounces, "a meter's zero: common practice"},
		{"all stops, of 13 mA before the contract too", unplugged(0.013, 0), draws, DrawLosesAll, "the port controller is fed before the switches: common practice"},
		{"all stops once and for good", []build.Build{build.Meter(50, 60), build.Level(0, 1, 0.01, 0), build.Level(1, 2, 5.1, 0.013), build.Level(2, 12, 20, 1), build.Level(12, 40, 20, 0), func(f *rules.Facts) {
			f.Draw.Sampling.EndS, f.Draw.Sampling.ResolutionA = 40, 0.0001
		}}, draws, DrawLosesAll, "as above"},
		{"the draw stops once, and 13 mA flow on", []build.Build{build.Meter(50, 60), build.Level(0, 1, 0.01, 0), build.Level(1, 2, 5.1, 0.013), build.Level(2, 12, 20, 1), build.Level(12, 40, 20, 0.013), func(f *rules.Facts) {
			f.Draw.Sampling.EndS, f.Draw.Sampling.ResolutionA = 40, 0.0001
		}}, draws, DrawHolds, "as above"},
		{"13 mA flow on", unplugged(0.013, 0.013), draws, DrawOnOff, "as above"},
		{"of 0.15 A before the contract", unplugged(0.15, 0), draws, DrawOnOff, "more than a port controller takes: common practice"},
		{"of 3 mA before the contract", unplugged(0.003, 0), draws, DrawOnOff, "a meter's zero: common practice"},

		{"2 A and 0.13 A, at once, six times", switched(6, 0.13, false, 2), draws, DrawOnOff, "something that is switched: common practice"},
		{"2.9 A and 0.45 A, as below", switched(6, 0.45, false, 2.9), draws, DrawOnOff, "9 W at 20 V"},
		{"2.9 A and 0.55 A, as below", switched(6, 0.55, false, 2.9), draws, DrawWorking, "11 W at 20 V: a machine that runs"},
		{"four times", switched(4, 0.13, false, 2), draws, DrawWorking, "common practice"},
		{"now 2 A, now 1.8 A, now 2.2 A", switched(6, 0.13, false, 2, 1.8, 2.2), draws, DrawWorking, "what a machine works at is of all heights: common practice"},
		{"up by a ramp of 0.4 s", switched(6, 0.13, true, 2), draws, DrawWorking, "a charge: common practice"},
		{"down by a ramp of 0.4 s", sinking(6), draws, DrawWorking, "as above"},
		{"2 A and now 0.13 A, now 0.3 A, now 0.5 A", uneasy(6), draws, DrawWorking, "a machine that runs: common practice"},
		{"0.6 A and 0.13 A", switched(6, 0.13, false, 0.6), draws, DrawWorking, "a few watts: common practice"},

		{"a charge that climbs to 1.4 A and is cut off, each 3.5 s", charging(8, 1.4, 0, 3.5, 0), cut, DrawCuts, "a pack that lets go: common practice"},
		{"now sooner, now later", charging(8, 1.4, 0, 3.5, 0.8), cut, "", "no beat: common practice"},
		{"and holds its top for 4 s", charging(8, 1.4, 4, 8, 0), cut, "", "a charge that came off: common practice"},
		{"three times", charging(3, 1.4, 0, 3.5, 0), cut, "", "common practice"},

		{"a surge takes 40 mA down to 15 mA, four times", surging(0.015, 4), draws, DrawCycles, "what the standby feeds starts anew: common practice"},
		{"a rise to 0.1 A, four times", surgingTo(0.1, 0.015, 4), draws, DrawStandby, "no surge: common practice"},
		{"twice", surging(0.015, 2), draws, DrawStandby, "common practice"},
		{"to 35 mA", surging(0.035, 4), draws, DrawStandby, "a machine that wakes keeps its standby: common practice"},

		{"0 A while 20 V still stand, in rows of 2 ms", departing(500, false, [2]float64{20, 0}, [2]float64{20, 0}, [2]float64{19, 0}, [2]float64{8, 0}), leaves, GoesOpen, "a plug that is pulled: common practice"},
		{"while 19.5 V are left, for one row of 2 ms", departing(500, false, [2]float64{19.5, 0}, [2]float64{8, 0}), leaves, GoesAway, "a machine's own limit of voltage: common practice"},
		{"both at once, in rows of 2 ms", departing(500, false, [2]float64{14, 1.4}, [2]float64{8, 0}), leaves, GoesAway, "a source that lets go: common practice"},
		{"the mean of a row of 50 ms at 20 V is 1.2 A", departing(20, true, [2]float64{20.1, 1.2}, [2]float64{6, 0}), leaves, GoesOpen, "the draw ended within the row, and VBUS did not: common practice"},
		{"at 21.5 V", departing(20, true, [2]float64{21.5, 1.2}, [2]float64{0, 0}), leaves, GoesAway, "no lead gives back so much: common practice"},
		{"at 12 V", departing(20, true, [2]float64{12, 1.2}, [2]float64{0.5, 0}), leaves, GoesAway, "both ended within the row: common practice"},

		{"4 A at 14 V of a rise, three times", pulledAt(0, 3), came, CutPulled, "pSnkStdby: USB PD R3.2 V1.1 table 7.24"},
		{"once VBUS has stood for 10 ms", pulledAt(0.01, 3), came, ContractLost, "as below"},
		{"once VBUS has stood for 40 ms", pulledAt(0.04, 3), came, ContractLost, "a sink may draw after PS_RDY: USB PD R3.2 V1.1 table 7.24"},
		{"0.3 A there", append(pulledAt(0, 3), func(f *rules.Facts) {
			for i, q := range f.Draw.Plateaus {
				if *q.CurrentA > 0.5 {
					f.Draw.Plateaus[i].CurrentA = build.Ref(0.3)
				}
			}
		}), came, ContractLost, "no surge: common practice"},
		{"once", pulledAt(0, 1), came, NoVBUS, "common practice"},

		{"0.5 s up to 12 V, and gone, three times", creepingTo(12, 0.5, 3, 0.01), came, NoPowerReady, "tSrcTransReq, 325 ms: USB PD R3.2 V1.1 table 7.23"},
		{"0.3 s", creepingTo(12, 0.3, 3, 0.01), came, NoVBUS, "as above"},
		{"once", creepingTo(12, 0.5, 1, 0.01), came, NoVBUS, "common practice"},
		{"under 0.5 A", creepingTo(12, 0.5, 3, 0.5), came, NoVBUS, "a load may hold it down: common practice"},
	})
}

// A search that falls again and again is one, though a few of its climbs look like pulses of a machine
// that sleeps: it settles after three falls (open laptop embedded-controller firmware).
func TestFallsOfASearch(t *testing.T) {
	p := seeing(build.Meter(4, 60), build.Level(0, 60, 5.1, 0.01))
	p.Found["retry-pulses"] = rules.Finding{Severity: rules.Warning}
	s, _ := p.DrawSeen()
	assert.Positive(t, s[DrawWakes])
	p.Found["staircase-draw"] = rules.Finding{Severity: rules.Fault}
	s, _ = p.DrawSeen()
	assert.Equal(t, Exactly(DrawStairsFall), s)
}

// What repeats its course is no machine that sleeps and wakes, nor one that searches.
func TestRecursBeforeWakes(t *testing.T) {
	for _, other := range []string{"retry-pulses", "staircase-draw"} {
		p := seeing(recurring(draw.Recurrence{PeriodS: 4, Works: 0.5, LowW: 1})...)
		p.Found[other] = rules.Finding{Severity: rules.Warning}
		s, text := p.DrawSeen()
		assert.Equal(t, Exactly(DrawCycles), s, other)
		assert.Contains(t, text, "from 2.00 s on")
		p.Facts.Draw.Recurs = nil
		s, _ = p.DrawSeen()
		assert.Zero(t, s[DrawCycles], other)
	}
}

// A contact that moves VBUS moves the draw, and a machine lets go of its load for each new contract.
func TestRecursOfAnotherCause(t *testing.T) {
	p := seeing(recurring(draw.Recurrence{PeriodS: 4, Works: 0.5, LowW: 1})...)
	s, _ := p.recurs(p.Meter())
	assert.NotEmpty(t, s)
	n := &negotiation.Result{}
	p.Facts.Negotiation = n
	for i := range 8 {
		s, _ = p.recurs(p.Meter())
		assert.Equal(t, i < 7, s != nil, "%d contracts for 8 rounds", i)
		n.Contracts = append(n.Contracts, negotiation.Contract{StartS: build.Ref(4 * float64(i))})
	}
	p.Facts.Negotiation = nil
	p.Found["contact-unsteady"] = rules.Finding{Severity: rules.Note}
	s, _ = p.recurs(p.Meter())
	assert.Empty(t, s)
}

// A machine lets go of its load while VBUS steps (USB PD R3.2 V1.1 table 7.24, pSnkStdby): what stops
// with each new contract is asked to.
func TestStopsAtContracts(t *testing.T) {
	for name, facts := range map[string][]build.Build{"between two levels": switched(6, 0.13, false, 2), "in ramps": unplugged(0.013, 0.013)} {
		p := seeing(facts...)
		draws := func() string { s, _ := p.DrawSeen(); return largest(s) }
		require.Equal(t, DrawOnOff, draws(), name)
		n := &negotiation.Result{}
		p.Facts.Negotiation, p.Facts.Aligned = n, true
		for at := 0.0; at < p.Meter().Sampling.EndS; at += 0.5 {
			n.Contracts = append(n.Contracts, negotiation.Contract{StartS: &at})
		}
		assert.NotEqual(t, DrawOnOff, draws(), name)
		p.Facts.Aligned = false
		assert.Equal(t, DrawOnOff, draws(), "%s, on clocks of their own", name)
		p.Facts.Aligned, n.Contracts = true, n.Contracts[:len(n.Contracts)/2]
		assert.Equal(t, DrawOnOff, draws(), "%s, and half of them at none", name)
	}
}

// TestFlatAcrossGaps: rows that are missing cut a steady draw into stretches; one that moves is
// another draw in each.
func TestFlatAcrossGaps(t *testing.T) {
	stretches := func(amps ...float64) *draw.Result {
		d := &draw.Result{Sampling: draw.Sampling{ResolutionA: 0.001}}
		for i, a := range amps {
			at := 10 * float64(i)
			d.Plateaus = append(d.Plateaus, draw.Plateau{StartS: at, EndS: at + 8, VoltageV: build.Ref(20.0), CurrentA: build.Ref(a), N: 8})
		}
		return d
	}
	assert.True(t, flat(stretches(0.46, 0.461, 0.46, 0.459, 0.46)))
	assert.True(t, flat(stretches(2, 2.009, 1.992, 2)))
	assert.True(t, flat(stretches(0.1, 0.102, 0.1)), "two steps of the meter")
	assert.False(t, flat(stretches(0.46, 0.47, 0.48, 0.49)), "it climbs by a machine's own work: common practice")
	assert.False(t, flat(stretches(2, 2.02, 2, 2.02)))
	assert.False(t, flat(stretches(0.46, 0.461, 0.6, 0.46, 0.461)))
	assert.True(t, flat(stretches(0.46, 0.001, 0.46)), "what is off between counts for nothing")
	moved := stretches(2, 2, 2)
	for i := range moved.Plateaus {
		moved.Plateaus[i].VoltageV = build.Ref(7.0 + float64(i))
	}
	assert.False(t, flat(moved), "a programmable supply that is moved: USB PD R3.2 V1.1 section 7.1.4.2")
}
