package signs

import (
	"math"
	"testing"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs/build"
	"portside/pd"
)

// one is the outcome that was seen, "" where none was.
func one(s Seen) string {
	for outcome := range s {
		return outcome
	}
	return ""
}

// asking is a contract on the first object of an offer of 5 V 3.25 A and 20 V.
func asking(milliamperes, sinkMV int) []build.Build {
	return []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 0.2), build.Messages(10, 6), build.Offered(5000, 20000), build.Contract(0.9, 5000, milliamperes), func(f *rules.Facts) {
		f.Negotiation.Offers[0].Position, f.Negotiation.Offers[1].Position = 1, 2
		f.Negotiation.Contracts[0].Position, f.Negotiation.SinkMV = 1, sinkMV
	}}
}

// roundsOf is a draw that holds 0.18 A and then 1 A at 9 V, so long each time.
func roundsOf(seconds ...float64) []build.Build {
	out, from := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02)}, 1.0
	for _, s := range seconds {
		out = append(out, build.Level(from, from+s, 9, 0.18), build.Level(from+s, from+s+2, 9, 1))
		from += s + 2
	}
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = from })
}

// running is a machine that takes a share of 2 A all the time, and all of it for 2 s in each
// of so many rounds of 5 s.
func running(share float64, rounds int) []build.Build {
	out := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02)}
	for i := range rounds {
		from := 1 + 5*float64(i)
		out = append(out, build.Level(from, from+3, 9, 2*share), build.Level(from+3, from+5, 9, 2))
	}
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = 26 })
}

// beating is a draw of 0.2 and 1 A, as long each.
func beating(everyS float64) []build.Build {
	out := []build.Build{build.Meter(100, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.5, 20, 0.2)}
	for at := 1.5; at < 59; at += everyS {
		out = append(out, build.Level(at, at+everyS/2, 20, 1), build.Level(at+everyS/2, at+everyS, 20, 0.2))
	}
	return out
}

// uneven is a draw of 0.2 and 1 A whose beats last in turn.
func uneven(seconds ...float64) []build.Build {
	out, at := []build.Build{build.Meter(20, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 1.5, 20, 0.2)}, 1.5
	for i := 0; at < 58; i++ {
		s := seconds[i%len(seconds)]
		out = append(out, build.Level(at, at+s/2, 20, 1), build.Level(at+s/2, at+s, 20, 0.2))
		at += s
	}
	return out
}

// every are rows so far apart.
func every(seconds float64) build.Build {
	return func(f *rules.Facts) { f.Draw.Sampling.IntervalS = seconds }
}

func runsOut(times int) build.Build {
	return func(facts *rules.Facts) {
		for range times {
			facts.Draw.RunOuts = append(facts.Draw.RunOuts, draw.RunOut{StartS: 9, EndS: 10, FromV: 20, AtA: 0.05})
		}
	}
}

// drained adds VBUS that goes with the draw, within half a second each.
func drained(times ...float64) build.Build {
	return func(facts *rules.Facts) {
		for _, t := range times {
			facts.Draw.Drains = append(facts.Draw.Drains, draw.Drain{StartS: t, EndS: t + 0.5, FromV: 20, AtA: 0.03})
		}
	}
}

func recovers(times int) build.Build {
	return func(facts *rules.Facts) {
		for range times {
			facts.Draw.Recovers = append(facts.Draw.Recovers, draw.Recovery{StartS: 3, EndS: 4, FromV: 19, ToV: 20})
		}
	}
}

// steered adds steps of VBUS that a supply makes when it is asked.
func steered(facts *rules.Facts) {
	facts.Draw.Steers = []draw.Steer{{TimeS: 4, FromV: 8.6, ToV: 9.4}, {TimeS: 8, FromV: 9.4, ToV: 10.2}}
}

// ebbed adds VBUS that sinks under 30 W.
func ebbed(facts *rules.Facts) {
	facts.Draw.Ebbs = []draw.Ebb{{StartS: 9, EndS: 9.2, FromV: 20, ToV: 11, AtW: 30}}
}

func hunts(facts *rules.Facts) {
	facts.Draw.Hunts = []draw.Hunt{{StartS: 2, EndS: 9, Turns: 12, LowV: 15, HighV: 20, MostA: 0.03}}
}

// follows is a draw of 40 ohm that VBUS takes along.
func follows(fromV float64) build.Build {
	return func(facts *rules.Facts) {
		facts.Draw.Follows = []draw.Follow{{TimeS: 1, FromV: fromV, ToV: 20, FromA: fromV / 40, ToA: 0.5, Exponent: 1}}
	}
}

func heldAt(atS, fromV float64) build.Build {
	return func(facts *rules.Facts) {
		facts.Draw.Collapses = append(facts.Draw.Collapses, draw.Collapse{TimeS: atS, FromV: fromV, HeldA: 3, HeldV: 0.4})
	}
}

// fiveSags is 5 V that is at 3.5 V each time that a controller takes its current.
func fiveSags(times int, amps float64) []build.Build {
	out := []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0)}
	for i := range times {
		at := 1 + 2*float64(i)
		out = append(out, build.Level(at, at+1, 5.1, 0.001), build.Level(at+1, at+2, 3.5, amps))
	}
	return append(out, build.Level(9, 30, 5.1, 0.001))
}

func noPullUp(facts *rules.Facts) {
	facts.Draw.CC.On = draw.CCStates{N: 1500, Low: 40, One: 1460}
	facts.Draw.Sampling.MaxA = 0.001
}

func swingsAt(periodS float64) build.Build {
	return func(facts *rules.Facts) {
		facts.Draw.Oscillation = &draw.Oscillation{StartS: 2, EndS: 29, Count: 130, PeriodS: periodS, SwingA: 1}
	}
}

func firstAt(s float64) build.Build {
	return func(facts *rules.Facts) { facts.Negotiation.FirstS = &s }
}

func cold(tries int) build.Build {
	return func(facts *rules.Facts) { facts.Draw.Cold = draw.ColdTries{Count: tries, FirstS: 10, PeakA: 3} }
}

// most is the highest current of a recording.
func most(amps float64) build.Build {
	return func(facts *rules.Facts) { facts.Draw.Sampling.MaxA = amps }
}

func idle(facts *rules.Facts) { facts.Draw.Sampling.MaxA = 0.01 }

func sinkSays(e negotiation.Events) build.Build {
	return func(facts *rules.Facts) { facts.Negotiation.SinkSays = e }
}

// falling are breaks at 0.4 A in which VBUS is seen once on its way down.
func falling(volts, amps float64) []build.Build {
	out := []build.Build{build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Messages(60, 30)}
	for _, at := range []float64{2, 12} {
		out = append(out, build.Level(at, at+8, 20, 0.4), build.Level(at+8, at+8.02, volts, amps), build.Level(at+8.02, at+9, 0.02, 0), build.Collapses(0.4, at+8), build.Lost(at-0.2))
	}
	return out
}

// missing is a draw that beats, seen each time but for one in so many; with none it comes
// after 0.2 s and a part of a second that goes by no rule.
func missing(everyS float64, oneIn int) []build.Build {
	out, at := []build.Build{build.Meter(100, 60), build.Level(0, 1, 5.1, 0.02)}, 1.0
	for i := 1; at < 59; i++ {
		wait := everyS
		switch {
		case oneIn == 0:
			wait = 0.2 + math.Mod(float64(i*i)*0.137, 0.6)
		case i%oneIn == 0:
			wait *= 2
		}
		out = append(out, build.Level(at, at+wait-0.02, 20, 0.2), build.Level(at+wait-0.02, at+wait, 20, 0.8))
		at += wait
	}
	return out
}

// halves are rounds that work for half of their time.
func halves(everyS float64) []build.Build {
	out := []build.Build{build.Meter(50, 200), build.Level(0, 1, 5.1, 0.02)}
	for at := 1.0; at+everyS < 190; at += everyS {
		out = append(out, build.Level(at, at+everyS/2, 20, 0.1), build.Level(at+everyS/2, at+everyS, 20, 1.5))
	}
	return append(out, func(f *rules.Facts) { f.Draw.Sampling.EndS = f.Draw.Levels[len(f.Draw.Levels)-1].EndS })
}

// ramping are contracts in which the draw takes these values, 20 ms each, and VBUS goes.
func ramping(amps ...float64) []build.Build {
	out := []build.Build{build.Meter(100, 30), build.Level(0, 1, 5.1, 0.02), build.Messages(60, 30)}
	for _, from := range []float64{2, 6, 10, 14} {
		at := from
		for _, a := range amps {
			out = append(out, build.Level(at, at+0.02, 20, a))
			at += 0.02
		}
		out = append(out, build.Level(at, at+1, 0.02, 0), build.Collapses(amps[len(amps)-1], at), heldFor(from, at))
	}
	return out
}

