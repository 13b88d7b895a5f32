package series_test

import (
	"fmt"

	"portside/decode/series"
)

func ExamplePELT() {
	x := []float64{0.10, 0.11, 0.10, 0.09, 1.20, 1.21, 1.19, 1.20, 0.40, 0.41, 0.40}
	sigma := series.Floored(series.Sigma(x), series.Resolution(x), 0.001)
	p := series.PELT(series.Of(x), series.Beta(3, sigma, len(x)), 2)
	fmt.Println(p.Cuts())
	// Output: [4 8]
}

func ExamplePeriod() {
	median, deviation, ok := series.Period([]float64{0.50, 1.01, 1.52, 2.03})
	fmt.Printf("%.2f %.2f %v\n", median, deviation, ok)
	// Output: 0.51 0.00 true
}
