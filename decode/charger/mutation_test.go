package charger_test

import (
	"cmp"
	"maps"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/charger"
	"portside/pd"
)

// mutation breaks one check alone by setting one value of a sound charger.
type mutation struct {
	check string
	value string             // what is set
	limit float64            // of the standard, in the unit of the value
	above bool               // it is broken above the limit, else below
	far   float64            // how many uncertainties beyond it must fail, 2.2 where not given
	rate  float64            // samples a second, where the meter matters
	near  bool               // the meter sits at the source
	also  map[string]float64 // values set beside it
	per   float64            // of the value, for one unit of what is measured; 1 where not given
	make  func(r *rig)
}

func simple(r *rig) { r.plug(offer65...).negotiate(to(2, 3000, 5, 9)).load(2.5, 8.55, 0.5) }

// quick moves VBUS within a few milliseconds.
func quick(r *rig) { r.set["settle"] = 0.004; simple(r) }

// drifts moves VBUS for half a second under a steady draw, and back.
func (r *rig) drifts(back float64) {
	r.now += 0.3
	level := r.draw("drift", back, back)
	r.ramp(r.now, r.now+0.001, level)
	r.now += 0.5
	r.ramp(r.now, r.now+0.001, back)
	r.now += 0.1
}

func resetting(r *rig) {
	simple(r)
	r.hard(false).wait("first offer", 0.005, 0.25)
	r.source(pd.SourceCapabilities, offer65...).negotiate(to(2, 3000, 5, 9))
}

func inPPS(r *rig) {
	r.plug(offer65...).negotiate(r.toPPS(5, 9000, 2000, 5))
	r.object = 5
}

