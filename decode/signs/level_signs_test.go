package signs

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"portside/captures"
	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs/build"
)

// comesTo is VBUS that comes up to each voltage in turn, for one row, and goes away again.
func comesTo(volts ...float64) build.Build {
	return func(f *rules.Facts) {
		for i, v := range volts {
			at := 2 + 2*float64(i)
			build.Level(at, at, v, 0.01)(f)
			f.Draw.Plateaus[len(f.Draw.Plateaus)-1].N = 1
			build.Level(at+0.2, at+1.8, 0.02, 0)(f)
		}
	}
}

// askedFor sets what each attempt asked for, and what ended it.
func askedFor(mv int, by string) build.Build {
	return func(f *rules.Facts) {
		for i := range f.Negotiation.Attempts {
			f.Negotiation.Attempts[i].RequestMV, f.Negotiation.Attempts[i].EndedBy = mv, by
		}
	}
}

// inTheNext are contracts that a Hard Reset ends, the first so many of them while another is
// asked for, which ends so many seconds before.
func inTheNext(before float64, within, of int) []build.Build {
	return []build.Build{build.Messages(60, 30), build.Offered(5000, 20000), build.LostAfter(make([]float64, of)...), func(f *rules.Facts) {
		for i := range f.Negotiation.Contracts {
			c := &f.Negotiation.Contracts[i]
			end := *c.StartS + 1
			c.EndS, f.Negotiation.Resets[i].TimeS = &end, end
			if i < within {
				f.Negotiation.Attempts = append(f.Negotiation.Attempts, negotiation.Attempt{StartS: end - 0.9, EndS: end - before, Missing: negotiation.StepPowerReady, RequestMV: 20000, EndedBy: "hard-reset"})
			}
		}
	}}
}

// againBy is how many messages of either side are said again.
func againBy(source, sink int) build.Build {
	return func(f *rules.Facts) {
		f.Negotiation.CRCErrors.RepeatedSource, f.Negotiation.CRCErrors.RepeatedSink = source, sink
	}
}

// stirring sets how far the rows of the last plateau scatter.
func stirring(amps float64) build.Build {
	return func(f *rules.Facts) { f.Draw.Plateaus[len(f.Draw.Plateaus)-1].AmpsSD = amps }
}

// leaking is CC that goes up so far with each volt, of VBUS that rises from 5 to 20 V.
func leaking(perVolt float64) build.Build {
	an := draw.New(draw.Options{})
	for i := range 700 {
		v := 5 + 15*float64(i%70)/70
		an.Add(&captures.Sample{At: time.Duration(i) * time.Millisecond, Volts: v, Amps: 0.01, CC: [2]float64{0, 1 + perVolt*v}})
	}
	cc := an.Result().CC
	return func(f *rules.Facts) { f.Draw.CC = cc }
}

func pinsLow(count int) build.Build {
	return func(f *rules.Facts) { f.Draw.CC.Off = draw.CCStates{N: 100, Low: count} }
}

// carrying sets the current of every row above 5 V.
func carrying(amps float64) build.Build {
	return func(f *rules.Facts) {
		for i := range f.Draw.Plateaus {
			if *f.Draw.Plateaus[i].VoltageV > 5.9 {
				f.Draw.Plateaus[i].CurrentA = &amps
			}
		}
	}
}

func mostA(amps float64) build.Build {
	return func(f *rules.Facts) {
		f.Draw.Sampling.MaxA = amps
		f.Draw.Levels[len(f.Draw.Levels)-1].MaxA = amps
	}
}

