package rules

import "portside/decode/draw"

// leaky is a draw that goes with the voltage.
func leaky(exponent, ohm float64) build {
	return measured(func(m *draw.Measured) {
		m.LoadExponent, m.LeakResistanceOhm = quantity(exponent, 0.02), quantity(ohm, 0.1)
	})
}

func rise(at, chargeC, fromV, toV, peakA float64) build {
	return func(f *Facts) {
		f.Draw.Rises = append(f.Draw.Rises, draw.Rise{TimeS: at, ChargeC: chargeC, ChargeU: chargeC / 50, FromV: fromV, ToV: toV, PeakA: peakA})
	}
}

func spike(at, base, peak float64) build {
	return func(f *Facts) {
		f.Draw.Spikes = append(f.Draw.Spikes, draw.Spike{TimeS: at, BaselineA: base, PeakA: peak, DurationS: 0.01})
	}
}

func pulses(startS, endS float64, count int) build {
	return func(f *Facts) {
		f.Draw.Pulses = append(f.Draw.Pulses, draw.Pulses{StartS: startS, EndS: endS, Count: count, PeriodS: number(0.51), PeakA: 0.5})
	}
}

// waking are ten small pulses under a standing contract.
func waking(periodS, onS, restA float64) build {
	return func(f *Facts) {
		f.Draw.Levels = append(f.Draw.Levels, draw.Level{StartS: 0, EndS: 60, VoltageV: 20, NominalV: 20, MinV: 20, MaxV: 20})
		f.Draw.Pulses = append(f.Draw.Pulses, draw.Pulses{StartS: 3, EndS: 3 + 9*periodS, Count: 10, PeriodS: &periodS, OnS: &onS, PeakA: 0.15, RestA: restA, VoltageV: 20})
	}
}

// peaking makes the pulses as high.
func peaking(amps float64) build {
	return func(f *Facts) {
		for i := range f.Draw.Pulses {
			f.Draw.Pulses[i].PeakA = amps
		}
	}
}

func stairs(stepA float64, resets int, collapsed bool) build {
	return func(f *Facts) {
		f.Draw.Staircases = append(f.Draw.Staircases, draw.Staircase{StartS: 5, EndS: 20, Steps: 8, StepA: stepA, DwellS: 0.5, TopA: 1.2, Resets: resets, Collapsed: collapsed})
	}
}

