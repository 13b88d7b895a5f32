package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"mime/multipart"
	"net/http"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/demo"
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

// Text, JSON, report and page say the same of every recording that comes with
// the program.
func TestFourSurfacesAgree(t *testing.T) {
	s := startServe(t)
	for _, info := range demo.List() {
		t.Run(info.Name, func(t *testing.T) {
			in, out, errs := screen(nil)
			in.outTTY = false
			require.Zero(t, run([]string{"diagnose", "--json", "demo:" + info.Name}, in), errs)
			var cli, web decode.Diagnosis
			require.NoError(t, json.Unmarshal(out.Bytes(), &cli))

			path := s.send(info.Name)
			require.NoError(t, json.Unmarshal([]byte(s.get(path+".json")), &web))
			assert.Equal(t, cli.Verdict, web.Verdict)
			assert.Equal(t, cli.Next, web.Next)
			require.Len(t, web.Findings, len(cli.Findings))
			for i := range cli.Findings {
				assert.Equal(t, cli.Findings[i].Text, web.Findings[i].Text)
			}

			in, out, errs = screen(nil)
			in.outTTY = false
			require.Zero(t, run([]string{"diagnose", "demo:" + info.Name}, in), errs)
			line, _, _ := strings.Cut(out.String(), "\n")
			require.NotEmpty(t, line)
			assert.Contains(t, heading(s.get(path)), line)
			assert.Contains(t, heading(s.get(path+"/report.html")), line)
		})
	}
}

// heading is the text of a page's first heading.
func heading(page string) string {
	_, rest, _ := strings.Cut(page, "<h1")
	_, rest, _ = strings.Cut(rest, ">")
	text, _, _ := strings.Cut(rest, "</h1>")
	return text
}
