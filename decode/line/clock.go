package line

// clock is the transmitter's clock as the edges show it. Times are in ns
// after origin.
type clock struct {
	origin int64
	at     float64 // where the last edge should have been
	half   float64 // of a bit
	skew   float64 // how late rising edges lie, and how early falling ones
	sign   float64 // +1 where the last edge rose, -1 where it fell
	edges  float64 // taken so far
	jitter float64 // of the edges of the preamble
}

// Gains of the clock once it has settled. At first every edge of the preamble
// counts alike (growing memory: 2(2n-1)/n(n+1) and 6/n(n+1), as for a straight
// line through n points); then about 50 edges are remembered, which follows
// a drift of several per cent within a packet.
const (
	phaseGain = 0.06
	rateGain  = phaseGain * phaseGain / 2
	skewGain  = 0.03
	// edgeSpacing is the mean distance of edges in halves of a bit.
	edgeSpacing = 4.0 / 3
)

// late is how far behind the last edge's place the next one lies, with the
// skew between them taken out.
func (c *clock) late(edge int64) float64 {
	return float64(edge-c.origin) - c.at + c.sign*c.skew
}

// take moves on by halves of a bit to an edge that lies wrong by err.
func (c *clock) take(halves, err float64) {
	n := c.edges + 1
	c.edges = n
	phase, rate := phaseGain, rateGain
	if settled := 60.0; n < settled {
		phase = max(phase, 2*(2*n-1)/(n*(n+1)))
		rate = max(rate, 6/(n*(n+1)))
	}
	c.sign = -c.sign
	c.at += halves*c.half + phase*err
	c.half += rate / edgeSpacing * err
	c.skew += max(skewGain, 1/n) * c.sign * err
}
