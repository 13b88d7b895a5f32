package rules

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
	"portside/decode/negotiation"
)

// facts builds the facts of a case; the cases below say what is in them.
type build func(*Facts)

func meterLog(endS, maxV, maxA float64) build {
	return func(f *Facts) {
		f.Draw = &draw.Result{Sampling: draw.Sampling{
			N: 100, WithVoltage: 100, WithCurrent: 100, EndS: endS, IntervalS: 0.01, MaxV: maxV, MaxA: maxA,
		}}
	}
}

func level(startS, endS, v, a float64) build {
	return func(f *Facts) {
		nominal := 0.0
		for _, n := range []float64{5, 9, 15, 20} {
			if v > n-1.6 && v < n+1.6 {
				nominal = n
			}
		}
		if nominal == 0 && v > 0.8 {
			nominal = v
		}
		f.Draw.Levels = append(f.Draw.Levels, draw.Level{
			StartS: startS, EndS: endS, VoltageV: v, MinV: v, MaxV: v, NominalV: nominal, MeanA: a, MaxA: a, N: 100,
		})
	}
}

func plateau(startS, endS, v, a float64) build {
	return func(f *Facts) {
		f.Draw.Plateaus = append(f.Draw.Plateaus, draw.Plateau{StartS: startS, EndS: endS, VoltageV: &v, CurrentA: &a, N: 100})
	}
}

func collapse(at, fromV, toV, atA float64, backS *float64) build {
	return func(f *Facts) {
		f.Draw.Collapses = append(f.Draw.Collapses, draw.Collapse{TimeS: at, FromV: fromV, ToV: toV, AtA: atA, BackS: backS})
	}
}

func messageList(fromSource, fromSink int) build {
	return func(f *Facts) {
		f.Negotiation = &negotiation.Result{
			Messages: fromSource + fromSink, FromSource: fromSource, FromSink: fromSink,
			FirstS: number(0), LastS: number(20),
		}
	}
}

// TestRefusalsSayHow: Reject is no, and Wait is not yet: USB PD R3.2 V1.1 sections 6.3.4 and 6.3.12.
func TestRefusalsSayHow(t *testing.T) {
	for waited, says := range map[bool]string{false: "the Request was refused", true: "the Request was put off with Wait"} {
		var facts Facts
		for _, b := range []build{messageList(9, 3), attempt(1, 1.2, negotiation.StepRefused), func(f *Facts) { f.Negotiation.Attempts[0].Waited = waited }} {
			b(&facts)
		}
		findings, _ := Run(&facts)
		i := slices.IndexFunc(findings, func(f Finding) bool { return f.Rule == "request-refused" })
		require.GreaterOrEqual(t, i, 0)
		assert.Contains(t, findings[i].Text, says)
	}
}

func attempt(startS, endS float64, missing negotiation.Step) build {
	return func(f *Facts) {
		f.Negotiation.Attempts = append(f.Negotiation.Attempts, negotiation.Attempt{StartS: startS, EndS: endS, Missing: missing})
	}
}

func contract(startS float64, mv, ma int, endS *float64, endedBy string) build {
	return func(f *Facts) {
		f.Negotiation.Contracts = append(f.Negotiation.Contracts, negotiation.Contract{
			StartS: &startS, EndS: endS, Kind: "fixed", Position: 1, VoltageMV: &mv, CurrentMA: &ma, EndedBy: endedBy,
		})
	}
}

func offer(mv, ma int) build {
	return func(f *Facts) {
		f.Negotiation.Offers = append(f.Negotiation.Offers, negotiation.Offer{Position: len(f.Negotiation.Offers) + 1, Kind: "fixed", VoltageMV: &mv, CurrentMA: &ma})
	}
}

func resets(times ...float64) build {
	return func(f *Facts) {
		for _, t := range times {
			f.Negotiation.Resets = append(f.Negotiation.Resets, negotiation.Reset{TimeS: t, Hard: true})
			f.Negotiation.HardResets++
		}
	}
}

func measured(set func(*draw.Measured)) build {
	return func(f *Facts) { set(&f.Draw.Measured) }
}

func quantity(value, u float64) *draw.Quantity {
	return &draw.Quantity{Value: value, Uncertainty: &u, AtS: number(1)}
}

// raised runs the table and gives each rule's gravest severity.
func raised(builds []build) map[string]Severity {
	f := &Facts{AccuracyV: 1, AccuracyA: 1}
	for _, b := range builds {
		b(f)
	}
	findings, _ := Run(f)
	out := map[string]Severity{}
	for _, found := range findings {
		if weight(found.Severity) > weight(out[found.Rule]) || out[found.Rule] == "" {
			out[found.Rule] = found.Severity
		}
	}
	return out
}

