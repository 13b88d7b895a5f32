package line

import (
	"math"

	"portside/captures/line"
	"portside/pd"
)

func limits() Limits {
	si := func(p pd.Parameter) pd.Limits { return p.Limits(pd.Revision32) }
	const micro = 1e6
	rate, swing := si(pd.FBitRate), si(pd.VSwing)
	return Limits{
		BitRateHz:    [2]float64{rate.MinSI(), rate.MaxSI()},
		DriftPercent: si(pd.PBitRate).Max.Value,
		EdgeUS:       si(pd.REdgeBMC).Max.Value * micro / rate.NomSI(),
		PreambleBits: pd.PreambleBits,
		GapUS:        si(pd.TInterFrameGap).MinSI() * micro,
		GoodCRCUS:    si(pd.TTransmit).MaxSI() * micro,
		SwingV:       [2]float64{swing.MinSI(), swing.MaxSI()},
		Retries:      int(si(pd.NRetryCount).Nom.Value),
	}
}

// Result says how healthy the line is. It may be called at any time.
func (d *Decoder) Result() *Result {
	h := d.health
	r := &Result{
		Frames: h.frames, Limits: limits(), Speakers: []Speaker{}, Lines: []Line{},
		BitRateHz: h.all.rate.meanOrNil(), DriftPercent: h.all.drift.maxOrNil(), JitterUS: h.all.jitter.meanOrNil(),
		DriftUncertaintyPercent: h.all.driftU.meanOrNil(),
		DutyPercent:             h.all.duty.meanOrNil(), GapUS: h.gap.minOrNil(),
		Levels:     Levels{HighV: h.all.high.meanOrNil(), LowV: h.all.low.meanOrNil()},
		HardResets: h.hardResets, CableResets: h.cableResets, CutShort: h.cutShort,
		GarbledAcks: h.garbledAcks, OffersInVain: h.inVain,
	}
	if h.all.preamble.n > 0 {
		fewest := int(h.all.preamble.min)
		r.PreambleBits = &fewest
	}
	errors := h.brokenBy
	for _, b := range h.broken {
		errors[h.sender(b)]++
	}
	for w, n := range errors {
		r.Broken += n
		if s := &h.speakers[w]; who(w) != unknownPort && (s.frames > 0 || n > 0) {
			r.Speakers = append(r.Speakers, s.result(who(w), n))
		}
	}
	r.CRCErrorsUnknown = errors[unknownPort]
	r.CRCErrors = ByPort{Source: errors[source], Sink: errors[sink]}
	r.Unacknowledged = ByPort{Source: h.speakers[source].unanswered, Sink: h.speakers[sink].unanswered}
	if errors[unknownPort] == 0 { // else it may have been the other one
		r.SilentPort = silentPort(h.speakers[source].frames+errors[source], h.speakers[sink].frames+errors[sink])
	}
	for i, c := range d.channels {
		if c == nil {
			continue
		}
		r.Carriers += c.receiver.carriers
		if us, ok := c.grid.steps(); ok && (r.GridUS == nil || us > *r.GridUS) {
			jitter := gridJitterUS(us)
			r.GridUS, r.GridJitterUS = &us, &jitter
		}
		r.Lines = append(r.Lines, c.result(d.signals[i], d.now))
	}
	r.rest(h.firstRest)
	return r
}

func silentPort(bySource, bySink int) *string {
	name := ""
	switch {
	case bySource > 0 && bySink == 0:
		name = whoNames[sink]
	case bySink > 0 && bySource == 0:
		name = whoNames[source]
	default:
		return nil
	}
	return &name
}

func (s *speaker) result(w who, errors int) Speaker {
	out := Speaker{
		Who: whoNames[w], Frames: s.frames, BitRateHz: s.rate.given(),
		DriftPercent: s.drift.maxOrNil(), JitterUS: s.jitter.meanOrNil(), DutyPercent: s.duty.meanOrNil(),
		PreambleBits: int(s.preamble.min), HighV: s.high.meanOrNil(), LowV: s.low.meanOrNil(),
		Retries: s.retries, MostRetries: s.mostRetries, CRCErrors: errors, Unacknowledged: s.unanswered,
	}
	if s.high.n > 0 && s.low.n > 0 {
		swing := s.high.mean - s.low.mean
		out.SwingV = &swing
	}
	if s.ack.n > 0 {
		acks := s.ack.given()
		out.GoodCRCUS = &acks
	}
	return out
}

