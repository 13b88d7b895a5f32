package charger_test

import (
	"math"

	"portside/pd"
)

// Offers by the power rules as a table of the standard's rows, in watts and volts
// (USB PD R3.2 V1.1, tables 10.2, 10.3, 10.10 to 10.13).

// milli10 is a current in steps of 10 mA, rounded either way as the rules allow.
func (r *rig) milli10(amps float64) pd.Milliamps {
	steps := amps * 100
	down, up := math.Floor(steps+1e-9), math.Ceil(steps-1e-9)
	if r.draw("rounding", 0, 1) < 0.5 {
		return pd.Milliamps(down) * 10
	}
	return pd.Milliamps(up) * 10
}

// lower is the current of a voltage that is not the highest: 3 A, or up to x/V.
func (r *rig) lower(watts, v float64) pd.Milliamps {
	if watts/v <= 3 {
		return r.milli10(watts / v)
	}
	most := math.Min(math.Ceil(watts/v*100-1e-9)/100, 5)
	return pd.Milliamps(math.Round(r.draw("lower current", 3, most)*100)) * 10
}

// rows are the steps of table 10.2: above this rating a voltage is offered.
var rows = []struct {
	v     pd.Millivolts
	above float64
}{{5000, 0}, {9000, 15}, {15_000, 27}, {20_000, 45}}

// offerOf is the SPR offer of a rating; present is what a constrained source has.
func (r *rig) offerOf(maximum, present float64, revision32, withPPS bool) (list []uint32) {
	maximum, present = math.Min(maximum, 100), math.Min(present, 100)
	highest := pd.Millivolts(5000)
	for _, row := range rows {
		if maximum > row.above {
			highest = row.v
		}
	}
	at := map[pd.Millivolts]pd.Milliamps{}
	for _, row := range rows {
		v := row.v.Volts()
		if row.v > highest || present <= 15 && maximum > 15 && row.v > 5000 && r.draw("leaves out", 0, 1) < 0.5 {
			break
		}
		i := r.lower(present, v)
		if row.v == highest {
			i = r.milli10(math.Min(present/v, 5))
		}
		at[row.v] = i
		list = append(list, fixed(row.v, i))
		if row.v == 9000 && !revision32 && r.draw("12 V", 0, 1) < 0.3 { // optional, common practice
			list = append(list, fixed(12_000, pd.Milliamps(math.Floor(math.Min(present/12, 3)*100))*10))
		}
	}
	if revision32 && maximum > 27 && at[15_000] > 0 {
		list = append(list, uint32(pd.SPRAVSSupply{MaxCurrent15V: at[15_000], MaxCurrent20V: at[20_000]}.Encode()))
	}
	if withPPS {
		list = append(list, r.ppsOf(present, revision32)...)
	}
	return list
}

// ppsOf are the ranges of table 10.11.
func (r *rig) ppsOf(watts float64, revision32 bool) (list []uint32) {
	low := pd.Millivolts(5000)
	if !revision32 {
		low = []pd.Millivolts{3000, 3300, 5000}[int(r.draw("pps minimum", 0, 2.99))]
	}
	down50 := func(amps float64) pd.Milliamps { return pd.Milliamps(math.Floor(amps*20+1e-9)) * 50 }
	add := func(high pd.Millivolts, v float64, exactly bool) {
		most := math.Min(watts/v, 5)
		i := down50(most)
		if !exactly {
			i = down50(r.draw("pps current", 3, float64(down50(most))/1000))
		}
		list = append(list, pps(low, high, i))
	}
	switch {
	case watts <= 15:
	case watts <= 27:
		add(11_000, 9, true)
	case watts < 45:
		add(11_000, 9, false)
		add(16_000, 15, true)
	case watts == 45:
		add(16_000, 15, true)
	case watts < 60:
		add(16_000, 15, false)
		add(21_000, 20, true)
	default:
		add(21_000, 20, true)
	}
	return list
}

// extendedOf are the objects from position 8 on.
func (r *rig) extendedOf(maximum, present float64) (list []uint32) {
	high := pd.Millivolts(28_000)
	for _, row := range []struct {
		v     pd.Millivolts
		above float64
	}{{28_000, 100}, {36_000, 140}, {48_000, 180}} {
		if maximum > row.above {
			high = row.v
			list = append(list, fixed(row.v, r.milli10(math.Min(present/row.v.Volts(), 5))))
		}
	}
	return append(list, uint32(pd.EPRAVSSupply{MinVoltage: 15_000, MaxVoltage: high, PDP: pd.Watts(present)}.Encode()))
}
