package negotiation_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/negotiation"
	"portside/pd"
)

func end(r *negotiation.Result) negotiation.Attempt { return r.Attempts[len(r.Attempts)-1] }

func of(p *int) int {
	if p == nil {
		return -1
	}
	return *p
}

// phaseNamed is the last phase of that name.
func phaseNamed(t *testing.T, r *negotiation.Result, name string) negotiation.Phase {
	t.Helper()
	for i := len(r.Phases) - 1; i >= 0; i-- {
		if r.Phases[i].Phase == name {
			return r.Phases[i]
		}
	}
	require.Failf(t, "no phase", "%s in %+v", name, r.Phases)
	return negotiation.Phase{}
}

// TestEveryStep lets an attempt lack each step, for each kind of recorder.
func TestEveryStep(t *testing.T) {
	deaf := func(s *script) *script {
		for range 6 {
			s.unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(1100*time.Microsecond).
				unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(1100*time.Microsecond).
				unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(150 * ms)
		}
		return s
	}
	cases := []struct {
		name   string
		play   func(*script) *script
		want   negotiation.Step
		cause  string
		by     string
		offers int
		source string
	}{
		{"no offer, the sink resets", func(s *script) *script { return s.plugged().wait(500 * ms).reset() },
			negotiation.StepCapabilities, "no-capabilities", "sink", 0, "USB PD R3.2 V1.1, table 6.68, tTypeCSinkWaitCap"},
		{"nobody listens, the sink resets", func(s *script) *script { return deaf(s.plugged().wait(100 * ms)).reset() },
			negotiation.StepAcknowledge, "", "", 6, "USB PD R3.2 V1.1, table 6.68, tTypeCSendSourceCap"},
		{"no Request, the source resets", func(s *script) *script { return s.offered().wait(31 * ms).reset() },
			negotiation.StepRequest, "no-request", "source", 1, "USB PD R3.2 V1.1, table 6.68, tSenderResponse"},
		{"no answer, the sink resets", func(s *script) *script {
			return s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(31 * ms).reset()
		}, negotiation.StepAnswer, "no-answer", "sink", 1, "USB PD R3.2 V1.1, table 6.68, tSenderResponse"},
		{"Reject, the sink resets", func(s *script) *script {
			return s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(5 * ms).source(pd.Reject).wait(250 * ms).reset()
		}, negotiation.StepRefused, "", "", 1, "USB PD R3.2 V1.1, table 6.5"},
		{"Wait, the sink resets", func(s *script) *script {
			return s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(5 * ms).source(pd.Wait).wait(250 * ms).reset()
		}, negotiation.StepRefused, "", "", 1, "USB PD R3.2 V1.1, table 6.5"},
		{"no PS_RDY, the sink resets", func(s *script) *script {
			return s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(5 * ms).source(pd.Accept).wait(500 * ms).reset()
		}, negotiation.StepPowerReady, "no-power-ready", "sink", 1, "USB PD R3.2 V1.1, table 6.68, tPSTransition"},
		{"a reset before anything was due", func(s *script) *script { return s.plugged().wait(40 * ms).reset() },
			negotiation.StepUnknown, "", "", 0, "common practice"},
		{"a contract", func(s *script) *script { return s.agreed() },
			negotiation.StepDone, "", "", 1, "USB PD R3.2 V1.1, table 8.32"},
	}
	for _, c := range cases {
		for _, v := range variants {
			t.Run(c.name+", "+v.name, func(t *testing.T) {
				r := run(c.play(v.make()).out)
				require.NotEmpty(t, c.source)
				require.NotEmpty(t, r.Attempts)
				first := r.Attempts[0]
				assert.Equal(t, c.want, first.Missing)
				assert.Equal(t, c.offers, first.Offers)
				assert.False(t, r.BeginsInside)
				if c.want == negotiation.StepDone {
					require.Len(t, r.Contracts, 1)
					assert.Equal(t, 20000, of(r.Contracts[0].VoltageMV))
					assert.Nil(t, first.DueS)
					for _, p := range r.Phases {
						assert.False(t, p.Late, "%+v", p)
					}
					return
				}
				assert.Empty(t, r.Contracts)
				assert.Equal(t, "hard-reset", first.EndedBy)
				if c.want != negotiation.StepUnknown {
					require.NotNil(t, first.DueS)
					assert.Less(t, *first.DueS, first.EndS)
				}
				require.Len(t, r.Resets, 1)
				assert.Equal(t, c.cause, r.Resets[0].Cause)
				assert.Equal(t, c.by, r.Resets[0].By)
				assert.Equal(t, negotiation.StepLeft, end(r).Missing, "the attempt after the reset")
			})
		}
	}
}

