package pd

import "bytes"

// Clauses of data blocks.
const (
	clauseSCEDB        = by32 + "table 6.54"
	clauseSDB          = by32 + "table 6.55"
	clauseCSDB         = by32 + "table 6.56"
	clauseBatteryCap   = by32 + "table 6.57"
	clauseBCDB         = by32 + "table 6.59"
	clauseGMIDB        = by32 + "table 6.60"
	clauseMIDB         = by32 + "table 6.61"
	clausePPSSDB       = by32 + "table 6.62"
	clauseCountryCodes = by32 + "table 6.63"
	clauseCountryInfo  = by32 + "table 6.64"
	clauseSKEDB        = by32 + "table 6.65"
	clauseECDB         = by32 + "table 6.66"
	clauseECType       = by32 + "table 6.67"
)

// Largest codes and texts of the blocks' fields.
const (
	lastBattery     = 7 // 0 to 3 fixed, 4 to 7 hot-swappable
	mostBatteries   = 4 // of each kind
	lastIndicator   = 3
	lastLoadStep    = 1
	lastSourceTouch = 2
	lastTarget      = 1
	longestText     = 21
	skedbVersion    = 1
)

// ValidateBlock lists what a whole data block of an extended message breaks, chunks joined;
// nil where it breaks nothing. plug says that a cable plug sent it. A block longer than the
// standard knows may be from a later one and breaks nothing by that. r is the revision of
// the pair, 0 unknown.
func ValidateBlock(t MessageType, block []byte, plug bool, r Revision) []Violation {
	c := checker{revision: r}
	c.blockSize(t, len(block), plug)
	c.block(t, block, plug, 0)
	return c.found
}

// blockSize judges the size against the smallest and largest of any revision, and what is
// larger only where one text or list ends, as later revisions may add to a fixed layout.
func (c *checker) blockSize(t MessageType, size int, plug bool) {
	if !t.Defined() || t.Class() != Extended {
		return
	}
	least, most := t.bytes()
	switch t {
	case Status:
		if !plug {
			least = sdbLeast
		}
	case EPRSourceCapabilities, EPRSinkCapabilities:
		c.unless(size%objectBytes == 0 && size <= most, RuleDataSize, clauseEPRObjects)
	case ManufacturerInfo, CountryInfo, CountryCodes:
		c.unless(size <= most, RuleDataSize, clauseExtended)
	}
	c.unless(size >= least && size <= MaxExtendedMsgLen, RuleDataSize, clauseExtended)
}

// block judges the fields of a whole data block. role is the sender's, where known.
func (c *checker) block(t MessageType, b []byte, plug bool, role PowerRole) {
	switch t {
	case SourceCapabilitiesExtended:
		c.scedb(b)
	case Status:
		c.status(b, plug)
	case GetBatteryCap, GetBatteryStatus:
		if g, ok := ParseGBDB(b); ok {
			c.code(uint32(g), 7, 0, lastBattery, clauseBatteryCap)
		}
	case BatteryCapabilities:
		if f, ok := ParseBCDB(b); ok {
			c.zero(uint32(f.Reserved), octetMask, clauseBCDB)
		}
	case GetManufacturerInfo:
		c.gmidb(b)
	case ManufacturerInfo:
		c.midb(b)
	case PPSStatus:
		if f, ok := ParsePPSSDB(b); ok {
			c.zero(uint32(f.Reserved), octetMask, clausePPSSDB)
		}
	case CountryCodes:
		c.countryCodes(b)
	case CountryInfo:
		if f, ok := ParseCountryInfo(b); ok {
			c.zero(uint32(f.Reserved[0])|uint32(f.Reserved[1])<<8, lowHalf, clauseCountryInfo)
		}
	case SinkCapabilitiesExtended:
		c.skedb(b)
	case ExtendedControl:
		c.extendedControl(b, role)
	case EPRSourceCapabilities, EPRSinkCapabilities:
		c.eprCapabilities(supplies{wire: b, sink: t == EPRSinkCapabilities})
	}
}

const octetMask = 0xFF

