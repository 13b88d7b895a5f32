package captures

import (
	"math"
	"time"
)

// timeForm is how a log writes its times. One log has one form.
type timeForm uint8

const (
	formUnknown timeForm = iota
	formNumber           // seconds, or the heading's unit
	formClock            // HH:MM:SS.fff
	formStamp            // RFC 3339
)

// timeReader turns time cells into times on the file's own clock: the number
// in seconds, seconds since the first day's midnight, or seconds since the
// first row.
type timeReader struct {
	form  timeForm
	unit  unit
	comma bool // a decimal comma is allowed

	days  time.Duration // midnights passed
	last  time.Duration // last clock time of day
	begun bool
	first time.Time
}

// read gives the time of a cell; ok is false where it is none. The form is
// settled by the first cell that can be read.
func (r *timeReader) read(cell []byte) (at time.Duration, ok bool) {
	switch r.form {
	case formNumber:
		return r.number(cell)
	case formClock:
		return r.clock(cell)
	case formStamp:
		return r.stamp(cell)
	}
	for _, form := range []timeForm{formNumber, formClock, formStamp} {
		r.form = form
		if at, ok = r.read(cell); ok {
			return at, true
		}
	}
	r.form = formUnknown
	return 0, false
}

func (r *timeReader) number(cell []byte) (time.Duration, bool) {
	d, ok := parseDecimal(cell, r.comma)
	if !ok {
		return 0, false
	}
	if r.unit.minutes {
		const perMinute = 60
		if d.mantissa > math.MaxUint64/perMinute {
			return 0, false
		}
		d.mantissa *= perMinute // before rounding to a nanosecond, not after
	}
	return d.duration(r.unit.shift)
}

const day = 24 * time.Hour

// clock reads HH:MM:SS with an optional fraction. A time that falls by more
// than half a day has passed midnight.
func (r *timeReader) clock(cell []byte) (time.Duration, bool) {
	if len(cell) < 7 {
		return 0, false
	}
	h, rest, ok := twoDigits(cell, ':')
	if !ok || h > 23 {
		return 0, false
	}
	m, rest, ok := twoDigits(rest, ':')
	if !ok || m > 59 || len(rest) < 2 || rest[0] == '-' || rest[0] == '+' {
		return 0, false
	}
	d, ok := parseDecimal(rest, true)
	if !ok {
		return 0, false
	}
	s, ok := d.duration(0)
	if !ok || s >= 61*time.Second {
		return 0, false
	}
	at := time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + s
	if r.begun && at < r.last-day/2 {
		r.days += day
	}
	r.last, r.begun = at, true
	return r.days + at, true
}

// twoDigits reads one or two digits up to the mark.
func twoDigits(cell []byte, mark byte) (n int, rest []byte, ok bool) {
	for i, c := range cell {
		if c == mark {
			return n, cell[i+1:], i > 0
		}
		if i == 2 || c < '0' || c > '9' {
			return 0, nil, false
		}
		n = n*10 + int(c-'0')
	}
	return 0, nil, false
}

// stampForms are RFC 3339 and its variants with a blank in place of the T or
// without an offset, which is then taken as UTC.
var stampForms = [...]string{time.RFC3339Nano, "2006-01-02 15:04:05.999999999Z07:00", "2006-01-02T15:04:05.999999999", "2006-01-02 15:04:05.999999999"}

func (r *timeReader) stamp(cell []byte) (time.Duration, bool) {
	text := string(cell)
	for _, form := range stampForms {
		at, err := time.Parse(form, text)
		if err != nil {
			continue
		}
		if !r.begun {
			r.first, r.begun = at, true
		}
		return at.Sub(r.first), true
	}
	return 0, false
}
