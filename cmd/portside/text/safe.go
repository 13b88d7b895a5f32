package text

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Safe shows what could steer a terminal as plain text: control characters,
// escapes, marks that turn the direction of writing and bytes that are no
// UTF-8 become \n, \x1b, \u202e and the like. Files and paths come from
// others; nothing in them may move the cursor.
func Safe(s string) string {
	if plain(s) {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case unicode.IsPrint(r):
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < 0x80:
			fmt.Fprintf(&b, `\x%02x`, r)
		case r < 0x10000:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			fmt.Fprintf(&b, `\U%08x`, r)
		}
		i += size
	}
	return b.String()
}

// plain reports the common case: printable ASCII only.
func plain(s string) bool {
	for i := range len(s) {
		if s[i] < 0x20 || s[i] >= 0x7f {
			return false
		}
	}
	return true
}
