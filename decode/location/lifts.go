package location

import "fmt"

// Whether CC rises with the draw.
const (
	liftNot = "no"
	liftCC  = "rises"
)

// liftTopic: CC is measured against the ground that the draw flows back through. A sound
// cable's takes 0.25 V at 3 A.
func liftTopic(meterAt string) topic {
	t := topic{name: "cc against the draw", cap: physicsCap, rows: []row{
		{liftNot, "no", 99.5, like{powContact: 97}, "no more than a sound ground", "USB Type-C R2.0 section 4.4.1"},
		{liftCC, "rises with it", 0.02, like{powContact: 2.5, cable: 0.1, ccContact: 0.2, healthyPart: 0.02}, "the return contact behind the meter lifts the device's ground, and CC with it", "USB Type-C R2.0 section 4.4.1; " + practice},
	}}
	if meterAt != "device" {
		t.rows[t.index(liftCC)].by[cable] = 1
	}
	return t
}

// More than twice what a sound ground takes (0.083 ohm), for certain. Common practice.
const (
	liftOhm    = 0.17
	liftSigmas = 6.0
)

// lifted tells CC that rises with the draw.
func (p picture) lifted() (seen, string) {
	d := p.meter()
	if d == nil {
		return nil, ""
	}
	for i := range d.CC.Lifts {
		if ohm, u, ok := d.CC.Lifts[i].Slope(); ok && ohm-liftSigmas*u >= liftOhm {
			return exactly(liftCC), fmt.Sprintf("CC%d rises by %.0f mV with each ampere, as the ground behind the meter does", i+1, 1000*ohm)
		}
	}
	return nil, ""
}
