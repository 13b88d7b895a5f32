package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"portside/captures/demo"
	"portside/cmd/portside/text"
	"portside/decode"
)

// served is the program serving, in a process of its own.
type served struct {
	t       *testing.T
	cmd     *exec.Cmd
	address string
	lines   chan string // standard error after the address
}

func startServe(t *testing.T, args ...string) *served {
	t.Helper()
	cmd := exec.Command(build(t), append([]string{"serve"}, args...)...)
	out, err := cmd.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	s := &served{t: t, cmd: cmd, lines: make(chan string, 100)}
	go func() {
		defer close(s.lines)
		for in := bufio.NewScanner(out); in.Scan(); {
			s.lines <- in.Text()
		}
	}()
	select {
	case s.address = <-s.lines:
	case <-time.After(20 * time.Second):
		require.FailNow(t, "no address")
	}
	require.Regexp(t, `^http://127\.0\.0\.1:[0-9]+/$`, s.address)
	return s
}

func (s *served) get(path string) string {
	s.t.Helper()
	r, err := http.Get(s.address + strings.TrimPrefix(path, "/"))
	require.NoError(s.t, err)
	defer r.Body.Close()
	require.Equal(s.t, http.StatusOK, r.StatusCode, path)
	body, err := io.ReadAll(r.Body)
	require.NoError(s.t, err)
	return string(body)
}

// send posts the files of a demo as a form does and gives the result's path.
func (s *served) send(name string) string {
	s.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	files, err := demo.Open(name)
	require.NoError(s.t, err)
	for _, f := range files {
		part, err := form.CreateFormFile("file", f.Label)
		require.NoError(s.t, err)
		_, err = io.Copy(part, f.Data)
		require.NoError(s.t, err)
	}
	require.NoError(s.t, form.Close())
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	r, err := client.Post(s.address+"recordings", form.FormDataContentType(), &body)
	require.NoError(s.t, err)
	defer r.Body.Close()
	require.Equal(s.t, http.StatusSeeOther, r.StatusCode)
	require.Regexp(s.t, `^/results/[A-Z2-7]{26}$`, r.Header.Get("Location"))
	return r.Header.Get("Location")
}

func TestServeFromStartToInterrupt(t *testing.T) {
	s := startServe(t)
	assert.Contains(t, s.get("/"), "<h1>")
	// A visitor that has begun to send and never ends does not hold it up.
	stalled, w := io.Pipe()
	go func() {
		r, err := http.Post(s.address+"recordings", "multipart/form-data; boundary=x", stalled)
		if err == nil {
			_ = r.Body.Close()
		}
	}()
	_, err := io.WriteString(w, "--x\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a.csv\"\r\n\r\n")
	require.NoError(t, err)
	since := time.Now()
	require.NoError(t, s.cmd.Process.Signal(syscall.SIGINT))
	err = s.cmd.Wait()
	assert.Less(t, time.Since(since), time.Second)
	_ = w.Close()
	if err != nil {
		var exit *exec.ExitError
		require.ErrorAs(t, err, &exit)
		assert.Equal(t, exitInterrupted, exit.ExitCode())
	}
	for line := range s.lines {
		assert.Fail(t, "standard error holds more than the address", line)
	}
}

var long = flag.Bool("long", false, "wait out the times that a visitor is given")

// The times of common practice for servers: 5 s for the header, 10 s for what follows,
// 30 s for an answer, a minute between requests, 64 KiB of header.
func TestNobodyIsWaitedForForever(t *testing.T) {
	server := limited(t.Context(), http.NotFoundHandler())
	assert.LessOrEqual(t, server.ReadHeaderTimeout, 5*time.Second)
	assert.LessOrEqual(t, server.ReadTimeout, 10*time.Second)
	assert.LessOrEqual(t, server.WriteTimeout, 30*time.Second)
	assert.LessOrEqual(t, server.IdleTimeout, time.Minute)
	assert.LessOrEqual(t, server.MaxHeaderBytes, 64<<10)
	assert.Positive(t, min(server.ReadHeaderTimeout, server.ReadTimeout, server.WriteTimeout, server.IdleTimeout))
	assert.Positive(t, server.MaxHeaderBytes)
	if !*long {
		return
	}
	host := strings.Trim(strings.TrimPrefix(startServe(t).address, "http://"), "/")
	const begun = "POST /recordings HTTP/1.1\r\nHost: %s\r\nContent-Type: multipart/form-data; boundary=x\r\nContent-Length: 1000\r\n"
	for name, sent := range map[string]string{"header": begun, "upload": begun + "\r\n--x\r\n"} {
		c, err := net.Dial("tcp", host)
		require.NoError(t, err)
		defer c.Close()
		_, err = fmt.Fprintf(c, sent, host)
		require.NoError(t, err)
		require.NoError(t, c.SetReadDeadline(time.Now().Add(20*time.Second)))
		said, err := io.ReadAll(c)
		require.NoError(t, err, "%s: the connection is closed", name)
		assert.Equal(t, name == "upload", strings.Contains(string(said), "408 Request Timeout"), "%s: %s", name, said)
	}
}

