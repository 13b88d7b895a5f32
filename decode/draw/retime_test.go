package draw_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/draw"
)

// TestRetimedMovesEveryTime: each of the times lies 100 s later on the other clock, and no
// length changes.
func TestRetimedMovesEveryTime(t *testing.T) {
	r := &draw.Result{
		RunOuts:     []draw.RunOut{{StartS: 1, EndS: 2, AtA: 0.1}},
		Hunts:       []draw.Hunt{{StartS: 3, EndS: 4, Turns: 5}},
		Follows:     []draw.Follow{{TimeS: 5, FromV: 9}},
		Recovers:    []draw.Recovery{{StartS: 6, EndS: 7, FromV: 19}},
		Gulps:       []draw.Gulp{{TimeS: 18, ChargeC: 0.001}},
		Cold:        draw.ColdTries{Count: 2, FirstS: 8},
		FromZero:    draw.FromZero{Count: 1, FirstS: 9, Ohm: 8},
		Rejoins:     draw.Rejoins{Count: 2, FirstS: 9},
		Twitches:    draw.Twitches{Count: 3, FirstS: 9, MostV: 0.5},
		Steers:      []draw.Steer{{TimeS: 19, FromV: 9, ToV: 10}},
		Ebbs:        []draw.Ebb{{StartS: 20, EndS: 21, AtW: 30}},
		Bounces:     []draw.Bounce{{TimeS: 22, OffS: 0.01}},
		Oscillation: &draw.Oscillation{StartS: 10, EndS: 11, PeriodS: 0.2},
		CC:          draw.CC{Held: draw.CCStood{FirstS: 12, LastS: 13, Seconds: 1}, Waits: draw.CCStood{FirstS: 14, LastS: 15}, Feeds: draw.CCStood{FirstS: 16, LastS: 17}, Joined: draw.CCStood{FirstS: 18, LastS: 19}, Falls: draw.CCFall{TimeS: 23, LowS: 3}},
	}
	m := r.Retimed(func(t float64) float64 { return t + 100 })
	assert.Equal(t, []draw.RunOut{{StartS: 101, EndS: 102, AtA: 0.1}}, m.RunOuts)
	assert.Equal(t, []draw.Hunt{{StartS: 103, EndS: 104, Turns: 5}}, m.Hunts)
	assert.Equal(t, []draw.Follow{{TimeS: 105, FromV: 9}}, m.Follows)
	assert.Equal(t, []draw.Recovery{{StartS: 106, EndS: 107, FromV: 19}}, m.Recovers)
	assert.Equal(t, []draw.Gulp{{TimeS: 118, ChargeC: 0.001}}, m.Gulps)
	assert.Equal(t, []draw.Steer{{TimeS: 119, FromV: 9, ToV: 10}}, m.Steers)
	assert.Equal(t, []draw.Ebb{{StartS: 120, EndS: 121, AtW: 30}}, m.Ebbs)
	assert.Equal(t, []draw.Bounce{{TimeS: 122, OffS: 0.01}}, m.Bounces)
	assert.Equal(t, draw.ColdTries{Count: 2, FirstS: 108}, m.Cold)
	assert.Equal(t, draw.FromZero{Count: 1, FirstS: 109, Ohm: 8}, m.FromZero)
	assert.Equal(t, draw.Rejoins{Count: 2, FirstS: 109}, m.Rejoins)
	assert.Equal(t, draw.Twitches{Count: 3, FirstS: 109, MostV: 0.5}, m.Twitches)
	assert.Equal(t, &draw.Oscillation{StartS: 110, EndS: 111, PeriodS: 0.2}, m.Oscillation)
	assert.Equal(t, draw.CC{Held: draw.CCStood{FirstS: 112, LastS: 113, Seconds: 1}, Waits: draw.CCStood{FirstS: 114, LastS: 115}, Feeds: draw.CCStood{FirstS: 116, LastS: 117}, Joined: draw.CCStood{FirstS: 118, LastS: 119}, Falls: draw.CCFall{TimeS: 123, LowS: 3}}, m.CC)
	assert.InDelta(t, 10, r.Oscillation.StartS, 0, "the first log stays as it was")
}
