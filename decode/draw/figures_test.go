package draw_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Half of the rows at 5 V and 10 mA, then 20 V with 1 A in each second second, of which the first
// row of a hundred lies at 16 V. The scatter of two values that are as frequent is half of what lies
// between them.
func TestFigures(t *testing.T) {
	r := rows(20_000, 0.001, func(t float64) (float64, float64) {
		second := int(t + 1e-6)
		switch row := int(math.Round(1000*t)) % 1000; {
		case second < 10:
			return 5, 0.01
		case second%2 == 0:
			return 20, 0.02
		case row < 20:
			return 16, 1.02
		default:
			return 20, 1.02
		}
	}).Result()
	g := r.Figures
	require.NotNil(t, g)
	assert.InDelta(t, 0.02, g.UsualA, 1e-9, "half lies at 10 mA, and the next row above it")
	assert.InDelta(t, 1.02, g.MostA, 1e-9)
	assert.InDelta(t, 0.01, *g.At5A, 1e-9)
	assert.InDelta(t, 0.5, *g.SpreadA, 0.001)
	assert.InDelta(t, 1, *g.Dip, 1e-9, "100 rows of 10,000 are 1 in 100, and this is the one above")
	assert.Equal(t, 5, g.Starts, "11, 13, 15, 17 and 19 s")
	assert.InDelta(t, 0, *g.Uneven, 1e-6)
	assert.InDelta(t, 0.999, *g.SinceS, 1e-6, "19 s to the last row")
}

func TestFiguresOfUnevenStarts(t *testing.T) {
	at := []float64{1, 2, 5} // 1 s and 3 s apart: 2 s, and a deviation of the root of two
	g := rows(8000, 0.001, func(t float64) (float64, float64) {
		for _, from := range at {
			if t >= from-1e-9 && t < from+0.1 {
				return 20, 0.5
			}
		}
		return 20, 0.08 // no rest: nothing ends above 50 mA
	}).Result().Figures
	assert.Equal(t, 1, g.Starts, "80 mA are no rest")
	assert.Nil(t, g.Uneven)
	g = rows(8000, 0.001, func(t float64) (float64, float64) {
		for _, from := range at {
			if t >= from-1e-9 && t < from+0.1 {
				return 15, 0.5
			}
		}
		return 20, 0.01
	}).Result().Figures
	assert.Equal(t, 3, g.Starts)
	two := rows(8000, 0.001, func(t float64) (float64, float64) {
		if t >= 1 && t < 1.1 || t >= 2 && t < 2.1 {
			return 20, 0.5
		}
		return 20, 0.01
	}).Result().Figures
	assert.Equal(t, 2, two.Starts)
	assert.Nil(t, two.Uneven, "one time between them scatters by nothing that is known")
	assert.InDelta(t, math.Sqrt2/2, *g.Uneven, 0.001)
	assert.InDelta(t, 2.999, *g.SinceS, 1e-6)
	assert.InDelta(t, 0.75, *g.Dip, 1e-9, "300 rows of 8,000 at 15 V")
	assert.Nil(t, g.At5A)
}

// What was not recorded is unknown, and not nothing.
func TestFiguresOfLittle(t *testing.T) {
	g := rows(100, 0.01, func(float64) (float64, float64) { return 0, 0 }).Result().Figures
	require.NotNil(t, g)
	assert.Zero(t, g.UsualA)
	assert.Zero(t, g.Starts)
	for _, x := range []*float64{g.Dip, g.SpreadA, g.At5A, g.Uneven, g.SinceS} {
		assert.Nil(t, x)
	}
	assert.Nil(t, rows(100, 0.01, func(float64) (float64, float64) { return math.NaN(), 1 }).Result().Figures)
	assert.Nil(t, rows(0, 0.01, nil).Result().Figures)
}
