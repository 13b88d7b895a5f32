package location

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// build adds to the facts of a case.
type build func(*rules.Facts)

// said is whether something is told.
func said(text func(picture) string) func(picture) string {
	return func(p picture) string {
		if text(p) == "" {
			return ""
		}
		return "yes"
	}
}

func ref[T any](x T) *T { return &x }

func sampling(hz, seconds float64) draw.Sampling {
	n := int(hz * seconds)
	return draw.Sampling{N: n, WithVoltage: n, WithCurrent: n, EndS: seconds, IntervalS: 1 / hz, MaxV: 20, MaxA: 3, NoiseA: 0.001, ResolutionA: 0.001}
}

func meter(hz, seconds float64) build {
	return func(f *rules.Facts) { f.Draw = &draw.Result{Sampling: sampling(hz, seconds)} }
}

// level adds a stretch of one VBUS voltage with one draw.
func level(from, to, volts, amps float64) build {
	return func(f *rules.Facts) {
		nominal := 0.0
		for _, n := range []float64{5, 9, 15, 20} {
			if math.Abs(volts-n) < 1.6 {
				nominal = n
			}
		}
		if nominal == 0 && volts > absentV {
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

func pulses(from, to, period, peak float64, count int, with func(*draw.Pulses)) build {
	return func(f *rules.Facts) {
		p := draw.Pulses{StartS: from, EndS: to, Count: count, PeriodS: &period, PeriodU: ref(0.002), OnS: ref(0.01), PeakA: peak, Quiet: true}
		if with != nil {
			with(&p)
		}
		f.Draw.Pulses = append(f.Draw.Pulses, p)
	}
}

func collapses(atA float64, times ...float64) build {
	return func(f *rules.Facts) {
		for _, t := range times {
			f.Draw.Collapses = append(f.Draw.Collapses, draw.Collapse{TimeS: t, FromV: 19.9, ToV: 0.2, AtA: atA, BackS: ref(0.8)})
		}
	}
}

func messages(fromSource, fromSink int) build {
	return func(f *rules.Facts) {
		f.Negotiation = &negotiation.Result{
			Messages: fromSource + fromSink, FromSource: fromSource, FromSink: fromSink, GoodCRCs: fromSource / 2,
			FirstS: ref(0.0), LastS: ref(20.0),
		}
	}
}

func attempts(step negotiation.Step, count int) build {
	return func(f *rules.Facts) {
		for i := range count {
			from := 1 + float64(i)
			f.Negotiation.Attempts = append(f.Negotiation.Attempts, negotiation.Attempt{StartS: from, EndS: from + 0.9, Missing: step})
		}
		mv, ma := 20000, 3250
		f.Negotiation.Offers = append(f.Negotiation.Offers, negotiation.Offer{Kind: "fixed", VoltageMV: &mv, CurrentMA: &ma})
	}
}

func contract(at float64, mv, ma int) build {
	return func(f *rules.Facts) {
		f.Negotiation.Contracts = append(f.Negotiation.Contracts, negotiation.Contract{StartS: &at, Kind: "fixed", VoltageMV: &mv, CurrentMA: &ma})
	}
}

// damaged messages of each side.
func damaged(source, sink int) build {
	return func(f *rules.Facts) {
		f.Negotiation.CRCErrors = negotiation.CRCErrors{Source: source, Sink: sink, FirstS: 1, LastS: 9}
	}
}

// lateAnswersOf are answers that took as long.
func lateAnswersOf(seconds float64, count int) build {
	return func(f *rules.Facts) {
		for i := range count {
			from := 1 + float64(i)
			f.Negotiation.Phases = append(f.Negotiation.Phases, negotiation.Phase{Phase: "answer", StartS: ref(from), EndS: ref(from + seconds), Late: true, LimitS: ref(0.015), Limit: "tReceiverResponse"})
		}
	}
}

// offered are fixed objects of the last capabilities.
func offered(mv ...int) build {
	return func(f *rules.Facts) {
		for _, v := range mv {
			ma := 3250
			f.Negotiation.Offers = append(f.Negotiation.Offers, negotiation.Offer{Kind: "fixed", VoltageMV: &v, CurrentMA: &ma})
		}
	}
}

// lost adds contracts that a Hard Reset ends again.
func lost(times ...float64) build {
	return func(f *rules.Facts) {
		for _, t := range times {
			mv, ma, end := 20000, 3250, t+0.6
			f.Negotiation.Contracts = append(f.Negotiation.Contracts, negotiation.Contract{StartS: &t, EndS: &end, Kind: "fixed", VoltageMV: &mv, CurrentMA: &ma, EndedBy: "hard-reset"})
			f.Negotiation.Resets = append(f.Negotiation.Resets, negotiation.Reset{TimeS: end, Hard: true})
		}
	}
}

func taper(from, to float64) build {
	return func(f *rules.Facts) {
		f.Draw.Tapers = append(f.Draw.Tapers, draw.Taper{StartS: from, EndS: to, TauS: ref(800.0), FromA: 1.7, ToA: 0.2})
	}
}

func stairs(resets int, settledA *float64) build {
	return func(f *rules.Facts) {
		f.Draw.Staircases = append(f.Draw.Staircases, draw.Staircase{StartS: 2, EndS: 40, Steps: 12, StepA: 0.064, Resets: resets, SettledA: settledA, TopA: 1.2, Collapsed: settledA == nil})
	}
}

// spikes of 10 ms on a quiet draw.
func spikes(peak float64, times ...float64) build {
	return func(f *rules.Facts) {
		for _, t := range times {
			f.Draw.Spikes = append(f.Draw.Spikes, draw.Spike{TimeS: t, PeakA: peak, BaselineA: 0.004, DurationS: 0.01, VoltageV: 20})
		}
	}
}

// flicker is VBUS that stands at 5 V for upS, again and again.
func flicker(upS float64, times int) build {
	return func(f *rules.Facts) {
		for i := range times {
			from := 2 * float64(i)
			level(from, from+upS, 5.1, 0.01)(f)
			level(from+upS, from+2, 0.02, 0)(f)
		}
	}
}

// lostAfter adds contracts that a Hard Reset ends after the given times.
func lostAfter(seconds ...float64) build {
	return func(f *rules.Facts) {
		from := 1.0
		for _, s := range seconds {
			lost(from)(f)
			last := len(f.Negotiation.Contracts) - 1
			f.Negotiation.Contracts[last].EndS = ref(from + s)
			f.Negotiation.Resets[last].TimeS = from + s
			from += s + 2
		}
	}
}

func exponent(n, leakOhm float64) build {
	return func(f *rules.Facts) {
		f.Draw.Measured.LoadExponent = &draw.Quantity{Value: n, Uncertainty: ref(0.05)}
		f.Draw.Measured.LeakResistanceOhm = &draw.Quantity{Value: leakOhm, Uncertainty: ref(1.0)}
	}
}

func slide(from, to float64) build {
	return func(f *rules.Facts) {
		f.Draw.Slides = append(f.Draw.Slides, draw.Slide{StartS: from, EndS: to, FromV: 20, ToV: 17, AtA: 1.6})
	}
}

// held is a load that holds VBUS down at every fall.
func held(volts, amps float64) build {
	return func(f *rules.Facts) {
		for i := range f.Draw.Collapses {
			f.Draw.Collapses[i].HeldV, f.Draw.Collapses[i].HeldA = volts, amps
		}
	}
}

// climbing is a staircase that neither settles nor falls.
func climbing() build {
	return func(f *rules.Facts) {
		f.Draw.Staircases = append(f.Draw.Staircases, draw.Staircase{StartS: 2, EndS: 40, Steps: 12, StepA: 0.064, DwellS: 0.5, TopA: 0.9})
		f.Draw.Plateaus = nil
	}
}

// ramps are draws that rise for 2 s, each row a plateau of its own, and rest for 1.5 s.
func ramps(n int) build {
	return func(f *rules.Facts) {
		f.Draw.Plateaus = nil
		volts := 20.0
		for i := range n {
			from := 2 + 3.5*float64(i)
			for row := range 100 {
				at := from + 0.02*float64(row)
				f.Draw.Plateaus = append(f.Draw.Plateaus, draw.Plateau{StartS: at, EndS: at, VoltageV: &volts, CurrentA: ref(0.018 * float64(row)), N: 1})
			}
			f.Draw.Plateaus = append(f.Draw.Plateaus, draw.Plateau{StartS: from + 2, EndS: from + 3.48, VoltageV: &volts, CurrentA: ref(0.003), N: 75})
		}
	}
}

func series(ohm float64) build {
	return func(f *rules.Facts) {
		f.Draw.Measured.SeriesResistanceOhm = &draw.Quantity{Value: ohm, Uncertainty: ref(0.002)}
	}
}

// evidence runs the table of rules over the facts, as the engine does.
func evidence(t testing.TB, readings []string, builds ...build) Evidence {
	t.Helper()
	f := rules.Facts{Aligned: true, AccuracyV: 1, AccuracyA: 1}
	for _, b := range builds {
		b(&f)
	}
	given, err := ParseReadings(readings)
	require.NoError(t, err)
	findings, _ := rules.Run(&f)
	return Evidence{Facts: f, Findings: findings, Readings: given}
}

// ended sets how long the contracts stood and what ended them.
func ended(heldS float64, by string) build {
	return func(f *rules.Facts) {
		for i := range f.Negotiation.Contracts {
			c := &f.Negotiation.Contracts[i]
			c.EndS, c.EndedBy = ref(*c.StartS+heldS), by
		}
	}
}

// sign is a recording, and what is told of it.
type sign struct {
	name   string
	facts  []build
	see    func(picture) string
	want   string
	source string
}

func showSigns(t *testing.T, signs []sign) {
	t.Helper()
	for _, x := range signs {
		t.Run(x.name, func(t *testing.T) {
			require.NotEmpty(t, x.source)
			assert.Equal(t, x.want, x.see(look(evidence(t, nil, x.facts...))))
		})
	}
}
