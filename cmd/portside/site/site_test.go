package site_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"runtime/debug"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"portside/captures"
	"portside/captures/demo"
	"portside/cmd/portside/report"
	"portside/cmd/portside/site"
	"portside/decode"
)

var long = flag.Bool("long", false, "send 100 MB through the site")

const port = 8765

// home is the site's own host in these tests.
const home = "127.0.0.1:8765"

// analyse is the shortest way from files to a diagnosis.
func analyse(ctx context.Context, files []site.File, q site.Question, _ int64) (*site.Analysis, error) {
	var inputs []captures.RecordingInput
	var unread []string
	for _, f := range files {
		r, err := f.Open()
		if err != nil {
			return nil, err
		}
		why := ""
		if in, err := captures.Open(f.Name, r, captures.Options{}); err != nil {
			why = err.Error()
		} else {
			inputs = append(inputs, captures.RecordingInput{Input: in})
		}
		unread = append(unread, why)
	}
	if len(files) > 0 && len(inputs) == 0 {
		return nil, &site.Refusal{Status: http.StatusUnprocessableEntity, Message: "nothing can be read", Each: unread}
	}
	e := decode.NewEngine(decode.Options{Readings: q.Readings, MeterAt: q.MeterAt})
	var stats []captures.Stats
	var clocks []captures.Clock
	if len(inputs) > 0 {
		r := captures.NewRecording(inputs)
		for {
			record, err := r.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil || ctx.Err() != nil {
				return nil, errors.Join(err, ctx.Err())
			}
			e.Take(record)
		}
		stats, clocks = r.Stats(), r.Clocks()
	}
	return &site.Analysis{
		Recorded: report.Recorded{Diagnosis: e.Diagnose(stats, clocks)}, Unread: unread,
		Weigh: func(q site.Question) (*decode.Diagnosis, error) {
			e.SetOptions(decode.Options{Readings: q.Readings, MeterAt: q.MeterAt})
			return e.Diagnose(stats, clocks), nil
		},
	}, nil
}

func config() site.Config {
	return site.Config{
		Analyse: analyse,
		JSON:    func(w io.Writer, v any) error { return json.NewEncoder(w).Encode(v) },
		Command: func(files []string, _ site.Question) string { return "portside diagnose " + strings.Join(files, " ") },
		Version: "0.1.0", Standard: "USB Power Delivery R3.2 V1.1",
		Hosts: []string{"127.0.0.1", "localhost", "::1"}, Port: port,
		MaxUpload: 8 << 20, MaxAnalyses: 4, Patience: time.Minute,
	}
}

// bench is a site under test.
type bench struct {
	t *testing.T
	h http.Handler
}

func newBench(t *testing.T, change func(*site.Config)) *bench {
	t.Helper()
	c := config()
	c.Warn = func(err error) { t.Errorf("inside: %s", err) }
	if change != nil {
		change(&c)
	}
	h, err := site.New(c)
	require.NoError(t, err)
	return &bench{t, h}
}

// do sends a request and holds what must stand in every answer.
func (b *bench) do(r *http.Request) *httptest.ResponseRecorder {
	b.t.Helper()
	w := httptest.NewRecorder()
	b.h.ServeHTTP(w, r)
	h := w.Header()
	assert.Equal(b.t, "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'", h.Get("Content-Security-Policy"))
	assert.Equal(b.t, "nosniff", h.Get("X-Content-Type-Options"))
	assert.Equal(b.t, "no-referrer", h.Get("Referrer-Policy"))
	assert.Equal(b.t, "same-origin", h.Get("Cross-Origin-Resource-Policy"))
	assert.Equal(b.t, "no-store", h.Get("Cache-Control"))
	if w.Code != http.StatusSeeOther {
		assert.NotEmpty(b.t, h.Get("Content-Type"))
	}
	return w
}

func request(method, path string, body io.Reader) *http.Request {
	r := httptest.NewRequest(method, "http://"+home+path, body)
	r.Host = home
	return r
}

func (b *bench) get(path string) *httptest.ResponseRecorder {
	b.t.Helper()
	return b.do(request(http.MethodGet, path, nil))
}

// part is one field of a form: a file where it has a name.
type part struct{ field, name, content string }

func multi(t *testing.T, parts ...part) (kind string, body *bytes.Buffer) {
	t.Helper()
	body = &bytes.Buffer{}
	form := multipart.NewWriter(body)
	for _, p := range parts {
		w, err := form.CreateFormField(p.field)
		if p.name != "" {
			w, err = form.CreateFormFile(p.field, p.name)
		}
		require.NoError(t, err)
		_, err = io.WriteString(w, p.content)
		require.NoError(t, err)
	}
	require.NoError(t, form.Close())
	return form.FormDataContentType(), body
}

