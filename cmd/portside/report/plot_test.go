package report

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestTickLabel(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want string
	}{
		{math.Copysign(0, -1), "0"},
		{-1e-17, "0"},
		{0.1 + 0.2, "0.3"},
		{-0.5, "-0.5"},
		{20, "20"},
	} {
		assert.Equal(t, c.want, tickLabel(c.v, 4), "%g", c.v)
	}
}
