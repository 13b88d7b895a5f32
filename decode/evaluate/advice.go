package evaluate

import (
	"fmt"
	"io"
	"math"
	"slices"
	"sync"

	"portside/decode"
	"portside/decode/location"
	"portside/decode/probe"
	"portside/decode/rules"
)

// certain is where nothing more needs to be asked.
const certain = 0.95

// senior is the fixed order in which a senior technician measures: common
// practice.
var senior = []string{
	"vbus-ohm", "main-rail-ohm", "main-rail-diode-v", "always-on-rail-ohm",
	"cc1-ohm", "cc2-ohm", "other-port", "known-good-charger", "main-rail-v", "always-on-rail-v",
}

// asked is what a reading takes.
func asked(reading string) location.Ask {
	for _, a := range location.Asks() {
		if a.Reading == reading {
			return a
		}
	}
	return location.Ask{Reading: reading}
}

// Walk is one case measured until a location is certain, or nothing is left to
// ask.
type Walk struct {
	Minutes float64 // infinite where the truth never became certain
	Steps   int
	Wrong   bool    // another location became certain
	Unsafe  int     // steps that powered a node whose short was likely and unread
	Told    float64 // what all readings together moved the natural logarithm of the truth's share by
	Worst   float64 // by the one that moved it down most; 0 where none did
}

// solved reports a walk that ended certain of the truth.
func (w Walk) solved() bool { return !math.IsInf(w.Minutes, 1) }

// FollowAdvice measures what the verdict asks for first, each time.
func FollowAdvice(c Case, inputs string) (Walk, error) {
	return walk(c, inputs, func(d *decode.Diagnosis, _ []probe.Reading) (string, float64, bool) {
		for _, t := range d.Next {
			if t.Reading != nil {
				return *t.Reading, t.Minutes, true
			}
		}
		return "", 0, false
	})
}

// FollowOrder measures in the senior's fixed order.
func FollowOrder(c Case, inputs string) (Walk, error) {
	step, opened := 0, false
	return walk(c, inputs, func(*decode.Diagnosis, []probe.Reading) (string, float64, bool) {
		if step == len(senior) {
			return "", 0, false
		}
		next := asked(senior[step])
		step++
		if next.Inside && !opened {
			opened = true
			next.Minutes += location.OpenMinutes
		}
		return next.Reading, next.Minutes, true
	})
}

// walk asks for one reading after another and takes the simulated unit's answer.
func walk(c Case, inputs string, ask func(*decode.Diagnosis, []probe.Reading) (string, float64, bool)) (Walk, error) {
	var w Walk
	var given []probe.Reading
	unit, err := take(c, inputs)
	if err != nil {
		return w, err
	}
	d := unit.diagnose(nil)
	for {
		for _, l := range locations {
			if d.Verdict.Locations[l] >= certain {
				w.Wrong = l != c.Truth
				if w.Wrong {
					w.Minutes = math.Inf(1)
				}
				return w, nil
			}
		}
		name, minutes, ok := ask(d, given)
		if !ok {
			w.Minutes = math.Inf(1)
			return w, nil
		}
		w.Minutes += minutes
		w.Steps++
		if unsafe(d, name, given) {
			w.Unsafe++
		}
		r, err := answer(c, name)
		if err != nil {
			return w, err
		}
		given = append(given, r)
		after := unit.diagnose(given)
		moved := math.Log(after.Verdict.Locations[c.Truth] / d.Verdict.Locations[c.Truth])
		w.Told, w.Worst = w.Told+moved, min(w.Worst, moved)
		d = after
	}
}

// answer is what the simulated unit reads.
func answer(c Case, name string) (probe.Reading, error) {
	text, known := c.Run.Scenario.Reading(name, c.Run.Seed)
	if !known {
		return probe.Reading{}, fmt.Errorf("the bench has no answer for %s", name)
	}
	return probe.ParseReading(name + "=" + text)
}

