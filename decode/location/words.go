package location

import (
	"fmt"
	"slices"
	"strings"

	"portside/decode/rules"
)

// where a fault lies, in the trade's words.
func where(l rules.Location) string {
	switch l {
	case rules.BeforePort:
		return "before the port (charger, cable or mains)"
	case rules.AtPort:
		return "at the port"
	case rules.BehindPort:
		return "behind the port"
	default:
		return "nowhere: the machine may be sound"
	}
}

// ruledOut is a location in a sentence that excludes it.
func ruledOut(l rules.Location) string {
	switch l {
	case rules.BeforePort:
		return "not the charger or cable"
	case rules.AtPort:
		return "not the port"
	case rules.BehindPort:
		return "not behind the port"
	default:
		return "not a sound machine"
	}
}

// summary is the verdict in one sentence.
func (c *opinion) summary(v Verdict, next []Test) string {
	switch v.Location {
	case rules.Healthy:
		return "no fault shows: " + c.healthyReason() + c.warned()
	case rules.Undetermined:
		return c.unexplained() + undetermined(v, next)
	}
	best := c.bestPart(v.Location)
	text := fmt.Sprintf("the fault lies %s, most likely %s: %s", where(v.Location), best.words, c.reason(v.Location, best))
	if len(next) > 0 && v.Probability < certainFrom {
		text += "; to be sure, measure next: " + next[0].Test
	}
	return text
}

// unexplained says first that the recording is like nothing in the model.
func (c *opinion) unexplained() string {
	if c.unknown() < unknownFrom {
		return ""
	}
	if why, found := c.lifts(c.index(unknownPart)); found {
		return "something that is not in this model (" + why + "); "
	}
	return "something that is not in this model; "
}

// undetermined names what is ruled out, what is open, and the measurement
// that parts the rest.
func undetermined(v Verdict, next []Test) string {
	var out, open []string
	for _, x := range v.Excluded {
		out = append(out, ruledOut(x.Location))
	}
	for _, l := range v.Open {
		open = append(open, where(l))
	}
	text := strings.Join(open, ", or ")
	if len(out) > 0 {
		text = strings.Join(out, ", ") + "; " + text
	} else {
		text = "nothing is ruled out; " + text
	}
	if len(next) > 0 {
		return text + ": measure next: " + next[0].Test
	}
	return text
}

// bestPart is the likeliest class of a location.
func (c *opinion) bestPart(l rules.Location) class {
	best := -1
	for i, x := range c.classes {
		if x.location == l && (best < 0 || c.p[i] > c.p[best]) {
			best = i
		}
	}
	return c.classes[best]
}

// reason is what speaks for a location and the likeliest part of it: where
// nothing lifts that part over the field, what lifts the location.
func (c *opinion) reason(l rules.Location, best class) string {
	if why, found := c.lifts(c.index(best.part)); found {
		return why
	}
	if why, found := c.mainReason(l); found {
		return why + "; of the parts there, " + best.reason
	}
	return c.favours(c.index(best.part))
}

// mainReason is the observation that speaks most for a location.
func (c *opinion) mainReason(l rules.Location) (why string, found bool) {
	best := 1.0
	for _, o := range joined(c.facts) {
		if ratio := c.ratio(o, slices.Index(locations(), l)); ratio > best {
			why, best = o.text, ratio
		}
	}
	return why, why != ""
}

// healthyReason is what speaks for a sound machine.
func (c *opinion) healthyReason() string {
	if why, found := c.mainReason(rules.Healthy); found {
		return why
	}
	return "nothing speaks for a fault"
}

// warned says what a sound machine's recording still warns of.
func (c *opinion) warned() string {
	for _, f := range c.Findings {
		if f.Severity == rules.Warning {
			return "; a warning stands: " + f.Text
		}
	}
	return ""
}
