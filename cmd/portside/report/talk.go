package report

import (
	"fmt"
	"math"
	"strings"

	"portside/captures"
	"portside/pd"
)

// voice is whose message it is, as the picture tells them apart.
type voice int

const (
	ofSource voice = iota
	ofSink
	ofCable // to or from a plug
	reset   // a Hard Reset or Cable Reset
	voices
)

// maxTurns is how many stretches of time a talk keeps at most: more than the picture
// has pixels.
const maxTurns = 2048

// Talk is when source, sink and cable spoke, for the picture. Its memory is bounded:
// messages close to each other are counted together once there are many.
type Talk struct {
	turns []turn
	spanS float64 // how long a turn may be
	count [voices]int
}

// turn is who spoke in one stretch of time.
type turn struct {
	startS float64
	spoke  [voices]bool
}

// Add takes the next message. A marker is none.
func (t *Talk) Add(m *captures.Message) {
	v, ok := voiceOf(m)
	if !ok {
		return
	}
	t.count[v]++
	at := m.At.Seconds()
	if last := len(t.turns) - 1; last >= 0 && at-t.turns[last].startS < t.spanS {
		t.turns[last].spoke[v] = true
		return
	}
	if len(t.turns) == maxTurns {
		t.thin()
	}
	x := turn{startS: at}
	x.spoke[v] = true
	t.turns = append(t.turns, x)
}

// thin joins turns until half of them are left.
func (t *Talk) thin() {
	whole := t.turns[len(t.turns)-1].startS - t.turns[0].startS
	t.spanS = max(t.spanS, whole/maxTurns)
	for len(t.turns) > maxTurns/2 {
		t.spanS = max(2*t.spanS, math.SmallestNonzeroFloat32)
		out := t.turns[:1]
		for _, x := range t.turns[1:] {
			last := &out[len(out)-1]
			if x.startS-last.startS >= t.spanS {
				out = append(out, x)
				continue
			}
			for v := range x.spoke {
				last.spoke[v] = last.spoke[v] || x.spoke[v]
			}
		}
		t.turns = out
	}
}

// voiceOf tells who speaks by the ordered set and the roles in the header (USB PD R3.2
// V1.1, section 6.2.1.1).
func voiceOf(m *captures.Message) (v voice, ok bool) {
	const headerBytes = 2
	switch {
	case m.Marker != captures.NoMarker:
		return 0, false
	case m.Set.IsReset():
		return reset, true
	case m.Set != pd.SOP && m.Set != 0:
		return ofCable, true
	case len(m.Bytes) < headerBytes:
		return 0, false
	}
	h := pd.Header(uint16(m.Bytes[0]) | uint16(m.Bytes[1])<<8)
	if h.PowerRole() == pd.Source {
		return ofSource, true
	}
	return ofSink, true
}

// empty reports that nobody spoke; a nil one says the same.
func (t *Talk) empty() bool { return t == nil || len(t.turns) == 0 }

// span is from the first message to the last.
func (t *Talk) span() (startS, endS float64) {
	return t.turns[0].startS, t.turns[len(t.turns)-1].startS
}

// words count the messages.
func (t *Talk) words() string {
	var out []string
	for v, name := range [voices]string{"of the source", "of the sink", "to or from the cable", "resets"} {
		if n := t.count[v]; n > 0 {
			out = append(out, fmt.Sprintf("%d %s", n, name))
		}
	}
	return "Messages: " + strings.Join(out, ", ") + "."
}

// Sizes of the lane of messages: ticks of the source go up from its middle, those of the
// sink down, those of the cable are short, and a reset goes across.
const (
	talkHigh  = 36
	cableTick = 5
)

// tickOf is how far a tick of each voice reaches from the middle of the lane.
var tickOf = [voices][2]int{{-talkHigh / 2, 0}, {0, talkHigh / 2}, {-cableTick, cableTick}, {-talkHigh / 2, talkHigh / 2}}

// paths are the ticks of each voice in a lane that begins at y, at most one a pixel.
func (t *Talk) paths(p *plot, y int) [voices]string {
	var out [voices]strings.Builder
	last := [voices]float64{-1, -1, -1, -1}
	for _, x := range t.turns {
		if x.startS < p.StartS || x.startS > p.EndS {
			continue
		}
		at := math.Round(p.x(x.startS))
		for v := range voices {
			if !x.spoke[v] || at == last[v] {
				continue
			}
			last[v] = at
			middle := y + talkHigh/2
			fmt.Fprintf(&out[v], "M%g %dV%d", at, middle+tickOf[v][0], middle+tickOf[v][1])
		}
	}
	var paths [voices]string
	for v := range out {
		paths[v] = out[v].String()
	}
	return paths
}
