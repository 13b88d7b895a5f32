package location

import (
	"testing"

	"github.com/stretchr/testify/require"

	"portside/decode/probe"
	"portside/decode/rules"
	"portside/decode/signs"
	"portside/decode/signs/build"
)

// evidence runs the table of rules over the facts, as the engine does.
func evidence(t testing.TB, readings []string, builds ...build.Build) signs.Evidence {
	t.Helper()
	f := build.Built(builds...)
	given, err := probe.ParseReadings(readings)
	require.NoError(t, err)
	findings, _ := rules.Run(&f)
	return signs.Evidence{Facts: f, Findings: findings, Readings: given}
}
