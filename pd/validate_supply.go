package pd

// Clauses of supply objects.
const (
	clauseKind          = by32 + "table 6.8"
	clauseFixed         = by32 + "table 6.9"
	clauseVariable      = by32 + "table 6.11"
	clauseBattery       = by32 + "table 6.12"
	clausePPS           = by32 + "table 6.13"
	clauseSPRAVS        = by32 + "table 6.14"
	clauseEPRAVS        = by32 + "table 6.15"
	clauseSinkFixed     = by32 + "table 6.17"
	clauseSinkVariable  = by32 + "table 6.18"
	clauseSinkBattery   = by32 + "table 6.19"
	clauseSinkPPS       = by32 + "table 6.20"
	clauseSinkSPRAVS    = by32 + "table 6.21"
	clauseSinkEPRAVS    = by32 + "table 6.22"
	clauseCurrentLimit  = by32 + "table 10.2"
	clauseOptional      = by32 + "section 10.2.3.1"
	clausePPSRange      = by32 + "table 10.10"
	clausePPSRange30    = by30 + ", table 10-8"
	clauseEPRAVSRange   = by32 + "table 10.15"
	clauseAugmented20   = byMemory20
	clauseEPRCapable30  = by30
	clauseUnchunked20   = byMemory20
	clauseAdjustables30 = by30
)

// Flags of a source's fixed object that early revisions reserve.
const (
	fixedUnchunked  = 1 << 24
	fixedEPRCapable = 1 << 23
)

// variableSpread is the least share of the maximum voltage that the minimum of a variable
// supply is, in percent (USB PD R3.2 V1.1, table 6.11; not known of earlier revisions).
const variableSpread = 80

// Validate lists what the object breaks by itself, whatever its position; nil where it
// breaks nothing. What the whole offer breaks, [Message.Validate] and
// [ValidateBlock] list.
//
// A rule that one of the revisions behind a header's 3.x lacks is applied only where r
// names a later one.
func (p PDO) Validate(r Revision) []Violation {
	c := checker{revision: r}
	c.sourceObject(p)
	return c.found
}

func (c *checker) sourceObject(p PDO) {
	c.augmented(p.Kind())
	switch p.Kind() {
	case KindFixed:
		c.sourceFixed(p)
	case KindVariable:
		v, _ := p.Variable()
		c.voltageRange(v.MinVoltage, v.MaxVoltage, clauseVariable)
		if c.from(Revision32) {
			c.unless(v.MinVoltage*100 >= v.MaxVoltage*variableSpread, RuleVoltageSpread, clauseVariable)
		}
		c.unless(v.MaxCurrent <= CurrentLimit, RuleCurrent, clauseCurrentLimit)
	case KindBattery:
		b, _ := p.Battery()
		c.voltageRange(b.MinVoltage, b.MaxVoltage, clauseBattery)
	case KindPPS:
		c.sourcePPS(p)
	case KindSPRAVS:
		s, _ := p.SPRAVS()
		c.zero(uint32(p), sprAVSReserved, clauseSPRAVS)
		c.unless(max(s.MaxCurrent15V, s.MaxCurrent20V) <= CurrentLimit, RuleCurrent, clauseCurrentLimit)
	case KindEPRAVS:
		s, _ := p.EPRAVS()
		c.zero(uint32(p), eprAVSReserved, clauseEPRAVS)
		c.eprAVSRange(s.MinVoltage, s.MaxVoltage)
	}
}

// augmented judges the kind alone: there is no fourth augmented one, R2.0 has none at all
// and R3.0 V1.1 only PPS.
func (c *checker) augmented(k PDOKind) {
	switch {
	case k == KindReserved:
		c.add(RuleReservedCode, 0b1111<<28, clauseKind)
	case k >= KindPPS && c.upTo(Revision20):
		c.add(RuleNotInRevision, 0, clauseAugmented20)
	case k > KindPPS && c.upTo(Revision30):
		c.add(RuleNotInRevision, 0, clauseAdjustables30)
	}
}