func (b *bench) send(parts ...part) *httptest.ResponseRecorder {
	b.t.Helper()
	kind, body := multi(b.t, parts...)
	r := request(http.MethodPost, "/recordings", body)
	r.Header.Set("Content-Type", kind)
	return b.do(r)
}

func (b *bench) post(path string, fields url.Values) *httptest.ResponseRecorder {
	b.t.Helper()
	r := request(http.MethodPost, path, strings.NewReader(fields.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return b.do(r)
}

// led is the path that a 303 leads to.
func (b *bench) led(w *httptest.ResponseRecorder) string {
	b.t.Helper()
	require.Equal(b.t, http.StatusSeeOther, w.Code, w.Body)
	require.Regexp(b.t, `^/results/[A-Z2-7]{26}$`, w.Header().Get("Location"))
	return w.Header().Get("Location")
}

func (b *bench) diagnosis(path string) *decode.Diagnosis {
	b.t.Helper()
	w := b.get(path + ".json")
	require.Equal(b.t, http.StatusOK, w.Code)
	assert.Equal(b.t, "application/json", w.Header().Get("Content-Type"))
	var d decode.Diagnosis
	require.NoError(b.t, json.Unmarshal(w.Body.Bytes(), &d))
	return &d
}

// log is a meter log of a machine that draws nothing, n rows long.
func log(n int) string {
	var b strings.Builder
	b.WriteString("time_s,voltage_v,current_a\n")
	for i := range n {
		fmt.Fprintf(&b, "%.3f,%.4f,%.4f\n", float64(i)/100, 5.05+float64(i*7919%97)/10000, 0.010+float64(i*104729%89)/100000)
	}
	return b.String()
}

func meter(n int) part { return part{"file", "meter.csv", log(n)} }

func demoParts(t *testing.T, name string) []part {
	t.Helper()
	files, err := demo.Open(name)
	require.NoError(t, err)
	var parts []part
	for _, f := range files {
		content, err := io.ReadAll(f.Data)
		require.NoError(t, err)
		parts = append(parts, part{"file", filepath.Base(f.Label), string(content)})
	}
	return parts
}

func TestUploadLeadsToItsResult(t *testing.T) {
	b := newBench(t, nil)
	path := b.led(b.send(demoParts(t, "hard-short-main-rail")...))
	page := b.get(path)
	require.Equal(t, http.StatusOK, page.Code)
	assert.Equal(t, "text/html; charset=utf-8", page.Header().Get("Content-Type"))
	d := b.diagnosis(path)
	assert.Equal(t, "behind-port", string(d.Verdict.Location))
	assert.Contains(t, page.Body.String(), "BEHIND THE PORT")
	assert.Contains(t, b.get("/").Body.String(), path, "the first page lists it")
	report := b.get(path + "/report.html")
	assert.Contains(t, report.Body.String(), "BEHIND THE PORT")
	assert.Equal(t, `attachment; filename="portside-1.html"`, report.Header().Get("Content-Disposition"))
}

func TestStatuses(t *testing.T) {
	b := newBench(t, nil)
	path := b.led(b.send(meter(300)))
	form := func(method, path, kind, body string) *http.Request {
		r := request(method, path, strings.NewReader(body))
		r.Header.Set("Content-Type", kind)
		return r
	}
	upload := func(parts ...part) *http.Request {
		kind, body := multi(t, parts...)
		return form(http.MethodPost, "/recordings", kind, body.String())
	}
	many := make([]part, 17)
	for i := range many {
		many[i] = part{"file", fmt.Sprintf("%d.csv", i), log(30)}
	}
	fields := make([]part, 200)
	for i := range fields {
		fields[i] = part{"x", "", "y"}
	}
	declared := upload(meter(30))
	declared.ContentLength = 1 << 40
	const urlencoded = "application/x-www-form-urlencoded"
	cases := []struct {
		name string
		r    *http.Request
		want int
		says string
	}{
		{"first page", request(http.MethodGet, "/", nil), 200, "Diagnose"},
		{"its head", request(http.MethodHead, "/", nil), 200, ""},
		{"style", request(http.MethodGet, "/style.css", nil), 200, ":root"},
		{"script", request(http.MethodGet, "/script.js", nil), 200, "use strict"},
		{"unknown path", request(http.MethodGet, "/debug/pprof/", nil), 404, "no such page"},
		{"no listing", request(http.MethodGet, "/results/", nil), 404, ""},
		{"unknown result", request(http.MethodGet, "/results/AAAA", nil), 404, "No result"},
		{"unknown result as JSON", request(http.MethodGet, "/results/AAAA.json", nil), 404, ""},
		{"unknown result's report", request(http.MethodGet, "/results/AAAA/report.html", nil), 404, ""},
		{"get of the upload", request(http.MethodGet, "/recordings", nil), 405, "POST"},
		{"post of the first page", form(http.MethodPost, "/", urlencoded, ""), 405, "GET, HEAD"},
		{"delete of a result", request(http.MethodDelete, path, nil), 405, "POST"},
		{"trace", request(http.MethodTrace, "/", nil), 405, ""},
		{"no form", form(http.MethodPost, "/recordings", "text/csv", log(30)), 415, "multipart/form-data"},
		{"a form without files", form(http.MethodPost, "/recordings", urlencoded, "a=b"), 415, ""},
		{"nothing in it", upload(), 422, "No file was chosen"},
		{"no file chosen", upload(part{"file", "", ""}), 422, "No file was chosen"},
		{"not a recording", upload(part{"file", "a.bin", "\x00\x01\x02\x03"}), 422, "binary"},
		{"empty file", upload(part{"file", "a.csv", ""}), 422, "empty"},
		{"all of two unreadable", upload(part{"file", "b.bin", "\x00\x02"}, part{"file", "a.bin", "\x00\x01"}), 422, "<li>a.bin: expected"},
		{"one of two unreadable", upload(meter(30), part{"file", "a.bin", "\x00\x01"}), 303, ""},
		{"a reading that is none", upload(meter(30), part{"reading", "", "main-rail-ohm=fast"}), 422, "main-rail-ohm"},
		{"too many files", upload(many...), 413, "at most 16 files"},
		{"too many fields", upload(fields...), 413, "at most 128 fields"},
		{"a field too long", upload(part{"reading", "", strings.Repeat("x", 1<<16)}), 413, "4096 bytes"},
		{"too large", upload(part{"file", "a.csv", strings.Repeat(" ", 10<<20)}), 413, "8 MiB"},
		{"too large by its own word", declared, 413, "8 MiB"},
		{"cut off", form(http.MethodPost, "/recordings", "multipart/form-data; boundary=x", "--x\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a\"\r\n\r\ntime"), 400, "broken off"},
		{"no boundary", form(http.MethodPost, "/recordings", "multipart/form-data", "x"), 415, ""},
		{"a reading on a result that is none", form(http.MethodPost, path, urlencoded, "reading=nonsense%3D1"), 422, "reading"},
		{"a form too large", form(http.MethodPost, path, urlencoded, "reading="+strings.Repeat("x", 1<<17)), 413, "64 KiB"},
		{"a damaged form", form(http.MethodPost, path, urlencoded, "reading=%zz"), 400, ""},
		{"a reading on an unknown result", form(http.MethodPost, "/results/AAAA", urlencoded, "reading=repeat%3Dsame"), 404, ""},
		{"unknown demo", form(http.MethodPost, "/demos", urlencoded, "name=nonsense"), 422, ""},
		{"comparison of nothing", request(http.MethodGet, "/compare", nil), 400, "Choose two"},
		{"comparison with an unknown one", request(http.MethodGet, "/compare?before=A&after=B", nil), 404, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			w := (&bench{t, b.h}).do(c.r)
			assert.Equal(t, c.want, w.Code, w.Body)
			assert.Contains(t, w.Body.String()+w.Header().Get("Allow"), c.says)
			if w.Code >= 400 {
				assert.Contains(t, w.Body.String(), `role="status"`)
				assert.Contains(t, w.Body.String(), "</html>")
			}
		})
	}
}

// RFC 9110, section 7.2: the host is what the visitor thinks it is talking to.
// A foreign name that was made to lead here (DNS rebinding) is told by it.
func TestOnlyOurOwnHostIsAnswered(t *testing.T) {
	hosts := map[string]int{
		"127.0.0.1:8765": 200, "localhost:8765": 200, "LOCALHOST:8765": 200, "[::1]:8765": 200,
		"127.0.0.1": 403, "localhost": 403, "127.0.0.1:80": 403, "127.0.0.1:87650": 403, "127.0.0.1:": 403,
		"evil.example:8765": 403, "evil.example": 403, "127.0.0.1.evil.example:8765": 403, "localhost.:8765": 403,
		"127.0.0.2:8765": 403, "0.0.0.0:8765": 403, "[::]:8765": 403, "": 403, "127.0.0.1:8765:8765": 403, "127.0.0.1:8765@evil.example": 403,
	}
	b := newBench(t, nil)
	for host, want := range hosts {
		for _, method := range []string{"GET", "HEAD", "POST", "PUT", "OPTIONS"} {
			r := request(method, "/", nil)
			r.Host = host
			r.Header.Set("X-Forwarded-Host", home)
			r.Header.Set("Forwarded", "host="+home)
			got := b.do(r).Code
			if want == 200 && method != "GET" && method != "HEAD" {
				assert.Equal(t, 405, got, "%s %q", method, host)
				continue
			}
			assert.Equal(t, want, got, "%s %q", method, host)
		}
	}
}

func TestOtherHostsByName(t *testing.T) {
	c := config()
	c.Hosts = append(c.Hosts, "bench.example")
	c.Port = 80
	h, err := site.New(c)
	require.NoError(t, err)
	for host, want := range map[string]int{"bench.example": 200, "bench.example:80": 200, "Bench.Example": 200, "bench.example:8080": 403, "other.example": 403} {
		r := request(http.MethodGet, "/", nil)
		r.Host = host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		assert.Equal(t, want, w.Code, host)
		assert.Equal(t, "same-origin", w.Header().Get("Referrer-Policy"), "plain http elsewhere has no Sec-Fetch-Site, so the origin must be sent")
	}
}

// Fetch Metadata and the Fetch standard: under no-referrer the page's own form
// comes with Origin "null", and Sec-Fetch-Site says that it is the page's own.
func TestForeignPagesCannotSend(t *testing.T) {
	cases := []struct {
		name, site, origin string
		want               int
	}{
		{"own form under no-referrer", "same-origin", "null", 303},
		{"own script", "same-origin", "http://" + home, 303},
		{"typed by the visitor", "none", "", 303},
		{"no browser", "", "", 303},
		{"old browser, own origin", "", "http://" + home, 303},
		{"foreign form", "cross-site", "https://evil.example", 403},
		{"foreign form without a referrer", "cross-site", "null", 403},
		{"another port of this machine", "same-site", "http://127.0.0.1:9999", 403},
		{"old browser, foreign origin", "", "https://evil.example", 403},
		{"old browser, origin withheld", "", "null", 403},
		{"foreign, lying about the origin", "cross-site", "http://" + home, 403},
	}
	b := newBench(t, nil)
	path := b.led(b.send(meter(30)))
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			b := &bench{t, b.h}
			for _, to := range []string{"/recordings", path} {
				kind, body := multi(t, meter(30))
				if to == path {
					kind, body = "application/x-www-form-urlencoded", bytes.NewBufferString("reading=repeat%3Dsame")
				}
				r := request(http.MethodPost, to, body)
				r.Header.Set("Content-Type", kind)
				if c.site != "" {
					r.Header.Set("Sec-Fetch-Site", c.site)
				}
				if c.origin != "" {
					r.Header.Set("Origin", c.origin)
				}
				assert.Equal(t, c.want, b.do(r).Code, to)
			}
		})
	}
	foreign := request(http.MethodGet, "/", nil)
	foreign.Header.Set("Sec-Fetch-Site", "cross-site")
	assert.Equal(t, 200, b.do(foreign).Code, "a link from elsewhere changes nothing")
}

