package draw_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestRejoins: a source begins at vSafe5V, and offers after 100 ms at the least (tTypeCSendSourceCap:
// USB PD R3.2 V1.1 table 6.68), so that VBUS is seen at 5 V before any contract.
func TestRejoins(t *testing.T) {
	const atS = 2.0
	for name, c := range map[string]struct {
		everyS, offS, leftV, fiveS, backV float64
		count                             int
	}{
		"gone for 0.2 s":            {0.02, 0.2, 0, 0, 15, 1},
		"1.8 V are left":            {0.02, 0.2, 1.8, 0, 15, 1},
		"in rows of a millisecond":  {0.001, 0.2, 0, 0, 15, 1},
		"by way of 5 V":             {0.02, 0.8, 0, 0.15, 15, 0},
		"in rows of a tenth":        {0.1, 0.5, 0, 0, 15, 0},
		"gone for 6 s":              {0.02, 6, 0, 0, 15, 0},
		"back at another contract":  {0.02, 0.2, 0, 0, 9, 0},
		"a row that the meter lost": {0.02, 0.015, 0, 0, 15, 0},
	} {
		r := drawn(c.everyS, 12, func(at float64) (float64, float64) {
			switch s := at - atS; {
			case s < 0:
				return 15, 0.5
			case s < c.offS:
				return c.leftV, 0
			case s < c.offS+c.fiveS:
				return 5.1, 0.01
			}
			return c.backV, 0.5
		}).Rejoins
		assert.Equal(t, c.count, r.Count, name)
		if c.count > 0 {
			assert.InDelta(t, atS+c.offS, r.FirstS, 0.021, name)
		}
	}
}