// bursting are contracts in which so many bursts pull VBUS down, and in which it falls so many
// times at rest.
func bursting(contracts ...[2]int) []build.Build {
	out := []build.Build{build.Meter(1000, 40), build.Messages(60, 30)}
	for i, c := range contracts {
		from := 2 + 6*float64(i)
		out = append(out, build.Level(from-1, from, 5.1, 0))
		at := from
		for range c[0] {
			out = append(out, build.Level(at, at+0.05, 15, 0))
			at += 0.05
			out = append(out, build.Level(at, at+0.02, 15, 6), build.Collapses(3, at+0.02))
			at += 0.1
		}
		for range c[1] {
			out = append(out, build.Level(at, at+0.6, 15, 0), build.Collapses(0, at+0.6), build.Level(at+0.6, at+0.65, 0.02, 0))
			at += 0.65
		}
		out = append(out, heldFor(from, at))
	}
	return out
}

// heldFor is a contract that a Hard Reset ends.
func heldFor(from, to float64) build.Build {
	return func(f *rules.Facts) {
		build.Lost(from)(f)
		last := len(f.Negotiation.Contracts) - 1
		f.Negotiation.Contracts[last].EndS, f.Negotiation.Resets[last].TimeS = &to, to
	}
}

// stalls are attempts that lack a step, after those before.
func stalls(missing negotiation.Step, count int) build.Build {
	return func(f *rules.Facts) {
		for range count {
			at := float64(len(f.Negotiation.Attempts))
			f.Negotiation.Attempts = append(f.Negotiation.Attempts, negotiation.Attempt{StartS: at, EndS: at + 0.9, Missing: missing, Heard: negotiation.Acknowledged})
		}
	}
}

func gaveUpAfter() []build.Build {
	return []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 0.01)}
}

// largest is the outcome with the largest chance, of several the first by name.
func largest(s Seen) string {
	best := ""
	for outcome, x := range s {
		if best == "" || x > s[best] || x == s[best] && outcome < best {
			best = outcome
		}
	}
	return best
}

// steppingBack are contracts of 20 V that the sink leaves for 5 V.
func steppingBack(amps float64, times int) []build.Build {
	out := []build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.005), build.Level(1, 30, 20, amps), build.Messages(40, 30), build.Offered(5000, 20000)}
	return append(out, func(f *rules.Facts) {
		for i := range times {
			at := 1 + 2*float64(i)
			high, low, ma := 20000, 5000, 3000
			f.Negotiation.Contracts = append(f.Negotiation.Contracts,
				negotiation.Contract{StartS: build.Ref(at), EndS: build.Ref(at + 1), Kind: "fixed", VoltageMV: &high, CurrentMA: &ma, EndedBy: "new-contract"},
				negotiation.Contract{StartS: build.Ref(at + 1), EndS: build.Ref(at + 2), Kind: "fixed", VoltageMV: &low, CurrentMA: &ma, EndedBy: "new-contract"})
		}
	})
}

// refilling are charges that stand alone.
func refilling(coulombs ...float64) build.Build {
	return func(f *rules.Facts) {
		for i, c := range coulombs {
			f.Draw.Refills = append(f.Draw.Refills, draw.Refill{TimeS: float64(i + 1), ChargeC: c})
		}
	}
}

// stopping is a draw of 20 W that stops so often, each 3 s, and then goes on.
func stopping(times int, thenS float64) []build.Build {
	out, at := []build.Build{build.Meter(50, 100), build.Level(0, 1, 5.1, 0.02)}, 1.0
	for range times {
		out = append(out, build.Level(at, at+2, 20, 1), build.Level(at+2, at+3, 20, 0.02))
		at += 3
	}
	return append(out, build.Level(at, at+thenS, 20, 1))
}

// trains is a train of pulses over a rest, without VBUS moving.
func trains(periodS, restA float64, count int) build.Build {
	return func(f *rules.Facts) {
		f.Draw.Pulses = append(f.Draw.Pulses, draw.Pulses{StartS: 2, EndS: 2 + periodS*float64(count), Count: count, PeriodS: &periodS, RestA: restA, PeakA: 0.3, VoltageV: 20})
	}
}

// used is a machine that works at 20 W for 3 s each time, with such rests at a current.
func used(restA float64, rests ...float64) []build.Build {
	out, at := []build.Build{build.Meter(50, 100), build.Level(0, 1, 5.1, 0.02)}, 1.0
	for _, s := range rests {
		out = append(out, build.Level(at, at+3, 20, 1), build.Level(at+3, at+3+s, 20, restA))
		at += 3 + s
	}
	return append(out, build.Level(at, at+3, 20, 1))
}

// breakingOff is a draw of 2 A that is gone for such times, in rows of 1 ms.
func breakingOff(gone ...float64) []build.Build {
	out, at := []build.Build{build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02)}, 1.0
	for _, s := range gone {
		out = append(out, build.Level(at, at+1, 20, 2), build.Level(at+1.001, at+1+s, 20, 0.01))
		at += 1.001 + s
	}
	return append(out, build.Level(at, 30, 20, 2))
}

// stopped works for 9 s at 20 W, and then draws so little for 20 s.
func stopped(restA float64) []build.Build {
	return []build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 10, 20, 1), build.Level(10, 30, 20, restA)}
}

// gulps are charges at a standing contract that nothing follows.
func gulps(count int) build.Build {
	return func(f *rules.Facts) {
		for i := range count {
			f.Draw.Gulps = append(f.Draw.Gulps, draw.Gulp{TimeS: float64(i + 2), ChargeC: 0.001, VoltageV: 20})
		}
	}
}

// cutShorts are attempts that a Hard Reset ends between Accept and PS_RDY.
func cutShorts(interrupted bool) build.Build {
	return func(f *rules.Facts) {
		stalls(negotiation.StepCutShort, 5)(f)
		for i := range f.Negotiation.Attempts {
			f.Negotiation.Attempts[i].Interrupted = interrupted
		}
	}
}

// resetAfter are contracts that a Hard Reset ends so long after the Accept.
func resetAfter(seconds float64, unheard bool, count int) build.Build {
	return func(f *rules.Facts) {
		for i := range count {
			at := float64(2*i + 1)
			ended := at + seconds
			f.Negotiation.Contracts = append(f.Negotiation.Contracts, negotiation.Contract{StartS: build.Ref(at + 0.1), AcceptS: &at, EndS: &ended, Kind: "fixed", VoltageMV: build.Ref(20000), CurrentMA: build.Ref(3000), EndedBy: "hard-reset", Unheard: unheard})
		}
	}
}

// shortAfter is 5 V that stands for so long each time before a short takes it down.
func shortAfter(idleS float64) []build.Build { return shortIn(200, idleS, 0) }

// shortIn is one in a fall that takes so long, in so many rows a second.
func shortIn(hz, idleS, fallS float64) []build.Build {
	out, at := []build.Build{build.Meter(hz, 30)}, 1.0
	for range 4 {
		out = append(out, build.Level(at, at+idleS, 5.1, 0.005), heldAt(at+idleS+fallS, 5.1), build.Level(at+idleS+fallS, at+2, 0.02, 0))
		at += 2
	}
	return out
}

// standing are contracts at one voltage that end after such times.
func standing(volts float64, seconds ...float64) []build.Build {
	out, at := []build.Build{build.Meter(50, 90)}, 0.0
	for _, s := range seconds {
		out = append(out, build.Level(at, at+1, 5.1, 0.02), build.Level(at+1, at+1+s, volts, 1.8), build.Level(at+1+s, at+2+s, 0.02, 0))
		at += s + 2
	}
	return out
}

// unseenBreak are contracts without messages, at 1 A, that break at such a draw.
func unseenBreak(amps float64) []build.Build {
	return []build.Build{build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 20, 1), build.Collapses(amps, 5, 10, 15, 20)}
}

// leaping are the same at 0.4 A, of which the load takes so much as VBUS falls.
func leaping(amps float64) []build.Build {
	return append(unseenBreak(0.4), func(f *rules.Facts) {
		out := []draw.Plateau{f.Draw.Plateaus[0], f.Draw.Plateaus[1]}
		for _, c := range f.Draw.Collapses {
			out = append(out, draw.Plateau{StartS: c.TimeS + 0.001, EndS: c.TimeS + 0.003, VoltageV: build.Ref(16.0), CurrentA: &amps, N: 2})
		}
		f.Draw.Plateaus = out
	})
}

// scattered is a long level whose rows scatter.
func scattered(volts, spread float64) build.Build {
	return func(f *rules.Facts) {
		build.Level(1, 30, volts, 0.4)(f)
		f.Draw.Levels[len(f.Draw.Levels)-1].SpreadV = spread
	}
}

