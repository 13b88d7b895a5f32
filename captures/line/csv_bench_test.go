package line_test

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"

	"portside/captures/line"
)

// BenchmarkCSV reads a million rows of volts: go test ./captures/line -run '^$' -bench CSV.
func BenchmarkCSV(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	var text bytes.Buffer
	for i := range 1_000_000 {
		fmt.Fprintf(&text, "%.7f,%.3f\n", float64(i)*1e-7, 1.2*rng.Float64())
	}
	events := make([]line.Event, 4096)
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		c, err := line.NewCSV(bytes.NewReader(text.Bytes()), layoutOf("time_s,cc", ','), line.Options{})
		for err == nil {
			_, err = c.Read(events)
		}
		if err != io.EOF || c.Stats().Records != 1_000_000 { //nolint:errorlint // readers give it bare
			b.Fatal(err, c.Stats())
		}
	}
}