func TestReadingsMoveTheVerdict(t *testing.T) {
	b := newBench(t, nil)
	first := b.led(b.send(demoParts(t, "hard-short-main-rail")...))
	before := b.diagnosis(first)
	second := b.led(b.post(first, url.Values{"value:main-rail-ohm": {"3.2kohm"}, "name": {"vbus-ohm"}, "value": {"12kohm"}}))
	require.NotEqual(t, first, second)
	after := b.diagnosis(second)
	assert.NotEqual(t, before.Verdict.Locations, after.Verdict.Locations)
	assert.Equal(t, before.Verdict, b.diagnosis(first).Verdict, "the first result stays")
	page := b.get(second).Body.String()
	assert.Contains(t, page, `class="was">was `)
	assert.NotContains(t, b.get(first).Body.String(), `class="was"`)
	assert.Contains(t, page, `name="value:main-rail-ohm" value="3.2kohm"`)
	assert.Contains(t, page, `name="value:vbus-ohm" value="12kohm"`)

	third := b.led(b.post(second, url.Values{"value:main-rail-ohm": {""}, "value:vbus-ohm": {" "}}))
	assert.Equal(t, before.Verdict, b.diagnosis(third).Verdict, "a reading taken away is as if it never was")
	fourth := b.led(b.post(third, url.Values{"reading": {"main-rail-ohm=3.2kohm", "vbus-ohm=12kohm"}}))
	assert.Equal(t, after.Verdict, b.diagnosis(fourth).Verdict, "both ways to say it are the same")

	alone := b.led(b.send(part{"reading", "", "main-rail-ohm=0.4ohm"}))
	assert.Equal(t, "behind-port", string(b.diagnosis(alone).Verdict.Location), "readings without a file")
	more := b.led(b.post(alone, url.Values{"reading": {"vbus-ohm=12kohm"}}))
	assert.NotEqual(t, b.diagnosis(alone).Verdict.Locations, b.diagnosis(more).Verdict.Locations)
}

