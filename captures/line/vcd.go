package line

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// VCD reads a Value Change Dump (IEEE 1364-2005, clause 18).
type VCD struct {
	words   *tokens
	stats   Stats
	signals []Signal
	targets [128][]target // by the last byte of the identifier code

	nsPerTick  int64 // one of the two is 1
	ticksPerNs int64
	now        time.Duration
	behind     bool    // the time went backwards: changes are passed over until it has caught up
	over       bool    // the end was told
	pending    []Event // of one word, more than there was room for
}

// target is a signal that is followed under its identifier code.
type target struct {
	code   string
	place  int // bit of a vector, from its right end
	signal uint8
	volts  bool
	plain  bool // a one-bit change of this code concerns this signal only
}

const (
	maxPath  = 4 << 10 // bytes of scope names that are kept
	maxWords = 16      // words of a declaration that are kept
)

// NewVCD reads the definitions and chooses the signals to follow: the one
// that o names, else all that are named CC, else every one-bit signal, and
// real signals named vbus and ibus. An unusable file is an *[UnusableError].
func NewVCD(src io.Reader, o Options) (*VCD, error) {
	v := &VCD{words: newTokens(src)}
	d := definitions{vcd: v, choice: choice{want: o.Signal}}
	if err := d.read(); err != nil {
		return nil, err
	}
	if err := v.setTick(d.timescale, o.RateHz); err != nil {
		return nil, err
	}
	chosen, err := d.choice.settle(&v.stats)
	if err != nil {
		return nil, err
	}
	for i, c := range chosen {
		v.signals = append(v.signals, Signal{Name: c.name, Kind: c.kind})
		v.follow(target{code: c.code, place: c.place, signal: uint8(i), volts: c.real, plain: !c.real && c.place == 0})
	}
	return v, nil
}

// follow adds a target. Two bits of one vector share its code, and are not plain.
func (v *VCD) follow(t target) {
	list := &v.targets[t.code[len(t.code)-1]&0x7f]
	for i := range *list {
		if other := &(*list)[i]; other.code == t.code {
			other.plain, t.plain = false, false
		}
	}
	*list = append(*list, t)
}

// Signals are the signals followed.
func (v *VCD) Signals() []Signal { return v.signals }

// Stats says what was read so far.
func (v *VCD) Stats() Stats { return v.stats }

// definitions reads the part before the first value.
type definitions struct {
	vcd       *VCD
	choice    choice
	timescale string
	scopes    []string
	deeper    int // scopes inside the last one kept
	pathBytes int
}

// read takes the definitions up to $enddefinitions, or up to the first value
// where that is missing.
func (d *definitions) read() error {
	w := d.vcd.words
	for {
		word, err := w.next()
		if err != nil {
			return d.ended(err)
		}
		if word[0] != '$' {
			if d.choice.declared == 0 {
				return &UnusableError{Line: w.line, Expected: "a Value Change Dump that begins with its definitions", Found: shown(word)}
			}
			d.noEnd(len(word))
			return nil
		}
		switch string(word) {
		case "$enddefinitions":
			_, err := d.body(nil)
			return ignoreEnd(err)
		case "$dumpvars", "$dumpall", "$dumpon", "$dumpoff":
			d.noEnd(len(word))
			return nil
		case "$end":
		default:
			if err := d.declaration(string(word)); err != nil {
				return d.ended(err)
			}
		}
	}
}

// noEnd goes back to the word where the values begin.
func (d *definitions) noEnd(length int) {
	w := d.vcd.words
	w.pos -= length
	d.vcd.stats.remark(w.line, "expected $enddefinitions before the first value")
}

// ended says what is missing in a file that ends within its definitions.
func (d *definitions) ended(err error) error {
	if !errors.Is(err, io.EOF) {
		return err
	}
	if d.choice.declared == 0 {
		return &UnusableError{Expected: "a declared signal ($var)", Found: "the end of the file"}
	}
	return &UnusableError{Expected: "values after the definitions", Found: "the end of the file"}
}

