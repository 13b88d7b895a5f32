package line

import (
	"math"
	"time"

	"portside/captures/line"
)

// frameNs is longer than any frame: 2769 bits at 270 kbit/s last 10.3 ms.
const frameNs = 11_000_000

// window lets through what was recorded from one time to another, and a little more
// for a frame that begins before its end.
type window struct {
	from, to time.Duration
	before   [line.MaxSignals]line.Event // of each signal, the last before from
	known    [line.MaxSignals]bool
	begun    bool
	now      time.Duration
	kept     []line.Event
}

func newWindow(from, to time.Duration) *window {
	if to < math.MaxInt64-frameNs {
		to += frameNs
	}
	return &window{from: from, to: to}
}

// pass gives the events to go on with, good until the next call; over says that the
// rest lies behind the window.
func (w *window) pass(events []line.Event) (kept []line.Event, over bool) {
	w.kept = w.kept[:0]
	for i := range events {
		e := &events[i]
		w.now = e.At
		switch {
		case e.At > w.to:
			w.begin()
			return append(w.kept, line.Event{At: w.to, Signal: line.NoSignal}), true
		case e.At >= w.from:
			w.begin()
			w.kept = append(w.kept, *e)
		case e.Signal != line.NoSignal:
			w.before[e.Signal], w.known[e.Signal] = *e, true
		}
	}
	return w.kept, false
}

// begin tells what stood on each signal as the window opens.
func (w *window) begin() {
	if w.begun {
		return
	}
	w.begun = true
	for signal, known := range w.known {
		if known {
			e := w.before[signal]
			e.At = w.from
			w.kept = append(w.kept, e)
		}
	}
}
