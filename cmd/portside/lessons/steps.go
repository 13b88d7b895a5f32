package lessons

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"portside/decode/rules"
	"portside/pd"
)

// Step is one step of a power-up, in words and figures.
type Step struct {
	Title  string  `json:"title"`
	After  string  `json:"after"` // what its wait is counted from
	Mine   Moment  `json:"here"`
	Sound  *Moment `json:"sound"` // the same step of the sound machine; nil in its own lesson
	Why    string  `json:"why"`
	Limits []Limit `json:"limits"`
	Fails  string  `json:"fails"` // what it would mean if it failed here
	Parts  bool    `json:"parts"` // here it leaves the sound one
}

// Moment is what meter and CC show at a step. Figures are of the recording.
type Moment struct {
	Found   bool
	AtS     float64  // since the plug went in
	Volts   float64  // V
	Amps    float64  // A
	WaitedS *float64 // since what it follows
	PeakA   *float64 // the highest current from the contract on; of the last step only
	Words   string   // the message
}

// momentJSON is a moment under the names that scripts know.
type momentJSON struct {
	AtS      *float64 `json:"at_s"`
	VoltageV *float64 `json:"voltage_v"`
	CurrentA *float64 `json:"current_a"`
	WaitedS  *float64 `json:"waited_s"`
	PeakA    *float64 `json:"peak_a"`
	Words    *string  `json:"words"` // the message
}

// MarshalJSON has null for what is not there: all of it where the step never
// came.
func (m Moment) MarshalJSON() ([]byte, error) {
	j := momentJSON{WaitedS: m.WaitedS, PeakA: m.PeakA}
	if m.Found {
		j.AtS, j.VoltageV, j.CurrentA = &m.AtS, &m.Volts, &m.Amps
		if m.Words != "" {
			j.Words = &m.Words
		}
	}
	return json.Marshal(j)
}

// Limit is a number of the standard as a lesson shows it.
type Limit struct {
	Name   string `json:"name"`
	Text   string `json:"text"`
	Source string `json:"source"`
}

// plan is a step before its figures are known. The prose holds no figure; {low}
// and {high} stand for the voltages of the first offer and of the contract, {amps} for
// the contract's current.
type plan struct {
	title  string
	after  string
	of     func(*events) *event
	why    string
	limits []pd.Parameter
	fails  string
	faults []string // rules that tell here already that it is not as it should be
}

func plans() []plan {
	return []plan{
		{"The plug goes in", "the plug", func(e *events) *event { return &e.plug },
			"The charger keeps VBUS off until it sees the pull-down Rd of the device on CC, and until the contact has stopped bouncing.",
			[]pd.Parameter{pd.VSafe0V, pd.RRd, pd.TCCDebounce},
			"Voltage before the plug is in, or none ever after: see the next step.", nil},
		{"VBUS comes up to {low}", "the plug", func(e *events) *event { return &e.vbus },
			"Rd was seen, so the charger switches VBUS on, at {low} and no more. The port controller wakes from it. A healthy device takes next to nothing yet, for its input switch is open.",
			[]pd.Parameter{pd.TVBUSON, pd.VSafe5V},
			"No VBUS: a dead charger, a broken cable, a CC contact that makes no touch, or a shorted VBUS that pulls it down. Read VBUS to ground cold before another try.", nil},
		{"The charger makes its offer", "VBUS", func(e *events) *event { return &e.offer },
			"The charger names every voltage and current it can give, first {low}.",
			[]pd.Parameter{pd.TFirstSourceCap, pd.TTypeCSendSourceCap},
			"No offer: a charger without messages, or one that does not work.", nil},
		{"The device hears it", "the offer", func(e *events) *event { return &e.heard },
			"The port controller acknowledges with GoodCRC. Its hardware does that by itself, so it proves that it has its supply and hears.",
			[]pd.Parameter{pd.TTransmit, pd.TReceive},
			"Offers that nobody acknowledges: the port controller, its supply or the CC line. The charger repeats them, and then gives up.", []string{"crc-errors"}},
		{"The device asks", "the GoodCRC", func(e *events) *event { return &e.request },
			"The port controller picks what fits the machine: {high}, {amps}. This is its decision, so it tells that its firmware runs.",
			[]pd.Parameter{pd.TReceiverResponse, pd.TSenderResponse},
			"Acknowledged and never asked: the port controller hears and does not decide. The charger then sends a Hard Reset and VBUS goes off and on.", nil},
		{"The charger accepts", "the GoodCRC", func(e *events) *event { return &e.accept },
			"A promise, not yet a voltage. The device must not take more than standby until the charger says that it is ready.",
			[]pd.Parameter{pd.TReceiverResponse, pd.ISnkStdby},
			"Reject, or no answer: the charger offers what it then refuses. Another charger that is known to be good tells.", nil},
		{"VBUS moves to {high}", "Accept", func(e *events) *event { return &e.voltage },
			"The charger waits a moment, then brings VBUS to {high} at a slow pace. The input switch is still open, so this is the charger and its cable alone.",
			[]pd.Parameter{pd.TSrcTransition, pd.TSrcSettleSPR, pd.VSrcNew},
			"It stays at {low}: the charger. It overshoots: unplug, that charger destroys boards. It falls back as soon as it is there: something on VBUS takes it down.", []string{"vbus-out-of-range"}},
		{"The charger is ready: PS_RDY", "Accept", func(e *events) *event { return &e.ready },
			"From this message on the contract stands and the device may draw up to {amps}. Only now does the port controller close the input switch.",
			[]pd.Parameter{pd.TSrcTransReqSPR, pd.TPSTransitionSPR},
			"Accepted and never ready: the charger. The device's timer runs out, it sends a Hard Reset, and all begins anew.", nil},
		{"The machine draws", "PS_RDY", func(e *events) *event { return &e.draw },
			"The input switch closes, the capacitors behind it fill, the charger circuit starts softly, the main rail comes up, and a battery that is there charges. The figures are of the longest steady draw. From here on the fault, if there is one, lies behind the port or in what carries the current.",
			[]pd.Parameter{pd.CSnkBulkPd, pd.VSrcNew},
			"No draw at all: an open input switch, or a charger circuit that does not start. Short pulses with rest between: it tries, meets a short and lets go. A flat draw with nobody at home: a short that it can carry. Unplug, and read the main rail cold.", nil},
	}
}

