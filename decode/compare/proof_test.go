package compare_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/compare"
	"portside/decode/draw"
	"portside/decode/rules"
)

// plateau is a draw that stands.
func plateau(startS, endS, volts, amps float64, n int) draw.Plateau {
	return draw.Plateau{StartS: startS, EndS: endS, VoltageV: &volts, CurrentA: &amps, N: n}
}

// metered adds the log of a meter with 10 rows a second: off, 5 V, and a contract at 20 V
// from 1 s on, with the plateaus that are given.
func metered(r compare.Recording, fiveA float64, plateaus ...draw.Plateau) compare.Recording {
	d := r.Diagnosis.Draw
	d.Sampling = draw.Sampling{N: 300, WithVoltage: 300, WithCurrent: 300, EndS: 30, IntervalS: 0.1, NoiseA: 0.001, ResolutionA: 0.001}
	d.Levels = []draw.Level{
		{StartS: 0, EndS: 0.5, N: 5},
		{StartS: 0.5, EndS: 0.9, VoltageV: 5, NominalV: 5, MeanA: fiveA, N: 5},
		{StartS: 1, EndS: 30, VoltageV: 20, NominalV: 20, N: 290},
	}
	d.Plateaus = plateaus
	for _, p := range plateaus {
		d.Sampling.MaxA = max(d.Sampling.MaxA, *p.CurrentA)
	}
	return r
}

// charging is a sound machine's log: it rests, climbs for a second and charges.
func charging() compare.Recording {
	return metered(built(rules.Healthy, 0.9, "fixed", 20, 30), 0.01, plateau(1, 2, 20, 0.04, 10), plateau(3, 30, 20, 2, 270))
}

// What reads healthy after is a repair only where it shows that what was wrong is gone.
// The limits' sources stand with the constants.
func TestWhatARepairHasToShow(t *testing.T) {
	period, on := 0.5, 0.01
	tries := draw.Pulses{Count: 7, PeriodS: &period, OnS: &on, PeakA: 2.5, RestA: 0.01}
	sick := func(where rules.Location, change func(d *draw.Result)) compare.Recording {
		r := metered(built(where, 0.01, "fixed", 20, 30), 0.01, plateau(1, 30, 20, 0.01, 290))
		r.Diagnosis.Draw.Sampling.MaxA = 2.5
		if change != nil {
			change(r.Diagnosis.Draw)
		}
		return r
	}
	with := func(r compare.Recording, change func(r *compare.Recording)) compare.Recording {
		change(&r)
		return r
	}
	lossy := rules.Finding{Rule: "series-resistance-high", Severity: rules.Warning, PointsTo: []rules.Location{rules.BeforePort, rules.AtPort}}
	raises := func(r compare.Recording, f rules.Finding, ohm float64) compare.Recording {
		r.Diagnosis.Findings = append(r.Diagnosis.Findings, f)
		if ohm > 0 {
			r.Diagnosis.Draw.Measured.SeriesResistanceOhm = &draw.Quantity{Value: ohm}
		}
		return r
	}
	at := func(r compare.Recording, intervalS float64) compare.Recording {
		r.Diagnosis.Draw.Sampling.IntervalS = intervalS
		return r
	}
	flat := func(amps, fiveA float64) compare.Recording {
		return metered(built(rules.Healthy, 0.9, "fixed", 20, 30), fiveA, plateau(1, 1.8, 20, 0.01, 8), plateau(1.9, 30, 20, amps, 281))
	}
	tests := []struct {
		name          string
		before, after compare.Recording
		says          string // "" for a repair
	}{
		{"a short, and it charges", sick(rules.BehindPort, nil), charging(), ""},
		{"a short, and all of the draw stands at once", sick(rules.BehindPort, nil), flat(2, 0.01), "the whole draw stands at once"},
		{"a dead port controller, and all of the draw stands at once", sick(rules.AtPort, nil), flat(2, 0.01), ""},
		{
			"all at once, and later another draw", sick(rules.BehindPort, nil),
			metered(built(rules.Healthy, 0.9, "fixed", 20, 30), 0.01, plateau(1, 1.8, 20, 0.01, 8), plateau(1.9, 20, 20, 2, 181), plateau(20, 30, 20, 1.4, 100)), "",
		},
		{
			"0.2 A before it begins, a quarter of it at 5 V", sick(rules.AtPort, nil),
			metered(built(rules.Healthy, 0.9, "fixed", 20, 30), 0.05, plateau(1, 2, 20, 0.2, 10), plateau(3, 30, 20, 2, 270)), "draws 0.20 A before the machine begins",
		},
		{
			"a machine that runs: next to nothing at 5 V", sick(rules.AtPort, nil),
			metered(built(rules.Healthy, 0.9, "fixed", 20, 30), 0.01, plateau(1, 2, 20, 0.2, 10), plateau(3, 30, 20, 2, 270)), "",
		},
		{
			"tries of 10 ms, and a meter of half the rate", sick(rules.AtPort, func(d *draw.Result) { d.Pulses = []draw.Pulses{tries} }),
			at(charging(), 0.2), "too short for the meter of after",
		},
		{
			"the same at the same rate", sick(rules.AtPort, func(d *draw.Result) { d.Pulses = []draw.Pulses{tries} }),
			charging(), "",
		},
		{
			"tries of 1.2 A, and a draw above them", sick(rules.AtPort, func(d *draw.Result) {
				low := tries
				low.PeakA = 1.2
				d.Pulses = []draw.Pulses{low}
			}), at(charging(), 0.2), "",
		},
		{
			"a charger that gave way at 2.8 A", sick(rules.BeforePort, func(d *draw.Result) { d.Collapses = []draw.Collapse{{TimeS: 2, FromV: 20, AtA: 2.8}} }),
			charging(), "no more than 2.00 A",
		},
		{
			"a charger that gave way at 2.2 A", sick(rules.BeforePort, func(d *draw.Result) { d.Collapses = []draw.Collapse{{TimeS: 2, FromV: 20, AtA: 2.2}} }),
			charging(), "",
		},
		{
			"2.8 A into a short are no load", sick(rules.BeforePort, func(d *draw.Result) {
				d.Collapses = []draw.Collapse{{TimeS: 2, FromV: 20, AtA: 2.8, HeldV: 1, HeldA: 2.8}}
			}), charging(), "",
		},
		{
			"collapses before, and one after", sick(rules.AtPort, func(d *draw.Result) { d.Collapses = make([]draw.Collapse, 3) }),
			with(charging(), func(r *compare.Recording) { r.Diagnosis.Draw.Collapses = make([]draw.Collapse, 1) }), "there still are after",
		},
		{
			"one after a short that had none", sick(rules.BehindPort, nil),
			with(charging(), func(r *compare.Recording) { r.Diagnosis.Draw.Collapses = make([]draw.Collapse, 1) }), "",
		},
		{"a lossy cable, and its loss cannot be told", raises(sick(rules.BeforePort, nil), lossy, 0.6), charging(), "its resistance cannot be told"},
		{
			"a lossy cable, and a sound one", raises(sick(rules.BeforePort, nil), lossy, 0.6),
			with(charging(), func(r *compare.Recording) {
				r.Diagnosis.Draw.Measured.SeriesResistanceOhm = &draw.Quantity{Value: 0.15}
			}), "",
		},
		{"0.3 ohm at the 2.5 A of before are 0.75 V", sick(rules.AtPort, nil), raises(charging(), lossy, 0.3), "raises series-resistance-high"},
		{
			"0.3 ohm at the 10 mA of before are nothing", sick(rules.AtPort, func(d *draw.Result) { d.Sampling.MaxA = 0.01 }),
			raises(charging(), lossy, 0.3), "",
		},
		{
			"16.1 V on a contract of 15 V", built(rules.AtPort, 0.01, "fixed", 15, 5),
			with(metered(built(rules.Healthy, 0.9, "fixed", 15, 30), 0.01, plateau(1, 2, 16.1, 0.04, 10), plateau(3, 30, 15.7, 2, 270)), func(r *compare.Recording) {
				r.Diagnosis.Draw.Levels[2].VoltageV, r.Diagnosis.Draw.Levels[2].NominalV = 15.7, 15
			}), "VBUS stands at 16.1 V on a contract of 15 V",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := compare.Compare(tt.before, tt.after)
			if tt.says == "" {
				assert.Equal(t, compare.Repaired, c.Verdict, c.Summary)
				return
			}
			assert.Equal(t, compare.Improved, c.Verdict, c.Summary)
			assert.Contains(t, c.Summary, tt.says)
			assert.Equal(t, "improved, not shown to be repaired", c.Outcome)
		})
	}
}

