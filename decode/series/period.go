package series

// Period is the median distance of the starts, in their units and in ascending
// order, and the median absolute deviation of the distances. ok is false of
// fewer than three starts, which have no period.
func Period(starts []float64) (median, deviation float64, ok bool) {
	if len(starts) < 3 {
		return 0, 0, false
	}
	d := make([]float64, len(starts)-1)
	for i := range d {
		d[i] = starts[i+1] - starts[i]
	}
	median, deviation = MAD(d)
	return median, deviation, true
}
