package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/demo"
	"portside/cmd/portside/site"
	"portside/decode/probe"
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
		{"no time", siteFile("a.csv", meter), site.Question{How: site.How{From: "soon"}}, http.StatusUnprocessableEntity, "expected seconds"},
		{"ends before it begins", siteFile("a.csv", meter), site.Question{How: site.How{From: "2", To: "1"}}, http.StatusUnprocessableEntity, "before its start"},
		{"nothing in the part", siteFile("a.csv", meter), site.Question{How: site.How{From: "9"}}, http.StatusUnprocessableEntity, "goes from 0 to 2 s"},
		{"a place no meter sits at", siteFile("a.csv", meter), site.Question{MeterAt: "\x1b[31m"}, http.StatusUnprocessableEntity, `\x1b`},
		{"limits that are none", siteFile("a.csv", meter), site.Question{Accuracy: "fine"}, http.StatusUnprocessableEntity, "two limits in percent"},
		{"a rate that is none", siteFile("a.csv", meter), site.Question{How: site.How{Rate: "fast"}}, http.StatusUnprocessableEntity, "expected samples a second"},
		{"a kind that is none", siteFile("a.csv", meter), site.Question{How: site.How{As: "picture"}}, http.StatusUnprocessableEntity, "expected meter or messages"},
		{"a shift that is none", siteFile("a.csv", meter), site.Question{How: site.How{Shift: "meter=late"}}, http.StatusUnprocessableEntity, "expected seconds"},
		{"a shift of what has no clock", siteFile("a.csv", meter), site.Question{How: site.How{Shift: "wall=1"}}, http.StatusUnprocessableEntity, "wall"},
		{"a shift beyond all", siteFile("a.csv", meter), site.Question{How: site.How{Shift: "meter=3000000000"}}, http.StatusUnprocessableEntity, "at most 90 years"},
		{"columns that are none", siteFile("a.csv", meter), site.Question{How: site.How{Columns: "nonsense"}}, http.StatusUnprocessableEntity, "columns"},
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
	a, err := analyse(context.Background(), []site.File{meter}, site.Question{How: site.How{From: "1", To: "2000ms"}}, 1<<20)
	require.NoError(t, err)
	assert.Equal(t, 2, a.Diagnosis.Draw.Sampling.N)
}

// A capture of the line gives what it gives on the command line.
func TestAnalyseReadsTheLine(t *testing.T) {
	const path = "../../testdata/line/conversation.vcd"
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	s, out, errs := screen(nil)
	s.outTTY = false
	require.Zero(t, run([]string{"diagnose", "--json", path}, s), errs)
	a, err := analyse(context.Background(), []site.File{siteFile(path, string(content))}, site.Question{}, 1<<30)
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, writeJSON(&b, a.Diagnosis))
	assert.Equal(t, out.String(), b.String())

	part, err := analyse(context.Background(), []site.File{siteFile(path, string(content))}, site.Question{How: site.How{From: "0.1", To: "0.113"}}, 1<<30)
	require.NoError(t, err)
	assert.Equal(t, 5, part.Diagnosis.Line.Frames, "of the part that was asked for")
}

// What is said of a recording on the page counts as its flag does on the command line.
func TestAnalyseAsTheCommandLine(t *testing.T) {
	dir := t.TempDir()
	write := func(name, content string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
		return path
	}
	var rows, bare strings.Builder
	rows.WriteString("time_s,voltage_v,current_a\n")
	bare.WriteString("voltage_v,current_a\n")
	for i := range 300 {
		fmt.Fprintf(&rows, "%.1f,%.3f,%.3f\n", float64(i)/10, 5.05, 0.01)
		fmt.Fprintf(&bare, "%.3f,%.3f\n", 5.05, 0.01)
	}
	meter, list := write("meter.csv", rows.String()), write("messages.csv", "time_s,sop,bytes\n0.1,SOP,a1112c910108\n0.102,SOP,4100\n")
	bareLog := write("bare.csv", bare.String())
	cases := []struct {
		name  string
		files []string
		q     site.Question
		flags []string
	}{
		{"place and limits", []string{meter}, site.Question{MeterAt: "device", Accuracy: "0.2,0.4"}, []string{"--meter-at", "device", "--meter-accuracy", "0.2,0.4"}},
		{"rate", []string{bareLog}, site.Question{How: site.How{Rate: "10"}}, []string{"--rate", "10"}},
		{"kind", []string{list}, site.Question{How: site.How{As: "messages"}}, []string{"--as", "messages"}},
		{"shift", []string{meter, list}, site.Question{How: site.How{Shift: "meter=1.5"}}, []string{"--shift", "meter=1.5"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s, out, errs := screen(nil)
			s.outTTY = false
			require.Zero(t, run(append(append([]string{"diagnose", "--json"}, c.files...), c.flags...), s), errs)
			var files []site.File
			for _, path := range c.files {
				content, err := os.ReadFile(path)
				require.NoError(t, err)
				files = append(files, siteFile(path, string(content)))
			}
			a, err := analyse(context.Background(), files, c.q, 1<<30)
			require.NoError(t, err)
			var b bytes.Buffer
			require.NoError(t, writeJSON(&b, a.Diagnosis))
			assert.Equal(t, out.String(), b.String())
			command := pageCommand(nil, c.q)
			for _, flag := range c.flags {
				assert.Contains(t, command, flag)
			}
		})
	}
}

