package negotiation_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/negotiation"
	"portside/pd"
)

// TestRequestUnheard: a message without GoodCRC is said again nRetryCount times, two, each
// tReceive after the last (USB PD R3.2 V1.1, tables 6.68 and 6.70); then the sink resets
// without waiting for an answer. The Request is what is missing an answer, and a Soft_Reset
// that nobody hears either adds nothing.
func TestRequestUnheard(t *testing.T) {
	ask65 := ask(4, 3250)
	say := func(s *script, times int, kind pd.MessageType, objects ...uint32) *script {
		for range times {
			s.unheard(pd.Sink, kind, objects...).wait(time.Millisecond)
		}
		s.ids[pd.Sink] = (s.ids[pd.Sink] + 1) % 8
		return s
	}
	resets := func(s *script) *script { s.ids = [3]int{}; return say(s, 3, pd.SoftReset) }
	for _, c := range []struct {
		name  string
		times int // that the Request is said
		then  func(*script) *script
		want  []negotiation.Step
	}{
		{"three times, and a Hard Reset", 3, func(s *script) *script { return s.reset() }, []negotiation.Step{negotiation.StepAnswer}},
		{"three times, and a Soft_Reset that nobody hears", 3, func(s *script) *script { return resets(s).reset() }, []negotiation.Step{negotiation.StepAnswer}},
		{"once, and a Hard Reset at once", 1, func(s *script) *script { return s.reset() }, []negotiation.Step{negotiation.StepUnknown}},
	} {
		r := run(c.then(say(variants[0].make().offered().wait(5*ms), c.times, pd.Request, ask65)).out)
		var missing []negotiation.Step
		for _, a := range r.Attempts {
			if a.Missing != negotiation.StepLeft {
				missing = append(missing, a.Missing)
			}
		}
		assert.Equal(t, c.want, missing, c.name)
		if c.times > 1 {
			require.NotNil(t, r.Attempts[0].DueS, c.name)
			assert.Equal(t, negotiation.Unacknowledged, r.Attempts[0].Heard, c.name)
		}
	}
}
