package pd

// Clauses of vendor-defined messages.
const (
	clauseVDM         = by32 + "table 6.29"
	clauseSVID        = by32 + "table 6.31"
	clauseIdentity    = by32 + "tables 6.33 to 6.44"
	clauseIDHeader    = by32 + "table 6.33"
	clauseUFP         = by32 + "table 6.39"
	clauseDFP         = by32 + "table 6.40"
	clausePassive     = by32 + "table 6.41"
	clauseActive1     = by32 + "table 6.42"
	clauseActive2     = by32 + "table 6.43"
	clauseVPD         = by32 + "table 6.44"
	exitAllModes      = 7
	identityObjects   = 4 // header, ID Header, Cert Stat, Product
	vdmVersion2       = 1 // the code of 2.x
	vdmLastMinor      = 1 // the code of 2.1
	idHeaderDFPOnPlug = 0b111 << 23
)

// Validate lists what the header breaks; nil where it breaks nothing, and for every
// unstructured one, whose bits are the vendor's.
func (h VDMHeader) Validate() []Violation {
	var c checker
	c.vdmHeader(h)
	return c.found
}

func (c *checker) vdmHeader(h VDMHeader) {
	if !h.Structured() {
		return
	}
	c.zero(uint32(h), vdmReserved, clauseVDM)
	c.vdmVersion(h)
	c.vdmCommand(h)
	c.vdmPosition(h)
}

func (c *checker) vdmVersion(h VDMHeader) {
	c.code(uint32(h), 14, 13, vdmVersion2, clauseVDM)
	last := 0 // 1.0 has no minor one
	if h.VersionMajor() == vdmVersion2 {
		last = vdmLastMinor
	}
	c.code(uint32(h), 12, 11, last, clauseVDM)
}

// vdmCommand judges command, command type and SVID.
func (c *checker) vdmCommand(h VDMHeader) {
	switch command, kind := h.Command(), h.CommandType(); command {
	case DiscoverIdentity, DiscoverSVIDs:
		c.unless(h.SVID() == SVIDPowerDelivery, RuleSVID, clauseSVID)
	case EnterMode, ExitMode:
		c.unless(kind != BUSY, RuleCommandType, clauseVDM)
	case Attention:
		c.unless(kind == REQ, RuleCommandType, clauseVDM)
	case DiscoverModes:
	default:
		if command < firstSVIDCommand {
			c.add(RuleReservedCode, uint32(command), clauseVDM)
		}
	}
}

// vdmPosition judges the object position: the commands of modes have one, and only Exit
// Mode may name all. What the SVID's own commands do with it is theirs.
func (c *checker) vdmPosition(h VDMHeader) {
	p := h.ObjectPosition()
	switch h.Command() {
	case EnterMode, Attention:
		c.unless(p > 0 && p < exitAllModes, RuleVDMPosition, clauseVDM)
	case ExitMode:
		c.unless(p > 0, RuleVDMPosition, clauseVDM)
	case DiscoverIdentity, DiscoverSVIDs, DiscoverModes:
		c.unless(p == 0, RuleVDMPosition, clauseVDM)
	}
}

func (c *checker) vendorDefined(m Message) {
	h := VDMHeader(m.Object(0))
	c.object = 1
	c.vdmHeader(h)
	c.object = 0
	if !h.Structured() {
		return
	}
	switch h.Command() {
	case DiscoverIdentity, DiscoverSVIDs, DiscoverModes:
		c.unless(m.Set != SOPDoublePrime, RuleCable, clauseVDM)
	}
	if h.Command() == DiscoverIdentity && h.CommandType() == ACK {
		c.unless(m.Header.Objects() >= identityObjects, RuleObjectCount, clauseIdentity)
		c.identity(m, h)
	}
}

// identity judges the objects of a Discover Identity answer by the product types they
// announce. Version 1.0 came with R2.0, whose objects differ and are left alone.
func (c *checker) identity(m Message, h VDMHeader) {
	if m.NumObjects() < identityObjects || h.VersionMajor() != vdmVersion2 {
		return
	}
	id := IDHeaderVDO(m.Object(1))
	c.object = 2
	c.zero(uint32(id), idHeaderReserved, clauseIDHeader)
	if m.Set == SOPPrime {
		c.zero(uint32(id), idHeaderDFPOnPlug, clauseIDHeader)
		c.plugIdentity(m, id.Fields().Plug())
	} else {
		c.portIdentity(m, id.Fields())
	}
	c.object = 0
}

// product gives the product object at an index of the message, and makes it the one that
// violations are of.
func (c *checker) product(m Message, i int) (w uint32, ok bool) {
	if i >= m.NumObjects() {
		return 0, false
	}
	c.object = i + 1
	return m.Object(i), true
}

func (c *checker) plugIdentity(m Message, kind PlugType) {
	w, ok := c.product(m, identityObjects)
	if !ok {
		return
	}
	switch kind {
	case PassiveCable:
		c.zero(w, passiveCableReserved, clausePassive)
		c.cable(w, clausePassive)
	case ActiveCable:
		c.zero(w, activeCable1Reserved, clauseActive1)
		c.cable(w, clauseActive1)
		if w, ok := c.product(m, identityObjects+1); ok {
			c.zero(w, activeCable2Reserved, clauseActive2)
		}
	case VPD:
		c.zero(w, vpdReserved, clauseVPD)
	}
}

// cable judges the codes both kinds of cable share.
func (c *checker) cable(w uint32, clause string) {
	f := cableFields(w)
	if f.Plug != CableTypeC && f.Plug != CableCaptive {
		c.add(RuleReservedCode, w&put(0b11, 19, 18), clause)
	}
	if f.Current > cableCurrent5A {
		c.add(RuleReservedCode, w&put(0b11, 6, 5), clause)
	}
	c.code(w, 2, 0, int(SpeedUSB4Gen4), clause)
}

// portIdentity judges the objects of a port: UFP or DFP, or both with a pad between them.
func (c *checker) portIdentity(m Message, id IDHeaderFields) {
	next := identityObjects
	switch id.UFP() {
	case NotUFP:
	case UFPHub, UFPPeripheral:
		if w, ok := c.product(m, next); ok {
			c.zero(w, ufpReserved, clauseUFP)
		}
		next += 2 // the pad of a port in both roles
	default: // types without an object, or with one of earlier revisions
		return
	}
	if id.DFP == NotDFP {
		return
	}
	if w, ok := c.product(m, next); ok {
		c.zero(w, dfpReserved, clauseDFP)
	}
}
