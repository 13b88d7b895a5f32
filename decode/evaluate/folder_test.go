package evaluate_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/evaluate"
	"portside/decode/rules"
)

func TestReadFolder(t *testing.T) {
	file := func(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }
	const log = "time_s,voltage_V,current_A\n0,0,0\n1,5.02,0.004\n2,5.02,0.004\n3,5.02,0.004\n4,5.02,0.004\n5,5.02,0.004\n6,5.02,0.004\n"
	fsys := fstest.MapFS{
		"a/truth.json": file(`{"location":"at-port","parameters":{"meter_at":"device"}}`), "a/meter.csv": file(log),
		"b/truth.json": file(`{"location":"upstairs"}`), "b/meter.csv": file(log),
		"c/truth.json": file(`{"location":"healthy"}`),
		"d/truth.json": file(`{"location":"healthy"}`), "d/note.txt": file("nothing to read"),
		"e/meter.csv":        file(log), // no case
		"f/job 7/truth.json": file(`{"location":"behind-port","parameters":{"meter_at":"left"}}`), "f/job 7/meter.csv": file(log), "f/job 7/note.txt": file("black crust"), "f/job 7/photo.jpg": file("\xff\xd8\xff"),
	}
	cases, problems, skipped, err := evaluate.ReadFolder(fsys)
	require.NoError(t, err)
	require.Len(t, cases, 2)
	assert.Equal(t, rules.AtPort, cases[0].Truth)
	assert.Equal(t, "device", cases[0].MeterAt)
	require.Len(t, problems, 3, "a wrong location, no recording, and a file that is none")
	assert.ErrorContains(t, problems[0], "upstairs")
	assert.ErrorContains(t, problems[1], "no recording")
	assert.Equal(t, "f/job 7", cases[1].Family)
	assert.Empty(t, cases[1].MeterAt, "a word that is none of the two")
	require.Len(t, skipped, 3, "recordings without an answer, a note and a picture")
	assert.ErrorContains(t, skipped[0], "e: recordings without")
	assert.ErrorContains(t, skipped[1], "note.txt")
	assert.ErrorContains(t, skipped[2], "photo.jpg")

	j, _, err := evaluate.Judge(cases[0], evaluate.Meter)
	require.NoError(t, err)
	assert.InDelta(t, 1, j.MeterHz, 1e-9)
	sum := 0.0
	for _, p := range j.Shares {
		sum += p
	}
	assert.InDelta(t, 1, sum, 1e-9)

	_, _, _, err = evaluate.ReadFolder(fstest.MapFS{"x/meter.csv": file(log)})
	assert.ErrorContains(t, err, "no truth.json")
}
