package charger_test

import (
	"testing"

	"portside/captures"
	"portside/decode/charger"
	"portside/pd"
)

// BenchmarkMessages checks a million messages of a PPS contract that is renewed again
// and again, offers in between.
func BenchmarkMessages(b *testing.B) {
	r := newRig().plug(offer65...)
	r.meter.rate = 0
	r.negotiate(r.toPPS(5, 9000, 2000, 5))
	r.object = 5
	for range 200 {
		r.now += 5
		r.negotiate(r.toPPS(5, 9000, 2000, 9))
		r.now += 0.1
		r.sink(pd.GetSourceCap).source(pd.SourceCapabilities, offer65...)
		r.negotiate(r.toPPS(5, 9000, 2000, 9))
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		c := charger.New(charger.Options{})
		for n = 0; n < 1_000_000; {
			for i := range r.out {
				c.Message(&r.out[i])
			}
			n += len(r.out)
		}
		c.Finish()
	}
	b.ReportMetric(float64(n), "messages/op")
}

// BenchmarkSamples checks a million samples of a contract.
func BenchmarkSamples(b *testing.B) {
	r := newRig().plug(offer65...).negotiate(to(2, 3000, 5, 9))
	for b.Loop() {
		c := charger.New(charger.Options{})
		for i := range r.out {
			c.Message(&r.out[i])
		}
		s := captures.Sample{Volts: 9, Amps: 1}
		for n := range 1_000_000 {
			s.At = seconds(r.now + float64(n)/1000)
			s.Volts = 9 + float64(n%7)/1000
			c.Sample(&s)
		}
		c.Finish()
	}
}
