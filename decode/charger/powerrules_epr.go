package charger

import (
	"fmt"

	"portside/pd"
)

// seePowerEPR holds the objects from position 8 on to the power rules.
func seePowerEPR(c *Checker, _ *event) {
	o := &c.offering
	if !o.fresh || !o.epr {
		return
	}
	avs, found := pd.EPRAVSSupply{}, false
	fixed := 0
	for _, p := range o.extended() {
		if s, ok := p.EPRAVS(); ok {
			avs, found = s, true
		} else if p != 0 {
			fixed++
		}
	}
	switch {
	case !found && fixed == 0:
		c.because(checkPowerEPR, "the EPR capabilities hold no EPR object")
		return
	case !found:
		c.broke(checkPowerEPR, o.atS, "the EPR adjustable supply is not offered beside EPR fixed objects")
		return
	}
	const perWatt = 1000
	present := pd.Milliwatts(avs.PDP) * perWatt
	nearest := fmt.Sprintf("EPR AVS states %d W, more than the source has", avs.PDP)
	for _, maximum := range c.maxima(pd.EPRVoltageSteps(), pd.PDPLimitEPR) {
		if maximum < present {
			continue
		}
		against := o.eprAgainst(maximum, present, avs)
		if against == "" {
			c.kept(checkPowerEPR, "the offer is that of "+figure(watts(present), "W"))
			return
		}
		nearest = against
	}
	c.broke(checkPowerEPR, o.atS, "%s", nearest)
}

// eprAgainst says what speaks against a maximum rating; empty for nothing. A port
// whose present rating is up to 100 W may leave EPR voltages out (USB PD R3.2 V1.1,
// section 10.2.3.3 against tables 10.13 and 10.14).
func (o *offering) eprAgainst(maximum, present pd.Milliwatts, avs pd.EPRAVSSupply) string {
	span, ok := pd.EPRAVSRange(maximum)
	if !ok {
		return "a source of " + figure(watts(maximum), "W") + " has no EPR"
	}
	for i, p := range o.extended() {
		f, isFixed := p.Fixed()
		if !isFixed || p == 0 {
			continue
		}
		allowed, called := pd.EPRFixedCurrent(maximum, present, f.Voltage)
		switch {
		case !called:
			return fmt.Sprintf("object %d offers %s, which a source of %s does not", eprFirst+i+1, supplyWords(p), figure(watts(maximum), "W"))
		case !allowed.Contains(f.MaxCurrent):
			return fmt.Sprintf("object %d offers %s where %s to %s is due for %s", eprFirst+i+1, supplyWords(p), figure(allowed.Min.Amps(), "A"), figure(allowed.Max.Amps(), "A"), figure(watts(present), "W"))
		}
	}
	for _, step := range pd.EPRVoltageSteps() {
		v := step.Voltage
		if _, called := pd.EPRFixedCurrent(maximum, present, v); called && present > pd.PDPLimitSPR && !offersFixed(o.extended(), v) {
			return figure(v.Volts(), "V") + " is not offered"
		}
	}
	if avs.MinVoltage.Volts() != span.Min || avs.MaxVoltage.Volts() != span.Max {
		return fmt.Sprintf("EPR AVS goes from %s to %s where %s to %s is due", figure(avs.MinVoltage.Volts(), "V"), figure(avs.MaxVoltage.Volts(), "V"), figure(span.Min, "V"), figure(span.Max, "V"))
	}
	return ""
}
