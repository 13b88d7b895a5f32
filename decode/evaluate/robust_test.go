package evaluate_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/captures/bench"
	"portside/decode/evaluate"
)

var perFamily = flag.Int("perfamily", 1, "cases of each family that are changed and judged again")

// changes leave a case what it was.
var changes = []struct {
	name   string
	change func(r *bench.Run)
}{
	{"twice the rate thrown away", func(r *bench.Run) {
		var kept []captures.Sample
		for i, s := range r.Rows {
			if i%2 == 0 {
				kept = append(kept, s)
			}
		}
		r.Rows = kept
	}},
	{"an hour later", func(r *bench.Run) {
		for i := range r.Rows {
			r.Rows[i].At += time.Hour
		}
		for i := range r.Messages {
			r.Messages[i].At += time.Hour
			r.Messages[i].End += time.Hour
		}
	}},
	{"the first rows cut", func(r *bench.Run) { r.Rows = r.Rows[quietRows(r.Rows):] }},
	{"the end cut by a twentieth", func(r *bench.Run) { r.Rows = r.Rows[:len(r.Rows)*19/20] }},
	{"1 % more noise", func(r *bench.Run) {
		p, random := r.Scenario.Parameters, rand.New(rand.NewPCG(1, 2))
		for i := range r.Rows {
			r.Rows[i].Amps += 0.14 * p.MeterNoiseA * random.NormFloat64() // adds in squares: 1 % in all
			r.Rows[i].Volts += 0.14 * p.MeterNoiseV * random.NormFloat64()
		}
	}},
	{"1 % of the reading as noise", func(r *bench.Run) {
		random := rand.New(rand.NewPCG(5, 6))
		for i := range r.Rows {
			r.Rows[i].Amps *= 1 + 0.01*random.NormFloat64()
			r.Rows[i].Volts *= 1 + 0.01*random.NormFloat64()
		}
	}},
	{"a twentieth of the rows lost", func(r *bench.Run) {
		random := rand.New(rand.NewPCG(3, 4))
		r.Rows = slices.DeleteFunc(r.Rows, func(captures.Sample) bool { return random.Float64() < 0.05 })
	}},
}

// quietRows is up to a twentieth of the rows, as long as nothing has happened
// yet.
func quietRows(rows []captures.Sample) int {
	for i := range rows[:len(rows)/20] {
		if rows[i].Volts > 0.5 {
			return max(i-3, 0)
		}
	}
	return len(rows) / 20
}

// TestRobust changes what does not matter, in cases of every family, and holds
// how often a location moves by more than 0.1.
func TestRobust(t *testing.T) {
	moved, n := map[string]int{}, 0
	for _, f := range bench.Families() {
		for k := range *perFamily {
			seed := uint64(7000 + k)
			was := judge(t, f, seed, nil)
			n++
			for _, c := range changes {
				is := judge(t, f, seed, c.change)
				most := 0.0
				for l, p := range was.Shares {
					most = max(most, math.Abs(p-is.Shares[l]))
				}
				if most > 0.1 {
					moved[c.name]++
					if testing.Verbose() {
						fmt.Printf("%-28s %-26s at %5.0f Hz: %.2f %s %.2f, now %s %.2f\n", c.name, f.Name, was.MeterHz, most, was.Named, was.Shares[was.Named], is.Named, is.Shares[is.Named])
					}
				}
			}
		}
	}
	for _, c := range changes {
		t.Logf("%s: moves %d of %d", c.name, moved[c.name], n)
		assert.LessOrEqual(t, moved[c.name], n/4, c.name) // half the rate takes short pulses away
	}
	assert.Zero(t, moved["an hour later"])
}

func judge(t *testing.T, f bench.Family, seed uint64, change func(*bench.Run)) evaluate.Judged {
	t.Helper()
	run, err := bench.Simulate(f.Draw(seed), seed)
	require.NoError(t, err)
	if change != nil {
		change(run)
	}
	inputs := evaluate.Both
	if len(run.Messages) == 0 || !run.Scenario.Parameters.MessagesRecorded {
		inputs = evaluate.Meter
	}
	j, _, err := evaluate.Judge(evaluate.Simulated(f.Name, run), inputs)
	require.NoError(t, err)
	return j
}
