package draw_test

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/draw"
)

// cyclerRow is one row of a battery cycler's log. Source and licence:
// testdata/series/README.md.
type cyclerRow struct {
	at   float64
	v, a float64
	step string // label of the step, where the log has one
}

func cyclerRows(t *testing.T, file string, names [3]string) []cyclerRow {
	t.Helper()
	f, err := os.Open("../../testdata/series/" + file)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	column := func(name string) int { return slices.Index(all[0], name) }
	number := func(row []string, name string) float64 {
		x, err := strconv.ParseFloat(row[column(name)], 64)
		require.NoError(t, err)
		return x
	}
	var out []cyclerRow
	for _, row := range all[1:] {
		r := cyclerRow{at: number(row, names[0]), a: number(row, names[1]), v: number(row, names[2])}
		if i := column("step_index"); i >= 0 {
			r.step = row[i]
		}
		out = append(out, r)
	}
	first := out[0].at
	for i := range out {
		out[i].at -= first
	}
	return out
}

func feed(rows []cyclerRow) *draw.Result {
	an := draw.New(draw.Options{})
	for i, r := range rows {
		an.Add(&captures.Sample{At: time.Duration(r.at * 1e9), Volts: r.v, Amps: r.a, Line: i + 2})
	}
	return an.Result()
}

// bounds are the times at which the result says that one thing ended and
// another began.
func bounds(r *draw.Result) []float64 {
	var out []float64
	for _, p := range r.Plateaus {
		out = append(out, p.StartS, p.EndS)
	}
	for _, p := range r.Tapers {
		out = append(out, p.StartS, p.EndS)
	}
	return out
}

func TestLabelledStepsAreFound(t *testing.T) {
	rows := cyclerRows(t, "cell-cycler-labelled-steps.csv", [3]string{"test_time", "current", "voltage"})
	require.Len(t, rows, 2165)
	r := feed(rows)
	found := bounds(r)
	labelled := 0
	for i := 1; i < len(rows); i++ {
		if rows[i].step == rows[i-1].step {
			continue
		}
		labelled++
		low, high := rows[max(0, i-2)].at-1e-6, rows[min(len(rows)-1, i+2)].at+1e-6
		assert.True(t, slices.ContainsFunc(found, func(at float64) bool { return at >= low && at <= high }), "step %s at row %d, %g s", rows[i].step, i, rows[i].at)
	}
	assert.Equal(t, 19, labelled)
	assert.Empty(t, r.Staircases)
	assert.Empty(t, r.Pulses)
}

// A cell held at 4.1 V: the current falls from 6.958 to 0.773 A in 1680 s,
// and the regression of its logarithm on time gives 807 s over the 57 rows.
func TestConstantVoltageTaper(t *testing.T) {
	r := feed(cyclerRows(t, "cell-cycler-labelled-steps.csv", [3]string{"test_time", "current", "voltage"}))
	require.NotEmpty(t, r.Tapers)
	first := r.Tapers[0]
	require.NotNil(t, first.TauS)
	require.NotNil(t, first.TauU)
	assert.InDelta(t, 807, *first.TauS, 15)
	assert.InDelta(t, 6.958, first.FromA, 0.01)
	assert.InDelta(t, 0.773, first.ToA, 0.05)
	assert.InDelta(t, 1680, first.EndS-first.StartS, 60)
}

// A cycler that goes from 6.6 A over one row near zero to 1.1 A: two changes,
// though the cell's voltage drifts and time stamps come in pairs.
func TestTwoChanges(t *testing.T) {
	rows := cyclerRows(t, "cell-cycler-two-steps.csv", [3]string{"Test_Time", "Current", "Voltage"})
	require.Len(t, rows, 287)
	r := feed(rows)
	require.Len(t, r.Plateaus, 3)
	assert.InDelta(t, 6.600, *r.Plateaus[0].CurrentA, 0.001)
	assert.InDelta(t, 1.100, *r.Plateaus[2].CurrentA, 0.001)
	assert.Empty(t, r.Spikes)
	assert.Empty(t, r.Tapers)
	assert.Empty(t, r.Pulses)
}

// A charge that ends with current still flowing steps to what the machine takes by itself,
// over one row of a meter that averages. The 600 s after it are no part of the fall,
// wherever in the row the step lies.
func TestTaperThatEndsInAStep(t *testing.T) {
	const tau, rest, fall = 2379.0, 0.098, 5936.0
	chance := rand.New(rand.NewPCG(2, 3))
	for part := range 20 {
		held := 306 + float64(part)/20
		f := func(t float64) float64 {
			switch {
			case t < held:
				return 1.47
			case t < held+fall:
				return rest + (1.47-rest)*math.Exp(-(t-held)/tau)
			}
			return rest
		}
		r := rows(6842, 1, func(t float64) (float64, float64) {
			sum := 7e-5 * chance.NormFloat64()
			for k := range 20 {
				sum += f(t-0.025-0.05*float64(k)) / 20
			}
			return 20, math.Round(sum*1e4) / 1e4
		}).Result()
		q := r.Measured.TaperTauS
		require.NotNil(t, q)
		assert.InDelta(t, tau, q.Value, 0.001*tau, "held %g s", held)
		require.Len(t, r.Tapers, 1)
		assert.InDelta(t, held+fall, r.Tapers[0].EndS, 5)
	}
}

// A deep-discharged pack from precharge to full: 0.22 A, 2.4 A, a fall to a twentieth of
// it, and what the machine takes (common practice), by instants and by means.
func TestProfileOfAWholeCharge(t *testing.T) {
	amps := func(t float64) float64 {
		switch {
		case t < 7:
			return 0.01
		case t < 137.4:
			return 0.22
		case t < 800:
			return 2.4
		case t < 2600:
			return 0.03 + 2.37*math.Exp(-(t-800)/600)
		}
		return 0.03
	}
	for _, parts := range []int{1, 20} {
		r := rows(3300, 1, noisy(2, func(t float64) (float64, float64) {
			sum := 0.0
			for k := range parts {
				sum += amps(t - float64(k)/float64(parts))
			}
			a := sum / float64(parts)
			return 20.1 - 0.1*a, a
		})).Result()
		var phases []string
		for _, p := range r.Profile {
			phases = append(phases, p.Phase)
		}
		assert.Equal(t, []string{"precharge", "constant-current", "constant-voltage", "full"}, phases, "means of %d", parts)
	}
}
