package draw

import "math"

// chunkSamples are summed at once. Where they are alike, each detector looks
// at the sums alone, and else at every sample.
const chunkSamples = 64

// chunk is a run of neighbouring samples and the sums that the detectors share.
type chunk struct {
	cell
	samples  []point
	chargeC  float64 // since the sample before, each sample read as the mean since the one before it
	energyWs float64 // since the sample before, by the trapezoid rule
}

// sum returns the chunk of the samples after before. It is whole where each
// sample has both quantities and none is further than gapS from its neighbour.
func sum(samples []point, before point, gapS float64) (c chunk, whole bool) {
	c.samples = samples
	c.t0, c.t1 = samples[0].t, samples[len(samples)-1].t
	c.n, c.nV = len(samples), len(samples)
	c.minV, c.maxV = math.Inf(1), math.Inf(-1)
	c.minA, c.maxA = math.Inf(1), math.Inf(-1)
	lastT, lastW, longest := before.t, before.v*before.a, 0.0
	for i := range samples {
		t, v, a := samples[i].t, samples[i].v, samples[i].a
		dt, w := t-lastT, v*a
		lastT = t
		if dt > longest {
			longest = dt
		}
		c.chargeC += a * dt
		c.energyWs += (w + lastW) / 2 * dt
		lastW = w

		d := t - c.t0
		c.sT += d
		c.sTT += d * d
		c.sTA += d * a
		c.sA += a
		c.sAA += a * a
		c.sV += v
		c.sVV += v * v
		if v < c.minV {
			c.minV = v
		}
		if v > c.maxV {
			c.maxV = v
		}
		if a < c.minA {
			c.minA = a
		}
		if a > c.maxA {
			c.maxA = a
		}
	}
	// one gap makes its sum NaN
	return c, c.sV == c.sV && c.sA == c.sA && longest <= gapS
}
