package line_test

import (
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/line"
)

// parts gives pieces of text one after the other without holding them all.
type parts struct {
	next func() (string, bool)
	rest string
}

func (p *parts) Read(b []byte) (int, error) {
	for p.rest == "" {
		text, ok := p.next()
		if !ok {
			return 0, io.EOF
		}
		p.rest = text
	}
	n := copy(b, p.rest)
	p.rest = p.rest[n:]
	return n, nil
}

// sequence gives each text once, and a repeated one n times.
func sequence(steps ...any) *parts {
	i, done := 0, 0
	return &parts{next: func() (string, bool) {
		for i < len(steps) {
			switch s := steps[i].(type) {
			case string:
				i++
				return s, true
			case repeated:
				if done < s.n {
					done++
					return s.text(done), true
				}
				i, done = i+1, 0
			}
		}
		return "", false
	}}
}

type repeated struct {
	n    int
	text func(i int) string
}

func same(n int, text string) repeated {
	return repeated{n, func(int) string { return text }}
}

// peak is the most memory in use while run reads, in MiB.
func peak(run func(func())) float64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	before, most := m.HeapAlloc, uint64(0)
	run(func() {
		runtime.ReadMemStats(&m)
		most = max(most, m.HeapAlloc)
	})
	runtime.ReadMemStats(&m)
	most = max(most, m.HeapAlloc)
	return float64(most-min(before, most)) / (1 << 20)
}

// TestHostile reads files made to fill the memory. 256 MiB is what a small
// machine can spare; a reader needs under one.
func TestHostile(t *testing.T) {
	const head = "$timescale 1ns $end\n"
	const end = "$enddefinitions $end\n#1 1! #2 0!\n"
	million := func(n int) int { return count(n*1_000_000, n*10_000) }
	tenMB := count(10<<20, 1<<20)
	tests := []struct {
		name    string
		file    *parts
		fails   string
		events  int
		skipped int
	}{
		{name: "10 million signals declared", file: sequence(head, repeated{million(10), func(i int) string { return fmt.Sprintf("$var wire 1 c%d s%d $end\n", i, i) }}, "$var wire 1 ! cc $end\n", end), events: 3},
		{name: "10 million signals named CC", file: sequence(head, repeated{million(10), func(i int) string { return fmt.Sprintf("$var wire 1 c%d cc1 $end\n", i) }}, "$var wire 1 ! cc $end\n", end), events: 1},
		{name: "10 million scopes in one another", file: sequence(head, same(million(10), "$scope module scope $end\n"), "$var wire 1 ! cc $end\n", end), events: 3},
		{name: "a code of 10 MB", file: sequence(head, "$var wire 1 ", same(tenMB, "!"), " cc $end $var wire 1 ! cc $end\n", end), events: 3, skipped: 1},
		{name: "a name of 10 MB", file: sequence(head, "$var wire 1 ! ", same(tenMB, "c"), " $end $var wire 1 ! cc $end\n", end), events: 3, skipped: 1},
		{name: "a scope of 10 MB", file: sequence(head, "$scope module ", same(tenMB, "c"), " $end $var wire 1 ! cc $end\n", end), events: 3},
		{name: "a value of 10 MB", file: sequence(head, "$var wire 1 ! cc $end\n$enddefinitions $end\n#1 1! b", same(tenMB, "0"), " ! #2 0!"), events: 3, skipped: 2},
		{name: "a time of 10 MB", file: sequence(head, "$var wire 1 ! cc $end\n$enddefinitions $end\n#1 1! #", same(tenMB, "0"), " #2 0!"), events: 3, skipped: 1},
		{name: "a comment of 10 million words", file: sequence(head, "$comment ", same(million(10), "word "), "$end $var wire 1 ! cc $end\n", end), events: 3},
		{name: "a comment without end", file: sequence(head, "$comment ", same(million(10), "word ")), fails: "expected a declared signal ($var), found the end of the file"},
		{name: "a timescale without end", file: sequence("$timescale ", same(million(10), "1 ")), fails: "expected a declared signal ($var), found the end of the file"},
		{name: "time going backwards a million times", file: sequence(head, "$var wire 1 ! cc $end\n$enddefinitions $end\n#5 1!\n", same(million(1), "#3 0!\n"), "#6 0!"), events: 3, skipped: 2 * million(1)},
		{name: "one word of 100 MB", file: sequence(same(10*tenMB, "x")), fails: "line 1: expected a Value Change Dump that begins with its definitions, found \"xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx\"..."},
		{name: "zeros", file: sequence(head, "$var wire 1 ! cc $end\n$enddefinitions $end\n#1 1!", same(tenMB, "\x00"), "#2 0!"), events: 3},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			used := peak(func(look func()) {
				v, err := line.NewVCD(tt.file, line.Options{})
				look()
				if tt.fails != "" {
					require.EqualError(t, err, tt.fails)
					return
				}
				require.NoError(t, err)
				assert.Len(t, all(t, v), tt.events)
				assert.Equal(t, tt.skipped, v.Stats().Skipped)
				assert.LessOrEqual(t, len(v.Stats().Problems), line.MaxProblems)
			})
			assert.Less(t, used, 16.0, "MiB")
		})
	}
}

func TestHostileRows(t *testing.T) {
	c, err := line.NewCSV(sequence("0,1\n", same(count(100_000_000, 1_000_000), "9,"), "\n1,0\n"), layoutOf("time_s,cc", ','), line.Options{})
	require.NoError(t, err)
	used := peak(func(func()) { assert.Len(t, all(t, c), 3) })
	assert.Less(t, used, 16.0, "MiB")
	assert.Equal(t, 1, c.Stats().Skipped)
	assert.True(t, strings.Contains(c.Stats().Problems[0].Text, "a row of more than"))
}
