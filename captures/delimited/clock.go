package delimited

import (
	"bytes"
	"time"
)

// Form is how a log writes its times. One log has one form.
type Form uint8

// Forms of a time; the zero value is not settled yet.
const (
	Unsettled Form = iota
	Number         // seconds, or the heading's unit
	TimeOfDay      // HH:MM:SS.fff
	Stamp          // RFC 3339
	Local          // the same without an offset from UTC
)

var formNames = [...]string{
	Unsettled: "a time",
	Number:    "a time as a number",
	TimeOfDay: "a clock time HH:MM:SS",
	Stamp:     "an RFC 3339 stamp",
	Local:     "a stamp without an offset, as above",
}

// String says what is expected of a cell.
func (f Form) String() string { return formNames[f] }

// LocalNote says how stamps without an offset are read.
const LocalNote = "the time stamps name no offset from UTC; they are taken as one clock that was never put forward or back"

// Clock turns time cells into times on the file's own clock: the number in
// seconds, seconds since the first day's midnight, or seconds since the first
// row. The zero value reads seconds with a decimal point.
type Clock struct {
	Form    Form // settled by the first cell that can be read; may be set back
	Shift   int  // the power of ten that lifts a number to seconds, or to minutes
	Minutes bool // a number is in minutes
	Comma   bool // a decimal comma is allowed
	first   time.Time
	begun   bool // first is known
}

// Read gives the time of a cell; ok is false where it is none. The form is
// settled by the first cell that can be read. last is the time of the row
// before; it tells the day of a clock time.
func (c *Clock) Read(cell []byte, last time.Duration) (at time.Duration, ok bool) {
	switch c.Form {
	case Number:
		return c.number(cell)
	case TimeOfDay:
		return c.clock(cell, last)
	case Stamp, Local:
		return c.stamp(cell)
	}
	for form := Number; form <= Local; form++ {
		c.Form = form
		if at, ok = c.Read(cell, last); ok {
			return at, true
		}
	}
	c.Form = Unsettled
	return 0, false
}

func (c *Clock) number(cell []byte) (time.Duration, bool) {
	d, ok := ParseDecimal(cell, c.Comma)
	if !ok {
		return 0, false
	}
	return d.Duration(c.Shift, c.Minutes)
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
func (c *Clock) clock(cell []byte, last time.Duration) (time.Duration, bool) {
	at, ok := timeOfDay(cell, c.Comma)
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
	d, ok := ParseDecimal(rest, comma)
	if !ok || bytes.ContainsAny(rest, "eE") {
		return 0, false
	}
	s, ok := d.Duration(0, false)
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
func (c *Clock) stamp(cell []byte) (time.Duration, bool) {
	at, ok := parseStamp(cell, c.Comma, c.Form == Local)
	if !ok {
		return 0, false
	}
	if !c.begun {
		c.first, c.begun = at, true
	}
	d := at.Sub(c.first)
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
