package message

import "portside/pd"

// Header is the message header of a packet, with the extended header where one
// follows. The zero value is none.
type Header struct {
	Present  bool // false for a reset, a marker, or too few bytes
	Raw      pd.Header
	Set      pd.OrderedSet
	Extended pd.ExtendedHeader
	Block    bool // an extended header is present
}

func newHeader(p pd.Message) Header {
	h := Header{Present: true, Raw: p.Header, Set: p.Set}
	h.Extended, h.Block = p.ExtendedHeader()
	return h
}

// Type is the type of the message.
func (h Header) Type() pd.MessageType { return h.Raw.Type() }

// Plug reports whether bit 8 says that a cable plug sent the message; ok is
// false on SOP, where the bit is the power role.
func (h Header) Plug() (plug, ok bool) { return pd.Message{Set: h.Set, Header: h.Raw}.CablePlug() }

// key tells headers apart that are written differently.
func (h Header) key() uint64 {
	return headerKey | uint64(one(h.Present))<<41 | uint64(one(h.Block))<<40 | uint64(h.Set)<<32 | uint64(h.Extended)<<16 | uint64(h.Raw)
}

// appendJSON writes the header as the member of a line; null where there is
// none.
func (h Header) appendJSON(w *jsonWriter) {
	if !h.Present {
		w.null("header")
		return
	}
	w.open("header", '{')
	w.hex("raw", uint32(h.Raw), 4)
	w.word("type", h.Type().String())
	w.word("class", h.Raw.Class().String())
	w.number("message_id", h.Raw.MessageID())
	w.number("objects", h.Raw.Objects())
	w.word("revision", h.Raw.Revision().String())
	w.role("power_role", h.Raw.PowerRole().String(), h.Set == pd.SOP)
	w.role("data_role", h.Raw.DataRole().String(), h.Set == pd.SOP)
	if plug, ok := h.Plug(); ok {
		w.flag("cable_plug", plug)
	} else {
		w.null("cable_plug")
	}
	w.flag("extended", h.Raw.Extended())
	h.appendExtended(w)
	w.close('}')
}

func (h Header) appendExtended(w *jsonWriter) {
	if !h.Block {
		w.null("extended_header")
		return
	}
	x := h.Extended
	w.open("extended_header", '{')
	w.hex("raw", uint32(x), 4)
	w.flag("chunked", x.Chunked())
	w.number("chunk_number", x.ChunkNumber())
	w.flag("request_chunk", x.RequestChunk())
	w.number("data_size", x.DataSize())
	w.close('}')
}

// AppendFields appends the fields of the message header with their bits.
func (h Header) AppendFields(list []Field) []Field {
	l := fieldList(list)
	l.flag("extended", 15, h.Raw.Extended())
	l.number("objects", 14, 12, h.Raw.Objects())
	l.number("message_id", 11, 9, h.Raw.MessageID())
	if plug, ok := h.Plug(); ok {
		l.flag("cable_plug", 8, plug)
	} else {
		l.word("power_role", 8, 8, h.Raw.PowerRole().String())
	}
	l.word("revision", 7, 6, h.Raw.Revision().String())
	if h.Set == pd.SOP {
		l.word("data_role", 5, 5, h.Raw.DataRole().String())
	}
	l.word("type", 4, 0, h.Type().String())
	return l
}

// AppendExtendedFields appends the fields of the extended header, none where
// there is none.
func (h Header) AppendExtendedFields(list []Field) []Field {
	if !h.Block {
		return list
	}
	l := fieldList(list)
	l.flag("chunked", 15, h.Extended.Chunked())
	l.number("chunk_number", 14, 11, h.Extended.ChunkNumber())
	l.flag("request_chunk", 10, h.Extended.RequestChunk())
	l.number("data_size", 8, 0, h.Extended.DataSize())
	return l
}
