package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"portside/captures/pcapng"
	"portside/cmd/portside/report"
	"portside/cmd/portside/site"
	"portside/cmd/portside/text"
	"portside/decode"
	"portside/decode/rules"
)

// hostile is what may stand in a file to steer whoever looks at it.
var hostile = []struct{ name, word string }{
	{"script", `</script></title><script>alert("steered")</script>`},
	{"markup", `"'><img src=x onerror=alert(1)><svg onload=alert(1)><a href=javascript:alert(1)>steered</a>`},
	{"attribute", `" onmouseover="alert(1)" style="position:fixed" steered="`},
	{"template", `{{.Page}}{{template "top" .}}steered`},
	{"comment", `--><!--steered]]><style>*{display:none}</style>`},
	{"bidi", "steered\u202egpj.\u2066exe\u200f"},
	{"terminal", "steered\x1b[2J\x1b]0;owned\x07\x9b31m\u009b31m\x00"},
	{"lines", "steered\r\nSet-Cookie: a=b\u2028\u2029\x0b"},
	{"long", "steered" + strings.Repeat("A", 1<<20)},
}

// fields are the places of a file, or beside one, where the word may stand.
var fields = []struct {
	name string
	of   func(t *testing.T, word string) (name string, content []byte)
}{
	{"name of a file", func(_ *testing.T, word string) (string, []byte) { return word, rowsOf("", "") }},
	{"name of a file that cannot be read", func(_ *testing.T, word string) (string, []byte) { return word, []byte("\x00\x01") }},
	{"heading of a log", func(_ *testing.T, word string) (string, []byte) { return "a.csv", rowsOf(quoted(word), "1") }},
	{"line above the heading", func(_ *testing.T, word string) (string, []byte) {
		return "a.csv", append([]byte(strings.NewReplacer("\n", " ", "\r", " ").Replace(word)+"\n"), rowsOf("", "")...)
	}},
	{"cell of a log", func(_ *testing.T, word string) (string, []byte) {
		return "a.csv", append(rowsOf("", ""), "31,"+quoted(word)+",0.01\n"...)
	}},
	{"cell of a list", func(_ *testing.T, word string) (string, []byte) {
		w := quoted(word)
		return "a.csv", []byte("time_s,sop,bytes\n0.1,SOP,a1112c910108\n0.102,SOP,4100\n0.2," + w + ",4100\n0.3,SOP," + w + "\n" + w + ",SOP,4100\n")
	}},
	{"names and comments of packets", packetFile},
	{"names of a logic capture", func(t *testing.T, word string) (string, []byte) {
		t.Helper()
		dump, err := os.ReadFile("../../testdata/line/conversation.vcd")
		require.NoError(t, err)
		w := strings.Join(strings.Fields(strings.ReplaceAll(word, "$end", "")), "_")
		s := strings.Replace(string(dump), "$scope module probe", "$comment "+w+" $end\n$scope module "+w, 1)
		return "a.vcd", []byte(strings.Replace(s, `" aux $end`, `" `+w+" $end", 1))
	}},
}

// quoted is a word as a cell of comma-separated values.
func quoted(word string) string { return `"` + strings.ReplaceAll(word, `"`, `""`) + `"` }

