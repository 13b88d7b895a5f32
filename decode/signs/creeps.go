package signs

import (
	"fmt"

	"portside/decode/draw"
	"portside/pd"
)

// VBUS that takes too long to a contract: common practice unless said.
const (
	creepEveryS = 0.1  // rows further apart do not show a rise
	creepGrows  = 1.01 // from plateau to plateau
	creepGone   = 0.7  // of its highest: it has gone away again
	creepStands = 0.1  // s that the highest may last: it does not stand there
)

// creepsUp tells VBUS that rises from 5 V for longer than a source may take, with next to
// nothing drawn, and goes away before it stands: the source cannot bring it up.
func creepsUp(d *draw.Result) string {
	if d.Sampling.IntervalS > creepEveryS || d.Sampling.WithCurrent == 0 {
		return ""
	}
	longest, five := pd.TSrcTransReqSPR.Limits(pd.Revision32).MaxSI(), pd.VSafe5V.Limits(pd.Revision32).Max.Value
	count, firstS, firstV, tookS := 0, 0.0, 0.0, 0.0
	var from, top draw.Plateau // where 5 V end, and the highest since
	rising := false
	for _, q := range d.Plateaus {
		v := volts(q)
		switch {
		case v == 0 && q.VoltageV == nil:
		case v >= draw.FiveFrom && v <= five && amps(q) <= quietA && (!rising || volts(top) <= five):
			from, top, rising = q, q, true
		case rising && v >= creepGrows*volts(top) && amps(q) <= quietA:
			top = q
		case rising && v <= creepGone*volts(top) && top.EndS-top.StartS <= creepStands:
			if s := top.EndS - from.EndS; volts(top) >= contractV && s > longest {
				if count++; count == 1 {
					firstS, firstV, tookS = from.EndS, volts(top), s
				}
			}
			rising = false
		case rising && v > creepGone*volts(top) && v < volts(top) && top.EndS-top.StartS <= creepStands: // on its way down
		default:
			rising = false
		}
	}
	if count < glimpses {
		return ""
	}
	return fmt.Sprintf("%d times, first at %.2f s, VBUS takes %.2f s up to %.3g V while next to nothing flows, longer than a source may, and goes away again", count, firstS, tookS, firstV)
}