// The question reaches the analysis as it was typed, and stays with the result.
func TestPartAndMeter(t *testing.T) {
	var got site.Question
	b := newBench(t, func(c *site.Config) {
		c.Analyse = func(ctx context.Context, f []site.File, q site.Question, most int64) (*site.Analysis, error) {
			got = q
			return analyse(ctx, f, q, most)
		}
	})
	first := b.led(b.send(part{"from", "", "0.5"}, part{"meter-at", "", "source"}, part{"columns", "", "time=t"},
		part{"shift-of", "", "messages"}, part{"shift-by", "", "1.5"}, part{"rate", "", "10"}, part{"as", "", "meter"}, part{"meter-accuracy", "", "1,2"}, meter(300)))
	how := site.How{Columns: "time=t", From: "0.5", Shift: "messages=1.5", Rate: "10", As: "meter"}
	assert.Equal(t, site.Question{MeterAt: "source", Accuracy: "1,2", How: how}, got)
	second := b.led(b.post(first, url.Values{"from": {""}, "to": {"2 s"}, "shift-of": {"meter"}, "shift-by": {"-1"}}))
	how.From, how.To, how.Shift = "", "2 s", "meter=-1"
	assert.Equal(t, how, got.How)
	b.led(b.post(second, url.Values{"reading": {"repeat=same"}, "meter-at": {"device"}, "shift-of": {"meter"}, "shift-by": {""}}))
	assert.Equal(t, "2 s", got.How.To)
	assert.Empty(t, got.How.Shift)
	assert.Equal(t, "device", got.MeterAt)
}

