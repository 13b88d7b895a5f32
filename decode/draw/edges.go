package draw

import "math"

const (
	edgeA        = 0.05 // a step of the draw that tells how the meter samples: common practice
	edgeSigmas   = 20.0 // times the noise, so that few samples on the way are lost in it
	edgeMargin   = 6.0  // times the noise that a sample on the way is off both levels
	edgesLeast   = 5    // fewer may look so by chance
	edgesClean   = 0.9  // share without a sample on the way: those of a meter that takes instants
	edgesOne     = 0.6  // share with exactly one: those of a meter that averages; noise hides some
	edgesMore    = 0.2  // share with two, of loads that change slowly
	slowerThanS  = 0.05 // loads change within a few milliseconds: this slow a meter sees none on its way by chance. Common practice
	edgeDistance = 1.5  // samples; further apart, some are missing
)

// edgeCounter tells whether samples are instants or means from those that lie
// between two steady draws.
type edgeCounter struct {
	before         cell
	held           bool
	between        int
	minA, maxA     float64
	seen, one, two int
}

func (e *edgeCounter) part() { e.held = false }

// add takes the segments in time order.
func (e *edgeCounter) add(c cell, sigma, q, interval float64) {
	if c.n < shortest {
		if e.between == 0 {
			e.minA, e.maxA = c.minA, c.maxA
		}
		e.minA, e.maxA = min(e.minA, c.minA), max(e.maxA, c.maxA)
		e.between += c.n
		return
	}
	if e.held {
		e.count(c, max(sigma, q), interval)
	}
	e.before, e.held, e.between = c, true, 0
}

// count takes the edge from the steady draw before to c.
func (e *edgeCounter) count(c cell, sigma, interval float64) {
	from, to := e.before.meanA(), c.meanA()
	if math.Abs(to-from) < max(edgeA, edgeSigmas*sigma) || c.t0-e.before.t1 > (float64(e.between)+edgeDistance)*interval {
		return
	}
	margin := edgeMargin * sigma
	switch {
	case e.between == 0 && (reaches(e.before, from, to, margin) || reaches(c, to, from, margin)):
		e.seen++
		e.one++ // joined to the draw on one of its sides
	case e.between == 0:
		e.seen++
	case e.minA < min(from, to)+margin || e.maxA > max(from, to)-margin || e.between > 2: // a pulse, or a slope
	default:
		e.seen++
		if e.between == 1 {
			e.one++
		} else {
			e.two++
		}
	}
}

// reaches reports a sample of a draw that is off its level towards the other one.
func reaches(c cell, level, other, margin float64) bool {
	if other > level {
		return c.maxA > level+margin
	}
	return c.minA < level-margin
}

// averaging says whether the samples are means; nil where the edges do not tell.
func (e *edgeCounter) averaging(interval float64) *bool {
	if e.seen < edgesLeast {
		return nil
	}
	all := float64(e.seen)
	means := interval >= slowerThanS && float64(e.one) >= edgesOne*all && float64(e.two) <= edgesMore*all
	clean := float64(e.seen-e.one-e.two) >= edgesClean*all
	if !means && !clean {
		return nil
	}
	return &means
}
