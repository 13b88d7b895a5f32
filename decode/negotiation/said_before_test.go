package negotiation_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/negotiation"
	"portside/pd"
)

// TestSaidBefore: a message with the MessageID of the one before it is that one said again, and
// its receiver acknowledges it and does no more (USB PD R3.2 V1.1, section 6.7.1). A reset
// begins the count anew.
func TestSaidBefore(t *testing.T) {
	for _, c := range []struct {
		name string
		then func(*script) *script
		want bool
	}{
		{"the number of the Request before", func(s *script) *script { s.ids[pd.Sink] = 0; return s.sink(pd.Request, ask(4, 3250)) }, true},
		{"the next number", func(s *script) *script { return s.sink(pd.Request, ask(4, 3250)) }, false},
		{"the first after a reset", func(s *script) *script {
			return s.reset().wait(900*ms).offered().wait(5*ms).sink(pd.Request, ask(4, 3250))
		}, false},
	} {
		for _, v := range variants[:2] {
			first := v.make().offered().wait(5*ms).sink(pd.Request, ask(2, 3000)).wait(5 * ms).source(pd.Accept).wait(100 * ms).source(pd.PSRDY).wait(500 * ms)
			r := run(c.then(first).wait(30 * ms).reset().out)
			require.NotEmpty(t, r.Attempts, c.name)
			last := r.Attempts[len(r.Attempts)-1]
			for _, a := range r.Attempts {
				if a.Missing == negotiation.StepAnswer {
					last = a
				}
			}
			assert.Equal(t, negotiation.StepAnswer, last.Missing, c.name)
			assert.Equal(t, c.want, last.SaidBefore, "%s, %s", c.name, v.name)
		}
	}
}
