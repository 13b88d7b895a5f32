package pd_test

import "flag"

// long asks for the full counts of the property tests: go test ./pd -long.
var long = flag.Bool("long", false, "run the property tests of objects with ten million words a kind")
