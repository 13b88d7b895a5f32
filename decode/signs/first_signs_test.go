package signs

import (
	"testing"

	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs/build"
)

// begun is a log in which VBUS comes at 1 s and leaves a contract at such times, for 0.3 s; the last
// one stands to the end under so many amperes.
func begun(amps float64, lost ...float64) []build.Build {
	out := []build.Build{build.Meter(50, 40), build.Level(0, 1, 0.02, 0)}
	from := 1.0
	for _, at := range lost {
		out = append(out, build.Level(from, from+0.2, 5.1, 0.01), build.Level(from+0.2, at, 20, 0.02), build.Level(at, at+0.3, 0.02, 0))
		from = at + 0.3
	}
	return append(out, build.Level(from, from+0.2, 5.1, 0.01), build.Level(from+0.2, 40, 20, amps))
}

// gripped are tries in which VBUS comes to 8.5 V under 5 A, and stood idle at such a voltage before, 0
// for none.
func gripped(hz, idleV float64, tries int) []build.Build {
	out, at := []build.Build{build.Meter(hz, 40)}, 1.0
	for range tries {
		out = append(out, build.Level(at, at+0.3, 5.1, 0.01))
		at += 0.3
		if idleV > 0 {
			out = append(out, build.Level(at, at+0.04, idleV, 0.01))
			at += 0.04
		}
		out = append(out, build.Level(at, at+0.06, 8.5, 5), build.Level(at+0.06, at+1, 0.02, 0), build.Collapses(5, at+0.06))
		at += 1
	}
	return out
}

// drawn comes up from 10 mA at 5 s within so many seconds, and moves to another current at 20 s.
func drawn(rise, amps, laterA float64) []build.Build {
	return []build.Build{build.Messages(10, 6), build.Offered(5000, 20000), build.Contract(0.9, 20000, 3000), build.Meter(100, 40), build.Level(0, 1, 5.1, 0.01), build.Level(1, 5, 20, 0.01),
		build.Level(5+rise, 20, 20, amps), build.Level(20, 40, 20, laterA)}
}