// ruleCase is a recording by its facts: what must be raised, and what must not.
type ruleCase struct {
	name   string
	facts  []build
	want   map[string]Severity
	not    []string
	source string
}

func basicCases() []ruleCase {
	return []ruleCase{
		{
			name:   "VBUS never comes",
			facts:  []build{meterLog(20, 0.02, 0), level(0, 20, 0.02, 0)},
			want:   map[string]Severity{"no-vbus": Fault},
			not:    []string{"vbus-out-of-range", "stuck-at-5v"},
			source: "vSafe0V is at most 0.8 V: USB PD R3.2 V1.1 table 7.25",
		},
		{
			name:   "a recording too short to miss VBUS",
			facts:  []build{meterLog(0.5, 0.02, 0), level(0, 0.5, 0.02, 0)},
			not:    []string{"no-vbus"},
			source: "tCCDebounce and tVBUSON together may take 475 ms: USB Type-C R2.1 tables 4-29 and 4-30",
		},
		{
			name:   "a residual voltage above off is not off",
			facts:  []build{meterLog(20, 1.9, 0), level(0, 20, 1.9, 0)},
			want:   map[string]Severity{"vbus-out-of-range": Warning}, // nothing flows: it may be what capacitors keep
			not:    []string{"no-vbus"},
			source: "neither vSafe0V nor vSafe5V: USB PD R3.2 V1.1 table 7.25",
		},
		{
			name:   "a voltage between off and 5 V that feeds something",
			facts:  []build{meterLog(20, 1.9, 0.3), level(0, 20, 1.9, 0.3)},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			not:    []string{"no-vbus"},
			source: "neither vSafe0V nor vSafe5V: USB PD R3.2 V1.1 table 7.25",
		},
		{
			name:   "a list without a message beside 20 V",
			facts:  []build{meterLog(20, 20, 1.5), level(0, 20, 19.6, 1.5), plateau(0, 20, 19.6, 1.5), messageList(0, 0)},
			want:   map[string]Severity{"no-source-capabilities": Note},
			source: "VBUS above 5.5 V takes a contract, older than the list: USB PD R3.2 V1.1 table 7.25 (vSafe5V)",
		},
		{
			name:   "silent source, dead draw",
			facts:  []build{meterLog(20, 5.1, 0.01), level(1, 20, 5.1, 0.01), plateau(1, 20, 5.1, 0.01), messageList(0, 0)},
			want:   map[string]Severity{"no-source-capabilities": Warning, "stuck-at-5v": Warning},
			source: "VBUS without PD: USB PD R3.2 V1.1 table 6.68",
		},
		{
			name:   "plain 5 V source and a machine that charges from it",
			facts:  []build{meterLog(20, 5.1, 1.5), level(1, 20, 5.0, 1.5), plateau(1, 20, 5.0, 1.5), messageList(0, 0)},
			want:   map[string]Severity{"no-source-capabilities": Note, "ramp-normal": Note},
			not:    []string{"stuck-at-5v"},
			source: "Type-C current of 1.5 A needs no PD: USB Type-C R2.0 table 4-17",
		},
		{
			name:   "the offer is never acknowledged",
			facts:  []build{messageList(40, 0), offer(5000, 3000), offer(20000, 3000), attempt(0.4, 6, negotiation.StepAcknowledge)},
			want:   map[string]Severity{"capabilities-unanswered": Fault, "stuck-at-5v": Fault},
			not:    []string{"contract-stalled", "request-missing"},
			source: "unanswered capabilities: USB PD R3.2 V1.1 table 6.68",
		},
		{
			name: "a refused first Request and a contract after it",
			facts: []build{messageList(9, 3), attempt(1, 1.2, negotiation.StepRefused), attempt(3, 3.3, negotiation.StepDone),
				contract(3.3, 15000, 2000, nil, "")},
			want:   map[string]Severity{"request-refused": Warning, "contract-stalled": Warning},
			not:    []string{"stuck-at-5v", "hard-reset-loop"},
			source: "recorded negotiation of 2020: a kernel mailing list's bug report",
		},
		{
			name: "Accept and no PS_RDY, again and again",
			facts: []build{messageList(30, 20), attempt(1, 1.8, negotiation.StepPowerReady), attempt(3, 3.8, negotiation.StepPowerReady),
				attempt(5, 5.8, negotiation.StepPowerReady), resets(1.8, 3.8, 5.8, 7.8)},
			want:   map[string]Severity{"power-ready-missing": Fault, "contract-stalled": Fault, "hard-reset-loop": Fault},
			source: "PSTransitionTimer ends in Hard Reset: USB PD R3.2 V1.1 section 6.6.3",
		},
		{
			name:   "three Hard Resets are what a sink without an offer sends",
			facts:  []build{messageList(0, 3), resets(1, 2, 3)},
			not:    []string{"hard-reset-loop"},
			source: "1 and nHardResetCount 2 more: USB PD R3.2 V1.1 table 6.70",
		},
		{
			name:   "a contract that ends in a new one is not lost",
			facts:  []build{messageList(9, 3), contract(1, 5000, 3000, number(2), "new-contract"), contract(2, 20000, 3000, nil, "")},
			not:    []string{"contract-lost"},
			source: "renegotiation: USB PD R3.2 V1.1 section 6.4.2",
		},
		{
			name:   "a contract lost to Hard Reset for good",
			facts:  []build{messageList(9, 3), contract(1, 20000, 3000, number(2), "hard-reset")},
			want:   map[string]Severity{"contract-lost": Fault},
			source: "USB PD R3.2 V1.1 section 6.8.3",
		},
		{
			name: "one pulled plug and a normal start",
			facts: []build{meterLog(60, 20, 2), level(1, 20, 20, 2), level(20, 26, 0, 0), level(26, 26.5, 5, 0.1), level(26.5, 60, 20, 2),
				plateau(1, 20, 20, 2), plateau(26.5, 60, 20, 2), collapse(20, 20, 0, 2, number(6))},
			want:   map[string]Severity{"contract-lost": Note},
			not:    []string{"vbus-collapse", "hard-reset-loop"},
			source: "common practice: a technician replugs",
		},
		{
			name: "a source that gives way again and again",
			facts: []build{meterLog(30, 20, 2), level(1, 5, 20, 2), level(5, 5.8, 0, 0), level(6, 9, 20, 2), level(9, 9.8, 0, 0), level(10, 14, 20, 2),
				collapse(5, 20, 0, 2, number(0.9)), collapse(9, 20, 0, 2, number(0.9))},
			want:   map[string]Severity{"vbus-collapse": Fault, "contract-lost": Fault},
			source: "common practice",
		},
		{
			name: "a search that settles finds the limit by overloading it",
			facts: []build{meterLog(30, 5, 1.5), level(1, 30, 5, 1), plateau(12, 30, 5, 1.2), collapse(4, 5, 0, 1.4, number(0.5)), collapse(8, 5, 0, 1.4, number(0.5)),
				func(f *Facts) {
					f.Draw.Staircases = []draw.Staircase{{StartS: 1, EndS: 12, Steps: 12, StepA: 0.064, Resets: 2, SettledA: number(1.2)}}
				}},
			want:   map[string]Severity{"staircase-draw": Note},
			not:    []string{"vbus-collapse"},
			source: "open laptop embedded-controller firmware: up to three overcurrents, then it settles",
		},
		{
			name: "a climb that never settles explains no collapse",
			facts: []build{meterLog(30, 5, 1.5), level(1, 30, 5, 1), collapse(4, 5, 0, 1.4, number(0.5)), collapse(8, 5, 0, 1.4, number(0.5)),
				func(f *Facts) {
					f.Draw.Staircases = []draw.Staircase{{StartS: 1, EndS: 12, Steps: 12, StepA: 0.064, Resets: 2, Collapsed: true}}
				}},
			want:   map[string]Severity{"vbus-collapse": Fault},
			source: "common practice",
		},
		{
			name:   "20 V and nothing drawn",
			facts:  []build{meterLog(30, 20, 0.01), level(1, 30, 20, 0.005)},
			want:   map[string]Severity{"no-draw-at-contract": Warning},
			not:    []string{"ramp-normal", "stuck-at-5v"},
			source: "common practice",
		},
		{
			name:   "20 V above its window",
			facts:  []build{meterLog(30, 21.55, 1), level(1, 30, 21.55, 1)},
			want:   map[string]Severity{"vbus-out-of-range": Fault},
			source: "vSrcNew at 20 V is 19.0 to 21.0 V: USB PD R3.2 V1.1 table 7.23; 21.55 V is outside by more than the meter's 1 %",
		},
		{
			name:   "20 V at the edge of the window is inside",
			facts:  []build{meterLog(30, 21.15, 1), level(1, 30, 21.15, 1)},
			not:    []string{"vbus-out-of-range"},
			source: "21.0 V and a meter of 1 %: USB PD R3.2 V1.1 table 7.23",
		},
		{
			name: "a sound cable's slope",
			facts: []build{meterLog(30, 20, 3), measured(func(m *draw.Measured) {
				m.SeriesResistanceOhm = quantity(0.179, 0.001)
			})},
			not:    []string{"series-resistance-high"},
			source: "250 mohm at 3 A: USB Type-C R2.0 section 4.4.1",
		},
		{
			name: "a resistive cable",
			facts: []build{meterLog(30, 20, 3), measured(func(m *draw.Measured) {
				m.SeriesResistanceOhm = quantity(0.6, 0.01)
			})},
			want:   map[string]Severity{"series-resistance-high": Fault},
			source: "0.6 ohm at 3 A drops 1.8 V, beyond 1.28 V of input voltage regulation: data sheet SLUSE65A",
		},
		{
			name: "a leak before the converter",
			facts: []build{meterLog(30, 20, 0.4), measured(func(m *draw.Measured) {
				m.LoadExponent, m.LeakResistanceOhm = quantity(1.0, 0.05), quantity(50, 1)
			})},
			want:   map[string]Severity{"resistive-load": Warning},
			source: "50 ohm: 0.10 A at 5 V, 0.40 A at 20 V, Ohm's law",
		},
		{
			name: "a converter is no leak",
			facts: []build{meterLog(30, 20, 0.4), measured(func(m *draw.Measured) {
				m.LoadExponent = quantity(-1.0, 0.05)
			})},
			not:    []string{"resistive-load"},
			source: "constant power",
		},
		{
			name: "more than any contract allows",
			facts: []build{meterLog(30, 20, 4), plateau(5, 9, 20, 3.6), messageList(9, 3),
				contract(3, 20000, 3000, nil, "")},
			want:   map[string]Severity{"over-contract-current": Fault},
			source: "USB PD R3.2 V1.1 section 7.2.1",
		},
		{
			name: "an overshoot within accuracy",
			facts: []build{meterLog(30, 20, 4), plateau(5, 9, 20, 3.1), messageList(9, 3),
				contract(3, 20000, 3000, nil, "")},
			not:    []string{"over-contract-current"},
			source: "common practice: 1 % meter, 5 % of input limit tolerance",
		},
	}
}