// The limits are those of USB PD R3.2 V1.1, tables 6.68, 7.23 and 7.25, and USB
// Type-C R2.1, tables 4-29 to 4-31.
var mutations = []mutation{
	{check: "vbus-turn-on", value: "turn on", limit: 0.275, above: true, make: func(r *rig) { r.set["debounce"] = 0.2; simple(r) }},
	{check: "first-capabilities-time", value: "first offer", limit: 0.25, above: true, make: simple},
	{check: "first-capabilities-time", value: "soft offer", limit: 0.25, above: true, make: func(r *rig) {
		simple(r)
		r.sink(pd.SoftReset).wait("answer", 0, 0.015).source(pd.Accept).wait("soft offer", 0, 0.25)
		r.source(pd.SourceCapabilities, offer65...).negotiate(to(2, 3000, 9, 9))
	}},
	{check: "capabilities-repeat-time", value: "repeat", limit: 0.2011, above: true, make: unanswered},
	{check: "capabilities-repeat-time", value: "repeat", limit: 0.1, make: unanswered},
	{check: "goodcrc-time", value: "goodcrc source", limit: 195e-6, above: true, make: simple},
	{check: "goodcrc-time", value: "goodcrc cable", limit: 195e-6, above: true, make: func(r *rig) {
		r.now += 0.5
		r.mark(captures.Attach)
		r.ramp(r.now-0.001, r.now, 5)
		r.readCable(cable5A)
		r.now += 0.1
		r.source(pd.SourceCapabilities, offer65...).negotiate(to(2, 3000, 5, 9))
	}},
	{check: "retry-time", value: "retry", limit: 0.001295, above: true, make: unanswered},
	{check: "retry-time", value: "retry", limit: 0.0009, make: unanswered},
	{check: "answer-time", value: "answer", limit: 0.015, above: true, make: simple},
	{check: "transition-start", value: "transition start", limit: 0.035, above: true, rate: 10_000, make: quick},
	{check: "transition-start", value: "transition start", limit: 0.025, rate: 10_000, make: quick},
	{check: "transition-start", value: "transition start", limit: 0.035, above: true, rate: 1000, make: quick},
	{check: "voltage-settle-time", value: "settle", limit: 0.275, above: true, near: true, far: 9, make: func(r *rig) {
		r.set["transition start"], r.set["knee"], r.set["level"] = 0.025, 7, 8.56
		simple(r)
	}},
	{check: "power-ready-time", value: "power ready", limit: 0.325, above: true, make: simple},
	{check: "power-ready-time", value: "power ready small", limit: 0.025, above: true, make: func(r *rig) {
		inPPS(r)
		r.now += 1
		m := r.toPPS(5, 9400, 2000, 9)
		m.settle = 0.01
		if v, ok := r.set["power ready small"]; ok {
			r.set["power ready"] = v
		}
		r.negotiate(m)
	}},
	{check: "voltage-window", value: "drift", limit: 9.45, above: true, make: func(r *rig) { simple(r); r.drifts(9) }},
	{check: "voltage-window", value: "drift", limit: 9.45, above: true, rate: 10, make: func(r *rig) { simple(r); r.drifts(9) }},
	{check: "voltage-window", value: "drift", limit: 8.55 - 0.75, make: func(r *rig) { simple(r); r.drifts(9) }},
	{check: "voltage-window", value: "drift", limit: 8.55, near: true, make: func(r *rig) { simple(r); r.drifts(9) }},
	{check: "hard-reset-off", value: "reset start", limit: 0.035, above: true, rate: 10_000, make: resetting},
	{check: "hard-reset-off", value: "reset start", limit: 0.025, rate: 10_000, make: func(r *rig) { r.set["reset fall"] = 0.005; resetting(r) }},
	{check: "hard-reset-off", value: "reset fall", limit: 0.65, above: true, make: resetting},
	{check: "hard-reset-recover", value: "recover", limit: 1, above: true, make: resetting},
	{check: "hard-reset-recover", value: "recover", limit: 0.66, make: func(r *rig) { r.set["reset fall"] = 0.001; resetting(r) }},
	{check: "hard-reset-turn-on", value: "reset turn on", limit: 0.275, above: true, near: true, make: resetting},
	{check: "pps-voltage", value: "drift", limit: 9.45, above: true, make: func(r *rig) { inPPS(r); r.drifts(9) }},
	{check: "pps-voltage", value: "drift", limit: 8.55 - 0.75, make: func(r *rig) { inPPS(r); r.drifts(9) }},
	{check: "pps-current-limit", value: "limited", limit: 2.15, above: true, make: limited},
	{check: "pps-timeout", value: "silence", limit: 15, above: true, make: func(r *rig) {
		inPPS(r)
		r.wait("silence", 12, 15)
		r.out = append(r.out, captures.Message{At: seconds(r.now), Set: pd.HardReset})
		r.meter.rate = 0
	}},
	{check: "epr-keep-alive", value: "silence", limit: 1, above: true, make: func(r *rig) {
		extended(r)
		r.wait("silence", 0.75, 1)
		r.out = append(r.out, captures.Message{At: seconds(r.now), Set: pd.HardReset})
		r.meter.rate = 0
	}},
	{check: "transition-window", value: "knee", limit: 9.95, above: true, make: func(r *rig) { r.plug(offer65...).negotiate(to(2, 3000, 5, 9)) }},
	// 3.675 V in 0.1225 ms are 30 mV/us.
	{check: "slew-rate", value: "knee", limit: 5.125 + 3.675, above: true, rate: 50_000, per: 0.1225, also: map[string]float64{"knee time": 0.0001225, "settle": 0.01}, make: func(r *rig) {
		r.plug(offer65...).negotiate(to(2, 3000, 5, 9))
	}},
	{check: "power-ready-before-voltage", value: "knee", limit: 8.55, near: true, far: 4, also: map[string]float64{"settle": 0.27, "power ready": 0.05}, make: simple},
	// 0.75 V at 3 A, and 0.05 V of regulation at 1 A.
	{check: "cable-voltage-drop", value: "cable", limit: 0.3, above: true, also: map[string]float64{"level": 8.6, "loaded": 8.6}, make: func(r *rig) {
		r.meter.cable = r.set["cable"]
		r.plug(offer65...).negotiate(to(2, 3000, 5, 9)).load(1, 8.55, 0.5)
	}},
	{check: "epr-entry", value: "enter answer", limit: 0.015, above: true, make: extended},
	{check: "epr-entry", value: "enter succeeded", limit: 0.55, above: true, make: extended},
	{check: "epr-entry", value: "EPR offer", limit: 0.25, above: true, make: extended},
}

