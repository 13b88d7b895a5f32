package text

import (
	"fmt"
	"strings"

	"portside/decode"
	"portside/decode/line"
)

// line is the health of the recorded CC line: each figure beside the standard's
// limit.
func (p *sheet) line(d *decode.Diagnosis) {
	l := d.Line
	if l == nil {
		return
	}
	p.heading("The CC line")
	g := newGrid("measured", "value", "the standard")
	g.whole = true
	add := func(name, value, limit string) {
		if value != "" {
			g.add(name, value, limit)
		}
	}
	add("frames", fmt.Sprintf("%d read, %d broken, %d cut short", l.Frames, l.Broken, l.CutShort), "")
	for _, x := range l.Lines {
		if x.Stuck != nil {
			add("no change", fmt.Sprintf("signal %q stays %s for %.1f s", x.Name, *x.Stuck, x.SeenS), "")
		}
	}
	if l.CRCErrors.Source+l.CRCErrors.Sink > 0 {
		add("wrong CRC", fmt.Sprintf("%d of the source, %d of the sink", l.CRCErrors.Source, l.CRCErrors.Sink), "")
	}
	if l.Unacknowledged.Source+l.Unacknowledged.Sink > 0 {
		add("not acknowledged", fmt.Sprintf("%d of the source, %d of the sink", l.Unacknowledged.Source, l.Unacknowledged.Sink), "")
	}
	m := l.Limits
	add("bit rate", scaled(l.BitRateHz, "%.2f kbit/s", 1e-3), fmt.Sprintf("%g to %g kbit/s", m.BitRateHz[0]/1e3, m.BitRateHz[1]/1e3))
	add("drift in a frame", scaled(l.DriftPercent, "%.2f %%", 1)+driftUncertainty(l), fmt.Sprintf("at most %g %%", m.DriftPercent))
	add("jitter", scaled(l.JitterUS, "%.3f us", 1)+GridJitter(l), fmt.Sprintf("every edge within %.2f us of its place", m.EdgeUS))
	add("duty", scaled(l.DutyPercent, "%.1f %%", 1), "50 %")
	if l.PreambleBits != nil {
		add("preamble", fmt.Sprintf("%d good bits at least", *l.PreambleBits), fmt.Sprintf("%d bits, of which the first may be lost", m.PreambleBits))
	}
	add("gap between frames", scaled(l.GapUS, "%.0f us at least", 1), fmt.Sprintf("at least %g us", m.GapUS))
	add("level, high", scaled(l.Levels.HighV, "%.2f V", 1), "")
	add("level, low", scaled(l.Levels.LowV, "%.2f V", 1), "")
	add("rest between frames", scaled(l.Levels.RestV, "%.2f V", 1), "by Rp")
	if l.Rp != nil {
		add("Rp", *l.Rp, "default, 1.5A or 3A")
	}
	if l.Rd != nil {
		add("Rd", map[string]string{"one": "on one line", "both": "on both lines", "none": "on none"}[*l.Rd], "on one")
	}
	for _, s := range l.Speakers {
		p.speaker(add, s, m)
	}
	p.table(g)
}

// speaker adds what one side shows.
func (p *sheet) speaker(add func(name, value, limit string), s line.Speaker, m line.Limits) {
	if s.GoodCRCUS != nil {
		add(s.Who+" acknowledges", fmt.Sprintf("after %.0f us, at most %.0f us", s.GoodCRCUS.Mean, s.GoodCRCUS.Max), fmt.Sprintf("at most %g us", m.GoodCRCUS))
	}
	if r := s.BitRateHz; s.Frames > 0 {
		add(s.Who+" bit rate", fmt.Sprintf("%.2f kbit/s, %.2f to %.2f", r.Mean/1e3, r.Min/1e3, r.Max/1e3), fmt.Sprintf("%g to %g kbit/s", m.BitRateHz[0]/1e3, m.BitRateHz[1]/1e3))
	}
	add(s.Who+" swing", scaled(s.SwingV, "%.2f V", 1), fmt.Sprintf("%g to %g V", m.SwingV[0], m.SwingV[1]))
	if s.Retries > 0 {
		add(s.Who+" repeats", fmt.Sprintf("%d messages, one of them %s", s.Retries, times(s.MostRetries)), fmt.Sprintf("one at most %s", times(m.Retries)))
	}
}

// driftUncertainty is that of the drift, where it shows in the digits given.
func driftUncertainty(l *line.Result) string {
	const shown = 0.005 // percent
	if u := l.DriftUncertaintyPercent; u != nil && *u >= shown {
		return fmt.Sprintf(", standard uncertainty %.2f %%", *u)
	}
	return ""
}

// GridJitter says what of a jitter is the recorder's own; "" where that is nothing.
func GridJitter(l *line.Result) string {
	if l.GridUS == nil || l.JitterUS == nil {
		return ""
	}
	return fmt.Sprintf("; the recorder's steps of %g us alone make %.3f us", *l.GridUS, *l.GridJitterUS)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// scaled prints a measured value in another unit; "" where there is none.
func scaled(v *float64, format string, scale float64) string {
	if v == nil {
		return ""
	}
	return strings.TrimSpace(fmt.Sprintf(format, *v*scale))
}
