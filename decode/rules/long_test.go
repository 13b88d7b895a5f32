package rules_test

import "flag"

// long asks for the full counts of the property tests: go test ./decode/rules -long.
var long = flag.Bool("long", false, "run property tests with twenty times the recordings")

// rounds is how many recordings a property test looks at.
func rounds(n uint64) uint64 {
	if *long {
		return 20 * n
	}
	return n
}