// Files that cannot be read are told one by one, and the rest is analysed.
func TestAnalyseTellsWhatItCannotRead(t *testing.T) {
	meter := siteFile("meter.csv", "time_s,voltage_v,current_a\n0,5,0\n1,5,0\n2,5,0\n")
	picture, nothing := siteFile("photo.jpg", "\xff\xd8\xff\x00\x01"), siteFile("empty.csv", "")
	words := siteFile("notes.txt", "customer says it died\nover night\n")
	a, err := analyse(context.Background(), []site.File{picture, meter, nothing, words}, site.Question{}, 1<<20)
	require.NoError(t, err)
	require.Len(t, a.Unread, 4)
	assert.Contains(t, a.Unread[0], "photo.jpg@3: expected")
	assert.Contains(t, a.Unread[0], "found")
	assert.Empty(t, a.Unread[1])
	assert.Contains(t, a.Unread[2], "empty.csv: it is empty")
	assert.Regexp(t, `^notes\.txt(:\d+)?: expected .*, found `, a.Unread[3])
	alone, err := analyse(context.Background(), []site.File{meter}, site.Question{}, 1<<20)
	require.NoError(t, err)
	assert.Equal(t, alone.Diagnosis, a.Diagnosis)

	_, err = analyse(context.Background(), []site.File{picture, nothing}, site.Question{}, 1<<20)
	var no *site.Refusal
	require.ErrorAs(t, err, &no)
	assert.Equal(t, http.StatusUnprocessableEntity, no.Status)
	assert.Equal(t, "None of the 2 files can be read.", no.Message)
	require.Len(t, no.Each, 2)
	assert.Contains(t, no.Each[1], "empty.csv")

	bomb := siteFile("a.gz", packedText(t, strings.Repeat(" ", 1<<20)))
	_, err = analyse(context.Background(), []site.File{meter, bomb}, site.Question{}, 100_000)
	require.ErrorAs(t, err, &no)
	assert.Equal(t, http.StatusRequestEntityTooLarge, no.Status, "a limit is not a file that cannot be read")
}

// What was read can be weighed again with what is measured after it.
func TestWeighAgain(t *testing.T) {
	files := func() []site.File {
		var out []site.File
		opened, err := demo.Open("hard-short-main-rail")
		require.NoError(t, err)
		for _, f := range opened {
			content, err := io.ReadAll(f.Data)
			require.NoError(t, err)
			out = append(out, siteFile(f.Label, string(content)))
		}
		return out
	}
	given, err := probe.ParseReadings([]string{"main-rail-ohm=0.4ohm", "known-good-charger=same"})
	require.NoError(t, err)
	q := site.Question{Readings: given, MeterAt: "device", Accuracy: "0.5,0.5"}
	first, err := analyse(context.Background(), files(), site.Question{}, 1<<30)
	require.NoError(t, err)
	want, err := analyse(context.Background(), files(), q, 1<<30)
	require.NoError(t, err)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			got, err := first.Weigh(q)
			assert.NoError(t, err)
			assert.Equal(t, want.Diagnosis, got)
		})
	}
	all.Wait()
	assert.NotEqual(t, first.Diagnosis.Verdict.Locations, want.Diagnosis.Verdict.Locations)
	_, err = first.Weigh(site.Question{MeterAt: "nowhere"})
	var no *site.Refusal
	require.ErrorAs(t, err, &no)
	assert.Equal(t, http.StatusUnprocessableEntity, no.Status)
}

// The command line that a further reading is added to reads the recording as it was read.
func TestAgainReadsTheSame(t *testing.T) {
	path := filepath.Join(t.TempDir(), "log.csv")
	require.NoError(t, os.WriteFile(path, []byte("voltage_v,current_a\n"+strings.Repeat("5.05,0.01\n", 300)), 0o600))
	flags := []string{"--meter-accuracy", "0.5,1", "--rate", "10", "--from", "1.5", "--to", "20", "--meter-at", "device"}
	s, out, errs := screen(nil)
	s.outTTY, s.width = false, 400
	require.Zero(t, run(append([]string{"diagnose", path}, flags...), s), errs)
	for i := 0; i < len(flags); i += 2 {
		assert.Contains(t, strings.Join(strings.Fields(out.String()), " "), flags[i]+" "+flags[i+1])
	}
}