// Signs that a recording decides by. A sign must not be seen in the nearest recording that
// does not have it.
func TestSigns(t *testing.T) {
	contracted := func(builds ...build.Build) []build.Build {
		return append([]build.Build{build.Messages(10, 6), build.Offered(5000, 20000), build.Contract(0.9, 20000, 3000)}, builds...)
	}
	asks := func(p Picture) string { s, _ := p.Asks(); return one(s) }
	offer := func(p Picture) string { s, _ := p.Offered(); return one(s) }
	ohmic := func(p Picture) string { s, _ := p.Ohmic(p.Meter()); return one(s) }
	cycles := func(p Picture) string { s, _ := p.cycles(p.Meter()); return one(s) }
	anew := said(func(p Picture) string { return p.beginsAnew() })
	mayStand := func(p Picture) string {
		if p.State[ContractHigh] > 0 && p.State[ContractAnew] > p.State[ContractHigh] {
			return "yes"
		}
		return ""
	}
	sags := said(func(p Picture) string { return p.Sagging(p.Meter()) })
	unasked := said(func(p Picture) string { return p.Unasked })
	neverRises := said(func(p Picture) string { return p.NeverRises(p.Meter()) })
	keepsFive := func(p Picture) string {
		if p.KeepsFive(p.Meter()) {
			return "yes"
		}
		return ""
	}
	held := said(func(p Picture) string { return p.Pinned(p.Meter()) })
	supply := func(p Picture) string { kind, _ := p.Supply(); return kind }
	intoShort := func(p Picture) string { kind, _ := p.IntoShort(p.Meter()); return kind }

	begunAnew := func(f *rules.Facts) {
		for i := range f.Negotiation.Contracts {
			f.Negotiation.Contracts[i].EndedBy = "restart"
		}
	}
	ended := func(f *rules.Facts) {
		for i := range f.Negotiation.Contracts {
			f.Negotiation.Contracts[i].EndS = build.Ref(*f.Negotiation.Contracts[i].StartS + 0.4)
		}
	}
	reset := func(f *rules.Facts) { f.Negotiation.HardResets = 1 }
	onOff := func(p Picture) string { s, _ := p.onAndOff(p.Meter()); return one(s) }
	lapsed := said(func(p Picture) string { return p.Lapsed })
	back5 := func(p Picture) string { s, _ := p.GoesBack(); return one(s) }
	refilled := func(p Picture) string { s, _ := Picture{}.refills(p.Meter()); return one(s) }
	missed := func(endedBy string) build.Build {
		return func(f *rules.Facts) {
			f.Negotiation.PPSMissed = []negotiation.Moment{{TimeS: 14}, {TimeS: 29}}
			c := &f.Negotiation.Contracts[0]
			c.EndS, c.EndedBy = build.Ref(25.0), endedBy
		}
	}
	extended := func(f *rules.Facts) { // in place of the programmable
		for i := range f.Negotiation.Contracts {
			f.Negotiation.Contracts[i].Kind = pd.KindEPRAVS.String()
		}
	}
	swings := func(p Picture) string {
		if _, ok := p.Swings(p.Meter()); ok {
			return "yes"
		}
		return ""
	}
	draws := func(p Picture) string { s, _ := p.DrawSeen(); return largest(s) }
	closes := func(p Picture) string {
		pattern, _ := p.DrawSeen()
		s, _ := p.Closes(pattern)
		return one(s)
	}
	came := func(p Picture) string { return largest(p.State) }
	sleeps := func(p Picture) string {
		if givesUp(p.Meter()) {
			return "no"
		}
		return "yes"
	}
	beats := func(p Picture) string { s, _ := p.beats(p.Meter()); return one(s) }
	feeds := said(func(p Picture) string { return p.feeds(p.Meter()) })
	alerted := func(p Picture) string { s, _ := p.Alerted(); return one(s) }
	flows := func(p Picture) string {
		s, _ := p.flowAtBreak()
		if s[EndOver] > s[EndLoaded] {
			return EndOver
		}
		return EndLoaded
	}
	ends := func(p Picture) string { s, _ := p.Ending(); return largest(s) }
	opens := func(p Picture) string {
		if s, _ := p.Ending(); s[EndOpen] > 0 {
			return "yes"
		}
		return ""
	}
	step := func(p Picture) string { s, _ := p.byMessages(); return largest(s) }
	five := said(func(p Picture) string { return neverFive(p.Meter(), p.resets()) })
	moved := func(p Picture) string { // as where the rules take it for a plug that is moved
		delete(p.Found, "contract-lost")
		outcome, _ := p.Losses()
		return outcome
	}
	slips := said(func(p Picture) string { return p.Slips(p.Meter()) })
	sides := func(p Picture) string { return OneSided(p.Facts.Negotiation) }
	losses := func(p Picture) string { outcome, _ := p.Losses(); return outcome }
	unheard := func(f *rules.Facts) { f.Negotiation.CRCErrors.UnheardSource = 9 }
	showSigns(t, []sign{
		{"a part of 5 V", asking(500, 0), asks, AsksPart, "Operating Current: USB PD R3.2 V1.1 section 6.4.2"},
		{"all of 5 V", asking(3250, 0), asks, AsksAll, "as above"},
		{"5 V, and it knows 20 V", asking(3250, 20000), asks, AsksBelow, "Sink_Capabilities: USB PD R3.2 V1.1 section 6.4.1.3"},
		{"5 V, and it knows no more", asking(3250, 5000), asks, KnowsFive, "as above"},
		{"20 V is asked for", contracted(build.Meter(50, 30), build.Level(0, 30, 20, 1)), asks, "", "as above"},
		{"an offer of 5 V and no current", []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 0.002), build.Messages(10, 6), build.Offered(5000), build.Contract(0.9, 5000, 3000), func(f *rules.Facts) { f.Negotiation.Offers[0].CurrentMA = build.Ref(0) }}, offer, OffersNone, "Maximum Current: USB PD R3.2 V1.1 table 6.9"},
		{"an offer of 5 V only", []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 1), build.Messages(10, 6), build.Offered(5000), build.Contract(0.9, 5000, 3000), build.Offering(15)}, offer, OffersFive, "common practice"},
		{"an offer that shrinks", contracted(build.Meter(50, 30), build.Level(0, 30, 20, 1), build.Offering(65, 45)), offer, OffersLess, "USB PD R3.2 V1.1 section 6.4.1"},
		{"an offer that comes down three times", contracted(build.Meter(50, 30), build.Level(0, 30, 20, 1), build.Turning(20000, 5000, 20000, 5000, 20000, 5000)), offer, OffersTurn, "USB PD R3.2 V1.1 section 6.4.1"},
		{"an offer that comes down to 5 V", contracted(build.Meter(50, 30), build.Level(0, 30, 20, 1), build.Turning(20000, 9000, 5000)), offer, OffersGone, "USB PD R3.2 V1.1 section 6.4.1"},
		{"an offer that comes down twice", contracted(build.Meter(50, 30), build.Level(0, 30, 20, 1), build.Turning(20000, 5000, 20000, 9000)), offer, OffersLess, "USB PD R3.2 V1.1 section 6.4.1"},
		{"it goes back to 5 V three times", steppingBack(0.005, 3), back5, StepsBack, "USB PD R3.2 V1.1 section 6.4.2"},
		{"it goes back to 5 V twice", steppingBack(0.005, 2), back5, "", "common practice"},
		{"it goes back to 5 V three times as the offer does", append(steppingBack(0.005, 3), build.Turning(20000, 5000, 20000)), back5, "", "common practice"},
		{"it goes back to 5 V three times after it drew", steppingBack(1.2, 3), back5, "", "common practice"},
		{"an offer that stays", contracted(build.Meter(50, 30), build.Level(0, 30, 20, 1), build.Offering(65, 65)), offer, "", "as above"},
		{"100 W and then 60 W, as by a cable that did not answer", contracted(build.Meter(50, 30), build.Level(0, 30, 20, 1), build.Offering(100, 60)), offer, "", "3 A: USB Type-C R2.0 section 4.4.1"},
		{"16 ohm at three voltages", []build.Build{build.Meter(50, 30), build.Level(1, 5, 9.06, 0.565), build.Level(5, 9, 15.1, 0.94), build.Level(9, 30, 20.1, 1.252)}, ohmic, OhmicThrice, "Ohm's law"},
		{"16 ohm once the switches close", []build.Build{build.Meter(50, 30), build.Level(0, 1, 9.07, 0.002), build.Level(1, 5, 9.06, 0.565), build.Level(5, 9, 15.1, 0.94), build.Level(9, 30, 20.1, 1.252)}, ohmic, OhmicBehind, "Ohm's law"},
		{"16 ohm at two voltages once they close, and then a draw of its own", []build.Build{build.Meter(50, 30), build.Level(0, 1, 9.07, 0.002), build.Level(1, 5, 9.06, 0.565), build.Level(5, 20, 15.1, 0.94), build.Level(20, 30, 15.1, 0.5)}, ohmic, OhmicLate, "Ohm's law"},
		{"16 ohm at two voltages, and then a draw of its own", []build.Build{build.Meter(50, 30), build.Level(1, 5, 9.06, 0.565), build.Level(5, 20, 15.1, 0.94), build.Level(20, 30, 15.1, 0.5)}, ohmic, OhmicTwice, "Ohm's law"},
		{"16 ohm at two voltages and nothing else, once they close at each", []build.Build{build.Meter(50, 30), build.Level(0, 1, 9.07, 0.002), build.Level(1, 5, 9.06, 0.565), build.Level(5, 7, 15.1, 0.002), build.Level(7, 30, 15.1, 0.94)}, ohmic, OhmicBehind, "Ohm's law"},
		{"8 ohm at 5 V for a moment and at 20 V ever after", []build.Build{build.Meter(1000, 30), build.Level(0, 0.1, 5.1, 0.002), build.Level(0.1, 0.16, 5.1, 0.637), build.Level(0.2, 30, 20, 2.5)}, ohmic, OhmicBehind, "Ohm's law"},
		{"8 ohm from the first moment at 5 V, and at 20 V", []build.Build{build.Meter(1000, 30), build.Level(0.1, 0.16, 5.1, 0.637), build.Level(0.2, 30, 20, 2.5)}, ohmic, OhmicThrice, "Ohm's law"},
		{"a beat of 0.27 s of which rows miss some", missing(0.27, 3), beats, DrawBeats, "0.12 to 0.62 s: data sheets SLVSEG3E, SLVSGF4B"},
		{"bursts at no beat", missing(0.27, 0), beats, "", "common practice"},
		{"12 ohm at 20, 15 and again 20 V", []build.Build{build.Meter(5, 40), build.Level(0, 0.3, 20, 0.002), build.Level(0.4, 10, 20, 1.667), build.Level(10, 20, 15, 1.25), build.Level(20, 40, 20, 1.667)}, ohmic, OhmicBehind, "Ohm's law"},
		{"a machine at 20, 15 and again 20 V that draws as much once", []build.Build{build.Meter(5, 40), build.Level(0, 10, 20, 1.667), build.Level(10, 20, 15, 1.25), build.Level(20, 40, 20, 0.9)}, ohmic, "", "Ohm's law"},
		{"8 ohm at 5 V and at 20 V, and then a draw of its own", []build.Build{build.Meter(1000, 30), build.Level(0.1, 0.16, 5.1, 0.637), build.Level(0.2, 20, 20, 2.5), build.Level(20, 30, 20, 1.1)}, ohmic, OhmicTwice, "Ohm's law"},
		{"8.5 W at two voltages", []build.Build{build.Meter(50, 30), build.Level(1, 5, 9.06, 0.94), build.Level(5, 30, 15.1, 0.563)}, ohmic, "", "constant power"},
		{"16 and 14 ohm", []build.Build{build.Meter(50, 30), build.Level(1, 5, 9.06, 0.565), build.Level(5, 30, 15.1, 1.08)}, ohmic, "", "Ohm's law"},
		{"three Soft_Resets of the sink", contracted(build.Meter(50, 30), build.SoftResets(3)), anew, "yes", "USB PD R3.2 V1.1 section 6.3.13"},
		{"two", contracted(build.Meter(50, 30), build.SoftResets(2)), anew, "", "as above"},
		{"five rounds of 5 s", roundsOf(3, 3, 3, 3, 3), cycles, DrawCycles, "common practice"},
		{"seven rounds of a charge beside a machine that runs", running(0.5, 7), cycles, DrawCuts, "common practice"},
		{"five of them, as its own work has", running(0.5, 5), cycles, "", "common practice"},
		{"seven rounds of less beside one that runs", running(0.6, 7), cycles, "", "common practice"},
		{"three rounds", roundsOf(3, 3, 3), cycles, "", "common practice"},
		{"rounds of 3 to 11 s", roundsOf(1, 9, 3, 6, 2), cycles, "", "a machine that works goes by no beat: common practice"},
		{"rounds of 30 s, as of one that sleeps", roundsOf(28, 28, 28, 28, 28), cycles, "", "common practice"},
		{"rounds of 30 s that work for half of it", halves(30), cycles, "", "common practice"},
		{"rounds of 12 s that work for half of it", halves(12), cycles, DrawCycles, "common practice"},
		{"rounds with VBUS off between", append(roundsOf(3, 3, 3), append([]build.Build{build.Level(16, 17, 0.02, 0), build.Level(17, 18, 5.1, 0.02)}, build.Level(18, 21, 9, 0.18), build.Level(21, 23, 9, 1))...), cycles, "", "a plug that is moved"},
		{"17 V for a second at 1.5 A of 3 A", contracted(build.Meter(50, 30), build.Level(1, 9, 20, 1.4), build.Level(9, 10, 17, 1.5), build.Level(10, 30, 20, 1.4)), sags, "yes", "vSrcNew: USB PD R3.2 V1.1 table 7.23"},
		{"18.7 V at the source's end", contracted(build.Meter(50, 30), build.Level(1, 9, 20, 1.4), build.Level(9, 30, 18.7, 1.5), func(f *rules.Facts) { f.MeterAt = "source" }), sags, "yes", "vSrcNew: USB PD R3.2 V1.1 table 7.23"},
		{"18.7 V at an end that nobody named", contracted(build.Meter(50, 30), build.Level(1, 9, 20, 1.4), build.Level(9, 30, 18.7, 1.5)), sags, "", "a cable's drop: USB Type-C R2.0 section 4.4.1"},
		{"17 V at 3.4 A of 3 A", contracted(build.Meter(50, 30), build.Level(1, 9, 20, 1.4), build.Level(9, 10, 17, 3.4), build.Level(10, 30, 20, 1.4)), sags, "", "a source may limit what goes beyond its promise"},
		{"17 V on the way up", contracted(build.Meter(50, 30), build.Level(0, 1, 5.1, 0.3), build.Level(1, 2, 17, 0.3), build.Level(2, 30, 20, 1.4)), sags, "", "a transition"},
		{"down to nothing in 0.3 s after a Hard Reset", contracted(build.Meter(50, 30), build.Level(1, 9, 20, 1.4), build.Level(9, 9.3, 12, 0.4), build.Level(9.3, 30, 0.02, 0), reset), sags, "", "tSafe0V: USB PD R3.2 V1.1 table 7.25"},
		{"down to nothing in 0.3 s, and nobody sent a reset", contracted(build.Meter(50, 30), build.Level(1, 9, 20, 1.4), build.Level(9, 9.3, 12, 0.4), build.Level(9.3, 30, 0.02, 0)), sags, "yes", "100 uF that give 0.4 A fall by 12 V in 3 ms: computed"},
		{"as the contract goes", contracted(build.Meter(50, 30), func(f *rules.Facts) { f.Negotiation.AskedAgain = 30 }), mayStand, "yes", "as below: a source answers each of them"},
		{"a Request again and again", contracted(build.Meter(50, 30), func(f *rules.Facts) { f.Negotiation.AskedAgain = 30 }), anew, "yes", "a contract stands until it is ended: USB PD R3.2 V1.1 section 6.4.2"},
		{"a draw that beats each 0.2 s", beating(0.2), beats, DrawBeats, "data sheets SLVSEG3E and JAJSJF0D (0.1 to 0.3 s)"},
		{"a draw that changes each 3 s", beating(3), beats, "", "a machine that works: common practice"},
		{"12 mA out of the machine at 7.6 V", []build.Build{build.Meter(50, 30), build.Level(0, 9, 7.6, -0.012), build.Level(9, 20, 20, 2), build.Level(20, 30, 7.6, -0.012)}, feeds, "yes", "the switches block both ways: common practice"},
		{"5 mA out of it, and nobody saw the meter's zero", []build.Build{build.Meter(50, 30), build.Level(0, 9, 7.6, -0.005), build.Level(9, 20, 20, 2)}, feeds, "", "a zero is off by milliamperes: common practice"},
		{"5 mA out of it, and 1 mA without VBUS", []build.Build{build.Meter(50, 30), build.Level(0, 3, 0, -0.001), build.Level(3, 9, 7.6, -0.006), build.Level(9, 20, 20, 2)}, feeds, "yes", "as above"},
		{"nothing, after 0.5 A into 0 V", []build.Build{build.Meter(50, 30), build.Level(0, 3, 0, 0.5), build.Level(3, 9, 7.6, 0), build.Level(9, 20, 20, 2)}, feeds, "", "a short's current is no meter's zero: common practice"},
		{"7 mA out of it, and 7 mA without VBUS", []build.Build{build.Meter(50, 30), build.Level(0, 3, 0, -0.007), build.Level(3, 9, 20, -0.007), build.Level(9, 20, 20, 2)}, feeds, "", "as above"},
		{"5 mA out, on a meter that may be turned round", []build.Build{build.Meter(50, 30), build.Level(0, 9, 7.6, -0.005), build.Level(9, 30, 20, -0.02)}, feeds, "", "common practice"},
		{"15 ohm beside 0.2 W, at three voltages", []build.Build{build.Meter(50, 30), build.Level(1, 5, 4.96, 0.371), build.Level(5, 9, 8.94, 0.618), build.Level(9, 30, 14.91, 1.007)}, ohmic, OhmicThrice, "Ohm's law: 4.96 V / 15 ohm + 0.2 W / 4.96 V"},
		{"15 ohm beside 3 W", []build.Build{build.Meter(50, 30), build.Level(1, 5, 4.96, 0.935), build.Level(5, 9, 8.94, 0.932), build.Level(9, 30, 14.91, 1.195)}, ohmic, "", "most of it is a converter at 5 V"},
		{"keep-alives that do not come", contracted(build.Meter(50, 30), missed("hard-reset")), anew, "yes", "tPPSRequest: USB PD R3.2 V1.1 table 6.68"},
		{"that come late, to a source that waits", contracted(build.Meter(50, 30), missed("new-contract")), anew, "", "tPPSTimeout: as above"},
		{"12.7 V where each contract names 9 V", []build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.01), build.Level(1, 1.4, 12.7, 0.01), build.Level(1.4, 3, 0.02, 0), build.Level(3, 3.4, 12.7, 0.01), build.Messages(80, 40), build.Offered(5000, 9000, 15000), build.Contract(1, 9000, 3000)}, unasked, "yes", "vSrcNew: USB PD R3.2 V1.1 table 7.23"},
		{"the source says that its input changed", contracted(build.Meter(50, 30), build.SourceSays(negotiation.Events{Input: true})), alerted, Ailing, "USB PD R3.2 V1.1 table 6.47"},
		{"the source says that too much was drawn", contracted(build.Meter(50, 30), build.SourceSays(negotiation.Events{Overcurrent: true})), alerted, Overdrawn, "as above"},
		{"the device says 20 V too high where 20 V stand", contracted(build.Meter(50, 30), build.Level(0, 30, 20, 1), sinkSays(negotiation.Events{Overvoltage: true})), alerted, FalseOver, "as above"},
		{"the device says so, and nobody measured", contracted(sinkSays(negotiation.Events{Overvoltage: true})), alerted, OverFed, "as above"},
		{"the source says nothing that is wrong", contracted(build.Meter(50, 30), build.SourceSays(negotiation.Events{})), alerted, "", "as above"},
		{"8.6 A that flow as VBUS falls, of a contract nobody saw", unseenBreak(8.6), flows, EndOver, "5 A is the most of any contract: USB PD R3.2 V1.1 section 10.2"},
		{"1.2 A", unseenBreak(1.2), flows, EndLoaded, "as above"},
		{"2.8 A all at once as VBUS falls from 0.4 A", leaping(2.8), flows, EndOver, "a source that gives way makes no current: common practice"},
		{"0.5 A", leaping(0.5), flows, EndLoaded, "as above"},
		{"8.6 A, and a contact", unseenBreak(8.6), opens, "", "none opens because too much flows: common practice"},
		{"1.2 A, and a contact", unseenBreak(1.2), opens, "yes", "as above"},
		{"4.7 A that hold VBUS at 4.6 V as it falls from 0.4 A", falling(4.6, 4.7), flows, EndOver, "a short takes what the source gives: common practice"},
		{"3.6 A at 2 V as it falls from 0.4 A at 20 V", falling(2, 3.6), flows, EndLoaded, "a converter takes the same watts: common practice"},
		{"a draw that still rises as VBUS goes", ramping(0.1, 0.25, 0.4, 0.5, 0.6, 0.7), ends, EndLoaded, "a charger circuit ramps over tenths of a second: common practice"},
		{"a burst as VBUS goes", ramping(0.02, 0.02, 0.02, 0.02, 0.02, 6), ends, EndAtOnce, "the switches close into a short: common practice"},
		{"a burst in each contract, and 0.6 s later the reset", bursting([2]int{1, 1}, [2]int{1, 1}, [2]int{1, 1}), ends, EndAtOnce, "a source resets what overloaded it: common practice"},
		{"a burst in three contracts of five", bursting([2]int{1, 1}, [2]int{1, 1}, [2]int{1, 1}, [2]int{0, 1}, [2]int{0, 1}), ends, EndAtOnce, "as above"},
		{"a burst in two of five", bursting([2]int{1, 1}, [2]int{1, 1}, [2]int{0, 1}, [2]int{0, 1}, [2]int{0, 1}), ends, EndEarly, "as above"},
		{"a burst in each, and VBUS that falls five times after it", bursting([2]int{1, 5}, [2]int{1, 5}, [2]int{1, 5}), ends, EndEarly, "a source that swings makes surges of its own: common practice"},
		{"Requests unanswered, and then none", append(gaveUpAfter(), build.Messages(90, 40), stalls(negotiation.StepAnswer, 2), stalls(negotiation.StepRequest, 30)), step, NoAnswer, "nHardResetCount: USB PD R3.2 V1.1 table 6.70"},
		{"no Request, and then one unanswered", append(gaveUpAfter(), build.Messages(90, 40), stalls(negotiation.StepRequest, 30), stalls(negotiation.StepAnswer, 2)), step, NoRequest, "as above"},
		{"a plug that wobbles as it goes in", []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 2, 20, 0.5), build.Level(2, 2.3, 0.02, 0), build.Level(2.3, 3, 20, 0.5), build.Level(3, 3.3, 0.02, 0), build.Level(3.3, 60, 20, 1.5)}, moved, LostOnce, "common practice"},
		{"a supply that comes to 3.9 V and no further", []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 1.3, 3.9, 0), build.Level(1.3, 3, 0.02, 0), build.Level(3, 3.3, 3.9, 0)}, five, "yes", "vSafe5V is 4.75 V at least: USB PD R3.2 V1.1 table 7.25"},
		{"one that comes to 2.4 V again and again", []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 1.3, 2.4, 0), build.Level(1.3, 3, 0.02, 0), build.Level(3, 3.3, 2.4, 0)}, five, "yes", "as above"},
		{"one that stands at 2.4 V", []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 30, 2.4, 0)}, five, "", "an output that nobody drives may float: common practice"},
		{"one that a load holds there", []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 1.3, 3.9, 2.5), build.Level(1.3, 3, 0.02, 0)}, five, "", "a load at its limit"},
		{"4.1 V in three rows of a second, among Hard Resets", []build.Build{build.Meter(1, 60), build.Level(0, 2, 0.02, 0), build.Level(3, 5, 4.1, 0.01), build.Level(6, 7, 0.02, 0), build.Level(8, 10, 4.2, 0.01), build.Messages(8, 8), func(f *rules.Facts) {
			f.Negotiation.HardResets = 8
			for i := range f.Draw.Plateaus {
				f.Draw.Plateaus[i].N = 3
			}
		}}, five, "", "such rows are means of on and off: common practice"},
		{"6 W at 20 V, and 6 W at 5 V without a message", contracted(build.Meter(50, 30), build.Level(1, 9, 19.9, 0.3), build.Level(9, 30, 4.95, 1.22)), slips, "yes", "a new contract takes messages: USB PD R3.2 V1.1 section 6.4.2"},
		{"30 W at 20 V, and 6 W at 5 V", contracted(build.Meter(50, 30), build.Level(1, 9, 19.9, 1.5), build.Level(9, 30, 4.95, 1.22)), slips, "", "a recorder may stop before the meter"},
		{"the source's frames alone are damaged", []build.Build{build.Messages(6, 30), build.Damaged(60, 0)}, sides, LineSourceOnly, "a line carries both ways: USB Type-C R2.0 section 4.5"},
		{"the sink's frames alone are damaged", []build.Build{build.Messages(30, 6), build.Damaged(0, 60)}, sides, LineSinkOnly, "as above"},
		{"both sides' frames are damaged", []build.Build{build.Messages(6, 6), build.Damaged(60, 40)}, sides, "", "as above"},
		{"the source's frames are damaged, and the sink says nothing", []build.Build{build.Messages(6, 0), build.Damaged(60, 0)}, sides, "", "as above"},
		{"three charges alike, each after a draw that was cut off", []build.Build{build.Meter(1000, 30), build.Level(0, 30, 20, 0.5), refilling(1.70e-3, 1.71e-3, 1.69e-3)}, refilled, DrawRefills, "a capacitor takes C V: common practice"},
		{"three charges that differ", []build.Build{build.Meter(1000, 30), build.Level(0, 30, 20, 0.5), refilling(0.6e-3, 1.2e-3, 1.9e-3)}, refilled, "", "as above"},
		{"two charges", []build.Build{build.Meter(1000, 30), build.Level(0, 30, 20, 0.5), refilling(1.7e-3, 1.7e-3)}, refilled, "", "as above"},
		{"10.8 V that goes away after 13 s each time", standing(10.8, 13.2, 13.4, 13.3), lapsed, "yes", "tPPSTimeout: USB PD R3.2 V1.1 table 6.68"},
		{"10.8 V that goes away after 13 s and after 5 s", standing(10.8, 13.2, 5, 13.3), lapsed, "", "as above"},
		{"9 V that goes away after 13 s each time", standing(9, 13.2, 13.4, 13.3), lapsed, "", "a fixed supply does not lapse"},
		{"10.8 V that goes away after 20 s each time", standing(10.8, 20, 20, 20), lapsed, "", "tPPSTimeout: USB PD R3.2 V1.1 table 6.68"},
		{"VBUS swings in a fixed contract", []build.Build{build.Meter(50, 30), build.Messages(40, 30), build.Contract(0.9, 9000, 2000), scattered(9, 0.4)}, swings, "yes", "vSrcNew: USB PD R3.2 V1.1 table 7.23"},
		{"VBUS moves with a programmable contract", []build.Build{build.Meter(50, 30), build.Messages(40, 30), build.Programmable(8500, 9000, 9500), scattered(9, 0.4)}, swings, "", "PPS: USB PD R3.2 V1.1 section 7.1.4.2"},
		{"three losses at 1.2 A of 3 A", build.Tripping(1.2, 1.2, 1.25), losses, LostDraw, "USB PD R3.2 V1.1 section 7.1.7"},
		{"three losses at 0.4 to 2 A", build.Tripping(0.4, 1.2, 2), losses, LostMore, "as above"},
		{"two stops, and then it works for a minute", stopping(2, 60), onOff, "", "memory that is trained: common practice"},
		{"two stops, and then it works for 5 s", stopping(2, 5), onOff, DrawOnOff, "common practice"},
		{"five stops, and then it works for a minute", stopping(5, 60), onOff, DrawOnOff, "common practice"},
		{"three losses at a draw that it carries on", append(build.Tripping(1.2, 1.2, 1.25), build.Level(20, 60, 20, 1.25)), losses, LostMore, "common practice"},
		{"7.5 V at once beside a Hard Reset alone", []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 30, 7.5, 0.014), build.Messages(0, 0), func(f *rules.Facts) { f.Negotiation.Messages, f.Negotiation.HardResets = 1, 1 }}, unasked, "yes", "vSafe5V: USB PD R3.2 V1.1 table 7.25"},
		{"12 V beside offers that nobody answers", []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 30, 12.5, 0.02), build.Messages(40, 0), build.Attempts(negotiation.StepAcknowledge, 9)}, unasked, "yes", "vSafe5V: USB PD R3.2 V1.1 table 7.25"},
		{"5 V beside them", []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 30, 5.1, 0.02), build.Messages(40, 0), build.Attempts(negotiation.StepAcknowledge, 9)}, unasked, "", "as above"},
		{"12 V before the plug, as a battery feeds back", []build.Build{build.Meter(50, 30), build.Level(0, 30, 12.5, 0)}, unasked, "", "common practice"},
		{"12 V from the first row on beside offers", []build.Build{build.Meter(50, 30), build.Level(0, 30, 12.5, 0), build.Messages(40, 0), build.Attempts(negotiation.StepAcknowledge, 9)}, unasked, "yes", "a source attaches to a cold VBUS alone: USB Type-C R2.0 section 4.5.2.2"},
		{"12 V that come with the plug, and nothing flows", []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 30, 12.5, 0), build.Messages(40, 0), build.Attempts(negotiation.StepAcknowledge, 9)}, unasked, "yes", "vSafe5V: USB PD R3.2 V1.1 table 7.25"},
		{"12 V at once, on a meter alone", []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 30, 12.5, 0.02)}, unasked, "yes", "tSrcTransition and three messages take longer: USB PD R3.2 V1.1 table 7.23"},
		{"12 V after 0.2 s at 5 V", []build.Build{build.Meter(50, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 1.2, 5.1, 0.01), build.Level(1.2, 30, 12.5, 0.02)}, unasked, "", "as above"},
		{"12 V at once, on a slow meter", []build.Build{build.Meter(5, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 30, 12.5, 0.02)}, unasked, "", "as above"},
		{"25 V where 20 V is the most", contracted(build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 25.4, 0.001)), unasked, "yes", "vSrcNew: USB PD R3.2 V1.1 table 7.23"},
		{"25 V there for 2 ms", contracted(build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 9, 20, 0.001), build.Level(9, 9.001, 25.4, 0.001), build.Level(9.002, 30, 20, 0.001)), unasked, "", "tSrcTransient is 5 ms: USB PD R3.2 V1.1 table 7.23"},
		{"20.6 V there", contracted(build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 20.6, 0.001)), unasked, "", "as above"},
		{"one contract at 20 V, and 5 V for 20 s", []build.Build{build.Meter(50, 20), build.Level(0, 20, 5.1, 0.02), build.Messages(20, 10), build.Contract(1, 20000, 3000), firstAt(0.5)}, neverRises, "yes", "PS_RDY: USB PD R3.2 V1.1 section 6.3.6"},
		{"one contract at 20 V, and 5 V for 2 s", []build.Build{build.Meter(50, 2), build.Level(0, 2, 5.1, 0.02), build.Messages(20, 10), build.Contract(1, 20000, 3000), firstAt(0.5)}, neverRises, "", "the log may end before the contract"},
		{"one that comes late", []build.Build{build.Meter(50, 20), build.Level(0, 20, 5.1, 0.02), build.Messages(20, 10), build.Contract(9, 20000, 3000), firstAt(0.5)}, neverRises, "", "as above"},
		{"contracts at 20 V, and VBUS stays at 5 V", []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 0.02), build.Messages(80, 40), build.Contract(1, 20000, 3000), build.Contract(3, 20000, 3000), build.Contract(5, 20000, 3000), ended}, neverRises, "yes", "PS_RDY: USB PD R3.2 V1.1 section 6.3.6"},
		{"one contract at 20 V, and 13.4 V for 20 s", []build.Build{build.Meter(50, 20), build.Level(0, 20, 13.4, 0.005), build.Messages(20, 10), build.Contract(1, 20000, 3000), firstAt(0.5)}, neverRises, "yes", "as the first"},
		{"5 V for 20 s and 2 A in it", []build.Build{build.Meter(50, 20), build.Level(0, 1, 0.02, 0), build.Level(1, 20, 5.0, 2)}, keepsFive, "yes", "vSafe5V: USB PD R3.2 V1.1 table 7.25"},
		{"for 4 s", []build.Build{build.Meter(50, 5), build.Level(0, 1, 0.02, 0), build.Level(1, 5, 5.0, 2)}, keepsFive, "", "the log may end before the contract"},
		{"for half of the time, and 3 V else", []build.Build{build.Meter(50, 20), build.Level(0, 10, 5.0, 2), build.Level(10, 20, 3, 2)}, keepsFive, "", "an overload that comes and goes"},
		{"4.5 V", []build.Build{build.Meter(50, 20), build.Level(0, 20, 4.5, 2)}, keepsFive, "", "vSafe5V: USB PD R3.2 V1.1 table 7.25"},
		{"13.4 V under 3 A", []build.Build{build.Meter(50, 20), build.Level(0, 20, 13.4, 3), build.Messages(20, 10), build.Contract(1, 20000, 3000), firstAt(0.5)}, neverRises, "", "a load may hold it there"},
		{"contracts at 20 V for 0.4 s, and VBUS comes to 9.4 V each time", append(overAndOver(9.4, 0.15, 5), build.Messages(80, 40), build.Contract(1, 20000, 3000), build.Contract(3, 20000, 3000), build.Contract(5, 20000, 3000), ended), neverRises, "yes", "a mean over a rise and a fall ends elsewhere each time: common practice"},
		{"the same, and nobody saw when they ended", append(overAndOver(9.4, 0.15, 5), build.Messages(80, 40), build.Contract(1, 20000, 3000), build.Contract(3, 20000, 3000), build.Contract(5, 20000, 3000), ended, begunAnew), neverRises, "", "VBUS may have gone long before the next offer: common practice"},
		{"the same for 0.15 s of 1.8 s", append(overAndOver(9.4, 0.15, 5), build.Messages(80, 40), build.Contract(1, 20000, 3000), build.Contract(3, 20000, 3000), build.Contract(5, 20000, 3000), ended, func(f *rules.Facts) {
			f.Draw.Sampling.IntervalS = 0.02
			for i := range f.Draw.Levels {
				f.Draw.Levels[i].MaxV *= 1 - 0.01*float64(i) // no two tops are alike
			}
			for i := range f.Negotiation.Contracts {
				f.Negotiation.Contracts[i].EndS = build.Ref(*f.Negotiation.Contracts[i].StartS + 1.8)
			}
		}), neverRises, "", "a mean over a rise and a fall ends elsewhere each time: common practice"},
		{"contracts of 8.5 V and more, and VBUS stays at 6 V", []build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 6, 0.02), build.Messages(80, 40), build.Programmable(8500, 9000, 9500), ended}, neverRises, "yes", "vPpsNew: USB PD R3.2 V1.1 table 7.23"},
		{"the same, where the draw is beyond the promise", []build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 6, 1.9), build.Messages(80, 40), build.Programmable(8500, 9000, 9500), ended}, neverRises, "", "a programmable source limits its current"},
		{"contracts of 8.5 V and more for 0.4 s each, in rows of as much", []build.Build{build.Meter(10, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 6, 0.02), build.Messages(80, 40), build.Programmable(8500, 9000, 9500, 9000, 8500), ended}, neverRises, "", "a row is a mean: common practice"},
		{"on a meter too slow to see them", []build.Build{build.Meter(1, 30), build.Level(0, 30, 5.1, 0.02), build.Messages(80, 40), build.Contract(1, 20000, 3000), build.Contract(3, 20000, 3000), build.Contract(5, 20000, 3000), ended}, neverRises, "", "common practice"},
		{"2 A at 0.9 V, and VBUS does not come", []build.Build{build.Meter(100, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 1.02, 0.9, 2), build.Level(1.02, 30, 0.02, 0)}, intoShort, HeldShort, "10 uF at attach: USB Type-C R2.0 table 4-2"},
		{"3 A into a VBUS that does not come up, seven times", []build.Build{build.Meter(1000, 30), build.Level(0, 9, 20, 1), cold(7)}, intoShort, HeldCold, "the switches are open before a contract: common practice"},
		{"once", []build.Build{build.Meter(1000, 30), build.Level(0, 9, 20, 1), cold(1)}, intoShort, "", "common practice"},
		{"CC rises first at four losses of five", append(falling(9, 0.4), build.CCEnded(4, 0, 1)), ends, EndCCOpen, "USB Type-C R2.0 section 4.5.2.2"},
		{"CC falls first at four of five", append(falling(9, 0.4), build.CCEnded(0, 4, 1)), ends, EndCCGone, "as above"},
		{"CC rises first at one of two", append(falling(9, 0.4), build.CCEnded(1, 0, 1)), ends, EndFed, "a plug that is pulled: common practice"},
		{"VBUS runs out under 50 mA", []build.Build{build.Meter(100, 30), build.Level(0, 9, 20, 0.05), runsOut(1)}, supply, SupplyRunsOut, "tSafe0V: USB PD R3.2 V1.1 table 7.25"},
		{"three times", []build.Build{build.Meter(100, 30), build.Level(0, 9, 20, 0.05), runsOut(3)}, supply, SupplyAgain, "as above"},
		{"VBUS goes with the draw", []build.Build{build.Meter(100, 30), build.Level(0, 9, 20, 0.05), drained(9.2)}, supply, SupplyRunsOut, "its capacitors alone are left: C V = I t"},
		{"twice", []build.Build{build.Meter(100, 30), build.Level(0, 9, 20, 0.05), drained(9.2, 20)}, supply, SupplyAgain, "as above"},
		{"in the time that it runs out", []build.Build{build.Meter(100, 30), build.Level(0, 9, 20, 0.05), runsOut(1), drained(9.2)}, supply, SupplyRunsOut, "one event is told once"},
		{"VBUS swings at the current limit of one programmable contract", []build.Build{build.Meter(50, 30), build.Messages(40, 30), build.Programmable(9000), scattered(9, 0.4)}, swings, "", "current limit: USB PD R3.2 V1.1 section 7.1.4.2"},
		{"VBUS swings, and a meter alone", []build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.01), scattered(9, 0.4)}, swings, "yes", "vSrcNew: USB PD R3.2 V1.1 table 7.23"},
		{"VBUS steps as a programmable supply does, and a meter alone", []build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.01), scattered(9, 0.4), steered}, swings, "", "vPpsStep: USB PD R3.2 V1.1 table 7.23"},
		{"VBUS sinks under 30 W, and goes", []build.Build{build.Meter(100, 30), build.Level(0, 9, 20, 1.5), ebbed}, supply, SupplyEbbs, "P = V I: common practice"},
		{"VBUS goes up and down at 30 mA", []build.Build{build.Meter(100, 30), build.Level(0, 9, 18, 0.03), hunts}, supply, SupplyHunts, "vSrcNew: USB PD R3.2 V1.1 table 7.23"},
		{"and under 24 W", []build.Build{build.Meter(100, 30), build.Level(0, 9, 20, 1.2), hunts, func(f *rules.Facts) { f.Draw.Hunts[0].AtW = 24 }}, func(p Picture) string { _, text := p.Supply(); return text }, "from 2.00 s VBUS goes up and down 6 times between 15 V and 20 V, and the draw keeps its 24 W", "as above"},
		{"as its programmable contract does", []build.Build{build.Meter(100, 30), build.Level(0, 9, 18, 0.03), build.Messages(40, 30), build.Programmable(8500, 9000, 9500), hunts}, supply, "", "PPS: USB PD R3.2 V1.1 section 7.1.4.2"},
		{"a draw that swings each 0.2 s, in rows close together", []build.Build{build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 20, 1.5), swingsAt(0.2)}, beats, DrawBeats, "data sheets SLVSEG3E and JAJSJF0D (0.1 to 0.3 s)"},
		{"a beat of 0.6 s in rows of 0.1 s", append(beating(0.6), every(0.1)), beats, "", "six rows make an uneven beat even: common practice"},
		{"0.45 and 0.55 s in turn, in rows of 50 ms", append(uneven(0.45, 0.55), every(0.05)), beats, "", "work: common practice"},
		{"0.5 s each, in rows of 50 ms", append(uneven(0.5, 0.5), every(0.05)), beats, DrawBeats, "data sheet SLVSGF4B (0.62 s)"},
		{"the same, where VBUS hums", []build.Build{build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 20, 1.5), swingsAt(0.01), func(f *rules.Facts) { f.Draw.Hum = &draw.Hum{StartS: 2, EndS: 29, Hz: 100, AmpV: 1} }}, beats, "", "the mains swing VBUS, and the draw follows: common practice"},
		{"8 ohm from the first volt on", []build.Build{build.Meter(1000, 30), build.Level(0, 9, 5, 0.6), func(f *rules.Facts) { f.Draw.FromZero = draw.FromZero{Count: 1, FirstS: 1, Ohm: 8} }}, ohmic, OhmicFirst, "Ohm's law"},
		{"the draw rises with VBUS from 5 V on", []build.Build{build.Meter(100, 30), build.Level(0, 9, 20, 0.5), follows(5)}, ohmic, OhmicThrice, "Ohm's law"},
		{"from 5 V on, and 5 mA there at first", []build.Build{build.Meter(100, 30), build.Level(0, 1, 5.1, 0.005), build.Level(1, 2, 5.1, 0.2), build.Level(2, 9, 20, 0.5), follows(5)}, ohmic, OhmicBehind, "a resistor draws at any voltage (Ohm's law): what began later stands behind a switch"},
		{"from 9 V on, and 5 mA at 5 V", []build.Build{build.Meter(100, 30), build.Level(0, 1, 5.1, 0.005), build.Level(1, 9, 20, 0.5), follows(9)}, ohmic, OhmicBehind, "the switches are open before a contract: common practice"},
		{"VBUS comes back slowly twice", []build.Build{build.Meter(100, 30), build.Level(0, 9, 20, 0.5), recovers(2)}, supply, SupplyTires, "Ohm's law: common practice"},
		{"once", []build.Build{build.Meter(100, 30), build.Level(0, 9, 20, 0.5), recovers(1)}, supply, "", "a contract that changes"},
		{"18.6 V at 0.5 A, from 19.9 V", []build.Build{build.Meter(100, 30), build.Level(0, 2, 19.9, 0.01), build.Level(2, 20, 18.6, 0.5)}, held, "yes", "input voltage regulation: data sheet SLUSE65A"},
		{"the same at 2 A, on a meter alone", []build.Build{build.Meter(100, 30), build.Level(0, 2, 19.9, 0.01), build.Level(2, 20, 18.6, 2)}, held, "", "nobody knows what was promised"},
		{"the same at 2 A of 3 A", []build.Build{build.Meter(100, 30), build.Messages(40, 30), build.Contract(0.5, 20000, 3000), build.Level(0, 2, 19.9, 0.01), build.Level(2, 20, 18.6, 2)}, held, "yes", "USB PD R3.2 V1.1 section 7.1.7"},
		{"1 A of an adjustable contract that moves", []build.Build{build.Meter(100, 30), build.Messages(40, 30), build.Programmable(20000, 18600), extended, build.Level(0, 2, 19.9, 0.01), build.Level(2, 20, 18.6, 1)}, held, "", "AVS: USB PD R3.2 V1.1 section 7.1.4.3"},
		{"19.2 V there, as behind a long cable", []build.Build{build.Meter(100, 30), build.Messages(40, 30), build.Contract(0.5, 20000, 3000), build.Level(0, 2, 19.9, 0.01), build.Level(2, 20, 19.2, 2)}, held, "", "USB Type-C R2.0 section 4.4.1"},
		{"15 V at 0.5 A, as a new contract", []build.Build{build.Meter(100, 30), build.Level(0, 2, 19.9, 0.01), build.Level(2, 20, 15, 0.5)}, held, "", "a fixed supply"},
		{"3 A at 0.4 V, from 5 V and before a contract", []build.Build{build.Meter(1000, 30), build.Level(0, 3, 5.1, 0.01), build.Level(4, 20, 20, 1), heldAt(2, 5.1)}, intoShort, HeldCold, "the switches are open before a contract: common practice"},
		{"the same on a slow meter", []build.Build{build.Meter(10, 30), build.Level(0, 3, 5.1, 0.01), build.Level(4, 20, 20, 1), heldAt(2, 5.1)}, intoShort, HeldShort, "a contract takes less than a row"},
		{"the same from 20 V", []build.Build{build.Meter(1000, 30), build.Level(0, 3, 5.1, 0.01), build.Level(4, 20, 20, 1), heldAt(9, 20)}, intoShort, HeldShort, "as above"},
		{"5 V that gives way to 50 mA three times", fiveSags(3, 0.05), held, "yes", "USB Type-C R2.0 table 4-25: each Rp promises 0.5 A and more"},
		{"twice", fiveSags(2, 0.05), held, "", "common practice"},
		{"to 1 A", fiveSags(3, 1), held, "", "as above"},
		{"13.7 V from the first row on, and CC at 0 V", []build.Build{build.Meter(50, 30), build.Level(0, 30, 13.7, 0), noPullUp}, feeds, "yes", "a source gives VBUS once it sees Rd: USB Type-C R2.0 section 4.5.2.2"},
		{"20 V there, as a contract that stands", []build.Build{build.Meter(50, 30), build.Level(0, 30, 20, 0), noPullUp}, feeds, "", "as above"},
		{"13.7 V that came", []build.Build{build.Meter(50, 30), build.Level(2, 30, 13.7, 0), noPullUp, func(f *rules.Facts) { f.Draw.CC.Off = draw.CCStates{N: 90, Low: 90} }}, feeds, "", "as above"},
		{"a blip of 20 mA", []build.Build{build.Meter(100, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 1.02, 0.9, 0.02), build.Level(1.02, 30, 0.02, 0)}, intoShort, "", "as above"},
		{"irregular rests at 40 mA", used(0.04, 4, 9, 5, 7), draws, DrawInUse, "a machine that is used: common practice"},
		{"the same at 25 mA", used(0.025, 4, 9, 5, 7), draws, DrawInUse, "as above"},
		{"the same at 25 mA, and shorter", used(0.025, 1, 2, 1.5, 1.2), draws, DrawOnOff, "what tries again waits for less: common practice"},
		{"2 A that break off four times for 20 to 60 ms", breakingOff(0.02, 0.06, 0.03, 0.05), draws, DrawBreaks, "a contact: common practice"},
		{"for as long each time", breakingOff(0.05, 0.05, 0.05, 0.05), draws, DrawLeap, "a regulator's own time: common practice"},
		{"three times", breakingOff(0.02, 0.06, 0.03), draws, DrawLeap, "common practice"},
		{"for 0.5 s and more", breakingOff(0.5, 0.9, 0.6, 0.7), draws, DrawOnOff, "common practice"},
		{"the same at 5 mA", used(0.005, 4, 9, 5, 7), draws, DrawOnOff, "a machine that is cut off: common practice"},
		{"rests of one length at 40 mA", used(0.04, 5, 5, 5, 5), draws, DrawOnOff, "a protection that lets go and tries again: common practice"},
		{"the draw stops for good, and 50 mA flow on", stopped(0.05), draws, DrawHolds, "a charge that ends: common practice"},
		{"and 3 mA", stopped(0.003), draws, DrawEnds, "0.01 to 0.03 A at 19 V is a sound standby: common practice"},
		{"six starts each 2 s over 9 mA", []build.Build{build.Meter(50, 30), build.Level(1, 30, 20, 0.01), trains(2, 0.009, 6)}, sleeps, "no", "common practice"},
		{"over 80 mA, as in a sleep", []build.Build{build.Meter(50, 30), build.Level(1, 30, 20, 0.08), trains(2, 0.08, 6)}, sleeps, "yes", "1 to 2 W in a sleep: common practice"},
		{"each 8 s", []build.Build{build.Meter(50, 30), build.Level(1, 30, 20, 0.01), trains(8, 0.009, 6)}, sleeps, "yes", "common practice"},
		{"a charge as VBUS stands, and nothing after it", contracted(build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.005), build.Level(1, 30, 20, 0.002), gulps(1)), closes, ClosesSeen, "C V: common practice"},
		{"none, in rows of 1 ms", contracted(build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.005), build.Level(1, 30, 20, 0.002)), closes, ClosesNever, "common practice"},
		{"none, in rows of 0.1 s", contracted(build.Meter(10, 30), build.Level(0, 1, 5.1, 0.005), build.Level(1, 30, 20, 0.002)), closes, "", "common practice"},
		{"five charges", contracted(build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.005), build.Level(1, 30, 20, 0.002), gulps(5)), closes, "", "tries: common practice"},
		{"cut short, and nothing drawn", []build.Build{build.Meter(1000, 30), build.Level(0, 30, 5.1, 0.005), build.Messages(40, 20), cutShorts(false), idle}, came, CutIdle, "pSnkStdby: USB PD R3.2 V1.1 table 7.24"},
		{"cut short, and 4 A", []build.Build{build.Meter(1000, 30), build.Level(0, 30, 5.1, 0.005), build.Messages(40, 20), cutShorts(false), most(4)}, came, CutPulled, "as above"},
		{"cut short while the sink talks", []build.Build{build.Meter(1000, 30), build.Level(0, 30, 5.1, 0.005), build.Messages(40, 20), cutShorts(true), idle}, came, CutBySink, "USB PD R3.2 V1.1 section 8.3.2, from memory"},
		{"cut short, and 1 A at 5 V after 0.1 s", []build.Build{build.Meter(1000, 30), build.Level(0, 0.1, 5.1, 0.005), build.Level(0.1, 30, 5.1, 1), build.Messages(40, 20), cutShorts(false)}, came, CutFed, "switches that close at 5 V: common practice"},
		{"from the first row on", []build.Build{build.Meter(1000, 30), build.Level(0, 30, 5.1, 1), build.Messages(40, 20), cutShorts(false)}, came, CutLoaded, "common practice"},
		{"three resets 0.5 s after the Accept", []build.Build{build.Messages(40, 20), build.Offered(5000, 20000), resetAfter(0.5, false, 3)}, came, ReadyUnheard, "tPSTransition: USB PD R3.2 V1.1 table 6.68"},
		{"two", []build.Build{build.Messages(40, 20), build.Offered(5000, 20000), resetAfter(0.5, false, 2)}, came, ContractLost, "common practice"},
		{"three after 0.3 s", []build.Build{build.Messages(40, 20), build.Offered(5000, 20000), resetAfter(0.3, false, 3)}, came, ContractLost, "tPSTransition: USB PD R3.2 V1.1 table 6.68"},
		{"three after 0.3 s, and PS_RDY said again", []build.Build{build.Messages(40, 20), build.Offered(5000, 20000), resetAfter(0.3, true, 3)}, came, ReadyUnheard, "nRetryCount: USB PD R3.2 V1.1 table 6.70"},
		{"of how far it comes it tells nothing", shortAfter(0.2), came, "", "what takes VBUS away begins each start anew: common practice"},
		{"a short that comes 0.2 s after 5 V, each time", shortAfter(0.2), intoShort, HeldLate, "switches that close: common practice"},
		{"after 30 ms", shortAfter(0.03), intoShort, HeldLate, "as above"},
		{"in a fall of 15 ms", shortIn(1000, 0.03, 0.015), intoShort, HeldLate, "capacitors hold it up: common practice"},
		{"in one of 30 ms", shortIn(1000, 0.03, 0.03), intoShort, HeldShort, "what comes between is a draw: common practice"},
		{"after 10 ms", shortAfter(0.01), intoShort, HeldShort, "common practice"},
		{"and of how far it comes it tells nothing either where 5 V hardly stands", shortAfter(0.03), came, "", "as above"},
		{"too much drawn, says the source, and 0.3 A of 3 A flow", contracted(build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 20, 0.3), most(0.3), build.SourceSays(negotiation.Events{Overcurrent: true})), alerted, FalseDraw, "OCP: USB PD R3.2 V1.1 table 6.47"},
		{"the same, and 1 A flows", contracted(build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 20, 1), most(1), build.SourceSays(negotiation.Events{Overcurrent: true})), alerted, Overdrawn, "what came after it may not be seen: common practice"},
		{"the same, in rows of 20 ms", contracted(build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 30, 20, 0.3), most(0.3), build.SourceSays(negotiation.Events{Overcurrent: true})), alerted, Overdrawn, "a surge may be missed: common practice"},
		{"28 V that each reset takes away", []build.Build{build.Messages(40, 20), build.Offered(5000, 20000), build.Turning(20000, 28000, 20000, 28000, 20000, 28000, 20000)}, offer, "", "EPR mode ends with a Hard Reset: USB PD R3.2 V1.1 section 6.4.10, from memory"},
		{"a source that repeats what was acknowledged", []build.Build{build.Messages(60, 60), build.Attempts(negotiation.StepAnswer, 4), unheard}, func(p Picture) string { return one(p.State) }, UnheardSink, "tReceive: USB PD R3.2 V1.1 table 6.68"},
	})
}
