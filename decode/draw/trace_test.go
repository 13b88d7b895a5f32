package draw

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// No bin reaches over a gap, however often bins were merged, unless gaps are most of
// what there is; and their number is bounded all the same.
func TestGapsLieBetweenBins(t *testing.T) {
	const gapS = 3
	for _, c := range []struct {
		name    string
		between int // samples from one gap to the next
		spared  bool
	}{{"few gaps", 5000, true}, {"some gaps", 700, true}, {"many gaps", 40, false}, {"nothing but gaps", 1, false}} {
		t.Run(c.name, func(t *testing.T) {
			var tr trace
			at := 0.0
			for i := range 200_000 {
				at++
				if i%c.between == 0 {
					at += 10
				}
				tr.add(point{t: at, v: 5, a: 1}, gapS)
			}
			bins := tr.result()
			require.LessOrEqual(t, len(bins), maxBins)
			over, n := 0, 0
			for i, b := range bins {
				n += b.N
				// Samples lie one second apart: a longer bin has a gap inside.
				if b.EndS-b.StartS > float64(b.N-1) {
					over++
				}
				if i > 0 {
					assert.Greater(t, b.StartS, bins[i-1].EndS)
				}
			}
			assert.Equal(t, 200_000, n)
			assert.Equal(t, c.spared, over == 0, "%d bins reach over a gap", over)
			assert.Greater(t, len(bins), maxBins/4)
		})
	}
}