func (c *checker) sourceFixed(p PDO) {
	w := uint32(p)
	f, _ := p.Fixed()
	c.zero(w, fixedReserved, clauseFixed)
	if c.upTo(Revision20) {
		c.zero(w, fixedUnchunked, clauseUnchunked20)
	}
	if c.upTo(Revision30) {
		c.zero(w, fixedEPRCapable, clauseEPRCapable30)
	}
	c.unless(f.MaxCurrent <= CurrentLimit, RuleCurrent, clauseCurrentLimit)
	switch {
	case f.Voltage == 0:
		c.add(RuleVoltage, 0, clauseFixed)
	case f.Voltage > OptionalVoltageLimit && c.from(Revision32):
		standard := standardVoltage(sprVoltages[:], f.Voltage) || standardVoltage(eprVoltages[:], f.Voltage)
		c.unless(standard, RuleVoltage, clauseOptional)
	}
}

func (c *checker) sourcePPS(p PDO) {
	s, _ := p.PPS()
	c.zero(uint32(p), ppsReserved, clausePPS)
	c.ordered(s.MinVoltage, s.MaxVoltage, clausePPS)
	c.unless(s.MaxCurrent <= CurrentLimit, RuleCurrent, clauseCurrentLimit)
	c.unless(s.MaxVoltage <= PPSMaxVoltage, RuleVoltage, clausePPSRange)
	if c.from(Revision32) {
		c.unless(s.MinVoltage >= PPSMinVoltage32, RuleVoltage, clausePPSRange)
	} else {
		c.unless(s.MinVoltage >= PPSMinVoltage30, RuleVoltage, clausePPSRange30)
	}
}

func (c *checker) eprAVSRange(lowest, highest Millivolts) {
	c.ordered(lowest, highest, clauseEPRAVS)
	inside := lowest >= EPRAVSMinVoltage && standardVoltage(eprVoltages[:], highest)
	c.unless(inside, RuleVoltage, clauseEPRAVSRange)
}

// ordered judges the two ends of a range.
func (c *checker) ordered(lowest, highest Millivolts, clause string) {
	c.unless(lowest <= highest, RuleVoltageRange, clause)
}

// voltageRange judges the ends of a range that has no limits of its own.
func (c *checker) voltageRange(lowest, highest Millivolts, clause string) {
	c.ordered(lowest, highest, clause)
	c.unless(highest > 0, RuleVoltage, clause)
}

// Validate lists what the object breaks by itself, as [PDO.Validate] does.
func (p SinkPDO) Validate(r Revision) []Violation {
	c := checker{revision: r}
	c.sinkObject(p)
	return c.found
}

func (c *checker) sinkObject(p SinkPDO) {
	w := uint32(p)
	c.augmented(p.Kind())
	switch p.Kind() {
	case KindFixed:
		f, _ := p.Fixed()
		c.zero(w, sinkFixedReserved, clauseSinkFixed)
		c.unless(f.Voltage > 0, RuleVoltage, clauseSinkFixed)
	case KindVariable:
		v, _ := p.Variable()
		c.voltageRange(v.MinVoltage, v.MaxVoltage, clauseSinkVariable)
	case KindBattery:
		b, _ := p.Battery()
		c.voltageRange(b.MinVoltage, b.MaxVoltage, clauseSinkBattery)
	case KindPPS:
		s, _ := p.PPS()
		c.zero(w, sinkPPSReserved, clauseSinkPPS)
		c.voltageRange(s.MinVoltage, s.MaxVoltage, clauseSinkPPS)
	case KindSPRAVS:
		c.zero(w, sinkSPRAVSReserved, clauseSinkSPRAVS)
	case KindEPRAVS:
		s, _ := p.EPRAVS()
		c.zero(w, sinkEPRAVSReserved, clauseSinkEPRAVS)
		c.voltageRange(s.MinVoltage, s.MaxVoltage, clauseSinkEPRAVS)
	}
}
