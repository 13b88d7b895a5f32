package line

import (
	"math"
	"time"

	"portside/pd"
)

// spread gathers a quantity: how often, mean, smallest, largest, and the sum
// of squared deviations.
type spread struct {
	n              int
	mean, min, max float64
	squares        float64
}

func (s *spread) add(v float64) {
	if math.IsNaN(v) {
		return
	}
	s.n++
	if s.n == 1 {
		s.min, s.max = v, v
	}
	s.min, s.max = min(s.min, v), max(s.max, v)
	d := v - s.mean
	s.mean += d / float64(s.n)
	s.squares += d * (v - s.mean)
}

// deviation is the standard deviation; NaN of less than two values.
func (s *spread) deviation() float64 {
	if s.n < 2 {
		return math.NaN()
	}
	return math.Sqrt(s.squares / float64(s.n-1))
}

func (s *spread) meanOrNil() *float64 { return s.orNil(s.mean) }
func (s *spread) maxOrNil() *float64  { return s.orNil(s.max) }
func (s *spread) minOrNil() *float64  { return s.orNil(s.min) }

func (s *spread) orNil(v float64) *float64 {
	if s.n == 0 {
		return nil
	}
	return &v
}

func (s *spread) given() Spread { return Spread{Mean: s.mean, Min: s.min, Max: s.max} }

// who speaks on the line.
type who uint8

const (
	unknownPort who = iota
	source
	sink
	cable
	speakers
)

var whoNames = [...]string{"unknown", "source", "sink", "cable"}

// speaker is what was heard of one.
type speaker struct {
	frames                           int
	rate, drift, jitter, duty, ack   spread
	driftU                           spread
	high, low, preamble              spread
	retries, mostRetries, unanswered int
}

// broken is a frame that nobody can use, and what may tell who sent it.
type broken struct {
	rate float64
	said who // by its header, as far as that was read
}

// maxBroken are remembered to be told apart by their bit rate at the end; of
// further ones the header is believed.
const maxBroken = 10_000

// awaited is a message that waits for its GoodCRC.
type awaited struct {
	from    who
	id      int
	end     time.Duration
	offer   bool
	garbled bool // a broken frame came where the GoodCRC was due
}

// repeated is the last message of a speaker, to tell a retry.
type repeated struct {
	bytes []byte
	end   time.Duration
	times int
}

// health gathers from frames what they say of the line.
type health struct {
	frames, hardResets, cableResets int
	cutShort, garbledAcks, inVain   int
	speakers                        [speakers]speaker
	all                             speaker
	gap                             spread
	broken                          []broken
	brokenBy                        [speakers]int // those beyond maxBroken
	lastEnd                         map[int]time.Duration
	awaited                         map[pd.OrderedSet]*awaited
	last                            [speakers]repeated
	rest                            spread
	firstRest                       float64
	begun                           bool
	now                             time.Duration
}

func newHealth() *health {
	return &health{lastEnd: map[int]time.Duration{}, awaited: map[pd.OrderedSet]*awaited{}, firstRest: math.NaN()}
}

// add takes the next frame.
func (h *health) add(f *Frame) {
	h.now = f.End
	h.expire(f.Start)
	if end, ok := h.lastEnd[f.Signal]; ok && f.Set != 0 && f.Start > end {
		h.gap.add((f.Start - end).Seconds() * 1e6)
	}
	delete(h.lastEnd, f.Signal)
	if !f.Good {
		h.addBroken(f)
		return
	}
	h.lastEnd[f.Signal] = f.End
	h.frames++
	if !h.begun {
		h.begun, h.firstRest = true, f.Measured.RestV
	}
	h.rest.add(f.Measured.RestV)
	h.all.add(f)
	switch f.Set {
	case pd.HardReset:
		h.hardResets++
		clear(h.awaited)
	case pd.CableReset:
		h.cableResets++
	default:
		h.packet(f)
	}
}

func (s *speaker) add(f *Frame) {
	s.frames++
	s.rate.add(f.Measured.BitRateHz)
	s.drift.add(f.Measured.DriftPercent)
	s.driftU.add(f.Measured.DriftU)
	s.jitter.add(f.Measured.JitterUS)
	s.duty.add(f.Measured.DutyPercent)
	s.high.add(f.Measured.HighV)
	s.low.add(f.Measured.LowV)
	s.preamble.add(float64(f.PreambleBits))
}