// rowsOf is a quiet log, with a column more where it has a heading.
func rowsOf(heading, cell string) []byte {
	var b bytes.Buffer
	b.WriteString("time_s,voltage_v,current_a")
	if heading != "" {
		b.WriteString("," + heading)
	}
	b.WriteByte('\n')
	for i := range 300 {
		fmt.Fprintf(&b, "%.1f,5.05,0.0%d", float64(i)/10, 10+i%3)
		if heading != "" {
			b.WriteString("," + cell)
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

func packetFile(t *testing.T, word string) (string, []byte) {
	t.Helper()
	word = word[:min(len(word), 60_000)] // an option has at most 65,535 bytes
	var b bytes.Buffer
	w := pcapng.NewWriter(&b, pcapng.Section{Application: word, Comments: []string{word}})
	meter := &pcapng.Interface{Link: pcapng.LinkSamples, Name: word, Description: word, Comments: []string{word}}
	for i := range 300 {
		require.NoError(t, w.Sample(time.Duration(i)*100*time.Millisecond, meter, &pcapng.SamplePacket{Volts: 5.05, Amps: 0.01}))
	}
	require.NoError(t, w.Flush())
	return "a.pcapng", b.Bytes()
}

// Whatever stands in a file or beside it stays text, on every page there is.
func TestHostileContentStaysText(t *testing.T) {
	dump, err := os.ReadFile(conversation)
	require.NoError(t, err)
	shape := shapeOf(t, pagesWith(t, "a.csv", rowsOf("note", "1")), pagesWith(t, "a.vcd", dump))
	for _, field := range fields {
		for _, h := range hostile {
			t.Run(field.name+"/"+h.name, func(t *testing.T) {
				name, content := field.of(t, h.word)
				for page, raw := range pagesWith(t, name, content) {
					holds(t, page, raw, shape)
				}
			})
		}
	}
	t.Run("lesson", func(t *testing.T) {
		for _, h := range hostile {
			holds(t, "lesson with "+h.name, lessonWith(t, h.word[:min(len(h.word), 1000)]), shape)
		}
	})
}

// pagesWith are all pages that a file leads to: those of the site, and the reports that
// commands write.
func pagesWith(t *testing.T, name string, content []byte) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	c := site.Config{
		Analyse: analyse, JSON: writeJSON, Command: pageCommand, Version: version, Standard: standard,
		Hosts: []string{"127.0.0.1"}, Port: 80, MaxUpload: 64 << 20, MaxAnalyses: 1, Patience: time.Minute,
		Warn: func(err error) { t.Errorf("inside: %s", err) },
	}
	h, err := site.New(c)
	require.NoError(t, err)
	visit := func(page string, r *http.Request) string {
		r.Host = "127.0.0.1"
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != http.StatusSeeOther {
			out[page] = w.Body.Bytes()
		}
		for key, values := range w.Header() {
			assert.NotContains(t, strings.Join(values, ""), "steered", "%s: header %s", page, key)
		}
		return w.Header().Get("Location")
	}
	get := func(page, path string) {
		visit(page, httptest.NewRequest(http.MethodGet, "http://127.0.0.1"+path, nil))
	}
	path := visit("refused upload", posted(t, map[string]string{}, [2]string{name, string(content)}))
	if path == "" { // none of it can be read: beside a file that can it is told
		path = visit("refused beside another", posted(t, nil, [2]string{"b.csv", string(rowsOf("", ""))}, [2]string{name, string(content)}))
	}
	if path == "" { // a name that no form may have
		path = visit("refused by its name", posted(t, nil, [2]string{"a.csv", string(rowsOf("", ""))}, [2]string{"b.csv", string(content)}))
	}
	require.NotEmpty(t, path)
	for page, field := range map[string]string{"refused reading": "reading", "refused place": "meter-at", "refused columns": "columns",
		"refused rate": "rate", "refused kind": "as", "refused limits": "meter-accuracy", "refused part": "from", "refused clock": "shift-by", "refused signal": "signal"} {
		visit(page, posted(t, map[string]string{field: name[:min(len(name), 4000)]}, [2]string{"b.csv", string(rowsOf("", ""))}))
	}
	get("result", path)
	get("report of the site", path+"/report.html")
	get("comparison", "/compare?before="+filepath.Base(path)+"&after="+filepath.Base(path))
	get("first page", "/")
	get("error", "/"+url.PathEscape(name))
	get("no such result", "/results/"+url.PathEscape(name))

	onDisk := filepath.Join(t.TempDir(), diskName(name))
	require.NoError(t, os.WriteFile(onDisk, content, 0o600))
	sound := filepath.Join(t.TempDir(), "sound.csv")
	require.NoError(t, os.WriteFile(sound, rowsOf("", ""), 0o600))
	for page, args := range map[string][]string{
		"saved diagnosis":  {"diagnose", onDisk, sound},
		"saved charger":    {"charger", onDisk, sound},
		"other charger":    {"charger", "--against", onDisk, sound},
		"saved comparison": {"compare", "--before", onDisk, "--before", sound, "--after", sound},
	} {
		file := filepath.Join(t.TempDir(), "report.html")
		s, _, _ := screen(nil)
		s.outTTY = false
		run(append(args, "--html", file), s) // a file that cannot be read is told, and its status with it
		if raw, err := os.ReadFile(file); err == nil {
			out[page] = raw
		}
	}
	assert.Contains(t, out, "saved diagnosis")
	return out
}

// diskName is as much of a name as a file on disk may have.
func diskName(name string) string {
	name = strings.NewReplacer("/", "_", "\x00", "_").Replace(name)
	return name[:min(len(name), 200)]
}

// posted is an upload whose names are sent as they are.
func posted(t *testing.T, typed map[string]string, files ...[2]string) *http.Request {
	t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for name, value := range typed {
		require.NoError(t, form.WriteField(name, value))
	}
	for _, f := range files {
		w, err := form.CreateFormFile("file", f[0])
		require.NoError(t, err)
		_, err = w.Write([]byte(f[1]))
		require.NoError(t, err)
	}
	require.NoError(t, form.Close())
	r := httptest.NewRequest(http.MethodPost, "http://127.0.0.1/recordings", &body)
	r.Header.Set("Content-Type", form.FormDataContentType())
	return r
}

// lessonWith is a lesson whose every text is the word.
func lessonWith(t *testing.T, word string) []byte {
	t.Helper()
	e := decode.NewEngine(decode.Options{})
	d := e.Diagnose(nil, nil)
	d.Verdict.Summary = word
	d.Findings = []rules.Finding{{Severity: rules.Fault, Text: word, StartS: new(float64)}}
	var b bytes.Buffer
	require.NoError(t, report.Teach(&b, &report.Lesson{
		Title: word, Lead: word, Mine: report.Recorded{Diagnosis: d}, Sound: &report.Recorded{Diagnosis: d},
		Sections: []text.Section{{Title: word, Blocks: []text.Block{{Text: word}, {Label: word, Grave: word, Text: word}, {Table: &text.Grid{Head: []string{word, ""}, Rows: [][]string{{word, word}}}}}}},
	}, report.About{Version: word, Standard: word, Files: []report.File{{Name: word, SHA256: word}, {Name: word, Unread: word}}}))
	return b.Bytes()
}

// shape is what pages are made of: elements with their attributes.
type shape map[string]bool

func shapeOf(t *testing.T, clean ...map[string][]byte) shape {
	t.Helper()
	out := shape{}
	for _, pages := range clean {
		for name, raw := range pages {
			for _, part := range partsOf(t, name, raw) {
				out[part] = true
			}
		}
	}
	for _, part := range []string{"div", "div class", "ul", "li", "li class", "details", "summary", "p", "rect", "rect class", "g", "g class", "g data-letter", "title", "span", "span class", "text class", "line class", "td", "tr class", "td colspan", "td class", "ol", "ol class", "a class"} {
		out[part] = true // of pages that the clean ones have no cause for
	}
	return out
}

func partsOf(t *testing.T, name string, raw []byte) []string {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(raw))
	require.NoError(t, err, name)
	var out []string
	for n := range root.Descendants() {
		switch n.Type {
		case html.ElementNode:
			out = append(out, n.Data)
			for _, a := range n.Attr {
				out = append(out, n.Data+" "+a.Key)
			}
		case html.CommentNode:
			out = append(out, "comment "+n.Data)
		}
	}
	return out
}

// holds that a page has nothing in it that pages do not have: no element, no attribute,
// no script, no character that steers.
func holds(t *testing.T, name string, raw []byte, clean shape) {
	t.Helper()
	for _, part := range partsOf(t, name, raw) {
		assert.True(t, clean[part], "%s: %.80s", name, part)
	}
	root, err := html.Parse(bytes.NewReader(raw))
	require.NoError(t, err)
	policy := ""
	for n := range root.Descendants() {
		if n.Data == "meta" && attribute(n, "http-equiv") != "" {
			policy = attribute(n, "content")
		}
	}
	for n := range root.Descendants() {
		if n.Type == html.ElementNode && (n.Data == "script" || n.Data == "style") {
			assert.True(t, allowed(n, policy), "%s: %s", name, n.Data)
		}
		if to := attribute(n, "href"); to != "" {
			assert.Regexp(t, `^(#|/|data:,)`, to, name)
		}
	}
	for _, r := range string(raw) {
		if r != '\n' && (r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 || strings.ContainsRune("\u200e\u200f\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069", r)) {
			assert.Fail(t, "a character that steers", "%s: %U", name, r)
			break
		}
	}
	assert.Less(t, len(raw), 2<<20, name)
}

// allowed reports a script or style that is the page's own, or numbers only.
func allowed(n *html.Node, policy string) bool {
	if n.Data == "script" && attribute(n, "src") == "/script.js" && n.FirstChild == nil {
		return true
	}
	if n.FirstChild == nil {
		return false
	}
	if attribute(n, "type") == "application/json" {
		var numbers [][]*float64
		return json.Unmarshal([]byte(n.FirstChild.Data), &numbers) == nil
	}
	sum := sha256.Sum256([]byte(n.FirstChild.Data))
	return strings.Contains(policy, base64.StdEncoding.EncodeToString(sum[:]))
}

func attribute(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}
