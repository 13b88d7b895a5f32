package signs

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs/build"
)

// lowFive is 5 V that stands at volts, and a volt per so many ohms lower under 0.2 A.
func lowFive(volts, ohms float64) []build.Build {
	out := []build.Build{build.Meter(20, 30), build.Level(0, 1, 0.01, 0)}
	for at := 1.0; at < 29; at += 2 {
		out = append(out, build.Level(at, at+1.4, volts, 0.02), build.Level(at+1.4, at+2, volts-0.18*ohms, 0.2))
	}
	return out
}

// through is a contract of 20 V behind so many ohms, with draws that last.
func through(ohms float64, amps ...float64) []build.Build {
	out, at := []build.Build{build.Meter(100, 60), build.Level(0, 1, 5.1, 0.01), build.Level(1, 2, 20, 0.01)}, 2.0
	for _, a := range amps {
		out = append(out, build.Level(at, at+3, 20-ohms*(a-0.01), a))
		at += 3
	}
	return append(out, build.Level(at, at+1, 20, 0.01))
}

// moved are programmable contracts of the same source, 5 s each, with VBUS at most at volts.
func moved(volts, amps float64, mv ...int) []build.Build {
	ma := 3000
	return []build.Build{build.Meter(10, 40), build.Level(0, 1, 5.1, 0.01), build.Level(1, 40, volts, amps), build.Messages(40, 40), func(f *rules.Facts) {
		for i, v := range mv {
			at := 1 + 5*float64(i)
			f.Negotiation.Contracts = append(f.Negotiation.Contracts, negotiation.Contract{StartS: build.Ref(at), EndS: build.Ref(at + 5), Kind: "pps", VoltageMV: &v, CurrentMA: &ma, EndedBy: "new-contract"})
		}
	}}
}

// numbered are Requests without an answer, numbered as the message before them or not.
func numbered(saidBefore bool, count int) []build.Build {
	return []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 0.01), build.Messages(40, 40), build.Offered(5000, 20000), stalls(negotiation.StepAnswer, count), func(f *rules.Facts) {
		for i := range f.Negotiation.Attempts {
			f.Negotiation.Attempts[i].SaidBefore = saidBefore
		}
	}}
}

// riding is a CC pin's mean without VBUS and with it.
func riding(offV, onV float64, rows int) []build.Build {
	return []build.Build{build.Meter(100, 30), build.Level(0, 30, 5.1, 0.01), func(f *rules.Facts) {
		f.Draw.CC.Rides[1] = draw.CCRide{OffV: offV, OnV: onV, Off: rows, On: rows}
	}}
}

// beside is a resistor of 80 ohm beside a converter, at 9, 15 and 20 V, and at 5 V before.
func beside(watts float64, low bool) []build.Build {
	out, at := []build.Build{build.Meter(100, 60)}, 0.0
	for _, v := range []float64{5, 9, 15, 20} {
		if low || v > 5 {
			out = append(out, build.Level(at, at+4, v, v/80+watts/v))
			at += 4
		}
	}
	return out
}

// overAndOver are tries in which VBUS comes up for so long, and goes away.
func overAndOver(volts, seconds float64, tries int) []build.Build {
	out, at := []build.Build{build.Meter(100, 60)}, 0.0
	for range tries {
		out = append(out, build.Level(at, at+0.3, 5.1, 0.01), build.Level(at+0.31, at+0.3+seconds, volts, 0.01), build.Level(at+0.31+seconds, at+2, 0, 0))
		at += 2
	}
	return out
}

// offWithin are falls of 5 V under 60 mA to nothing.
func offWithin(times int) []build.Build {
	out := []build.Build{build.Meter(50, 30)}
	for i := range times {
		at := 2 * float64(i)
		out = append(out, build.Level(at, at+1, 5.1, 0.001), build.Level(at+1, at+1.1, 3.5, 0.06), build.Level(at+1.1, at+2, 0, 0))
	}
	return out
}

