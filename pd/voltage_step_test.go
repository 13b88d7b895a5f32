package pd_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"portside/pd"
)

// USB PD R3.2 V1.1, tables 10.2 and 10.12.
func TestVoltageSteps(t *testing.T) {
	assert.Equal(t, []pd.VoltageStep{{5000, 0}, {9000, 15_000}, {15_000, 27_000}, {20_000, 45_000}}, pd.SPRVoltageSteps())
	assert.Equal(t, []pd.VoltageStep{{28_000, 100_000}, {36_000, 140_000}, {48_000, 180_000}}, pd.EPRVoltageSteps())
	assert.Equal(t, pd.Milliwatts(100_000), pd.PDPLimitSPR)
	assert.Equal(t, pd.Milliwatts(240_000), pd.PDPLimitEPR)
	pd.SPRVoltageSteps()[0].Voltage = 1
	assert.Equal(t, pd.Millivolts(5000), pd.SPRVoltageSteps()[0].Voltage, "a copy")
}
