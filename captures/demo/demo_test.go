package demo

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"flag"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/bench"
)

var update = flag.Bool("update", false, "write the recordings anew from the bench")

// recordedSeed is the seed of every recording that comes with the program.
const recordedSeed = 20

// packAbove is where a file is stored compressed, in bytes.
const packAbove = 16 << 10

// largest is the most that all recordings may take in the program.
const largest = 2 << 20

// simulated is every file of a scenario, as the bench writes it now.
func simulated(t *testing.T, s bench.Scenario) map[string][]byte {
	t.Helper()
	r, err := bench.Simulate(s, recordedSeed)
	require.NoError(t, err)
	out := map[string][]byte{}
	write := func(name string, f func(io.Writer) error) {
		var b bytes.Buffer
		require.NoError(t, f(&b))
		out[name] = b.Bytes()
	}
	write(meterFile, r.WriteMeterCSV)
	write(truthFile, r.WriteTruth)
	if s.Parameters.MessagesRecorded {
		write(messagesFile, r.WriteMessagesCSV)
	}
	return out
}

func TestGolden(t *testing.T) {
	if runtime.GOARCH != "amd64" {
		t.Skip("processors that fuse multiply and add round otherwise, and the last digit of a row may differ")
	}
	if *update {
		require.Empty(t, os.Getenv("CI"), "recordings are not rewritten where CI is set")
		require.NoError(t, os.RemoveAll(root))
	}
	for _, s := range bench.Scenarios() {
		t.Run(s.Name, func(t *testing.T) {
			want := simulated(t, s)
			if *update {
				store(t, filepath.Join(root, s.Name), want)
				return
			}
			got := stored(t, s.Name)
			require.Len(t, got, len(want))
			for name, data := range want {
				assert.True(t, bytes.Equal(data, got[name]), "%s differs from what the bench gives; go test -run TestGolden -update", name)
			}
		})
	}
}

func store(t *testing.T, dir string, files map[string][]byte) {
	t.Helper()
	require.NoError(t, os.MkdirAll(dir, 0o755))
	for name, data := range files {
		if len(data) > packAbove {
			var b bytes.Buffer
			z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
			require.NoError(t, err)
			_, err = z.Write(data)
			require.NoError(t, err)
			require.NoError(t, z.Close())
			name, data = name+packed, b.Bytes()
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o644))
	}
}

// stored reads a recording's files through the program's own door.
func stored(t *testing.T, name string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	files, err := Open(name)
	require.NoError(t, err)
	for _, f := range files {
		data, err := io.ReadAll(f.Data)
		require.NoError(t, err)
		out[strings.TrimPrefix(f.Label, "demo:"+name+"/")] = data
	}
	out[truthFile], err = Truth(name)
	require.NoError(t, err)
	return out
}

func TestEveryScenarioIsListedWithItsFiles(t *testing.T) {
	list := List()
	require.GreaterOrEqual(t, len(list), 12)
	seen := map[string]bool{}
	for _, info := range list {
		assert.False(t, seen[info.Name])
		seen[info.Name] = true
		assert.NotEmpty(t, info.Title)
		assert.NotEmpty(t, info.Story)
		assert.Contains(t, info.Files, meterFile)
		var truth struct {
			Scenario, Location string
			Rules              []string
			Parameters         map[string]any
		}
		data, err := Truth(info.Name)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(data, &truth))
		assert.Equal(t, info.Name, truth.Scenario)
		assert.Equal(t, string(info.Location), truth.Location)
		assert.NotNil(t, truth.Rules)
		assert.NotEmpty(t, truth.Parameters)
	}
}

func TestTheRecordingsStaySmall(t *testing.T) {
	var total int64
	require.NoError(t, fs.WalkDir(recordings, root, func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		total += info.Size()
		return err
	}))
	assert.Less(t, total, int64(largest))
	t.Logf("%d bytes", total)
}

func TestClocksAreNotShared(t *testing.T) {
	// Two loggers never start together: the meter's attach and the first message
	// must not look aligned by their numbers alone.
	for _, s := range bench.Scenarios() {
		if s.Parameters.MessagesRecorded {
			offset := s.Parameters.ClockOffsetS()
			assert.Greater(t, max(offset, -offset), 1.0, s.Name)
		}
	}
}

func TestUnknownNames(t *testing.T) {
	for given, nearest := range map[string]string{
		"sound-chargin":         "sound-charging",
		"Weak-Charger":          "weak-charger",
		"hard-short":            "hard-short-main-rail",
		"resistiv-cabel":        "resistive-cable",
		"../sound-charging":     "sound-charging",
		"sound-charging/":       "sound-charging",
		"recordings":            "",
		"":                      "",
		".":                     "",
		"dead-port-controler":   "dead-port-controller",
		"charger-without-psrdy": "",
	} {
		_, err := Open(given)
		require.ErrorIs(t, err, ErrUnknown, given)
		assert.ErrorContains(t, err, nearest)
		_, err = Truth(given)
		require.ErrorIs(t, err, ErrUnknown, given)
	}
}

func TestOpenTwiceGivesFreshReaders(t *testing.T) {
	for range 2 {
		files, err := Open("sound-charging")
		require.NoError(t, err)
		require.Len(t, files, 2)
		for _, f := range files {
			rows, err := csv.NewReader(f.Data).ReadAll()
			require.NoError(t, err)
			assert.Greater(t, len(rows), 5, f.Label)
		}
	}
}
