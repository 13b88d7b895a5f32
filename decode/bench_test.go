package decode

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"testing"

	"portside/captures"
)

// BenchmarkDiagnose diagnoses 5 million rows, and parses the same bytes with
// the standard library alone, in one run.
func BenchmarkDiagnose(b *testing.B) {
	var log bytes.Buffer
	log.WriteString("time,voltage,current\n")
	for i := range 5_000_000 {
		fmt.Fprintf(&log, "%.3f,%.4f,%.4f\n", float64(i)/1000, 20+0.01*float64(i*7919%7), 1.2+0.001*float64(i*104729%11))
	}
	b.Run("diagnose", func(b *testing.B) {
		b.SetBytes(int64(log.Len()))
		b.ReportAllocs()
		for b.Loop() {
			in, err := captures.Open("log", bytes.NewReader(log.Bytes()), captures.Options{})
			if err != nil {
				b.Fatal(err)
			}
			r := captures.NewRecording([]captures.RecordingInput{{Input: in}})
			e := NewEngine(Options{})
			for {
				record, err := r.Next()
				if err != nil {
					break
				}
				e.Take(record)
			}
			e.Diagnose(r.Stats(), r.Clocks())
		}
	})
	b.Run("encoding-csv", func(b *testing.B) {
		b.SetBytes(int64(log.Len()))
		b.ReportAllocs()
		for b.Loop() {
			r := csv.NewReader(bytes.NewReader(log.Bytes()))
			r.ReuseRecord = true
			_, _ = r.Read()
			for {
				cells, err := r.Read()
				if err != nil {
					break
				}
				for _, cell := range cells {
					_, _ = strconv.ParseFloat(cell, 64)
				}
			}
		}
	})
}
