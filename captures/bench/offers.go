package bench

import (
	"math"

	"portside/pd"
)

// offerObjects are the source's capabilities: fixed supplies, 5 V first. The
// flags of the first object are those of a plain mains charger.
func offerObjects(p *Parameters) []uint32 { return offerObjectsOf(p, p.Offers) }

func offerObjectsOf(p *Parameters, offers []Offer) []uint32 {
	objects := make([]uint32, len(offers))
	for i, o := range offers {
		objects[i] = uint32(pd.FixedSupply{
			UnconstrainedPower: i == 0, EPRCapable: i == 0 && p.EPR, Unchunked: i == 0 && p.EPR,
			Voltage:    pd.Millivolts(milli(o.Volts)),
			MaxCurrent: pd.Milliamps(milli(o.Amps)),
		}.Encode())
	}
	if p.PPSMaxV > 0 {
		objects = append(objects, uint32(pd.PPSSupply{
			MinVoltage: ppsFromMV, MaxVoltage: pd.Millivolts(milli(p.PPSMaxV)), MaxCurrent: pd.Milliamps(milli(offers[len(offers)-1].Amps)),
		}.Encode()))
	}
	return objects
}

// ppsFromMV is where a programmable supply begins: USB PD R3.0 V1.1 table 10-11.
const ppsFromMV = 3300

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

func requestObject(position int, o Offer, mismatch, epr bool) uint32 {
	amps := pd.Milliamps(milli(o.Amps))
	return uint32(pd.FixedRequest{
		RequestFlags:     pd.RequestFlags{Position: position, CapabilityMismatch: mismatch, NoUSBSuspend: true, EPRCapable: epr, Unchunked: epr},
		OperatingCurrent: amps, MaxCurrent: amps,
	}.Encode())
}

func milli(x float64) int { return int(math.Round(1000 * x)) }
