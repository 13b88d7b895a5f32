package charger

import (
	"math"

	"portside/decode/line"
	"portside/decode/message"
	"portside/pd"
)

// frames is what the line itself showed.
type frames struct {
	endS float64 // last bit of the last frame
	have bool
}

// microsecond turns the jitter of the edges into seconds.
const microsecond = 1e-6

// Frame takes what was measured at a frame of the line, in the order of time; the
// message in it goes to [Checker.Message]. Nothing of f is kept.
func (c *Checker) Frame(f *line.Frame) {
	c.seen.frames++
	start, end := message.Seconds(f.Start), message.Seconds(f.End)
	last := c.frames
	c.frames = frames{endS: end, have: true}
	h, ok := f.Header()
	if !f.Good || !ok || f.Set != pd.SOP || h.PowerRole() != pd.Source || c.link.elsewhere() {
		return
	}
	jitter := max(f.Measured.JitterUS, 0) * microsecond
	bit := 1 / f.Measured.BitRateHz
	duration := end - start
	c.judge(checkBitRate, exact, "rate_hz", "bit rate of the source's frames",
		reading{f.Measured.BitRateHz, f.Measured.BitRateHz * 2 * jitter / duration}, c.limit(pd.FBitRate), start)
	c.drift(f, start, jitter, bit)
	c.judge(checkPreamble, exact, "preamble_bits", "preamble of the source's frames",
		reading{value: float64(f.PreambleBits), off: 1}, atLeast(pd.PreambleBits, ""), start)
	if last.have && start > last.endS {
		c.judge(checkFrameGap, exact, "time_s", "from the end of a frame to a frame of the source",
			reading{start - last.endS, bit + 2*jitter}, c.limit(pd.TInterFrameGap), start)
	}
}

// driftBits is the length of the sliding mean that the drift is taken of (USB PD
// R3.2 V1.1, table 5.18, pBitRate).
const driftBits = 32

func (c *Checker) drift(f *line.Frame, startS, jitter, bit float64) {
	if math.IsNaN(f.Measured.DriftPercent) {
		return
	}
	const percent = 100
	off := percent * 2 * jitter / (driftBits * bit)
	c.judge(checkBitRate, exact, "drift_percent", "drift of the bit rate within a frame of the source",
		reading{f.Measured.DriftPercent, off}, c.limit(pd.PBitRate), startS)
}