// speakerOf tells who sent a packet by its header. A port that speaks to the
// cable may be either.
func speakerOf(f *Frame) who {
	header, ok := f.Header()
	switch {
	case !ok:
		return unknownPort
	case f.Set.ToCable() && header.CablePlug():
		return cable
	case f.Set != pd.SOP:
		return unknownPort
	case header.PowerRole() == pd.Source:
		return source
	}
	return sink
}

func (h *health) packet(f *Frame) {
	from := speakerOf(f)
	h.speakers[from].add(f)
	header, _ := f.Header()
	isAck := header.Type() == pd.GoodCRC
	waiting := h.awaited[f.Set]
	if waiting != nil {
		delete(h.awaited, f.Set)
		if isAck && header.MessageID() == waiting.id && from != waiting.from {
			h.speakers[from].ack.add((f.Start - waiting.end).Seconds() * 1e6)
			waiting = nil
		}
	}
	if waiting != nil {
		h.unanswered(waiting)
	}
	if isAck {
		return
	}
	h.retry(from, f)
	h.awaited[f.Set] = &awaited{from: from, id: header.MessageID(), end: f.End, offer: header.Type() == pd.SourceCapabilities}
}

// retry counts a message that is sent again: the same bytes soon after.
func (h *health) retry(from who, f *Frame) {
	last := &h.last[from]
	if from != unknownPort && string(last.bytes) == string(f.Bytes) && f.Start-last.end < retryWithin() {
		last.times++
		h.speakers[from].retries++
		h.speakers[from].mostRetries = max(h.speakers[from].mostRetries, last.times)
	} else {
		last.times = 0
	}
	last.bytes, last.end = append(last.bytes[:0], f.Bytes...), f.End
}

// retryWithin is the latest start of a retry after the end of the message:
// the wait for its GoodCRC and the time to start again.
func retryWithin() time.Duration { return ackWithin() + limitOf(pd.TRetry) }

// ackWithin is when a GoodCRC must be over at the latest.
func ackWithin() time.Duration { return limitOf(pd.TReceive) }

func limitOf(p pd.Parameter) time.Duration {
	d, _ := p.Limits(pd.Revision32).MaxDuration()
	return d
}

// expire gives up on what was not acknowledged until a time.
func (h *health) expire(now time.Duration) {
	for set, waiting := range h.awaited {
		if now-waiting.end > ackWithin() {
			delete(h.awaited, set)
			h.unanswered(waiting)
		}
	}
}

func (h *health) unanswered(w *awaited) {
	if w.garbled {
		h.garbledAcks++
		return
	}
	h.speakers[w.from].unanswered++
	if w.offer {
		h.inVain++
	}
}

func (h *health) addBroken(f *Frame) {
	switch f.Reason {
	case CutShort, RecordingEnds, NotQuiet, ShortPreamble:
		h.cutShort++
		return
	case FellSilent, NoOrderedSet:
		if f.Set == 0 && f.PreambleBits < resetPreamble {
			return
		}
	}
	for set, waiting := range h.awaited {
		if f.Start-waiting.end < ackWithin() && (f.Set == 0 || f.Set == set) {
			waiting.garbled = true
		}
	}
	b := broken{rate: f.Measured.BitRateHz, said: plausibleSpeaker(f)}
	if len(h.broken) < maxBroken {
		h.broken = append(h.broken, b)
		return
	}
	h.brokenBy[b.said]++
}

// plausibleSpeaker believes the header of a broken frame where it could be one.
func plausibleSpeaker(f *Frame) who {
	header, ok := f.Header()
	if !ok || !header.Type().Defined() {
		return unknownPort
	}
	return speakerOf(f)
}

// sender tells who sent a broken frame: by its bit rate where source and sink
// run at clearly different ones, else by what was read of its header.
func (h *health) sender(b broken) who {
	const (
		few      = 5   // frames of each
		clearly  = 6.0 // standard deviations between the two
		roughly  = 4.0 // standard deviations to the nearer one
		leastDev = 30  // Hz: 100 ppm, no clock is steadier
	)
	s, k := &h.speakers[source].rate, &h.speakers[sink].rate
	if s.n >= few && k.n >= few {
		deviation := max(s.deviation(), k.deviation(), leastDev)
		toSource, toSink := math.Abs(b.rate-s.mean)/deviation, math.Abs(b.rate-k.mean)/deviation
		if math.Abs(s.mean-k.mean) > clearly*deviation && min(toSource, toSink) < roughly {
			if toSource < toSink {
				return source
			}
			return sink
		}
	}
	return b.said
}
