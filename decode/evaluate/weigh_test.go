package evaluate_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/evaluate"
)

// Cases are weighed by all that they hold, in whatever batches they are read; one that cannot be read
// is named.
func TestWeigh(t *testing.T) {
	var cases []evaluate.Case
	for seed := range uint64(6) {
		c, err := evaluate.Draw(seed)
		require.NoError(t, err)
		cases = append(cases, c)
	}
	read := 0
	one, err := evaluate.Weigh(cases, evaluate.Options{Workers: 1, Judged: func() { read++ }})
	require.NoError(t, err)
	assert.Equal(t, len(cases), read)
	assert.NotEmpty(t, one)
	four, err := evaluate.Weigh(cases, evaluate.Options{Workers: 4})
	require.NoError(t, err)
	assert.Equal(t, one, four)

	file := func(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }
	fsys := fstest.MapFS{"gone/truth.json": file(`{"location":"healthy"}`), "gone/meter.csv": file("time_s,voltage_V,current_A\n0,5,0\n1,5,0\n")}
	gone, _, _, err := evaluate.ReadFolder(fsys)
	require.NoError(t, err)
	delete(fsys, "gone/meter.csv")
	_, err = evaluate.Weigh(gone, evaluate.Options{})
	assert.ErrorContains(t, err, "gone")
}
