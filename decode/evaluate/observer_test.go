package evaluate

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/rules"
)

// Four quarters of a square, one class each, cannot be told by any one feature;
// trees tell them. Where two classes lie in one place each gets a half.
func TestForest(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	var all []example
	for range 2000 {
		x, y := r.Float32(), r.Float32()
		truth := 0
		if x > 0.5 {
			truth++
		}
		if y > 0.5 {
			truth += 2
		}
		all = append(all, example{X: []float32{x, y, r.Float32()}, Truth: truth})
	}
	f := grow(all, 1)
	assert.Greater(t, f.tell([]float32{0.2, 0.2, 0.5})[0], 0.95)
	assert.Greater(t, f.tell([]float32{0.8, 0.2, 0.5})[1], 0.95)
	assert.Greater(t, f.tell([]float32{0.8, 0.8, 0.5})[3], 0.95)

	mixed := make([]example, 400)
	for i := range mixed {
		mixed[i] = example{X: []float32{r.Float32()}, Truth: r.IntN(2)}
	}
	share := grow(mixed, 1).tell([]float32{0.5})
	assert.InDelta(t, 0.5, share[0], 0.25)
	assert.Zero(t, share[2])
}

// What the observer looks at is the same list for each of the inputs, so that a
// feature has one place.
func TestFeaturesHaveOnePlace(t *testing.T) {
	c, err := Draw(11)
	require.NoError(t, err)
	meter, both := observe(c.Run, Meter), observe(c.Run, Both)
	assert.Equal(t, meter.names, both.names)
	assert.Len(t, both.x, len(both.names))
	assert.InDelta(t, -0.13, offNominal(17.4), 1e-6)
	assert.InDelta(t, 0.08, offContract(21.6, 20), 1e-6)
	assert.InDelta(t, -0.2, offContract(5, 20), 0, "no contract")
	assert.InDelta(t, absent, offContract(20, absent), 0)
}

// An observer that has seen a few hundred cases knows a sound machine that
// charges from one whose VBUS never comes.
func TestObserver(t *testing.T) {
	lessons, err := Lessons(Options{Cases: 150, First: 1000, Workers: 2})
	require.NoError(t, err)
	o := NewObserver(lessons)
	right := 0
	for seed := range uint64(30) {
		c, err := Draw(5000 + seed)
		require.NoError(t, err)
		shares, sum := o.Tell(Meter, observe(c.Run, Meter).x), 0.0
		best := locations[0]
		for _, l := range locations {
			sum += shares[l]
			if shares[l] > shares[best] {
				best = l
			}
		}
		assert.InDelta(t, 1, sum, 1e-5)
		if best == c.Truth {
			right++
		}
	}
	assert.Greater(t, right, 12, "four locations, so chance is seven or eight")
}

// A case is told by the others' families alone: here by one that looks different and lies
// elsewhere.
func TestStrange(t *testing.T) {
	require.NotEqual(t, fold("dull"), fold("bright"))
	var lessons []Lesson
	for i := range 200 {
		x := float32(i % 2)
		lessons = append(lessons, Lesson{Family: []string{"dull", "bright"}[i%2], Truth: i % 2, X: map[string][]float32{Meter: {x, float32(i)}}})
	}
	o := NewObserver(lessons)
	own := o.Tell(Meter, []float32{0, 50})
	cases := []Judged{{Family: "dull", Inputs: Meter, seen: []float32{0, 50}}, {Family: "dull", Inputs: Both}}
	o.Strange(cases)
	assert.Greater(t, own[locations[0]], 0.9)
	assert.InDelta(t, 1, cases[0].stranger[locations[1]], 1e-6)
	assert.Nil(t, cases[1].stranger, "nothing was seen of it")
}

// What files leave to one location is counted by the meter's rate too, and from 10 Hz on as one:
// here one of two at 2 Hz, three of three at 10 and 100 Hz, and one at 100 Hz that stays open.
func TestDecidedByRate(t *testing.T) {
	r := newReport()
	for _, c := range []struct {
		hz    float64
		named rules.Location
		sure  float64 // of the observer
	}{{2, rules.AtPort, 1}, {2, rules.BehindPort, 1}, {9.98, rules.AtPort, 0.96}, {100, rules.AtPort, 1}, {100, rules.AtPort, 1}, {100, rules.AtPort, 0.5}} {
		shares := map[rules.Location]float64{rules.AtPort: 0.7, rules.BehindPort: 0.3}
		r.add(Judged{Family: "any", Inputs: Meter, MeterHz: c.hz, Truth: rules.AtPort, Named: c.named, Shares: shares, Reference: map[rules.Location]float64{rules.AtPort: c.sure, rules.BehindPort: 1 - c.sure}})
	}
	var b strings.Builder
	r.printRates(&b)
	_, decided, found := strings.Cut(b.String(), "of them one open")
	require.True(t, found)
	for _, row := range []string{`at 1 to 2 Hz +2 +50 % `, `at 10 to 20 Hz +1 +100 % `, `at 50 to 100 Hz +2 +100 % `, `at 10 Hz and faster +3 +100 % `} {
		assert.Regexp(t, row, decided)
	}
	for line := range strings.Lines(b.String()) {
		assert.LessOrEqual(t, len(strings.TrimRight(line, "\n")), 80, line)
	}
	r = newReport()
	r.add(Judged{Inputs: Meter, MeterHz: 2, Truth: rules.AtPort, Named: rules.AtPort, Shares: map[rules.Location]float64{rules.AtPort: 1}})
	b.Reset()
	r.printRates(&b)
	assert.NotContains(t, b.String(), "of them", "no observer was asked")
}
