package decode

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"strconv"
	"testing"

	"portside/captures"
)

// rippleLog is the log of a load that ripples in step with the meter: its
// differences alone look calm.
func rippleLog(rows int) *bytes.Buffer {
	var log bytes.Buffer
	log.WriteString("time,voltage,current\n")
	for i := range rows {
		fmt.Fprintf(&log, "%.3f,%.4f,%.4f\n", float64(i)/1000, 20+0.01*float64(i%7), 1.2+0.001*float64(i*9%11))
	}
	return &log
}

// meterLog is the log of a meter at 1 kS/s with a noise of 2 mV and 3 mA, whose
// draw takes a new level every 20 s and has a spike every 7 s.
func meterLog(rows int) *bytes.Buffer {
	var log bytes.Buffer
	log.WriteString("time,voltage,current\n")
	chance := rand.New(rand.NewPCG(1, 2))
	level := 1.2
	for i := range rows {
		if i%20_000 == 0 {
			level = 0.3 + 2*chance.Float64()
		}
		amps := level + 0.003*chance.NormFloat64()
		if i%7_000 == 6_999 {
			amps += 1
		}
		fmt.Fprintf(&log, "%.3f,%.4f,%.4f\n", float64(i)/1000, 20.1-0.1*level+0.002*chance.NormFloat64(), amps)
	}
	return &log
}

// BenchmarkDiagnose diagnoses 5 million rows, and parses the same bytes with
// the standard library alone, in one run.
func BenchmarkDiagnose(b *testing.B) {
	log := meterLog(5_000_000)
	b.Run("diagnose", func(b *testing.B) { diagnoseLog(b, log.Bytes()) })
	b.Run("diagnose-ripple", func(b *testing.B) { diagnoseLog(b, rippleLog(5_000_000).Bytes()) })
	b.Run("diagnose-a-tenth", func(b *testing.B) { diagnoseLog(b, meterLog(500_000).Bytes()) })
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

func diagnoseLog(b *testing.B, log []byte) {
	b.SetBytes(int64(len(log)))
	b.ReportAllocs()
	for b.Loop() {
		in, err := captures.Open("log", bytes.NewReader(log), captures.Options{})
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
}
