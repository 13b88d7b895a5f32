package signs

import (
	"testing"
	"time"

	"portside/captures"
	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs/build"
)

// fiveAgain is 5 V that comes for so long and goes, with CC as told.
func fiveAgain(stoodS, amps float64, e draw.CCEnds) []build.Build {
	out := []build.Build{build.Meter(200, 30), build.Level(0, 1, 0.01, 0)}
	for i := range 10 {
		at := 1 + 2*float64(i)
		out = append(out, build.Level(at, at+stoodS, 5.1, amps), build.Level(at+stoodS+0.01, at+1.9, 0.01, 0))
	}
	return append(out, func(f *rules.Facts) { f.Draw.CC.Ends = e })
}

// lifting is CC against a draw between 0 and 2 A.
func lifting(ohms float64) []build.Build {
	an := draw.New(draw.Options{})
	for i := range 700 {
		a := float64(i%9) / 4
		an.Add(&captures.Sample{At: time.Duration(i) * 10 * time.Millisecond, Volts: 20, Amps: a, CC: [2]float64{0, 1.68 + ohms*a}})
	}
	cc := an.Result().CC
	return []build.Build{build.Meter(100, 30), build.Level(0, 1, 5.1, 0.01), build.Level(1, 30, 20, 1), func(f *rules.Facts) { f.Draw.CC = cc }}
}

// asking is a source that asks the cable, which answers or not, and says nothing else.
func askingCable(answered bool) []build.Build {
	return []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 0.01), build.Messages(0, 0), func(f *rules.Facts) {
		f.Negotiation.CableAnswers = negotiation.CableLimit{Asked: true, Answered: answered}
	}}
}

// seeking is a port that showed Rd so many times for a moment, the last of them so long before the end.
func seeking(times int, beforeS float64) []build.Build {
	return []build.Build{build.Meter(100, 10), build.Level(0, 10, 0.01, 0), func(f *rules.Facts) {
		f.Draw.CC.Toggles = draw.CCToggles{Count: times, FirstS: 1, LastS: 10 - beforeS}
	}}
}

// twitching is VBUS that comes to half a volt so often.
func twitching(times int) build.Build {
	return func(f *rules.Facts) { f.Draw.Twitches = draw.Twitches{Count: times, FirstS: 2, MostV: 0.5} }
}

// cycling is 5 V that comes and goes, under a draw, beside a list without a message.
func cycling(times int, upS, amps float64) []build.Build {
	out, at := []build.Build{build.Meter(100, 60), build.Messages(0, 0), build.Level(0, 1, 0.01, 0)}, 1.0
	for range times {
		out = append(out, build.Level(at, at+upS, 5.1, amps), build.Level(at+upS, at+upS+1, 0.01, 0))
		at += upS + 1
	}
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = at })
}

// pulledOff are contracts that ended as often with CC open.
func pulledOff(times int) []build.Build {
	return append(build.Quiet(), func(f *rules.Facts) { f.Draw.CC.Ends.Open = times })
}

