package location

import (
	"portside/decode/rules"
)

// What a machine at rest has in common with faults that no node shows: only a
// further recording tells them apart. A sound machine steps up by several watts once
// it is switched on; an empty battery leaves its precharge within half an hour
// (charger data sheet SLUSDJ8A: 30 min). Common practice.
const (
	startsWhen = "whether it starts: a machine at rest draws and reads like one that does not start; record once more and press the power button: a sound one steps up by several watts and stays"
	chargesHow = "whether the battery takes charge: it draws like an empty one that is being woken; record half an hour, in which a sound one steps up, or once more with the battery disconnected"
)

// atRest names what another recording would have to show, where a sound machine is
// open beside a fault that shows on no node.
func (c *opinion) atRest() []string {
	out := []string{}
	if c.byLocation(c.p)[rules.Healthy] < openFrom {
		return out
	}
	if c.probability(sequence) >= openFrom {
		out = append(out, startsWhen)
	}
	if c.probability(battery) >= openFrom {
		out = append(out, chargesHow)
	}
	return out
}
