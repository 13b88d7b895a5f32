package main

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// screen is a set of streams whose output is a terminal.
func screen(env map[string]string) (s *streams, out, errs *bytes.Buffer) {
	out, errs = &bytes.Buffer{}, &bytes.Buffer{}
	return &streams{
		in: strings.NewReader(""), out: out, err: errs, inTTY: true, outTTY: true, errTTY: true, width: 80,
		getenv: func(name string) string { return env[name] },
	}, out, errs
}

func TestColourIsDecidedByTerminalAndUser(t *testing.T) {
	args := []string{"diagnose", "demo:hard-short-main-rail"}
	cases := []struct {
		name            string
		env             map[string]string
		args            []string
		colour, braille bool
	}{
		{"a terminal with UTF-8", map[string]string{"LANG": "en_US.UTF-8"}, args, true, true},
		{"a terminal without UTF-8", map[string]string{"LANG": "C"}, args, true, false},
		{"LC_ALL goes before LANG", map[string]string{"LC_ALL": "C", "LANG": "en_US.UTF-8"}, args, true, false},
		{"NO_COLOR", map[string]string{"NO_COLOR": "1", "LANG": "C.utf8"}, args, false, true},
		{"NO_COLOR empty says nothing", map[string]string{"NO_COLOR": "", "LANG": "C.utf8"}, args, true, true},
		{"TERM=dumb", map[string]string{"TERM": "dumb", "LANG": "C.utf8"}, args, false, false},
		{"--no-color", map[string]string{"LANG": "C.utf8"}, append(args, "--no-color"), false, true},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s, out, errs := screen(c.env)
			require.Zero(t, run(c.args, s), errs.String())
			assert.Equal(t, c.colour, strings.Contains(out.String(), "\x1b["), "escapes")
			assert.Equal(t, c.braille, strings.ContainsFunc(out.String(), func(r rune) bool { return r >= 0x2800 && r < 0x2900 }), "braille")
			assert.Empty(t, errs.String(), "nothing lasted a second")
		})
	}
}

// Terminal and pipe tell the same: without colour and drawing every word of
// one is in the other.
func TestTerminalAndPipeTellTheSame(t *testing.T) {
	words := func(s string) []string {
		s = regexp.MustCompile(`\x1b\[[0-9;]*m`).ReplaceAllString(s, "")
		return regexp.MustCompile(`[A-Za-z0-9][A-Za-z0-9.:/-]*`).FindAllString(s, -1)
	}
	s, onScreen, _ := screen(map[string]string{"LANG": "C.utf8"})
	require.Zero(t, run([]string{"diagnose", "demo:hard-short-main-rail"}, s))
	s, piped, _ := screen(nil)
	s.outTTY = false
	require.Zero(t, run([]string{"diagnose", "demo:hard-short-main-rail"}, s))
	assert.Equal(t, words(piped.String()), words(onScreen.String()))
	assert.NotContains(t, piped.String(), "\x1b")
}

// Every line of an example in the help runs. Files it names are there.
func TestExamplesRun(t *testing.T) {
	dump, err := os.ReadFile("../../testdata/line/conversation.vcd")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	require.NoError(t, os.WriteFile("line.vcd", dump, 0o600))
	meter := "time (s),voltage (V),current (A)\n"
	for range 30 {
		meter += decimalSeconds(strings.Count(meter, "\n")) + ",5.08,0.010\n"
	}
	for _, name := range []string{"meter.csv", "before.csv", "after.csv"} {
		require.NoError(t, os.WriteFile(name, []byte(meter), 0o600))
	}
	for _, name := range []string{"messages.csv", "before-pd.csv", "after-pd.csv"} {
		require.NoError(t, os.WriteFile(name, []byte("time_s,sop,bytes\n0.1,SOP,a1112c910108\n0.102,SOP,4100\n"), 0o600))
	}
	ran := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if c.Name() == "serve" {
			return // it runs until it is interrupted: see TestServeFromStartToInterrupt
		}
		for _, line := range strings.Split(strings.ReplaceAll(c.Example, "\\\n", ""), "\n") {
			args := strings.Fields(line)
			if len(args) == 0 {
				continue
			}
			require.Equal(t, "portside", args[0], line)
			s, out, errs := screen(nil)
			s.outTTY = false
			code := run(args[1:], s)
			assert.Contains(t, []int{exitOK, exitFound}, code, "%s: %s", line, errs)
			assert.NotEmpty(t, out.String(), line)
			ran++
		}
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(newRoot(&streams{out: io.Discard, err: io.Discard}))
	assert.Greater(t, ran, 10)
}

