package series

import "math"

// DTW is the distance of a and b by dynamic time warping, the sum of |a-b| over
// the cheapest path of steps that moves on in a, in b or in both: Sakoe & Chiba
// 1978, IEEE Trans. ASSP 26(1):43-49. band is how far the path may leave the
// straight way from corner to corner, as a share of the longer series; 0 or less is no
// band. It hides differences of duration by design. ok is false where one
// series is empty.
func DTW(a, b []float64, band float64) (distance float64, ok bool) {
	if len(a) == 0 || len(b) == 0 {
		return 0, false
	}
	// A band narrower than the slope of the diagonal would leave no path.
	pace := float64(len(b)) / float64(len(a))
	width := max(band*float64(max(len(a), len(b))), pace, 1)
	if band <= 0 {
		width = math.Inf(1)
	}
	last, next := infinite(len(b)+1), infinite(len(b)+1)
	last[0] = 0
	for i := range a {
		next[0] = math.Inf(1)
		centre := (float64(i)+0.5)*pace - 0.5
		for j := range b {
			next[j+1] = math.Inf(1)
			if math.Abs(float64(j)-centre) <= width {
				next[j+1] = math.Abs(a[i]-b[j]) + min(last[j], last[j+1], next[j])
			}
		}
		last, next = next, last
	}
	return last[len(b)], true
}

func infinite(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Inf(1)
	}
	return x
}
