package draw

type stairFinder struct{ out keep[Staircase] }

func (f *stairFinder) init()                            { f.out.size = func(s Staircase) float64 { return float64(s.Steps) } }
func (f *stairFinder) clone() stairFinder               { return stairFinder{out: f.out.clone()} }
func (f *stairFinder) segment(c cell, sigma, q float64) {}
func (f *stairFinder) part()                            {}
func (f *stairFinder) result(left *int) []Staircase     { return f.out.take(left) }