// status judges the Status block. Whose it is follows from the sender, not from the size.
func (c *checker) status(b []byte, plug bool) {
	if plug {
		if f, ok := ParseCSDB(b); ok {
			c.zero(uint32(f.Reserved), octetMask, clauseCSDB)
		}
		return
	}
	f, ok := ParseSDB(b)
	if !ok {
		return
	}
	for _, reserved := range f.Reserved {
		c.zero(uint32(reserved), octetMask, clauseSDB)
	}
	state := put(int(f.PowerState), 2, 0) | put(int(f.Indicator), 5, 3)
	c.code(state, 2, 0, int(PowerStateG3), clauseSDB)
	c.code(state, 5, 3, lastIndicator, clauseSDB)
}

func (c *checker) scedb(b []byte) {
	f, ok := ParseSCEDB(b)
	if !ok {
		return
	}
	c.zero(uint32(f.VoltageRegulation), octetMask&^0b111, clauseSCEDB)
	c.code(uint32(f.VoltageRegulation), 1, 0, lastLoadStep, clauseSCEDB)
	c.zero(uint32(f.Compliance), octetMask&^0b111, clauseSCEDB)
	c.zero(uint32(f.TouchCurrent), octetMask&^0b111, clauseSCEDB)
	c.code(uint32(f.TouchTemperature), 7, 0, lastSourceTouch, clauseSCEDB)
	c.zero(uint32(f.Inputs), octetMask&^0b111, clauseSCEDB)
	c.batteries(f.Batteries, clauseSCEDB)
	c.zero(uint32(f.SPRPDPReserved), octetMask, clauseSCEDB)
}

func (c *checker) batteries(b uint8, clause string) {
	c.code(uint32(b), 3, 0, mostBatteries, clause)
	c.code(uint32(b), 7, 4, mostBatteries, clause)
}

func (c *checker) skedb(b []byte) {
	f, ok := ParseSKEDB(b)
	if !ok {
		return
	}
	c.unless(f.Version == skedbVersion, RuleReservedCode, clauseSKEDB)
	c.zero(uint32(f.LoadStep), octetMask&^0b11, clauseSKEDB)
	c.code(uint32(f.LoadStep), 1, 0, lastLoadStep, clauseSKEDB)
	c.zero(uint32(f.Compliance), octetMask&^0b111, clauseSKEDB)
	c.code(uint32(f.TouchTemperature), 7, 0, lastSourceTouch+1, clauseSKEDB)
	c.batteries(f.Batteries, clauseSKEDB)
	c.zero(uint32(f.Modes), octetMask&^0x3F, clauseSKEDB)
	for _, reserved := range f.SPRReserved {
		c.zero(uint32(reserved), octetMask, clauseSKEDB)
	}
}

func (c *checker) gmidb(b []byte) {
	f, ok := ParseGMIDB(b)
	if !ok {
		return
	}
	c.code(uint32(f.Target), 7, 0, lastTarget, clauseGMIDB)
	if f.Target == lastTarget {
		c.code(uint32(f.Reference), 7, 0, lastBattery, clauseGMIDB)
	}
}

// midb judges the text: up to 21 characters and a zero. R3.0 V1.1 has blocks that end
// after the PID.
func (c *checker) midb(b []byte) {
	f, ok := ParseMIDB(b)
	if !ok || len(f.Text) == 0 {
		return
	}
	end := bytes.IndexByte(f.Text, 0)
	c.unless(end >= 0 && end <= longestText, RuleText, clauseMIDB)
}

func (c *checker) countryCodes(b []byte) {
	f, ok := ParseCountryCodes(b)
	if !ok {
		return
	}
	c.zero(uint32(f.Reserved), octetMask, clauseCountryCodes)
	c.unless(len(f.Codes) == 2*int(f.Count), RuleDataSize, clauseCountryCodes)
}

func (c *checker) extendedControl(b []byte, role PowerRole) {
	f, ok := ParseECDB(b)
	if !ok {
		return
	}
	switch f.Type {
	case EPRGetSourceCap, EPRGetSinkCap: // dual-role ports send both
	case EPRKeepAlive:
		c.unless(role != Source, RuleSender, clauseECType)
	case EPRKeepAliveAck:
		c.unless(role != Sink, RuleSender, clauseECType)
	default:
		c.add(RuleReservedCode, uint32(f.Type), clauseECType)
		return
	}
	c.unless(f.Data == 0, RuleUnusedData, clauseECDB)
}