// colds are the readings that clear a node before it is powered. They stand here
// apart from the verdict's own, which are what is judged.
var colds = map[string][]string{
	"main-rail-short": {"main-rail-ohm", "main-rail-diode-v"}, "vbus-short": {"vbus-ohm"},
	"charger-input-short": {"charger-input-ohm"}, "downstream-rail": {"always-on-rail-ohm"},
}

// likelyShort is from where a short must be read cold before power.
const likelyShort = 0.3

// unsafe reports a step that powers the unit while a short is likely and its
// node has not been read cold.
func unsafe(d *decode.Diagnosis, name string, given []probe.Reading) bool {
	if !asked(name).Powers {
		return false
	}
	for _, s := range d.Suspects {
		cold, short := colds[s.Part]
		if !short || s.Probability < likelyShort {
			continue
		}
		if !slices.ContainsFunc(given, func(r probe.Reading) bool { return slices.Contains(cold, r.Name) }) {
			return true
		}
	}
	return false
}

// AdviceReport holds the advice against the senior's order, case by case.
type AdviceReport struct {
	Advice, Order []Walk
	Quickest      []float64 // minutes of the quickest way within the share, where the advice took more
}

// Advice walks drawn cases both ways.
func Advice(o Options) (*AdviceReport, error) {
	r := &AdviceReport{}
	var mu sync.Mutex
	err := each(o, func(c Case) error {
		inputs := Both
		if !c.holds(Both) {
			inputs = Meter
		}
		advice, err := FollowAdvice(c, inputs)
		if err != nil {
			return fmt.Errorf("%s: %w", c.name(), err)
		}
		order, err := FollowOrder(c, inputs)
		if err != nil {
			return fmt.Errorf("%s: %w", c.name(), err)
		}
		quickest := advice.Minutes
		if order.solved() && !advice.quicker(order) {
			if quickest, err = Quickest(c, inputs, within*order.Minutes); err != nil {
				return fmt.Errorf("%s: %w", c.name(), err)
			}
		}
		mu.Lock()
		defer mu.Unlock()
		r.Advice, r.Order, r.Quickest = append(r.Advice, advice), append(r.Order, order), append(r.Quickest, quickest)
		if o.Wrong != nil && c.Truth != rules.Healthy && (advice.Wrong || math.IsInf(advice.Minutes, 1)) {
			_, _ = fmt.Fprintf(o.Wrong, "advice: %s: wrong %v after %d steps\n", c.name(), advice.Wrong, advice.Steps)
		}
		if o.Judged != nil {
			o.Judged()
		}
		return nil
	})
	return r, err
}

// within is the share of minutes that the advice may take of the order's.
const within = 0.7

// quicker reports a walk within the share of another's minutes.
func (w Walk) quicker(than Walk) bool { return w.solved() && w.Minutes <= within*than.Minutes }

// noRoom is how many of the order's steps leave none: VBUS, read in 2 minutes from
// outside, and the main rail, the first node inside. Whoever has to read that one
// node comes no cheaper to it than by 15 of 17 minutes.
const noRoom = 2

// AdviceTally counts the cases by who is certain of the truth in the end.
type AdviceTally struct {
	Cases                       int
	Beforehand                  int // certain by the recording alone, right or wrong: nothing is measured
	Both, AdviceOnly, OrderOnly int
	Neither                     int
	Quick                       int     // of Both: within the share of the order's minutes
	Early, EarlyQuick           int     // of Both: decided by the order's first steps
	NoRoom                      int     // of those that the order solves: no readings are that quick
	AdviceMinutes, OrderMinutes float64 // of Both
	AdviceWrong, OrderWrong     int     // certain of another side in the end
	AdviceUnsafe, OrderUnsafe   int     // steps that power a likely short unread
	Readings                    int     // taken by the advice
	Told                        float64 // by them, of the natural logarithm of the truth's share
	Halved                      int     // walks in which one true reading took half of the truth's share
}

