package line

import (
	"strconv"
	"strings"
	"unicode"
)

// variable is one declared signal, as far as it is of use here.
type variable struct {
	name string // scopes joined by points, escaped names without their mark
	base string // the last part, range removed
	code string
	size int
	real bool
	msb  int // of a vector's range
	lsb  int
}

// parseReference takes the reference of a $var apart: name and range.
func parseReference(words []string, size int) (base string, msb, lsb int) {
	text := strings.Join(words, "")
	escaped := strings.HasPrefix(text, `\`)
	text = strings.TrimPrefix(text, `\`)
	msb, lsb = size-1, 0
	open := strings.LastIndexByte(text, '[')
	if open <= 0 || !strings.HasSuffix(text, "]") || escaped && len(words) == 1 {
		return text, msb, lsb
	}
	left, right, isRange := strings.Cut(text[open+1:len(text)-1], ":")
	l, err := strconv.Atoi(left)
	if err != nil {
		return text, msb, lsb
	}
	if !isRange {
		if size > 1 {
			return text, msb, lsb
		}
		return text, l, l // one bit: the index is part of its name
	}
	r, err := strconv.Atoi(right)
	if err != nil {
		return text, msb, lsb
	}
	return text[:open], l, r
}

// bit gives the place of the index in the vector's value, counted from its
// right end.
func (v *variable) bit(index int) (place int, ok bool) {
	place = index - v.lsb
	if v.msb < v.lsb {
		place = v.lsb - index
	}
	return place, place >= 0 && place < v.size
}

// hasWord reports whether one of the words that make up the name is wanted.
func hasWord(name string, wanted func(string) bool) bool {
	for word := range strings.FieldsFuncSeq(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
		if wanted(word) {
			return true
		}
	}
	return false
}

// isCCName reports a name that says CC: cc, cc1, cc2, ccx and the like.
func isCCName(name string) bool {
	return hasWord(name, func(w string) bool {
		return w == "cc" || len(w) == 3 && strings.HasPrefix(w, "cc") && strings.ContainsAny(w[2:], "0123456789abx")
	})
}

func isWord(name, word string) bool {
	return hasWord(name, func(w string) bool { return w == word })
}

// candidate is a signal that may be followed: a scalar, a real, or one bit of
// a vector.
type candidate struct {
	name  string
	code  string
	place int // bit of a vector, from its right end
	kind  Kind
	real  bool
}

const (
	maxNamed  = 16 // signals named CC that are followed at once
	maxListed = 12 // names that an error shows
)

// choice gathers candidates while the declarations go by, so that a file that
// declares millions of signals needs no memory for them.
type choice struct {
	want     string // the name asked for
	declared int
	named    []candidate // by their name, or as asked for
	exact    int         // of named, those that match to the letter
	scalars  []candidate
	bits     []candidate // of vectors, where there is no scalar
	vbus     *candidate
	ibus     *candidate
	listed   []string
	passed   int // one-bit signals beyond MaxSignals
}

// add takes a declared signal.
func (c *choice) add(v *variable) {
	c.declared++
	if len(c.listed) < maxListed {
		c.listed = append(c.listed, cutName(v.name))
	}
	if c.want != "" {
		c.asked(v)
	}
	switch {
	case v.real:
		c.addReal(v)
	case v.size == 1:
		one := candidate{name: v.name, code: v.code}
		if isCCName(v.base) {
			c.addNamed(one)
		}
		if len(c.scalars) < MaxSignals {
			c.scalars = append(c.scalars, one)
		} else {
			c.passed++
		}
	default:
		c.addVector(v)
	}
}

// cutName keeps the end of a long name.
func cutName(name string) string {
	const most = 60
	if len(name) > most {
		return "..." + name[len(name)-most:]
	}
	return name
}

func (c *choice) addReal(v *variable) {
	one := candidate{name: v.name, code: v.code, real: true}
	switch {
	case isWord(v.base, "vbus"):
		if c.vbus == nil {
			one.kind = VBUS
			c.vbus = &one
		}
	case isWord(v.base, "ibus"):
		if c.ibus == nil {
			one.kind = IBUS
			c.ibus = &one
		}
	case isCCName(v.base):
		c.addNamed(one)
	}
}

func (c *choice) addVector(v *variable) {
	named := isCCName(v.base)
	for place := 0; place < v.size && place < MaxSignals; place++ {
		index := v.lsb + place
		if v.msb < v.lsb {
			index = v.lsb - place
		}
		one := candidate{name: v.name + "[" + strconv.Itoa(index) + "]", code: v.code, place: place}
		if named {
			c.addNamed(one)
		}
		if len(c.bits) < MaxSignals {
			c.bits = append(c.bits, one)
		} else if !named {
			return
		}
	}
}

func (c *choice) addNamed(one candidate) {
	if c.want == "" && len(c.named) < maxNamed {
		c.named = append(c.named, one)
	}
}

// endsInName reports whether the name asked for is the signal's: all of it or
// its last parts, without regard to case.
func endsInName(name, want string) bool {
	want = strings.TrimPrefix(want, `\`)
	if len(want) > len(name) || !strings.EqualFold(name[len(name)-len(want):], want) {
		return false
	}
	return len(want) == len(name) || name[len(name)-len(want)-1] == '.'
}

// asked takes a signal that may be the one asked for.
func (c *choice) asked(v *variable) {
	one := candidate{name: v.name, code: v.code, real: v.real}
	name := v.name
	if v.size > 1 && !v.real {
		open := strings.LastIndexByte(c.want, '[')
		if open <= 0 || !strings.HasSuffix(c.want, "]") || !endsInName(v.name, c.want[:open]) {
			return
		}
		index, err := strconv.Atoi(c.want[open+1 : len(c.want)-1])
		if err != nil {
			return
		}
		place, ok := v.bit(index)
		if !ok {
			return
		}
		name += c.want[open:]
		one.name, one.place = name, place
	} else if !endsInName(v.name, c.want) {
		return
	}
	exact := name == c.want || strings.HasSuffix(name, "."+c.want)
	switch {
	case exact && c.exact == 0:
		c.named, c.exact = append(c.named[:0], one), 1
	case exact == (c.exact > 0) && len(c.named) < maxNamed:
		c.named = append(c.named, one)
		if exact {
			c.exact++
		}
	}
}

// settle gives the signals to follow, or says why there are none.
func (c *choice) settle(stats *Stats) ([]candidate, error) {
	lines, err := c.lines(stats)
	if err != nil {
		return nil, err
	}
	for _, meter := range []*candidate{c.vbus, c.ibus} {
		if meter != nil && len(lines) < MaxSignals {
			lines = append(lines, *meter)
		}
	}
	return lines, nil
}

func (c *choice) lines(stats *Stats) ([]candidate, error) {
	if c.want != "" {
		return c.askedLine()
	}
	lines := unique(c.named)
	if len(lines) > 0 {
		return lines, nil
	}
	lines = unique(c.scalars)
	if len(lines) == 0 {
		lines = unique(c.bits)
	}
	const meters = 2
	lines = lines[:min(len(lines), MaxSignals-meters)]
	switch {
	case len(lines) == 0 && c.declared == 0:
		return nil, &UnusableError{Expected: "a declared signal ($var)", Found: "none"}
	case len(lines) == 0 && c.vbus == nil && c.ibus == nil:
		return nil, &UnusableError{Expected: "a one-bit signal or a real one named cc", Found: c.names(), Hint: "name the CC line with --signal NAME"}
	}
	if c.passed > 0 {
		stats.Notes = append(stats.Notes, "no signal is named CC, and only the first "+strconv.Itoa(len(lines))+" are looked at; name it with --signal NAME")
	}
	return lines, nil
}

func (c *choice) askedLine() ([]candidate, error) {
	lines := unique(c.named)
	switch {
	case len(lines) == 0:
		return nil, &UnusableError{Expected: "a signal named " + strconv.Quote(c.want), Found: c.names()}
	case len(lines) > 1:
		var names []string
		for _, l := range lines[:min(len(lines), maxListed)] {
			names = append(names, l.name)
		}
		return nil, &UnusableError{Expected: "one signal named " + strconv.Quote(c.want), Found: strings.Join(names, ", "), Hint: "give the name with its scopes"}
	}
	return lines, nil
}

func (c *choice) names() string {
	if len(c.listed) == 0 {
		return "no signal"
	}
	text := strings.Join(c.listed, ", ")
	if more := c.declared - len(c.listed); more > 0 {
		text += " and " + strconv.Itoa(more) + " more"
	}
	return text
}

// unique drops a signal that was declared again under another name.
func unique(all []candidate) []candidate {
	var out []candidate
next:
	for _, one := range all {
		for _, o := range out {
			if o.code == one.code && o.place == one.place {
				continue next
			}
		}
		out = append(out, one)
	}
	return out
}
