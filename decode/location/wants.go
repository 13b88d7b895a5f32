package location

import "portside/decode/rules"

// Whether a machine that does not come up asked for more than the source offers.
const (
	content = "content"
	wants   = "wants-more"
)

// wantsTopic: a machine without a battery starts from what it gets, and collapses where that
// is too little for it.
func wantsTopic() topic {
	return topic{name: "capability mismatch", cap: weakCap, rows: []row{
		{content, "the machine gets what it asks for", 90, like{source: 70, cable: 82, mains: 88, healthyPart: 85}, "most chargers fit", practice},
		{wants, "it asks for more than there is", 10, like{source: 30, cable: 18, mains: 12, healthyPart: 15}, "a charger too small, one that keeps back part of its power, or a cable that allows no more", "USB PD R3.2 V1.1 section 6.4.2.3 (Capability Mismatch); " + practice},
	}}
}

// wantsMore reports Capability Mismatch in a draw that begins and ends again: where one
// works, or never begins, it says nothing.
func (p picture) wantsMore(pattern seen) (seen, string) {
	tries := pattern[drawOnOff] + pattern[drawSlow] + pattern[drawStairsFall] + pattern[drawDrops] + pattern[drawStarved]
	if tries == 0 || !p.agreed() {
		return nil, ""
	}
	if p.is("capability-mismatch", rules.Warning) {
		return exactly(wants), p.text("capability-mismatch")
	}
	return exactly(content), "the machine asks for no more than the charger offers"
}
