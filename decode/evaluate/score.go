package evaluate

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"portside/decode/rules"
)

// Locations in the order of every table here.
var locations = []rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort, rules.Healthy}

// Judged is one case with what was said of it.
type Judged struct {
	Family  string
	Inputs  string // meter, messages or both
	MeterHz float64
	Truth   rules.Location
	Named   rules.Location // undetermined where none reaches the bar
	Shares  map[rules.Location]float64
}

// Score adds up what was judged.
type Score struct {
	N           int
	Right       int // named and true
	Undecided   int
	Wrong       int
	Sure        int // 0.9 or more on one location
	SureWrong   int
	Sound       int // sound machines, and those accused by a named fault
	Accused     int
	Faulty      int
	CalledSound int
	logLoss     float64
	brier       float64
	bins        [10]bin
	confusion   map[[2]rules.Location]int
}

type bin struct {
	n, right int
	said     float64
}

// Add takes one case.
func (s *Score) Add(j Judged) {
	if s.confusion == nil {
		s.confusion = map[[2]rules.Location]int{}
	}
	s.N++
	s.confusion[[2]rules.Location{j.Truth, j.Named}]++
	switch {
	case j.Named == rules.Undetermined:
		s.Undecided++
	case j.Named == j.Truth:
		s.Right++
	default:
		s.Wrong++
	}
	if j.Truth == rules.Healthy {
		s.Sound++
		if j.Named != rules.Healthy && j.Named != rules.Undetermined {
			s.Accused++
		}
	} else {
		s.Faulty++
		if j.Named == rules.Healthy {
			s.CalledSound++
		}
	}
	s.logLoss -= math.Log(max(j.Shares[j.Truth], 1e-6))
	for _, l := range locations {
		hit := 0.0
		if l == j.Truth {
			hit = 1
		}
		p := j.Shares[l]
		s.brier += (p - hit) * (p - hit)
		b := &s.bins[min(int(p*10), 9)]
		b.n++
		b.said += p
		b.right += int(hit)
		if p >= 0.9 {
			s.Sure++
			s.SureWrong += 1 - int(hit)
		}
	}
}

// LogLoss is the mean of -ln of the share given to the truth.
func (s *Score) LogLoss() float64 { return s.logLoss / float64(s.N) }

// Brier is the mean squared error over the four locations: Brier 1950, Mon.
// Weather Rev. 78:1-3.
func (s *Score) Brier() float64 { return s.brier / float64(s.N) }

// CalibrationError is the expected calibration error over ten bins: Naeini,
// Cooper & Hauskrecht 2015, AAAI.
func (s *Score) CalibrationError() float64 {
	sum, n := 0.0, 0
	for _, b := range s.bins {
		sum += math.Abs(b.said - float64(b.right))
		n += b.n
	}
	return sum / float64(n)
}

// Wilson is the 95 % interval of k in n: Wilson 1927, JASA 22:209-212.
func Wilson(k, n int) (low, high float64) {
	if n == 0 {
		return 0, 1
	}
	const z = 1.96
	p, m := float64(k)/float64(n), float64(n)
	middle := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return max(0, middle-half), min(1, middle+half)
}

// Print writes the tables.
func (s *Score) Print(w io.Writer, title string) {
	p := func(format string, args ...any) { _, _ = fmt.Fprintf(w, format+"\n", args...) }
	share := func(name string, k, n int) {
		low, high := Wilson(k, n)
		p("  %-34s %5d of %5d  %5.1f %% (%.1f to %.1f)", name, k, n, 100*float64(k)/float64(max(n, 1)), 100*low, 100*high)
	}
	p("%s: %d cases", title, s.N)
	share("right and named", s.Right, s.N)
	share("left open", s.Undecided, s.N)
	share("wrong", s.Wrong, s.N)
	share("sound machines accused", s.Accused, s.Sound)
	share("faults called healthy", s.CalledSound, s.Faulty)
	share("0.9 and more on a wrong location", s.SureWrong, s.Sure)
	p("  log-loss %.3f, Brier %.3f, calibration error %.3f", s.LogLoss(), s.Brier(), s.CalibrationError())
	p("  truth        named: %s", strings.Join([]string{"before", "at", "behind", "healthy", "open"}, "  "))
	for _, truth := range locations {
		row := fmt.Sprintf("  %-19s", truth)
		for _, named := range append(slices.Clone(locations), rules.Undetermined) {
			row += fmt.Sprintf(" %6d", s.confusion[[2]rules.Location{truth, named}])
		}
		p("%s", row)
	}
	p("  said   cases   came true")
	for _, b := range s.bins {
		if b.n > 0 {
			p("  %.2f  %6d       %.2f", b.said/float64(b.n), b.n, float64(b.right)/float64(b.n))
		}
	}
}
