// Package build makes the facts of recordings that never were, piece by piece, for the tests of
// what reads them.
package build

import (
	"math"
	"math/rand/v2"
	"time"

	"portside/captures"
	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// Build adds to the facts of a case.
type Build func(*rules.Facts)

// Ref points to a value.
func Ref[T any](x T) *T { return &x }

// Sampling is a meter of so many rows a second over so many seconds.
func Sampling(hz, seconds float64) draw.Sampling {
	n := int(hz * seconds)
	return draw.Sampling{N: n, WithVoltage: n, WithCurrent: n, EndS: seconds, IntervalS: 1 / hz, MaxV: 20, MaxA: 3, NoiseA: 0.001, ResolutionA: 0.001}
}

// Meter adds such a meter.
func Meter(hz, seconds float64) Build {
	return func(f *rules.Facts) { f.Draw = &draw.Result{Sampling: Sampling(hz, seconds)} }
}

// Level adds a stretch of one VBUS voltage with one draw.
func Level(from, to, volts, amps float64) Build {
	return func(f *rules.Facts) {
		nominal := 0.0
		for _, n := range []float64{5, 9, 15, 20} {
			if math.Abs(volts-n) < 1.6 {
				nominal = n
			}
		}
		if nominal == 0 && volts > 0.8 {
			nominal = volts
		}
		d := f.Draw
		d.Levels = append(d.Levels, draw.Level{StartS: from, EndS: to, VoltageV: volts, MinV: volts, MaxV: volts, NominalV: nominal, MeanA: amps, MaxA: amps, N: 100})
		d.Plateaus = append(d.Plateaus, draw.Plateau{StartS: from, EndS: to, VoltageV: &volts, CurrentA: &amps, N: 100})
		d.Sampling.MaxV, d.Sampling.MaxA = 0, 0
		for _, l := range d.Levels {
			d.Sampling.MaxV, d.Sampling.MaxA = max(d.Sampling.MaxV, l.MaxV), max(d.Sampling.MaxA, l.MaxA)
		}
	}
}

// Figures adds plain statistics of the draw.
func Figures(g draw.Figures) Build { return func(f *rules.Facts) { f.Draw.Figures = &g } }

// Pulses adds a train of so many pulses; with changes it further, where it is given.
func Pulses(from, to, period, peak float64, count int, with func(*draw.Pulses)) Build {
	return func(f *rules.Facts) {
		p := draw.Pulses{StartS: from, EndS: to, Count: count, PeriodS: &period, PeriodU: Ref(0.002), OnS: Ref(0.01), PeakA: peak, Quiet: true}
		if with != nil {
			with(&p)
		}
		f.Draw.Pulses = append(f.Draw.Pulses, p)
	}
}

// Collapses adds falls of VBUS under a draw at these times.
func Collapses(atA float64, times ...float64) Build {
	return func(f *rules.Facts) {
		for _, t := range times {
			f.Draw.Collapses = append(f.Draw.Collapses, draw.Collapse{TimeS: t, FromV: 19.9, ToV: 0.2, AtA: atA, BackS: Ref(0.8)})
		}
	}
}

// Messages adds a recorder of messages with so many of each side.
func Messages(fromSource, fromSink int) Build {
	return func(f *rules.Facts) {
		f.Negotiation = &negotiation.Result{
			Messages: fromSource + fromSink, FromSource: fromSource, FromSink: fromSink, GoodCRCs: fromSource / 2,
			FirstS: Ref(0.0), LastS: Ref(20.0),
		}
	}
}

// Attempts adds attempts at a contract of 20 V that each end at a step.
func Attempts(step negotiation.Step, count int) Build {
	return func(f *rules.Facts) {
		for i := range count {
			from := 1 + float64(i)
			f.Negotiation.Attempts = append(f.Negotiation.Attempts, negotiation.Attempt{StartS: from, EndS: from + 0.9, Missing: step})
		}
		mv, ma := 20000, 3250
		f.Negotiation.Offers = append(f.Negotiation.Offers, negotiation.Offer{Kind: "fixed", VoltageMV: &mv, CurrentMA: &ma})
	}
}

// Contract adds a contract of so many millivolts and milliamperes.
func Contract(at float64, mv, ma int) Build {
	return func(f *rules.Facts) {
		f.Negotiation.Contracts = append(f.Negotiation.Contracts, negotiation.Contract{StartS: &at, Kind: "fixed", VoltageMV: &mv, CurrentMA: &ma})
	}
}

// Damaged messages of each side.
func Damaged(source, sink int) Build {
	return func(f *rules.Facts) {
		f.Negotiation.CRCErrors = negotiation.CRCErrors{Source: source, Sink: sink, FirstS: 1, LastS: 9}
	}
}

// LateAnswersOf are answers that took as long.
func LateAnswersOf(seconds float64, count int) Build {
	return func(f *rules.Facts) {
		for i := range count {
			from := 1 + float64(i)
			f.Negotiation.Phases = append(f.Negotiation.Phases, negotiation.Phase{Phase: "answer", StartS: Ref(from), EndS: Ref(from + seconds), Late: true, LimitS: Ref(0.015), Limit: "tReceiverResponse"})
		}
	}
}

// Offered are fixed objects of the last capabilities.
func Offered(mv ...int) Build {
	return func(f *rules.Facts) {
		for _, v := range mv {
			ma := 3250
			f.Negotiation.Offers = append(f.Negotiation.Offers, negotiation.Offer{Kind: "fixed", VoltageMV: &v, CurrentMA: &ma})
		}
	}
}

// Lost adds contracts that a Hard Reset ends again.
func Lost(times ...float64) Build {
	return func(f *rules.Facts) {
		for _, t := range times {
			mv, ma, end := 20000, 3250, t+0.6
			f.Negotiation.Contracts = append(f.Negotiation.Contracts, negotiation.Contract{StartS: &t, EndS: &end, Kind: "fixed", VoltageMV: &mv, CurrentMA: &ma, EndedBy: "hard-reset"})
			f.Negotiation.Resets = append(f.Negotiation.Resets, negotiation.Reset{TimeS: end, Hard: true})
		}
	}
}

// Taper adds a charge current that falls off.
func Taper(from, to float64) Build {
	return func(f *rules.Facts) {
		f.Draw.Tapers = append(f.Draw.Tapers, draw.Taper{StartS: from, EndS: to, TauS: Ref(800.0), FromA: 1.7, ToA: 0.2})
	}
}

// Stairs adds a current that climbs by steps, starts again so often, and settles at a draw where one is given.
func Stairs(resets int, settledA *float64) Build {
	return func(f *rules.Facts) {
		f.Draw.Staircases = append(f.Draw.Staircases, draw.Staircase{StartS: 2, EndS: 40, Steps: 12, StepA: 0.064, Resets: resets, SettledA: settledA, TopA: 1.2, Collapsed: settledA == nil})
	}
}

// Spikes of 10 ms on a quiet draw.
func Spikes(peak float64, times ...float64) Build {
	return func(f *rules.Facts) {
		for _, t := range times {
			f.Draw.Spikes = append(f.Draw.Spikes, draw.Spike{TimeS: t, PeakA: peak, BaselineA: 0.004, DurationS: 0.01, VoltageV: 20})
		}
	}
}

// Flicker is VBUS that stands at 5 V for upS, again and again.
func Flicker(upS float64, times int) Build {
	return func(f *rules.Facts) {
		for i := range times {
			from := 2 * float64(i)
			Level(from, from+upS, 5.1, 0.01)(f)
			Level(from+upS, from+2, 0.02, 0)(f)
		}
	}
}

// LostAfter adds contracts that a Hard Reset ends after the given times.
func LostAfter(seconds ...float64) Build {
	return func(f *rules.Facts) {
		from := 1.0
		for _, s := range seconds {
			Lost(from)(f)
			last := len(f.Negotiation.Contracts) - 1
			f.Negotiation.Contracts[last].EndS = Ref(from + s)
			f.Negotiation.Resets[last].TimeS = from + s
			from += s + 2
		}
	}
}

// Exponent adds a load whose current goes with the n-th power of the voltage.
func Exponent(n, leakOhm float64) Build {
	return func(f *rules.Facts) {
		f.Draw.Measured.LoadExponent = &draw.Quantity{Value: n, Uncertainty: Ref(0.05)}
		f.Draw.Measured.LeakResistanceOhm = &draw.Quantity{Value: leakOhm, Uncertainty: Ref(1.0)}
	}
}

// Slide adds VBUS that sinks from one voltage to another.
func Slide(from, to float64) Build {
	return func(f *rules.Facts) {
		f.Draw.Slides = append(f.Draw.Slides, draw.Slide{StartS: from, EndS: to, FromV: 20, ToV: 17, AtA: 1.6})
	}
}

// Held is a load that holds VBUS down at every fall.
func Held(volts, amps float64) Build {
	return func(f *rules.Facts) {
		for i := range f.Draw.Collapses {
			f.Draw.Collapses[i].HeldV, f.Draw.Collapses[i].HeldA = volts, amps
		}
	}
}

// Climbing is a staircase that neither settles nor falls.
func Climbing() Build {
	return func(f *rules.Facts) {
		f.Draw.Staircases = append(f.Draw.Staircases, draw.Staircase{StartS: 2, EndS: 40, Steps: 12, StepA: 0.064, DwellS: 0.5, TopA: 0.9})
		f.Draw.Plateaus = nil
	}
}

// Ramps are draws that rise for 2 s, each row a plateau of its own, and rest for 1.5 s.
func Ramps(n int) Build {
	return func(f *rules.Facts) {
		f.Draw.Plateaus = nil
		volts := 20.0
		for i := range n {
			from := 2 + 3.5*float64(i)
			for row := range 100 {
				at := from + 0.02*float64(row)
				f.Draw.Plateaus = append(f.Draw.Plateaus, draw.Plateau{StartS: at, EndS: at, VoltageV: &volts, CurrentA: Ref(0.018 * float64(row)), N: 1})
			}
			f.Draw.Plateaus = append(f.Draw.Plateaus, draw.Plateau{StartS: from + 2, EndS: from + 3.48, VoltageV: &volts, CurrentA: Ref(0.003), N: 75})
		}
	}
}

// Series adds a resistance of the lead.
func Series(ohm float64) Build {
	return func(f *rules.Facts) {
		f.Draw.Measured.SeriesResistanceOhm = &draw.Quantity{Value: ohm, Uncertainty: Ref(0.002)}
	}
}

// Built are the facts of a recording that was made up.
func Built(builds ...Build) rules.Facts {
	f := rules.Facts{Aligned: true, AccuracyV: 1, AccuracyA: 1}
	for _, b := range builds {
		b(&f)
	}
	return f
}

// Ended sets how long the contracts stood and what ended them.
func Ended(heldS float64, by string) Build {
	return func(f *rules.Facts) {
		for i := range f.Negotiation.Contracts {
			c := &f.Negotiation.Contracts[i]
			c.EndS, c.EndedBy = Ref(*c.StartS+heldS), by
		}
	}
}

// Bounced is a machine at work whose draw a contact lets go of, so many times.
func Bounced(times int) []Build {
	return []Build{Meter(1000, 30), Level(0, 1, 5.1, 0.02), Level(1, 30, 20, 1), func(f *rules.Facts) {
		for i := range times {
			f.Draw.Bounces = append(f.Draw.Bounces, draw.Bounce{TimeS: 5 + float64(i), OffS: 0.006, PeakA: 4})
		}
	}}
}

// Swinging sets the scatter of the last level.
func Swinging(volts float64) Build {
	return func(f *rules.Facts) { f.Draw.Levels[len(f.Draw.Levels)-1].SpreadV = volts }
}

// Quiet is a contract of 20 V with no draw: the switches, the charger circuit or
// the main rail, or nothing at all.
func Quiet() []Build { return []Build{Meter(100, 20), Level(0, 1, 5, 0), Level(1, 20, 20, 0)} }

// Drawing is a contract with a draw that stands.
func Drawing() []Build {
	return []Build{Meter(100, 30), Level(0, 1, 5, 0.02), Level(1, 30, 20, 1.5)}
}

// Nothing is VBUS that never comes.
func Nothing() []Build { return []Build{Meter(100, 20), Level(0, 20, 0.02, 0)} }

// Offering are attempts with these offers, in watts at 20 V.
func Offering(watts ...int) Build {
	return func(f *rules.Facts) {
		for i, w := range watts {
			f.Negotiation.Attempts = append(f.Negotiation.Attempts, negotiation.Attempt{StartS: float64(9 * i), EndS: float64(9*i + 1), Missing: negotiation.StepDone, OfferMV: 20000, OfferMW: 1000 * w})
		}
	}
}

// SoftResets adds so many of them, a second apart.
func SoftResets(count int) Build {
	return func(f *rules.Facts) {
		for i := range count {
			f.Negotiation.Resets = append(f.Negotiation.Resets, negotiation.Reset{TimeS: float64(i), By: "sink"})
		}
	}
}

// CCEnded adds how CC was as contracts ended.
func CCEnded(open, gone, stays int) Build {
	return func(facts *rules.Facts) { facts.Draw.CC.Ends = draw.CCEnds{Open: open, Gone: gone, Stays: stays} }
}

// SourceSays adds what the source tells of itself.
func SourceSays(e negotiation.Events) Build {
	return func(facts *rules.Facts) { facts.Negotiation.SourceSays = e }
}

// Tripping are losses at these draws, early in a recording that goes on.
func Tripping(amps ...float64) []Build {
	out := []Build{Meter(100, 60), Level(0, 1, 5.1, 0.02), Level(1, 60, 20, 1.1), Messages(60, 30)}
	for i, a := range amps {
		out = append(out, Collapses(a, 2*float64(i+1)), Lost(2*float64(i)+1))
	}
	return append(out, Contract(9, 20000, 3000), func(f *rules.Facts) { f.Negotiation.LastS, f.Aligned = Ref(60.0), true })
}

// Turning are offers whose highest voltage goes from one to the next.
func Turning(mv ...int) Build {
	return func(f *rules.Facts) {
		for i, v := range mv {
			f.Negotiation.Attempts = append(f.Negotiation.Attempts, negotiation.Attempt{StartS: float64(i), EndS: float64(i) + 0.5, OfferMV: v, OfferMW: 3 * v})
		}
	}
}

// Programmable contracts follow each other.
func Programmable(mv ...int) Build {
	return func(f *rules.Facts) {
		for i, v := range mv {
			f.Negotiation.Contracts = append(f.Negotiation.Contracts, negotiation.Contract{StartS: Ref(float64(i + 1)), Kind: "pps", VoltageMV: &v, CurrentMA: Ref(2000)})
		}
	}
}

// Logged is what a meter logs of a signal for half a minute.
func Logged(hz float64, signal func(t float64) (volts, amps float64)) Build {
	return func(f *rules.Facts) {
		an := draw.New(draw.Options{})
		for i := range int(30 * hz) {
			t := float64(i) / hz
			v, a := signal(t)
			an.Add(&captures.Sample{At: time.Duration(t * 1e9), Volts: v, Amps: a, CC: [2]float64{math.NaN(), math.NaN()}, Line: i + 2})
		}
		f.Draw = an.Result()
	}
}

// SteadyAt is a signal that does not move.
func SteadyAt(volts, amps float64) func(float64) (float64, float64) {
	return func(float64) (float64, float64) { return volts, amps }
}

// Walk goes at random, as no supply does.
func Walk(seed uint64, step float64) func(float64) (float64, float64) {
	random := rand.New(rand.NewPCG(seed, 3))
	v, a := 10.0, 1.0
	return func(float64) (float64, float64) {
		v, a = math.Abs(v+step*random.NormFloat64()), math.Abs(a+0.2*step*random.NormFloat64())
		return v, a
	}
}
