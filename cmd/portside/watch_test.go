package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/live"
)

// following is a watch of a file in a process of its own.
type following struct {
	t      *testing.T
	cmd    *exec.Cmd
	events chan live.Event
}

func startWatch(t *testing.T, files ...string) *following {
	t.Helper()
	cmd := exec.Command(build(t), append([]string{"watch", "--json"}, files...)...)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	w := &following{t: t, cmd: cmd, events: make(chan live.Event, 1000)}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	go func() {
		defer close(w.events)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			var e live.Event
			if json.Unmarshal(lines.Bytes(), &e) == nil {
				w.events <- e
			}
		}
	}()
	return w
}

// until waits for an event of a kind.
func (w *following) until(kind live.Kind) live.Event {
	w.t.Helper()
	patience := time.After(20 * time.Second)
	for {
		select {
		case e, open := <-w.events:
			require.True(w.t, open, "the watch ended before %q", kind)
			if e.Event == kind {
				return e
			}
		case <-patience:
			w.t.Fatalf("no %q in 20 s", kind)
		}
	}
}

func write(t *testing.T, path, text string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	require.NoError(t, err)
	_, err = f.WriteString(text)
	require.NoError(t, err)
	require.NoError(t, f.Close())
}

func meterRows(from, to int, volts, amps float64) string {
	text := ""
	for i := from; i < to; i++ {
		text += fmt.Sprintf("%.1f,%.2f,%.3f\n", float64(i)/10, volts, amps)
	}
	return text
}

func TestWatchFollowsAFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "log.csv")
	write(t, path, "time_s,voltage_V,current_A\n"+meterRows(0, 20, 0, 0))
	w := startWatch(t, path)
	assert.Contains(t, w.until(live.Start).Text, path)

	// rows come in, the last of them half
	write(t, path, meterRows(20, 40, 5.02, 0.05)+"4.0,5.0")
	e := w.until(live.Attach)
	assert.InDelta(t, 2.0, *e.TimeS, 1e-9)
	write(t, path, "2,0.05\n4.1,oops,0.05\n")
	assert.Contains(t, w.until(live.Problem).Text, "line 43")

	// the recorder pauses, then goes on with a gap
	write(t, path, meterRows(300, 320, 5.02, 0.05))
	assert.InDelta(t, 4.0, *w.until(live.Gap).TimeS, 1e-9)

	// a shorter file in its place is a new recording
	require.NoError(t, os.WriteFile(path, []byte("time_s,voltage_V,current_A\n"+meterRows(0, 9, 0, 0)), 0o600))
	w.until(live.Start)
	write(t, path, meterRows(9, 30, 5.02, 0.05)+"3.0,5.0")
	assert.InDelta(t, 0.9, *w.until(live.Attach).TimeS, 1e-9)

	require.NoError(t, w.cmd.Process.Signal(os.Interrupt))
	end := w.until(live.End)
	require.NotNil(t, end.TimeS)
	assert.InDelta(t, 2.9, *end.TimeS, 1e-9, "the half row at the end is not guessed")
	var exit *exec.ExitError
	require.ErrorAs(t, w.cmd.Wait(), &exit)
	assert.Equal(t, exitInterrupted, exit.ExitCode())
}

func TestWatchFollowsTwoFiles(t *testing.T) {
	dir := t.TempDir()
	meter, messages := filepath.Join(dir, "meter.csv"), filepath.Join(dir, "messages.csv")
	write(t, meter, "time_s,voltage_V,current_A\n"+meterRows(0, 20, 5.02, 0.01))
	write(t, messages, "time_s,sop,bytes\n")
	w := startWatch(t, meter, messages)
	w.until(live.Start)
	// Source_Capabilities with 5 V 3 A: 0x11A1 and 0x0801912C
	write(t, messages, "1.000,SOP,a1112c910108\n")
	assert.Contains(t, w.until(live.Offer).Text, "5 V 3 A")
	require.NoError(t, w.cmd.Process.Signal(os.Interrupt))
	w.until(live.End)
}
