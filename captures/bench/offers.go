package bench

import (
	"math"

	"portside/pd"
)

// offerObjects are the source's capabilities: fixed supplies, 5 V first. The
// flags of the first object are those of a plain mains charger.
func offerObjects(offers []Offer) []uint32 {
	objects := make([]uint32, len(offers))
	for i, o := range offers {
		objects[i] = uint32(pd.FixedSupply{
			UnconstrainedPower: i == 0,
			Voltage:            pd.Millivolts(milli(o.Volts)),
			MaxCurrent:         pd.Milliamps(milli(o.Amps)),
		}.Encode())
	}
	return objects
}

// offersOf reads the fixed supplies of an offer; another kind of object keeps
// its place as a supply of nothing.
func offersOf(m pd.Message) []Offer {
	offers := make([]Offer, m.NumObjects())
	for i, object := range m.Objects() {
		if f, ok := pd.PDO(object).Fixed(); ok {
			offers[i] = Offer{f.Voltage.Volts(), f.MaxCurrent.Amps()}
		}
	}
	return offers
}

func requestObject(position int, o Offer, mismatch bool) uint32 {
	amps := pd.Milliamps(milli(o.Amps))
	return uint32(pd.FixedRequest{
		RequestFlags:     pd.RequestFlags{Position: position, CapabilityMismatch: mismatch, NoUSBSuspend: true},
		OperatingCurrent: amps, MaxCurrent: amps,
	}.Encode())
}

func milli(x float64) int { return int(math.Round(1000 * x)) }
