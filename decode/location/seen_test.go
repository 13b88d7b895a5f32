package location

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/negotiation"
	"portside/decode/rules"
)

// What is seen of VBUS that leaves a contract: once for the rest of the recording, or twice
// with the contract back each time. A plug is pulled at the end, and not twice: common practice.
func TestVBUSThatLeaves(t *testing.T) {
	of := func(builds ...build) picture {
		return look(evidence(t, nil, append([]build{meter(50, 60), level(0, 1, 5.1, 0.02)}, builds...)...))
	}
	pulled := of(level(1, 57, 20, 1.5), level(57, 60, 0.02, 0))
	s, _ := pulled.gone()
	assert.Nil(t, s)
	away, why := of(level(1, 9, 20, 1.5), level(9, 60, 0.02, 0)).gone()
	assert.InDelta(t, 1, away[goesAway], 1e-12)
	assert.Contains(t, why, "9.00 s")
	assert.Contains(t, why, "51 s")

	twice := []build{level(1, 9, 20, 1.5), level(9, 18, 0.02, 0), level(18, 30, 20, 1.5), level(30, 38, 0.02, 0), level(38, 60, 20, 1.5)}
	quiet := func(p picture) picture { // as where the rules take it for a plug that is moved
		delete(p.found, "contract-lost")
		return p
	}
	outcome, text := quiet(of(twice...)).losses()
	assert.Equal(t, lostMore, outcome)
	assert.Contains(t, text, "2 times")
	outcome, _ = quiet(of(level(1, 9, 20, 1.5), level(9, 18, 0.02, 0), level(18, 60, 20, 1.5))).losses()
	assert.Empty(t, outcome)
}

// Pulses further apart than any published retry are no charger circuit's: data sheets SLUSDU3
// (0.51 s) and SLUSDL3A (2 s).
func TestPulsesOfNoFamily(t *testing.T) {
	s := periodSeen(4.65, 0.05)
	assert.Zero(t, s[drawCharger])
	assert.InDelta(t, 1, s[drawSlow], 1e-12)
	assert.Greater(t, periodSeen(0.51, 0.01)[drawCharger], 0.9)
}

// A machine draws 0.2 W and more at a standby, 10 mA at 20 V, and a meter may be off by 10 mA
// (data sheet SBOS844C): 15 mA may be either, 3 mA is nothing. What works and ends at a
// standby of 45 mA is no light load.
func TestLittleAtAContract(t *testing.T) {
	at := func(builds ...build) seen {
		p := look(evidence(t, nil, append([]build{meter(50, 30), level(0, 1, 5.1, 0.02)}, builds...)...))
		s, _ := p.drawSeen()
		return s
	}
	little, nothing := at(level(1, 30, 20, 0.015)), at(level(1, 30, 20, 0.003))
	assert.InDelta(t, little[drawNone], little[drawStandby], 0.2)
	assert.Positive(t, nothing[drawNone])
	assert.Zero(t, nothing[drawStandby])
	ends := at(level(1, 4, 20, 1), level(4, 30, 20, 0.045))
	assert.Zero(t, ends[drawLight])
}

// PS_RDY that never comes is less surely the source's where VBUS rises and falls again under
// a draw.
func TestVBUSThatRisesWithoutPowerReady(t *testing.T) {
	stalled := []build{meter(100, 30), level(0, 30, 5.1, 0.01), messages(80, 40), attempts(negotiation.StepPowerReady, 4)}
	low := look(evidence(t, nil, stalled...))
	risen := look(evidence(t, nil, append(stalled, collapses(0.8, 3, 6, 9))...))
	idle := look(evidence(t, nil, append(stalled, collapses(0.01, 3, 6, 9))...))
	assert.Zero(t, low.state[contractLost])
	assert.Positive(t, risen.state[contractLost])
	assert.InDelta(t, 1, risen.state[noPowerReady], 1e-12)
	assert.Zero(t, idle.state[contractLost], "nothing is drawn, so nothing but the source takes it down")
	pulled := look(evidence(t, nil, append(stalled, collapses(0.01, 3, 6, 9), most(4))...))
	assert.InDelta(t, 1, pulled.state[cutPulled], 1e-12, "the switches are open until PS_RDY: USB PD R3.2 V1.1 table 7.24 (pSnkStdby)")
}

// At a contract of 5 V nothing is drawn before the contract, and a list without a message
// says nothing of a source whose VBUS stands at 20 V: USB PD R3.2 V1.1 table 7.25 (vSafe5V).
func TestWhatAContractAtItsVoltageSays(t *testing.T) {
	five := look(evidence(t, nil, meter(50, 30), level(0, 30, 5.1, 1.4), messages(10, 6), offered(5000), contract(0.9, 5000, 3000)))
	_, before := five.beforeContract(five.meter())
	assert.False(t, before)
	silent := look(evidence(t, nil, meter(50, 30), level(0, 30, 19.7, 1.4), messages(0, 0)))
	assert.InDelta(t, 1, silent.state[contractHigh], 1e-12)
	assert.Zero(t, silent.state[noOffer])
}

// A contract that breaks at a twentieth of its promise hardly breaks by the load: common
// practice.
func TestBreaksAtLittle(t *testing.T) {
	at := func(amps float64) seen {
		builds := []build{meter(1000, 30), level(0, 1, 5.1, 0.02), level(1, 6, 19.9, amps), level(6, 7, 0.1, 0), collapses(amps, 6), messages(60, 30), lost(1, 7), ended(5, "hard-reset")}
		s, _ := look(evidence(t, nil, append(builds, func(f *rules.Facts) { f.Aligned = false })...)).flowAtBreak()
		return s
	}
	assert.Positive(t, at(0.16)[endEarly])
	assert.Zero(t, at(2.5)[endEarly])
}
