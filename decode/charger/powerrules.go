package charger

import (
	"fmt"
	"math"
	"slices"

	"portside/pd"
)

// freelyConstrained is the present rating up to which a constrained source may leave
// out what its maximum calls for: that of a source of 5 V only (USB PD R3.2 V1.1,
// table 10.3).
var freelyConstrained = pd.SPRVoltageSteps()[1].Above

// rowEnds are the highest ratings of each row of the table, rising: what a source
// offers besides its currents follows from the row.
func rowEnds(steps []pd.VoltageStep, most pd.Milliwatts) (ends []pd.Milliwatts) {
	for _, s := range steps[1:] {
		ends = append(ends, s.Above)
	}
	return append(ends, most)
}

// seePowerFixed holds the SPR fixed, variable and battery objects to the power rules:
// some rating the source may have must explain them all.
func seePowerFixed(c *Checker, _ *event) {
	o := &c.offering
	if !o.fresh {
		return
	}
	o.ratings = o.ratings[:0]
	if offersNothing(o.spr()) {
		c.because(checkPowerFixed, "the source offers no current")
		return
	}
	why := c.explain()
	c.rating.imply(o)
	switch {
	case why == "":
		c.kept(checkPowerFixed, "the offer is that of "+figure(watts(o.ratings[0]), "W"))
	case c.rating.stated == 0 && c.rating.header == pd.Revision20:
		c.because(checkPowerFixed, "the offer is none of R3's, and what R2.0 allowed beside them is not known here")
	default:
		c.broke(checkPowerFixed, o.atS, "%s", why)
	}
}

// offersNothing reports the offer of 5 V without current, which asks the sink down.
func offersNothing(list []pd.PDO) bool {
	if len(list) == 0 {
		return true
	}
	f, ok := list[0].Fixed()
	return ok && f.MaxCurrent == 0
}

// explain finds the ratings that explain the objects, the highest first, and says
// what is against the likeliest one where there is none: the one that explains most, and
// of those the one nearest to what is offered.
func (c *Checker) explain() (why string) {
	o := &c.offering
	nearest, best, away := "no rating explains the offer", math.MinInt, pd.Milliwatts(0)
	most := mostPower(o.spr())
	for _, maximum := range c.maxima(pd.SPRVoltageSteps(), pd.PDPLimitSPR) {
		c.rating.ratings(maximum, func(present pd.Milliwatts) {
			if !c.mayOffer(maximum, present) {
				return
			}
			fits, against := o.fits(maximum, present, &c.rating)
			off := max(present-most, most-present)
			switch {
			case against == "":
				o.ratings = append(o.ratings, present)
			case fits > best || fits == best && off < away:
				best, away = fits, off
				nearest = fmt.Sprintf("%s, for a source of %s", against, figure(watts(present), "W"))
			}
		})
	}
	if len(o.ratings) > 0 {
		return ""
	}
	return nearest
}

// mayOffer reports whether a source of that maximum may offer so much only: a port
// that guarantees its rating is held down by a 3 A cable alone.
func (c *Checker) mayOffer(maximum, present pd.Milliwatts) bool {
	const halfWatt = 500
	by3A := power(pd.SPRAVSMaxVoltage, pd.CableCurrentDefault)
	held := present == by3A && c.cable.current <= pd.CableCurrentDefault
	return !c.rating.guaranteed || maximum-present <= halfWatt || held
}

// maxima are the maximum ratings to try: the one stated, else one for each row of the
// table.
func (c *Checker) maxima(steps []pd.VoltageStep, most pd.Milliwatts) []pd.Milliwatts {
	if mw, ok := c.rating.ceiling(); ok {
		return []pd.Milliwatts{min(mw, most)}
	}
	return rowEnds(steps, most)
}

// imply keeps the rating that the offer states: the one nearest its largest voltage
// times current.
func (r *rating) imply(o *offering) {
	power := mostPower(o.spr())
	const halfWatt = 500
	r.implied = power / halfWatt * halfWatt
	for _, p := range o.ratings {
		d, best := p-power, r.implied-power
		if max(d, -d) < max(best, -best) || !slices.Contains(o.ratings, r.implied) {
			r.implied = p
		}
	}
}

// mostPower is the largest voltage times current among the fixed objects.
func mostPower(list []pd.PDO) (most pd.Milliwatts) {
	for _, p := range list {
		if f, ok := p.Fixed(); ok {
			most = max(most, power(f.Voltage, f.MaxCurrent))
		}
	}
	return most
}

