package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"portside/cmd/portside/report"
	"portside/cmd/portside/site"
)

const conversation = "../../testdata/line/conversation.vcd"

// drawnFrame is what a page draws of a frame.
type drawnFrame struct {
	title   string
	bits    string
	symbols []string
	bytes   []string // the ordered set first
	waves   []string
	table   [][]string
	breaks  bool
}

func frameIn(t *testing.T, page []byte) drawnFrame {
	t.Helper()
	root, err := html.Parse(strings.NewReader(string(page)))
	require.NoError(t, err)
	var out drawnFrame
	for n := range root.Descendants() {
		switch {
		case attribute(n, "id") == "frame-title":
			out.title = wordsOf(n)
		case classOf(n) == "bits":
			out.bits += strings.ReplaceAll(wordsOf(n), " ", "")
		case classOf(n) == "symbol":
			out.symbols = append(out.symbols, wordsOf(n))
		case classOf(n) == "byte":
			out.bytes = append(out.bytes, wordsOf(n))
		case classOf(n) == "wave":
			out.waves = append(out.waves, attribute(n, "d"))
		case classOf(n) == "break":
			out.breaks = true
		case n.Data == "details" && strings.HasPrefix(wordsOf(n), "The frame as a table"):
			for row := range n.Descendants() {
				if row.Data == "tr" && row.Parent.Data == "tbody" {
					var cells []string
					for c := row.FirstChild; c != nil; c = c.NextSibling {
						cells = append(cells, wordsOf(c))
					}
					out.table = append(out.table, cells)
				}
			}
		}
	}
	return out
}

// The report draws the first frame that is broken, else the first one, as decode --frame
// shows it.
func TestReportDrawsAFrame(t *testing.T) {
	dir := t.TempDir()
	printed(t, "simulate", "sound-charging", "--out", dir, "--set", "messages-recorded=true")
	whole := filepath.Join(dir, "line.vcd")
	for _, c := range []struct {
		name, path string
		n          int // of the frame, as decode --frame --json says of those in the file
		broken     bool
	}{{"broken", conversation, 7, true}, {"whole", whole, 1, false}} {
		t.Run(c.name, func(t *testing.T) {
			var want struct {
				Bits    string   `json:"bits"`
				SetAt   int      `json:"set_at"`
				SOP     string   `json:"sop"`
				Symbols []string `json:"symbols"`
				Bytes   string   `json:"bytes"`
				CRC     *string  `json:"crc"`
				Problem *string  `json:"problem"`
			}
			require.NoError(t, json.Unmarshal([]byte(printed(t, "decode", "--json", "--frame", strconv.Itoa(c.n), c.path)), &want))
			require.Equal(t, c.broken, want.Problem != nil)
			file := filepath.Join(t.TempDir(), "report.html")
			printed(t, "diagnose", "--html", file, c.path)
			page, err := os.ReadFile(file)
			require.NoError(t, err)
			got := frameIn(t, page)
			assert.Contains(t, got.title, fmt.Sprintf("Message %d of the line", c.n))
			assert.Equal(t, c.broken, got.breaks)
			assert.True(t, strings.HasSuffix(want.Bits, got.bits))
			assert.GreaterOrEqual(t, len(got.bits), len(want.Bits)-want.SetAt)
			assert.Equal(t, want.Symbols, got.symbols)
			sent := want.Bytes
			if want.CRC != nil {
				sent += *want.CRC
			}
			assert.Equal(t, want.SOP, got.bytes[0])
			assert.Equal(t, strings.ToUpper(sent), strings.Join(got.bytes[1:], ""))
			assert.Equal(t, got.bits, readBack(t, got.waves))

			// The table says the same, and no bit is missing in it.
			bits, symbols := "", []string{}
			for _, row := range got.table {
				bits += strings.ReplaceAll(row[1], " ", "")
				symbols = append(symbols, strings.Fields(row[2])...)
			}
			assert.Equal(t, want.Bits, bits)
			assert.Equal(t, want.Symbols, symbols)

			content, err := os.ReadFile(c.path)
			require.NoError(t, err)
			a, err := analyse(context.Background(), []site.File{siteFile(filepath.Base(c.path), string(content))}, site.Question{}, 1<<30)
			require.NoError(t, err)
			var served strings.Builder
			require.NoError(t, report.Diagnosis(&served, a.Recorded, "", report.About{}))
			assert.Equal(t, got, frameIn(t, []byte(served.String())))
		})
	}
	file := filepath.Join(t.TempDir(), "report.html")
	printed(t, "diagnose", "--html", file, "demo:sound-charging")
	page, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Empty(t, frameIn(t, page).title, "a list of messages has no bits")
}

// readBack reads bits out of the drawn level: it changes at the start of every bit, and
// in the middle of a 1, as biphase mark coding has it.
func readBack(t *testing.T, waves []string) string {
	t.Helper()
	bits := ""
	for _, d := range waves {
		var level []string // of each half bit
		for _, step := range regexp.MustCompile(`V([0-9]+)H`).FindAllStringSubmatch(d, -1) {
			level = append(level, step[1])
		}
		require.Zero(t, len(level)%2)
		for i := 0; i < len(level); i += 2 {
			if i > 0 {
				require.NotEqual(t, level[i-1], level[i], "an edge begins every bit")
			}
			if level[i] == level[i+1] {
				bits += "0"
			} else {
				bits += "1"
			}
		}
	}
	return bits
}
