package draw

// Figures are plain statistics of the rows that have both quantities. nil is unknown.
type Figures struct {
	UsualA  float64 // the middle row's draw
	MostA   float64
	Dip     *float64 // what VBUS above 5 V is below in one row of a hundred, as a share of the middle row's
	SpreadA *float64 // standard deviation of the draw there
	At5A    *float64 // the middle row's draw at 5 V
	Starts  int      // of a draw after one that is as good as none
	Uneven  *float64 // standard deviation of the time between starts, as a share of its mean
	SinceS  *float64 // from the last start to the end
}

// Common practice.
const (
	figuresFrom = 0.1 // A: a draw starts,
	figuresRest = 0.05
	dipShare    = 0.01
)

// figureFinder takes the figures.
type figureFinder struct {
	draw, at5   histogram
	volts       histogram // above 5 V
	above       sums      // of the draw there
	mostA, last float64
	drawing     bool
	starts      int
	startS      float64
	apart       sums // of the times from start to start
}

// sums of a quantity.
type sums struct {
	n            int
	sum, squares float64
}

func (s *sums) add(x float64) {
	s.n++
	s.sum += x
	s.squares += x * x
}

func (s *sums) deviation() float64 { return deviation(s.n, s.sum, s.squares) }

func (f *figureFinder) clone() finder {
	c := *f
	return &c
}

func (f *figureFinder) addChunk(c *chunk, n *noise) {
	for _, p := range c.samples {
		f.add(p, n)
	}
}

// add takes a sample with both quantities.
func (f *figureFinder) add(p point, _ *noise) {
	if f.draw.n == 0 || p.a > f.mostA {
		f.mostA = p.a
	}
	f.last = p.t
	f.draw.add(p.a)
	switch {
	case p.v >= slideFromV:
		f.volts.add(p.v)
		f.above.add(p.a)
	case p.v >= FiveFrom:
		f.at5.add(p.a)
	}
	switch {
	case !f.drawing && p.a > figuresFrom:
		if f.starts > 0 {
			f.apart.add(p.t - f.startS)
		}
		f.drawing, f.startS = true, p.t
		f.starts++
	case p.a < figuresRest:
		f.drawing = false
	}
}

func (f *figureFinder) result(r *Result, _ *int) {
	if f.draw.n == 0 {
		return
	}
	g := Figures{UsualA: f.draw.median(), MostA: f.mostA, Starts: f.starts}
	if f.volts.n > 0 {
		g.Dip = new(f.volts.quantile(dipShare) / f.volts.median())
	}
	if f.above.n > 1 {
		g.SpreadA = new(f.above.deviation())
	}
	if f.at5.n > 0 {
		g.At5A = new(f.at5.median())
	}
	if f.starts > 0 {
		g.SinceS = new(f.last - f.startS)
	}
	if f.apart.n > 1 {
		g.Uneven = new(f.apart.deviation() * float64(f.apart.n) / f.apart.sum)
	}
	r.Figures = &g
}