func loadCases() []ruleCase {
	return []ruleCase{
		{
			name:   "a hot charger offers less and the machine takes less",
			facts:  []build{meterLog(60, 20, 3), leaky(1.3, 7), plateau(1, 30, 20, 2.9), plateau(30, 60, 15, 2)},
			not:    []string{"resistive-load"},
			source: "a resistor's exponent is 1: Ohm's law",
		},
		{
			name:   "the machine draws less at 5 V than the leak alone would",
			facts:  []build{meterLog(60, 20, 3), leaky(1, 7), level(0, 1, 5, 0.09), plateau(1, 30, 20, 2.9), plateau(30, 60, 15, 2.2)},
			not:    []string{"resistive-load"},
			source: "5 V on 7 ohm are 0.7 A: Ohm's law",
		},
		{
			name:   "less in the rise, for a tenth of a second at 5 V and another at 11 V",
			facts:  []build{meterLog(60, 20, 1.5), leaky(1, 43), plateau(1, 1.1, 5.1, 0.022), plateau(1.11, 1.21, 11.4, 0.026), plateau(1.22, 60, 20, 0.48)},
			not:    []string{"resistive-load"},
			source: "43 ohm take 0.12 A of 5.1 V and 0.27 A of 11.4 V: Ohm's law",
		},
		{
			name:   "a leak that draws at every voltage",
			facts:  []build{meterLog(60, 20, 0.4), leaky(1, 50), level(0, 20, 5, 0.1), plateau(0, 20, 5, 0.1), plateau(20, 60, 20, 0.4)},
			want:   map[string]Severity{"resistive-load": Warning},
			source: "50 ohm: 0.10 A at 5 V, 0.40 A at 20 V, Ohm's law",
		},
		{
			name:   "more charge than 100 uF take",
			facts:  []build{meterLog(10, 20, 2), rise(3, 0.0075, 5, 20, 1.5), plateau(3.1, 10, 20, 2)},
			want:   map[string]Severity{"inrush-excess": Warning},
			source: "7.5 mC over 15 V are 500 uF; cSnkBulkPd is 100 uF: USB PD R3.2 V1.1 table 7.24",
		},
		{
			name:   "the charge that 90 uF take",
			facts:  []build{meterLog(10, 20, 2), rise(3, 0.00135, 5, 20, 1.5)},
			not:    []string{"inrush-excess"},
			source: "1.35 mC over 15 V are 90 uF: USB PD R3.2 V1.1 table 7.24",
		},
		{
			name:   "a slow log takes the draw for a charge",
			facts:  []build{meterLog(60, 20, 3), interval(0.1), rise(3, 0.0142, 5, 20, 0.25), plateau(3.5, 60, 20, 2.7)},
			not:    []string{"inrush-excess"},
			source: "10 samples a second: a draw of 0.14 A for one of them is 14 mC, computed",
		},
		{
			name:   "a slow log with a charge above all draw after it",
			facts:  []build{meterLog(60, 20, 3), interval(0.1), rise(3, 0.05, 5, 20, 0.6), plateau(3.5, 60, 20, 0.05)},
			want:   map[string]Severity{"inrush-excess": Warning},
			source: "50 mC over 15 V are 3.3 mF: USB PD R3.2 V1.1 table 7.24",
		},
		{
			name:   "a leap of the current",
			facts:  []build{meterLog(60, 20, 2), spike(5, 0.1, 1.9)},
			want:   map[string]Severity{"current-spike": Note},
			source: "common practice",
		},
		{
			name:   "noise of a few milliampere",
			facts:  []build{meterLog(60, 20, 0.05), spike(5, 0.035, 0.042)},
			not:    []string{"current-spike"},
			source: "current monitors have offsets of 10 mA class: data sheet SBOS844C",
		},
		{
			name:   "the draw rises and stays",
			facts:  []build{meterLog(60, 20, 2), level(1, 60, 20, 2), plateau(2, 60, 20, 2)},
			want:   map[string]Severity{"ramp-normal": Note},
			not:    []string{"no-draw-at-contract", "staircase-draw", "retry-pulses", "charge-taper"},
			source: "common practice",
		},
		{
			name:   "nothing is drawn until the button is pressed",
			facts:  []build{meterLog(60, 28, 2), level(1, 5, 20, 0.01), level(5, 60, 28, 1), plateau(1, 5, 20, 0.01), plateau(5, 60, 28, 1)},
			not:    []string{"no-draw-at-contract"},
			source: "common practice",
		},
		{
			name:   "the device feeds the cable after a swap of the roles",
			facts:  []build{meterLog(60, 20, 0), level(1, 60, 20, -1.2)},
			not:    []string{"no-draw-at-contract"},
			source: "current that truly changes sign: USB PD R3.2 V1.1 section 7.3.2",
		},
		{
			name:   "draw and feeding that cancel out",
			facts:  []build{meterLog(60, 20, 2.6), level(1, 60, 20, -0.007), plateau(1, 30, 20, 2.5), plateau(30, 60, 20, -2.5)},
			not:    []string{"no-draw-at-contract"},
			source: "USB PD R3.2 V1.1 section 7.3.2",
		},
		{
			name:   "seven retries and nothing after them",
			facts:  []build{meterLog(60, 20, 0.5), pulses(3, 6.1, 7)},
			want:   map[string]Severity{"retry-pulses": Fault},
			source: "500 ms off, 10 ms on, 7 tries: data sheet SLUSDU3",
		},
		{
			name: "a device that feeds the cable and stops at times",
			facts: []build{meterLog(60, 20, 0), pulses(3, 60, 9), func(f *Facts) {
				f.Draw.Pulses[0].PeakA, f.Draw.Pulses[0].RestA = -0.07, -2.2
			}},
			not:    []string{"retry-pulses"},
			source: "current that truly changes sign: USB PD R3.2 V1.1 section 7.3.2",
		},
		{
			name:   "two pulses are no train",
			facts:  []build{meterLog(60, 20, 0.5), pulses(3, 3.6, 2)},
			not:    []string{"retry-pulses"},
			source: "common practice",
		},
		{
			name:   "0.1 s each 3.9 s over a standby of 60 mA",
			facts:  []build{meterLog(60, 20, 0.15), waking(3.9, 0.1, 0.06)},
			want:   map[string]Severity{"retry-pulses": Warning},
			source: "a machine that sleeps: common practice; the slowest retry is 2 s, data sheet SLUSDL3A",
		},
		{
			name:   "over 20 mA",
			facts:  []build{meterLog(60, 20, 0.15), waking(3.9, 0.1, 0.02)},
			want:   map[string]Severity{"retry-pulses": Fault},
			source: "common practice: a board that is off takes 9 to 30 mA at 19 V",
		},
		{
			name:   "each 2 s",
			facts:  []build{meterLog(60, 20, 0.15), waking(2, 0.1, 0.06)},
			want:   map[string]Severity{"retry-pulses": Fault},
			source: "a charger circuit that tests for a poor source, data sheet SLUSDL3A",
		},
		{
			name:   "12 W for 0.4 s each 6 s",
			facts:  []build{meterLog(90, 20, 0.6), waking(6, 0.4, 0.06), peaking(0.6)},
			want:   map[string]Severity{"retry-pulses": Warning},
			source: "a machine that sleeps: 5 to 15 W for what it has to do, common practice",
		},
		{
			name:   "16 W for 0.4 s each 6 s",
			facts:  []build{meterLog(90, 20, 0.8), waking(6, 0.4, 0.06), peaking(0.8)},
			want:   map[string]Severity{"retry-pulses": Fault},
			source: "as above",
		},
		{
			name:   "16 W, from before the contract on",
			facts:  []build{meterLog(90, 20, 0.8), level(0, 3.5, 5, 0.06), waking(6, 0.4, 0.06), peaking(0.8), func(f *Facts) { f.Draw.Levels[1].StartS = 3.5 }},
			want:   map[string]Severity{"retry-pulses": Fault},
			source: "as above",
		},
		{
			name:   "12 W for 0.2 s each 6 s",
			facts:  []build{meterLog(90, 20, 0.6), waking(6, 0.2, 0.06), peaking(0.6)},
			want:   map[string]Severity{"retry-pulses": Fault},
			source: "as above",
		},
		{
			name:   "12 W for 0.4 s each 3 s",
			facts:  []build{meterLog(90, 20, 0.6), waking(3, 0.4, 0.06), peaking(0.6)},
			want:   map[string]Severity{"retry-pulses": Fault},
			source: "a start that gives up is tried again sooner: common practice",
		},
		{
			name:   "retries, then the machine works",
			facts:  []build{meterLog(60, 20, 2), pulses(3, 6.1, 7), plateau(7, 60, 20, 1.5)},
			want:   map[string]Severity{"retry-pulses": Warning},
			source: "common practice",
		},
		{
			name:   "three small pulses, and a start that moves and holds",
			facts:  []build{meterLog(60, 20, 1.6), pulses(2, 3, 3), plateau(3, 9, 20, 0.02), plateau(9, 11, 20, 1.2), plateau(11, 12.5, 20, 1.6), plateau(12.5, 60, 20, 0.7)},
			want:   map[string]Severity{"retry-pulses": Note},
			source: "common practice: capacitors fill and rails start once each",
		},
		{
			name:   "one climb of a boot that falls, and the machine works",
			facts:  []build{meterLog(60, 20, 2), stairs(0.064, 0, true), plateau(20, 60, 20, 0.6)},
			want:   map[string]Severity{"staircase-draw": Note},
			source: "boot peaks of 0.5 to 2.3 A at 20 V: common practice",
		},
		{
			name:   "one climb that falls, and nothing works after it",
			facts:  []build{meterLog(60, 20, 2), stairs(0.064, 0, true), plateau(20, 60, 20, 0.02)},
			want:   map[string]Severity{"staircase-draw": Warning},
			source: "common practice",
		},
		{
			name:   "a climb that collapses again and again",
			facts:  []build{meterLog(60, 20, 2), stairs(0.064, 5, true)},
			want:   map[string]Severity{"staircase-draw": Fault},
			source: "open laptop embedded-controller firmware settles after 3",
		},
		{
			name:   "a ramp that the sampling cuts into steps",
			facts:  []build{meterLog(60, 20, 2), stairs(0.016, 1, true)},
			want:   map[string]Severity{"staircase-draw": Note},
			source: "steps of 50 or 100 mA: data sheets SLUSE65A and SLUSDU3",
		},
		{
			name: "the draw tapers",
			facts: []build{meterLog(3600, 20, 2), func(f *Facts) {
				f.Draw.Tapers = append(f.Draw.Tapers, draw.Taper{StartS: 600, EndS: 3600, TauS: number(807), FromA: 2, ToA: 0.2})
			}},
			want:   map[string]Severity{"charge-taper": Note},
			source: "807 s: constant voltage of a cycled cell, TRI-AMDD/beep",
		},
	}
}
