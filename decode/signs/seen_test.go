package signs

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs/build"
)

// What is seen of VBUS that leaves a contract: once for the rest of the recording, or twice
// with the contract back each time. A plug is pulled at the end, and not twice: common practice.
func TestVBUSThatLeaves(t *testing.T) {
	of := func(builds ...build.Build) Picture {
		return seeing(append([]build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02)}, builds...)...)
	}
	pulled := of(build.Level(1, 57, 20, 1.5), build.Level(57, 60, 0.02, 0))
	s, _ := pulled.Gone()
	assert.Nil(t, s)
	away, why := of(build.Level(1, 9, 20, 1.5), build.Level(9, 60, 0.02, 0)).Gone()
	assert.InDelta(t, 1, away[GoesAway], 1e-12)
	assert.Contains(t, why, "9.00 s")
	assert.Contains(t, why, "51 s")

	twice := []build.Build{build.Level(1, 9, 20, 1.5), build.Level(9, 18, 0.02, 0), build.Level(18, 30, 20, 1.5), build.Level(30, 38, 0.02, 0), build.Level(38, 60, 20, 1.5)}
	quiet := func(p Picture) Picture { // as where the rules take it for a plug that is moved
		delete(p.Found, "contract-lost")
		return p
	}
	outcome, text := quiet(of(twice...)).Losses()
	assert.Equal(t, LostMore, outcome)
	assert.Contains(t, text, "2 times")
	for gone, want := range map[float64]string{2.4: LostMore, 3: LostOnce, 5: LostOnce, 7: LostMore} { // seconds: a plug that is turned over takes a few
		by := []build.Build{build.Level(1, 9, 20, 1.5), build.Level(9, 9+gone, 0.02, 0), build.Level(9+gone, 30, 20, 1.5), build.Level(30, 30+gone, 0.02, 0), build.Level(30+gone, 60, 20, 1.5)}
		outcome, _ = quiet(of(by...)).Losses()
		assert.Equal(t, want, outcome, "%v s", gone)
		often := append(by[:4:4], build.Level(30+gone, 38, 20, 1.5), build.Level(38, 38+gone, 0.02, 0), build.Level(38+gone, 47, 20, 1.5), build.Level(47, 47+gone, 0.02, 0), build.Level(47+gone, 60, 20, 1.5))
		outcome, _ = quiet(of(often...)).Losses()
		assert.Equal(t, LostMore, outcome, "four times %v s", gone)
	}
	outcome, _ = quiet(of(build.Level(1, 9, 20, 1.5), build.Level(9, 18, 0.02, 0), build.Level(18, 30, 20, 1.5), build.Level(30, 33, 0.02, 0), build.Level(33, 60, 20, 1.5))).Losses()
	assert.Equal(t, LostMore, outcome, "9 s, and then 3 s")
	outcome, _ = quiet(of(build.Level(1, 9, 20, 1.5), build.Level(9, 18, 0.02, 0), build.Level(18, 60, 20, 1.5))).Losses()
	assert.Empty(t, outcome)
}

// Pulses further apart than any published retry are no charger circuit's: data sheets SLUSDU3
// (0.51 s) and SLUSDL3A (2 s).
func TestPulsesOfNoFamily(t *testing.T) {
	s := periodSeen(4.65, 0.05)
	assert.Zero(t, s[DrawCharger])
	assert.InDelta(t, 1, s[DrawSlow], 1e-12)
	assert.Greater(t, periodSeen(0.51, 0.01)[DrawCharger], 0.9)
}

// A machine draws 0.2 W and more at a standby, 10 mA at 20 V, and a meter may be off by 10 mA
// (data sheet SBOS844C): 15 mA may be either, 3 mA is nothing. What works and ends at a
// standby of 45 mA is no light load.
func TestLittleAtAContract(t *testing.T) {
	at := func(builds ...build.Build) Seen {
		p := seeing(append([]build.Build{build.Meter(50, 30), build.Level(0, 1, 5.1, 0.02)}, builds...)...)
		s, _ := p.DrawSeen()
		return s
	}
	little, nothing := at(build.Level(1, 30, 20, 0.015)), at(build.Level(1, 30, 20, 0.003))
	assert.InDelta(t, little[DrawNone], little[DrawStandby], 0.2)
	assert.Positive(t, nothing[DrawNone])
	assert.Zero(t, nothing[DrawStandby])
	zeroed := func(zeroA, amps float64) Seen {
		p := seeing(build.Meter(50, 30), build.Level(0, 1, 0.01, zeroA), build.Level(1, 2, 5.1, zeroA+0.02), build.Level(2, 30, 20, zeroA+amps))
		s, _ := p.DrawSeen()
		return s
	}
	assert.Zero(t, zeroed(-0.006, 0.018)[DrawNone], "0.36 W: 9 to 30 mA at 19 V is a board that is off, trade pages")
	assert.InDelta(t, zeroed(-0.006, 0.01)[DrawNone], zeroed(-0.006, 0.01)[DrawStandby], 0.2)
	assert.Zero(t, zeroed(0.015, 0.003)[DrawStandby], "18 mA, of which 15 are the meter's")
	p := seeing(build.Meter(50, 30), build.Level(0, 1, 0.01, 0), build.Level(1, 30, 5.1, 0.04))
	five, _ := p.DrawSeen()
	assert.Zero(t, five[DrawNone], "at 5 V more than 20 mA are always-on rails: trade pages")
	ends := at(build.Level(1, 4, 20, 1), build.Level(4, 30, 20, 0.045))
	assert.Zero(t, ends[DrawLight])
}