func power(v pd.Millivolts, i pd.Milliamps) pd.Milliwatts {
	const milli = 1000
	return pd.Milliwatts(int(v) * int(i) / milli)
}

// fits counts the objects that agree with a rating, and says what does not.
func (o *offering) fits(maximum, present pd.Milliwatts, r *rating) (n int, against string) {
	note := func(format string, args ...any) {
		if against == "" {
			against = fmt.Sprintf(format, args...)
		}
	}
	for i, p := range o.spr() {
		if p == 0 {
			continue
		}
		if want := o.wants(p, maximum, present, r); want != "" {
			if against == "" {
				note("object %d offers %s where %s", i+1, supplyWords(p), want)
			}
			continue
		}
		n++
	}
	for _, step := range pd.SPRVoltageSteps() {
		v := step.Voltage
		_, called := pd.SPRFixedCurrent(maximum, present, v)
		if called && (v == implicit5V || present > freelyConstrained) && !offersFixed(o.spr(), v) {
			note("%s is not offered", figure(v.Volts(), "V"))
			n--
		}
	}
	return n, against
}

func offersFixed(list []pd.PDO, v pd.Millivolts) bool {
	for _, p := range list {
		if f, ok := p.Fixed(); ok && f.Voltage == v {
			return true
		}
	}
	return false
}

// wants says what the power rules want of an object instead; empty where it agrees.
func (o *offering) wants(p pd.PDO, maximum, present pd.Milliwatts, r *rating) string {
	switch p.Kind() {
	case pd.KindFixed:
		f, _ := p.Fixed()
		allowed, called := pd.SPRFixedCurrent(maximum, present, f.Voltage)
		switch {
		case !called:
			return o.wantsOptional(f.Voltage, f.Voltage, power(f.Voltage, f.MaxCurrent), present, r)
		case allowed.Contains(f.MaxCurrent):
			return ""
		case allowed.Min == allowed.Max:
			return figure(allowed.Min.Amps(), "A") + " is due"
		default:
			return figure(allowed.Min.Amps(), "A") + " to " + figure(allowed.Max.Amps(), "A") + " is due"
		}
	case pd.KindVariable:
		v, _ := p.Variable()
		return o.wantsOptional(v.MaxVoltage, v.MinVoltage, power(v.MinVoltage, v.MaxCurrent), present, r)
	case pd.KindBattery:
		b, _ := p.Battery()
		return o.wantsOptional(b.MaxVoltage, b.MinVoltage, b.MaxPower, present, r)
	default:
		return ""
	}
}

// wantsOptional holds an object that no rating calls for to what may be offered
// beside: no more than the rating, and in R3.2 nothing above 9 V and nothing at all
// from an EPR source.
func (o *offering) wantsOptional(highest, lowest pd.Millivolts, offers, present pd.Milliwatts, r *rating) string {
	step := power(lowest, 10) // currents may be rounded up to 10 mA
	switch {
	case isEPRVoltage(highest):
		return "SPR ends at " + figure(pd.SPRAVSMaxVoltage.Volts(), "V")
	case offers >= present+step && offers > present:
		return "at most " + figure(watts(present), "W") + " may be offered"
	case r.is32() && highest > pd.OptionalVoltageLimit:
		return "no voltage above " + figure(pd.OptionalVoltageLimit.Volts(), "V") + " may stand beside the standard ones"
	case r.is32() && o.isEPR():
		return "an EPR source has none beside the standard voltages"
	default:
		return ""
	}
}

func isEPRVoltage(v pd.Millivolts) bool { return v > pd.SPRAVSMaxVoltage }

// isEPR reports the offer of an EPR source.
func (o *offering) isEPR() bool {
	if o.epr || len(o.objects) == 0 {
		return o.epr
	}
	f, ok := o.objects[0].Fixed()
	return ok && f.EPRCapable
}

