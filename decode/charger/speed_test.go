package charger_test

import (
	"fmt"
	"testing"
	"time"

	"portside/captures"
	"portside/decode/charger"
	"portside/decode/clocks"
	"portside/pd"
)

// sizes are a length and ten times that: the time for one record must be the same.
var sizes = []int{100_000, 1_000_000}

// perRecord reports the time for one record.
func perRecord(b *testing.B, n int) {
	b.Helper()
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/record")
}

// BenchmarkMessages checks messages of a PPS contract that is renewed again and again,
// offers in between.
func BenchmarkMessages(b *testing.B) {
	r := newRig().plug(offer65...)
	r.meter.rate = 0
	r.negotiate(r.toPPS(5, 9000, 2000, 5))
	r.object = 5
	begin := len(r.out)
	from := r.now
	for range 200 {
		r.now += 5
		r.negotiate(r.toPPS(5, 9000, 2000, 9))
		r.now += 0.1
		r.sink(pd.GetSourceCap).source(pd.SourceCapabilities, offer65...)
		r.negotiate(r.toPPS(5, 9000, 2000, 9))
	}
	lasting := seconds(r.now - from)
	for _, size := range sizes {
		b.Run(fmt.Sprint(size), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c := charger.New(charger.Options{})
				for i := range r.out[:begin] {
					c.Message(&r.out[i])
				}
				n := begin
				for shift := time.Duration(0); n < size; shift += lasting {
					for _, m := range r.out[begin:] {
						m.At += shift
						m.End += shift
						c.Message(&m)
					}
					n += len(r.out) - begin
				}
				c.Finish()
			}
			perRecord(b, size)
		})
	}
}

// BenchmarkSamples checks samples of a contract, on one clock and on a clock that was
// found.
func BenchmarkSamples(b *testing.B) {
	r := newRig().plug(offer65...).negotiate(to(2, 3000, 5, 9))
	_, found := r.checkApart(charger.Options{}, own{offset: 5})
	for _, a := range []clocks.Alignment{{}, found} {
		for _, size := range sizes {
			b.Run(fmt.Sprintf("%d found=%t", size, a.Determined), func(b *testing.B) {
				for b.Loop() {
					c := charger.New(charger.Options{Alignment: a})
					for i := range r.out {
						c.Message(&r.out[i])
					}
					s := captures.Sample{Volts: 9, Amps: 1}
					for n := range size {
						s.At = seconds(r.now + float64(n)/1000)
						s.Volts = 9 + float64(n%7)/1000
						c.Sample(&s)
					}
					c.Finish()
				}
				perRecord(b, size)
			})
		}
	}
}