// The few words say what the fault is now, whatever the verdict's name.
func TestOutcome(t *testing.T) {
	fixed := func(where rules.Location, healthy float64) compare.Recording {
		return built(where, healthy, "fixed", 20, 5)
	}
	tests := []struct {
		before, after compare.Recording
		want          compare.Verdict
		says          string
	}{
		{fixed(rules.BehindPort, 0.01), fixed(rules.Healthy, 0.9), compare.Repaired, "repaired: the fault is gone"},
		{fixed(rules.BehindPort, 0.01), fixed(rules.BehindPort, 0.01), compare.Unchanged, "unchanged: still faulty"},
		{fixed(rules.BehindPort, 0.01), fixed(rules.AtPort, 0.01), compare.Unchanged, "still faulty: another fault"},
		{recorded(t, "hard-short-main-rail"), recorded(t, "weak-charger"), compare.Unchanged, "still faulty: likely another fault"},
		{fixed(rules.BehindPort, 0.01), fixed(rules.BehindPort, 0.3), compare.Improved, "improved, not repaired"},
		{fixed(rules.BehindPort, 0.01), fixed(rules.AtPort, 0.3), compare.Improved, "improved, and another fault"},
		{recorded(t, "hard-short-main-rail"), recorded(t, "leaky-vbus"), compare.Improved, "improved, likely another fault"},
		{fixed(rules.Healthy, 0.9), fixed(rules.BehindPort, 0.01), compare.Worse, "worse than before"},
		{fixed(rules.Healthy, 0.9), fixed(rules.Healthy, 0.9), compare.Unchanged, "no change: sound both times"},
		{fixed(rules.Undetermined, 0.4), fixed(rules.Undetermined, 0.5), compare.Unchanged, "no change shown"},
		{fixed(rules.BehindPort, 0.01), built(rules.Healthy, 0.9, "pps", 20, 5), compare.NotComparable, "not comparable"},
	}
	for _, tt := range tests {
		t.Run(tt.says, func(t *testing.T) {
			c := compare.Compare(tt.before, tt.after)
			assert.Equal(t, tt.want, c.Verdict, c.Summary)
			assert.Equal(t, tt.says, c.Outcome)
		})
	}
}
