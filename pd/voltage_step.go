package pd

// VoltageStep is a standard fixed voltage and the maximum PDP above which a source
// offers it.
type VoltageStep struct {
	Voltage Millivolts // nominal
	Above   Milliwatts // sources of a higher maximum PDP offer it
}

// SPRVoltageSteps are 5, 9, 15 and 20 V (USB PD R3.2 V1.1, table 10.2), rising.
func SPRVoltageSteps() []VoltageStep { return stepsOf(sprVoltages[:]) }

// EPRVoltageSteps are 28, 36 and 48 V (USB PD R3.2 V1.1, table 10.12), rising.
func EPRVoltageSteps() []VoltageStep { return stepsOf(eprVoltages[:]) }

func stepsOf(list []voltageAbove) []VoltageStep {
	out := make([]VoltageStep, len(list))
	for i, v := range list {
		out[i] = VoltageStep{Voltage: v.voltage, Above: v.above}
	}
	return out
}

// PDPLimitSPR and PDPLimitEPR are the highest ratings of an SPR and of an EPR source
// (USB PD R3.2 V1.1, tables 10.2 and 10.12).
const (
	PDPLimitSPR = sprPDPLimit // 100 W, in mW
	PDPLimitEPR = eprPDPLimit // 240 W, in mW
)
