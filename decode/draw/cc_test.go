package draw_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"portside/captures"
	"portside/decode/draw"
)

// Levels at the sink: vRd-USB 0.25 to 0.61 V, vRd-1.5 0.70 to 1.16 V, vRd-3.0 1.31
// to 2.04 V, an open pin below 0.15 V (USB Type-C R2.0 tables 4-35 and 4-36).
func TestCCPins(t *testing.T) {
	tests := []struct {
		name  string
		volts float64
		pins  [2]float64
		want  draw.CC
	}{
		{"3 A on one pin", 20, [2]float64{1.68, 0.02}, draw.CC{On: draw.CCStates{N: 5, One: 5}}},
		{"default on the other", 5, [2]float64{0.01, 0.41}, draw.CC{On: draw.CCStates{N: 5, One: 5}}},
		{"VBUS on a pin", 20, [2]float64{19.6, 0.4}, draw.CC{On: draw.CCStates{N: 5, High: 5}}},
		{"VBUS on both", 5, [2]float64{4.9, 4.9}, draw.CC{On: draw.CCStates{N: 5, High: 5}}},
		{"VCONN on the other, vVCONNValid: table 4-5", 20, [2]float64{4.9, 0.4}, draw.CC{On: draw.CCStates{N: 5, One: 5}}},
		{"a source's pull-up on the other", 20, [2]float64{0.92, 3.3}, draw.CC{On: draw.CCStates{N: 5, One: 5}}},
		{"a bridge", 5, [2]float64{0.9, 0.9}, draw.CC{On: draw.CCStates{N: 5, Both: 5}}},
		{"between the levels", 5, [2]float64{1.24, 0}, draw.CC{On: draw.CCStates{N: 5, Between: 5}}},
		{"both at 0 V", 5, [2]float64{0, 0.01}, draw.CC{On: draw.CCStates{N: 5, Low: 5}}},
		{"no Rd", 0.1, [2]float64{3.3, 3.3}, draw.CC{Off: draw.CCStates{N: 5, High: 5}}},
		{"VBUS on its way says nothing", 2.5, [2]float64{0.4, 0}, draw.CC{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			an := draw.New(draw.Options{})
			for i := range 5 {
				an.Add(&captures.Sample{At: time.Duration(i) * time.Second, Volts: tt.volts, CC: tt.pins})
			}
			got := an.Result().CC
			assert.Equal(t, tt.want, draw.CC{On: got.On, Off: got.Off})
		})
	}
}

// pinned is a log of steps, each of so many rows: VBUS and the pin that is connected. Rows
// are 50 ms apart.
type pinned struct {
	rows       int
	volts, pin float64
}

func pinLog(steps ...pinned) draw.CC { return pinLogEach(50*time.Millisecond, steps...) }

func pinLogEach(every time.Duration, steps ...pinned) draw.CC {
	an := draw.New(draw.Options{})
	i := 0
	for _, s := range steps {
		for range s.rows {
			an.Add(&captures.Sample{At: time.Duration(i) * every, Volts: s.volts, Amps: 0.5, CC: [2]float64{0, s.pin}})
			i++
		}
	}
	return an.Result().CC
}

