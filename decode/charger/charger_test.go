package charger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/decode/charger"
	"portside/pd"
)

func TestSoundCharger(t *testing.T) {
	r := newRig().plug(offer65...)
	r.negotiate(to(2, 3000, 5, 9)).load(2.5, 8.55, 1)
	r.negotiate(to(4, 3250, 9, 20)).load(3, 19, 1)
	r.hard(false).wait("first offer", 0.005, 0.25)
	r.source(pd.SourceCapabilities, offer65...).negotiate(to(4, 3250, 5, 20)).load(3, 19, 1)
	got := r.result()
	assert.Empty(t, failures(got))
	assert.Equal(t, charger.WithinStandard, got.Verdict)
	assert.Len(t, got.Checks, 41)
	for _, c := range got.Checks {
		t.Logf("%-28s %-12s %s", c.Check, c.Result, c.Text)
	}
	t.Log(got.Summary, *got.PDPW)
}
