package message

import (
	"strconv"
	"time"

	"portside/pd"
)

// Field is one field of a header, an object or a block: its published name in
// snake case ending in its unit, its value, and the bits it stands in. Bit n of
// byte m of a block is bit 8m+n.
type Field struct {
	Name      string
	High, Low int
	form      form
	number    int64
	word      string
}

// form is how the value of a field is written.
type form uint8

const (
	formNull form = iota // the field does not apply, or its code has no meaning
	formNumber
	formThousandths
	formFlag
	formWord
	formHex4
	formHex8
)

// AppendValue appends the value as JSON writes it, words without quotes.
func (f Field) AppendValue(b []byte) []byte {
	switch f.form {
	case formNumber:
		return strconv.AppendInt(b, f.number, 10)
	case formThousandths:
		return appendMilli(b, int(f.number), "")
	case formFlag:
		return strconv.AppendBool(b, f.number != 0)
	case formWord:
		return append(b, f.word...)
	case formHex4:
		return appendHex(b, uint32(f.number), 4)
	case formHex8:
		return appendHex(b, uint32(f.number), 8)
	default:
		return append(b, "null"...)
	}
}

// quoted reports a value that JSON writes as a string.
func (f Field) quoted() bool { return f.form >= formWord }

// Word gives the value for people.
func (f Field) Word() string { return string(f.AppendValue(nil)) }

// On reports a flag that is set.
func (f Field) On() bool { return f.form == formFlag && f.number != 0 }

// fieldList is a list under construction, in the order of the standard's table.
type fieldList []Field

func (l *fieldList) add(name string, high, low int, form form, number int64, word string) {
	*l = append(*l, Field{name, high, low, form, number, word})
}

func (l *fieldList) number(name string, high, low, v int) {
	l.add(name, high, low, formNumber, int64(v), "")
}

// known is a number that some codes do not give.
func (l *fieldList) known(name string, high, low, v int, ok bool) {
	l.add(name, high, low, ifKnown(formNumber, ok), int64(v), "")
}

// thousandths is a decimal number, in thousandths of its unit.
func (l *fieldList) thousandths(name string, high, low, v int, ok bool) {
	l.add(name, high, low, ifKnown(formThousandths, ok), int64(v), "")
}

func (l *fieldList) flag(name string, bit int, v bool) {
	l.add(name, bit, bit, formFlag, one(v), "")
}

func (l *fieldList) word(name string, high, low int, v string) {
	l.add(name, high, low, formWord, 0, v)
}

func (l *fieldList) hex4(name string, high, low int, v uint16) {
	l.add(name, high, low, formHex4, int64(v), "")
}

func (l *fieldList) hex8(name string, high, low int, v uint32) {
	l.add(name, high, low, formHex8, int64(v), "")
}

func (l *fieldList) null(name string, high, low int) { l.add(name, high, low, formNull, 0, "") }

func ifKnown(f form, ok bool) form {
	if !ok {
		return formNull
	}
	return f
}

func one(v bool) int64 {
	if v {
		return 1
	}
	return 0
}

// capacity is a battery's capacity; the word FFFFh is unknown.
func (l *fieldList) capacity(name string, high, low int, raw uint16) {
	_, ok := pd.CapacityWh(raw)
	l.thousandths(name, high, low, int(raw)*tenthInThousandths, ok)
}

const tenthInThousandths = 100 // capacities are in tenths of Wh

// micros is a time in microseconds.
func (l *fieldList) micros(name string, high, low int, d time.Duration, ok bool) {
	l.thousandths(name, high, low, int(d/time.Nanosecond), ok)
}