// seePowerAVS holds the SPR adjustable supply to the fixed objects of 15 and 20 V.
func seePowerAVS(c *Checker, _ *event) {
	o := &c.offering
	if !o.fresh || offersNothing(o.spr()) {
		return
	}
	avs, found := pd.SPRAVSSupply{}, false
	for _, p := range o.spr() {
		if s, ok := p.SPRAVS(); ok {
			avs, found = s, true
		}
	}
	if !found {
		c.missesAVS()
		return
	}
	at15, has15 := fixedCurrent(o.spr(), pd.SPRAVSStepVoltage)
	at20, has20 := fixedCurrent(o.spr(), pd.SPRAVSMaxVoltage)
	switch {
	case has15 && apart(avs.MaxCurrent15V, at15):
		c.broke(checkPowerAVS, o.atS, "9 to 15 V carries %s, the 15 V object %s", figure(avs.MaxCurrent15V.Amps(), "A"), figure(at15.Amps(), "A"))
	case has20 && apart(avs.MaxCurrent20V, at20):
		c.broke(checkPowerAVS, o.atS, "15 to 20 V carries %s, the 20 V object %s", figure(avs.MaxCurrent20V.Amps(), "A"), figure(at20.Amps(), "A"))
	case !has20 && avs.MaxCurrent20V > 0 && c.rating.pdpAtLeast(o) > freelyConstrained:
		c.broke(checkPowerAVS, o.atS, "15 to 20 V is offered without a 20 V object")
	case !has15 && c.rating.pdpAtLeast(o) > freelyConstrained:
		c.broke(checkPowerAVS, o.atS, "SPR AVS is offered without a 15 V object")
	default:
		c.kept(checkPowerAVS, "the currents are those of the 15 V and 20 V objects")
	}
}

// missesAVS: only a source known to be built to R3.2 owes the adjustable supply.
func (c *Checker) missesAVS() {
	o := &c.offering
	switch _, called := pd.SPRAVSRange(c.rating.pdpAtLeast(o)); {
	case !called:
		c.because(checkPowerAVS, "SPR AVS is not offered, and up to 27 W it is not asked for")
	case c.rating.stated == pd.Revision32:
		c.broke(checkPowerAVS, o.atS, "SPR AVS is not offered, which R3.2 asks of a source above 27 W")
	default:
		c.because(checkPowerAVS, "SPR AVS is not offered, and the source does not say that it is built to R3.2")
	}
}

// pdpAtLeast is the lowest rating that explains the offer.
func (r *rating) pdpAtLeast(o *offering) pd.Milliwatts {
	if len(o.ratings) == 0 {
		return mostPower(o.spr())
	}
	lowest := o.ratings[0]
	for _, p := range o.ratings {
		lowest = min(lowest, p)
	}
	return lowest
}

// apart reports currents that differ by more than their rounding.
func apart(a, b pd.Milliamps) bool {
	const rounding = 10
	return a-b > rounding || b-a > rounding
}

func fixedCurrent(list []pd.PDO, v pd.Millivolts) (i pd.Milliamps, ok bool) {
	for _, p := range list {
		if f, fixed := p.Fixed(); fixed && f.Voltage == v {
			return f.MaxCurrent, true
		}
	}
	return 0, false
}

// supplyWords names an object.
func supplyWords(p pd.PDO) string {
	switch p.Kind() {
	case pd.KindFixed:
		f, _ := p.Fixed()
		return fmt.Sprintf("%s %s", figure(f.Voltage.Volts(), "V"), figure(f.MaxCurrent.Amps(), "A"))
	case pd.KindVariable:
		v, _ := p.Variable()
		return fmt.Sprintf("variable %s to %s %s", figure(v.MinVoltage.Volts(), "V"), figure(v.MaxVoltage.Volts(), "V"), figure(v.MaxCurrent.Amps(), "A"))
	case pd.KindBattery:
		b, _ := p.Battery()
		return fmt.Sprintf("battery %s to %s %s", figure(b.MinVoltage.Volts(), "V"), figure(b.MaxVoltage.Volts(), "V"), figure(b.MaxPower.Watts(), "W"))
	case pd.KindPPS:
		s, _ := p.PPS()
		return fmt.Sprintf("PPS %s to %s %s", figure(s.MinVoltage.Volts(), "V"), figure(s.MaxVoltage.Volts(), "V"), figure(s.MaxCurrent.Amps(), "A"))
	case pd.KindEPRAVS:
		s, _ := p.EPRAVS()
		return fmt.Sprintf("EPR AVS %s to %s %d W", figure(s.MinVoltage.Volts(), "V"), figure(s.MaxVoltage.Volts(), "V"), s.PDP)
	case pd.KindSPRAVS:
		s, _ := p.SPRAVS()
		return fmt.Sprintf("SPR AVS %s and %s", figure(s.MaxCurrent15V.Amps(), "A"), figure(s.MaxCurrent20V.Amps(), "A"))
	default:
		return fmt.Sprintf("0x%08X", uint32(p))
	}
}
