package message

import (
	"bytes"
	"strconv"
	"time"
	"unicode/utf8"
)

// jsonWriter appends JSON to b, member by member, without reflection and
// without memory of its own. Names must need no escape.
type jsonWriter struct{ b []byte }

// newJSON begins an object behind what stands in b already.
func newJSON(b []byte) jsonWriter { return jsonWriter{append(b, '{')} }

// next puts the comma before every member or element but the first.
func (w *jsonWriter) next() {
	if n := len(w.b); n > 0 && w.b[n-1] != '{' && w.b[n-1] != '[' && w.b[n-1] != ',' {
		w.b = append(w.b, ',')
	}
}

func (w *jsonWriter) name(name string) {
	w.next()
	b := append(w.b, '"')
	b = append(b, name...)
	w.b = append(b, '"', ':')
}

// again writes what was written before, its comma included.
func (w *jsonWriter) again(json []byte) { w.b = append(w.b, json...) }

// open begins an object or a list; the name is empty for an element.
func (w *jsonWriter) open(name string, bracket byte) {
	if name == "" {
		w.next()
	} else {
		w.name(name)
	}
	w.b = append(w.b, bracket)
}

func (w *jsonWriter) close(bracket byte) { w.b = append(w.b, bracket) }

func (w *jsonWriter) number(name string, v int) {
	w.name(name)
	w.b = strconv.AppendInt(w.b, int64(v), 10)
}

func (w *jsonWriter) flag(name string, v bool) {
	w.name(name)
	w.b = strconv.AppendBool(w.b, v)
}

func (w *jsonWriter) null(name string) {
	w.name(name)
	w.b = append(w.b, "null"...)
}

// word writes a string that needs no escape: a name of the standard.
func (w *jsonWriter) word(name, v string) {
	w.name(name)
	w.b = append(w.b, '"')
	w.b = append(w.b, v...)
	w.b = append(w.b, '"')
}

// role writes a role; one that is not told is null.
func (w *jsonWriter) role(name, v string, ok bool) {
	if !ok {
		w.null(name)
		return
	}
	w.word(name, v)
}

func (w *jsonWriter) hex(name string, v uint32, digits int) {
	w.name(name)
	w.b = append(w.b, '"')
	w.b = appendHex(w.b, v, digits)
	w.b = append(w.b, '"')
}

// bytes writes bytes in the order of the wire as one hexadecimal string.
func (w *jsonWriter) bytes(name string, v []byte) {
	w.name(name)
	w.b = append(w.b, '"')
	w.b = appendBytes(w.b, v)
	w.b = append(w.b, '"')
}

func (w *jsonWriter) text(name string, v []byte) {
	w.name(name)
	w.b = appendText(w.b, v)
}

// sentence writes text in printable ASCII.
func (w *jsonWriter) sentence(name string, v []byte) {
	if bytes.IndexByte(v, '"') >= 0 || bytes.IndexByte(v, '\\') >= 0 {
		w.text(name, v)
		return
	}
	w.name(name)
	w.b = append(w.b, '"')
	w.b = append(w.b, v...)
	w.b = append(w.b, '"')
}

func (w *jsonWriter) element(v string) {
	w.next()
	w.b = appendText(w.b, v)
}

func (w *jsonWriter) seconds(name string, d time.Duration) {
	w.name(name)
	w.b = appendSeconds(w.b, d)
}

// field writes a field by its own name.
func (w *jsonWriter) field(f *Field) {
	w.name(f.Name)
	switch {
	case f.form == formWord:
		w.b = appendText(w.b, f.word)
	case f.quoted():
		w.b = append(w.b, '"')
		w.b = f.AppendValue(w.b)
		w.b = append(w.b, '"')
	default:
		w.b = f.AppendValue(w.b)
	}
}

// Between these a time in seconds is written as whole digits. Below, JSON
// takes an exponent; above, a float64 no longer keeps every nanosecond.
const (
	smallestPlain = time.Microsecond
	largestPlain  = 1_000_000 * time.Second // fifteen digits
)

