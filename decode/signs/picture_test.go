package signs

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/rules"
	"portside/decode/signs/build"
)

// What a verdict rests on has its time; a text that names one keeps it.
func TestEvidenceHasItsTime(t *testing.T) {
	finding := func(text string, from, to *float64) rules.Finding {
		return rules.Finding{Text: text, StartS: from, EndS: to}
	}
	assert.Equal(t, "from 1.50 s: 9 of 17 messages have a wrong CRC", timed(finding("9 of 17 messages have a wrong CRC", build.Ref(1.5), build.Ref(4.0))))
	assert.Equal(t, "at 1.50 s: VBUS sags", timed(finding("VBUS sags", build.Ref(1.5), build.Ref(1.5))))
	assert.Equal(t, "VBUS falls at 3.20 s, and stays", timed(finding("VBUS falls at 3.20 s, and stays", build.Ref(1.5), nil)))
	assert.Equal(t, "VBUS sags", timed(finding("VBUS sags", nil, nil)))
	assert.Empty(t, timed(finding("", nil, nil)))
}