// TestCCEnds: a source drops VBUS once it no longer sees Rd (USB Type-C R2.0 section
// 4.5.2.2), and its pull-up then leaves the pin at 3.3 or 5 V; where the pull-up is lost,
// nothing holds the pin up. What trips the source leaves the pin at Rd's level.
func TestCCEnds(t *testing.T) {
	attached, off := pinned{40, 20, 1.68}, pinned{20, 0, 1.68}
	tests := []struct {
		name  string
		steps []pinned
		want  draw.CCEnds
	}{
		{"the pull-up's voltage while VBUS stands", []pinned{attached, {2, 20, 3.3}, {20, 0, 3.3}, attached, {1, 20, 5.0}, {20, 0, 5.0}}, draw.CCEnds{Open: 2}},
		{"half of it in the one row of the fall", []pinned{attached, {1, 12, 2.3}, {20, 0, 3.2}}, draw.CCEnds{Open: 1}},
		{"0 V while VBUS stands", []pinned{attached, {2, 20, 0.01}, {20, 0, 0.01}}, draw.CCEnds{Gone: 1}},
		{"0 V in one row, and VBUS gone in the next", []pinned{attached, {1, 20, 0.01}, {20, 0, 0.01}}, draw.CCEnds{Gone: 1}},
		{"Rd's level until VBUS is gone", []pinned{attached, {1, 9, 1.68}, off, attached, off}, draw.CCEnds{Stays: 2}},
		{"0 V for a row, and back", []pinned{attached, {1, 20, 0}, attached, off}, draw.CCEnds{Stays: 1}},
		{"VBUS that stays", []pinned{attached, {2, 20, 3.3}, attached}, draw.CCEnds{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { assert.Equal(t, tt.want, pinLog(tt.steps...).Ends) })
	}
	lone := pinLogEach(time.Millisecond, attached, pinned{1, 20, 3.3}, off)
	assert.Equal(t, draw.CCEnds{Stays: 1}, lone.Ends, "one row of 1 ms may be a spike")
	pair := pinLogEach(time.Millisecond, attached, pinned{2, 20, 3.3}, off)
	assert.Equal(t, draw.CCEnds{Open: 1}, pair.Ends)
}

// TestCCTimes: 40 rows of 50 ms are 2 s. Rd of 5.1 kohm and a pull-up of 330 uA leave 1.68 V,
// 300 ohm beside it 0.09 V (Ohm's law).
func TestCCTimes(t *testing.T) {
	c := pinLog(pinned{40, 0, 0}, pinned{40, 0, 0.09}, pinned{40, 0, 1.68}, pinned{80, 5, 1.68})
	assert.InDelta(t, 2, c.Held.Seconds, 0.05)
	assert.InDelta(t, 0.09, c.Held.Volts, 1e-6)
	assert.InDelta(t, 2, c.Held.FirstS, 1e-6)
	assert.InDelta(t, 2, c.Waits.Seconds, 0.05)
	assert.InDelta(t, 4, c.Feeds.Seconds, 0.05)
	assert.Zero(t, pinLog(pinned{40, 0, 0.02}).Held.Seconds, "two pins of a meter differ by as much")
	assert.Zero(t, pinLog(pinned{40, 20, 0.09}).Held.Seconds, "beside VBUS it says something else")
}

// TestCCFalls: a pull-up to 3.3 V, and what holds it at 0 V; Rd would leave 0.41 V at the least.
func TestCCFalls(t *testing.T) {
	open, low, rd := pinned{20, 0, 3.3}, pinned{60, 0, 0.01}, pinned{20, 0, 0.41}
	falls := pinLog(open, low).Falls
	assert.InDelta(t, 1, falls.OpenS, 0.06)
	assert.InDelta(t, 3, falls.LowS, 0.06)
	assert.InDelta(t, 1, falls.TimeS, 1e-6)
	for name, steps := range map[string][]pinned{
		"no pull-up": {low}, "Rd first": {open, rd, low}, "Rd later": {open, low, rd}, "VBUS": {open, {20, 5, 0.01}, low}, "and up again": {open, low, open},
	} {
		assert.Zero(t, pinLog(steps...).Falls.LowS, name)
	}
}

// TestCCToggles: a port that looks for a source shows each role for no longer than tDRP, 50 to 100 ms
// (USB Type-C R2.1 table 4-33), and its pull-up leaves the pin open in between.
func TestCCToggles(t *testing.T) {
	spells := func(rows int, between float64, volts float64) []pinned {
		var out []pinned
		for range 30 {
			out = append(out, pinned{rows, volts, 1.68}, pinned{4, volts, between})
		}
		return out
	}
	each := 10 * time.Millisecond
	seeks := pinLogEach(each, spells(6, 3.3, 0)...)
	assert.Equal(t, 30, seeks.Toggles.Count)
	assert.Zero(t, seeks.Waits.Seconds, "no source has to answer so short a stand")
	assert.InDelta(t, 0.06, seeks.Toggles.FirstS, 1e-9)
	held := pinLogEach(each, spells(30, 3.3, 0)...)
	assert.Zero(t, held.Toggles.Count, "0.3 s are no role of a port that toggles")
	assert.InDelta(t, 9, held.Waits.Seconds, 0.1)
	assert.Zero(t, pinLogEach(each, spells(6, 0, 0)...).Toggles.Count, "at 0 V the pull-up is gone")
	assert.Zero(t, pinLogEach(each, spells(6, 3.3, 5)...).Toggles.Count, "beside VBUS it is another matter")
}

// TestCCRides: a leak from VBUS lifts the pin that Rd holds; an open pin, VCONN and a source's
// pull-up tell nothing of it (USB Type-C R2.0 tables 4-5 and 4-36).
func TestCCRides(t *testing.T) {
	off, on := pinned{30, 0, 1.5}, func(volts float64) pinned { return pinned{30, 5, volts} }
	for _, c := range []struct {
		name  string
		steps []pinned
		want  draw.CCRide
	}{
		{"up with VBUS", []pinned{off, on(2.2)}, draw.CCRide{OffV: 1.5, OnV: 2.2, Off: 30, On: 30}},
		{"as it was", []pinned{off, on(1.5)}, draw.CCRide{OffV: 1.5, OnV: 1.5, Off: 30, On: 30}},
		{"a pull-up before it, and VCONN with it", []pinned{{30, 0, 3.3}, on(4.9)}, draw.CCRide{}},
		{"open", []pinned{{30, 0, 0.01}, on(0.01)}, draw.CCRide{}},
		{"at a contract, where currents lift GND", []pinned{off, {30, 20, 2.2}}, draw.CCRide{OffV: 1.5, Off: 30}},
	} {
		got := pinLog(c.steps...).Rides
		assert.InDelta(t, c.want.OffV, got[1].OffV, 1e-9, c.name)
		assert.InDelta(t, c.want.OnV, got[1].OnV, 1e-9, c.name)
		assert.Equal(t, [2]int{c.want.Off, c.want.On}, [2]int{got[1].Off, got[1].On}, c.name)
		assert.Zero(t, got[0].On, c.name)
	}
}

// TestCCJoined: a port shows Rd of 5.1 kohm on one pin, and the cable Ra of 800 to 1200 ohm on the
// other (USB Type-C R2.0 tables 4-25 and 4-26): joined, both stand at one voltage.
func TestCCJoined(t *testing.T) {
	for _, c := range []struct {
		name    string
		volts   float64
		pins    [2]float64
		seconds float64
	}{
		{"both at 0.28 V without VBUS", 0, [2]float64{0.28, 0.283}, 9},
		{"one at 1.68 V, the other at 0 V", 0, [2]float64{1.68, 0.01}, 0},
		{"one at 1.68 V, the other at 0.3 V, as a pull-up to VCONN leaves", 0, [2]float64{1.68, 0.3}, 0},
		{"both pulled up, with nothing plugged in", 0, [2]float64{3.3, 3.3}, 0},
		{"both at 0 V", 0, [2]float64{0.02, 0.02}, 0},
		{"with VBUS", 5, [2]float64{0.28, 0.283}, 0},
	} {
		an := draw.New(draw.Options{})
		for i := range 10 {
			an.Add(&captures.Sample{At: time.Duration(i) * time.Second, Volts: c.volts, CC: c.pins})
		}
		assert.InDelta(t, c.seconds, an.Result().CC.Joined.Seconds, 1e-9, c.name)
	}
}

// TestCCClimbs: a leak from VBUS lifts the pin by its part of VBUS (Ohm's law); a source that
// changes what it advertises moves the pin in a step (USB Type-C R2.0 table 4-24).
func TestCCClimbs(t *testing.T) {
	for _, c := range []struct {
		name  string
		pin   func(volts float64) float64
		volts func(i int) float64
		slope float64
		ok    bool
	}{
		{"68 mV a volt, on the way up", func(v float64) float64 { return 1.0 + 0.068*v }, func(i int) float64 { return 5 + 15*float64(i%70)/70 }, 0.068, true},
		{"5 V and 20 V only", func(v float64) float64 { return 1.0 + 0.068*v }, func(i int) float64 { return 5 + 15*float64(i/350) }, 0, false},
		{"a pull-up that changes on the way up", func(v float64) float64 { return 0.92 + 0.76*float64(int(v/12)) }, func(i int) float64 { return 5 + 15*float64(i%70)/70 }, 0, false},
		{"the same at every voltage", func(float64) float64 { return 1.68 }, func(i int) float64 { return 5 + 15*float64(i%70)/70 }, 0, true},
	} {
		an := draw.New(draw.Options{})
		for i := range 700 {
			v := c.volts(i)
			an.Add(&captures.Sample{At: time.Duration(i) * time.Millisecond, Volts: v, Amps: 0.01, CC: [2]float64{0, c.pin(v)}})
		}
		slope, _, ok := an.Result().CC.Climbs[1].Slope()
		assert.Equal(t, c.ok, ok, c.name)
		assert.InDelta(t, c.slope, slope, 0.001, c.name)
	}
}

// TestCCFarOff: a row that no meter shows is kept apart, however large.
func TestCCFarOff(t *testing.T) {
	an := draw.New(draw.Options{})
	for i, volts := range []float64{5, 1e300, math.MaxFloat64, 20} {
		an.Add(&captures.Sample{At: time.Duration(i) * time.Millisecond, Volts: volts, Amps: volts, CC: [2]float64{0, 1.68}})
	}
	_, _, ok := an.Result().CC.Climbs[1].Slope()
	assert.False(t, ok)
}

// TestCCLifts: what flows back through R lifts CC by I R (Ohm's law); a sound cable's ground
// takes 0.25 V at 3 A (USB Type-C R2.0 section 4.4.1).
func TestCCLifts(t *testing.T) {
	for _, c := range []struct {
		name string
		pin  func(amps float64) float64
		amps func(i int) float64
		ohm  float64
		ok   bool
	}{
		{"0.4 ohm", func(a float64) float64 { return 1.68 + 0.4*a }, func(i int) float64 { return float64(i%7) / 4 }, 0.4, true},
		{"0.4 ohm, and the meter turned round", func(a float64) float64 { return 1.68 - 0.4*a }, func(i int) float64 { return -float64(i%7) / 4 }, 0.4, true},
		{"a draw that stands", func(a float64) float64 { return 1.68 + 0.4*a }, func(int) float64 { return 1 }, 0, false},
		{"a pull-up that changes as the draw begins", func(a float64) float64 { return 0.92 + 0.76*min(1, a*10) }, func(i int) float64 { return 0.4 * float64(min(i/3, 1)) }, 0, false},
		{"a pull-up that changes as a draw of 0.4 A begins", func(a float64) float64 { return 0.92 + 0.76*min(1, a*10) }, func(i int) float64 { return 0.4 * float64(min(i/350, 1)) }, 0, false},
		{"and as one that climbs begins", func(a float64) float64 { return 0.92 + 0.76*min(1, a*10) }, func(i int) float64 { return 0.3 * float64(i/100) }, 0, false},
	} {
		an := draw.New(draw.Options{})
		for i := range 700 {
			a := c.amps(i)
			an.Add(&captures.Sample{At: time.Duration(i) * time.Millisecond, Volts: 20, Amps: a, CC: [2]float64{0, c.pin(a)}})
		}
		ohm, _, ok := an.Result().CC.Lifts[1].Slope()
		assert.Equal(t, c.ok, ok, c.name)
		assert.InDelta(t, c.ohm, ohm, 0.01, c.name)
	}
}