// walk fills the steps.
func (l *Lesson) walk() {
	model := &l.Mine.seen
	if l.Sound != nil && model.wantV == 0 {
		model = &l.Sound.seen
	}
	fill := strings.NewReplacer("{low}", firstVolts(l), "{high}", volts(model.wantV), "{amps}", amps(model.wantA))
	for i, p := range plans() {
		s := Step{
			Title: fill.Replace(p.title), After: p.after, Why: fill.Replace(p.why), Fails: fill.Replace(p.fails),
			Mine: l.Mine.shown(p.of(&l.Mine.seen)),
		}
		for _, x := range p.limits {
			s.Limits = append(s.Limits, limit(x, model.wantV))
		}
		if l.Sound != nil {
			sound := l.Sound.shown(p.of(&l.Sound.seen))
			s.Sound = &sound
			s.Parts = i == len(plans())-1 || l.leaves(p)
		}
		l.Steps = append(l.Steps, s)
		if s.Parts {
			l.PartsAt = i
			return
		}
	}
}

// leaves reports a step that never comes, or at which the engine faults what
// the meter shows.
func (l *Lesson) leaves(p plan) bool {
	if !p.of(&l.Mine.seen).found {
		return p.of(&l.Sound.seen).found
	}
	return slices.ContainsFunc(l.Mine.Diagnosis.Findings, func(f rules.Finding) bool {
		return f.Severity != rules.Note && slices.Contains(p.faults, f.Rule)
	})
}

func (r *Recording) shown(e *event) Moment {
	m := Moment{Found: e.found, AtS: (e.at - r.seen.plug.at).Seconds(), Volts: e.volts, Amps: e.amps, Words: e.words}
	if e.hasWait {
		w := e.waited.Seconds()
		m.WaitedS = &w
	}
	if e.hasPeak {
		peak := e.peakA
		m.PeakA = &peak
	}
	return m
}

// firstVolts is the first voltage that is offered, here or to the sound
// machine.
func firstVolts(l *Lesson) string {
	for _, r := range []*Recording{l.Mine, l.Sound} {
		if r == nil || len(r.seen.offered) == 0 {
			continue
		}
		if f, ok := r.seen.offered[0].Fixed(); ok {
			return volts(float64(f.Voltage) / 1000)
		}
	}
	return "the first voltage"
}

func volts(v float64) string { return fmt.Sprintf("%.4g V", v) }

func amps(a float64) string { return fmt.Sprintf("%.4g A", a) }

// limit is a row of the standard's tables in words; a share of the contract's
// voltage comes with the voltage.
func limit(p pd.Parameter, contractV float64) Limit {
	x := p.Limits(pd.Revision32)
	scale, unit := 1.0, strings.NewReplacer("Ω", "ohm", "µ", "u").Replace(x.Unit) // as they are typed, and seen on every screen
	if p == pd.VSrcNew && contractV > 0 {
		scale, unit = contractV, "V"
	}
	figure := func(b pd.Bound) string { return strings.TrimSpace(fmt.Sprintf("%.4g %s", scale*b.Value, unit)) }
	l := Limit{Name: x.Name, Source: source(x)}
	switch {
	case x.Min.Given && x.Max.Given:
		l.Text = figure(x.Min) + " to " + figure(x.Max)
	case x.Max.Given:
		l.Text = "at most " + figure(x.Max)
	case x.Min.Given:
		l.Text = "at least " + figure(x.Min)
	case x.Nom.Given:
		l.Text = "about " + figure(x.Nom)
	}
	return l
}

func source(x pd.Limits) string {
	switch {
	case x.Table == "":
		return x.Document
	case strings.HasPrefix(x.Table, "section"):
		return x.Document + ", " + x.Table
	}
	return x.Document + ", table " + x.Table
}