func TestSignsOfLevels(t *testing.T) {
	at20 := func(builds ...build.Build) []build.Build {
		return append([]build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.01)}, append(builds, build.Messages(10, 6), build.Offered(5000, 20000), build.Contract(0.9, 20000, 3000))...)
	}
	noContract := func(by string, mv int, missing negotiation.Step, count int, builds ...build.Build) []build.Build {
		return append(append([]build.Build{build.Meter(1000, 40)}, builds...), build.Messages(60, 30), build.Offered(5000, 20000), stalls(missing, count), askedFor(mv, by))
	}
	broken := func(seconds ...float64) []build.Build {
		return []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.01), build.Level(1, 40, 20, 1), build.Messages(10, 6), build.Offered(5000, 20000), build.LostAfter(seconds...)}
	}
	at1000 := func(builds ...build.Build) []build.Build {
		return append(builds, build.Messages(10, 6), build.Offered(5000, 20000), build.Contract(0.9, 20000, 3000))
	}
	repeating := func(source, sink int) []build.Build {
		return []build.Build{build.Meter(50, 40), build.Level(1, 40, 20, 1), build.Messages(60, 40), build.Offered(5000, 20000), build.Contract(0.9, 20000, 3000), againBy(source, sink)}
	}
	overfed := func(missing negotiation.Step, hz, amps, at5 float64) []build.Build {
		return []build.Build{build.Meter(hz, 40), build.Level(0, 1, 5.1, at5), comesTo(8, 8, 8), build.Collapses(amps, 3, 5, 7), build.Messages(60, 30), build.Offered(5000, 20000), stalls(missing, 3), askedFor(20000, "hard-reset")}
	}
	falls := build.Collapses(0.01, 3, 5, 7, 9, 11)
	idle := said(func(p Picture) string { return p.IdlesBelow(p.Meter()) })
	unasked := said(func(p Picture) string { return p.risesUnasked(p.Meter()) })
	beyond := said(func(p Picture) string { return p.AgainAndAgainBeyond(p.Meter()) })
	came := func(p Picture) string { return largest(p.State) }
	rhythm := func(p Picture) string { s, _ := p.Rhythm(); return one(s) }
	hears := func(p Picture) string { s, _ := p.Unheard(); return one(s) }
	life := func(p Picture) string { pattern, _ := p.DrawSeen(); s, _ := p.Stirs(pattern); return one(s) }
	draws := func(p Picture) string { s, _ := p.DrawSeen(); return largest(s) }
	closes := func(p Picture) string { pattern, _ := p.DrawSeen(); s, _ := p.Closes(pattern); return one(s) }
	rides := said(Picture.Rides)
	loaded := func(p Picture) string {
		if p.State[ContractLost] > 0 {
			return "may be"
		}
		return ""
	}
	chance := func(p Picture) string {
		if s, _ := p.Ohmic(p.Meter()); s[NotOhmic] > 0 {
			return "may be"
		}
		return ""
	}
	surely := func(p Picture) string {
		if p.TurnsOften() {
			return "yes"
		}
		return ""
	}
	five := said(func(p Picture) string { return p.Low })
	ohmic := func(p Picture) string { s, _ := p.Ohmic(p.Meter()); return one(s) }
	silent := func(p Picture) string {
		if p.SilentCC() {
			return "yes"
		}
		return ""
	}
	strange := said(func(p Picture) string { _, text := p.Strange(); return text })
	const window = "vSrcNew: USB PD R3.2 V1.1 table 7.23"
	const practised = "common practice"
	showSigns(t, []sign{
		{"17.8 V for 5 s without a load where 20 V were agreed", at20(build.Level(1, 6, 17.8, 0.02), build.Level(6, 40, 17.6, 2)), idle, "yes", window},
		{"for 2 s", at20(build.Level(1, 3, 17.8, 0.02), build.Level(3, 40, 17.6, 2)), idle, "", practised},
		{"in a list that begins inside a contract", append(at20(build.Level(1, 6, 17.8, 0.02), build.Level(6, 40, 17.6, 2)), func(f *rules.Facts) { f.Negotiation.BeginsInside = true }), idle, "", "another was agreed before: " + practised},
		{"under 2 A", at20(build.Level(1, 40, 17.8, 2)), idle, "", "a lead of 1 ohm: Ohm's law"},
		{"19.3 V", at20(build.Level(1, 40, 19.3, 0.02)), idle, "", window},
		{"20 V later", at20(build.Level(1, 6, 17.8, 0.02), build.Level(6, 40, 20, 2)), idle, "", "another step was under way: " + window},

		{"23 V three times, where 20 V is the most on offer", noContract("hard-reset", 0, negotiation.StepAnswer, 3, comesTo(23, 22.8, 23.1)), unasked, "yes", window},
		{"twice", noContract("hard-reset", 0, negotiation.StepAnswer, 3, comesTo(23, 22.8)), unasked, "", "a glitch: " + practised},
		{"23 V three times, as 1 A is cut", noContract("hard-reset", 0, negotiation.StepAnswer, 3, comesTo(23, 22.8, 23.1), carrying(1)), unasked, "", "a load that goes: tSrcTransient, USB PD R3.2 V1.1 table 7.23"},
		{"20.5 V three times", noContract("hard-reset", 0, negotiation.StepAnswer, 3, comesTo(20.5, 20.5, 20.5)), unasked, "", window},
		{"23 V three times on a meter alone", []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.01), comesTo(23, 22.8, 23.1)}, beyond, "yes", "PPS ends at 21 V: USB PD R3.2 V1.1 table 10.9"},
		{"20.4 V on it", []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.01), comesTo(20.4, 20.3, 20.4)}, beyond, "", "as above"},
		{"15 V that stand and were asked for", noContract("end-of-recording", 15000, negotiation.StepLeft, 1, build.Level(0, 1, 5.1, 0.01), build.Level(1, 40, 15, 1)), unasked, "", "the recorder missed the PS_RDY: " + practised},
		{"15 V that stand where 9 V were asked for", noContract("end-of-recording", 9000, negotiation.StepLeft, 1, build.Level(0, 1, 5.1, 0.01), build.Level(1, 40, 15, 1)), unasked, "yes", window},

		{"cut short five times at 20 V, and nothing drawn", noContract("hard-reset", 20000, negotiation.StepCutShort, 5, comesTo(20, 20, 20, 20, 20)), came, CutThere, practised},
		{"at 12 V", noContract("hard-reset", 20000, negotiation.StepCutShort, 5, comesTo(12, 12, 12, 12, 12)), came, CutIdle, practised},
		{"at 23 V", noContract("hard-reset", 20000, negotiation.StepCutShort, 5, comesTo(23, 23, 23, 23, 23)), came, CutIdle, "no right voltage: " + window},
		{"at 20 V twice of five times", noContract("hard-reset", 20000, negotiation.StepCutShort, 5, comesTo(20, 12, 12, 20, 12)), came, CutIdle, practised},

		{"no PS_RDY, and VBUS goes without a reset", noContract("restart", 20000, negotiation.StepPowerReady, 5, comesTo(20, 20, 20, 20, 20), falls), came, UpAndLetGo, "USB Type-C R2.0 section 4.5.2.2"},
		{"with one", noContract("hard-reset", 20000, negotiation.StepPowerReady, 5, comesTo(20, 20, 20, 20, 20), falls), came, NoPowerReady, "tPSTransition: USB PD R3.2 V1.1 table 6.68"},
		{"with one, and 0.7 A as VBUS rises", noContract("hard-reset", 20000, negotiation.StepPowerReady, 5, comesTo(20, 20, 20, 20, 20), falls, mostA(0.7)), loaded, "", "what VBUS rises into are 10 uF and more: USB PD R3.2 V1.1 table 7.24 (cSnkBulk)"},
		{"three tries that end at 8 V under 0.9 A in rows of 0.1 s", overfed(negotiation.StepPowerReady, 10, 0.9, 0.01), came, CutPulled, "100 uF take 2 mC to 20 V: USB PD R3.2 V1.1 table 7.24 (cSnkBulkPd)"},
		{"where no Request comes", overfed(negotiation.StepRequest, 10, 0.9, 0.01), came, NoRequest, "nobody has asked for more than 5 V"},
		{"under 0.1 A", overfed(negotiation.StepPowerReady, 10, 0.1, 0.01), came, NoPowerReady, "as above"},
		{"in rows of a second", overfed(negotiation.StepPowerReady, 1, 0.9, 0.01), came, NoPowerReady, "a row may hold what was drawn from 5 V: " + practised},
		{"where 5 V carry 0.5 A", overfed(negotiation.StepPowerReady, 10, 0.9, 0.5), came, NoPowerReady, "the machine has its switches closed: " + practised},
		{"five tries in rows of 0.25 s, and nothing drawn", []build.Build{build.Meter(4, 40), comesTo(20, 20, 20, 20, 20), falls, build.Messages(60, 30), build.Offered(5000, 20000), stalls(negotiation.StepPowerReady, 5), askedFor(20000, "hard-reset")}, loaded, "", "a sink waits 0.45 s: USB PD R3.2 V1.1 table 6.68 (tPSTransition)"},
		{"two tries", []build.Build{build.Meter(4, 40), comesTo(20, 20), build.Collapses(0.01, 3, 5), build.Messages(60, 30), build.Offered(5000, 20000), stalls(negotiation.StepPowerReady, 2), askedFor(20000, "hard-reset")}, loaded, "may be", "as above"},

		{"contracts of 9, 7, 5 and 3 s", broken(9, 7, 5, 3), rhythm, BreaksHot, "what warms up: " + practised},
		{"of 9, 5, 7 and 3 s", broken(9, 5, 7, 3), rhythm, BreaksSo, practised},
		{"of 9, 8.8, 8.6 and 8.4 s", broken(9, 8.8, 8.6, 8.4), rhythm, BreaksAlike, practised},

		{"8 W that move by a tenth", at20(build.Level(1, 40, 20, 0.4), stirring(0.05)), life, LifeMoves, "storage and fans: " + practised},
		{"8 W that stand", at20(build.Level(1, 40, 20, 0.4), stirring(0.002)), life, "", "a precharge, a sleep or a leak: " + practised},
		{"0.11 A that move by 10 mA", at20(build.Level(1, 40, 20, 0.11), stirring(0.01)), life, "", "a display's last digit: " + practised},
		{"8 W that move by half", at20(build.Level(1, 40, 20, 0.4), stirring(0.2)), life, "", "tries: " + practised},

		{"a leap from 0.23 A to 2.9 A of 3 A, which stand", at20(build.Level(1, 4, 20, 0.23), build.Level(4.01, 40, 19.8, 2.9)), draws, DrawAtLimit, "a charge is ramped: " + practised},
		{"in a second", at20(build.Level(1, 4, 20, 0.23), build.Level(5, 40, 19.8, 2.9)), draws, DrawWorking, "as above"},
		{"in half a second at 9 V, and 1.3 A at 20 V at once", at20(build.Level(1, 2, 9, 0.01), build.Level(2.5, 3.2, 9, 2.9), build.Level(3.21, 3.5, 20, 0.01), build.Level(3.51, 40, 20, 1.3)), draws, DrawWorking, "a charge that has ramped up goes on where it was: " + practised},
		{"in four stages of 0.1 s", at20(build.Level(1, 2, 20, 0.01), build.Level(2, 2.1, 20, 0.7), build.Level(2.1, 2.2, 20, 1.2), build.Level(2.2, 2.3, 20, 1.8), build.Level(2.3, 2.4, 20, 2.4), build.Level(2.4, 40, 19.8, 2.9)), draws, DrawWorking, "a ramp: " + practised},
		{"0.5 A for 4 s at once, and 2.9 A in half a second", at20(build.Level(1, 2, 20, 0.01), build.Level(2.01, 6, 20, 0.5), build.Level(6.5, 40, 19.8, 2.9)), draws, DrawWorking, "a precharge, or always-on rails, before the charge: " + practised},

		{"contracts at 5 V that end in the try at 20 V", inTheNext(0, 3, 3), came, NoPowerReady, "tPSTransition: USB PD R3.2 V1.1 table 6.68"},
		{"one of three", inTheNext(0, 1, 3), came, ContractLost, practised},
		{"tries that end half a second before the contract", inTheNext(0.5, 3, 3), came, ContractLost, "the try came to its end without it"},

		{"no row above 12 mA at a contract", at1000(build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.005), build.Level(1, 30, 20, 0.005), mostA(0.012)), closes, ClosesNever, "C V, and 0.2 W of a standby: " + practised},
		{"one of 80 mA", at1000(build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.005), build.Level(1, 30, 20, 0.005), mostA(0.08)), closes, ClosesUnseen, practised},

		{"30 mA at a contract", at1000(build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.005), build.Level(1, 30, 20, 0.03), mostA(0.04)), closes, ClosesUnseen, "a standby: " + practised},

		{"3.8 V at the most in rows of 0.25 s", []build.Build{build.Meter(4, 40), comesTo(3.7, 3.1, 3.8, 3.5)}, five, "yes", practised},
		{"the same beside Hard Resets", []build.Build{build.Meter(4, 40), comesTo(3.7, 3.1, 3.8, 3.5), build.Messages(20, 10), func(f *rules.Facts) { f.Negotiation.HardResets = 4 }}, five, "", "a row is the mean of VBUS and none: " + practised},

		{"90 ohm at 9 V and at 20 V, for a while", at20(build.Level(1, 3, 9, 0.004), build.Level(3, 6, 9, 0.1), build.Level(6, 25, 20, 0.222), build.Level(25, 40, 20, 0.5)), ohmic, OhmicLate, "Ohm's law"},
		{"the same, and both rise in one step", at20(build.Level(1, 3, 9, 0.004), build.Level(3, 6, 9, 0.1), build.Level(6, 25, 20, 0.222), build.Level(25, 40, 20, 0.5), func(f *rules.Facts) {
			f.Draw.Follows = []draw.Follow{{TimeS: 6, FromV: 9, ToV: 20, FromA: 0.1, ToA: 0.222, Exponent: 1}}
		}), ohmic, OhmicBehind, "as above"},
		{"between two rows", at20(build.Level(1, 3, 9, 0.004), build.Level(3, 6, 9, 0.1), build.Level(6, 25, 20, 0.222), build.Level(25, 40, 20, 0.5), func(f *rules.Facts) {
			f.Draw.Follows = []draw.Follow{{TimeS: 6, FromV: 9, ToV: 20, FromA: 0.1, ToA: 0.222, Exponent: 1, AtOnce: true}}
		}), chance, "may be", "a load may be taken up just then: " + practised},

		{"an offer taken back three times", []build.Build{build.Messages(40, 20), build.Offered(5000, 20000), build.Turning(20000, 5000, 20000, 5000, 20000, 5000)}, surely, "yes", "USB PD R3.2 V1.1 section 6.4.1"},
		{"twice", []build.Build{build.Messages(40, 20), build.Offered(5000, 20000), build.Turning(20000, 5000, 20000, 5000)}, surely, "", practised},

		{"steps at 5 V, and then it works", []build.Build{build.Meter(50, 80), build.Level(0, 2, 5.1, 0.01), build.Climbing(), build.Level(41, 80, 5, 0.9)}, draws, DrawStairsSettle, "a search of a plain source: " + practised},
		{"at 20 V", append([]build.Build{build.Meter(50, 80), build.Level(0, 1, 5.1, 0.01), build.Level(1, 2, 20, 0.01), build.Climbing(), build.Level(41, 80, 20, 0.9)}, build.Messages(10, 6), build.Offered(5000, 20000), build.Contract(0.9, 20000, 3000)), draws, DrawWorking, "as above"},

		{"CC that goes up by 68 mV a volt", []build.Build{build.Meter(1000, 30), build.Level(0, 30, 20, 0.01), leaking(0.068)}, rides, "yes", "a leak divides VBUS against Rd: Ohm's law"},
		{"by 5 mV", []build.Build{build.Meter(1000, 30), build.Level(0, 30, 20, 0.01), leaking(0.005)}, rides, "", practised},

		{"offers and Requests, and nobody hears either", []build.Build{build.Meter(100, 30), build.Level(0, 30, 5.1, 0.01), build.Messages(200, 40), stalls(negotiation.StepAcknowledge, 3), againBy(190, 20)}, came, UnheardAsked, "what repeats itself is not acknowledged: USB PD R3.2 V1.1 table 6.70 (nRetryCount)"},
		{"offers that nobody hears", []build.Build{build.Meter(100, 30), build.Level(0, 30, 5.1, 0.01), build.Messages(200, 0), stalls(negotiation.StepAcknowledge, 3), againBy(190, 0)}, came, Unanswered, "as above"},
		{"both repeat a fifth", repeating(12, 8), hears, BothMissed, "a sound line loses one frame in thousands: USB PD R3.2 V1.1 table 5.17"},
		{"the sink alone", repeating(2, 8), hears, SinkMissed, "as above"},
		{"the source alone", repeating(12, 2), hears, SourceMissed, "as above"},

		{"offers, and no VBUS at the meter", []build.Build{build.Meter(1, 30), build.Level(0, 30, 0.01, 0), build.Messages(20, 0), stalls(negotiation.StepAcknowledge, 3)}, came, LostOnTheWay, practised},
		{"nine Hard Resets beside rows of a second", []build.Build{build.Meter(1, 30), build.Level(0, 30, 0.01, 0), build.Messages(20, 20), stalls(negotiation.StepRequest, 9), func(f *rules.Facts) { f.Negotiation.HardResets = 9 }}, came, NoRequest, "VBUS stands for tenths of a second between them: " + practised},
		{"beside rows of 20 ms", []build.Build{build.Meter(50, 30), build.Level(0, 30, 0.01, 0), build.Messages(20, 20), stalls(negotiation.StepRequest, 9), func(f *rules.Facts) { f.Negotiation.HardResets = 9 }}, came, LostOnTheWay, "as above"},
		{"nothing on either pin, and no VBUS", []build.Build{build.Meter(50, 30), build.Level(0, 30, 0.01, 0), pinsLow(100)}, silent, "yes", "a source pulls up: USB Type-C R2.0 section 4.5.2.2"},
		{"Rd's level half of the time", []build.Build{build.Meter(50, 30), build.Level(0, 30, 0.01, 0), pinsLow(50)}, silent, "", "as above"},

		{"VBUS at rest for no moment", []build.Build{build.Meter(50, 30), build.Level(0, 0.05, 5.1, 0), build.Level(29.9, 29.95, 5.1, 0)}, strange, "yes", "tSrcSettle: USB PD R3.2 V1.1 table 7.23"},
		{"the same where VBUS leaks into CC", []build.Build{build.Meter(50, 30), build.Level(0, 0.05, 5.1, 0), build.Level(29.9, 29.95, 5.1, 0), leaking(0.068)}, strange, "", "a source lets go of a device that it no longer sees: USB Type-C R2.0 section 4.5.2.2"},
		{"thirty attempts in that time", []build.Build{build.Meter(50, 30), build.Level(0, 0.05, 5.1, 0), build.Level(29.9, 29.95, 5.1, 0), build.Messages(60, 30), stalls(negotiation.StepPowerReady, 30)}, strange, "", "each moves VBUS: " + practised},
	})
}

// A programmable supply that follows a battery rises, by 20 mV a step (vPpsStep: USB PD R3.2 V1.1 table
// 7.23), and does not swing.
func TestRisesOnly(t *testing.T) {
	swings := func(volts func(t float64) float64) bool {
		p := seeing(build.Logged(50, func(t float64) (float64, float64) {
			if t < 2 {
				return 5.1, 0.01
			}
			return volts(t), 1.2
		}))
		_, swings := p.Swings(p.Meter())
		return swings
	}
	follows := func(t float64) float64 { return 8.6 + 0.02*math.Floor(min(t, 20)*2.5) }
	assert.False(t, swings(follows), "from 8.6 V to 9.6 V")
	assert.True(t, swings(func(t float64) float64 { return follows(math.Abs(math.Mod(t, 20)-10) * 2) }), "down, up and down")
}
