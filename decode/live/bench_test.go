package live_test

import (
	"testing"
	"time"

	"portside/captures"
	"portside/decode"
	"portside/decode/live"
)

// weekRow is one row of a log of 10 rows a second whose draw changes once a
// minute and which is plugged in anew every seven minutes.
func weekRow(n int) captures.Sample {
	const perSecond = 10
	s := captures.Sample{At: time.Duration(n) * time.Second / perSecond, Volts: 20 + float64(n*7%5)/1000, Amps: float64(n*3%7) / 1000}
	minute := n / (60 * perSecond) % 7
	if minute == 0 {
		s.Volts, s.Amps = s.Volts-20, 0
	}
	s.Amps += 0.3 * float64(minute)
	return s
}

const weekRows = 7 * 24 * 3600 * 10

// BenchmarkLookAfterAWeek is what one look at a log of a week costs: it stands
// between a row and its event.
func BenchmarkLookAfterAWeek(b *testing.B) {
	e := decode.NewEngine(decode.Options{})
	for n := range weekRows {
		s := weekRow(n)
		e.Sample(&s)
	}
	var teller live.Teller
	stats := []captures.Stats{{Path: "log.csv", Kind: captures.KindMeter, Records: weekRows, Samples: true}}
	clocks := []captures.Clock{{Path: "log.csv", Reference: true, Offset: new(time.Duration)}}
	teller.Look(e.Diagnose(stats, clocks))
	for b.Loop() {
		teller.Look(e.Diagnose(stats, clocks))
	}
}
