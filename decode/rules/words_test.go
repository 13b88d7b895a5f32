package rules

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A meter whose zero is off by less than it shows has no minus before it.
func TestAmps(t *testing.T) {
	for a, want := range map[float64]string{-0.0003: "0 mA", 0.0004: "0 mA", -0.012: "-12 mA", 0.0125: "13 mA", 0.1: "0.10 A"} {
		assert.Equal(t, want, amps(a))
	}
}
