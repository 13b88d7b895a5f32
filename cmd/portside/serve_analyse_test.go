package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"io"
	"net/http"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/cmd/portside/site"
)

func siteFile(name, content string) site.File {
	return site.File{Name: name, Open: func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(content)), nil }}
}

func packedText(t *testing.T, content string) string {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, err := io.WriteString(w, content)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	return b.String()
}

// What the page refuses, and with which status.
func TestAnalyseRefuses(t *testing.T) {
	const limit = 100_000
	meter := "time_s,voltage_v,current_a\n0,5,0\n1,5,0\n2,5,0\n"
	bomb := packedText(t, meter+strings.Repeat("3,5,0\n", 50_000))
	spoilt := packedText(t, meter+strings.Repeat("x,5,0\n", 200)+strings.Repeat("3,5,0\n", 50_000))
	cases := []struct {
		name   string
		file   site.File
		q      site.Question
		status int
		says   string
	}{
		{"unpacks to too much", siteFile("a.csv.gz", bomb), site.Question{}, http.StatusRequestEntityTooLarge, ""},
		{"unpacks to too much after many damaged rows", siteFile("a.csv.gz", spoilt), site.Question{}, http.StatusRequestEntityTooLarge, ""},
		{"unpacks to too much before a row", siteFile("a.gz", packedText(t, strings.Repeat(" ", 1<<20))), site.Question{}, http.StatusRequestEntityTooLarge, ""},
		{"empty", siteFile("a.csv", ""), site.Question{}, http.StatusUnprocessableEntity, "a.csv: it is empty"},
		{"binary", siteFile("a.csv", "\x00\x01"), site.Question{}, http.StatusUnprocessableEntity, "binary"},
		{"heading only", siteFile("a.csv", "time_s,voltage_v,current_a\n"), site.Question{}, http.StatusUnprocessableEntity, "a.csv"},
		{"no time", siteFile("a.csv", meter), site.Question{From: "soon"}, http.StatusUnprocessableEntity, "expected seconds"},
		{"ends before it begins", siteFile("a.csv", meter), site.Question{From: "2", To: "1"}, http.StatusUnprocessableEntity, "before its start"},
		{"nothing in the part", siteFile("a.csv", meter), site.Question{From: "9"}, http.StatusUnprocessableEntity, "goes from 0 to 2 s"},
		{"a place no meter sits at", siteFile("a.csv", meter), site.Question{MeterAt: "\x1b[31m"}, http.StatusUnprocessableEntity, `\x1b`},
		{"columns that are none", siteFile("a.csv", meter), site.Question{Columns: "nonsense"}, http.StatusUnprocessableEntity, "columns"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := analyse(context.Background(), []site.File{c.file}, c.q, limit)
			var no *site.Refusal
			require.ErrorAs(t, err, &no)
			assert.Equal(t, c.status, no.Status, no.Message)
			assert.Contains(t, no.Message, c.says)
		})
	}
}

func TestAnalyseTakesThePart(t *testing.T) {
	meter := siteFile("a.csv", "time_s,voltage_v,current_a\n0,5,0\n1,5,0\n2,5,0\n3,5,0\n")
	d, err := analyse(context.Background(), []site.File{meter}, site.Question{From: "1", To: "2000ms"}, 1<<20)
	require.NoError(t, err)
	assert.Equal(t, 2, d.Draw.Sampling.N)
}

// A capture of the line gives what it gives on the command line.
func TestAnalyseReadsTheLine(t *testing.T) {
	const path = "../../testdata/line/conversation.vcd"
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	s, out, errs := screen(nil)
	s.outTTY = false
	require.Zero(t, run([]string{"diagnose", "--json", path}, s), errs)
	d, err := analyse(context.Background(), []site.File{siteFile(path, string(content))}, site.Question{}, 1<<30)
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, writeJSON(&b, d))
	assert.Equal(t, out.String(), b.String())
}
