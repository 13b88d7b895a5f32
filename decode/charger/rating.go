package charger

import (
	"math"

	"portside/pd"
)

// rating is what the source said of its power and its revision.
type rating struct {
	label      pd.Milliwatts // printed on the charger; 0 unknown
	maximum    pd.Milliwatts // stated in a message; 0 unknown
	guaranteed bool          // Source_Info: it always offers all of it
	avs        pd.Milliwatts // the rating in the EPR adjustable object
	header     pd.Revision   // the highest in its capabilities
	stated     pd.Revision   // by a Revision message
	latest     bool          // R3.2 V1.1 or later, by that message
	hasSPRAVS  bool          // an object that only R3.2 has
	implied    pd.Milliwatts // by the last SPR offer
}

// seeRating reads what the source says of itself.
func seeRating(c *Checker, e *event) {
	if e.from != pd.Source || !e.whole {
		return
	}
	r, p := &c.rating, e.msg
	switch p.Type() {
	case pd.SourceCapabilities:
		if rev := p.Header.Revision(); rev != pd.RevisionReserved && rev > r.header {
			r.header = rev
			clear(c.limits)
		}
	case pd.SourceInfo:
		f := pd.SIDO(p.Object(0)).Fields()
		r.state(f.MaximumPDP)
		r.guaranteed = f.Guaranteed
	case pd.RevisionMessage:
		o := pd.RMDO(p.Object(0))
		r.stated = o.Revision()
		r.latest = r.stated == pd.Revision32 && o.Fields().VersionMajor*10+o.Fields().VersionMinor >= 11
		clear(c.limits)
	case pd.SourceCapabilitiesExtended:
		if s, ok := pd.ParseSCEDB(p.Block()); ok {
			r.state(max(s.SPRPDP, s.EPRPDP))
		}
	}
}

// halfWatts reports a rating that may be half a watt above the whole watts of a
// field (USB PD R3.2 V1.1, section 10.1).
const halfWattsBelow pd.Milliwatts = 10_000

func (r *rating) state(w pd.Watts) {
	const perWatt, half = 1000, 500
	mw := pd.Milliwatts(w) * perWatt
	if mw > 0 && mw < halfWattsBelow {
		mw += half
	}
	r.maximum = max(r.maximum, mw)
}

// revisions are those the source may be built to.
func (r *rating) revisions() []pd.Revision {
	switch {
	case r.stated != 0:
		return []pd.Revision{r.stated}
	case r.header == pd.Revision20:
		return []pd.Revision{pd.Revision20}
	case r.hasSPRAVS:
		return []pd.Revision{pd.Revision32}
	default:
		return []pd.Revision{pd.Revision20, pd.Revision30, pd.Revision32}
	}
}

// is32 reports a source known to be built to R3.2, whose duties are asked of no
// other.
func (r *rating) is32() bool { return r.stated == pd.Revision32 || r.stated == 0 && r.hasSPRAVS }

// reads is the revision by which the source reads a Request.
func (r *rating) reads(header pd.Revision) pd.Revision {
	if header.Is3() && r.stated != 0 {
		return r.stated
	}
	return header
}

// pdp is the maximum rating stated in the messages, else the one the offer implies;
// 0 for neither.
func (r *rating) pdp() pd.Milliwatts {
	switch {
	case r.maximum > 0:
		return r.maximum
	case r.avs > 0:
		return r.avs
	default:
		return r.implied
	}
}

// ceiling is the rating the offer is judged by; ok is false where none is stated.
func (r *rating) ceiling() (mw pd.Milliwatts, ok bool) {
	switch {
	case r.maximum > 0:
		return r.maximum, true
	case r.label > 0:
		return r.label, true
	default:
		return 0, false
	}
}

// ratings walks the ratings a source may have, from the highest down: whole watts
// from 10 W up and half watts below (USB PD R3.2 V1.1, section 10.1). What earlier
// revisions asked is not known here, and half watts are granted them throughout.
func (r *rating) ratings(highest pd.Milliwatts, visit func(pd.Milliwatts)) {
	const whole, half pd.Milliwatts = 1000, 500
	for p := highest; p > 0; {
		visit(p)
		if p > halfWattsBelow && r.is32() {
			p = (p - 1) / whole * whole
		} else {
			p = (p - 1) / half * half
		}
	}
}

func watts(mw pd.Milliwatts) float64 { return math.Round(mw.Watts()*2) / 2 }
