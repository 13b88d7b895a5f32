package series_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"portside/decode/series"
)

var (
	s2 = []float64{1, 2, 1, 2, 1, 9, 8, 9, 8, 9, 4, 5, 4, 5, 4}
	s3 = []float64{0, 0, 0, 10, 10, 10, 10, 4, 4, 4}
)

// rss is the sum of squared deviations from the mean, told by gonum.
func rss(x []float64) float64 {
	if len(x) < 2 {
		return 0
	}
	return stat.Variance(x, nil) * float64(len(x)-1)
}

func TestPartitionOfKnownSeries(t *testing.T) {
	beta2 := series.Beta(2, series.Sigma(s2), len(s2))
	beta3 := series.Beta(3, series.Sigma(s2), len(s2))
	flow := nile(t)
	assert.InDelta(t, 5.9526, beta2, 5e-5)
	assert.InDelta(t, 8.9289, beta3, 5e-5)
	assert.InDelta(t, 122483.9, series.Beta(2, series.Sigma(flow), 100), 0.05)
	tests := []struct {
		name      string
		x         []float64
		beta      float64
		cuts      []int
		objective float64
		source    string
	}{
		{"two clean steps", s3, 5, []int{3, 7}, 10, "by hand: no deviation is left, two cuts at 5"},
		{"two clean steps, low penalty", s3, 1, []int{3, 7}, 2, "by hand"},
		{"two clean steps, higher penalty", s3, 60, []int{3, 7}, 120, "by hand"},
		{"the smaller step costs more than it saves", s3, 100, []int{3}, 161.714286, "by hand: 4 of 10 and 3 of 4 leave 432/7"},
		{"neither step pays", s3, 200, []int{}, 177.6, "by hand"},
		{"S2 at 2 sigma^2 ln n", s2, beta2, []int{5, 10}, 15.5051, "R strucchange 1.5-3 cuts at 5, 10; residual 3.6"},
		{"S2 at 3 sigma^2 ln n", s2, beta3, []int{5, 10}, 21.4577, "the same"},
		{"S2, one cut", s2, 80, []int{5}, 127.7, "R strucchange: residual 47.7 with one break"},
		{"S2, none", s2, 200, []int{}, 134.4, "R strucchange: residual 134.4 without a break"},
		{"Nile", flow, series.Beta(2, series.Sigma(flow), 100), []int{28}, 1597457.19 + 122483.9, "R strucchange: break at 28 (1898)"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, p := range []series.Partition{
				series.OptimalPartition(series.Of(tt.x), tt.beta, 1),
				series.PELT(series.Of(tt.x), tt.beta, 1),
			} {
				assert.Equal(t, tt.cuts, p.Cuts(), tt.source)
				assert.InDelta(t, tt.objective, p.Objective, 0.06, tt.source)
			}
		})
	}
}

// leastRSS is the least sum of squared deviations with a given number of breaks
// and no segment under least values: Auger & Lawrence 1989, the segment
// neighbourhood search.
func leastRSS(x []float64, breaks, least int) float64 {
	best := make([]float64, len(x)+1)
	for end := range best {
		best[end] = math.Inf(1)
		if end >= least {
			best[end] = rss(x[:end])
		}
	}
	for range breaks {
		next := make([]float64, len(x)+1)
		for end := range next {
			next[end] = math.Inf(1)
			for from := 0; from+least <= end; from++ {
				next[end] = min(next[end], best[from]+rss(x[from:end]))
			}
		}
		best = next
	}
	return best[len(x)]
}

// The figures of R strucchange 1.5-3, breakpoints(y ~ 1), for each number of
// breaks; the penalty that makes exactly so many best lies between the gains.
func TestResidualsByNumberOfBreaks(t *testing.T) {
	tests := []struct {
		name   string
		x      []float64
		least  int
		want   []float64
		within float64
	}{
		{"S2, h = 2", s2, 2, []float64{134.4, 47.7, 3.6, 3.5667, 3.5333, 3.5}, 5e-5},
		{"S2, no least length", s2, 1, []float64{134.4, 47.7, 3.6, 3.4}, 5e-5},
		{"Nile, h = 0.15", nile(t), 15, []float64{2835156.75, 1597457.19, 1552923.62, 1538096.51, 1507888.48, 1659993.50}, 5e-3},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for breaks, want := range tt.want {
				assert.InDelta(t, want, leastRSS(tt.x, breaks, tt.least), tt.within, "%d breaks", breaks)
			}
			for beta := tt.want[0] / 4096; beta < tt.want[0]; beta *= 1.3 {
				p := series.OptimalPartition(series.Of(tt.x), beta, tt.least)
				k := len(p.Cuts())
				if k < len(tt.want) {
					assert.InDelta(t, tt.want[k]+float64(k)*beta, p.Objective, tt.within, "beta %g", beta)
				}
			}
		})
	}
}