func decimalSeconds(n int) string { return string(rune('0'+n/10)) + "." + string(rune('0'+n%10)) }

// build makes the program once for tests that need a process.
func build(t *testing.T) string {
	t.Helper()
	exe := filepath.Join(t.TempDir(), "portside")
	cmd := exec.Command("go", "build", "-o", exe, ".")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Skipf("the program cannot be built here: %s", out)
	}
	return exe
}

func TestInterruptStopsWithinASecond(t *testing.T) {
	cmd := exec.Command(build(t), "diagnose", "-")
	in, err := cmd.StdinPipe() // stays open: the program waits for more
	require.NoError(t, err)
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	require.NoError(t, cmd.Start())
	_, err = io.WriteString(in, "time (s),voltage (V),current (A)\n0,5,0\n")
	require.NoError(t, err)
	time.Sleep(200 * time.Millisecond)
	since := time.Now()
	require.NoError(t, cmd.Process.Signal(syscall.SIGINT))
	err = cmd.Wait()
	assert.Less(t, time.Since(since), time.Second)
	var exit *exec.ExitError
	require.ErrorAs(t, err, &exit)
	assert.Equal(t, exitInterrupted, exit.ExitCode())
	assert.Empty(t, out.String())
}

// failing is a writer that cannot write.
type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func TestResultThatCannotBeWritten(t *testing.T) {
	for _, args := range [][]string{
		{"diagnose", "demo:hard-short-main-rail"}, {"diagnose", "--json", "demo:hard-short-main-rail"},
		{"decode", "demo:hard-short-main-rail"}, {"rules"}, {"demo", "--json"}, {"--version"}, {"--help"}, {"help", "formats"},
	} {
		s, _, errs := screen(nil)
		s.outTTY, s.out = false, failing{syscall.ENOSPC}
		assert.Equal(t, exitInside, run(args, s), "%v", args)
		assert.Contains(t, errs.String(), "no space left", "%v", args)

		s, _, errs = screen(nil)
		s.outTTY, s.out = false, failing{syscall.EPIPE}
		assert.Equal(t, exitOK, run(args, s), "a closed pipe ends quietly: %v", args)
		assert.Empty(t, errs.String(), "%v", args)
	}
}

func TestQuoteSurvivesTheShell(t *testing.T) {
	for _, s := range []string{"", "plain.csv", "two words", "it's", "$HOME", "a;b", "*", "\\", "-x", "demo:a/b", "x=1,2%"} {
		out, err := exec.Command("sh", "-c", "printf %s "+quote(s)).Output()
		require.NoError(t, err)
		assert.Equal(t, s, string(out))
	}
}

func TestShortenKeepsStringsAndValues(t *testing.T) {
	cases := []struct{ in, want string }{
		{`{"a":0.30000000000000004}`, `{"a":0.3}`},
		{`{"a":"0.30000000000000004 \" 0.30000000000000004"}`, `{"a":"0.30000000000000004 \" 0.30000000000000004"}`},
		{`[1e-7,-0.1,12345678901234567,86399.123456]`, `[1e-7,-0.1,12345678901234567,86399.123456]`},
		{`["` + "\u202e" + `"]`, `["\u202e"]`},
		{`["` + "\U000e0001" + `µ"]`, `["\udb40\udc01µ"]`},
		{`["\\"]`, `["\\"]`},
		{`[1764082800.1234567,1764082800.3000002]`, `[1764082800.123457,1764082800.3]`},
	}
	for _, c := range cases {
		assert.Equal(t, c.want, string(shorten([]byte(c.in))))
	}
}

func TestNearest(t *testing.T) {
	names := []string{"diagnose", "decode", "demo", "rules"}
	for word, want := range map[string]string{"diagnos": "diagnose", "decod": "decode", "rulez": "rules", "xyzzyx": "", "": ""} {
		assert.Equal(t, want, nearest(word, names), word)
	}
}
