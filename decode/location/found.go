package location

import (
	"bufio"
	_ "embed"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"portside/decode/rules"
)

// Found is how much more, or less, an outcome of a topic speaks for a side than its table says, as
// found where the answer is known: by outcome.
type Found map[string]Sides

// Sides is a weight of evidence for each side, in decibans (Good 1950).
type Sides struct {
	Before, At, Behind, Healthy float64
	Cases                       int // that it rests on
}

// of is the weight for a side; what has no side of its own gets none.
func (s Sides) of(l rules.Location) float64 {
	switch l {
	case rules.BeforePort:
		return s.Before
	case rules.AtPort:
		return s.At
	case rules.BehindPort:
		return s.Behind
	case rules.Healthy:
		return s.Healthy
	}
	return 0
}

// foundTable is what was found on benches that others wrote, who knew nothing of the tables.
//
//go:embed found.tsv
var foundTable string

const foundHead = "outcome\tbefore-port\tat-port\tbehind-port\thealthy\tcases"

// ReadFound reads a table as [Found.Write] writes it. The error names line and field.
func ReadFound(r io.Reader) (Found, error) {
	out, lines := Found{}, bufio.NewScanner(r)
	for n := 1; lines.Scan(); n++ {
		if n == 1 {
			if lines.Text() != foundHead {
				return nil, fmt.Errorf("line 1: expected %q, found %q", foundHead, lines.Text())
			}
			continue
		}
		fields := strings.Split(lines.Text(), "\t")
		if len(fields) != 6 {
			return nil, fmt.Errorf("line %d: expected 6 fields, found %d", n, len(fields))
		}
		var s Sides
		for i, to := range []*float64{&s.Before, &s.At, &s.Behind, &s.Healthy} {
			x, err := strconv.ParseFloat(fields[i+1], 64)
			if err != nil || !(x >= -foundMost && x <= foundMost) {
				return nil, fmt.Errorf("line %d: expected up to %d decibans either way, found %q", n, foundMost, fields[i+1])
			}
			*to = x
		}
		cases, err := strconv.Atoi(fields[5])
		if err != nil || cases < 0 {
			return nil, fmt.Errorf("line %d: expected a count of cases, found %q", n, fields[5])
		}
		s.Cases = cases
		out[fields[0]] = s
	}
	return out, lines.Err()
}

// Write writes one outcome a line, by name.
func (f Found) Write(w io.Writer) error {
	b := bufio.NewWriter(w)
	_, _ = fmt.Fprintln(b, foundHead)
	for _, name := range slices.Sorted(maps.Keys(f)) {
		s := f[name]
		_, _ = fmt.Fprintf(b, "%s\t%.1f\t%.1f\t%.1f\t%.1f\t%d\n", name, tenths(s.Before), tenths(s.At), tenths(s.Behind), tenths(s.Healthy), s.Cases)
	}
	return b.Flush()
}

// founds is the table, read once.
var founds = sync.OnceValue(func() Found {
	f, err := ReadFound(strings.NewReader(foundTable))
	if err != nil {
		return nil // the table's own test reads it
	}
	return f
})

// tenths rounds, without a sign before a zero.
func tenths(x float64) float64 { return math.Round(10*x)/10 + 0 }
