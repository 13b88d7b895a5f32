package pd

import "math"

// Window is a range of voltages in V, ends included.
type Window struct {
	Min, Max float64 // V
}

// Contains reports whether v lies inside; NaN never does.
func (w Window) Contains(v float64) bool { return v >= w.Min && v <= w.Max }

// FixedWindow gives the windows of a fixed contract at the source's receptacle: static
// where the voltage stands, transient for load steps and transitions.
//
// They are nominal ±5 % and ±0.5 V further (USB PD R3.2 V1.1, table 7.23, vSrcNew and
// vSrcValid). At 5 V the standard says vSrcNew or vSafe5V as applicable; the wider vSafe5V
// is taken, so that no sound source is failed.
func FixedWindow(nominal Millivolts) (static, transient Window) {
	static = scaled(VSrcNew, nominal)
	if nominal == nominal5V {
		static = absolute(VSafe5V)
	}
	return static, widened(static, VSrcValid)
}

// PPSWindow gives the windows of a PPS contract at the voltage asked for: ±5 % and ±0.1 V
// further (USB PD R3.2 V1.1, table 7.23, vPpsNew and vPpsValid).
func PPSWindow(voltage Millivolts) (static, transient Window) {
	static = scaled(VPpsNew, voltage)
	return static, widened(static, VPpsValid)
}

// AVSWindow gives the windows of an AVS contract at the voltage asked for: ±5 % and ±0.5 V
// further (USB PD R3.2 V1.1, table 7.23, vAvsNew and vAvsValid).
func AVSWindow(voltage Millivolts) (static, transient Window) {
	static = scaled(VAvsNew, voltage)
	return static, widened(static, VAvsValid)
}

// RangeWindow is the window of a variable or battery object, whose voltages are absolute
// limits (USB PD R3.2 V1.1, tables 6.11 and 6.12).
func RangeWindow(minimum, maximum Millivolts) Window {
	return Window{minimum.Volts(), maximum.Volts()}
}

// PeakWindow is the window of a fixed contract during an allowed overload, 90 to 105 % of
// nominal (USB PD R3.2 V1.1, table 7.23, vSrcPeak).
func PeakWindow(nominal Millivolts) Window { return scaled(VSrcPeak, nominal) }

// SafeWindow0V is what counts as VBUS off (USB PD R3.2 V1.1, table 7.25, vSafe0V).
func SafeWindow0V() Window { return absolute(VSafe0V) }

// SafeWindow5V is VBUS without a contract (USB PD R3.2 V1.1, table 7.25, vSafe5V).
func SafeWindow5V() Window { return absolute(VSafe5V) }

const nominal5V Millivolts = 5000

// SinkDisconnectPD is the range in which the threshold of a sink's detach detection lies
// during a fixed contract above 5 V: 80 to 90 % (from memory) of vSinkPD_min, the lowest
// valid source voltage less 750 mV (USB Type-C R2.1, table 4-3). At or below 5 V the range
// is [VSinkDisconnect].
func SinkDisconnectPD(nominal Millivolts) Window {
	if nominal <= nominal5V {
		return absolute(VSinkDisconnect)
	}
	_, valid := FixedWindow(nominal)
	return disconnectBelow(valid)
}

// SinkDisconnectPPS is the range for a PPS contract, as SinkDisconnectPD gives it for a
// fixed one.
func SinkDisconnectPPS(voltage Millivolts) Window {
	_, valid := PPSWindow(voltage)
	return disconnectBelow(valid)
}

func disconnectBelow(source Window) Window {
	allowance := VSinkPDAllowance.Limits(Revision32).NomSI()
	share := VSinkDisconnectPD.Limits(Revision32)
	minimum := source.Min - allowance
	return rounded(share.Min.Value*minimum, share.Max.Value*minimum)
}

// absolute is the window that the parameter states in V.
func absolute(p Parameter) Window {
	l := p.Limits(Revision32)
	return Window{l.MinSI(), l.MaxSI()}
}

// scaled is the window that the parameter states as shares of a nominal voltage.
func scaled(p Parameter, nominal Millivolts) Window {
	l := p.Limits(Revision32)
	return rounded(l.Min.Value*nominal.Volts(), l.Max.Value*nominal.Volts())
}

// widened moves the ends of w by the parameter's minimum (negative) and maximum.
func widened(w Window, p Parameter) Window {
	l := p.Limits(Revision32)
	return rounded(w.Min+l.MinSI(), w.Max+l.MaxSI())
}

// rounded drops what binary fractions add below a microvolt, so that limits print as the
// standard does.
func rounded(minimum, maximum float64) Window {
	const perMicrovolt = 1e6
	round := func(v float64) float64 { return math.Round(v*perMicrovolt) / perMicrovolt }
	return Window{round(minimum), round(maximum)}
}
