package signs

import (
	"portside/decode/draw"
)

// amps is a plateau's draw, 0 where it was not recorded.
func amps(q draw.Plateau) float64 {
	if q.CurrentA == nil {
		return 0
	}
	return *q.CurrentA
}

// volts is its VBUS, 0 where it was not recorded.
func volts(q draw.Plateau) float64 {
	if q.VoltageV == nil {
		return 0
	}
	return *q.VoltageV
}
