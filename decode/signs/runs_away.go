package signs

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"portside/decode/draw"
)

// A draw that heats what takes it, and grows by that: common practice.
const (
	awayLastsS = 8.0 // a start is over by then
	awayPoints = 6
	awayTimes  = 2.5  // from where it begins,
	awayAlone  = 4.0  // and where it does so once
	awayTop    = 0.97 // of what it reaches: it stands at a limit
	awayFromA  = 0.6  // from where it begins: what is small begins late
	awayToA    = 0.4  // that it reaches
	awayBend   = 1.2  // times as much in each quarter of its time as in the one before: a ramp has 1
	awayFit    = 0.97 // correlation of the current's logarithm with the time
	awayStep   = 0.4  // of the rise between two plateaus is a step
	awayStill  = 0.65 // of its time on one plateau: it stood
	awayComes  = 4.0  // times as fast as what follows
	awayBreaks = 0.2  // of what it reached: it has broken off
	awayOnce   = 0.5  // how surely a single one that does not break off is that
)

// runsAway tells a draw that grows the faster the more it is, without a step, at a voltage
// that stands.
func (p Picture) runsAway(d *draw.Result) (Seen, string) {
	if !p.Contract {
		return nil, ""
	}
	var run, first growth
	count, broke := 0, false
	end := func() {
		if run.away(d) {
			if count++; count == 1 {
				first = run
			}
		}
		run = nil
	}
	for _, q := range d.Plateaus {
		if q.VoltageV == nil || q.CurrentA == nil {
			continue
		}
		if *q.VoltageV < contractV || *q.CurrentA < run.last()-d.Sampling.ResolutionA-d.Sampling.NoiseA {
			end()
		}
		broke = broke || count > 0 && *q.CurrentA <= awayBreaks*first.last()
		if *q.VoltageV >= contractV {
			run = append(run, q)
		}
	}
	end()
	if count == 0 || count == 1 && (!broke || first.last() < awayAlone*first.from()) { // once may be a start
		return nil, ""
	}
	text := fmt.Sprintf("from %.2f s the draw grows from %.2f A to %.2f A within %.0f s, the faster the more it is", first[0].StartS, first.from(), first.last(), first[len(first)-1].EndS-first[0].StartS)
	if count > 1 {
		return Exactly(DrawRunsAway), text + fmt.Sprintf(", and does so %d times", count)
	}
	return Exactly(DrawRunsAway), text + ", and breaks off"
}

// growth is a run of plateaus that do not fall.
type growth []draw.Plateau

func (g growth) from() float64 { return *g[0].CurrentA }

func (g growth) last() float64 {
	if len(g) == 0 {
		return 0
	}
	return *g[len(g)-1].CurrentA
}

// away reports growth that bends upwards and has no step in it. What stands before it begins
// is no part of it.
func (g growth) away(d *draw.Result) bool {
	for len(g) >= awayPoints && (g.from() <= 0 || g.steps() || *g[1].CurrentA-g.from() < 2*(d.Sampling.ResolutionA+d.Sampling.NoiseA)) {
		g = g[1:]
	}
	if g = g.toTop(); len(g) < awayPoints || g.from() <= 0 {
		return false
	}
	rise, lasts := g.last()-g.from(), g.middle(len(g)-1)-g.middle(0)
	if lasts < awayLastsS || g.last() < awayToA || g.last() < awayTimes*g.from() {
		return false
	}
	for i, q := range g {
		if i > 0 && *q.CurrentA-g[i-1:].from() > awayStep*rise || q.EndS-q.StartS > awayStill*lasts {
			return false
		}
	}
	return g.bends() && g.doubles(d.Sampling.IntervalS)
}

// toTop ends it where it runs into the limit at which it then stands.
func (g growth) toTop() growth {
	for i, q := range g {
		if *q.CurrentA >= awayTop*g.last() {
			q.EndS = q.StartS
			return append(slices.Clone(g[:i]), q)
		}
	}
	return g
}

// steps reports a beginning that grows far faster than what follows: a draw that comes.
func (g growth) steps() bool {
	last := len(g) - 1
	at, on := math.Log(*g[1].CurrentA/g.from())/(g.middle(1)-g.middle(0)), math.Log(g.last() / *g[1].CurrentA)/(g.middle(last)-g.middle(1))
	return at > awayComes*on
}

// bends reports growth that is more in each quarter of its time than in the one before.
func (g growth) bends() bool {
	start, lasts := g.middle(0), g.middle(len(g)-1)-g.middle(0)
	before, grew, i := g.from(), 0.0, 1
	for quarter := 1.0; quarter <= 4; quarter++ {
		at := start + lasts*quarter/4
		for i < len(g)-1 && g.middle(i) < at {
			i++
		}
		t0, t1 := g.middle(i-1), g.middle(i)
		a := *g[i-1].CurrentA + (*g[i].CurrentA-*g[i-1].CurrentA)*(at-t0)/(t1-t0)
		if quarter > 1 && a-before < awayBend*grew {
			return false
		}
		grew, before = a-before, a
	}
	return true
}

// doubles reports growth by the same share in the same time.
func (g growth) doubles(intervalS float64) bool {
	t, lnA, weights := make([]float64, len(g)), make([]float64, len(g)), make([]float64, len(g))
	for i, q := range g {
		t[i], lnA[i], weights[i] = g.middle(i), math.Log(*q.CurrentA), q.EndS-q.StartS+intervalS
	}
	return stat.Correlation(t, lnA, weights) >= awayFit
}

func (g growth) middle(i int) float64 { return (g[i].StartS + g[i].EndS) / 2 }
