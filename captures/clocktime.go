package captures

import (
	"bytes"
	"time"
)

// timeForm is how a log writes its times. One log has one form.
type timeForm uint8

const (
	formUnknown timeForm = iota
	formNumber           // seconds, or the heading's unit
	formClock            // HH:MM:SS.fff
	formStamp            // RFC 3339
	formLocal            // the same without an offset from UTC
)

var formNames = [...]string{
	formUnknown: "a time",
	formNumber:  "a time as a number",
	formClock:   "a clock time HH:MM:SS",
	formStamp:   "an RFC 3339 stamp",
	formLocal:   "a stamp without an offset, as above",
}

// localNote says how stamps without an offset are read.
const localNote = "the time stamps name no offset from UTC; they are taken as one clock that was never put forward or back"

// timeReader turns time cells into times on the file's own clock: the number
// in seconds, seconds since the first day's midnight, or seconds since the
// first row.
type timeReader struct {
	form  timeForm
	unit  unit
	comma bool // a decimal comma is allowed
	first time.Time
	begun bool // first is known
}

// read gives the time of a cell; ok is false where it is none. The form is
// settled by the first cell that can be read. last is the time of the row
// before; it tells the day of a clock time.
func (r *timeReader) read(cell []byte, last time.Duration) (at time.Duration, ok bool) {
	switch r.form {
	case formNumber:
		return r.number(cell)
	case formClock:
		return r.clock(cell, last)
	case formStamp, formLocal:
		return r.stamp(cell)
	}
	for form := formNumber; form <= formLocal; form++ {
		r.form = form
		if at, ok = r.read(cell, last); ok {
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
	return d.duration(r.unit)
}

const (
	day = 24 * time.Hour
	// A clock that falls by more than half a day has passed midnight; by less,
	// the row is out of order.
	midnightFall = day / 2
	// A clock that leaps to the last hour before midnight, right behind it, is
	// a row out of order too: rows are late by moments, not by 23 hours.
	midnightSlip = time.Hour
)

// clock reads a clock time on the day of the row before, or on the next.
func (r *timeReader) clock(cell []byte, last time.Duration) (time.Duration, bool) {
	at, ok := timeOfDay(cell, r.comma)
	if !ok {
		return 0, false
	}
	at += last - last%day
	switch {
	case last-at > midnightFall:
		at += day
	case last >= day && at-last > day-midnightSlip:
		at -= day
	}
	return at, at <= MaxTime
}

// timeOfDay reads H:MM:SS or HH:MM:SS with an optional fraction.
func timeOfDay(cell []byte, comma bool) (time.Duration, bool) {
	h, rest, ok := clockDigits(cell, 1)
	if !ok || h > 23 {
		return 0, false
	}
	m, rest, ok := clockDigits(rest, 2)
	if !ok || m > 59 || len(rest) < 2 || !isDigit(rest[0]) || !isDigit(rest[1]) {
		return 0, false
	}
	if len(rest) == 3 || len(rest) > 3 && rest[2] != '.' && (!comma || rest[2] != ',') {
		return 0, false
	}
	d, ok := parseDecimal(rest, comma)
	if !ok || bytes.ContainsAny(rest, "eE") {
		return 0, false
	}
	s, ok := d.duration(unit{})
	if !ok || s >= 61*time.Second { // 60 is a leap second
		return 0, false
	}
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + s, true
}

// clockDigits reads one or two digits, at least least, up to a colon.
func clockDigits(cell []byte, least int) (n int, rest []byte, ok bool) {
	i := 0
	for ; i < len(cell) && i < 2 && isDigit(cell[i]); i++ {
		n = n*10 + int(cell[i]-'0')
	}
	if i < least || i == len(cell) || cell[i] != ':' {
		return 0, nil, false
	}
	return n, cell[i+1:], true
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// stamp reads an RFC 3339 stamp since the first one.
func (r *timeReader) stamp(cell []byte) (time.Duration, bool) {
	at, ok := parseStamp(cell, r.comma, r.form == formLocal)
	if !ok {
		return 0, false
	}
	if !r.begun {
		r.first, r.begun = at, true
	}
	d := at.Sub(r.first)
	return d, -MaxTime <= d && d <= MaxTime
}

const (
	stampDate   = len("2006-01-02")
	stampSecond = len("2006-01-02T15:04:")
	stampWhole  = len("2006-01-02T15:04:05")
	stampMost   = 64 // more than any stamp has
)

// parseStamp reads an RFC 3339 stamp: T and Z may be small, a blank may stand
// for the T, and a second 60 is a leap second (section 5.6). A decimal comma
// is allowed as in any number of the log. Where local is set the stamp must
// have no offset.
func parseStamp(cell []byte, comma, local bool) (time.Time, bool) {
	if len(cell) < stampWhole || len(cell) > stampMost {
		return time.Time{}, false
	}
	text := append(make([]byte, 0, stampMost+1), cell...)
	if local {
		text = append(text, 'Z') // behind an offset it spoils the stamp
	}
	if c := text[stampDate]; c == ' ' || c == 't' {
		text[stampDate] = 'T'
	}
	if end := len(text) - 1; text[end] == 'z' {
		text[end] = 'Z'
	}
	if comma && len(text) > stampWhole && text[stampWhole] == ',' {
		text[stampWhole] = '.'
	}
	if !isStamp(text) {
		return time.Time{}, false
	}
	leap := time.Duration(0)
	if string(text[stampSecond:stampWhole]) == "60" {
		copy(text[stampSecond:], "59")
		leap = time.Second
	}
	var at time.Time
	if at.UnmarshalText(text) != nil {
		return time.Time{}, false
	}
	return at.Add(leap), true
}

// isStamp holds a stamp to the grammar of RFC 3339, section 5.6, where the
// library is generous: an hour of one digit, a decimal comma, an offset of a
// day. Whether the date exists is left to the library.
func isStamp(text []byte) bool {
	for i, c := range []byte("0000-00-00T00:00:00") {
		if c == '0' && !isDigit(text[i]) || c != '0' && text[i] != c {
			return false
		}
	}
	zone := text[stampWhole:]
	if len(zone) > 1 && zone[0] == '.' {
		digits := 1
		for digits < len(zone) && isDigit(zone[digits]) {
			digits++
		}
		if digits == 1 {
			return false
		}
		zone = zone[digits:]
	}
	if string(zone) == "Z" {
		return true
	}
	if len(zone) != len("+00:00") || zone[0] != '+' && zone[0] != '-' {
		return false
	}
	hour, minutes, ok := clockDigits(zone[1:], 2)
	return ok && hour <= 23 && isDigit(minutes[0]) && minutes[0] <= '5' && isDigit(minutes[1])
}
