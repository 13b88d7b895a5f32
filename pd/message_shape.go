package pd

// MessageShape is what the standard allows a message to look like (USB PD R3.2 V1.1, tables
// 6.5, 6.6 and 6.53, sizes in sections 6.5.1 to 6.5.16; smaller sizes of R3.0 V1.1
// included). Decoding does not ask for it: it is for those who judge.
type MessageShape struct {
	MinObjects, MaxObjects int  // of a data message; 0 for others
	MinBytes, MaxBytes     int  // Data Size of an extended message; 0 for others
	Cable                  bool // may go to or come from a cable plug
}

// Shape gives the shape of the type; ok is false for a reserved code.
func (t MessageType) Shape() (s MessageShape, ok bool) {
	if !t.Defined() {
		return MessageShape{}, false
	}
	s = MessageShape{Cable: t.cable()}
	switch t.Class() {
	case Control: // has neither
	case Data:
		s.MinObjects, s.MaxObjects = t.objects()
	case Extended:
		s.MinBytes, s.MaxBytes = t.bytes()
	}
	return s, true
}

// cable reports SOP* in the tables.
func (t MessageType) cable() bool {
	switch t {
	case GoodCRC, Accept, Reject, SoftReset, NotSupported, GetStatus, GetRevision,
		BIST, EnterUSB, RevisionMessage, VendorDefined,
		Status, GetManufacturerInfo, ManufacturerInfo, SecurityRequest, SecurityResponse,
		FirmwareUpdateRequest, FirmwareUpdateResponse, VendorDefinedExtended:
		return true
	default:
		return false
	}
}

const maxObjects = 7

func (t MessageType) objects() (least, most int) {
	switch t {
	case SourceCapabilities, SinkCapabilities, VendorDefined, BIST:
		return 1, maxObjects
	case EPRRequest:
		return 2, 2
	default:
		return 1, 1
	}
}

func (t MessageType) bytes() (least, most int) {
	const (
		smallText     = 26
		smallest      = 4
		eprObjectsMin = 7
		eprObjectsMax = 11
	)
	switch t {
	case SourceCapabilitiesExtended:
		return scedbLeast, scedbBytes
	case Status:
		return csdbBytes, sdbBytes
	case GetBatteryCap, GetBatteryStatus:
		return 1, 1
	case BatteryCapabilities:
		return bcdbBytes, bcdbBytes
	case GetManufacturerInfo:
		return gmidbBytes, gmidbBytes
	case ManufacturerInfo, CountryInfo, CountryCodes:
		return smallest, smallText
	case PPSStatus:
		return ppssdbBytes, ppssdbBytes
	case SinkCapabilitiesExtended:
		return skedbLeast, skedbBytes
	case ExtendedControl:
		return ecdbBytes, ecdbBytes
	case EPRSourceCapabilities, EPRSinkCapabilities:
		return eprObjectsMin * objectBytes, eprObjectsMax * objectBytes
	default: // security, firmware update, vendor-defined
		return smallest, MaxExtendedMsgLen
	}
}
