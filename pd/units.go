package pd

// Quantities on the wire are whole numbers of these units.
type (
	// Millivolts is a voltage in mV.
	Millivolts int
	// Milliamps is a current in mA.
	Milliamps int
	// Milliwatts is a power in mW.
	Milliwatts int
	// Watts is a power rating in W, as PDP fields carry it.
	Watts int
)

const milliwattsPerWatt = 1000

// Volts is the voltage in V.
func (v Millivolts) Volts() float64 { return float64(v) / 1000 }

// Amps is the current in A.
func (i Milliamps) Amps() float64 { return float64(i) / 1000 }

// Watts is the power in W.
func (p Milliwatts) Watts() float64 { return float64(p) / 1000 }

// Units of the fields of supply and request objects (USB PD R3.2 V1.1, tables 6.9 to
// 6.26).
const (
	unitVoltage    Millivolts = 50  // fixed, variable and battery voltages
	unitCurrent    Milliamps  = 10  // fixed, variable, SPR AVS and their requests
	unitPower      Milliwatts = 250 // battery
	unitRange      Millivolts = 100 // PPS and EPR AVS voltage ranges
	unitPPSCurrent Milliamps  = 50  // PPS offers, PPS and AVS requests
	unitPPSRequest Millivolts = 20  // PPS output voltage asked for
	unitAVSRequest Millivolts = 25  // AVS output voltage asked for; two low bits are 0
)
