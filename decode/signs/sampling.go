package signs

import (
	"math"

	"portside/decode/draw"
)

// brief is a pattern that a slow meter may miss: tries of one length.
type brief struct {
	onS, periodS, peakA float64
	tries               float64 // at most; 0 is without end
}

// briefs are the patterns that come in short pulses, by the published times
// of the parts that make them.
func briefs() map[string]brief {
	return map[string]brief{
		DrawFast:    {onS: 0.005, periodS: 0.2, peakA: 0.5},            // SLVSEG3E, JAJSJF0D
		DrawCharger: {onS: 0.010, periodS: 0.51, peakA: 0.5, tries: 7}, // SLUSDU3, SLUSE65A
		DrawSlow:    {onS: 0.10, periodS: 1.2, peakA: 0.5},             // SLVSDJ5D; on time: common practice
	}
}

// trainFrom is how many hits make a train; fewer are spikes.
const trainFrom = 3

// hits says how likely a meter sees a train of pulses as a train, as one or
// two spikes, or not at all. Instant samples hit each pulse with the chance
// w/T; a meter that averages sees all of them, as far as they stand clear of
// its noise and resolution.
func (b brief) hits(s draw.Sampling) (train, spikes, none float64) {
	n := math.Floor((s.EndS - s.StartS) / b.periodS)
	if b.tries > 0 {
		n = min(n, b.tries)
	}
	if n < 1 || s.IntervalS <= 0 {
		return 0, 0, 1
	}
	hit := min(1, b.onS/s.IntervalS)
	if s.Averaging != nil && *s.Averaging && hit < 1 {
		standsOut := max(5*s.NoiseA, 2*s.ResolutionA)
		if b.peakA*hit < standsOut {
			return 0, 0, 1
		}
		if s.IntervalS < b.periodS/2 {
			return 1, 0, 0
		}
		return 0, 0, 1 // several pulses in one mean: a low steady draw
	}
	miss := 1 - hit
	none = math.Pow(miss, n)
	one := n * hit * math.Pow(miss, n-1)
	two := n * (n - 1) / 2 * hit * hit * math.Pow(miss, n-2)
	if n < trainFrom {
		return 0, 1 - none, none
	}
	return max(0, 1-none-one-two), one + two, none
}

// spikeAlone is how often a quiet machine shows a spike that means nothing:
// common practice.
const spikeAlone = 0.15

// spikesAgain is how often it shows three of one height and more: common practice.
const spikesAgain = 0.005

// busyRest is how often a part that retries draws a standby current between
// its tries: most draw nothing there. Common practice.
const busyRest = 0.1

// quietSeen is the chance to see a quiet draw, with so many lone spikes, under each
// pattern that looks quiet to this meter.
func quietSeen(quiet string, spikes int, s draw.Sampling) Seen {
	alone := 1 - spikeAlone
	switch {
	case spikes >= trainFrom:
		alone = spikesAgain
	case spikes > 0:
		alone = spikeAlone
	}
	out := Seen{quiet: alone}
	rest := 1.0
	if quiet != DrawNone {
		rest = busyRest
	}
	for pattern, b := range briefs() {
		train, few, none := b.hits(s)
		switch {
		case spikes >= trainFrom:
			out[pattern] = rest * train
		case spikes > 0:
			out[pattern] = rest * few
		default:
			out[pattern] = rest * none
		}
	}
	return out
}
