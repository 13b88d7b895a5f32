package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode"
	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/pd"
)

// Headers of published exchanges: Source_Capabilities with one object is 0x1161 of a
// source, Request 0x1042 of a sink, GoodCRC 0x0041 of a sink (USB PD R3.2 V1.1, table
// 6.1: bit 8 is the port power role).
func TestVoices(t *testing.T) {
	for _, c := range []struct {
		name string
		m    captures.Message
		want voice
		ok   bool
	}{
		{"source", captures.Message{Set: pd.SOP, Bytes: []byte{0x61, 0x11}}, ofSource, true},
		{"sink", captures.Message{Set: pd.SOP, Bytes: []byte{0x42, 0x10}}, ofSink, true},
		{"acknowledgement", captures.Message{Set: pd.SOP, Bytes: []byte{0x41, 0x00}}, ofSink, true},
		{"plug", captures.Message{Set: pd.SOPPrime, Bytes: []byte{0x8f, 0x10}}, ofCable, true},
		{"Hard Reset", captures.Message{Set: pd.HardReset}, reset, true},
		{"Cable Reset", captures.Message{Set: pd.CableReset}, reset, true},
		{"no header", captures.Message{Set: pd.SOP, Bytes: []byte{0x61}}, 0, false},
		{"marker", captures.Message{Marker: captures.Attach}, 0, false},
	} {
		v, ok := voiceOf(&c.m)
		assert.Equal(t, c.ok, ok, c.name)
		assert.Equal(t, c.want, v, c.name)
	}
}

// Every message of a long talk has a tick of its voice within two pixels, every tick has
// a message, and the memory is bounded.
func TestEveryMessageIsDrawn(t *testing.T) {
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 8))
		n := 10 + r.IntN(30_000)
		talk := &Talk{}
		at := 0.0
		times := [voices][]float64{}
		for range n {
			at += math.Pow(10, -4+4*r.Float64())
			if r.IntN(500) == 0 {
				at += 100 * r.Float64()
			}
			m := captures.Message{At: time.Duration(at * float64(time.Second)), Set: pd.SOP, Bytes: []byte{0x61, 0x11}}
			v := ofSource
			switch r.IntN(20) {
			case 0:
				m, v = captures.Message{At: m.At, Set: pd.HardReset}, reset
			case 1, 2, 3, 4:
				m.Bytes, v = []byte{0x42, 0x10}, ofSink
			case 5:
				m.Set, v = pd.SOPPrime, ofCable
			}
			times[v] = append(times[v], m.At.Seconds())
			talk.Add(&m)
			require.LessOrEqual(t, len(talk.turns), maxTurns)
		}
		p := &plot{Left: left, Inner: plotWide - left - right}
		p.StartS, p.EndS = talk.span()
		p.EndS = max(p.EndS, at)
		for v, path := range talk.paths(p, 0) {
			var ticks []float64
			for _, word := range strings.FieldsFunc(path, func(r rune) bool { return r == 'M' }) {
				var x float64
				_, err := fmt.Sscanf(word, "%g", &x)
				require.NoError(t, err)
				ticks = append(ticks, x)
			}
			require.LessOrEqual(t, len(ticks), p.Inner+1, "at most one a pixel")
			near := func(x float64, in []float64) bool {
				for _, y := range in {
					if math.Abs(x-y) <= 2 {
						return true
					}
				}
				return false
			}
			var places []float64
			for _, s := range times[v] {
				if x := math.Round(p.x(s)); len(places) == 0 || places[len(places)-1] != x {
					places = append(places, x)
				}
			}
			for _, x := range places {
				require.True(t, near(x, ticks), "seed %d, voice %d: a message at %g", seed, v, x)
			}
			for _, x := range ticks {
				require.True(t, near(x, places), "seed %d, voice %d: a tick at %g", seed, v, x)
			}
		}
	}
}

// Messages have a picture of their own where there is no meter, and none where nobody
// knows how their clock lies to the meter's.
func TestTalkIsDrawnOnItsClockOnly(t *testing.T) {
	talk := &Talk{}
	for i := range 5 {
		talk.Add(&captures.Message{At: time.Duration(i) * time.Second, Set: pd.SOP, Bytes: []byte{0x61, 0x11}})
	}
	bare := &decode.Diagnosis{Draw: draw.New(draw.Options{}).Result(), Negotiation: negotiation.New(negotiation.Options{}).Result()}
	p := picture(Recorded{Diagnosis: bare, Talk: talk}, "")
	require.NotNil(t, p)
	assert.Equal(t, "Messages over time", p.Title)
	assert.NotNil(t, p.Talk)
	assert.Empty(t, p.CSV)
	assert.Contains(t, p.Desc, "5 of the source")
	assert.Nil(t, picture(Recorded{Diagnosis: bare}, ""))

	metered := *bare
	metered.Draw = &draw.Result{Trace: []draw.Bin{{EndS: 1, N: 2, MaxV: 5}, {StartS: 2, EndS: 3, N: 2, MaxV: 5}}}
	p = picture(Recorded{Diagnosis: &metered, Talk: talk}, "")
	require.NotNil(t, p)
	assert.Nil(t, p.Talk)
	metered.Clock.OffsetS = new(float64)
	assert.NotNil(t, picture(Recorded{Diagnosis: &metered, Talk: talk}, "").Talk)
}
