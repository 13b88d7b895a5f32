package signs

import (
	"portside/decode/rules"
)

// Whether a machine that does not come up asked for more than the source offers.
const (
	Content = "content"
	Wants   = "wants-more"
)

// WantsMore reports Capability Mismatch in a draw that begins and ends again: where one
// works, or never begins, it says nothing.
func (p Picture) WantsMore(pattern Seen) (Seen, string) {
	tries := pattern[DrawOnOff] + pattern[DrawSlow] + pattern[DrawStairsFall] + pattern[DrawDrops] + pattern[DrawStarved]
	if tries == 0 || !p.Agreed() {
		return nil, ""
	}
	if p.Is("capability-mismatch", rules.Warning) {
		return Exactly(Wants), p.Text("capability-mismatch")
	}
	return Exactly(Content), "the machine asks for no more than the charger offers"
}
