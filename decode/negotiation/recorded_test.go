package negotiation_test

import (
	"encoding/json"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/negotiation"
	"portside/pd"
)

// recorded is one recorded negotiation; see testdata/negotiations/README.md.
type recorded struct {
	ID       string
	Recorder string
	Source   string
	Expect   struct {
		HardResets *int            `json:"hard_resets"`
		SoftResets *int            `json:"soft_resets"`
		Contract   json.RawMessage `json:"contract"`
		Must       []string        `json:"must"`
		MustNot    []string        `json:"must_not"`
		AnyOf      []string        `json:"any_of"`
		NotFault   []string        `json:"not_fault"`
		NoFault    bool            `json:"no_fault"`
	}
	Events []event
}

type event struct {
	TimeS   float64 `json:"time_s"`
	Kind    string
	Status  string
	Type    string
	Header  *string
	Objects []*loggedObject
	OnWire  json.RawMessage `json:"on_wire"`
}

type loggedObject struct {
	Raw                string
	Kind               string
	Position           int
	VoltageMV          int  `json:"voltage_mv"`
	CurrentMA          int  `json:"current_ma"`
	OperatingMA        int  `json:"operating_ma"`
	CapabilityMismatch bool `json:"capability_mismatch"`
}

func readRecorded(t testing.TB) []recorded {
	t.Helper()
	b, err := os.ReadFile("../../testdata/negotiations/recorded.json")
	require.NoError(t, err)
	var all []recorded
	require.NoError(t, json.Unmarshal(b, &all))
	require.Len(t, all, 15)
	return all
}

// messages turns the events into a recording. What was not logged is
// reconstructed from type, roles and logged fields.
func (s recorded) messages(t testing.TB, vbus bool) []captures.Message {
	t.Helper()
	by := captures.SinkItself
	if s.Recorder == "source" {
		by = captures.SourceItself
	}
	var out []captures.Message
	nextID := map[string]int{}
	for _, e := range s.Events {
		m := captures.Message{At: time.Duration(e.TimeS * float64(time.Second)), By: by, Set: pd.SOP}
		switch e.Kind {
		case "vbus":
			if !vbus || e.Status == "safe0v" {
				continue
			}
			m.Set, m.Marker = 0, captures.VBUSOff
			if e.Status == "on" {
				m.Marker = captures.VBUSOn
			}
		case "reset":
			require.Equal(t, "Hard_Reset", e.Type)
			m.Set = pd.HardReset
		case "rx", "tx":
			if string(e.OnWire) == "null" {
				continue
			}
			m.Bytes = e.bytes(t, s.Recorder, nextID)
			switch e.Status {
			case "failed":
				m.Status = captures.Unacknowledged
			case "discarded":
				m.Status = captures.Discarded
			}
		default:
			continue
		}
		out = append(out, m)
	}
	return out
}

func (e event) bytes(t testing.TB, recorder string, nextID map[string]int) []byte {
	t.Helper()
	var h pd.Header
	if e.Header != nil {
		n, err := strconv.ParseUint(strings.TrimPrefix(*e.Header, "0x"), 16, 16)
		require.NoError(t, err)
		h = pd.Header(n)
	} else {
		kind, ok := pd.ParseMessageType(e.Type)
		require.True(t, ok, e.Type)
		role := pd.Sink
		if (recorder == "source") == (e.Kind == "tx") {
			role = pd.Source
		}
		f := pd.HeaderFields{Type: kind, MessageID: nextID[e.Kind], Revision: pd.Revision20, PowerRole: role, Objects: len(e.Objects)}
		if kind.Class() == pd.Data && len(e.Objects) == 0 {
			e.Objects = []*loggedObject{nil}
			f.Objects = 1
		}
		h = f.Encode()
	}
	nextID[e.Kind] = (h.MessageID() + 1) % 8
	m := pd.Message{Set: pd.SOP, Header: h}
	b := m.Bytes()
	for _, o := range e.Objects {
		w := o.word(t, h.Type())
		b = append(b, byte(w), byte(w>>8), byte(w>>16), byte(w>>24))
	}
	return b
}

func (o *loggedObject) word(t testing.TB, kind pd.MessageType) uint32 {
	t.Helper()
	switch {
	case o != nil && o.Raw != "":
		n, err := strconv.ParseUint(strings.TrimPrefix(o.Raw, "0x"), 16, 32)
		require.NoError(t, err)
		return uint32(n)
	case kind == pd.SourceCapabilities && o != nil:
		return uint32(pd.FixedSupply{Voltage: pd.Millivolts(o.VoltageMV), MaxCurrent: pd.Milliamps(o.CurrentMA)}.Encode())
	case kind == pd.SourceCapabilities:
		return uint32(pd.FixedSupply{Voltage: 5000, MaxCurrent: 3000}.Encode())
	case kind == pd.Request && o != nil && o.Kind == "rdo-avs":
		return uint32(pd.AVSRequest{RequestFlags: pd.RequestFlags{Position: o.Position}, Voltage: pd.Millivolts(o.VoltageMV), OperatingCurrent: pd.Milliamps(o.OperatingMA)}.Encode())
	case kind == pd.Request && o != nil:
		i := pd.Milliamps(o.OperatingMA)
		return uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: o.Position, CapabilityMismatch: o.CapabilityMismatch}, OperatingCurrent: i, MaxCurrent: i}.Encode())
	case kind == pd.Request:
		return uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: 1}, OperatingCurrent: 500, MaxCurrent: 500}.Encode())
	default:
		return 0
	}
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
				r := run(s.messages(t, vbus))
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
				assert.True(t, r.Software)
				checkContract(t, s, r)
			})
		}
	}
}

func checkContract(t *testing.T, s recorded, r *negotiation.Result) {
	t.Helper()
	switch string(s.Expect.Contract) {
	case "":
		return
	case "null":
		assert.Empty(t, r.Contracts)
		return
	}
	var want struct {
		Position  int
		VoltageMV *int `json:"voltage_mv"`
		CurrentMA *int `json:"current_ma"`
	}
	require.NoError(t, json.Unmarshal(s.Expect.Contract, &want))
	require.NotEmpty(t, r.Contracts)
	last := r.Contracts[len(r.Contracts)-1]
	assert.Equal(t, want.Position, last.Position)
	assert.Equal(t, want.VoltageMV, last.VoltageMV)
	if want.CurrentMA != nil {
		assert.Equal(t, want.CurrentMA, last.CurrentMA)
	}
	assert.Nil(t, last.EndS, "it stands at the end")
}
