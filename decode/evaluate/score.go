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
	// Reference is what the observer says of the same files; nil where none was
	// asked.
	Reference map[rules.Location]float64
	seen      []float32                  // what the observer looks at
	stranger  map[rules.Location]float64 // what it says without having seen the family
}

// open lists what the files leave open, by the observer.
func (j Judged) open() []rules.Location {
	var out []rules.Location
	for _, l := range locations {
		if j.Reference[l] >= openFrom {
			out = append(out, l)
		}
	}
	return out
}

// openFrom is the share from which a location counts as open.
const openFrom = 0.05

// surely is the share that counts as sure.
const surely = 0.9

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
	Decided     *Score  // cases whose files leave one location open; nil without an observer
	Open        int     // cases whose files leave more open
	OpenInside  float64 // sum of the mass inside the open set
	OpenSure    int     // 0.9 or more on one of its members
	logLoss     float64
	logLoss2    float64 // sum of squares
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
	loss := -math.Log(max(j.Shares[j.Truth], 1e-6))
	s.logLoss += loss
	s.logLoss2 += loss * loss
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
		if p >= surely {
			s.Sure++
			s.SureWrong += 1 - int(hit)
		}
	}
}

// AddReferred takes one case with what the observer said of it.
func (s *Score) AddReferred(j Judged) {
	s.Add(j)
	if j.Reference == nil {
		return
	}
	if s.Decided == nil {
		s.Decided = &Score{}
	}
	open := j.open()
	if len(open) < 2 {
		s.Decided.Add(j)
		return
	}
	s.Open++
	sure := 0
	for _, l := range open {
		s.OpenInside += j.Shares[l]
		if j.Shares[l] >= surely {
			sure = 1
		}
	}
	s.OpenSure += sure
}

// LogLossError is the standard error of LogLoss.
func (s *Score) LogLossError() float64 {
	n := float64(s.N)
	return math.Sqrt(max(s.logLoss2/n-s.LogLoss()*s.LogLoss(), 0) / n)
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
	share := shares(w)
	p("%s: %d cases", title, s.N)
	share("right and named", s.Right, s.N)
	share("left open", s.Undecided, s.N)
	share("wrong", s.Wrong, s.N)
	share("sound machines accused", s.Accused, s.Sound)
	share("faults called healthy", s.CalledSound, s.Faulty)
	share("0.9 and more on a wrong location", s.SureWrong, s.Sure)
	p("  log-loss %.3f +- %.3f, Brier %.3f, calibration error %.3f", s.LogLoss(), 2*s.LogLossError(), s.Brier(), s.CalibrationError())
	if d := s.Decided; d != nil {
		share("files leave one location open", d.N, s.N)
		share("  of them right and named", d.Right, d.N)
		share("  of them wrong", d.Wrong, d.N)
		if d.N > 0 {
			p("    log-loss %.3f +- %.3f, calibration error %.3f", d.LogLoss(), 2*d.LogLossError(), d.CalibrationError())
		}
		if s.Open > 0 {
			p("  of the others: mass inside the open set %.1f %%", 100*s.OpenInside/float64(s.Open))
			share("  0.9 and more on one member", s.OpenSure, s.Open)
		}
	}
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
			low, high := Wilson(b.right, b.n)
			p("  %.2f  %6d       %.2f (%.2f to %.2f)", b.said/float64(b.n), b.n, float64(b.right)/float64(b.n), low, high)
		}
	}
}

// shares writes a count of cases with its bounds.
func shares(w io.Writer) func(name string, k, n int) {
	return func(name string, k, n int) {
		if n == 0 {
			_, _ = fmt.Fprintf(w, "  %-34s %5d of %5d      -\n", name, k, n)
			return
		}
		low, high := Wilson(k, n)
		_, _ = fmt.Fprintf(w, "  %-34s %5d of %5d  %5.1f %% (%.1f to %.1f)\n", name, k, n, 100*float64(k)/float64(n), 100*low, 100*high)
	}
}
