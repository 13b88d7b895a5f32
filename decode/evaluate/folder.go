package evaluate

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"

	"portside/captures"
	"portside/captures/bench"
	captureline "portside/captures/line"
	"portside/decode/line"
	"portside/decode/rules"
)

// truthFile holds the answer to the recordings beside it.
const truthFile = "truth.json"

// ReadFolder finds the cases of a folder: each folder in it, or itself, that has
// a truth.json with {"location": ...}; the other files in it are its
// recordings. problems are the cases that cannot be judged, with the reason, and
// skipped are files beside a recording that are none, and folders with recordings
// and no truth. The error says that the folder cannot be read, or holds no case.
func ReadFolder(fsys fs.FS) (cases []Case, problems, skipped []error, err error) {
	err = fs.WalkDir(fsys, ".", func(dir string, entry fs.DirEntry, err error) error {
		if err != nil || !entry.IsDir() {
			return err
		}
		if _, err := fs.Stat(fsys, path.Join(dir, truthFile)); err != nil {
			if recordings, _, err := recordingsOf(fsys, dir); err == nil && len(recordings) > 0 {
				skipped = append(skipped, fmt.Errorf("%s: recordings without a %s", dir, truthFile))
			}
			return nil
		}
		c, others, err := readCase(fsys, dir)
		if err != nil {
			problems = append(problems, fmt.Errorf("%s: %w", dir, err))
			return nil
		}
		skipped = append(skipped, others...)
		cases = append(cases, c)
		return nil
	})
	if err == nil && len(cases)+len(problems) == 0 {
		err = fmt.Errorf("no %s in it or below it; a case is a folder with recordings and a %s that says {\"location\": \"behind-port\"}", truthFile, truthFile)
	}
	return cases, problems, skipped, err
}

// reading is how a case's files are read: as the program does without options.
func reading() captures.Options {
	return captures.Options{Line: func(signals []captureline.Signal) captures.LineDecoder { return line.NewMessages(signals, nil) }}
}

func readCase(fsys fs.FS, dir string) (c Case, others []error, err error) {
	answer, err := fsys.Open(path.Join(dir, truthFile))
	if err != nil {
		return Case{}, nil, err
	}
	defer answer.Close() //nolint:errcheck // it was only read
	t, err := bench.ReadTruth(answer)
	if err != nil {
		return Case{}, nil, fmt.Errorf("%s: %w", truthFile, err)
	}
	c = Case{Family: dir, Truth: rules.Location(t.Location)}
	if at := t.Parameters.Meter; at == bench.AtSource || at == bench.AtDevice {
		c.MeterAt = string(at)
	}
	c.files, others, err = recordingsOf(fsys, dir)
	if err != nil {
		return Case{}, nil, err
	}
	if len(c.files) == 0 {
		err := errors.New("no recording beside " + truthFile)
		for _, o := range others {
			err = fmt.Errorf("%w; %w", err, o)
		}
		return Case{}, nil, err
	}
	return c, others, nil
}

// recordingsOf are the recordings in a folder; others are its files that are none.
func recordingsOf(fsys fs.FS, dir string) (files []file, others []error, err error) {
	entries, err := fs.ReadDir(fsys, dir)
	if err != nil {
		return nil, nil, err
	}
	kinds := map[captures.Kind]int{}
	var lines []file // a recording of the line tells the same messages again
	for _, e := range entries {
		if e.IsDir() || e.Name() == truthFile {
			continue
		}
		f := file{name: path.Join(dir, e.Name())}
		f.open = func() (io.ReadCloser, error) { return fsys.Open(f.name) }
		kind, err := kindOf(f)
		if err != nil {
			others = append(others, err)
			continue
		}
		kinds[kind]++
		f.meter = kind == captures.KindMeter
		if kind == captures.KindLine {
			lines = append(lines, f)
			continue
		}
		files = append(files, f)
	}
	if kinds[captures.KindMessages]+kinds[captures.KindPackets] == 0 {
		files = append(files, lines...)
	}
	return files, others, nil
}

// kindOf tells the kind from the content.
func kindOf(f file) (captures.Kind, error) {
	r, err := f.open()
	if err != nil {
		return captures.KindUnknown, err
	}
	defer r.Close() //nolint:errcheck // it was only read
	in, err := captures.Open(f.name, r, reading())
	if err != nil {
		return captures.KindUnknown, err
	}
	return in.Kind(), nil
}