func TestComparison(t *testing.T) {
	b := newBench(t, nil)
	before := b.led(b.post("/demos", url.Values{"name": {"hard-short-main-rail"}}))
	after := b.led(b.post("/demos", url.Values{"name": {"sound-charging"}}))
	query := "?before=" + filepath.Base(before) + "&after=" + filepath.Base(after)
	page := b.get("/compare" + query)
	require.Equal(t, 200, page.Code)
	assert.Contains(t, page.Body.String(), "REPAIRED")
	var c struct{ Schema, Verdict string }
	require.NoError(t, json.Unmarshal(b.get("/compare.json"+query).Body.Bytes(), &c))
	assert.Equal(t, "portside/comparison/1", c.Schema)
	assert.Equal(t, "repaired", c.Verdict)
	assert.Contains(t, b.get(after).Body.String(), filepath.Base(before), "a result offers the others")
}

// A file that is too large to keep is analysed while it arrives; what it says
// is the same.
func TestLargeFileIsAnalysedOnItsWay(t *testing.T) {
	small := newBench(t, func(c *site.Config) { c.MostKept = 4 << 10 })
	whole := newBench(t, nil)
	content := log(60_000)
	path := small.led(small.send(part{"reading", "", "main-rail-ohm=3.2kohm"}, part{"file", "meter.csv", content}))
	same := whole.led(whole.send(part{"reading", "", "main-rail-ohm=3.2kohm"}, part{"file", "meter.csv", content}))
	assert.Equal(t, whole.diagnosis(same), small.diagnosis(path))
	sum := sha256.Sum256([]byte(content))
	page := small.get(path).Body.String()
	assert.Contains(t, page, hex.EncodeToString(sum[:]))
	assert.Contains(t, page, fmt.Sprintf(">%d<", len(content)))
	assert.Contains(t, page, "too large to be held")
	assert.Equal(t, http.StatusGone, small.post(path, url.Values{"from": {"1"}}).Code)
	said := url.Values{"reading": {"known-good-charger=same"}, "meter-at": {"device"}}
	moved, wanted := small.led(small.post(path, said)), whole.led(whole.post(same, said))
	assert.Equal(t, whole.diagnosis(wanted), small.diagnosis(moved), "a reading needs nothing of the recording")
	assert.NotEqual(t, small.diagnosis(path).Verdict.Locations, small.diagnosis(moved).Verdict.Locations)
	again := small.get(moved).Body.String()
	assert.Contains(t, again, hex.EncodeToString(sum[:]))
	assert.Contains(t, again, `class="was"`)

	list := part{"file", "messages.csv", "time_s,sop,bytes\n0.1,SOP,a1112c910108\n0.102,SOP,4100\n"}
	large := part{"file", "meter.csv", content}
	assert.Equal(t, whole.diagnosis(whole.led(whole.send(list, large))), small.diagnosis(small.led(small.send(list, large))))
	for name, late := range map[string]part{
		"a file": list, "a reading": {"reading", "", "repeat=same"}, "a part": {"from", "", "1"},
	} {
		w := small.send(large, late)
		assert.Equal(t, http.StatusUnprocessableEntity, w.Code, name)
		assert.Contains(t, w.Body.String(), "before it", name)
	}
	assert.Equal(t, http.StatusSeeOther, small.send(large, part{"reading", "", ""}, part{"file", "", ""}).Code, "empty fields of a form")
}