// result says what was seen of one line.
func (c *channel) result(signal line.Signal, now int64) Line {
	l := Line{Name: signal.Name, Frames: c.good, Edges: c.receiver.count, Rests: []Rest{}}
	if !c.seen || now <= c.first {
		return l
	}
	l.StartS = float64(c.first) / 1e9
	l.SeenS = float64(now-c.first) / 1e9
	still := l.Edges == 0 && l.SeenS >= stuckS
	if !c.comparator.used {
		high := c.highNs
		if c.level == line.High {
			high += now - c.since
		}
		share := float64(high) / float64(now-c.first)
		l.HighShare = &share
		if still {
			l.stick(share > 0.5)
		}
		return l
	}
	rest := &c.comparator.rest
	l.Rests = rest.levels()
	most, ok := rest.median()
	if !ok {
		return l
	}
	l.RestV = &most
	l.Rd = pulledDown(most)
	if still && rest.only(most) {
		switch {
		case pd.CCMeaning(most) == pd.CCOpen:
			l.stick(false)
		case most > sinkMost():
			l.stick(true)
		}
	}
	return l
}

func (l *Line) stick(high bool) {
	at := "low"
	if high {
		at = "high"
	}
	l.Stuck = &at
}

// stuckS is how long a line must not have moved to be called stuck: a source
// repeats its offer at least every 200 ms, and gives up on a silent partner
// after a few of them (tTypeCSendSourceCap, USB PD R3.2 V1.1, table 6.68).
const stuckS = 0.5

// sinkMost is the highest level that a line with Rd can rest at.
func sinkMost() float64 { return pd.VCCDefaultOnlySink.Limits(pd.Revision32).MaxSI() }

// pulledDown tells from a resting level whether Rd is on the line: Rp with it
// gives a level between those of no Rp and of no Rd.
func pulledDown(volts float64) *bool {
	var is bool
	switch {
	case volts > sinkMost():
	case volts >= pd.VCCDefaultOnlySink.Limits(pd.Revision32).MinSI():
		is = true
	default:
		return nil // no source, or Ra: nothing is known of Rd
	}
	return &is
}

// rest tells Rp and Rd from the levels at rest.
func (r *Result) rest(first float64) {
	var active *Line
	for i := range r.Lines {
		if l := &r.Lines[i]; active == nil || l.Frames > active.Frames {
			active = l
		}
	}
	if active == nil || active.RestV == nil {
		return
	}
	r.Levels.RestV = active.RestV
	level := first
	if math.IsNaN(level) {
		level = *active.RestV
	}
	r.Rp = rpOf(level)
	r.Rd = rdOf(r.Lines)
}

// rpOf is what Rp tells at a resting level.
func rpOf(volts float64) *string {
	name, ok := map[pd.CCLevel]string{pd.CCDefault: "default", pd.CC1A5: "1.5A", pd.CC3A0: "3A"}[pd.CCMeaning(volts)]
	if !ok {
		return nil
	}
	return &name
}

// rdOf tells on how many of two pins Rd is. One pin alone does not tell.
func rdOf(lines []Line) *string {
	const pins = 2
	var rest []float64
	for i := range lines {
		if lines[i].RestV != nil {
			rest = append(rest, *lines[i].RestV)
		}
	}
	if len(rest) != pins {
		return nil
	}
	// Rd on both gives the same level twice, within the tolerances of two
	// resistors of 20 %; Ra, a fifth of Rd, gives a fifth of it.
	const alike = 1.5
	var n int
	for _, v := range rest {
		if down := pulledDown(v); down != nil && *down {
			n++
		}
	}
	highest, lowest := max(rest[0], rest[1]), min(rest[0], rest[1])
	name := ""
	switch {
	case n == pins && highest < alike*lowest:
		name = "both"
	case n == pins, n == 1:
		name = "one"
	case lowest > sinkMost():
		name = "none"
	default:
		return nil
	}
	return &name
}
