package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

const (
	// figures is how many significant digits a printed number keeps: more than
	// any meter has, and enough for a microsecond in a day.
	figures = 12
	// decimals stay where more stand before the point: a microsecond of a time
	// stamp that counts from 1970.
	decimals = 6
	most     = 17 // digits that a float64 has at all
)

// writeJSON writes one document on one line, with short figures.
func writeJSON(w io.Writer, v any) error {
	raw, err := marshal(v)
	if err != nil {
		return err
	}
	_, err = w.Write(append(raw, '\n'))
	return err
}

func marshal(v any) ([]byte, error) {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return shorten([]byte(strings.TrimSuffix(b.String(), "\n"))), nil
}

// shorten takes the digits off a JSON text's numbers that are arithmetic and
// no measurement, such as 0.30000000000000004. Strings are left alone.
func shorten(raw []byte) []byte {
	out := make([]byte, 0, len(raw))
	for i := 0; i < len(raw); {
		end := i + 1
		switch c := raw[i]; {
		case c == '"':
			for raw[end] != '"' {
				if raw[end] == '\\' {
					end++
				}
				end++
			}
			end++
			out = append(out, visible(raw[i:end])...)
		case c == '-' || c >= '0' && c <= '9':
			for end < len(raw) && strings.IndexByte("0123456789.+-eE", raw[end]) >= 0 {
				end++
			}
			out = append(out, shortNumber(raw[i:end])...)
		default:
			out = append(out, c)
		}
		i = end
	}
	return out
}

// visible spells characters that could steer a terminal as \uXXXX, which
// means the same to whoever reads the JSON.
func visible(raw []byte) []byte {
	if bytes.IndexFunc(raw, hidden) < 0 {
		return raw
	}
	var out []byte
	for _, r := range string(raw) {
		if !hidden(r) {
			out = utf8.AppendRune(out, r)
			continue
		}
		for _, unit := range utf16.AppendRune(nil, r) {
			out = fmt.Appendf(out, `\u%04x`, unit)
		}
	}
	return out
}

func hidden(r rune) bool { return !unicode.IsPrint(r) }

func shortNumber(raw []byte) []byte {
	if len(raw) <= figures {
		return raw
	}
	v, err := strconv.ParseFloat(string(raw), 64)
	if err != nil || v == math.Trunc(v) {
		return raw
	}
	digits := min(most, max(figures, decimals+1+int(math.Log10(math.Max(1, math.Abs(v))))))
	v, err = strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	if err != nil {
		return raw
	}
	short, err := json.Marshal(v)
	if err != nil {
		return raw
	}
	return short
}