// One file that cannot be read is told beside the verdict of the others.
func TestUnreadFilesAreTold(t *testing.T) {
	b := newBench(t, nil)
	path := b.led(b.send(part{"file", "photo.jpg", "\xff\xd8\x00<b>"}, meter(300), part{"file", "notes.txt", "died over night\n"}))
	alone := b.led(b.send(meter(300)))
	want, got := b.diagnosis(alone), b.diagnosis(path)
	assert.Equal(t, want.Verdict, got.Verdict)
	require.Len(t, got.NotSeen, len(want.NotSeen)+2)
	assert.Contains(t, got.NotSeen[len(want.NotSeen)], "photo.jpg: expected")
	got.NotSeen = want.NotSeen
	assert.Equal(t, want, got)
	led := b.led(b.post(path, url.Values{"reading": {"repeat=same"}}))
	part := b.led(b.post(led, url.Values{"from": {"1"}}))
	for _, page := range []string{path, path + "/report.html", led, part, "/compare?before=" + filepath.Base(alone) + "&after=" + filepath.Base(path)} {
		root, err := html.Parse(b.get(page).Body)
		require.NoError(t, err)
		said := words(root)
		assert.Contains(t, said, "Not read, and not in this result: photo.jpg: expected", page)
		assert.Contains(t, said, "notes.txt", page)
		assert.Contains(t, said, ", found ", page)
		each(root, func(n *html.Node) {
			if n.Data == "title" || n.Data == "table" {
				assert.NotContains(t, words(n), "photo.jpg", page)
			}
		})
	}
	assert.NotContains(t, b.get(alone).Body.String(), "Not read")
}

// Old results give up what makes them weigh again.
func TestOnlyTheNewestWeighAgain(t *testing.T) {
	b := newBench(t, func(c *site.Config) { c.MostKept = 4 << 10 })
	path := b.led(b.send(part{"file", "meter.csv", log(60_000)}))
	for range 16 {
		assert.Equal(t, http.StatusSeeOther, b.post(path, url.Values{"reading": {"repeat=same"}}).Code)
	}
	assert.Equal(t, http.StatusGone, b.post(path, url.Values{"reading": {"repeat=same"}}).Code)
	assert.Contains(t, b.get(path).Body.String(), "choose its files again")
}

func TestAtMostSoManyAtOnce(t *testing.T) {
	started, end := make(chan struct{}), make(chan struct{})
	b := newBench(t, func(c *site.Config) {
		c.MaxAnalyses = 1
		c.Analyse = func(ctx context.Context, f []site.File, q site.Question, most int64) (*site.Analysis, error) {
			close(started)
			<-end
			return analyse(ctx, f, q, most)
		}
	})
	kind, body := multi(t, meter(30))
	r := request(http.MethodPost, "/recordings", body)
	r.Header.Set("Content-Type", kind)
	first := make(chan int)
	go func() {
		w := httptest.NewRecorder()
		b.h.ServeHTTP(w, r)
		first <- w.Code
	}()
	<-started
	for _, w := range []*httptest.ResponseRecorder{b.send(meter(30)), b.post("/demos", url.Values{"name": {"sound-charging"}})} {
		assert.Equal(t, http.StatusServiceUnavailable, w.Code)
		assert.NotEmpty(t, w.Header().Get("Retry-After"))
	}
	assert.Equal(t, 200, b.get("/").Code, "pages are answered all the same")
	close(end)
	assert.Equal(t, http.StatusSeeOther, <-first)
}

func TestAnalysisThatTakesTooLong(t *testing.T) {
	b := newBench(t, func(c *site.Config) {
		c.Patience = time.Millisecond
		c.Analyse = func(ctx context.Context, _ []site.File, _ site.Question, _ int64) (*site.Analysis, error) {
			<-ctx.Done()
			return nil, ctx.Err()
		}
	})
	assert.Equal(t, http.StatusGatewayTimeout, b.send(meter(30)).Code)
}

// What breaks inside is told to whoever runs the program, and the visitor gets
// a whole page without a word of it.
func TestFailureInside(t *testing.T) {
	var told []string
	for name, analysis := range map[string]func() (*site.Analysis, error){
		"crash": func() (*site.Analysis, error) { panic("secret") },
	} {
		b := newBench(t, func(c *site.Config) {
			c.Warn = func(err error) { told = append(told, err.Error()) }
			c.Analyse = func(context.Context, []site.File, site.Question, int64) (*site.Analysis, error) { return analysis() }
		})
		w := b.send(meter(30))
		assert.Equal(t, http.StatusInternalServerError, w.Code, name)
		assert.NotContains(t, w.Body.String(), "secret")
		assert.Contains(t, w.Body.String(), "</html>")
		require.Len(t, told, 1)
		assert.Contains(t, told[0], "secret")
		assert.Equal(t, 500, b.send(meter(30)).Code, "a crash gives its place back")
	}
}

