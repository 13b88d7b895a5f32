package signs

import (
	"fmt"

	"portside/decode/draw"
)

// twitchTimes is more often than a plug is put in by hand into a dead source: common practice.
const twitchTimes = 3

// twitches says that a source tries into a short before the meter, empty where it is not seen to.
func twitches(d *draw.Result) string {
	if t := d.Twitches; t.Count >= twitchTimes && d.Sampling.MaxV < draw.FiveFrom {
		return fmt.Sprintf("%d times, first at %.2f s, VBUS comes to %.2g V at the most and goes at once, and no current goes through the meter, as it would into a short behind it", t.Count, t.FirstS, t.MostV)
	}
	return ""
}
