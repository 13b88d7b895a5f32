package pd

// Clauses of single objects.
const (
	clauseBIST          = by32 + "table 6.27"
	clauseBatteryStatus = by32 + "table 6.46"
	clauseAlert         = by32 + "table 6.47"
	clauseCountry       = by32 + "table 6.48"
	clauseEnterUSB      = by32 + "table 6.49"
	clauseEPRMode       = by32 + "table 6.50"
	clauseSourceInfo    = by32 + "table 6.51"
	clauseRevision      = by32 + "table 6.52"
)

const lowHalf = 0xFFFF

// singleObject judges the object of the messages that have one.
func (c *checker) singleObject(m Message) {
	w := m.Object(0)
	switch m.Type() {
	case BIST:
		c.bist(m, BDO(w))
	case BatteryStatus:
		c.zero(w, batteryStatusReserved, clauseBatteryStatus)
		if f := BSDO(w).Fields(); f.Present {
			c.code(w, 11, 10, int(BatteryIdle), clauseBatteryStatus)
		}
	case Alert:
		c.alert(m, ADO(w))
	case GetCountryInfo:
		c.zero(w, lowHalf, clauseCountry)
	case EnterUSB:
		c.enterUSB(EUDO(w))
	case EPRMode:
		c.eprMode(m, EPRMDO(w))
	case SourceInfo:
		c.zero(w, sourceInfoReserved, clauseSourceInfo)
	case RevisionMessage:
		c.zero(w, lowHalf, clauseRevision)
	}
}

// bist judges the mode for R3.2, since earlier revisions had more of them, and the number
// of objects that goes with it.
func (c *checker) bist(m Message, o BDO) {
	f := o.Fields()
	switch f.Mode {
	case BISTTestData:
		c.unless(m.Header.Objects() == maxObjects, RuleObjectCount, clauseBISTCount)
		return // the other objects and the other bits are test data
	case BISTCarrier, BISTSharedTestEntry, BISTSharedTestExit:
	default:
		if c.from(Revision32) {
			c.add(RuleReservedCode, uint32(o)&^bistReserved, clauseBIST)
		}
		return
	}
	c.unless(m.Header.Objects() == 1, RuleObjectCount, clauseBISTCount)
	c.zero(uint32(o), bistReserved, clauseBIST)
}

func (c *checker) alert(m Message, o ADO) {
	w := uint32(o)
	f := o.Fields()
	c.zero(w, alertReserved, clauseAlert)
	if f.ExtendedAlert {
		c.unless(f.ExtendedType != 0, RuleReservedCode, clauseAlert)
		c.code(w, 3, 0, int(ControllerWake), clauseAlert)
	}
	if f.OCP {
		c.unless(m.PowerRole() != Sink, RuleSender, clauseAlert)
	}
}

func (c *checker) enterUSB(o EUDO) {
	w := uint32(o)
	c.zero(w, enterUSBReserved, clauseEnterUSB)
	c.code(w, 30, 28, int(USBMode4), clauseEnterUSB)
	c.code(w, 23, 21, int(SpeedUSB4Gen4), clauseEnterUSB)
	if _, ok := o.Fields().MaxCableCurrent(); !ok {
		c.add(RuleReservedCode, put(1, 18, 17), clauseEnterUSB)
	}
}

func (c *checker) eprMode(m Message, o EPRMDO) {
	w := uint32(o)
	c.zero(w, lowHalf, clauseEPRMode)
	switch o.Action() {
	case EPREnter:
		c.unless(m.PowerRole() != Source, RuleSender, clauseEPRMode)
	case EPREnterFailed:
		c.unless(m.PowerRole() != Sink, RuleSender, clauseEPRMode)
		c.code(w, 23, 16, int(firstReservedEPRFailure)-1, clauseEPRMode)
	case EPREnterAcknowledged, EPREnterSucceeded:
		c.unless(m.PowerRole() != Sink, RuleSender, clauseEPRMode)
		c.unless(o.Data() == 0, RuleUnusedData, clauseEPRMode)
	case EPRExit:
		c.unless(o.Data() == 0, RuleUnusedData, clauseEPRMode)
	default:
		c.add(RuleReservedCode, w&0xFF<<24, clauseEPRMode)
	}
}
