package series

// CUSUM watches a series for a lasting shift of its mean: Page 1954,
// Biometrika 41:100-115. Set the three fields, then Add each value.
type CUSUM struct {
	Target float64 // mean in control
	K      float64 // allowance, half of the shift to be found
	H      float64 // decision interval

	upper, lower float64
}

// Add takes the next value and returns both sums. It reports an alarm where
// one of them has reached H; it never resets itself.
func (c *CUSUM) Add(x float64) (upper, lower float64, alarm bool) {
	c.upper = max(0, x-(c.Target+c.K)+c.upper)
	c.lower = max(0, (c.Target-c.K)-x+c.lower)
	return c.upper, c.lower, c.upper >= c.H || c.lower >= c.H
}

// Reset begins again after an alarm.
func (c *CUSUM) Reset() { c.upper, c.lower = 0, 0 }
