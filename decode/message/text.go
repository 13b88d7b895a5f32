package message

import (
	"strconv"

	"portside/captures"
	"portside/pd"
)

// appendText puts the message on one line: its name and what it carries.
func (d *Decoder) appendText(b []byte, p pd.Message, part Part) []byte {
	l := &d.line
	b = append(b, p.Type().String()...)
	if l.Header.Block && len(l.Objects) == 0 {
		return appendChunk(b, l.Header.Extended)
	}
	if len(l.Objects) == 0 {
		return b
	}
	b = append(b, ": "...)
	switch t := p.Type(); {
	case t == pd.Request || t == pd.EPRRequest:
		offer, known := d.offers.For(p, d.revision)
		return appendRequest(b, &l.Objects[0], offer, known)
	case t == pd.VendorDefined:
		return l.appendVDM(b)
	case l.Header.Block && part.Block == nil:
		b = appendChunkName(b, l.Header.Extended)
		b = append(b, ", "...)
		return l.appendSupplies(b)
	case len(l.Objects) == 1 && l.Objects[0].Kind.IsBlock():
		return l.appendBlock(b, &l.Objects[0])
	case isSupplyList(t):
		return l.appendSupplies(b)
	}
	for i := range l.Objects {
		if i > 0 {
			b = append(b, ", "...)
		}
		b = l.appendSingle(b, &l.Objects[i])
	}
	return b
}

func isSupplyList(t pd.MessageType) bool {
	switch t {
	case pd.SourceCapabilities, pd.SinkCapabilities, pd.EPRSourceCapabilities, pd.EPRSinkCapabilities:
		return true
	default:
		return false
	}
}

// appendFate adds what became of the message.
func appendFate(b []byte, s captures.Status, repeat bool) []byte {
	if repeat {
		b = append(b, " (repeat)"...)
	}
	switch s {
	case captures.Unacknowledged:
		b = append(b, " (never acknowledged)"...)
	case captures.Discarded:
		b = append(b, " (discarded, never on the line)"...)
	}
	return b
}

// appendChunk says how much of a block a packet carries that completes none.
func appendChunk(b []byte, x pd.ExtendedHeader) []byte {
	b = append(b, ": "...)
	switch {
	case x.RequestChunk():
		b = append(b, "asks for chunk "...)
		return strconv.AppendInt(b, int64(x.ChunkNumber()), 10)
	case x.Chunked():
		return appendChunkName(b, x)
	default:
		b = append(b, "block of "...)
		b = strconv.AppendInt(b, int64(x.DataSize()), 10)
		return append(b, " bytes"...)
	}
}

func appendChunkName(b []byte, x pd.ExtendedHeader) []byte {
	b = append(b, "chunk "...)
	b = strconv.AppendInt(b, int64(x.ChunkNumber()), 10)
	b = append(b, " of a block of "...)
	b = strconv.AppendInt(b, int64(x.DataSize()), 10)
	return append(b, " bytes"...)
}

// appendSupplies lists supply objects. After unused positions, and where the
// first ones are not known, the position stands before the object.
func (l *Line) appendSupplies(b []byte) []byte {
	numbered, begun := l.FirstPosition > 1, false
	for i := range l.Objects {
		o := &l.Objects[i]
		if o.Kind == KindUnused {
			numbered = true
			continue
		}
		if begun {
			b = append(b, ", "...)
		}
		if numbered {
			b = strconv.AppendInt(b, int64(l.FirstPosition+i), 10)
			b = append(b, ": "...)
		}
		numbered, begun = false, true
		b = l.cache.appendSupply(b, pd.PDO(o.Raw)) // a sink's voltages and currents stand in the same bits
	}
	if !begun {
		b = append(b, "no object in use"...)
	}
	return b
}

// appendSupply puts a supply in words.
func (c *jsonCache) appendSupply(b []byte, p pd.PDO) []byte {
	key := supplyKey | uint64(p)
	slot := c.at(key)
	if slot.key == key {
		return append(b, slot.written...)
	}
	from := len(b)
	b = appendSupply(b, p)
	slot.keep(key, b[from:])
	return b
}