// PS_RDY that never comes is less surely the source's where VBUS rises and falls again under
// a draw.
func TestVBUSThatRisesWithoutPowerReady(t *testing.T) {
	stalled := []build.Build{build.Meter(100, 30), build.Level(0, 30, 5.1, 0.01), build.Messages(80, 40), build.Attempts(negotiation.StepPowerReady, 4)}
	low := seeing(stalled...)
	risen := seeing(append(stalled, build.Collapses(0.8, 3, 6, 9))...)
	idle := seeing(append(stalled, build.Collapses(0.01, 3, 6, 9))...)
	assert.Zero(t, low.State[ContractLost])
	assert.Positive(t, risen.State[ContractLost])
	assert.InDelta(t, 1, risen.State[NoPowerReady], 1e-12)
	assert.Zero(t, idle.State[ContractLost], "nothing is drawn, so nothing but the source takes it down")
	pulled := seeing(append(stalled, build.Collapses(0.01, 3, 6, 9), most(4))...)
	assert.InDelta(t, 1, pulled.State[CutPulled], 1e-12, "the switches are open until PS_RDY: USB PD R3.2 V1.1 table 7.24 (pSnkStdby)")
}

// At a contract of 5 V nothing is drawn before the contract, and a list without a message
// says nothing of a source whose VBUS stands at 20 V: USB PD R3.2 V1.1 table 7.25 (vSafe5V).
func TestWhatAContractAtItsVoltageSays(t *testing.T) {
	five := seeing(build.Meter(50, 30), build.Level(0, 30, 5.1, 1.4), build.Messages(10, 6), build.Offered(5000), build.Contract(0.9, 5000, 3000))
	_, before := five.BeforeContract(five.Meter())
	assert.False(t, before)
	silent := seeing(build.Meter(50, 30), build.Level(0, 30, 19.7, 1.4), build.Messages(0, 0))
	assert.InDelta(t, 1, silent.State[ContractHigh], 1e-12)
	assert.Zero(t, silent.State[NoOffer])
}

// A contract that breaks at a twentieth of its promise hardly breaks by the load: common
// practice.
func TestBreaksAtLittle(t *testing.T) {
	at := func(amps float64) Seen {
		builds := []build.Build{build.Meter(1000, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 6, 19.9, amps), build.Level(6, 7, 0.1, 0), build.Collapses(amps, 6), build.Messages(60, 30), build.Lost(1, 7), build.Ended(5, "hard-reset")}
		s, _ := seeing(append(builds, func(f *rules.Facts) { f.Aligned = false })...).flowAtBreak()
		return s
	}
	assert.Positive(t, at(0.16)[EndEarly])
	assert.Zero(t, at(2.5)[EndEarly])
}

// A short draws its surge for 1 ms and more before the source trips: five breaks without
// one rule it out on a quick meter, and hardly on one of 10 rows a second. Common practice.
func TestSurgeMissed(t *testing.T) {
	brief := func(hz float64) []build.Build {
		builds := []build.Build{build.Meter(hz, 30)}
		for i := range 5 {
			from := 3 * float64(i)
			builds = append(builds, build.Level(from, from+1, 5.1, 0.01), build.Level(from+1, from+1.1, 20, 0.004), build.Level(from+1.1, from+3, 0.1, 0), build.Collapses(0.004, from+1.1))
		}
		return builds
	}
	missed := func(builds []build.Build) float64 { return seeing(builds...).surgeMissed() }
	assert.Less(t, missed(brief(1000)), 0.01)
	assert.InDelta(t, 0.6, missed(brief(10)), 0.1)
	assert.InDelta(t, 1, missed(append(brief(1000), build.Collapses(2, 29))), 1e-12)
}

// 0.3 ohm that may be off by 0.2 is neither a sound cable's nor a bad one's for certain:
// USB Type-C R2.0 section 4.4.1 (250 mohm).
func TestAnUncertainResistance(t *testing.T) {
	s, _ := Resistance(draw.Quantity{Value: 0.30, Uncertainty: build.Ref(0.2)})
	assert.InDelta(t, 0.401, s[SeriesSound], 5e-4) // normal table: 0.25 deviations below
	assert.InDelta(t, 0.290, s[SeriesHigh], 5e-4)  // up to 0.4 ohm, half a deviation above
	assert.InDelta(t, 0.242, s[SeriesFar], 5e-4)   // up to 0.6 ohm, 1.5 deviations above
	assert.InDelta(t, 0.067, s[SeriesExtreme], 5e-4)
	s, why := Resistance(draw.Quantity{Value: 0.10, Uncertainty: build.Ref(0.01)})
	assert.InDelta(t, 1, s[SeriesSound], 1e-6)
	assert.Contains(t, why, "sound cable")
}

