package bench

import (
	"encoding/binary"
	"time"

	"portside/captures"
	"portside/pd"
)

// line is the CC wire: one speaker at a time, a GoodCRC after each message
// that somebody hears, retries where nobody does. It records what it carries.
type line struct {
	b      *bench
	freeAt float64 // end of the last frame
	epoch  int     // a reset makes everything under way void
	heard  []captures.Message
}

// speaker is one end of the wire.
type speaker struct {
	set     pd.OrderedSet // SOP, or SOP' where one end is the cable's plug
	role    pd.PowerRole  // SOP only
	data    pd.DataRole   // SOP only
	plug    bool          // this end is the cable's plug
	rate    float64       // bit/s
	nextID  int
	alive   func() bool
	receive func(pd.Message)
	reset   func() // a Hard Reset was heard
}

// Pauses of both sides, well inside tTransmit, tRetry and tInterFrameGap.
const (
	gapFromS, gapToS     = 45e-6, 120e-6
	retryFromS, retryToS = 30e-6, 120e-6
)

// send puts a message on the line as soon as it is free. done learns whether
// it was acknowledged; it runs before the receiver's policy does.
func (l *line) send(from, to *speaker, kind pd.MessageType, objects []uint32, done func(ok bool)) {
	retries := count(pd.NRetryCount)
	if from.plug {
		retries = 0 // plugs never retry: USB PD R3.2 V1.1 section 6.7.2
	}
	l.attempt(from, to, from.message(kind, from.nextID, objects...), retries, l.epoch, done)
}

func (s *speaker) message(kind pd.MessageType, id int, objects ...uint32) pd.Message {
	return pd.NewMessage(s.set, pd.HeaderFields{
		Type: kind, MessageID: id, Revision: pd.Revision3x,
		PowerRole: s.role, DataRole: s.data, CablePlug: s.plug,
	}, objects...)
}

func (l *line) attempt(from, to *speaker, m pd.Message, left, epoch int, done func(ok bool)) {
	end := l.emit(from, m)
	damaged := l.b.p.CCNoise > 0 && l.b.random.Float64() < l.b.p.CCNoise
	if damaged {
		l.heard[len(l.heard)-1].CRC[1] ^= 0x24
	}
	l.b.at(end, func() {
		switch {
		case epoch != l.epoch:
		case !damaged && to.alive():
			l.acknowledge(from, to, m, epoch, done)
		case left > 0:
			l.b.after(crcReceiveS()+l.b.uniform(retryFromS, retryToS), func() {
				if epoch == l.epoch {
					l.attempt(from, to, m, left-1, epoch, done)
				}
			})
		default:
			l.b.after(crcReceiveS(), func() {
				if epoch == l.epoch {
					done(false)
				}
			})
		}
	})
}

func (l *line) acknowledge(from, to *speaker, m pd.Message, epoch int, done func(ok bool)) {
	end := l.emit(to, to.message(pd.GoodCRC, m.Header.MessageID()))
	l.b.at(end, func() {
		if epoch != l.epoch {
			return
		}
		from.nextID = (from.nextID + 1) % 8
		done(true)
		to.receive(m)
	})
}

// hardReset sends the signal and voids everything under way. It returns the
// time of its last bit.
func (l *line) hardReset(from, to *speaker) float64 {
	l.epoch++
	from.nextID, to.nextID = 0, 0
	end := l.emit(from, pd.Message{Set: pd.HardReset})
	if to.alive() {
		l.b.at(end, to.reset)
	}
	return end
}

// emit records a frame that starts once the line has been idle long enough and
// returns its end.
func (l *line) emit(from *speaker, m pd.Message) float64 {
	start := max(l.b.now, l.freeAt+l.b.uniform(gapFromS, gapToS))
	l.freeAt = start + float64(m.LineBits())/from.rate
	record := captures.Message{Set: m.Set, At: duration(start), End: duration(l.freeAt), HasEnd: true}
	if !m.Set.IsReset() {
		record.Bytes, record.HasCRC = m.Bytes(), true
		binary.LittleEndian.PutUint32(record.CRC[:], pd.CRC(record.Bytes))
	}
	l.heard = append(l.heard, record)
	return l.freeAt
}

// recorded is the list as the recorder writes it: on its own clock, and
// without what ends after the recording does.
func (l *line) recorded(p *Parameters) []captures.Message {
	if !p.MessagesRecorded {
		return nil
	}
	var out []captures.Message
	for _, m := range l.heard {
		if m.End > duration(p.DurationS) {
			break
		}
		if m.At < duration(p.MessagesFromS) || p.MessagesNoAck && acknowledges(m) {
			continue
		}
		m.At += duration(p.MessagesStartS)
		m.End += duration(p.MessagesStartS)
		m.HasCRC = m.HasCRC && p.MessageCRC
		m.By = captures.Observer
		m.Line = len(out) + 2
		out = append(out, m)
	}
	return out
}

// duration rounds to the microsecond that the list is written with.
func duration(s float64) time.Duration {
	return time.Duration(s * float64(time.Second)).Round(time.Microsecond)
}

// acknowledges reports a GoodCRC.
func acknowledges(m captures.Message) bool {
	p, err := pd.ParseMessage(m.Set, m.Bytes)
	return err == nil && !m.Set.IsReset() && p.Type() == pd.GoodCRC
}
