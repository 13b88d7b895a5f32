// Package demo holds the recordings that come with the program: what the meter
// and the message recorder of the simulated bench wrote, one folder a
// recording, with the truth beside them. All of them happen at one invented
// repair shop.
package demo

import (
	"bytes"
	"compress/gzip"
	"embed"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"

	"github.com/agnivade/levenshtein"

	"portside/captures"
	"portside/captures/bench"
)

//go:embed recordings
var recordings embed.FS

const root = "recordings"

// Files of a recording, in the order they are given.
const (
	messagesFile = "messages.csv"
	meterFile    = "meter.csv"
	truthFile    = "truth.json"
	packed       = ".gz"
)

// ErrUnknown is wrapped by every error about a name that no recording has.
var ErrUnknown = errors.New("no such demo recording")

// Info describes one recording.
type Info struct {
	Name     string
	Title    string
	Story    string
	Files    []string // as Open gives them, without truth.json
	Location bench.Location
}

// File is one file of a recording.
type File struct {
	Label string // what to call it in a report
	Data  io.Reader
}

// List names every recording, in the order of the bench's scenarios.
func List() []Info {
	var out []Info
	for _, s := range bench.Scenarios() {
		files, ok := files(s.Name)
		if !ok {
			continue
		}
		info := Info{Name: s.Name, Title: s.Title, Story: s.Story, Location: s.Location}
		for _, f := range files {
			info.Files = append(info.Files, strings.TrimSuffix(f, packed))
		}
		out = append(out, info)
	}
	return out
}

// files are the recorded files of a name as they are stored, messages first.
func files(name string) (stored []string, ok bool) {
	entries, err := recordings.ReadDir(path.Join(root, name))
	if err != nil || !plain(name) {
		return nil, false
	}
	for _, e := range entries {
		if e.Name() != truthFile {
			stored = append(stored, e.Name())
		}
	}
	slices.Sort(stored)
	return stored, len(stored) > 0
}

// plain tells a recording's name from a path.
func plain(name string) bool { return name != "" && !strings.ContainsAny(name, `/\.`) }

// Open gives the files of a recording, unpacked. An unknown name is an error
// that wraps [ErrUnknown] and names the nearest recording.
func Open(name string) ([]File, error) {
	stored, ok := files(name)
	if !ok {
		return nil, unknown(name)
	}
	var out []File
	for _, f := range stored {
		data, err := read(path.Join(root, name, f))
		if err != nil {
			return nil, fmt.Errorf("demo %s: %w", name, err)
		}
		out = append(out, File{Label: "demo:" + name + "/" + strings.TrimSuffix(f, packed), Data: bytes.NewReader(data)})
	}
	return out, nil
}

// Recording opens all files of a recording as one. Its clocks are as the files
// leave them.
func Recording(name string) (*captures.Recording, error) {
	files, err := Open(name)
	if err != nil {
		return nil, err
	}
	var inputs []captures.RecordingInput
	for _, f := range files {
		in, err := captures.Open(f.Label, f.Data, captures.Options{})
		if err != nil {
			return nil, fmt.Errorf("demo %s: %w", name, err)
		}
		inputs = append(inputs, captures.RecordingInput{Input: in})
	}
	return captures.NewRecording(inputs), nil
}

// Truth gives the answer to a recording, as JSON.
func Truth(name string) ([]byte, error) {
	if _, ok := files(name); !ok {
		return nil, unknown(name)
	}
	return recordings.ReadFile(path.Join(root, name, truthFile))
}

func read(name string) ([]byte, error) {
	data, err := recordings.ReadFile(name)
	if err != nil || !strings.HasSuffix(name, packed) {
		return data, err
	}
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

func unknown(name string) error {
	near := nearest(name)
	if near == "" {
		return fmt.Errorf("%w: %q", ErrUnknown, name)
	}
	return fmt.Errorf("%w: %q; the nearest is %q", ErrUnknown, name, near)
}

// nearest is the recording whose name takes the fewest edits, or that holds
// what was given.
func nearest(name string) string {
	best, fewest := "", 0
	for _, info := range List() {
		edits := levenshtein.ComputeDistance(strings.ToLower(name), info.Name)
		if name != "" && strings.Contains(info.Name, strings.ToLower(name)) {
			edits = 0
		}
		if best == "" || edits < fewest {
			best, fewest = info.Name, edits
		}
	}
	return best
}
