package decode_test

import (
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode"
	"portside/decode/rules"
	"portside/testdata/negotiations"
)

// read runs files through the whole engine, as a user's files would.
func read(t testing.TB, files ...io.Reader) *decode.Diagnosis {
	t.Helper()
	var inputs []captures.RecordingInput
	for _, f := range files {
		in, err := captures.Open("recording", f, captures.Options{})
		require.NoError(t, err)
		inputs = append(inputs, captures.RecordingInput{Input: in})
	}
	r := captures.NewRecording(inputs)
	e := decode.NewEngine(decode.Options{})
	for {
		record, err := r.Next()
		if errors.Is(err, io.EOF) {
			return e.Diagnose(r.Stats(), r.Clocks())
		}
		require.NoError(t, err)
		e.Take(record)
	}
}

// gravest is the severity of each rule raised, the gravest where it is raised
// more than once.
func gravest(d *decode.Diagnosis) map[string]rules.Severity {
	weight := map[rules.Severity]int{rules.Note: 1, rules.Warning: 2, rules.Fault: 3}
	out := map[string]rules.Severity{}
	for _, f := range d.Findings {
		if weight[f.Severity] > weight[out[f.Rule]] {
			out[f.Rule] = f.Severity
		}
	}
	return out
}

// Negotiations that others recorded and published, and what came of each; see
// testdata/negotiations/README.md for where each was read.
func TestRecordedNegotiations(t *testing.T) {
	all, err := negotiations.Read()
	require.NoError(t, err)
	require.Len(t, all, 17)
	for _, n := range all {
		for _, vbus := range []bool{true, false} {
			t.Run(n.ID+map[bool]string{true: "/with VBUS", false: "/messages only"}[vbus], func(t *testing.T) {
				list, err := n.Messages(vbus)
				require.NoError(t, err)
				if len(list) == 0 {
					t.Skip("nothing of it can be told by messages")
				}
				d := read(t, negotiations.CSV(list))
				assert.Equal(t, len(list), d.Inputs[0].Records)
				checkFindings(t, n.Expect, d)
				checkNegotiation(t, n.Expect, d)
			})
		}
	}
}

func checkFindings(t *testing.T, want negotiations.Expect, d *decode.Diagnosis) {
	t.Helper()
	got := gravest(d)
	for _, rule := range want.Must {
		assert.Contains(t, got, rule)
	}
	for _, rule := range want.MustNot {
		assert.NotContains(t, got, rule)
	}
	if len(want.AnyOf) > 0 {
		raised := false
		for _, rule := range want.AnyOf {
			raised = raised || got[rule] != ""
		}
		assert.True(t, raised, "one of %v in %v", want.AnyOf, got)
	}
	for _, rule := range want.NotFault {
		assert.NotEqual(t, rules.Fault, got[rule], rule)
	}
	for rule, severity := range got {
		assert.False(t, want.NoFault && severity == rules.Fault, "%s is a fault", rule)
	}
	if d.Verdict.Location == rules.Healthy {
		for rule, severity := range got {
			assert.NotEqual(t, rules.Fault, severity, "%s beside a healthy verdict", rule)
		}
	}
}

func checkNegotiation(t *testing.T, want negotiations.Expect, d *decode.Diagnosis) {
	t.Helper()
	if want.HardResets == nil {
		return // no message of it was logged
	}
	n := d.Negotiation
	assert.Equal(t, *want.HardResets, n.HardResets, "Hard Resets")
	assert.Equal(t, *want.SoftResets, n.SoftResets, "Soft_Resets")
	assert.True(t, n.Software, "the stamps are one side's")

	// Port managers log no GoodCRC: told once and never held against anybody.
	told := 0
	for _, text := range d.NotSeen {
		if strings.Contains(text, "GoodCRC") {
			told++
		}
	}
	if n.GoodCRCs == 0 && n.Messages > 0 {
		assert.Equal(t, 1, told, "%q", d.NotSeen)
	}

	contract, judged, err := want.LastContract()
	require.NoError(t, err)
	switch {
	case !judged:
	case contract == nil:
		assert.Empty(t, n.Contracts)
	default:
		require.NotEmpty(t, n.Contracts)
		last := n.Contracts[len(n.Contracts)-1]
		assert.Equal(t, contract.Position, last.Position)
		assert.Nil(t, last.EndS, "it stands at the end")
		if contract.VoltageMV != nil {
			assert.Equal(t, contract.VoltageMV, last.VoltageMV)
		}
		if contract.CurrentMA != nil {
			assert.Equal(t, contract.CurrentMA, last.CurrentMA)
		}
	}
}
