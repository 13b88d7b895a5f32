package draw

type taperFinder struct{ out keep[Taper] }

func (f *taperFinder) init()                         { f.out.size = func(t Taper) float64 { return t.EndS - t.StartS } }
func (f *taperFinder) clone() taperFinder            { return taperFinder{out: f.out.clone()} }
func (f *taperFinder) segment(c cell, sigma float64) {}
func (f *taperFinder) part(sigma float64)            {}
func (f *taperFinder) result(left *int) []Taper      { return f.out.take(left) }