// appendSeconds writes a time in seconds with the digits that the shortest
// float64 has, which are the recorder's own.
func appendSeconds(b []byte, d time.Duration) []byte {
	switch {
	case d == 0:
		return append(b, '0')
	case d < 0 && d > -largestPlain:
		return appendSeconds(append(b, '-'), -d)
	case d < smallestPlain || d >= largestPlain:
		return appendFloat(b, Seconds(d))
	}
	b = strconv.AppendInt(b, int64(d/time.Second), 10)
	rest := uint32(d % time.Second)
	if rest == 0 {
		return b
	}
	places := 9
	for ; rest%1000 == 0; rest /= 1000 {
		places -= 3
	}
	for ; rest%10 == 0; rest /= 10 {
		places--
	}
	b = append(b, ".000000000"[:1+places]...)
	for last := len(b) - 1; rest > 0; last-- {
		b[last] = byte('0' + rest%10)
		rest /= 10
	}
	return b
}

// appendFloat writes a number as encoding/json does: plain between 1e-6 and
// 1e21, else with an exponent without a leading zero.
func appendFloat(b []byte, v float64) []byte {
	if a := max(v, -v); a >= 1e-6 && a < 1e21 {
		return strconv.AppendFloat(b, v, 'f', -1, 64)
	}
	b = strconv.AppendFloat(b, v, 'e', -1, 64)
	if n := len(b); n >= 4 && b[n-4] == 'e' && b[n-2] == '0' {
		b[n-2] = b[n-1]
		b = b[:n-1]
	}
	return b
}

// appendText writes a string with its quotes, escaped as encoding/json does
// where HTML is not escaped.
func appendText[S []byte | string](b []byte, s S) []byte {
	b = append(b, '"')
	from := 0
	for i := 0; i < len(s); {
		c := s[i]
		if c >= 0x20 && c < utf8.RuneSelf && c != '"' && c != '\\' {
			i++
			continue
		}
		b = append(b, s[from:i]...)
		var n int
		b, n = appendEscaped(b, s[i:min(i+utf8.UTFMax, len(s))])
		i += n
		from = i
	}
	b = append(b, s[from:]...)
	return append(b, '"')
}

// appendEscaped writes the first character of s and gives its length.
func appendEscaped[S []byte | string](b []byte, s S) ([]byte, int) {
	const hex = "0123456789abcdef"
	switch c := s[0]; {
	case c == '"' || c == '\\':
		return append(b, '\\', c), 1
	case c == '\n':
		return append(b, `\n`...), 1
	case c == '\r':
		return append(b, `\r`...), 1
	case c == '\t':
		return append(b, `\t`...), 1
	case c == '\b':
		return append(b, `\b`...), 1
	case c == '\f':
		return append(b, `\f`...), 1
	case c < 0x20:
		return append(b, '\\', 'u', '0', '0', hex[c>>4], hex[c&0xF]), 1
	}
	r, n := utf8.DecodeRuneInString(string(s))
	switch {
	case r == utf8.RuneError && n == 1:
		return append(b, `\ufffd`...), 1
	case r == '\u2028' || r == '\u2029':
		return append(b, '\\', 'u', '2', '0', '2', hex[r&0xF]), n
	default:
		return utf8.AppendRune(b, r), n
	}
}

func appendHex(b []byte, w uint32, digits int) []byte {
	b = append(b, "0x"...)
	for i := digits - 1; i >= 0; i-- {
		b = append(b, hexDigits[w>>(4*i)&0xF])
	}
	return b
}

func appendBytes(b, v []byte) []byte {
	b = append(b, "0x"...)
	for _, c := range v {
		b = append(b, hexDigits[c>>4], hexDigits[c&0xF])
	}
	return b
}

const hexDigits = "0123456789ABCDEF"
