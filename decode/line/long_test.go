package line_test

import "flag"

// long asks for the full counts: go test ./decode/line -long.
var long = flag.Bool("long", false, "send and listen as long as the published figures ask for")

// count is n with -long, and a part of it without.
func count(n, short int) int {
	if *long {
		return n
	}
	return short
}