// TestACutClaimsNothing cuts every sequence at every message: the attempts of
// the part are those of the whole, but for the last, and nothing is missing
// before it was due.
func TestACutClaimsNothing(t *testing.T) {
	sound := map[string]func(*script) *script{
		"contract": func(s *script) *script { return s.agreed() },
		"second Request": func(s *script) *script {
			return s.agreed().wait(time.Second).sink(pd.Request, ask(3, 1000)).wait(5 * ms).source(pd.Accept).wait(100 * ms).source(pd.PSRDY)
		},
		"Wait, then again": func(s *script) *script {
			return s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(5*ms).source(pd.Wait).wait(110*ms).sink(pd.Request, ask(4, 3250)).wait(5 * ms).source(pd.Accept).wait(170 * ms).source(pd.PSRDY)
		},
		"soft reset": func(s *script) *script {
			return s.agreed().wait(time.Second).sink(pd.SoftReset).wait(5*ms).source(pd.Accept).wait(10*ms).source(pd.SourceCapabilities, offers65...).
				wait(5*ms).sink(pd.Request, ask(2, 3000)).wait(5 * ms).source(pd.Accept).wait(170 * ms).source(pd.PSRDY)
		},
		"hard reset in a contract": func(s *script) *script {
			return s.agreed().wait(time.Second).reset().wait(40*ms).mark(captures.VBUSOff).wait(800*ms).mark(captures.VBUSOn).wait(100*ms).
				source(pd.SourceCapabilities, offers65...).wait(5*ms).sink(pd.Request, ask(2, 3000)).wait(5 * ms).source(pd.Accept).wait(170 * ms).source(pd.PSRDY)
		},
		"the first offer finds no listener": func(s *script) *script {
			s.plugged().wait(100*ms).unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(1100*time.Microsecond).
				unheard(pd.Source, pd.SourceCapabilities, offers65...).wait(150 * ms)
			return s.source(pd.SourceCapabilities, offers65...).wait(5*ms).sink(pd.Request, ask(2, 3000)).wait(5 * ms).source(pd.Accept).wait(170 * ms).source(pd.PSRDY)
		},
	}
	for name, play := range sound {
		for _, v := range variants {
			t.Run(name+", "+v.name, func(t *testing.T) {
				all := play(v.make()).out
				whole := run(all)
				for n := range all {
					cut := run(all[:n])
					for i, a := range cut.Attempts {
						if i < len(cut.Attempts)-1 || a.EndedBy != "end-of-recording" {
							assert.Equal(t, whole.Attempts[i], a, "cut at %d", n)
							continue
						}
						assert.Equal(t, negotiation.StepLeft, a.Missing, "cut at %d", n)
						if i < len(whole.Attempts) {
							assert.Equal(t, whole.Attempts[i].StartS, a.StartS)
						}
					}
					for _, p := range cut.Phases {
						assert.False(t, p.Late, "cut at %d: %+v", n, p)
					}
				}
				for _, a := range whole.Attempts {
					assert.Equal(t, negotiation.StepDone, a.Missing)
				}
			})
		}
	}
}

// TestRecordedCuts cuts the recorded negotiations too.
func TestRecordedCuts(t *testing.T) {
	for _, s := range readRecorded(t) {
		all := fed(t, s, true)
		for n := range all {
			r := run(all[:n])
			for _, a := range r.Attempts {
				if a.DueS != nil && a.EndedBy == "end-of-recording" && a.Missing != negotiation.StepRefused {
					assert.Less(t, *a.DueS, *r.LastS, "%s cut at %d: %+v", s.ID, n, a)
				}
			}
		}
	}
}

