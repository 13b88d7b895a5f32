package pd

import "encoding/binary"

// Clauses of capabilities messages.
const (
	clauseOrder      = by32 + "section 6.4.1.4"
	clauseSinkOrder  = by32 + "section 6.4.1.6"
	clauseEPRObjects = by32 + "section 6.5.15.1"
)

// The bits of fixed objects that belong to the first one.
const (
	firstSourceBits = 0x7F << 23
	firstSinkBits   = 0x7F << 23 // bits 22 to 20 are reserved in every one
)

// supplies are the objects of a capabilities message as they lie on the wire.
type supplies struct {
	wire []byte
	sink bool
}

func (s supplies) len() int { return len(s.wire) / objectBytes }

// at is the object at index i, counted from 0.
func (s supplies) at(i int) uint32 { return binary.LittleEndian.Uint32(s.wire[i*objectBytes:]) }

func (s supplies) orderClause() string {
	if s.sink {
		return clauseSinkOrder
	}
	return clauseOrder
}

// sprCapabilities judges the objects of Source_Capabilities or Sink_Capabilities.
func (c *checker) sprCapabilities(s supplies) {
	var before supplyOrder
	for i := range s.len() {
		c.object = i + 1
		c.sprObject(s, i)
		before = c.inOrder(s, before, s.at(i))
	}
	c.object = 0
}

// sprObject judges one object in positions 1 to 7.
func (c *checker) sprObject(s supplies, i int) {
	w := s.at(i)
	c.supplyObject(s, w)
	c.unless(!isEPRObject(w), RuleEPRPosition, clauseEPRObjects)
	f, fixed := PDO(w).Fixed()
	switch {
	case i == 0:
		c.unless(fixed && f.Voltage == nominal5V, RuleFirstObject, s.orderClause())
	case fixed:
		c.firstOnly(s, w)
	}
}

// firstOnly judges a fixed object that is not the first.
func (c *checker) firstOnly(s supplies, w uint32) {
	mask, clause := uint32(firstSourceBits), clauseFixed
	if s.sink {
		mask, clause = firstSinkBits, clauseSinkFixed
	}
	if w&mask != 0 {
		c.add(RuleFirstObjectBit, w&mask, clause)
	}
}

func (c *checker) supplyObject(s supplies, w uint32) {
	if s.sink {
		c.sinkObject(SinkPDO(w))
		return
	}
	c.sourceObject(PDO(w))
}

// isEPRObject reports an object that only positions from 8 on may hold: fixed above 20 V or
// EPR AVS.
func isEPRObject(w uint32) bool {
	f, fixed := PDO(w).Fixed()
	return fixed && f.Voltage > SPRAVSMaxVoltage || PDO(w).Kind() == KindEPRAVS
}

// supplyOrder is where an object stands in the order of the message: its kind, and its
// voltages among those of one kind.
type supplyOrder struct {
	kind            PDOKind
	lowest, highest Millivolts
}

// orderOf reads the voltages that objects of one kind are sorted by; SPR AVS has none.
func orderOf(w uint32) supplyOrder {
	o := supplyOrder{kind: kindOf(w)}
	switch o.kind {
	case KindFixed:
		f, _ := PDO(w).Fixed()
		o.lowest, o.highest = f.Voltage, f.Voltage
	case KindBattery, KindVariable:
		v := Millivolts(bits(w, 19, 10)) * unitVoltage
		o.lowest, o.highest = v, Millivolts(bits(w, 29, 20))*unitVoltage
	case KindPPS:
		s, _ := PDO(w).PPS()
		o.lowest, o.highest = s.MinVoltage, s.MaxVoltage
	}
	return o
}

// rank is the place of the kind in the message. R3.0 V1.1 has the same order without AVS.
func (o supplyOrder) rank() int {
	switch o.kind {
	case KindFixed:
		return 1
	case KindBattery:
		return 2
	case KindVariable:
		return 3
	case KindSPRAVS:
		return 4
	case KindPPS:
		return 5
	default:
		return 0 // not sorted here
	}
}

// sortedBy is the voltage the standard sorts the kind by: PPS by its maximum, battery and
// variable by their minimum.
func (o supplyOrder) sortedBy() Millivolts {
	if o.kind == KindPPS {
		return o.highest
	}
	return o.lowest
}

// inOrder judges an object against the one before and returns what stands before the next.
func (c *checker) inOrder(s supplies, before supplyOrder, w uint32) supplyOrder {
	now := orderOf(w)
	if now.rank() == 0 {
		return before
	}
	switch {
	case now.rank() < before.rank():
		// Where SPR AVS stands is known for R3.2 only.
		between := before.kind == KindPPS && now.kind == KindSPRAVS
		c.unless(between && !c.from(Revision32), RuleOrder, s.orderClause())
	case now.kind != before.kind: // the first of its kind
	case now.sortedBy() < before.sortedBy():
		c.add(RuleOrder, 0, s.orderClause())
	case s.sink && now == before:
		c.add(RuleRepeated, 0, clauseSinkOrder)
	}
	return now
}

const firstEPRPosition = 8

// eprCapabilities judges the whole data block of EPR_Source_Capabilities or
// EPR_Sink_Capabilities: positions 1 to 7 as in SPR with zeros where unused, then the fixed
// objects above 20 V, then one EPR AVS.
func (c *checker) eprCapabilities(s supplies) {
	var before supplyOrder
	adjustable := 0
	for i := range s.len() {
		c.object = i + 1
		w := s.at(i)
		switch {
		case c.object >= firstEPRPosition:
			c.supplyObject(s, w)
			c.unless(isEPRObject(w), RuleSPRPosition, clauseEPRObjects)
			if PDO(w).Kind() == KindEPRAVS {
				adjustable++
			}
			before = c.eprOrder(s, before, w, adjustable)
		case w == 0 && i > 0: // unused
		default:
			c.sprObject(s, i)
			before = c.inOrder(s, before, w)
		}
	}
	c.object = 0
	if !s.sink {
		c.unless(adjustable == 1, RuleOneEPRAVS, clauseEPRObjects)
	}
}

// eprOrder judges an object from position 8 on.
func (c *checker) eprOrder(s supplies, before supplyOrder, w uint32, adjustable int) supplyOrder {
	now := orderOf(w)
	if now.kind != KindFixed {
		return before
	}
	c.firstOnly(s, w)
	c.unless(adjustable == 0, RuleOrder, clauseEPRObjects)
	if before.kind == KindFixed && before.lowest > SPRAVSMaxVoltage {
		c.unless(now.lowest >= before.lowest, RuleOrder, clauseEPRObjects)
	}
	return now
}
