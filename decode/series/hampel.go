package series

import "math"

// Hampel names the values of x, by index, that lie more than t0 robust standard
// deviations off the median of the window of k values on each side: Hampel
// 1974, JASA 69:383-393; Davies & Gather 1993. It replaces none of them, since
// the outlier is often the message. The first and last k values have no full
// window and are never named. floor is the least standard deviation of a
// window, without which every change of a constant stretch is named.
func Hampel(x []float64, k int, t0, floor float64) []int {
	var found []int
	for i := k; i+k < len(x); i++ {
		median, mad := MAD(x[i-k : i+k+1])
		if math.Abs(x[i]-median) > t0*max(MADToSigma*mad, floor) {
			found = append(found, i)
		}
	}
	return found
}
