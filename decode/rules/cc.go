package rules

import (
	"fmt"

	"portside/decode/draw"
)

const (
	ccShare   = 0.8 // of the samples; messages move the pins for a thousandth of the time
	ccSamples = 10  // fewer say nothing: common practice
	ccHeldS   = 1.0 // what stands so long is no plug on its way in: common practice

	ccHeldShare = 0.6 // a sound Rd leaves half of 5.1 kohm at the least: common practice
)

// CCWaitsS is how long, in seconds, a sound attach without VBUS stands to say something: longer
// than a source may take to turn VBUS on, and than a Hard Reset. Common practice.
const CCWaitsS = minSilentS

// mostly is how often a state of the CC pins was seen, where it was most of the
// time.
func mostly(n draw.CCStates, seen int) (share float64, ok bool) {
	if n.N < ccSamples {
		return 0, false
	}
	share = float64(seen) / float64(n.N)
	return share, share >= ccShare
}

// ccFinding is a state of the CC pins that stood over the whole log.
func ccFinding(f *Facts, r Rule, severity Severity, n draw.CCStates, seen int, words string) []Finding {
	share, ok := mostly(n, seen)
	if !ok {
		return nil
	}
	s := f.Draw.Sampling
	text := fmt.Sprintf("%s in %.0f %% of %d samples", words, 100*share, n.N)
	return []Finding{r.finding(severity, s.StartS, s.EndS, text, values{"share": share, "count": n.N})}
}

func findCCStuckHigh(f *Facts, r Rule) []Finding {
	return eitherPath(f, r, columnsCCStuckHigh, lineStuckHigh)
}

func columnsCCStuckHigh(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	on := f.Draw.CC.On
	return ccFinding(f, r, Fault, on, on.High, "with VBUS there a CC pin stands above all that Rd leaves")
}

func findCCStuckLow(f *Facts, r Rule) []Finding {
	return eitherPath(f, r, columnsCCStuckLow, lineStuckLow)
}

func columnsCCStuckLow(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	if held := heldPin(&f.Draw.CC); held.Seconds >= ccHeldS {
		text := fmt.Sprintf("without VBUS a CC pin is held at %s for %s: something beside Rd pulls it down", volts(held.Volts), seconds(held.Seconds))
		return []Finding{r.finding(Fault, held.FirstS, held.LastS, text, values{"voltage_v": held.Volts, "seconds_s": held.Seconds})}
	}
	on := f.Draw.CC.On
	return ccFinding(f, r, Warning, on, on.Low, "with VBUS there both CC pins stand at 0 V")
}

// heldPin is the time in which a pin was held low: below what Rd leaves of any pull-up, or far
// below what it leaves of this source's once VBUS is there.
func heldPin(c *draw.CC) draw.CCStood {
	if c.Held.Seconds < ccHeldS && c.Feeds.Seconds >= ccHeldS && c.Waits.Seconds >= CCWaitsS && c.Waits.Volts <= ccHeldShare*c.Feeds.Volts {
		return c.Waits
	}
	return c.Held
}

func findRdMissing(f *Facts, r Rule) []Finding {
	return eitherPath(f, r, columnsRdMissing, lineRdMissing)
}

// columnsRdMissing looks at a log whose VBUS never came: a source waits for Rd.
func columnsRdMissing(f *Facts, r Rule) []Finding {
	if f.Draw == nil || f.Draw.CC.On.N > 0 {
		return nil
	}
	off := f.Draw.CC.Off
	return ccFinding(f, r, Fault, off, off.High, "VBUS stays off and a CC pin stands above all that Rd leaves")
}

func findRdOnBoth(f *Facts, r Rule) []Finding { return eitherPath(f, r, columnsRdOnBoth, lineRdOnBoth) }

func columnsRdOnBoth(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	if joined := f.Draw.CC.Joined; joined.Seconds >= CCWaitsS {
		text := fmt.Sprintf("without VBUS both CC pins stand at %s for %s: they are joined, and the source sees no single Rd", volts(joined.Volts), seconds(joined.Seconds))
		return []Finding{r.finding(Fault, joined.FirstS, joined.LastS, text, values{"voltage_v": joined.Volts, "seconds_s": joined.Seconds})}
	}
	on := f.Draw.CC.On
	return ccFinding(f, r, Warning, on, on.Both, "both CC pins carry Rd's voltage")
}

func findRpWrong(f *Facts, r Rule) []Finding { return eitherPath(f, r, columnsRpWrong, lineRpWrong) }

func columnsRpWrong(f *Facts, r Rule) []Finding {
	if f.Draw == nil {
		return nil
	}
	on := f.Draw.CC.On
	return ccFinding(f, r, Warning, on, on.Between, "the CC pin stands between the levels that a source may advertise")
}
