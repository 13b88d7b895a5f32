package pcapng

import (
	"errors"
	"fmt"
	"iter"
)

// Option codes (draft-ietf-opsawg-pcapng, sections 3.5, 4.1, 4.2 and 4.4).
const (
	optEndOfOptions  = 0
	optComment       = 1
	optHardware      = 2 // of a section
	optOS            = 3
	optApplication   = 4
	optIfName        = 2 // of an interface
	optIfDescription = 3
	optIfTsresol     = 9
	optIfTsoffset    = 14
	optIsbIfdrop     = 5 // of interface statistics
	optIsbOsdrop     = 7
)

const optionHead = 4

// errOption says that a list of options cannot be walked to its end.
var errOption = errors.New("damaged options")

// options walks code and value of each option in b, which holds nothing else.
// An option that does not fit ends the walk with errOption.
func (w *walker) options(b []byte) iter.Seq2[option, error] {
	return func(yield func(option, error) bool) {
		for len(b) > 0 {
			if len(b) < optionHead {
				yield(option{}, fmt.Errorf("%w: %d stray bytes", errOption, len(b)))
				return
			}
			code, length := w.uint16(b), int(w.uint16(b[2:]))
			if code == optEndOfOptions {
				return
			}
			b = b[optionHead:]
			if length > len(b) {
				yield(option{}, fmt.Errorf("%w: option %d claims %d bytes, %d are left", errOption, code, length, len(b)))
				return
			}
			if !yield(option{code, b[:length]}, nil) {
				return
			}
			b = b[min(padded(length), len(b)):]
		}
	}
}

type option struct {
	code  uint16
	value []byte
}

// padded rounds up to whole 32-bit words, as all of pcapng lies on them.
func padded(n int) int { return (n + 3) &^ 3 }