// A source gives VBUS to a single Rd and takes it away where that is gone, or after a Hard
// Reset; it owes an offer within tFirstSourceCap.
func TestSignsOfCC(t *testing.T) {
	goes := func(p Picture) string { s, _ := p.Goes(); return one(s) }
	lifts := said(func(p Picture) string { _, text := p.Lifted(); return text })
	came := func(p Picture) string { return largest(p.State) }
	seeks := said(Picture.Seeks)
	lost := func(p Picture) string { how, _ := p.CCEndsLoss(); return how }
	const detach = "USB Type-C R2.0 section 4.5.2.2"
	rejoins := said(func(p Picture) string { return Rejoins(p.Meter()) })
	showSigns(t, []sign{
		{"5 V goes ten times, Rd stays, and nobody says anything", append(fiveAgain(0.5, 0.01, draw.CCEnds{Stays: 10}), build.Messages(0, 0)), goes, GoesWithRd, detach},
		{"without a recorder of messages", fiveAgain(0.5, 0.01, draw.CCEnds{Stays: 10}), goes, GoesOrReset, "Hard Resets do the same: USB PD R3.2 V1.1 table 7.23 (tSrcRecover)"},
		{"after 20 ms each time", fiveAgain(0.02, 0.01, draw.CCEnds{Stays: 10}), goes, GoesWithRd, "27 ms for an answer and 25 ms from the reset: USB PD R3.2 V1.1 table 6.68 (tSenderResponse, tPSHardReset)"},
		{"and Rd is gone first", fiveAgain(0.5, 0.01, draw.CCEnds{Open: 9, Stays: 1}), goes, GoesAfterRd, detach},
		{"and the pull-up is gone first", fiveAgain(0.5, 0.01, draw.CCEnds{Gone: 10}), goes, GoesAfterRp, detach},
		{"now the one, now the other", fiveAgain(0.5, 0.01, draw.CCEnds{Gone: 4, Open: 3, Stays: 3}), goes, "", "common practice"},
		{"twice", fiveAgain(0.5, 0.01, draw.CCEnds{Stays: 2}), goes, "", "a plug that is moved: common practice"},
		{"under 0.8 A", fiveAgain(0.5, 0.8, draw.CCEnds{Stays: 10}), goes, "", "a load may trip it: common practice"},
		{"from 20 V", append(fiveAgain(0.5, 0.01, draw.CCEnds{Stays: 10}), build.Level(29, 30, 20, 0.01)), goes, "", "what ends a contract is told elsewhere"},
		{"after Hard Resets", append(fiveAgain(0.5, 0.01, draw.CCEnds{Stays: 10}), build.Messages(40, 30), func(f *rules.Facts) { f.Negotiation.HardResets = 9 }), goes, "", "a Hard Reset takes VBUS away: USB PD R3.2 V1.1 table 7.23 (tSrcRecover)"},

		{"Rd forty times for no more than 60 ms, and open in between", seeking(40, 0.2), seeks, "yes", "tDRP, 100 ms at most: USB Type-C R2.1 table 4-33"},
		{"ten times", seeking(10, 0.2), seeks, "", "common practice"},
		{"and then no more for 5 s", seeking(40, 5), seeks, "", "it found what it looked for, or the plug is out: common practice"},
		{"and VBUS comes", append(seeking(40, 0.2), build.Level(9, 30, 5.1, 0.01)), seeks, "", "it found a source"},

		{"CC opens before each of five losses", pulledOff(5), lost, EndCCOpen, detach},
		{"of two", pulledOff(2), lost, "", "a plug that is pulled: common practice"},

		{"5 V for half a second, eight times, and nobody speaks", cycling(8, 0.5, 0.01), came, ComesAndGoes, "VBUS goes within tVBUSOFF of what is seen on CC: USB Type-C R2.0 section 4.5.2.2"},
		{"for 40 ms", cycling(8, 0.04, 0.01), came, GoesAtOnce, "as above"},
		{"three times", cycling(3, 0.5, 0.01), came, NoOffer, "a plug that is moved: common practice"},
		{"under 0.8 A", cycling(8, 0.5, 0.8), came, NoOffer, "a load may trip it: common practice"},
		{"and then 9 V", append(cycling(8, 0.5, 0.01), build.Level(20, 30, 9, 0.01)), came, ContractHigh, "a contract was made: USB PD R3.2 V1.1 section 7.1.5"},
		{"and the source offers", append(cycling(8, 0.5, 0.01), build.Messages(8, 0), build.Attempts(negotiation.StepAcknowledge, 8)), came, Unanswered, "it speaks"},

		{"0.5 V comes and goes, and nothing flows", append(build.Nothing(), twitching(5)), came, ShortBefore, "5 A of 0.1 ohm: Ohm's law"},
		{"twice", append(build.Nothing(), twitching(2)), came, NoVBUS, "common practice"},
		{"and the source says nothing", append(build.Nothing(), build.Messages(0, 0), twitching(5)), came, ShortBefore, "as above"},
		{"15 V are back without a moment at 5 V", append(build.Quiet(), func(f *rules.Facts) { f.Draw.Rejoins = draw.Rejoins{Count: 1, FirstS: 4} }), rejoins, "yes", "tTypeCSendSourceCap: USB PD R3.2 V1.1 table 6.68"},
		{"never", build.Quiet(), rejoins, "", "as above"},

		{"0.4 ohm on the way back", lifting(0.4), lifts, "yes", "0.083 ohm of a sound cable: USB Type-C R2.0 section 4.4.1"},
		{"0.1 ohm", lifting(0.1), lifts, "", "as above"},

		{"a Request without an answer, and then no offer any more", []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 0.01), build.Messages(40, 40), build.Offered(5000, 20000), stalls(negotiation.StepAnswer, 1), stalls(negotiation.StepCapabilities, 3)}, came, NoAnswer, "who fell silent after a Request has none for it: tReceiverResponse, USB PD R3.2 V1.1 table 6.68"},
		{"three offers without a Request, and then no offer any more", []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 0.01), build.Messages(40, 40), build.Offered(5000, 20000), stalls(negotiation.StepRequest, 3), stalls(negotiation.StepCapabilities, 5)}, came, NoRequest, "nHardResetCount: USB PD R3.2 V1.1 table 6.70"},
		{"one", []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 0.01), build.Messages(40, 40), build.Offered(5000, 20000), stalls(negotiation.StepRequest, 1), stalls(negotiation.StepCapabilities, 5)}, came, NoOffer, "as above"},
		{"the cable is asked and answers, and no offer comes", askingCable(true), came, AsksCable, "tFirstSourceCap: USB PD R3.2 V1.1 table 6.68"},
		{"it is asked in vain", askingCable(false), came, AsksInVain, "as above"},
	})
}