// limited draws to the current limit of a PPS contract, under which VBUS gives way.
func limited(r *rig) {
	inPPS(r)
	r.now += 0.01
	r.draws(r.now, r.draw("limited", 1.85, 2.15))
	r.ramp(r.now, r.now+1e-5, 6)
	r.now += 0.8
	r.draws(r.now, 0.5)
	r.ramp(r.now, r.now+1e-5, 9)
	r.now += 0.05
}

// unanswered makes offers that nobody hears, with their retries.
func unanswered(r *rig) {
	r.now += 0.5
	r.mark(captures.Attach).wait("debounce", 0.1, 0.2).mark(captures.VBUSOn)
	r.ramp(r.now-0.001, r.now, 5)
	r.now += 0.1
	for range 3 {
		start := r.now
		r.unheard(pd.Source, pd.SourceCapabilities, offer65...)
		for range 2 {
			r.wait("retry", 0.0009, 0.001295)
			r.unheard(pd.Source, pd.SourceCapabilities, offer65...)
		}
		r.now = start + r.draw("repeat", 0.1, 0.2)
	}
	r.source(pd.SourceCapabilities, offer65...).negotiate(to(2, 3000, 5, 9))
}

// offer140 is the offer of a charger of 140 W (USB PD R3.2 V1.1, tables 10.2 and
// 10.12).
var (
	offer140SPR = []uint32{
		uint32(pd.FixedSupply{Voltage: 5000, MaxCurrent: 3000, EPRCapable: true}.Encode()),
		fixed(9000, 3000), fixed(15_000, 3000), fixed(20_000, 5000),
		uint32(pd.SPRAVSSupply{MaxCurrent15V: 3000, MaxCurrent20V: 5000}.Encode()),
	}
	offer140EPR = []uint32{fixed(28_000, 5000), uint32(pd.EPRAVSSupply{MinVoltage: 15_000, MaxVoltage: 28_000, PDP: 140}.Encode())}
)

// extended goes into EPR mode and to 28 V.
func extended(r *rig) {
	r.enterEPR(offer140SPR, offer140EPR)
	r.negotiate(move{request: ask(8, 5000), copy: offer140EPR[0], from: 20, to: 28, window: window(28), settle: 0.7, most: 0.76})
}

// enterEPR goes into EPR mode and makes its offer.
func (r *rig) enterEPR(spr, epr []uint32) {
	r.now += 0.5
	r.mark(captures.Attach).wait("debounce", 0.1, 0.2).mark(captures.VBUSOn)
	r.ramp(r.now-0.001, r.now, 5)
	r.now += 0.05
	if _, plain := r.set["plain cable"]; plain {
		r.readCable(cable5A)
	} else {
		r.readCable(cableEPR)
	}
	r.now += 0.02
	r.source(pd.SourceCapabilities, spr...).negotiate(to(4, 5000, 5, 20))
	r.now += 0.05
	r.mode(pd.Sink, pd.EPREnter)
	entered := r.now
	if _, silent := r.set["silent"]; !silent {
		r.wait("enter answer", 0.001, 0.015).mode(pd.Source, pd.EPREnterAcknowledged)
	}
	r.now = max(r.now, entered+r.draw("enter succeeded", 0.05, 0.45))
	r.mode(pd.Source, pd.EPREnterSucceeded)
	if _, stay := r.set["stay"]; stay {
		return
	}
	r.wait("EPR offer", 0.001, 0.25)
	var block []byte
	list := append([]uint32{}, spr...)
	for len(list) < 7 {
		list = append(list, 0)
	}
	for _, w := range append(list, epr...) {
		block = append(block, byte(w), byte(w>>8), byte(w>>16), byte(w>>24))
	}
	r.block(pd.Source, pd.EPRSourceCapabilities, block)
}

