package negotiation_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/negotiation"
	"portside/testdata/negotiations"
)

func readRecorded(t testing.TB) []negotiations.Negotiation {
	t.Helper()
	all, err := negotiations.Read()
	require.NoError(t, err)
	require.Len(t, all, 17)
	return all
}

// fed is a recorded negotiation as the tracker takes it.
func fed(t testing.TB, n negotiations.Negotiation, vbus bool) []captures.Message {
	t.Helper()
	list, err := n.Messages(vbus)
	require.NoError(t, err)
	out := make([]captures.Message, len(list))
	for i, m := range list {
		out[i] = m.Message
	}
	return out
}

// ruleOf is the published rule that a missing step raises.
var ruleOf = map[negotiation.Step]string{
	negotiation.StepCapabilities: "no-source-capabilities",
	negotiation.StepAcknowledge:  "capabilities-unanswered",
	negotiation.StepRequest:      "request-missing",
	negotiation.StepRefused:      "request-refused",
	negotiation.StepPowerReady:   "power-ready-missing",
	negotiation.StepAnswer:       "contract-stalled",
	negotiation.StepUnknown:      "contract-stalled",
}

// raised are the rules that the facts of the negotiation carry by themselves.
func raised(r *negotiation.Result) map[string]bool {
	out := map[string]bool{}
	for _, a := range r.Attempts {
		if rule := ruleOf[a.Missing]; rule != "" && !a.Beginning {
			out[rule] = true
		}
	}
	if len(r.Mismatches) > 0 {
		out["capability-mismatch"] = true
	}
	if e := r.CRCErrors; e.Source+e.Sink > 0 {
		out["crc-errors"] = true
	}
	for _, c := range r.Contracts {
		if c.EndS != nil && c.EndedBy != "new-contract" {
			out["contract-lost"] = true
		}
	}
	return out
}

func run(messages []captures.Message) *negotiation.Result {
	t := negotiation.New(negotiation.Options{})
	for i := range messages {
		t.Add(&messages[i])
	}
	return t.Result()
}

func TestRecordedNegotiations(t *testing.T) {
	for _, s := range readRecorded(t) {
		for _, vbus := range []bool{true, false} {
			t.Run(s.ID+map[bool]string{true: " with VBUS", false: " messages only"}[vbus], func(t *testing.T) {
				r := run(fed(t, s, vbus))
				got := raised(r)

				if s.Expect.HardResets != nil {
					assert.Equal(t, *s.Expect.HardResets, r.HardResets, "Hard Resets")
					assert.Equal(t, *s.Expect.SoftResets, r.SoftResets, "Soft_Resets")
				}
				for _, rule := range s.Expect.MustNot {
					assert.False(t, got[rule], "%s must not be raised: %+v", rule, r.Attempts)
				}
				for _, rule := range s.Expect.Must {
					assert.True(t, got[rule], "%s must be raised: %+v", rule, r.Attempts)
				}
				if len(s.Expect.AnyOf) > 0 {
					any := false
					for _, rule := range s.Expect.AnyOf {
						any = any || got[rule]
					}
					assert.True(t, any, "one of %v: %+v", s.Expect.AnyOf, r.Attempts)
				}
				for _, rule := range s.Expect.NotFault {
					assert.False(t, got[rule], "%s: the recording begins inside", rule)
				}
				for _, p := range r.Phases {
					assert.False(t, p.Late && s.Expect.NoFault, "%+v", p)
				}
				assert.Equal(t, r.FirstS != nil, r.Software)
				checkContract(t, s, r)
			})
		}
	}
}

func checkContract(t *testing.T, s negotiations.Negotiation, r *negotiation.Result) {
	t.Helper()
	want, judged, err := s.Expect.LastContract()
	require.NoError(t, err)
	switch {
	case !judged:
		return
	case want == nil:
		assert.Empty(t, r.Contracts)
		return
	}
	require.NotEmpty(t, r.Contracts)
	last := r.Contracts[len(r.Contracts)-1]
	assert.Equal(t, want.Position, last.Position)
	assert.Equal(t, want.VoltageMV, last.VoltageMV)
	if want.CurrentMA != nil {
		assert.Equal(t, want.CurrentMA, last.CurrentMA)
	}
	assert.Nil(t, last.EndS, "it stands at the end")
}
