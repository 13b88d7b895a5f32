package charger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/captures"
	"portside/decode/charger"
	"portside/pd"
)

// TestDamagedMessagesSayNothing: what its receiver had to drop breaks no clause, however
// the recorder says so, and the same bytes undamaged do.
func TestDamagedMessagesSayNothing(t *testing.T) {
	wrong := [4]byte{1, 2, 3, 4}
	for _, x := range []struct {
		name   string
		damage func(m *captures.Message)
		fails  []string
	}{
		{"whole", func(*captures.Message) {}, []string{"capabilities-first-5v"}},
		{"broken on the line", func(m *captures.Message) { m.Broken = "a symbol that none is" }, []string{}},
		{"marked as wrong", func(m *captures.Message) { m.CRCWrong = true }, []string{}},
		{"a CRC that is wrong", func(m *captures.Message) { m.CRC, m.HasCRC = wrong, true }, []string{}},
	} {
		t.Run(x.name, func(t *testing.T) {
			r := offering(offer65...)
			r.now += 0.05
			r.unheard(pd.Source, pd.SourceCapabilities, fixed(9000, 3000), fixed(5000, 3000))
			x.damage(&r.out[len(r.out)-1])
			if x.name == "whole" {
				r.ack(pd.Source)
			} else {
				r.wait("retry", 0.0009, 0.001295).source(pd.SourceCapabilities, offer65...)
			}
			got := r.negotiate(to(1, 500, 5, 5)).check(charger.Options{})
			for _, want := range x.fails {
				assert.Contains(t, failures(got), want)
			}
			if len(x.fails) == 0 {
				assert.Empty(t, failures(got))
			}
		})
	}
}