// The Bayesian information criterion of R: n (ln(2 pi) + 1 + ln(RSS/n)) and ln n
// for each of 2 (breaks + 1) parameters.
func TestInformationCriterion(t *testing.T) {
	bic := func(x []float64, breaks, least int) float64 {
		n := float64(len(x))
		return n*(math.Log(2*math.Pi)+1+math.Log(leastRSS(x, breaks, least)/n)) + math.Log(n)*float64(2*(breaks+1))
	}
	assert.InDelta(t, 80.8758, bic(s2, 0, 2), 5e-5)
	assert.InDelta(t, 70.7536, bic(s2, 1, 2), 5e-5)
	assert.InDelta(t, 37.4097, bic(s2, 2, 2), 5e-5)
	assert.InDelta(t, 1270.084, bic(nile(t), 1, 15), 5e-4)
}

// bruteForce tries every partition.
func bruteForce(x []float64, beta float64, least int) float64 {
	best := math.Inf(1)
	for mask := range 1 << (len(x) - 1) {
		from, sum, fits := 0, -beta, true
		for i := range x {
			if i < len(x)-1 && mask>>i&1 == 0 {
				continue
			}
			fits = fits && i+1-from >= least
			sum += rss(x[from:i+1]) + beta
			from = i + 1
		}
		if fits {
			best = min(best, sum)
		}
	}
	return best
}

func TestAgainstEveryPartition(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 150 {
		x := make([]float64, 1+r.IntN(13))
		level := 0.0
		for i := range x {
			if r.IntN(4) == 0 {
				level = float64(r.IntN(5))
			}
			x[i] = level + 0.3*r.NormFloat64()
		}
		beta := math.Exp(4*r.Float64() - 2)
		least := 1 + r.IntN(3)
		if len(x) < least {
			continue
		}
		want := bruteForce(x, beta, least)
		require.InDelta(t, want, series.OptimalPartition(series.Of(x), beta, least).Objective, 1e-9, "%v beta %g least %d", x, beta, least)
		require.InDelta(t, want, series.PELT(series.Of(x), beta, least).Objective, 1e-9, "%v beta %g least %d", x, beta, least)
	}
	require.InDelta(t, bruteForce(s2, 5.9526, 1), series.PELT(series.Of(s2), 5.9526, 1).Objective, 1e-9)
}

func TestPELTIsOptimal(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for range 40 {
		x := make([]float64, 300)
		level := 0.0
		for i := range x {
			if r.IntN(20) == 0 {
				level = 5 * r.Float64()
			}
			x[i] = level + r.NormFloat64()
		}
		least := 1 + r.IntN(4)
		beta := series.Beta(2, 1, len(x))
		exact, pruned := series.OptimalPartition(series.Of(x), beta, least), series.PELT(series.Of(x), beta, least)
		require.InDelta(t, exact.Objective, pruned.Objective, 1e-7)
		require.Equal(t, exact.Ends, pruned.Ends)
	}
}

// A run of equal values taken as one entry is cut like the values themselves.
func TestMomentsStandForTheirValues(t *testing.T) {
	var m []series.Moments
	for i := 0; i < len(s3); {
		j := i
		for j < len(s3) && s3[j] == s3[i] {
			j++
		}
		n := float64(j - i)
		m = append(m, series.Moments{N: n, Sum: n * s3[i], Squares: n * s3[i] * s3[i]})
		i = j
	}
	p := series.PELT(m, 100, 1)
	assert.Equal(t, []int{1, 3}, p.Ends)
	assert.InDelta(t, series.PELT(series.Of(s3), 100, 1).Objective, p.Objective, 1e-9)
}

func TestPartitionOfLittle(t *testing.T) {
	assert.Empty(t, series.PELT(nil, 1, 1).Ends)
	assert.Empty(t, series.PELT(nil, 1, 1).Cuts())
	assert.Equal(t, []int{1}, series.PELT(series.Of([]float64{7}), 1, 1).Ends)
	assert.Equal(t, []int{2}, series.PELT(series.Of([]float64{7, 9}), 0.1, 3).Ends, "shorter than the least segment")
}

func TestOffsetDoesNotCancel(t *testing.T) {
	x := make([]float64, len(s2))
	for i := range x {
		x[i] = s2[i]*1e-3 + 1e5
	}
	assert.Equal(t, []int{5, 10}, series.PELT(series.Of(x), 5.9526e-6, 1).Cuts())
}

func BenchmarkPELT(b *testing.B) {
	r := rand.New(rand.NewPCG(9, 10))
	x := make([]float64, 4096)
	for i := range x {
		x[i] = float64(i/50%7) + 0.1*r.NormFloat64()
	}
	m := series.Of(x)
	b.ReportAllocs()
	for b.Loop() {
		series.PELT(m, series.Beta(3, 0.1, len(x)), 2)
	}
}