// TestLimits lets each answer come well inside its limit, inside it by the
// uncertainty, and late.
func TestLimits(t *testing.T) {
	cases := []struct {
		phase  string
		limit  string
		limitS float64
		play   func(*script, time.Duration) *script
		source string
	}{
		{"attach", "tVBUSON", 0.275, func(s *script, d time.Duration) *script {
			return s.wait(time.Second).mark(captures.Attach).wait(d).mark(captures.VBUSOn)
		}, "USB Type-C R2.1, tables 4-29 to 4-31"},
		{"source-capabilities", "tFirstSourceCap", 0.250, func(s *script, d time.Duration) *script {
			return s.plugged().wait(d).source(pd.SourceCapabilities, offers65...)
		}, "USB PD R3.2 V1.1, table 6.68"},
		{"request", "tReceiverResponse", 0.015, func(s *script, d time.Duration) *script {
			return s.offered().wait(d).sink(pd.Request, ask(4, 3250))
		}, "USB PD R3.2 V1.1, table 6.68"},
		{"answer", "tReceiverResponse", 0.015, func(s *script, d time.Duration) *script {
			return s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(d).source(pd.Accept)
		}, "USB PD R3.2 V1.1, table 6.68"},
		{"power-ready", "tSrcTransReq (SPR)", 0.325, func(s *script, d time.Duration) *script {
			return s.offered().wait(5*ms).sink(pd.Request, ask(4, 3250)).wait(5 * ms).source(pd.Accept).wait(d).source(pd.PSRDY)
		}, "USB PD R3.2 V1.1, table 7.23"},
		{"soft-reset", "tReceiverResponse", 0.015, func(s *script, d time.Duration) *script {
			return s.agreed().wait(time.Second).sink(pd.SoftReset).wait(d).source(pd.Accept)
		}, "USB PD R3.2 V1.1, table 6.68"},
		{"power-ready", "tPpsSrcTransSmall", 0.025, func(s *script, d time.Duration) *script {
			return s.agreed().wait(time.Second).sink(pd.Request, askPPS(5, 5000, 2000)).wait(5*ms).source(pd.Accept).wait(200*ms).source(pd.PSRDY).
				wait(time.Second).sink(pd.Request, askPPS(5, 5200, 2000)).wait(5 * ms).source(pd.Accept).wait(d).source(pd.PSRDY)
		}, "USB PD R3.2 V1.1, table 7.23"},
		{"power-ready", "tSrcTransReq (SPR)", 0.325, func(s *script, d time.Duration) *script {
			return s.agreed().wait(time.Second).sink(pd.Request, askPPS(5, 20000, 2000)).wait(5 * ms).source(pd.Accept).wait(d).source(pd.PSRDY)
		}, "USB PD R3.2 V1.1, table 8.5: the first entry into PPS is an ordinary transition"},
		{"power-ready", "tPpsSrcTransLarge", 0.275, func(s *script, d time.Duration) *script {
			return s.agreed().wait(time.Second).sink(pd.Request, askPPS(5, 5000, 2000)).wait(5*ms).source(pd.Accept).wait(200*ms).source(pd.PSRDY).
				wait(time.Second).sink(pd.Request, askPPS(5, 9000, 2000)).wait(5 * ms).source(pd.Accept).wait(d).source(pd.PSRDY)
		}, "USB PD R3.2 V1.1, table 7.23"},
	}
	seconds := func(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
	for _, c := range cases {
		t.Run(c.phase+" "+c.limit, func(t *testing.T) {
			require.NotEmpty(t, c.source)
			for _, v := range variants {
				inside := phaseNamed(t, run(c.play(v.make(), seconds(c.limitS-0.002)).out), c.phase)
				require.NotNil(t, inside.LimitS)
				assert.False(t, inside.Late, v.name)
				assert.Equal(t, c.limit, inside.Limit)
				assert.InDelta(t, c.limitS, *inside.LimitS, 1e-9)
			}
			if c.phase != "attach" && c.phase != "source-capabilities" {
				unknown := variants[1].make
				assert.False(t, phaseNamed(t, run(c.play(unknown(), seconds(c.limitS)).out), c.phase).Late,
					"the limit counts from a GoodCRC that was not recorded")
			}
			full := variants[0].make
			assert.True(t, phaseNamed(t, run(c.play(full(), seconds(c.limitS+0.001003)).out), c.phase).Late)
			assert.InDelta(t, c.limitS+0.001003, lasted(phaseNamed(t, run(c.play(full(), seconds(c.limitS+0.001003)).out), c.phase)), 0.0002)

			coarse := variants[2].make
			assert.False(t, phaseNamed(t, run(c.play(coarse(), seconds(c.limitS+0.001003)).out), c.phase).Late, "1 ms is inside the stamps")
			assert.True(t, phaseNamed(t, run(c.play(coarse(), seconds(c.limitS+0.006)).out), c.phase).Late)

			// A sink stamps what it sends too early and what it receives too late, by 5 ms
			// each; what it sends in answer only looks quicker than it was.
			bound := map[string]float64{"request": 0, "answer": 0.010, "soft-reset": 0.010}
			spread, listed := bound[c.phase]
			if !listed {
				spread = 0.005
			}
			sink := variants[3].make
			assert.False(t, phaseNamed(t, run(c.play(sink(), seconds(c.limitS+spread-0.001)).out), c.phase).Late)
			late := phaseNamed(t, run(c.play(sink(), seconds(c.limitS+spread+0.003003)).out), c.phase).Late
			assert.Equal(t, c.phase != "source-capabilities", late, "a sink may begin to listen late")
		})
	}
}

func lasted(p negotiation.Phase) float64 { return *p.EndS - *p.StartS }
