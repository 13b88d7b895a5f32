// Package draw reads the samples of one meter log: steady draws, steps,
// spikes, retries, climbs, tapers, and what can be measured from them. State
// is bounded whatever the length of the log.
package draw

import (
	"math"
	"slices"
	"time"

	"portside/captures"
)

// Options is for settings that a log may need; the zero value is right for
// any meter.
type Options struct{}

// point is one sample as the analyser sees it: seconds, volts, amps.
type point struct{ t, v, a float64 }

const (
	blockSamples   = 1024 // taken together, so that their noise is known before anything is cut
	handOverBlocks = 16   // so many at once: a hand-over costs as much as some hundred samples
	handOver       = handOverBlocks * blockSamples
)

// Analyser takes the samples of one log in the order of time. A full block is
// worked on while the next one fills. It is not safe for concurrent use.
type Analyser struct {
	block   []point       // filling
	spare   []point       // the one before it
	taken   chan struct{} // closed once the spare block is taken; nil before the first
	last    float64       // time of the last sample
	any     bool
	cc      ccFinder
	working *detectors // not to be touched before taken is closed
}

// New returns an empty analyser.
func New(Options) *Analyser {
	return &Analyser{working: newDetectors()}
}

// Add takes the next sample. A value that is not finite is a gap.
func (an *Analyser) Add(s *captures.Sample) {
	p := point{t: float64(s.At) / float64(time.Second), v: finite(s.Volts), a: finite(s.Amps)}
	if an.any && p.t < an.last {
		p.t = an.last
	}
	an.last, an.any = p.t, true
	an.cc.add(s, p.t)
	an.block = append(an.block, p)
	if len(an.block) == handOver {
		an.hand()
	}
}

func finite(x float64) float64 {
	if math.IsInf(x, 0) {
		return math.NaN()
	}
	return x
}

// hand gives the full block to the detectors, which own it until it is taken.
func (an *Analyser) hand() {
	an.wait()
	block, taken := an.block, make(chan struct{})
	an.block, an.spare, an.taken = an.spare[:0], block, taken
	go func() {
		defer close(taken)
		an.working.takeAll(block)
	}()
}

func (an *Analyser) wait() {
	if an.taken != nil {
		<-an.taken
	}
}

// Result is the state of things after the samples so far. The analyser is not
// changed and goes on.
func (an *Analyser) Result() *Result {
	an.wait()
	snapshot := an.working.clone()
	snapshot.takeAll(slices.Clone(an.block))
	r := snapshot.result()
	r.CC = an.cc.CC
	return r
}