// overdrawing are contracts of 3.25 A that a Hard Reset ends while so much flows.
func overdrawing(amps float64) []build.Build {
	out := []build.Build{build.Meter(100, 40), build.Level(0, 1, 5.1, 0.02), build.Messages(60, 30), build.Offered(5000, 20000)}
	for _, from := range []float64{2, 8, 14, 20} {
		out = append(out, build.Level(from, from+4, 20, amps), build.Level(from+4.02, from+5.9, 0, 0), heldFor(from, from+4))
	}
	return out
}

// surgedAt are contracts that hold for 0.1 s, without a draw until they fall.
func surgedAt(amps float64) []build.Build {
	out := []build.Build{build.Meter(2000, 40), build.Level(0, 1, 5.1, 0.02), build.Messages(60, 30), build.Offered(5000, 20000)}
	for _, from := range []float64{2, 8, 14, 20} {
		out = append(out, build.Level(from, from+0.1, 20, 0.01), build.Level(from+0.11, from+1, 0, 0), build.Collapses(0.01, from+0.1), heldFor(from, from+0.1))
	}
	return append(out, most(amps))
}

// TestSignsOfTheSupply has each sign beside the nearest that is none.
func TestSignsOfTheSupply(t *testing.T) {
	five := said(func(p Picture) string { return p.WeakFive(p.Meter()) })
	thin := said(func(p Picture) string { return p.ThinLead(p.Meter()) })
	follows := said(func(p Picture) string { return p.NeverFollows(p.Meter()) })
	rides := said(Picture.Rides)
	beyond := said(func(p Picture) string { return p.AgainAndAgainBeyond(p.Meter()) })
	held := said(func(p Picture) string { return p.Pinned(p.Meter()) })
	ends := func(p Picture) string { s, _ := p.Ending(); return largest(s) }
	came := func(p Picture) string { return largest(p.State) }
	ohmic := func(p Picture) string { s, _ := p.Ohmic(p.Meter()); return one(s) }
	showSigns(t, []sign{
		{"4.3 V while 20 mA flow", lowFive(4.3, 1.5), five, "yes", "vSafe5V: USB PD R3.2 V1.1 table 7.25"},
		{"4.9 V", lowFive(4.9, 1.5), five, "", "as above"},
		{"2.5 V", lowFive(2.5, 0.1), five, "", "on its way, or held by a short: common practice"},
		{"4.3 V under 0.3 A, and never without", []build.Build{build.Meter(20, 30), build.Level(0, 1, 0.01, 0), build.Level(1, 30, 4.3, 0.3)}, five, "", "a lead takes a part: USB Type-C R2.0 section 4.4.1"},
		{"4.3 V after a contract", append(lowFive(4.3, 1.5), build.Level(29, 30, 9, 0.1)), five, "", "a programmable contract may be at 4.3 V: USB PD R3.2 V1.1 table 6.13"},

		{"9 ohm at 50 to 150 mA", through(9, 0.05, 0.1, 0.15), thin, "yes", "Ohm's law; 0.25 ohm: USB Type-C R2.0 section 4.4.1"},
		{"11 ohm at 0.45 to 0.47 A, to 15 V", through(11, 0.45, 0.46, 0.47), thin, "", "another fixed voltage: USB PD R3.2 V1.1 table 10.2"},
		{"11 ohm at 0.55 to 0.57 A, to 13.8 V", through(11, 0.55, 0.56, 0.57), thin, "yes", "no fixed voltage: as above"},
		{"9 ohm at 50 to 66 mA, by half a volt", through(9, 0.05, 0.06, 0.066), thin, "yes", "the same contract still: Ohm's law"},
		{"0.3 ohm at 0.5 to 2 A", through(0.3, 0.5, 1, 2), thin, "", "a lead that is worn: USB Type-C R2.0 section 4.4.1"},
		{"19 V, whatever flows", []build.Build{build.Meter(100, 60), build.Level(1, 2, 20, 0.01), build.Level(2, 5, 19, 0.05), build.Level(5, 8, 19, 0.15), build.Level(8, 11, 19, 0.3)}, thin, "", "on no line: a source"},
		{"two draws only", through(9, 0.05, 0.1), thin, "", "any two points lie on a line"},
		{"1.2 ohm, and 3.5 A", through(1.2, 0.5, 1, 3.5), thin, "", "more than a source gives, and a short's: USB PD R3.2 V1.1 section 7.1.7"},

		{"asked up to 12 V, and 9 V stand", moved(9, 1, 9000, 10000, 11000, 12000), follows, "yes", "vPpsNew, 5 % either way: USB PD R3.2 V1.1 table 7.23"},
		{"and 11.6 V stand", moved(11.6, 1, 9000, 10000, 11000, 12000), follows, "", "as above"},
		{"and 3 A flow, all that was promised", moved(9, 3, 9000, 10000, 11000, 12000), follows, "", "a programmable supply holds its limit of current by its voltage: USB PD R3.2 V1.1 section 7.1.4.2"},

		{"23.5 V for 0.15 s, five times", overAndOver(23.5, 0.15, 5), beyond, "yes", "21 V is what any programmable supply gives at most: USB PD R3.2 V1.1 table 10.8"},
		{"20.8 V", overAndOver(20.8, 0.15, 5), beyond, "", "as above"},
		{"twice", overAndOver(23.5, 0.15, 2), beyond, "", "common practice"},
		{"5 V that goes off under 60 mA, five times", offWithin(5), held, "", "it does not come back from there: a source that lets go"},
		{"4.5 A of 3.25 A promised, and a Hard Reset while VBUS stands", overdrawing(4.5), ends, EndOver, "a source must not carry more: USB PD R3.2 V1.1 section 7.1.7"},
		{"a surge of 40 A in the fall, 0.1 s after the contract", surgedAt(40), ends, EndAtOnce, "what a source gives a short before it trips: common practice"},
		{"0.3 A", surgedAt(0.3), ends, EndIdle, "common practice"},
		{"1.5 A", overdrawing(1.5), ends, EndLoaded, "a source must carry what it promised: as above"},

		{"Requests numbered as the message before", numbered(true, 4), came, Misnumbered, "MessageIDCounter: USB PD R3.2 V1.1 section 6.7.1"},
		{"numbered anew", numbered(false, 4), came, NoAnswer, "tReceiverResponse: USB PD R3.2 V1.1 table 6.68"},
		{"one only", numbered(true, 1), came, NoAnswer, "common practice"},

		{"CC from 1.5 V to 2.2 V as 5 V come", riding(1.5, 2.2, 200), rides, "yes", "3.0 A at the sink, 2.04 V at most: USB Type-C R2.0 table 4-36"},
		{"to 2.0 V", riding(1.5, 2.0, 200), rides, "", "as above"},
		{"from 1.9 V", riding(1.9, 2.2, 200), rides, "", "a wide Rd: common practice"},
		{"in ten rows", riding(1.5, 2.2, 10), rides, "", "common practice"},

		{"80 ohm beside 0.3 W at three voltages", beside(0.3, false), ohmic, OhmicThrice, "V^2/R + P: Ohm's law"},
		{"beside 0.8 W at three", beside(0.8, false), ohmic, "", "three points of a law with two unknowns: common practice"},
		{"beside 0.4 W at four", beside(0.4, true), ohmic, OhmicThrice, "as above"},
		{"beside 0.8 W at four", beside(0.8, true), ohmic, "", "more a converter than a resistor at 5 V"},
	})
}

// TestBreaksAtAResistor: a leak of 5 ohm takes 4 A at 20 V (Ohm's law), and a source of 3 A
// lets go of it: how such contracts end tells nothing of another load.
func TestBreaksAtAResistor(t *testing.T) {
	breaks := func(ohms float64, times ...float64) bool {
		e := Evidence{Facts: build.Built(build.Meter(100, 30), build.Level(0, 1, 5.1, 1), build.Level(1, 30, 20, 4), build.Collapses(4, times...))}
		p := Picture{Evidence: e, Found: map[string]rules.Finding{"resistive-load": {Values: map[string]any{"resistance_ohm": ohms}}}}
		return p.BreaksAtResistor()
	}
	assert.True(t, breaks(5, 3, 6, 9))
	assert.False(t, breaks(20, 3, 6, 9), "a leak of 1 A is not what flows")
	assert.False(t, breaks(5, 3), "once may be anything")
}
