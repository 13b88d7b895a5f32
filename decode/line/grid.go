package line

import "math"

const (
	// leastGridNs: finer steps add less than 15 ns to the jitter, and are not looked for.
	leastGridNs = 50
	// gridEvents that all lie on a grid show it.
	gridEvents = 100
)

// grid finds the steps in which a recorder stamps the changes of a level.
type grid struct {
	first int64
	step  int64 // that divides all times so far; 1 where there is none
	n     int
}

func (g *grid) add(at int64) {
	g.n++
	switch {
	case g.n == 1:
		g.first = at
	case g.step != 1:
		a, b := g.step, at-g.first
		for b != 0 {
			a, b = b, a%b
		}
		if g.step = a; a < leastGridNs && a != 0 {
			g.step = 1
		}
	}
}

// steps is the grid in us; ok is false where there is none, or too little was seen.
func (g *grid) steps() (us float64, ok bool) {
	return float64(g.step) / 1e3, g.n >= gridEvents && g.step >= leastGridNs
}

// gridJitterUS is what steps of so much alone add to the standard deviation of edges: they
// lie evenly within one.
func gridJitterUS(us float64) float64 { return us / math.Sqrt(12) }
