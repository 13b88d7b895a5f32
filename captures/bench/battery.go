package bench

import "math"

// Shape of a lithium cell's open-circuit voltage, in volts over the share of
// its charge. Below empty it falls away within very little charge. Rounded;
// common practice.
var cellShape = [...]struct{ share, volts float64 }{
	{-0.02, 2.0}, {0, 3.0}, {0.02, 3.35}, {0.1, 3.55}, {0.5, 3.75}, {0.8, 3.97}, {1, 4.2},
}

const (
	prechargeV = 3.0 // volts a cell below which only precharge flows, common practice (2.8 to 3.0)
	chargeV    = 4.2 // volts a cell that charging never passes
)

// openCircuit is the pack's voltage without current.
func (c *circuit) openCircuit(y *state) float64 {
	share := c.p.BatteryStart
	if !c.p.BatteryStays {
		share += y[batteryStor] / (c.p.BatteryAH * 3600)
	}
	return c.p.BatteryCells * cellVolts(share)
}

func cellVolts(share float64) float64 {
	last := len(cellShape) - 1
	for i := 1; i <= last; i++ {
		if a, b := cellShape[i-1], cellShape[i]; share < b.share || i == last {
			return a.volts + (b.volts-a.volts)*(share-a.share)/(b.share-a.share)
		}
	}
	return math.NaN() // cellShape has two points or more
}

// batteryCurrent is positive while charging. Charging gives way when the rail
// droops; a rail below the battery is fed by it.
func (c *circuit) batteryCurrent(t float64, y *state) float64 {
	if !c.p.BatteryConnected {
		return 0
	}
	open := c.openCircuit(y)
	if rail := y[nodeRail]; rail < open {
		return (rail - open) / (c.p.BatteryOhm + batteryFET)
	}
	reference := max(c.p.RailMinimumV, open+chargeHeadroom)
	spare := min(1, max(0, (y[nodeRail]-reference+chargeBand)/chargeBand))
	return c.chargeCurrent(t, open) * spare
}

// chargeCurrent is precharge, then constant current, then constant voltage,
// and nothing once the pack is full.
func (c *circuit) chargeCurrent(t, open float64) float64 {
	asked := c.charge.value(t)
	if asked <= 0 {
		return 0
	}
	if open < prechargeV*c.p.BatteryCells {
		return min(asked, c.p.PrechargeA)
	}
	taper := (chargeV*c.p.BatteryCells - open) / c.p.BatteryOhm
	amps := max(0, min(asked, taper))
	if amps < c.p.ChargeEndA && taper < asked {
		return 0
	}
	return amps
}
