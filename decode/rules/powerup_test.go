package rules

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/negotiation"
)

// vbusNotes are VBUS_On (positive times) and VBUS_Off (negative ones).
func vbusNotes(times ...float64) build {
	return func(f *Facts) {
		for _, t := range times {
			f.Negotiation.VBUS = append(f.Negotiation.VBUS, negotiation.VBUSNote{TimeS: max(t, -t), On: t > 0})
		}
	}
}

func attached(at float64) build {
	return func(f *Facts) {
		f.Negotiation.AttachS = &at
		f.Negotiation.Attaches = append(f.Negotiation.Attaches, at)
	}
}

func detached(at float64) build {
	return func(f *Facts) { f.Negotiation.Detaches = append(f.Negotiation.Detaches, at) }
}

func beginsInside(f *Facts) { f.Negotiation.BeginsInside = true }

func powerUpCases() []ruleCase {
	return []ruleCase{
		{
			name:   "the plug is in and the recorder notes no VBUS",
			facts:  []build{messageList(0, 0), attached(1), vbusNotes(-1)},
			want:   map[string]Severity{"no-vbus": Fault},
			source: "tVBUSON is at most 275 ms: USB Type-C R2.0 table 4-29",
		},
		{
			name:   "a recorder that never notes VBUS says nothing of it",
			facts:  []build{messageList(0, 0), attached(1)},
			not:    []string{"no-vbus", "no-source-capabilities"},
			source: "what was not recorded is no evidence",
		},
		{
			name:   "VBUS is off again at the end",
			facts:  []build{messageList(0, 0), attached(1), vbusNotes(1.3, -9), attempt(1, 9, negotiation.StepCapabilities)},
			want:   map[string]Severity{"no-source-capabilities": Warning},
			not:    []string{"no-vbus"},
			source: "common practice",
		},
		{
			name:   "VBUS comes as the recording ends",
			facts:  []build{messageList(0, 0), attached(1), vbusNotes(-1, 19.9), attempt(1, 20, negotiation.StepLeft)},
			not:    []string{"no-source-capabilities", "no-vbus"},
			source: "tFirstSourceCap: USB PD R3.2 V1.1 table 6.68",
		},
		{
			name: "a sink that tries a plain source with Hard Reset and charges",
			facts: []build{meterLog(60, 5.1, 1.5), level(0, 60, 5.1, 1.4), plateau(4, 60, 5.1, 1.4), messageList(0, 0), resets(1, 2, 3),
				beginsInside, attempt(1, 1.4, negotiation.StepUnknown), attempt(2, 3, negotiation.StepCapabilities)},
			want:   map[string]Severity{"no-source-capabilities": Note},
			not:    []string{"hard-reset-loop", "stuck-at-5v", "contract-stalled"},
			source: "recorded sinks send 2 or 3 Hard Resets to a source without PD, then take 5 V",
		},
		{
			name:   "a recording that begins inside a connection owes no offer",
			facts:  []build{meterLog(60, 5.1, 0.1), level(0, 60, 5.1, 0.1), messageList(0, 2), beginsInside},
			not:    []string{"no-source-capabilities", "stuck-at-5v"},
			source: "in a contract nobody need speak: USB PD R3.2 V1.1 section 6.4.2",
		},
		{
			name: "a plain source that stands long before the plug",
			facts: []build{meterLog(100, 5.1, 0.9), level(0, 100, 5.1, 0.18), plateau(0, 80, 5.1, 0),
				plateau(80, 100, 5.1, 0.9)},
			not:    []string{"stuck-at-5v"},
			source: "a legacy port is always on: USB Type-C R2.0 section 4.5.2.2",
		},
		{
			name: "no Request, then a contract",
			facts: []build{messageList(20, 10), attempt(1, 1.04, negotiation.StepRequest), resets(1.04), attempt(2, 2.2, negotiation.StepDone),
				contract(2.2, 20000, 3000, nil, "")},
			want:   map[string]Severity{"request-missing": Warning, "contract-stalled": Warning},
			not:    []string{"power-ready-missing", "request-refused"},
			source: "a slow sink is reset and then makes its contract: recorded negotiation",
		},
		{
			name:   "no Request, and no contract after it",
			facts:  []build{messageList(20, 10), offer(5000, 3000), attempt(1, 1.04, negotiation.StepRequest), resets(1.04)},
			want:   map[string]Severity{"request-missing": Fault, "contract-stalled": Fault},
			not:    []string{"capabilities-unanswered"},
			source: "tSenderResponse: USB PD R3.2 V1.1 table 6.68",
		},
		{
			name:   "the attempt breaks off and which step failed cannot be told",
			facts:  []build{messageList(4, 2), attempt(1, 1.01, negotiation.StepUnknown)},
			want:   map[string]Severity{"contract-stalled": Fault},
			not:    []string{"request-missing", "request-refused", "power-ready-missing"},
			source: "USB PD R3.2 V1.1 table 8.32",
		},
		{
			name:   "the recording ends before anything was due",
			facts:  []build{messageList(4, 2), attempt(1, 1.01, negotiation.StepLeft)},
			not:    []string{"contract-stalled", "request-missing", "no-source-capabilities"},
			source: "nothing is missing before it was due",
		},
	}
}

// A stalled attempt names the message that is missing (USB PD R3.2 V1.1 table
// 8.32), and each is judged by whether a contract follows it.
func TestStalledAttempts(t *testing.T) {
	f := &Facts{}
	for _, b := range []build{
		messageList(20, 10), attempt(1, 1.5, negotiation.StepPowerReady), attempt(3, 3.5, negotiation.StepDone),
		contract(3.5, 9000, 2000, number(6), "hard-reset"), attempt(6, 7, negotiation.StepPowerReady), attempt(8, 9, negotiation.StepPowerReady),
	} {
		b(f)
	}
	found, _ := Run(f)
	var got []Finding
	for _, x := range found {
		if x.Rule == "power-ready-missing" {
			got = append(got, x)
		}
	}
	require.Len(t, got, 2)
	assert.Equal(t, []Severity{Warning, Fault}, []Severity{got[0].Severity, got[1].Severity})
	assert.Equal(t, []float64{1, 6, 9}, []float64{*got[0].StartS, *got[1].StartS, *got[1].EndS})
	assert.Equal(t, 2, got[1].Values["attempts"])
	assert.Equal(t, "PS_RDY", got[1].Values["missing"])
}
