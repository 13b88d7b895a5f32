package pd

// Clauses of headers and messages.
const (
	clauseHeader         = by32 + "table 6.1"
	clauseExtendedHeader = by32 + "table 6.3"
	clauseChunks         = by32 + "section 6.2.1.2"
	clauseControl        = by32 + "table 6.5"
	clauseData           = by32 + "table 6.6"
	clauseExtended       = by32 + "table 6.53"
	clauseMessageID      = by32 + "section 6.7.1"
	clauseMaxExtended    = by32 + "table 6.84"
	clauseBISTCount      = by32 + "section 6.4.3"
)

// Validate lists what the message breaks, nil where it breaks nothing: header, length,
// sender, objects, and what its data block breaks where the packet holds all of it. A
// request is judged without its offer, see [RDO.ValidateFor]; capabilities in chunks,
// once joined, by [ValidateBlock].
//
// r is the revision of the pair. 0 takes it from the header, where an R3 is any of them: a
// rule that one of the R3 lacks is applied only where r names a later one. Sequences, times
// and what a port may send in which state are not judged here.
func (m Message) Validate(r Revision) []Violation {
	c := checker{revision: r}
	if r == 0 && m.Type() != GoodCRC { // whose revision means nothing
		c.revision = m.Header.Revision()
	}
	if m.Set.IsReset() {
		c.unless(len(m.Body) == 0, RuleLength, by32+"section 5.6.4")
		return c.found
	}
	c.header(m)
	if !c.messageType(m) {
		return c.found
	}
	c.sender(m)
	switch m.Header.Class() {
	case Control:
	case Data:
		c.dataMessage(m)
	case Extended:
		c.extendedMessage(m)
	}
	return c.found
}

func (c *checker) header(m Message) {
	w := uint32(m.Header)
	c.unless(len(m.Body) == m.announcedBytes(), RuleLength, clauseHeader)
	if m.Header.Revision() == RevisionReserved && m.Type() != GoodCRC {
		c.add(RuleReservedCode, 0b11<<headerRevShift, clauseHeader)
	}
	if m.Set.ToCable() {
		c.zero(w, uint32(headerDataRole), clauseHeader)
	}
	if c.upTo(Revision20) {
		c.zero(w, uint32(headerExtended)|headerTypeMask&^headerType20, byMemory20)
	}
	if m.Type() == SoftReset {
		c.unless(m.Header.MessageID() == 0, RuleMessageID, clauseMessageID)
	}
}

// messageType judges the type and reports whether there is such a message at all.
func (c *checker) messageType(m Message) bool {
	t := m.Type()
	clause := typeClause(t)
	switch {
	case !t.Defined():
		c.add(RuleReservedType, uint32(t.Code()), clause)
		return false
	case c.upTo(Revision30) && !t.DefinedIn(c.revision):
		c.add(RuleNotInRevision, 0, clause)
	case c.from(Revision32) && (t == GotoMin || t == Ping):
		c.add(RuleDeprecated, 0, clause)
	}
	if m.Set.ToCable() {
		c.unless(t.cable(), RuleCable, clause)
	}
	return true
}

func typeClause(t MessageType) string {
	switch t.Class() {
	case Control:
		return clauseControl
	case Data:
		return clauseData
	default:
		return clauseExtended
	}
}

// sender judges the roles in the header against who may send the message. PS_RDY, GoodCRC
// and what a dual-role port may send in either role are open, and so is
// Data_Reset_Complete, which table 6.5 gives to both and section 6.3.15 to the DFP.
func (c *checker) sender(m Message) {
	if m.Set != SOP {
		return
	}
	clause := typeClause(m.Type())
	switch m.Type() {
	case Request, EPRRequest, FRSwap, GetPPSStatus:
		c.unless(m.PowerRole() == Sink, RuleSender, clause)
	case SourceInfo:
		c.unless(m.PowerRole() == Source, RuleSender, clause)
	case EnterUSB:
		c.unless(m.DataRole() == DFP, RuleSender, clause)
	}
}

func (c *checker) dataMessage(m Message) {
	t := m.Type()
	least, most := t.objects()
	n := m.Header.Objects()
	c.unless(n >= least && n <= most, RuleObjectCount, typeClause(t))
	if m.NumObjects() == 0 {
		return
	}
	objects := supplies{wire: m.Body[:m.NumObjects()*objectBytes]}
	switch t {
	case SourceCapabilities:
		c.sprCapabilities(objects)
	case SinkCapabilities:
		objects.sink = true
		c.sprCapabilities(objects)
	case Request:
		c.request(RDO(m.Object(0)), false)
	case EPRRequest:
		c.eprRequest(m)
	case VendorDefined:
		c.vendorDefined(m)
	default:
		c.singleObject(m)
	}
}

// eprRequest judges the request against the copy of the object that follows it.
func (c *checker) eprRequest(m Message) {
	r := RDO(m.Object(0))
	c.object = 1
	c.request(r, true)
	if m.NumObjects() < 2 {
		return
	}
	offered := PDO(m.Object(1))
	c.requestFor(r, offered)
	c.object = 2
	if position := r.Position(); position > 0 {
		c.unless(isEPRObject(uint32(offered)) == (position >= firstEPRPosition), RuleCopy, clauseEPRCopy)
	}
	c.object = 0
}

func (c *checker) extendedMessage(m Message) {
	x, ok := m.ExtendedHeader()
	if !ok {
		return
	}
	c.extendedHeader(m, x)
	if x.RequestChunk() {
		return
	}
	plug, _ := m.CablePlug()
	c.blockSize(m.Type(), x.DataSize(), plug)
	if block := m.Block(); len(block) == x.DataSize() {
		c.block(m.Type(), block, plug, m.PowerRole())
	}
}

// extendedHeader judges the second header and what it says of the packet.
func (c *checker) extendedHeader(m Message, x ExtendedHeader) {
	c.zero(uint32(x), uint32(extReserved), clauseExtendedHeader)
	c.unless(x.DataSize() <= MaxExtendedMsgLen, RuleDataSize, clauseMaxExtended)
	if !x.Chunked() {
		c.unless(!m.Set.ToCable(), RuleChunk, clauseExtendedHeader)
		c.unless(x.ChunkNumber() == 0 && !x.RequestChunk(), RuleChunk, clauseExtendedHeader)
		c.zero(uint32(m.Header), headerThreeBits<<headerObjectShift, clauseChunks)
		return
	}
	c.unless(x.ChunkNumber() <= lastChunk, RuleChunk, clauseExtendedHeader)
	if x.RequestChunk() {
		c.unless(x.ChunkNumber() > 0 && x.DataSize() == 0, RuleChunk, clauseExtendedHeader)
	} else {
		c.unless(x.BytesHere() > 0, RuleChunk, clauseExtendedHeader)
	}
	c.chunk(m, x)
}

// lastChunk is the number of the tenth chunk (USB PD R3.2 V1.1, table 6.3).
const lastChunk = 9

// chunk judges the padding and the number of four-byte units. Section 6.5.15.1 wants
// another number for the EPR capabilities than the chunk rule does: there both are taken.
func (c *checker) chunk(m Message, x ExtendedHeader) {
	end := extendedHeaderBytes + x.BytesHere()
	t := m.Type()
	if t != EPRSourceCapabilities && t != EPRSinkCapabilities || x.RequestChunk() {
		c.unless(m.Header.Objects()*objectBytes == padded(end), RuleObjectCount, clauseChunks)
	}
	for i := end; i < len(m.Body) && i < padded(end); i++ {
		if m.Body[i] != 0 {
			c.add(RulePadding, 0, clauseChunks)
			return
		}
	}
}