func appendSupply(b []byte, p pd.PDO) []byte {
	switch p.Kind() {
	case pd.KindFixed:
		f, _ := p.Fixed()
		return appendVoltsAmps(b, f.Voltage, f.MaxCurrent)
	case pd.KindVariable:
		v, _ := p.Variable()
		b = appendRange(append(b, "variable "...), v.MinVoltage, v.MaxVoltage)
		return appendMilli(append(b, ' '), int(v.MaxCurrent), " A")
	case pd.KindBattery:
		s, _ := p.Battery()
		b = appendRange(append(b, "battery "...), s.MinVoltage, s.MaxVoltage)
		return appendMilli(append(b, ' '), int(s.MaxPower), " W")
	case pd.KindPPS:
		s, _ := p.PPS()
		b = appendRange(append(b, "PPS "...), s.MinVoltage, s.MaxVoltage)
		return appendMilli(append(b, ' '), int(s.MaxCurrent), " A")
	case pd.KindEPRAVS:
		s, _ := p.EPRAVS()
		b = appendRange(append(b, "EPR AVS "...), s.MinVoltage, s.MaxVoltage)
		b = strconv.AppendInt(append(b, ' '), int64(s.PDP), 10)
		return append(b, " W"...)
	case pd.KindSPRAVS:
		s, _ := p.SPRAVS()
		b = appendMilli(append(b, "SPR AVS "...), int(s.MaxCurrent15V), " A up to 15 V")
		return appendMilli(append(b, " and "...), int(s.MaxCurrent20V), " A up to 20 V")
	default:
		return appendHex(append(b, "reserved kind "...), uint32(p), 8)
	}
}

func appendRequest(b []byte, o *Object, offer pd.PDO, known bool) []byte {
	r := pd.RDO(o.Raw)
	b = strconv.AppendInt(append(b, "object "...), int64(r.PositionFor(o.Revision)), 10)
	b = append(b, ", "...)
	switch o.Kind {
	case KindRequestFixed:
		b = appendOffered(b, offer)
		b = appendMilli(b, int(r.Fixed().OperatingCurrent), " A")
	case KindRequestBattery:
		b = appendOffered(b, offer)
		b = appendMilli(b, int(r.Battery().OperatingPower), " W")
	case KindRequestPPS:
		s := r.PPS()
		b = appendVoltsAmps(append(b, "PPS "...), s.Voltage, s.OperatingCurrent)
	case KindRequestAVS:
		s := r.AVS()
		b = appendVoltsAmps(append(b, "AVS "...), s.Voltage, s.OperatingCurrent)
	default:
		b = appendHex(b, o.Raw, 8)
		if known {
			b = append(b, " (the offer it answers is of a reserved kind)"...)
		} else {
			b = append(b, " (the offer it answers is not in the recording)"...)
		}
	}
	if r.CapabilityMismatch() {
		b = append(b, ", capability mismatch"...)
	}
	return b
}

// appendOffered gives the voltage of the object asked for.
func appendOffered(b []byte, offer pd.PDO) []byte {
	switch offer.Kind() {
	case pd.KindFixed:
		f, _ := offer.Fixed()
		return appendMilli(b, int(f.Voltage), " V ")
	case pd.KindVariable:
		v, _ := offer.Variable()
		return append(appendRange(append(b, "variable "...), v.MinVoltage, v.MaxVoltage), ' ')
	default:
		s, _ := offer.Battery()
		return append(appendRange(append(b, "battery "...), s.MinVoltage, s.MaxVoltage), ' ')
	}
}

func appendVoltsAmps(b []byte, v pd.Millivolts, i pd.Milliamps) []byte {
	b = appendMilli(b, int(v), " V")
	return appendMilli(append(b, ' '), int(i), " A")
}

func appendRange(b []byte, low, high pd.Millivolts) []byte {
	b = appendMilli(b, int(low), "")
	return appendMilli(append(b, " to "...), int(high), " V")
}

// appendMilli prints thousandths as a decimal without trailing zeros.
func appendMilli(b []byte, milli int, unit string) []byte {
	b = strconv.AppendInt(b, int64(milli/1000), 10)
	if rest := milli % 1000; rest != 0 {
		b = append(b, '.', byte('0'+rest/100))
		if rest%100 != 0 {
			b = append(b, byte('0'+rest/10%10))
			if rest%10 != 0 {
				b = append(b, byte('0'+rest%10))
			}
		}
	}
	return append(b, unit...)
}
