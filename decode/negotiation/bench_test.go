package negotiation_test

import (
	"testing"
	"time"

	"portside/decode/negotiation"
	"portside/pd"
)

func BenchmarkTracker(b *testing.B) {
	s := variants[0].make()
	s.agreed()
	for range 200 {
		s.wait(5*time.Second).sink(pd.Request, askPPS(5, 9000, 2000)).wait(5 * ms).source(pd.Accept).wait(20 * ms).source(pd.PSRDY)
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		t := negotiation.New(negotiation.Options{})
		for i := range s.out {
			t.Add(&s.out[i])
		}
		n += len(s.out)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "messages/s")
	b.ReportMetric(float64(len(s.out)), "messages/op")
}
