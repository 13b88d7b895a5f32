package message

import (
	"strconv"

	"portside/captures"
	"portside/pd"
)

// appendText puts the message on one line: its name and what it carries.
func (d *Decoder) appendText(b []byte, p pd.Message, line *Line) []byte {
	b = append(b, line.Header.Type...)
	if x, ok := p.ExtendedHeader(); ok {
		return appendExtended(b, x)
	}
	var offer pd.PDO
	var known bool
	if t := p.Type(); t == pd.Request || t == pd.EPRRequest {
		offer, known = d.offers.For(p, d.revision)
	}
	shown := line.Objects
	switch p.Type() {
	case pd.EPRRequest, pd.VendorDefined:
		shown = shown[:min(len(shown), 1)]
	}
	for i, o := range shown {
		if i == 0 {
			b = append(b, ": "...)
		} else {
			b = append(b, ", "...)
		}
		b = o.appendWords(b, offer, known)
	}
	if n := len(line.Objects); p.Type() == pd.VendorDefined && n > 1 {
		b = append(b, ", "...)
		b = strconv.AppendInt(b, int64(n-1), 10)
		b = append(b, " more objects"...)
	}
	return b
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

// appendExtended says how much of a block the packet carries; its content is
// not read here yet.
func appendExtended(b []byte, x pd.ExtendedHeader) []byte {
	switch {
	case x.RequestChunk():
		b = append(b, ": asks for chunk "...)
		return strconv.AppendInt(b, int64(x.ChunkNumber()), 10)
	case x.Chunked():
		b = append(b, ": chunk "...)
		b = strconv.AppendInt(b, int64(x.ChunkNumber()), 10)
		b = append(b, " of a block of "...)
	default:
		b = append(b, ": block of "...)
	}
	b = strconv.AppendInt(b, int64(x.DataSize()), 10)
	return append(b, " bytes"...)
}

func (o Object) appendWords(b []byte, offer pd.PDO, known bool) []byte {
	switch o.Kind {
	case KindSupply:
		return appendSupply(b, pd.PDO(o.Raw))
	case KindSinkSupply:
		return appendSupply(b, pd.PDO(o.Raw)) // voltages and currents stand in the same bits
	case KindRequest, KindRequestFixed, KindRequestBattery, KindRequestPPS, KindRequestAVS:
		return o.appendRequest(b, offer, known)
	case KindVDMHeader:
		return appendVDM(b, pd.VDMHeader(o.Raw))
	case KindAlert:
		return appendAlert(b, o)
	default:
		return appendHex(b, o.Raw, 8)
	}
}

func appendSupply(b []byte, p pd.PDO) []byte {
	if f, ok := p.Fixed(); ok {
		return appendVoltsAmps(b, f.Voltage, f.MaxCurrent)
	}
	if v, ok := p.Variable(); ok {
		b = appendRange(append(b, "variable "...), v.MinVoltage, v.MaxVoltage)
		return appendMilli(append(b, ' '), int(v.MaxCurrent), " A")
	}
	if s, ok := p.Battery(); ok {
		b = appendRange(append(b, "battery "...), s.MinVoltage, s.MaxVoltage)
		return appendMilli(append(b, ' '), int(s.MaxPower), " W")
	}
	if s, ok := p.PPS(); ok {
		b = appendRange(append(b, "PPS "...), s.MinVoltage, s.MaxVoltage)
		return appendMilli(append(b, ' '), int(s.MaxCurrent), " A")
	}
	if s, ok := p.EPRAVS(); ok {
		b = appendRange(append(b, "EPR AVS "...), s.MinVoltage, s.MaxVoltage)
		b = strconv.AppendInt(append(b, ' '), int64(s.PDP), 10)
		return append(b, " W"...)
	}
	if s, ok := p.SPRAVS(); ok {
		b = appendMilli(append(b, "SPR AVS "...), int(s.MaxCurrent15V), " A up to 15 V")
		return appendMilli(append(b, " and "...), int(s.MaxCurrent20V), " A up to 20 V")
	}
	return appendHex(append(b, "reserved kind "...), uint32(p), 8)
}

func (o Object) appendRequest(b []byte, offer pd.PDO, known bool) []byte {
	r := pd.RDO(o.Raw)
	b = strconv.AppendInt(append(b, "object "...), int64(r.PositionFor(o.Revision)), 10)
	switch o.Kind {
	case KindRequestFixed:
		b = append(b, ", "...)
		if f, ok := offer.Fixed(); ok && known {
			b = appendVoltsAmps(b, f.Voltage, r.Fixed().OperatingCurrent)
		} else {
			b = appendMilli(b, int(r.Fixed().OperatingCurrent), " A")
		}
	case KindRequestBattery:
		b = appendMilli(append(b, ", "...), int(r.Battery().OperatingPower), " W")
	case KindRequestPPS:
		s := r.PPS()
		b = appendVoltsAmps(append(b, ", PPS "...), s.Voltage, s.OperatingCurrent)
	case KindRequestAVS:
		s := r.AVS()
		b = appendVoltsAmps(append(b, ", AVS "...), s.Voltage, s.OperatingCurrent)
	default:
		b = appendHex(append(b, ", "...), o.Raw, 8)
		b = append(b, " (the offer it answers is not in the recording)"...)
	}
	if r.CapabilityMismatch() {
		b = append(b, ", capability mismatch"...)
	}
	return b
}

func appendVDM(b []byte, h pd.VDMHeader) []byte {
	if !h.Structured() {
		b = appendHex(append(b, "vendor "...), uint32(h.SVID()), 4)
		return append(b, ", unstructured"...)
	}
	b = append(b, h.Command().String()...)
	b = append(b, ' ')
	b = append(b, h.CommandType().String()...)
	return appendHex(append(b, ", SVID "...), uint32(h.SVID()), 4)
}

func appendAlert(b []byte, o Object) []byte {
	b = appendHex(b, o.Raw, 8)
	for _, f := range o.Fields() {
		if on, _ := f.Value.(bool); on {
			b = append(b, ' ')
			b = append(b, f.Name...)
		}
	}
	return b
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
