package line_test

import "flag"

// long asks for files of the full size: go test ./captures/line -long.
var long = flag.Bool("long", false, "read hostile files of the full size")

// count is n with -long, and a part of it without.
func count(n, short int) int {
	if *long {
		return n
	}
	return short
}