// An address that others reach is warned of, and a browser that cannot be opened is no
// error.
func TestServeSaysWhoReachesIt(t *testing.T) {
	cmd := exec.Command(build(t), "serve", "--listen", "0.0.0.0:0", "--allow-host", "bench.example", "--open")
	cmd.Env = []string{"PATH="}
	out, err := cmd.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	lines := bufio.NewScanner(out)
	require.True(t, lines.Scan())
	assert.Contains(t, lines.Text(), "other machines may reach this page, and it asks for no password")
	require.True(t, lines.Scan())
	require.Regexp(t, `^http://bench\.example:[0-9]+/$`, lines.Text())
	port := strings.Trim(strings.TrimPrefix(lines.Text(), "http://bench.example:"), "/")
	for host, want := range map[string]int{"127.0.0.1:" + port: http.StatusOK, "bench.example:" + port: http.StatusOK, "evil.example:" + port: http.StatusForbidden} {
		r, err := http.NewRequest(http.MethodGet, "http://127.0.0.1:"+port+"/", nil)
		require.NoError(t, err)
		r.Host = host
		answer, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		assert.Equal(t, want, answer.StatusCode, host)
	}
}

// Text, JSON, report and page say the same of every recording that comes with
// the program.
func TestFourSurfacesAgree(t *testing.T) {
	s := startServe(t)
	for _, info := range demo.List() {
		t.Run(info.Name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "report.html")
			var cli, web decode.Diagnosis
			require.NoError(t, json.Unmarshal([]byte(printed(t, "diagnose", "--json", "demo:"+info.Name)), &cli))
			said := printed(t, "diagnose", "--html", file, "demo:"+info.Name)
			line, _, whole := strings.Cut(said, ".\n")
			require.True(t, whole)
			line = strings.ReplaceAll(line, "\n", " ") + "." // a long one is wrapped
			saved, err := os.ReadFile(file)
			require.NoError(t, err)

			path := s.send(info.Name)
			require.NoError(t, json.Unmarshal([]byte(s.get(path+".json")), &web))
			assert.Equal(t, cli.Verdict, web.Verdict)
			assert.Equal(t, cli.Next, web.Next)
			require.Len(t, web.Findings, len(cli.Findings))
			for i := range cli.Findings {
				assert.Equal(t, cli.Findings[i].Text, web.Findings[i].Text)
			}
			for name, page := range map[string]string{"page": s.get(path), "served report": s.get(path + "/report.html"), "report": string(saved)} {
				agrees(t, name, page, line, &cli)
			}
		})
	}
}

// printed is what a command prints where its output is no terminal.
func printed(t *testing.T, args ...string) string {
	t.Helper()
	s, out, errs := screen(nil)
	s.outTTY = false
	require.Zero(t, run(args, s), errs)
	return out.String()
}

// agrees holds that a page has the verdict's line, its shares, its facts and what to
// measure next.
func agrees(t *testing.T, name, page, line string, d *decode.Diagnosis) {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	require.NoError(t, err)
	shares := map[string]string{}
	heading, place := "", ""
	for n := range root.Descendants() {
		switch {
		case n.Data == "h1" && n.Type == html.ElementNode:
			heading = wordsOf(n)
		case classOf(n) == "place":
			place = strings.TrimPrefix(wordsOf(n), "\u25b6 ")
		case classOf(n) == "share":
			shares[place] = wordsOf(n)
		}
	}
	assert.Equal(t, line, heading, name)
	require.Len(t, shares, len(d.Verdict.Locations), name)
	for l, p := range d.Verdict.Locations {
		assert.Equal(t, text.Percent(p), shares[text.Side(l)], "%s: %s", name, l)
	}
	all := strings.ToLower(wordsOf(root))
	want := []string{d.Verdict.Summary}
	if len(d.Next) > 0 {
		want = append(want, d.Next[0].Test)
	}
	for _, f := range d.Findings {
		want = append(want, f.Text)
	}
	for _, w := range want {
		assert.Contains(t, all, strings.ToLower(strings.Join(strings.Fields(w), " ")), name)
	}
}

func classOf(n *html.Node) string {
	for _, a := range n.Attr {
		if a.Key == "class" {
			return a.Val
		}
	}
	return ""
}

// wordsOf is the text below a node.
func wordsOf(n *html.Node) string {
	var b strings.Builder
	for c := range n.Descendants() {
		if c.Type == html.TextNode {
			b.WriteString(c.Data + " ")
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}