func ignoreEnd(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

func (d *definitions) declaration(keyword string) error {
	line := d.vcd.words.line
	var kept [maxWords]string
	words, err := d.body(kept[:0])
	if err != nil {
		return err
	}
	switch keyword {
	case "$timescale":
		d.timescale = strings.Join(words, "")
	case "$scope":
		if len(words) < 2 {
			d.vcd.stats.skip(line, "expected a scope's type and name")
		}
		d.enter(words)
	case "$upscope":
		d.leave()
	case "$var":
		d.variable(words, line)
	}
	return nil
}

// body gives the words of a declaration up to its $end; words beyond the
// room of kept are passed over.
func (d *definitions) body(kept []string) ([]string, error) {
	for {
		word, err := d.vcd.words.next()
		if err != nil {
			return kept, err
		}
		if string(word) == "$end" {
			return kept, nil
		}
		if len(kept) < cap(kept) {
			text := string(word)
			if d.vcd.words.tooLong {
				text = "" // no signal has such a name: the declaration is not usable
			}
			kept = append(kept, text)
		}
	}
}

func (d *definitions) enter(words []string) {
	name := ""
	if len(words) >= 2 {
		name = strings.TrimPrefix(words[1], `\`)
	}
	if d.deeper > 0 || d.pathBytes+len(name)+1 > maxPath {
		d.deeper++
		return
	}
	d.scopes = append(d.scopes, name)
	d.pathBytes += len(name) + 1
}

func (d *definitions) leave() {
	switch {
	case d.deeper > 0:
		d.deeper--
	case len(d.scopes) > 0:
		last := len(d.scopes) - 1
		d.pathBytes -= len(d.scopes[last]) + 1
		d.scopes = d.scopes[:last]
	}
}

// variable takes "type size code reference [range]".
func (d *definitions) variable(words []string, line int) {
	if len(words) < 4 {
		d.vcd.stats.skip(line, "expected $var with type, size, code and name")
		return
	}
	size, err := strconv.Atoi(words[1])
	if err != nil || size < 1 || words[2] == "" || words[3] == "" {
		d.vcd.stats.skip(line, "expected $var with a size of 1 or more, a code and a name of at most %d bytes", maxToken)
		return
	}
	v := variable{code: words[2], size: size, real: words[0] == "real" || words[0] == "realtime"}
	v.base, v.msb, v.lsb = parseReference(words[3:], size)
	v.name = v.base
	if len(d.scopes) > 0 {
		v.name = strings.Join(d.scopes, ".") + "." + v.base
	}
	d.choice.add(&v)
}

// secondsUnits are the units of $timescale as powers of ten of a nanosecond.
var secondsUnits = map[string]int{"s": 9, "ms": 6, "us": 3, "ns": 0, "ps": -3, "fs": -6}

// setTick works out the length of a tick from $timescale, or from the rate
// stated where the file has none.
func (v *VCD) setTick(timescale string, rateHz float64) error {
	if timescale == "" && rateHz > 0 && rateHz <= 1e9 {
		v.nsPerTick, v.ticksPerNs = int64(math.Round(1e9/rateHz)), 1
		return nil
	}
	digits := len(timescale) - len(strings.TrimLeft(timescale, "0123456789"))
	number, unit := timescale[:digits], timescale[digits:]
	power, known := secondsUnits[unit]
	switch number {
	case "1":
	case "10":
		power++
	case "100":
		power += 2
	default:
		known = false
	}
	if !known {
		found := "none"
		if timescale != "" {
			found = shown([]byte(timescale))
		}
		return &UnusableError{Expected: "a $timescale of 1, 10 or 100 s, ms, us, ns, ps or fs", Found: found, Hint: "give the ticks a second with --rate HZ if the file has no $timescale"}
	}
	v.nsPerTick, v.ticksPerNs = 1, 1
	for ; power > 0; power-- {
		v.nsPerTick *= 10
	}
	for ; power < 0; power++ {
		v.ticksPerNs *= 10
	}
	return nil
}

// Read gives the next changes.
func (v *VCD) Read(events []Event) (int, error) {
	n := v.give(events)
	for n < len(events) {
		before := n
		n = v.quick(events, n)
		v.stats.Records += n - before
		if n == len(events) {
			break
		}
		word, err := v.words.next()
		if err != nil {
			return v.end(events, n, err)
		}
		v.take(word)
		v.stats.Records += len(v.pending)
		n += v.give(events[n:])
	}
	return n, nil
}

// give hands out what is pending, as far as there is room.
func (v *VCD) give(events []Event) int {
	n := copy(events, v.pending)
	v.pending = append(v.pending[:0], v.pending[n:]...)
	return n
}

// end tells the last time once, then the end itself.
func (v *VCD) end(events []Event, n int, err error) (int, error) {
	if !v.over {
		v.over = true
		events[n] = Event{At: v.now, Signal: NoSignal}
		return n + 1, nil
	}
	if n > 0 {
		return n, nil
	}
	return 0, err
}

const (
	quickMargin = 64 // a word that begins before this much of the buffer's end is whole
	quickDigits = 18 // digits that always fit an int64
)

// quick takes times and one-bit changes straight from the buffer, until it
// meets something else.
func (v *VCD) quick(events []Event, n int) int {
	w := v.words
	buf := w.buf
	pos, last := w.pos, w.end-quickMargin
scan:
	for n < len(events) && pos < last {
		c := buf[pos]
		switch {
		case c <= ' ':
			if c == '\n' {
				w.line++
			}
			pos++
		case c == '#':
			ticks, p := int64(0), pos+1
			for ; buf[p]-'0' <= 9 && p < pos+1+quickDigits; p++ {
				ticks = ticks*10 + int64(buf[p]-'0')
			}
			if p == pos+1 || buf[p] > ' ' || !v.setTime(ticks) {
				break scan
			}
			pos = p
		case c == '0' || c == '1':
			p := pos + 1
			for buf[p] > ' ' && p < pos+quickMargin {
				p++
			}
			if p == pos+1 || p == pos+quickMargin || v.behind {
				break scan
			}
			code := buf[pos+1 : p]
			for i := range v.targets[buf[p-1]&0x7f] {
				t := &v.targets[buf[p-1]&0x7f][i]
				if len(code) == len(t.code) && code[len(code)-1] == t.code[len(code)-1] && (len(code) == 1 || string(code) == t.code) {
					if !t.plain {
						break scan
					}
					events[n] = Event{At: v.now, Signal: t.signal, Level: Low + Level(c-'0')}
					n++
				}
			}
			pos = p
		default:
			break scan
		}
	}
	w.pos = pos
	return n
}

// setTime moves on to a time in ticks; false where it is earlier than the one
// before, or beyond what can be held.
func (v *VCD) setTime(ticks int64) bool {
	at := ticks
	switch {
	case v.nsPerTick > 1:
		if ticks > math.MaxInt64/v.nsPerTick {
			return false
		}
		at = ticks * v.nsPerTick
	case v.ticksPerNs > 1:
		at = ticks / v.ticksPerNs
	}
	if time.Duration(at) < v.now {
		return false
	}
	v.now = time.Duration(at)
	v.behind = false
	return true
}

// take takes one word that quick left.
func (v *VCD) take(word []byte) {
	if v.words.tooLong {
		v.stats.skip(v.words.line, "expected a word of at most %d bytes, found %s", maxToken, shown(word))
		return
	}
	switch c := word[0]; c {
	case '#':
		v.time(word)
	case '0', '1', 'x', 'X', 'z', 'Z':
		if len(word) == 1 {
			v.stats.skip(v.words.line, "expected a value with its code, found %s", shown(word))
			return
		}
		v.change(word[1:], word[:1])
	case 'b', 'B', 'r', 'R', 's', 'S':
		v.wide(word)
	case '$':
		v.keyword(word)
	default:
		v.stats.skip(v.words.line, "expected a time or a value, found %s", shown(word))
	}
}

func (v *VCD) time(word []byte) {
	ticks, err := strconv.ParseInt(string(word[1:]), 10, 64)
	switch {
	case err != nil || ticks < 0:
		v.stats.skip(v.words.line, "expected # and a whole number, found %s", shown(word))
		v.behind = true // what follows has no time
	case !v.setTime(ticks):
		if ticks > math.MaxInt64/v.nsPerTick {
			v.stats.skip(v.words.line, "expected a time within 292 years, found %s", shown(word))
		} else {
			v.stats.skip(v.words.line, "expected a time of %s or later, found %s: time goes backwards", v.now, shown(word))
		}
		v.behind = true
	}
}

// wide takes a vector or a real value, whose code is the next word.
func (v *VCD) wide(word []byte) {
	kind := word[0] | 0x20
	line := v.words.line
	var held [256]byte
	value := append(held[:0], word[1:]...)
	code, err := v.words.next()
	if err != nil {
		v.stats.skip(line, "expected a code after %s, found the end of the file", shown(value))
		return
	}
	if v.words.tooLong {
		v.stats.skip(line, "expected a code of at most %d bytes", maxToken)
		return
	}
	switch kind {
	case 'b':
		v.change(code, value)
	case 'r':
		v.real(code, value)
	}
}

// change takes the digits of a scalar or a vector, the last one leftmost.
func (v *VCD) change(code, digits []byte) {
	for _, t := range v.targets[code[len(code)-1]&0x7f] {
		if string(code) != t.code {
			continue
		}
		if t.volts {
			v.stats.skip(v.words.line, "expected a real value of %s, found %s", v.signals[t.signal].Name, shown(digits))
			continue
		}
		if v.behind {
			v.stats.Skipped++
			continue
		}
		level, ok := levelOf(digits, t.place)
		if !ok {
			v.stats.skip(v.words.line, "expected a value of 0, 1, x and z, found %s", shown(digits))
			continue
		}
		v.pending = append(v.pending, Event{At: v.now, Signal: t.signal, Level: level})
	}
}

// levelOf is the digit at a place from the right; what is not written extends
// the leftmost digit, a 1 by 0 (IEEE 1364-2005, table 18-1).
func levelOf(digits []byte, place int) (Level, bool) {
	if len(digits) == 0 {
		return Unknown, false
	}
	d := digits[0]
	if at := len(digits) - 1 - place; at >= 0 {
		d = digits[at]
	} else if d == '1' {
		d = '0'
	}
	switch d {
	case '0':
		return Low, true
	case '1':
		return High, true
	case 'x', 'X':
		return Unknown, true
	case 'z', 'Z':
		return Released, true
	}
	return Unknown, false
}

func (v *VCD) real(code, text []byte) {
	for _, t := range v.targets[code[len(code)-1]&0x7f] {
		if string(code) != t.code {
			continue
		}
		if v.behind {
			v.stats.Skipped++
			continue
		}
		value, err := strconv.ParseFloat(string(text), 64)
		if !t.volts || err != nil || !(math.Abs(value) <= maxReading) {
			v.stats.skip(v.words.line, "expected a value of %s, found %s", v.signals[t.signal].Name, shown(text))
			continue
		}
		v.pending = append(v.pending, Event{At: v.now, Signal: t.signal, Level: Voltage, Value: value})
	}
}

// maxReading bounds what can stand at a USB-C port, in V and in A.
const maxReading = 1000

// keyword takes a command among the values.
func (v *VCD) keyword(word []byte) {
	switch string(word) {
	case "$dumpoff":
		for i := range v.signals {
			if v.signals[i].Kind == CC {
				v.pending = append(v.pending, Event{At: v.now, Signal: uint8(i), Level: Unknown})
			}
		}
	case "$dumpon", "$dumpall", "$dumpvars", "$end":
	default:
		v.skipCommand(word)
	}
}

// skipCommand passes over a comment, or a declaration that comes too late.
func (v *VCD) skipCommand(word []byte) {
	line := v.words.line
	if string(word) != "$comment" {
		v.stats.skip(line, "expected a time or a value, found %s", shown(word))
	}
	for {
		next, err := v.words.next()
		if err != nil {
			v.stats.remark(line, "expected $end, found the end of the file")
			return
		}
		if bytes.Equal(next, []byte("$end")) {
			return
		}
	}
}

// shown cuts a word to what a problem can show on one line.
func shown(word []byte) string {
	const most = 40
	if len(word) > most {
		return strconv.Quote(string(word[:most])) + "..."
	}
	return strconv.Quote(string(word))
}
