package location

import (
	"testing"
	"time"

	"portside/captures"
	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// comesTo is VBUS that comes up to each voltage in turn, for one row, and goes away again.
func comesTo(volts ...float64) build {
	return func(f *rules.Facts) {
		for i, v := range volts {
			at := 2 + 2*float64(i)
			level(at, at, v, 0.01)(f)
			f.Draw.Plateaus[len(f.Draw.Plateaus)-1].N = 1
			level(at+0.2, at+1.8, 0.02, 0)(f)
		}
	}
}

// askedFor sets what each attempt asked for, and what ended it.
func askedFor(mv int, by string) build {
	return func(f *rules.Facts) {
		for i := range f.Negotiation.Attempts {
			f.Negotiation.Attempts[i].RequestMV, f.Negotiation.Attempts[i].EndedBy = mv, by
		}
	}
}

// stirring sets how far the rows of the last plateau scatter.
func stirring(amps float64) build {
	return func(f *rules.Facts) { f.Draw.Plateaus[len(f.Draw.Plateaus)-1].AmpsSD = amps }
}

// leaking is CC that goes up so far with each volt, of VBUS that rises from 5 to 20 V.
func leaking(perVolt float64) build {
	an := draw.New(draw.Options{})
	for i := range 700 {
		v := 5 + 15*float64(i%70)/70
		an.Add(&captures.Sample{At: time.Duration(i) * time.Millisecond, Volts: v, Amps: 0.01, CC: [2]float64{0, 1 + perVolt*v}})
	}
	cc := an.Result().CC
	return func(f *rules.Facts) { f.Draw.CC = cc }
}

func pinsLow(count int) build {
	return func(f *rules.Facts) { f.Draw.CC.Off = draw.CCStates{N: 100, Low: count} }
}

// carrying sets the current of every row above 5 V.
func carrying(amps float64) build {
	return func(f *rules.Facts) {
		for i := range f.Draw.Plateaus {
			if *f.Draw.Plateaus[i].VoltageV > contractV {
				f.Draw.Plateaus[i].CurrentA = &amps
			}
		}
	}
}

func mostA(amps float64) build {
	return func(f *rules.Facts) {
		f.Draw.Sampling.MaxA = amps
		f.Draw.Levels[len(f.Draw.Levels)-1].MaxA = amps
	}
}

func TestSignsOfLevels(t *testing.T) {
	at20 := func(builds ...build) []build {
		return append([]build{meter(50, 40), level(0, 1, 5.1, 0.01)}, append(builds, messages(10, 6), offered(5000, 20000), contract(0.9, 20000, 3000))...)
	}
	noContract := func(by string, mv int, missing negotiation.Step, count int, builds ...build) []build {
		return append(append([]build{meter(1000, 40)}, builds...), messages(60, 30), offered(5000, 20000), stalls(missing, count), askedFor(mv, by))
	}
	broken := func(seconds ...float64) []build {
		return []build{meter(50, 40), level(0, 1, 5.1, 0.01), level(1, 40, 20, 1), messages(10, 6), offered(5000, 20000), lostAfter(seconds...)}
	}
	at1000 := func(builds ...build) []build {
		return append(builds, messages(10, 6), offered(5000, 20000), contract(0.9, 20000, 3000))
	}
	falls := collapses(0.01, 3, 5, 7, 9, 11)
	idle := said(func(p picture) string { return p.idlesBelow(p.meter()) })
	unasked := said(func(p picture) string { return p.risesUnasked(p.meter()) })
	beyond := said(func(p picture) string { return p.againAndAgainBeyond(p.meter()) })
	came := func(p picture) string { return largest(p.state) }
	rhythm := func(p picture) string { s, _ := p.rhythm(); return one(s) }
	life := func(p picture) string { pattern, _ := p.drawSeen(); s, _ := p.stirs(pattern); return one(s) }
	draws := func(p picture) string { s, _ := p.drawSeen(); return largest(s) }
	closes := func(p picture) string { pattern, _ := p.drawSeen(); s, _ := p.closes(pattern); return one(s) }
	rides := said(picture.rides)
	loaded := func(p picture) string {
		if p.state[contractLost] > 0 {
			return "may be"
		}
		return ""
	}
	chance := func(p picture) string {
		if s, _ := p.ohmic(p.meter()); s[notOhmic] > 0 {
			return "may be"
		}
		return ""
	}
	surely := func(p picture) string {
		if p.offerTopic().cap > recordingCap {
			return "yes"
		}
		return ""
	}
	five := said(func(p picture) string { return p.low })
	ohmic := func(p picture) string { s, _ := p.ohmic(p.meter()); return one(s) }
	silent := func(p picture) string {
		if p.silentCC() {
			return "yes"
		}
		return ""
	}
	strange := said(func(p picture) string { _, text := p.strange(); return text })
	const window = "vSrcNew: USB PD R3.2 V1.1 table 7.23"
	const practised = "common practice"
	showSigns(t, []sign{
		{"17.8 V for 5 s without a load where 20 V were agreed", at20(level(1, 6, 17.8, 0.02), level(6, 40, 17.6, 2)), idle, "yes", window},
		{"for 2 s", at20(level(1, 3, 17.8, 0.02), level(3, 40, 17.6, 2)), idle, "", practised},
		{"in a list that begins inside a contract", append(at20(level(1, 6, 17.8, 0.02), level(6, 40, 17.6, 2)), func(f *rules.Facts) { f.Negotiation.BeginsInside = true }), idle, "", "another was agreed before: " + practised},
		{"under 2 A", at20(level(1, 40, 17.8, 2)), idle, "", "a lead of 1 ohm: Ohm's law"},
		{"19.3 V", at20(level(1, 40, 19.3, 0.02)), idle, "", window},
		{"20 V later", at20(level(1, 6, 17.8, 0.02), level(6, 40, 20, 2)), idle, "", "another step was under way: " + window},

		{"23 V three times, where 20 V is the most on offer", noContract("hard-reset", 0, negotiation.StepAnswer, 3, comesTo(23, 22.8, 23.1)), unasked, "yes", window},
		{"twice", noContract("hard-reset", 0, negotiation.StepAnswer, 3, comesTo(23, 22.8)), unasked, "", "a glitch: " + practised},
		{"23 V three times, as 1 A is cut", noContract("hard-reset", 0, negotiation.StepAnswer, 3, comesTo(23, 22.8, 23.1), carrying(1)), unasked, "", "a load that goes: tSrcTransient, USB PD R3.2 V1.1 table 7.23"},
		{"20.5 V three times", noContract("hard-reset", 0, negotiation.StepAnswer, 3, comesTo(20.5, 20.5, 20.5)), unasked, "", window},
		{"23 V three times on a meter alone", []build{meter(50, 40), level(0, 1, 5.1, 0.01), comesTo(23, 22.8, 23.1)}, beyond, "yes", "PPS ends at 21 V: USB PD R3.2 V1.1 table 10.9"},
		{"20.4 V on it", []build{meter(50, 40), level(0, 1, 5.1, 0.01), comesTo(20.4, 20.3, 20.4)}, beyond, "", "as above"},
		{"15 V that stand and were asked for", noContract("end-of-recording", 15000, negotiation.StepLeft, 1, level(0, 1, 5.1, 0.01), level(1, 40, 15, 1)), unasked, "", "the recorder missed the PS_RDY: " + practised},
		{"15 V that stand where 9 V were asked for", noContract("end-of-recording", 9000, negotiation.StepLeft, 1, level(0, 1, 5.1, 0.01), level(1, 40, 15, 1)), unasked, "yes", window},

		{"cut short five times at 20 V, and nothing drawn", noContract("hard-reset", 20000, negotiation.StepCutShort, 5, comesTo(20, 20, 20, 20, 20)), came, cutThere, practised},
		{"at 12 V", noContract("hard-reset", 20000, negotiation.StepCutShort, 5, comesTo(12, 12, 12, 12, 12)), came, cutIdle, practised},
		{"at 23 V", noContract("hard-reset", 20000, negotiation.StepCutShort, 5, comesTo(23, 23, 23, 23, 23)), came, cutIdle, "no right voltage: " + window},
		{"at 20 V twice of five times", noContract("hard-reset", 20000, negotiation.StepCutShort, 5, comesTo(20, 12, 12, 20, 12)), came, cutIdle, practised},

		{"no PS_RDY, and VBUS goes without a reset", noContract("restart", 20000, negotiation.StepPowerReady, 5, comesTo(20, 20, 20, 20, 20), falls), came, upAndLetGo, "USB Type-C R2.0 section 4.5.2.2"},
		{"with one", noContract("hard-reset", 20000, negotiation.StepPowerReady, 5, comesTo(20, 20, 20, 20, 20), falls), came, noPowerReady, "tPSTransition: USB PD R3.2 V1.1 table 6.68"},
		{"five tries in rows of 0.25 s, and nothing drawn", []build{meter(4, 40), comesTo(20, 20, 20, 20, 20), falls, messages(60, 30), offered(5000, 20000), stalls(negotiation.StepPowerReady, 5), askedFor(20000, "hard-reset")}, loaded, "", "a sink waits 0.45 s: USB PD R3.2 V1.1 table 6.68 (tPSTransition)"},
		{"two tries", []build{meter(4, 40), comesTo(20, 20), collapses(0.01, 3, 5), messages(60, 30), offered(5000, 20000), stalls(negotiation.StepPowerReady, 2), askedFor(20000, "hard-reset")}, loaded, "may be", "as above"},

		{"contracts of 9, 7, 5 and 3 s", broken(9, 7, 5, 3), rhythm, breaksHot, "what warms up: " + practised},
		{"of 9, 5, 7 and 3 s", broken(9, 5, 7, 3), rhythm, breaksSo, practised},
		{"of 9, 8.8, 8.6 and 8.4 s", broken(9, 8.8, 8.6, 8.4), rhythm, breaksAlike, practised},

		{"8 W that move by a tenth", at20(level(1, 40, 20, 0.4), stirring(0.05)), life, lifeMoves, "storage and fans: " + practised},
		{"8 W that stand", at20(level(1, 40, 20, 0.4), stirring(0.002)), life, "", "a precharge, a sleep or a leak: " + practised},
		{"0.11 A that move by 10 mA", at20(level(1, 40, 20, 0.11), stirring(0.01)), life, "", "a display's last digit: " + practised},
		{"8 W that move by half", at20(level(1, 40, 20, 0.4), stirring(0.2)), life, "", "tries: " + practised},

		{"a leap from 0.23 A to 2.9 A of 3 A, which stand", at20(level(1, 4, 20, 0.23), level(4.01, 40, 19.8, 2.9)), draws, drawAtLimit, "a charge is ramped: " + practised},
		{"in a second", at20(level(1, 4, 20, 0.23), level(5, 40, 19.8, 2.9)), draws, drawWorking, "as above"},

		{"no row above 12 mA at a contract", at1000(meter(1000, 30), level(0, 1, 5.1, 0.005), level(1, 30, 20, 0.005), mostA(0.012)), closes, closesNever, "C V, and 0.2 W of a standby: " + practised},
		{"one of 80 mA", at1000(meter(1000, 30), level(0, 1, 5.1, 0.005), level(1, 30, 20, 0.005), mostA(0.08)), closes, closesUnseen, practised},

		{"30 mA at a contract", at1000(meter(1000, 30), level(0, 1, 5.1, 0.005), level(1, 30, 20, 0.03), mostA(0.04)), closes, closesUnseen, "a standby: " + practised},

		{"3.8 V at the most in rows of 0.25 s", []build{meter(4, 40), comesTo(3.7, 3.1, 3.8, 3.5)}, five, "yes", practised},
		{"the same beside Hard Resets", []build{meter(4, 40), comesTo(3.7, 3.1, 3.8, 3.5), messages(20, 10), func(f *rules.Facts) { f.Negotiation.HardResets = 4 }}, five, "", "a row is the mean of VBUS and none: " + practised},

		{"90 ohm at 9 V and at 20 V, for a while", at20(level(1, 3, 9, 0.004), level(3, 6, 9, 0.1), level(6, 25, 20, 0.222), level(25, 40, 20, 0.5)), ohmic, ohmicLate, "Ohm's law"},
		{"the same, and both rise in one step", at20(level(1, 3, 9, 0.004), level(3, 6, 9, 0.1), level(6, 25, 20, 0.222), level(25, 40, 20, 0.5), func(f *rules.Facts) {
			f.Draw.Follows = []draw.Follow{{TimeS: 6, FromV: 9, ToV: 20, FromA: 0.1, ToA: 0.222, Exponent: 1}}
		}), ohmic, ohmicBehind, "as above"},
		{"between two rows", at20(level(1, 3, 9, 0.004), level(3, 6, 9, 0.1), level(6, 25, 20, 0.222), level(25, 40, 20, 0.5), func(f *rules.Facts) {
			f.Draw.Follows = []draw.Follow{{TimeS: 6, FromV: 9, ToV: 20, FromA: 0.1, ToA: 0.222, Exponent: 1, AtOnce: true}}
		}), chance, "may be", "a load may be taken up just then: " + practised},

		{"an offer taken back three times", []build{messages(40, 20), offered(5000, 20000), turning(20000, 5000, 20000, 5000, 20000, 5000)}, surely, "yes", "USB PD R3.2 V1.1 section 6.4.1"},
		{"twice", []build{messages(40, 20), offered(5000, 20000), turning(20000, 5000, 20000, 5000)}, surely, "", practised},

		{"steps at 5 V, and then it works", []build{meter(50, 80), level(0, 2, 5.1, 0.01), climbing(), level(41, 80, 5, 0.9)}, draws, drawStairsSettle, "a search of a plain source: " + practised},
		{"at 20 V", append([]build{meter(50, 80), level(0, 1, 5.1, 0.01), level(1, 2, 20, 0.01), climbing(), level(41, 80, 20, 0.9)}, messages(10, 6), offered(5000, 20000), contract(0.9, 20000, 3000)), draws, drawWorking, "as above"},

		{"CC that goes up by 68 mV a volt", []build{meter(1000, 30), level(0, 30, 20, 0.01), leaking(0.068)}, rides, "yes", "a leak divides VBUS against Rd: Ohm's law"},
		{"by 5 mV", []build{meter(1000, 30), level(0, 30, 20, 0.01), leaking(0.005)}, rides, "", practised},

		{"offers, and no VBUS at the meter", []build{meter(1, 30), level(0, 30, 0.01, 0), messages(20, 0), stalls(negotiation.StepAcknowledge, 3)}, came, lostOnTheWay, practised},
		{"nine Hard Resets beside rows of a second", []build{meter(1, 30), level(0, 30, 0.01, 0), messages(20, 20), stalls(negotiation.StepRequest, 9), func(f *rules.Facts) { f.Negotiation.HardResets = 9 }}, came, noRequest, "VBUS stands for tenths of a second between them: " + practised},
		{"beside rows of 20 ms", []build{meter(50, 30), level(0, 30, 0.01, 0), messages(20, 20), stalls(negotiation.StepRequest, 9), func(f *rules.Facts) { f.Negotiation.HardResets = 9 }}, came, lostOnTheWay, "as above"},
		{"nothing on either pin, and no VBUS", []build{meter(50, 30), level(0, 30, 0.01, 0), pinsLow(100)}, silent, "yes", "a source pulls up: USB Type-C R2.0 section 4.5.2.2"},
		{"Rd's level half of the time", []build{meter(50, 30), level(0, 30, 0.01, 0), pinsLow(50)}, silent, "", "as above"},

		{"VBUS at rest for no moment", []build{meter(50, 30), level(0, 0.05, 5.1, 0), level(29.9, 29.95, 5.1, 0)}, strange, "yes", "tSrcSettle: USB PD R3.2 V1.1 table 7.23"},
		{"the same where VBUS leaks into CC", []build{meter(50, 30), level(0, 0.05, 5.1, 0), level(29.9, 29.95, 5.1, 0), leaking(0.068)}, strange, "", "a source lets go of a device that it no longer sees: USB Type-C R2.0 section 4.5.2.2"},
		{"thirty attempts in that time", []build{meter(50, 30), level(0, 0.05, 5.1, 0), level(29.9, 29.95, 5.1, 0), messages(60, 30), stalls(negotiation.StepPowerReady, 30)}, strange, "", "each moves VBUS: " + practised},
	})
}
