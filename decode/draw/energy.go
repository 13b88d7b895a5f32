package draw

// energy adds up what flows into the device, by the trapezoid rule between
// samples that carry both quantities, and not over a gap.
type energy struct {
	ws    float64
	last  point
	n     int
	known bool // some stretch lay between two such samples
}

func (e *energy) add(p point, gapS float64) {
	if dt := p.t - e.last.t; e.n > 0 && dt <= gapS {
		e.ws += (p.v*p.a + e.last.v*e.last.a) / 2 * dt
		e.known = true
	}
	e.last = p
	e.n++
}

// addChunk adds a chunk that follows the last sample without a gap.
func (e *energy) addChunk(c *chunk) {
	e.ws += c.energyWs
	e.known = true
	e.last = c.samples[c.n-1]
	e.n += c.n
}

// result is the energy in watt hours, nil where no stretch has both quantities.
func (e *energy) result() *float64 {
	if !e.known {
		return nil
	}
	wh := e.ws / 3600
	return &wh
}
