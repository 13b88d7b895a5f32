package pcapng

import "fmt"

// Damage is a piece of a file that could not be used, or only in part.
type Damage struct {
	Offset  int64 // of the block or record in the file, in bytes from 0
	Skipped bool  // a packet was left out
	Text    string
}

// BrokenError says where a file ends before its time: what follows cannot be
// told apart from the rest.
type BrokenError struct {
	Offset int64 // of the block or record that cannot be walked over
	Text   string
}

// Error gives the text with the offset.
func (e *BrokenError) Error() string { return fmt.Sprintf("at byte %d: %s", e.Offset, e.Text) }

// FormatError says that a file is no packet file that can be read.
type FormatError struct {
	Expected, Found string
}

// Error gives what was expected and what was found.
func (e *FormatError) Error() string {
	return fmt.Sprintf("expected %s, found %s", e.Expected, e.Found)
}