// After a Hard Reset the source takes VBUS away 25 to 35 ms later (tPSHardReset: USB PD R3.2
// V1.1 table 6.68); what trips it takes VBUS away before.
func TestResetFirst(t *testing.T) {
	broken := func(clockU, stoodS float64) []build.Build {
		builds := []build.Build{build.Meter(1000, 30), build.Messages(60, 30), func(f *rules.Facts) { f.ClockU = clockU }}
		for i := range 4 {
			from := 5 * float64(i)
			builds = append(builds, build.Level(from, from+1, 5.1, 0.01), build.Level(from+1, from+3+stoodS, 20, 0.5), build.Level(from+3+stoodS, from+5, 0.1, 0), build.Lost(from+1))
		}
		return append(builds, build.Ended(2, "hard-reset"))
	}
	first := func(builds []build.Build) bool { return seeing(builds...).resetFirst() }
	assert.True(t, first(broken(0.005, 0.03)))
	assert.False(t, first(broken(0.005, -0.02)))
	assert.False(t, first(broken(0.04, 0.03)), "the clocks do not tell")
	assert.False(t, first(append(broken(0.005, 0.03), build.Collapses(0.4, 2, 7, 12, 17))), "VBUS gave way before, and the source tried again")
	assert.True(t, first(append(broken(0.005, 0.03), build.Collapses(0.4, 2))), "once")
}

// Rows of 20 ms that hold a surge of 3 ms show VBUS and current in the proportion of the source's own
// limit, and no lead's: common practice.
func TestStandsLoaded(t *testing.T) {
	of := func(rows int) bool {
		p := seeing(build.Meter(50, 30), build.Level(0, 1, 5.1, 0.01), build.Level(1, 2, 13.5, 0.44), build.Level(2, 30, 14.9, 0.002), func(f *rules.Facts) { f.Draw.Plateaus[1].N = rows })
		return StandsLoaded(p.Meter())
	}
	assert.False(t, of(2))
	assert.True(t, of(3))

	starves := func(rows int, lost bool) bool {
		f := build.Built(build.Meter(50, 30), build.Level(0, 1, 5.1, 0.01), build.Level(1, 2, 13.5, 0.44), build.Level(2, 30, 14.9, 0.002), build.Series(3), func(f *rules.Facts) { f.Draw.Plateaus[1].N = rows })
		found := []rules.Finding{{Rule: "retry-pulses", Severity: rules.Fault}, {Rule: "series-resistance-high", Severity: rules.Fault, Values: map[string]any{"drop_v": 1.3}}}
		if lost {
			found = append(found, rules.Finding{Rule: "contract-lost", Severity: rules.Fault})
		}
		return Look(Evidence{Facts: f, Findings: found}).Starves()
	}
	assert.True(t, starves(3, true))
	assert.False(t, starves(2, true), "a contract that breaks down by surges")
	assert.True(t, starves(2, false), "one that stands: the tries are as short as they are")
}

// A sink lets go of its load as it hears a Hard Reset, and VBUS stands on for tPSHardReset (25 to
// 35 ms: USB PD R3.2 V1.1 table 6.68); a controller that begins anew lets go before. Common practice.
func TestDrawsUntilReset(t *testing.T) {
	for _, c := range []struct {
		name                string
		offS, heldA, clockU float64 // the draw ends so long after the reset
		outcome             string
	}{
		{"it draws on", 0.001, 0.7, 0.001, EndFed},
		{"it lets go 10 ms before", -0.010, 0.7, 0.001, EndLetGo},
		{"the clocks do not tell 10 ms", -0.010, 0.7, 0.006, EndFed},
		{"it takes a standby and no more", 0.001, 0.03, 0.001, EndReset},
	} {
		builds := []build.Build{build.Meter(1000, 30), build.Messages(60, 30), func(f *rules.Facts) { f.ClockU = c.clockU }}
		for i := range 4 {
			from := 5 * float64(i)
			builds = append(builds, build.Level(from, from+1, 5.1, 0.01), build.Level(from+1, from+3+c.offS, 20, c.heldA), build.Level(from+3+c.offS, from+3.03, 20, 0.01), build.Level(from+3.03, from+5, 0.1, 0), build.Lost(from+1))
		}
		outcome, _ := seeing(append(builds, build.Ended(2, "hard-reset"))...).drawsUntilReset()
		assert.Equal(t, c.outcome, outcome, c.name)
	}
}

// A sink that hears nothing resets three times and keeps 5 V (nHardResetCount is 2: USB PD R3.2 V1.1
// table 6.70), so that what goes on resetting hears something.
func TestUnheardDoNotResetOn(t *testing.T) {
	share := func(times int) float64 {
		d := seeing(cycling(times, 0.7, 0.01)...).Meter()
		s := resetsSeen(d)
		return s[Unanswered] / s[NoPowerReady]
	}
	assert.InDelta(t, share(2), share(3), 1e-9)
	assert.Less(t, share(4), share(3)/2, "four resets end four stands")
}