// The oldest results go first, and their number is bounded.
func TestOldResultsGo(t *testing.T) {
	b := newBench(t, nil)
	first := b.led(b.send(meter(30)))
	for range 63 {
		b.led(b.send(meter(30)))
	}
	assert.Equal(t, 200, b.get(first).Code)
	b.led(b.send(meter(30)))
	assert.Equal(t, 404, b.get(first).Code)
}

// each visits every element below n.
func each(n *html.Node, visit func(*html.Node)) {
	if n.Type == html.ElementNode {
		visit(n)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		each(c, visit)
	}
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func words(n *html.Node) string {
	var b strings.Builder
	for c := range n.Descendants() {
		if c.Type == html.TextNode {
			b.WriteString(c.Data + " ")
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// pages are one of each kind that the site has.
func pages(t *testing.T, b *bench) map[string]string {
	t.Helper()
	one := b.led(b.post("/demos", url.Values{"name": {"hard-short-main-rail"}}))
	two := b.led(b.post(one, url.Values{"reading": {"main-rail-ohm=3.2kohm", "known-good-charger=same"}}))
	return map[string]string{
		"start": b.get("/").Body.String(), "result": b.get(one).Body.String(), "second result": b.get(two).Body.String(),
		"comparison": b.get("/compare?before=" + filepath.Base(one) + "&after=" + filepath.Base(two)).Body.String(),
		"problem":    b.get("/none").Body.String(),
	}
}

// WCAG 2.2 and the HTML standard, as far as parsing shows them.
func TestPageStructure(t *testing.T) {
	for name, raw := range pages(t, newBench(t, nil)) {
		t.Run(name, func(t *testing.T) {
			root, err := html.Parse(strings.NewReader(raw))
			require.NoError(t, err)
			ids, labelled, count := map[string]bool{}, map[string]bool{}, map[string]int{}
			last := 0
			each(root, func(n *html.Node) {
				count[n.Data]++
				if id := attr(n, "id"); id != "" {
					assert.False(t, ids[id], "id %s twice", id)
					ids[id] = true
				}
				for _, a := range n.Attr {
					assert.False(t, strings.HasPrefix(a.Key, "on"), "%s %s", n.Data, a.Key)
					assert.NotEqual(t, "style", a.Key, n.Data)
					if a.Key == "src" || a.Key == "action" || n.Data == "link" && a.Key == "href" && a.Val != "data:," {
						assert.Regexp(t, `^/[a-z./A-Z0-9]*$`, a.Val, "%s %s", n.Data, a.Key)
					}
				}
				switch n.Data {
				case "h1", "h2", "h3":
					level := int(n.Data[1] - '0')
					assert.LessOrEqual(t, level, last+1, words(n))
					last = level
				case "html":
					assert.Equal(t, "en", attr(n, "lang"))
				case "label":
					labelled[attr(n, "for")] = true
				case "th":
					assert.Equal(t, "col", attr(n, "scope"))
				case "style":
					assert.Fail(t, "a style in the page")
				case "script":
					assert.True(t, attr(n, "src") == "/script.js" || attr(n, "type") == "application/json", "a script in the page")
				}
			})
			each(root, func(n *html.Node) {
				switch n.Data {
				case "input", "select", "textarea":
					if attr(n, "type") != "hidden" {
						assert.True(t, labelled[attr(n, "id")], "%s %s has no label", n.Data, attr(n, "name"))
					}
				}
				for _, key := range []string{"aria-labelledby", "aria-describedby", "list"} {
					for _, id := range strings.Fields(attr(n, key)) {
						assert.True(t, ids[id], "%s names %s, which is not there", key, id)
					}
				}
			})
			for _, once := range []string{"h1", "main", "nav", "title", "header", "footer"} {
				want := 1
				if once == "title" {
					want += strings.Count(raw, "<title") - 1 // of the pictures
				}
				assert.Equal(t, want, count[once], once)
			}
			assert.NotContains(t, raw, "ZgotmplZ")
			assert.NotContains(t, raw, "http:")
			assert.NotContains(t, raw, "https:")
		})
	}
}

// Whatever stands in a file, in its name or in a field stays text.
func TestHostileTextStaysText(t *testing.T) {
	const hostile = "</title></script><script>alert(1)</script><img src=x onerror=alert(1)>\u202e\x1b[31m\"'`{{.}}"
	b := newBench(t, nil)
	head := "# " + hostile + "\ntime_s,voltage_v,current_a," + strings.ReplaceAll(hostile, `"`, "") + "\n"
	rows := strings.TrimPrefix(log(100), "time_s,voltage_v,current_a\n")
	rows = strings.ReplaceAll(rows, "\n", ",1\n") + "1," + strings.ReplaceAll(hostile, `"`, "") + ",1,1\n"
	kind := "multipart/form-data; boundary=x"
	name := strings.NewReplacer("\x1b", "%1B", `"`, "%22").Replace(hostile)
	body := "--x\r\nContent-Disposition: form-data; name=\"reading\"\r\n\r\nrepeat=same\r\n--x\r\nContent-Disposition: form-data; name=\"file\"; filename=\"" + name + strings.Repeat("A", 1<<20) + "\"\r\n\r\n" + head + rows + "\r\n--x--\r\n"
	r := request(http.MethodPost, "/recordings", strings.NewReader(body))
	r.Header.Set("Content-Type", kind)
	path := b.led(b.do(r))
	refused := b.send(part{"reading", "", hostile + "=1"})
	require.Equal(t, 422, refused.Code)
	for what, raw := range map[string]string{
		"result": b.get(path).Body.String(), "first page": b.get("/").Body.String(), "report": b.get(path + "/report.html").Body.String(),
		"refusal": refused.Body.String(), "unknown": b.get("/results/" + url.PathEscape(hostile)).Body.String(),
	} {
		root, err := html.Parse(strings.NewReader(raw))
		require.NoError(t, err)
		each(root, func(n *html.Node) {
			assert.NotEqual(t, "img", n.Data, what)
			if n.Data == "script" && what != "report" {
				assert.True(t, attr(n, "src") == "/script.js" || attr(n, "type") == "application/json", what)
			}
		})
		assert.Less(t, len(raw), 200<<10, "%s: a long name is cut", what)
		for _, r := range []string{"\u202e", "\x1b"} {
			assert.NotContains(t, raw, r, what)
		}
	}
	assert.Len(t, b.diagnosis(path).Inputs[0].Problems, 1)
}

// Only the report's file of assets may bypass the escaping, nothing is shown that was
// not meant to, and no file of the machine is read or written.
func TestNothingBypassesEscaping(t *testing.T) {
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		source, err := os.ReadFile(f)
		require.NoError(t, err)
		assert.NotRegexp(t, regexp.MustCompile(`template\.(HTML|JS|CSS|URL|HTMLAttr|JSStr|Srcset)\b`), string(source), f)
		assert.NotContains(t, string(source), "http.Default", f)
		assert.NotContains(t, string(source), "pprof", f)
		assert.NotRegexp(t, regexp.MustCompile(`os\.(Open|Create|Read|Write|Mkdir|Root)|http\.(FileServer|ServeFile|Dir)|expvar`), string(source), f)
	}
}

// growing is an upload of rows that is made while it is sent.
type growing struct {
	head, tail io.Reader
	left       int
	at         int
}

func (g *growing) Read(b []byte) (int, error) {
	if n, err := g.head.Read(b); n > 0 || err == nil {
		return n, err
	}
	if g.left == 0 {
		return g.tail.Read(b)
	}
	n := 0
	for n+64 < len(b) && g.left > 0 {
		n += copy(b[n:], fmt.Appendf(nil, "%d.%03d,20.0%03d,1.%04d\n", g.at/1000, g.at%1000, g.at*7919%997, g.at*104729%9973))
		g.at++
		g.left--
	}
	return n, nil
}

// A long upload takes no more memory than a short one beside what may be kept.
func TestMemoryStaysFlat(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(10)) // what is in use is nearly what is held
	rows := 1_200_000                                // 28 MB
	if *long {
		rows = 4_300_000 // 100 MB
	}
	c := config()
	c.MaxUpload, c.MostKept, c.Port = 1<<30, 1<<20, 0
	h, err := site.New(c)
	require.NoError(t, err)
	var most atomic.Uint64
	done := make(chan struct{})
	go func() {
		var m runtime.MemStats
		for {
			select {
			case <-done:
				return
			case <-time.After(20 * time.Millisecond):
				runtime.ReadMemStats(&m)
				most.Store(max(most.Load(), m.HeapInuse))
			}
		}
	}()
	heap := func(rows int) uint64 {
		runtime.GC()
		most.Store(0)
		body := &growing{
			head: strings.NewReader("--x\r\nContent-Disposition: form-data; name=\"file\"; filename=\"m.csv\"\r\n\r\ntime_s,voltage_v,current_a\n"),
			tail: strings.NewReader("\r\n--x--\r\n"), left: rows,
		}
		r := request(http.MethodPost, "/recordings", body)
		r.Host = "127.0.0.1:0"
		r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		require.Equal(t, http.StatusSeeOther, w.Code, w.Body)
		return most.Load()
	}
	tenth, whole := heap(rows/10), heap(rows)
	close(done)
	t.Logf("%d rows: %d MB, %d rows: %d MB", rows/10, tenth>>20, rows, whole>>20)
	assert.Less(t, whole, tenth+12<<20)
}
