package evaluate

import (
	"fmt"
	"io"
	"math"
	"slices"
	"sync"

	"portside/decode"
	"portside/decode/location"
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
	Wrong   bool // another location became certain
	Unsafe  int  // steps that powered a node whose short was likely and unread
}

// FollowAdvice measures what the verdict asks for first, each time.
func FollowAdvice(c Case, inputs string) (Walk, error) {
	return walk(c, inputs, func(d *decode.Diagnosis, _ []location.Reading) (string, float64, bool) {
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
	return walk(c, inputs, func(*decode.Diagnosis, []location.Reading) (string, float64, bool) {
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
func walk(c Case, inputs string, ask func(*decode.Diagnosis, []location.Reading) (string, float64, bool)) (Walk, error) {
	var w Walk
	var given []location.Reading
	for {
		j, d, err := Judge(c, inputs, given...)
		if err != nil {
			return w, err
		}
		for _, l := range locations {
			if j.Shares[l] >= certain {
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
		text, known := c.Run.Scenario.Reading(name, c.Run.Seed)
		if !known {
			return w, fmt.Errorf("the bench has no answer for %s", name)
		}
		r, err := location.ParseReading(name + "=" + text)
		if err != nil {
			return w, err
		}
		given = append(given, r)
	}
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
func unsafe(d *decode.Diagnosis, name string, given []location.Reading) bool {
	if !asked(name).Powers {
		return false
	}
	for _, s := range d.Suspects {
		cold, short := colds[s.Part]
		if !short || s.Probability < likelyShort {
			continue
		}
		if !slices.ContainsFunc(given, func(r location.Reading) bool { return slices.Contains(cold, r.Name) }) {
			return true
		}
	}
	return false
}

// AdviceReport holds the advice against the senior's order, case by case.
type AdviceReport struct {
	Advice, Order []Walk
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
		mu.Lock()
		defer mu.Unlock()
		r.Advice, r.Order = append(r.Advice, advice), append(r.Order, order)
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

// Print writes the curve of both ways, and what went wrong.
func (r *AdviceReport) Print(w io.Writer) {
	p := func(format string, args ...any) { _, _ = fmt.Fprintf(w, format+"\n", args...) }
	n := len(r.Advice)
	p("what to measure next: %d cases until one location has %.2f", n, certain)
	p("  minutes                       advice   a senior's order")
	for _, m := range []float64{0, 2, 5, 10, 15, 20, 25, 30, 40} {
		p("  certain of the truth at %3.0f  %5.1f %%   %5.1f %%", m, 100*sure(r.Advice, m), 100*sure(r.Order, m))
	}
	quicker, wrong, wrongOrder, unsafeSteps, reached := 0, 0, 0, 0, 0
	for i, a := range r.Advice {
		if !math.IsInf(a.Minutes, 1) {
			reached++
			if a.Minutes <= within*r.Order[i].Minutes {
				quicker++
			}
		}
		if a.Wrong {
			wrong++
		}
		if r.Order[i].Wrong {
			wrongOrder++
		}
		unsafeSteps += a.Unsafe
	}
	p("  the advice is certain of the truth in %d of %d, in at most %.1f of the", reached, n, within)
	p("  order's minutes in %d; certain of another side in %d (the order %d);", quicker, wrong, wrongOrder)
	p("  steps that power a likely short unread: %d", unsafeSteps)
}

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
