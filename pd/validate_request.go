package pd

// Clauses of request objects.
const (
	clauseRequestFixed    = by32 + "table 6.23"
	clauseRequestBattery  = by32 + "table 6.24"
	clauseRequestPPS      = by32 + "table 6.25"
	clauseRequestAVS      = by32 + "table 6.26"
	clauseRequestPosition = by32 + "section 6.4.2.1"
	clauseRequestValues   = by32 + "section 6.4.2"
	clauseRequest30       = by30
	clauseEPRCopy         = by32 + "section 6.4.9"
)

// Bits of a request that some revisions or kinds reserve.
const (
	requestBit31     = 1 << 31
	requestGiveBack  = 1 << 27
	requestUnchunked = 1 << 23
	requestEPR       = 1 << 22
	requestBit21     = 1 << 21
)

// Validate lists what the request breaks whatever it asks for; nil where it breaks nothing.
// epr says that it came in an EPR_Request, where positions reach 11. Revisions count as in
// [PDO.Validate].
func (r RDO) Validate(epr bool, rev Revision) []Violation {
	c := checker{revision: rev}
	c.request(r, epr)
	return c.found
}

const maxEPRObjects = 11

func (c *checker) request(r RDO, epr bool) {
	w := uint32(r)
	most := maxObjects
	if epr {
		most = maxEPRObjects
	}
	position := r.PositionFor(c.revision)
	c.unless(position > 0 && position <= most, RulePosition, clauseRequestPosition)
	c.zero(w, requestBit21, clauseRequestFixed)
	if c.upTo(Revision30) {
		c.zero(w, requestBit31|requestEPR, clauseRequest30)
	}
	if c.upTo(Revision20) {
		c.zero(w, requestUnchunked, byMemory20)
	}
	if c.from(Revision32) && r.GiveBack() {
		c.add(RuleDeprecated, requestGiveBack, clauseRequestFixed)
	}
}

// ValidateFor lists what the request breaks as an answer to the objects of the last
// capabilities, with what Validate lists; unused positions of EPR capabilities are zero
// objects. It is for requests whose offer was recorded.
func (r RDO) ValidateFor(offer []PDO, epr bool, rev Revision) []Violation {
	c := checker{revision: rev}
	c.request(r, epr)
	position := r.PositionFor(rev)
	switch {
	case position == 0: // said already
	case position > len(offer) || offer[position-1] == 0:
		c.add(RulePosition, 0, clauseRequestValues)
	default:
		c.requestFor(r, offer[position-1])
	}
	return c.found
}

// requestFor judges what the request asks of the object it names.
func (c *checker) requestFor(r RDO, offered PDO) {
	switch offered.Kind() {
	case KindFixed:
		f, _ := offered.Fixed()
		c.requestFixed(r, f.MaxCurrent)
	case KindVariable:
		v, _ := offered.Variable()
		c.requestFixed(r, v.MaxCurrent)
	case KindBattery:
		b, _ := offered.Battery()
		c.requestBattery(r, b.MaxPower)
	case KindPPS:
		s, _ := offered.PPS()
		c.requestPPS(r, s)
	case KindSPRAVS:
		s, _ := offered.SPRAVS()
		offeredCurrent, ok := s.CurrentAt(r.AVS().Voltage)
		c.requestAVS(r, offeredCurrent, ok)
	case KindEPRAVS:
		s, _ := offered.EPRAVS()
		offeredCurrent, ok := s.CurrentAt(r.AVS().Voltage)
		c.requestAVS(r, offeredCurrent, ok)
	}
}

func (c *checker) requestFixed(r RDO, offered Milliamps) {
	q := r.Fixed()
	c.zero(uint32(r), requestReserved&^requestBit21, clauseRequestFixed)
	c.unless(q.OperatingCurrent <= offered, RuleRequestCurrent, clauseRequestValues)
	c.maximumField(q.OperatingCurrent == q.MaxCurrent, clauseRequestFixed)
}

func (c *checker) requestBattery(r RDO, offered Milliwatts) {
	q := r.Battery()
	c.zero(uint32(r), requestReserved&^requestBit21, clauseRequestBattery)
	c.unless(q.OperatingPower <= offered, RuleRequestPower, clauseRequestValues)
	c.maximumField(q.OperatingPower == q.MaxPower, clauseRequestBattery)
}

// maximumField judges the field R3.2 deprecates; before, it had a meaning of its own.
func (c *checker) maximumField(equal bool, clause string) {
	if c.from(Revision32) {
		c.unless(equal, RuleMaximumField, clause)
	}
}

// adjustableReserved judges what PPS and AVS requests reserve beyond the others.
func (c *checker) adjustableReserved(r RDO, clause string) {
	mask := uint32(adjustableReserved &^ requestBit21)
	if !c.from(Revision32) { // where it is deprecated in every request
		mask |= requestGiveBack
	}
	c.zero(uint32(r), mask, clause)
}

func (c *checker) requestPPS(r RDO, offered PPSSupply) {
	q := r.PPS()
	c.adjustableReserved(r, clauseRequestPPS)
	c.unless(q.Voltage >= offered.MinVoltage && q.Voltage <= offered.MaxVoltage, RuleRequestVoltage, clauseRequestValues)
	c.unless(q.OperatingCurrent <= offered.MaxCurrent, RuleRequestCurrent, clauseRequestValues)
}

// requestAVS judges a request against the current offered at its voltage; offered is false
// where the object does not reach it.
func (c *checker) requestAVS(r RDO, current Milliamps, offered bool) {
	q := r.AVS()
	c.adjustableReserved(r, clauseRequestAVS)
	c.unless(q.Voltage%AVSVoltageStep == 0, RuleVoltageStep, clauseRequestAVS)
	if !offered {
		c.add(RuleRequestVoltage, 0, clauseRequestValues)
		return
	}
	c.unless(q.OperatingCurrent <= current, RuleRequestCurrent, clauseRequestValues)
}
