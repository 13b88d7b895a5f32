package charger

import (
	"fmt"

	"portside/pd"
)

// seePowerPPS holds the programmable objects to the power rules. A range outside those
// of every revision is wrong whatever the source is built to. Which currents a rating
// calls for is known of R3.2 only, so that nothing passes for a source of R3.0 or R3.1.
func seePowerPPS(c *Checker, _ *event) {
	o := &c.offering
	if !o.fresh {
		return
	}
	list := ppsObjects(o.spr())
	if len(list) == 0 {
		return
	}
	for _, s := range list {
		if why := c.rating.outsidePPS(s); why != "" {
			c.broke(checkPowerPPS, o.atS, "PPS %s to %s: %s", figure(s.MinVoltage.Volts(), "V"), figure(s.MaxVoltage.Volts(), "V"), why)
			return
		}
	}
	if !c.rating.is32() {
		c.because(checkPowerPPS, "the source does not say that it is built to R3.2; its ranges are sound, and what currents R3.0 and R3.1 ask for is not known here")
		return
	}
	nearest := ""
	for _, present := range c.candidates() {
		against := ppsAgainst(list, present)
		if against == "" {
			c.kept(checkPowerPPS, "the ranges are those of "+figure(watts(present), "W"))
			return
		}
		if nearest == "" || present == c.rating.implied {
			nearest = fmt.Sprintf("%s, for a source of %s", against, figure(watts(present), "W"))
		}
	}
	c.broke(checkPowerPPS, o.atS, "%s", nearest)
}

// candidates are the ratings that the fixed objects leave open.
func (c *Checker) candidates() []pd.Milliwatts {
	if len(c.offering.ratings) > 0 {
		return c.offering.ratings
	}
	return []pd.Milliwatts{c.rating.implied}
}

func ppsObjects(list []pd.PDO) (out []pd.PPSSupply) {
	for _, p := range list {
		if s, ok := p.PPS(); ok {
			out = append(out, s)
		}
	}
	return out
}

// outsidePPS says what is wrong with a range whatever the rating. Where the revision
// is not known, a range is wrong only where all of them say so.
func (r *rating) outsidePPS(s pd.PPSSupply) string {
	switch {
	case s.MaxCurrent > pd.CurrentLimit:
		return "more than " + figure(pd.CurrentLimit.Amps(), "A")
	case s.MaxVoltage > pd.PPSMaxVoltage:
		return "no range goes beyond " + figure(pd.PPSMaxVoltage.Volts(), "V")
	case s.MinVoltage < pd.PPSMinVoltage30 || s.MinVoltage > pd.PPSMinVoltage32:
		return fmt.Sprintf("a range begins between %s and %s", figure(pd.PPSMinVoltage30.Volts(), "V"), figure(pd.PPSMinVoltage32.Volts(), "V"))
	case r.latest && s.MinVoltage != pd.PPSMinVoltage32:
		return "a range of R3.2 V1.1 begins at " + figure(pd.PPSMinVoltage32.Volts(), "V")
	case r.is32() && nominalOf(s) == 0:
		return "no range ends there"
	default:
		return ""
	}
}

// nominalOf is the nominal voltage of a range by its upper end, 0 for none: one of the
// standard fixed voltages.
func nominalOf(s pd.PPSSupply) pd.Millivolts {
	for _, step := range pd.SPRVoltageSteps() {
		v := step.Voltage
		if w, ok := pd.PPSRange(pd.Revision30, v); ok && w.Max == s.MaxVoltage.Volts() {
			return v
		}
	}
	return 0
}

// ppsAgainst says what speaks against a rating; empty for nothing.
func ppsAgainst(list []pd.PPSSupply, present pd.Milliwatts) string {
	for _, step := range pd.SPRVoltageSteps() {
		v := step.Voltage
		allowed, rule := pd.PPSCurrent(present, v)
		found := false
		for _, s := range list {
			if nominalOf(s) != v {
				continue
			}
			found = true
			if rule != 0 && !allowed.Contains(s.MaxCurrent) {
				return fmt.Sprintf("%s Prog carries %s where %s to %s is due", figure(v.Volts(), "V"), figure(s.MaxCurrent.Amps(), "A"), figure(allowed.Min.Amps(), "A"), figure(allowed.Max.Amps(), "A"))
			}
		}
		if rule == pd.PPSRequired && !found {
			return figure(v.Volts(), "V") + " Prog is not offered"
		}
	}
	return ""
}
