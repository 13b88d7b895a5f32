package charger

import "math"

// crossing dates the moment at which VBUS passes a level for good. A sample is the
// mean since the one before, so that a change shows up to one interval late; and
// between the level less and plus the meter's uncertainty it is not sure.
type crossing struct {
	begun bool
	fromS float64 // VBUS had surely not passed before
	nearS float64 // since then VBUS has stood where it may have passed
	nearV float64
	near  bool
	done  bool
	at    moment
}

// hovers is how long VBUS may stand within the uncertainty of a level before it is
// taken to have passed: longer than a meter's filter (common practice).
const hovers = 0.05

// start begins with a moment at which VBUS had not passed.
func (x *crossing) start(s float64) { *x = crossing{begun: true, fromS: s} }

// fall follows VBUS down through a level and reports when that is settled.
func (x *crossing) fall(m *meter, level float64) bool { return x.follow(m, m.v-level, 0) }

// rise follows it up; granted is what the cable may hide of the level.
func (x *crossing) rise(m *meter, level, granted float64) bool {
	return x.follow(m, level-m.v, granted)
}

// follow takes how far VBUS is on the near side of the level.
func (x *crossing) follow(m *meter, above, granted float64) bool {
	if x.done || !x.begun {
		return false
	}
	slack := m.offV(m.v) + m.step()
	switch {
	case above > slack+granted:
		x.fromS, x.near = m.earliest(), false
		return false
	case above < -slack: // surely passed
	case !x.near || math.Abs(m.v-x.nearV) > standing+2*m.step():
		x.near, x.nearS, x.nearV = true, m.at, m.v
		return false
	case m.at-x.nearS < hovers:
		return false
	}
	x.done, x.at = true, m.within(x.fromS, m.at)
	return true
}

// earliest is since when the last sample may have begun to show a change.
func (m *meter) earliest() float64 {
	if math.IsNaN(m.before) {
		return m.at
	}
	return m.before
}

// standing is how far VBUS may move without being seen to: a few steps of a meter or
// its noise (common practice).
const standing = 0.03

// clearly is how many times that it must have gone before its speed tells when it
// began.
const clearly = 4

// departure dates when VBUS began to leave a level.
type departure struct {
	level  float64 // where it stood
	stillS float64 // until then it had surely not gone beyond the band about the level
	outS   float64 // since then it had surely left
	out    bool
	done   bool
	at     moment
}

func (d *departure) start(m *meter) { *d = departure{level: m.v, stillS: m.earliest()} }

// follow takes how far VBUS has gone from the level, and whether it has surely left;
// notBefore is the earliest moment that counts. It reports when the start is known.
func (d *departure) follow(m *meter, gone float64, out bool, notBefore float64) bool {
	band := standing + 2*m.step()
	if gone <= band {
		d.stillS = m.earliest()
		return false
	}
	if out && !d.out {
		d.out, d.outS = true, m.at
	}
	if d.done || !d.out || gone < clearly*band {
		return false
	}
	d.done = true
	d.at = m.within(max(d.stillS-hidden(band, gone, m.at-d.stillS), notBefore), d.outS)
	return true
}

// give ends the watch: all that is known is that VBUS had left by then.
func (d *departure) give(m *meter, notBefore float64) {
	if d.out && !d.done {
		d.done, d.at = true, m.within(notBefore, d.outS)
	}
}

// hidden is what a band about a level may hide of the start of a change that has gone
// so far in a time: changes begin gently, as the square of time.
func hidden(band, gone, took float64) float64 {
	share := math.Sqrt(band / gone)
	return took * share / (1 - share)
}