// Tally counts what the walks came to.
func (r *AdviceReport) Tally() AdviceTally {
	t := AdviceTally{Cases: len(r.Advice)}
	for i, a := range r.Advice {
		o := r.Order[i]
		t.AdviceUnsafe, t.OrderUnsafe = t.AdviceUnsafe+a.Unsafe, t.OrderUnsafe+o.Unsafe
		t.Readings, t.Told = t.Readings+a.Steps, t.Told+a.Told
		t.Halved += count(a.Worst < -math.Ln2)
		t.NoRoom += count(a.Steps > 0 && o.solved() && r.Quickest[i] > within*o.Minutes)
		t.AdviceWrong, t.OrderWrong = t.AdviceWrong+count(a.Wrong), t.OrderWrong+count(o.Wrong)
		switch {
		case a.Steps == 0:
			t.Beforehand++
		case a.solved() && o.solved():
			t.Both++
			quick := a.quicker(o)
			t.Quick += count(quick)
			if o.Steps <= noRoom {
				t.Early++
				t.EarlyQuick += count(quick)
			}
			t.AdviceMinutes, t.OrderMinutes = t.AdviceMinutes+a.Minutes, t.OrderMinutes+o.Minutes
		case a.solved():
			t.AdviceOnly++
		case o.solved():
			t.OrderOnly++
		default:
			t.Neither++
		}
	}
	return t
}

func count(is bool) int {
	if is {
		return 1
	}
	return 0
}

// Print writes the curve of both ways, and what went wrong.
func (r *AdviceReport) Print(w io.Writer) {
	p := func(format string, args ...any) { _, _ = fmt.Fprintf(w, format+"\n", args...) }
	t := r.Tally()
	p("what to measure next: %d cases until one location has %.2f", t.Cases, certain)
	p("  minutes                       advice   a senior's order")
	for _, m := range []float64{0, 2, 5, 10, 15, 20, 25, 30, 40} {
		p("  certain of the truth at %3.0f  %5.1f %%   %5.1f %%", m, 100*sure(r.Advice, m), 100*sure(r.Order, m))
	}
	p("  certain by the recording alone        %4d", t.Beforehand)
	p("  certain of the truth by measuring: by advice and order %4d", t.Both)
	p("    by advice only %4d, by the order only %4d, by neither %4d", t.AdviceOnly, t.OrderOnly, t.Neither)
	p("  of the %d that the order solves, the advice is certain in at most %.1f of", t.Both+t.OrderOnly, within)
	p("    its minutes in %d (%.0f %%); it takes %.0f %% of the minutes where both do", t.Quick, percent(t.Quick, t.Both+t.OrderOnly), 100*t.AdviceMinutes/max(t.OrderMinutes, 1))
	p("    in %d others a search that knows what each reading will show finds no way", t.NoRoom)
	p("    as quick: of the %d that have room, the advice is in %d (%.0f %%)", t.Both+t.OrderOnly-t.NoRoom, t.Quick, percent(t.Quick, t.Both+t.OrderOnly-t.NoRoom))
	p("    where the order's first %d steps decide, which leave no room: %d of %d", noRoom, t.EarlyQuick, t.Early)
	p("    where they do not: %d of %d (%.0f %%)", t.Quick-t.EarlyQuick, t.Both+t.OrderOnly-t.Early, percent(t.Quick-t.EarlyQuick, t.Both+t.OrderOnly-t.Early))
	p("  certain of another side in the end: advice %d, order %d", t.AdviceWrong, t.OrderWrong)
	p("  steps that power a likely short unread: %d (the order %d)", t.AdviceUnsafe, t.OrderUnsafe)
	p("  %d readings moved ln of the truth's share by %+.3f each; one of them took", t.Readings, t.Told/max(float64(t.Readings), 1))
	p("    half of it in %d cases", t.Halved)
}

func percent(k, n int) float64 { return 100 * float64(k) / float64(max(n, 1)) }

// sure is the share of walks that end at the truth within the minutes.
func sure(all []Walk, minutes float64) float64 {
	k := 0
	for _, w := range all {
		if w.Minutes <= minutes {
			k++
		}
	}
	return float64(k) / float64(max(len(all), 1))
}
