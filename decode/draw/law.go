package draw

// Load is what the draw does where the voltage changes and the state of the load
// does not.
type Load struct {
	Law string `json:"law"`
	Why string `json:"why"` // what it rests on, or what keeps it from being told

	// The interval of two standard uncertainties about the exponent.
	ExponentLow  *float64 `json:"exponent_low"`
	ExponentHigh *float64 `json:"exponent_high"`

	// What a small change of the voltage meets: -V²/P of a converter, which takes more
	// current from less voltage.
	IncrementalOhm *float64 `json:"incremental_ohm"`

	// The most that the source and cable seen here can carry to a converter, V²/4R: what
	// takes more pulls VBUS down without any fault of its own.
	CollapseW *float64 `json:"collapse_w"`
}

// Laws of a load: I goes with V to the power of 1, 0, -1, or of something between,
// where several kinds stand side by side.
const (
	LawResistive       = "resistive"
	LawConstantCurrent = "constant-current"
	LawConstantPower   = "constant-power"
	LawMixed           = "mixed"
	LawUnknown         = "cannot-tell"
)

const (
	converterExponent = -0.6 // below it a converter takes the most of it: common practice
	currentExponent   = 0.15 // a constant current's departs from 0 by no more: common practice
	widestLaw         = 0.8  // an interval wider than this holds more than one law
)

// load judges the exponent by its interval, never by its value alone.
func (m *Measured) load(states int) Load {
	out := Load{Law: LawUnknown}
	n := m.LoadExponent
	switch {
	case n == nil && states < 2:
		out.Why = "the recording holds one voltage only, or no draw that lasts at a second"
		return out
	case n == nil || n.Uncertainty == nil:
		out.Why = "the load changed its state between the voltages"
		return out
	}
	low, high := n.Value-2**n.Uncertainty, n.Value+2**n.Uncertainty
	out.ExponentLow, out.ExponentHigh = &low, &high
	switch {
	case high-low > widestLaw:
		out.Why = "the readings are too coarse for the draw"
	case low > mostExponent:
		out.Why = "the draw rises faster than a resistor's: another state of the load"
	case low > leakExponent:
		out.Law, out.Why = LawResistive, "the draw rises with the voltage"
	case high < converterExponent:
		out.Law, out.Why = LawConstantPower, "the draw falls as the voltage rises"
	case low > -currentExponent && high < currentExponent:
		out.Law, out.Why = LawConstantCurrent, "the draw is the same at each voltage"
	case low > converterExponent && high < leakExponent && (low > 0 || high < 0):
		out.Law, out.Why = LawMixed, "part of the draw rises with the voltage and part falls"
	default:
		out.Why = "the interval holds more than one law"
	}
	return out
}

// Converter adds what a load of constant power means for its source: open is the
// voltage and amps the draw that it was seen at.
func (l *Load) Converter(open, amps float64, series *Quantity) {
	if l.Law == LawConstantPower && amps > 0 {
		ohm := -open / amps
		l.IncrementalOhm = &ohm
	}
	if series != nil && series.Uncertainty != nil && series.Value > 2**series.Uncertainty {
		w := open * open / (4 * series.Value)
		l.CollapseW = &w
	}
}
