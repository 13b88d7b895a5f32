package charger_test

import (
	"portside/captures"
	"portside/pd"
)

// offer65 is what a common charger of 65 W offers (common practice).
var offer65 = []uint32{
	fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), fixed(20_000, 3250), pps(3300, 21_000, 3000),
}

// The limits below are those of USB PD R3.2 V1.1, tables 6.68, 7.23 and 7.25, and of
// USB Type-C R2.1, tables 4-29 to 4-31.

// plug attaches, brings VBUS up and makes the first offer.
func (r *rig) plug(offers ...uint32) *rig {
	r.now += 0.5
	r.mark(captures.Attach)
	r.wait("debounce", 0.1, 0.2)
	on := r.draw("turn on", 0.01, 0.275)
	r.now += on
	r.ramp(r.now-min(on, 0.005), r.now+1e-4, r.draw("5 V", 4.75, 5.5))
	r.mark(captures.VBUSOn)
	r.wait("first offer", 0.005, 0.25)
	return r.source(pd.SourceCapabilities, offers...)
}

// move is a change of contract.
type move struct {
	request    uint32
	copy       uint32 // of the object, in EPR
	from, to   float64
	window     [2]float64 // static, of the new contract
	settle     float64    // most time from start to settled
	most       float64    // most time from the Accept to PS_RDY
	fromAccept bool       // the time to settle counts from the Accept
	inside     bool       // the change is one inside a PPS or AVS object
}

// negotiate carries one move out.
func (r *rig) negotiate(m move) *rig {
	r.wait("request", 0.001, 0.015)
	if m.copy != 0 {
		r.sink(pd.EPRRequest, m.request, m.copy)
	} else {
		r.sink(pd.Request, m.request)
	}
	r.wait("answer", 0.0001, 0.015)
	r.source(pd.Accept)
	accepted := r.now
	start := accepted + r.draw("transition start", 0.025, 0.035)
	if m.inside {
		start = accepted + 0.0005
	}
	// The slew is at most 30 mV/µs.
	least := abs(m.to-m.from) / 30e3
	took := r.draw("settle", least, m.settle)
	if m.fromAccept {
		took = min(took, m.settle-(start-accepted)-1e-6)
	}
	level := r.draw("level", m.window[0], m.window[1])
	inside := m.window[0]
	if m.to < m.from {
		inside = m.window[1]
	}
	if now := r.volts[len(r.volts)-1].value; m.from == m.to && now >= m.window[0] && now <= m.window[1] {
		took = 0
	} else {
		// It is inside its window at "settle", and at its level in time for PS_RDY.
		now := r.volts[len(r.volts)-1].value
		share := 1.0
		if now != level {
			share = (inside - now) / (level - now)
		}
		end := start + took/max(share, 1e-3)
		if share < 0.8 {
			end = start + took
		}
		end = max(end, start+abs(level-now)/30e3)
		if v, ok := r.set["knee"]; ok {
			r.ramp(start, start+r.draw("knee time", 0.001, 0.001), v) // most of the way at once
			start += 0.001
		}
		r.ramp(start, end, level)
		took = max(took, end-start)
	}
	latest := accepted + m.most
	r.now = accepted + r.draw("power ready", min(start+took-accepted+0.0005, m.most), m.most)
	if r.now > latest {
		r.now = latest
	}
	if v, ok := r.set["power ready"]; ok {
		r.now = accepted + v
	}
	return r.source(pd.PSRDY)
}

func abs(x float64) float64 { return max(x, -x) }

func window(v float64) [2]float64 {
	if v == 5 {
		return [2]float64{4.75, 5.5}
	}
	return [2]float64{0.95 * v, 1.05 * v}
}

// to is a fixed move in SPR.
func to(position int, i pd.Milliamps, from, v float64) move {
	return move{request: ask(position, i), from: from, to: v, window: window(v), settle: 0.275, most: 0.325}
}

// hard is a Hard Reset with what VBUS does after it; level is VBUS before it.
func (r *rig) hard(epr bool) *rig {
	r.now = max(r.now, r.volts[len(r.volts)-1].at) // a slow ramp ends first
	r.draws(r.now, 0)
	r.now += 0.002
	r.out = append(r.out, captures.Message{At: seconds(r.now), Set: pd.HardReset, By: r.by})
	end := r.now + 84/r.draw("bit rate", 270e3, 330e3)
	if r.ends {
		r.out[len(r.out)-1].End, r.out[len(r.out)-1].HasEnd = seconds(end), true
	}
	r.ids = [3]int{}
	r.dfp = true
	fall := end + r.draw("reset start", 0.025, 0.035)
	took := r.draw("reset fall", 0.001, 0.65)
	// At 0.8 V after that time, and at 0 a little later.
	zero := fall + took
	r.ramp(fall, zero, 0.8)
	r.ramp(zero, zero+0.001, 0)
	recover := r.draw("recover", 0.66, 1)
	if epr {
		recover = r.draw("recover EPR", 1.085, 1.425)
	}
	back := zero + recover
	on := r.draw("reset turn on", 0.001, 0.275)
	r.ramp(back-1e-6, back, 0.8)
	r.ramp(back, back+on, 4.75)
	r.ramp(back+on, back+on+0.001, r.draw("5 V", 4.75, 5.5))
	r.now = back + on
	return r
}

// load draws a current for a while, under which the source gives way inside its
// window.
func (r *rig) load(i, least float64, lasting float64) *rig {
	r.now += 0.01
	level := r.volts[len(r.volts)-1].value
	loaded := r.draw("loaded", max(least, level-0.05*level), level)
	r.draws(r.now, i)
	r.ramp(r.now, r.now+1e-5, loaded)
	r.now += lasting
	r.draws(r.now, 0.1)
	r.ramp(r.now, r.now+1e-5, level)
	r.now += 0.02
	return r
}