func allCases() []ruleCase {
	return slices.Concat(basicCases(), powerUpCases(), contractCases(), voltageCases(), loadCases(), ccCases())
}

func TestRules(t *testing.T) {
	for _, tt := range allCases() {
		t.Run(tt.name, func(t *testing.T) {
			require.NotEmpty(t, tt.source)
			got := raised(tt.facts)
			for rule, severity := range tt.want {
				assert.Equal(t, severity, got[rule], rule)
			}
			for _, rule := range tt.not {
				assert.NotContains(t, got, rule)
			}
		})
	}
}

// Each rule has a case that raises it and a near one that must not.
func TestEveryRuleIsRaisedAndSpared(t *testing.T) {
	raised, spared := map[string]bool{}, map[string]bool{}
	for _, c := range allCases() {
		for rule := range c.want {
			raised[rule] = true
		}
		for _, rule := range c.not {
			spared[rule] = true
		}
	}
	for _, r := range Table() {
		assert.True(t, raised[r.Name], "%s is never raised", r.Name)
		assert.True(t, spared[r.Name], "%s is never spared", r.Name)
	}
}

func TestStaircasesAndPulses(t *testing.T) {
	f := &Facts{Draw: &draw.Result{
		Staircases: []draw.Staircase{
			{StartS: 1, EndS: 20, Steps: 10, StepA: 0.064, DwellS: 0.5, Resets: 5, TopA: 1.1, Collapsed: true},
			{StartS: 30, EndS: 40, Steps: 10, StepA: 0.064, DwellS: 0.5, SettledA: number(1.4), TopA: 1.5},
		},
		Pulses: []draw.Pulses{{StartS: 50, EndS: 53, Count: 7, PeriodS: number(0.51), OnS: number(0.01), PeakA: 0.5, Quiet: true}},
		Spikes: []draw.Spike{{TimeS: 51, PeakA: 0.5}, {TimeS: 60, PeakA: 2, BaselineA: 0.1, DurationS: 0.01}},
	}}
	findings, _ := Run(f)
	var got []string
	for _, found := range findings {
		got = append(got, found.Rule+" "+string(found.Severity))
	}
	// 64 mA each 500 ms: open embedded-controller firmware. 500 ms off, 10 ms
	// on, 7 tries: data sheet SLUSDU3. The spike inside the train is part of it.
	assert.Equal(t, []string{"staircase-draw fault", "staircase-draw note", "retry-pulses fault", "current-spike note"}, got)
}

func TestEveryRuleSaysWhatItRestsOn(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range Table() {
		assert.False(t, seen[r.Name], "%s stands twice", r.Name)
		seen[r.Name] = true
		assert.NotEmpty(t, r.Text, r.Name)
		assert.NotEmpty(t, r.Source, r.Name)
		assert.NotEmpty(t, r.Needs, r.Name)
		assert.NotEmpty(t, r.PointsTo, r.Name)
		assert.NotNil(t, r.Limits, r.Name)
	}
}

func TestNoFactsNoFindings(t *testing.T) {
	findings, leftOut := Run(&Facts{})
	assert.NotNil(t, findings)
	assert.Empty(t, findings)
	assert.Zero(t, leftOut)
}
