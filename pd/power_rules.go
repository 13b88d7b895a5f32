package pd

// Source power rules: which objects a source of a power rating (PDP) offers, and with
// which currents (USB PD R3.2 V1.1, chapter 10). Ratings are whole watts from 10 W up and
// half watts below (section 10.1). A source whose present PDP is below its maximum PDP
// keeps the voltages and lowers the currents (table 10.3).

// CurrentRange is the lowest and the highest Maximum Current a rule allows, ends included.
type CurrentRange struct {
	Min, Max Milliamps // mA
}

// Contains reports whether i lies inside.
func (r CurrentRange) Contains(i Milliamps) bool { return i >= r.Min && i <= r.Max }

const (
	// CableCurrentDefault is what any cable carries: more needs a cable that says 5 A
	// (USB PD R3.2 V1.1, section 4.4).
	CableCurrentDefault Milliamps = 3000
	// CurrentLimit is the most any object may offer (USB PD R3.2 V1.1, table 10.2).
	CurrentLimit Milliamps = 5000

	sprPDPLimit Milliwatts = 100_000
	eprPDPLimit Milliwatts = 240_000

	// OptionalVoltageLimit is the highest voltage of fixed, variable and battery objects
	// beside the standard ones; an EPR source may have none (USB PD R3.2 V1.1, section
	// 10.2.3.1). R3.0 V1.1 has no such ceiling.
	OptionalVoltageLimit Millivolts = 9000
)

// Voltage ranges of the adjustable supplies. Objects of SPR AVS carry no voltages: where
// they end follows from their second current (USB PD R3.2 V1.1, tables 6.14, 10.9 and
// 10.15).
const (
	// SPRAVSMinVoltage is where every SPR AVS range begins.
	SPRAVSMinVoltage Millivolts = 9000
	// SPRAVSStepVoltage is where the current for 9 to 15 V gives way to that for 15 to 20 V,
	// and where a range without the second one ends. At 15.0 V exactly the second one holds
	// (table 10.2, note 5).
	SPRAVSStepVoltage Millivolts = 15_000
	// SPRAVSMaxVoltage is where the wider SPR AVS range ends.
	SPRAVSMaxVoltage Millivolts = 20_000
	// EPRAVSMinVoltage is where every EPR AVS range begins; its end is in the object.
	EPRAVSMinVoltage Millivolts = 15_000
	// AVSVoltageStep is the step in which a sink asks for AVS voltages (table 7.23,
	// vAvsStep, and table 6.26).
	AVSVoltageStep Millivolts = 100
)

// Voltage limits of PPS objects (USB PD R3.2 V1.1, table 10.10; R3.0 V1.1, table 10-8).
const (
	// PPSMinVoltage32 is the lower end of every PPS range from R3.2 on.
	PPSMinVoltage32 Millivolts = 5000
	// PPSMinVoltage30 is the lower end in R3.0 V1.1, and so the lowest of any revision.
	PPSMinVoltage30 Millivolts = 3000
	// PPSMinVoltageLater30 is the lower end in later versions of R3.0 (ST application note
	// TA0357), and what many sources show.
	PPSMinVoltageLater30 Millivolts = 3300
	// PPSMaxVoltage is the upper end of the widest PPS range in every revision.
	PPSMaxVoltage Millivolts = 21_000
)

// voltageAbove is a standard voltage and the maximum PDP above which it is offered.
type voltageAbove struct {
	voltage Millivolts
	above   Milliwatts
}

// The standard voltages: 3 A steps in SPR (USB PD R3.2 V1.1, table 10.2), and EPR (table
// 10.12).
var (
	sprVoltages = [...]voltageAbove{{5000, 0}, {9000, 15_000}, {15_000, 27_000}, {20_000, 45_000}}
	eprVoltages = [...]voltageAbove{{28_000, 100_000}, {36_000, 140_000}, {48_000, 180_000}}
)

// highestVoltage is the last of the list that a maximum PDP calls for, 0 for none.
func highestVoltage(list []voltageAbove, maximum Milliwatts) (v Millivolts) {
	for _, l := range list {
		if maximum > l.above {
			v = l.voltage
		}
	}
	return v
}

func standardVoltage(list []voltageAbove, v Millivolts) bool {
	for _, l := range list {
		if l.voltage == v {
			return true
		}
	}
	return false
}

// currentAt is pdp / v rounded down and up to the step.
func currentAt(pdp Milliwatts, v Millivolts, step Milliamps) (down, up Milliamps) {
	// mW / mV is A: the factor keeps whole mA.
	numerator, denominator := int(pdp)*1000, int(v)*int(step)
	down = Milliamps(numerator/denominator) * step
	up = Milliamps((numerator+denominator-1)/denominator) * step
	return min(down, CurrentLimit), min(up, CurrentLimit)
}

// SPRFixedCurrent gives the Maximum Current a source offers with a standard fixed voltage
// of 5, 9, 15 or 20 V, for its maximum and its present PDP, which are equal unless the
// source is constrained. ok is false where the rating does not call for the voltage.
//
// The highest voltage carries PDP / V, rounded either way to 10 mA. Those below carry at
// least 3 A while PDP / V is more, and else PDP / V. More than 3 A needs a 5 A cable
// (USB PD R3.2 V1.1, tables 10.2 and 10.3). From 15 W down a constrained source may leave
// out every voltage above 5 V.
func SPRFixedCurrent(maximum, present Milliwatts, v Millivolts) (r CurrentRange, ok bool) {
	maximum, present = min(maximum, sprPDPLimit), min(present, sprPDPLimit)
	highest := highestVoltage(sprVoltages[:], maximum)
	if !standardVoltage(sprVoltages[:], v) || v > highest {
		return CurrentRange{}, false
	}
	down, up := currentAt(present, v, unitCurrent)
	if v < highest && down > CableCurrentDefault {
		down = CableCurrentDefault
	}
	return CurrentRange{down, up}, true
}

