package main

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// onTerminal runs the program as somebody who types these keys sees it.
func onTerminal(keys string, args ...string) (status int, screen string) {
	var out, errs bytes.Buffer
	s := &streams{
		in: strings.NewReader(keys), out: &out, err: &errs, inTTY: true, outTTY: true, width: 80,
		getenv: func(string) string { return "" },
	}
	status = run(args, s)
	return status, out.String() + errs.String()
}

// On a terminal a lesson waits for Enter, and no more Enter is its end.
func TestTeachWaitsForEnter(t *testing.T) {
	status, screen := onTerminal("\n\n", "teach", "dead-charger", "--no-color")
	assert.Zero(t, status)
	assert.Equal(t, 3, strings.Count(screen, "[Enter] "))
	assert.Contains(t, screen, "Step 2: ")
	assert.NotContains(t, screen, "The truth: ")

	_, screen = onTerminal("\n\n\n", "teach", "dead-charger", "--no-color")
	assert.Contains(t, screen, "The truth: before the port, source")
}

func TestPracticePrompts(t *testing.T) {
	status, screen := onTerminal("measure vbus-ohm\nanswer behind-port\n", "teach", "--practice", "--seed", "7", "--cases", "1", "--no-color")
	assert.Zero(t, status)
	assert.Equal(t, 2, strings.Count(screen, "> "), "one prompt for each command")
	assert.Contains(t, screen, "of 1 right")
}
