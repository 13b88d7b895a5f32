package main

import (
	"strconv"
	"strings"
	"time"

	"portside/captures"
)

// shift is one --shift: seconds to add to the times of a kind of input, or of
// the N-th file.
type shift struct {
	kind string // "" where n is meant
	n    int    // from 1
	by   time.Duration
}

func parseShifts(given []string) ([]shift, error) {
	const want = "expected meter=SECONDS, messages=SECONDS, pcapng=SECONDS, line=SECONDS or N=SECONDS for the N-th file"
	var out []shift
	for _, g := range given {
		name, value, ok := strings.Cut(g, "=")
		by, err := parseSeconds(value)
		if !ok || err != nil {
			return nil, usage("--shift %s: %s, such as meter=1.25", g, want)
		}
		if by > captures.MaxTime || by < -captures.MaxTime {
			return nil, usage("--shift %s: %s", g, captures.ErrShift)
		}
		x := shift{by: by}
		switch n, err := strconv.Atoi(name); {
		case name == "meter" || name == "messages" || name == "pcapng" || name == "line":
			x.kind = name
		case err == nil && n >= 1:
			x.n = n
		default:
			return nil, usage("--shift %s: %s", g, want)
		}
		out = append(out, x)
	}
	return out, nil
}

// shifted is the n-th input (from 1) with its shift.
func shifted(in *captures.Input, shifts []shift, n int) captures.RecordingInput {
	out := captures.RecordingInput{Input: in}
	if by, ok := of(shifts, n, in.Kind().String()); ok {
		out.Shift = &by
	}
	return out
}

// of returns the shift of the n-th input (from 1), the file's own before its
// kind's, the last one given before earlier ones.
func of(shifts []shift, n int, kind string) (by time.Duration, ok bool) {
	for _, x := range shifts {
		if x.kind == kind {
			by, ok = x.by, true
		}
	}
	for _, x := range shifts {
		if x.n == n {
			by, ok = x.by, true
		}
	}
	return by, ok
}