// SPRFixedCurrentFor is SPRFixedCurrent by revision: R3.0 V1.1 has 3 A exactly where R3.2
// V1.1 has at least 3 A (table 10-2 and table 10.2). Every other revision takes R3.2.
func SPRFixedCurrentFor(r Revision, maximum, present Milliwatts, v Millivolts) (c CurrentRange, ok bool) {
	c, ok = SPRFixedCurrent(maximum, present, v)
	if r == Revision30 && c.Min == CableCurrentDefault && v < highestVoltage(sprVoltages[:], min(maximum, sprPDPLimit)) {
		c.Max = CableCurrentDefault
	}
	return c, ok
}

// SPRAVSRange is the voltage range of the SPR adjustable supply that a maximum PDP calls
// for; ok is false up to 27 W, where there is none. Its currents are those of the fixed
// objects of 15 and 20 V (USB PD R3.2 V1.1, tables 10.2 and 10.9). Only R3.2 demands it.
func SPRAVSRange(maximum Milliwatts) (w Window, ok bool) {
	highest := highestVoltage(sprVoltages[:], min(maximum, sprPDPLimit))
	if highest <= SPRAVSMinVoltage {
		return Window{}, false
	}
	return RangeWindow(SPRAVSMinVoltage, highest), true
}

// EPRFixedCurrent gives the Maximum Current with a fixed voltage of 28, 36 or 48 V: PDP /
// V, rounded either way to 10 mA, up to 5 A (USB PD R3.2 V1.1, tables 10.12 to 10.14). ok
// is false where the maximum PDP does not allow the voltage.
//
// Section 10.2.3.3 lets a port with a present PDP of up to 100 W work in SPR only, while
// tables 10.13 and 10.14 give EPR offers down to 36 W: accept both.
func EPRFixedCurrent(maximum, present Milliwatts, v Millivolts) (r CurrentRange, ok bool) {
	if maximum > eprPDPLimit || !standardVoltage(eprVoltages[:], v) || v > highestVoltage(eprVoltages[:], maximum) {
		return CurrentRange{}, false
	}
	down, up := currentAt(present, v, unitCurrent)
	return CurrentRange{down, up}, true
}

// EPRAVSRange is the voltage range of the EPR adjustable supply for a maximum PDP: 15 V to
// the highest fixed voltage (USB PD R3.2 V1.1, tables 10.12 and 10.15); ok is false for an
// SPR source.
func EPRAVSRange(maximum Milliwatts) (w Window, ok bool) {
	highest := highestVoltage(eprVoltages[:], maximum)
	if highest == 0 || maximum > eprPDPLimit {
		return Window{}, false
	}
	return RangeWindow(EPRAVSMinVoltage, highest), true
}

// PPSRule says what the power rules want of one PPS range, where PPS is offered at all.
type PPSRule uint8

// The rules of a PPS range. The zero value is no PPS range of the standard.
const (
	PPSOptional PPSRule = iota + 1 // may be offered, up to the highest current
	PPSRequired                    // must be offered inside the currents
)

// PPSCurrent gives the Maximum Current of a PPS range by its nominal voltage of 9, 15 or
// 20 V (USB PD R3.2 V1.1, table 10.11). Currents of PPS round down to 50 mA.
func PPSCurrent(pdp Milliwatts, nominal Millivolts) (r CurrentRange, rule PPSRule) {
	if nominal == nominal5V || !standardVoltage(sprVoltages[:], nominal) {
		return CurrentRange{}, 0
	}
	pdp = min(pdp, sprPDPLimit)
	down, _ := currentAt(pdp, nominal, unitPPSCurrent)
	above, threeAmps, next := ppsSteps(nominal)
	switch {
	case pdp > above && pdp <= threeAmps, nominal == 20_000 && pdp > above:
		return CurrentRange{down, down}, PPSRequired
	case pdp > threeAmps && pdp < next:
		return CurrentRange{CableCurrentDefault, down}, PPSRequired
	default:
		return CurrentRange{0, down}, PPSOptional
	}
}

// ppsSteps are the ratings at which a range begins, reaches 3 A, and gives way to the
// range above the next one.
func ppsSteps(nominal Millivolts) (above, threeAmps, next Milliwatts) {
	switch nominal {
	case 9000:
		return 15_000, 27_000, 45_000
	case 15_000:
		return 27_000, 45_000, 60_000
	default:
		return 45_000, 60_000, sprPDPLimit
	}
}

// PPSRange gives the voltage range of a PPS object by its nominal voltage and the source's
// revision; ok is false where that revision has no such range. The lower end is 5 V in
// R3.2 V1.1 (table 10.10) and 3 V in R3.0 V1.1 (table 10-8); many sources in between show
// 3.3 V, so that a lower end of 3.3 or 5 V is no fault where the revision is not known.
func PPSRange(r Revision, nominal Millivolts) (w Window, ok bool) {
	const (
		prog5V  Millivolts = 5900
		prog9V  Millivolts = 11_000
		prog15V Millivolts = 16_000
	)
	lowest := PPSMinVoltage32
	if r == Revision30 {
		lowest = PPSMinVoltage30
	}
	switch {
	case nominal == nominal5V && r == Revision30:
		return RangeWindow(lowest, prog5V), true
	case nominal == 9000:
		return RangeWindow(lowest, prog9V), true
	case nominal == 15_000:
		return RangeWindow(lowest, prog15V), true
	case nominal == 20_000:
		return RangeWindow(lowest, PPSMaxVoltage), true
	default:
		return Window{}, false
	}
}