func (r *rig) mode(from pd.PowerRole, a pd.EPRAction) *rig {
	return r.say(from, pd.EPRMode, uint32(pd.EPRModeFields{Action: a, Data: 140}.Encode()))
}

// mutated lists the checks that a drawn charger can pass.
func mutated() []string {
	return []string{
		"vbus-turn-on", "first-capabilities-time", "capabilities-repeat-time", "goodcrc-time", "retry-time", "retry-count",
		"answer-time", "answer-missing", "transition-start", "voltage-settle-time", "power-ready-time", "voltage-window",
		"transition-window", "slew-rate", "power-ready-before-voltage", "hard-reset-off", "hard-reset-recover", "hard-reset-turn-on",
		"pps-voltage", "power-rule-fixed", "power-rule-pps", "power-rule-avs", "cable-voltage-drop", "cable-identity",
		"message-id", "header-roles", "revision-kept",
	}
}

func (m mutation) run(value float64) *charger.Result {
	return m.rig(value).check(charger.Options{AtSource: m.near})
}

func (m mutation) rig(value float64) *rig {
	r := newRig()
	if m.rate > 0 {
		r.meter.rate = m.rate
	}
	maps.Copy(r.set, m.also)
	r.set[m.value] = value
	m.make(r)
	return r
}

// TestEachCheckFailsAlone moves a value over its limit in small steps. As long as
// what is measured is not outside by more than the stated uncertainty nothing fails;
// then this check does, and no other.
func TestEachCheckFailsAlone(t *testing.T) {
	for _, m := range mutations {
		t.Run(m.check+" "+m.value, func(t *testing.T) { m.failsAlone(t, m.run) })
	}
}

// TestLevelsFailAloneOnTwoClocks does the same to the voltages where the meter has a
// clock of its own, of 200 ppm, and the offset is found.
func TestLevelsFailAloneOnTwoClocks(t *testing.T) {
	for _, m := range mutations {
		if m.value != "drift" {
			continue
		}
		t.Run(m.check+" "+m.value, func(t *testing.T) {
			m.failsAlone(t, func(value float64) *charger.Result {
				m.also = map[string]float64{"settle": 0.02} // a source that is slower looks like one of many levels
				r, a := m.rig(value).checkApart(charger.Options{AtSource: m.near}, own{offset: 37.3, rate: 2e-4})
				require.True(t, a.Certain, a.Reason)
				return r
			})
		})
	}
}

// failsAlone moves the value beyond its limit in small steps.
func (m mutation) failsAlone(t *testing.T, run func(float64) *charger.Result) {
	t.Helper()
	at := find(t, run(m.limit), m.check)
	require.Equal(t, charger.Pass, at.Result, "at the limit: %s", at.Text)
	off := 5e-8
	for _, u := range at.Uncertainty {
		off = max(off, u)
	}
	const steps = 20
	far := cmp.Or(m.far, 2.2) * cmp.Or(m.per, 1)
	for n := range steps + 1 {
		value := m.limit + far*off*float64(n)/steps
		if !m.above {
			value = m.limit - far*off*float64(n)/steps
		}
		r := run(value)
		c := find(t, r, m.check)
		if m.outside(t, c) {
			require.Equal(t, []string{m.check}, failures(r), "at %v: %s", value, c.Text)
			require.Equal(t, charger.OutsideStandard, r.Verdict)
		} else {
			require.Empty(t, failures(r), "at %v: %s", value, c.Text)
			require.Equal(t, charger.Pass, c.Result)
		}
		if n == steps {
			assert.Equal(t, charger.Fail, c.Result, "far beyond: %s", c.Text)
		}
	}
}

// outside reports whether the figures of a check say that it failed.
func (m mutation) outside(t *testing.T, c charger.Check) bool {
	t.Helper()
	require.Len(t, c.Measured, 1)
	for key, v := range c.Measured {
		beyond := v - c.Limit[key]
		if !m.above {
			beyond = -beyond
		}
		return beyond > c.Uncertainty[key]+1e-8
	}
	return false
}
