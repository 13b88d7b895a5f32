package captures

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"testing"
)

// fiveMillionRows is a log of 5 million rows, some 119 MB.
func fiveMillionRows() []byte {
	var b bytes.Buffer
	b.WriteString("time,voltage,current\n")
	for i := range 5_000_000 {
		fmt.Fprintf(&b, "%.3f,%.4f,%.4f\n", float64(i)/1000, 20+0.01*float64(i%7), 1.2+0.001*float64(i%11))
	}
	return b.Bytes()
}

// BenchmarkMeter and BenchmarkLibrary read the same bytes in one run.
func BenchmarkMeter(b *testing.B) {
	data := fiveMillionRows()
	b.Run("reader", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		b.ReportAllocs()
		for b.Loop() {
			in, err := Open("log", bytes.NewReader(data), Options{})
			if err != nil {
				b.Fatal(err)
			}
			for {
				if _, err := in.Next(); err != nil {
					break
				}
			}
		}
	})
	b.Run("encoding-csv", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		b.ReportAllocs()
		for b.Loop() {
			r := csv.NewReader(bytes.NewReader(data))
			r.ReuseRecord = true
			_, _ = r.Read()
			for {
				cells, err := r.Read()
				if err == io.EOF {
					break
				}
				for _, cell := range cells {
					_, _ = strconv.ParseFloat(cell, 64)
				}
			}
		}
	})
}
