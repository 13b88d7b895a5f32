package captures

import "io"

// HasCCLevels reports whether the input is a meter log with columns of slow CC
// levels.
func (in *Input) HasCCLevels() bool {
	m, ok := in.source.(*meterSource)
	return ok && (m.columns.cc[0].index != absent || m.columns.cc[1].index != absent)
}

// meterWriter writes a meter log.
type meterWriter struct {
	rows    rowWriter
	cc      bool
	written Written
}

// NewMeterWriter begins a meter log with time_s, voltage_V, current_A and,
// where cc is set, cc1_V and cc2_V.
func NewMeterWriter(dst io.Writer, cc bool) (Writer, error) {
	w := &meterWriter{rows: newRowWriter(dst), cc: cc}
	for _, name := range []string{"time_s", "voltage_V", "current_A"} {
		w.rows.text(name)
	}
	if cc {
		w.rows.text("cc1_V")
		w.rows.text("cc2_V")
	}
	return w, w.rows.end()
}

// Write writes one row. A message is [ErrBothKinds].
func (w *meterWriter) Write(r Record, _ *Input) error {
	if r.Message != nil {
		return ErrBothKinds
	}
	s := r.Sample
	w.rows.time(s.At)
	w.rows.reading(s.Volts)
	w.rows.reading(s.Amps)
	if w.cc {
		w.rows.reading(s.CC[0])
		w.rows.reading(s.CC[1])
	}
	w.written.Samples++
	return w.rows.end()
}

// Close writes what is held back.
func (w *meterWriter) Close() error { return w.rows.dst.Flush() }

// Written counts the rows.
func (w *meterWriter) Written() Written { return w.written }