// What begins tells more than what follows: rows of three benches whose authors saw nothing of this.
func TestSignsOfABeginning(t *testing.T) {
	losses := func(p Picture) string {
		delete(p.Found, "contract-lost") // as where the rules take it for a plug that is moved
		outcome, _ := p.Losses()
		return outcome
	}
	starts := func(p Picture) string {
		delete(p.Found, "contract-lost")
		p.Contract = true
		s, _ := p.Starts()
		return one(s)
	}
	first := func(p Picture) string {
		if p.lostAtFirst() > 0 {
			return "yes"
		}
		return ""
	}
	pulls := said(func(p Picture) string { return neverIdle(p.Meter()) })
	still := func(p Picture) string { s, _ := p.StandsStill(Exactly(DrawWorking)); return largest(s) }
	idle := func(p Picture) string {
		if _, odd, idle := p.OddLevel(p.Meter()); odd > 0 && idle {
			return "yes"
		}
		return ""
	}
	unasked := said(func(p Picture) string { return p.risesUnasked(p.Meter()) })
	showSigns(t, []sign{
		{"lost twice within a second and a half, and it works on", begun(1.2, 1.6, 2.5), losses, LostAtFirst, "a plug bounces as it goes in: common practice"},
		{"the second loss 6 s later", begun(1.2, 1.6, 8.5), losses, LostOnce, "as above"},
		{"and next to nothing is drawn then", begun(0.05, 1.6, 2.5), losses, LostOnce, "as above"},
		{"and the log ends 5 s after them", append(begun(1.2, 1.6, 2.5)[:8:8], build.Level(2.8, 3, 5.1, 0.01), build.Level(3, 8, 20, 1.2)), first, "", "as above"},
		{"and 15 s after them", append(begun(1.2, 1.6, 2.5)[:8:8], build.Level(2.8, 3, 5.1, 0.01), build.Level(3, 18, 20, 1.2)), first, "yes", "as above"},
		{"and messages got damaged", append(begun(1.2, 1.6, 2.5), build.Messages(20, 10), build.Damaged(9, 9)), losses, LostOnce, "noise on the line says why"},
		{"and as many starts fail", append(begun(1.2, 1.6, 2.5), build.Messages(20, 10), build.Attempts(negotiation.StepPowerReady, 2)), starts, "", "the same event"},
		{"and twice as many", append(begun(1.2, 1.6, 2.5), build.Messages(20, 10), build.Attempts(negotiation.StepPowerReady, 4)), starts, StartRough, "nHardResetCount: USB PD R3.2 V1.1 table 6.70"},
		{"VBUS under 5 A each time it comes above 5 V", gripped(100, 0, 4), pulls, "yes", "a sink lets nothing in before PS_RDY: USB PD R3.2 V1.1 section 7.2"},
		{"twice", gripped(100, 0, 2), pulls, "", "common practice"},
		{"for half a second each time", []build.Build{build.Meter(100, 40), build.Level(0, 1, 5.1, 0), build.Level(1, 1.5, 8.5, 5), build.Level(1.5, 2, 0, 0), build.Level(2, 3, 5.1, 0), build.Level(3, 3.5, 8.5, 5), build.Level(3.5, 4, 0, 0), build.Level(4, 5, 5.1, 0), build.Level(5, 5.5, 8.5, 5), build.Level(5.5, 6, 0, 0)}, pulls, "", "a source trips sooner: common practice"},
		{"it stood idle at 20 V first", gripped(100, 20, 4), pulls, "", "what lies behind the switches lets it stand"},
		{"it stood idle at 6.5 V first", gripped(100, 6.5, 4), pulls, "yes", "a clamp conducts from its voltage on"},
		{"four times in rows of 50 ms", gripped(20, 0, 4), pulls, "", "such a row may miss what stood idle for less"},
		{"eight times in rows of 50 ms", gripped(20, 0, 8), pulls, "yes", "as above"},
		{"rows of 0.1 s", gripped(10, 0, 8), pulls, "", "as above"},
		{"1.2 A from one row to the next, for good", drawn(0.01, 1.2, 1.2), still, Still, "Ohm's law"},
		{"as it warms, 2 % less", drawn(0.01, 1.2, 1.176), still, Still, "as above"},
		{"1.2 A, and then 0.9", drawn(0.01, 1.2, 0.9), still, "", "a machine that runs moves"},
		{"1.2 A, and 0.6 for a second in between", append(drawn(0.01, 1.2, 0.6)[:7:7], build.Level(5.01, 20, 20, 1.2), build.Level(20, 21, 20, 0.6), build.Level(21, 40, 20, 1.2)), still, "", "as above"},
		{"1.2 A for 5 s", append(drawn(0.01, 1.2, 0.6)[:7:7], build.Level(5.01, 10, 20, 1.2), func(f *rules.Facts) { f.Draw.Sampling.EndS = 10 }), still, "", "common practice"},
		{"1.2 A until the plug is pulled", append(drawn(0.01, 1.2, 0.6)[:7:7], build.Level(5.01, 30, 20, 1.2), build.Level(30, 40, 0.02, 0)), still, Still, "as the first"},
		{"1.2 A after half a second", drawn(0.5, 1.2, 1.2), still, "", "a charge is ramped: common practice"},
		{"6 W", drawn(0.01, 0.3, 0.3), still, "", "a precharge takes as much"},
		{"all that was promised", drawn(0.01, 3, 3), still, "", "a limit holds a charge as well"},
		{"17.5 V for 25 s under 44 mA, on a meter alone", []build.Build{build.Meter(10, 40), build.Level(0, 1, 5.1, 0.01), build.Level(1, 26, 17.5, 0.044)}, idle, "yes", "vSrcNew: USB PD R3.2 V1.1 table 7.23"},
		{"under 1.7 A", []build.Build{build.Meter(10, 40), build.Level(0, 1, 5.1, 0.01), build.Level(1, 26, 17.5, 1.7)}, idle, "", "a programmable contract charges"},
		{"17 V in single rows where each contract names 15 V", append(overAndOver(17, 0.005, 5), build.Messages(80, 40), build.Contract(1, 15000, 3000), build.Contract(3, 15000, 3000)), unasked, "yes", "vSrcNew: USB PD R3.2 V1.1 table 7.23"},
		{"15.4 V there", append(overAndOver(15.4, 0.005, 5), build.Messages(80, 40), build.Contract(1, 15000, 3000), build.Contract(3, 15000, 3000)), unasked, "", "as above"},
	})
}
