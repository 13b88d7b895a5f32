package pd

import "fmt"

// Class is the kind of a message: control, data or extended (USB PD R3.2 V1.1, table 6.1,
// bits 15 and 14-12 of the header).
type Class uint8

// The classes. The zero value is Control, since a header of zeros has no objects.
const (
	Control  Class = iota // no data objects
	Data                  // 1 to 7 data objects
	Extended              // bit 15 set, a data block in place of objects
)

// String gives "control", "data" or "extended".
func (c Class) String() string {
	switch c {
	case Control:
		return "control"
	case Data:
		return "data"
	case Extended:
		return "extended"
	default:
		return fmt.Sprintf("class %d", uint8(c))
	}
}

// MessageType is class and code of a message in one comparable value. The zero value is
// the reserved control code 0, which no message has.
type MessageType uint8

const (
	typeCodeMask   = 0x1F
	typeClassShift = 5

	control  = MessageType(Control) << typeClassShift
	data     = MessageType(Data) << typeClassShift
	extended = MessageType(Extended) << typeClassShift
)

// Control messages: who sends them and to whom. SOP* is SOP, SOP' and SOP” (USB PD R3.2
// V1.1, table 6.5).
const (
	GoodCRC              MessageType = control | 0x01 // all, SOP*; acknowledges, with the same MessageID
	GotoMin                          = control | 0x02 // source, SOP; deprecated, valid in R3.0 V1.1
	Accept                           = control | 0x03 // all, SOP*
	Reject                           = control | 0x04 // all, SOP*
	Ping                             = control | 0x05 // SOP; deprecated
	PSRDY                            = control | 0x06 // source or sink, SOP; supply ready
	GetSourceCap                     = control | 0x07 // sink or DRP, SOP
	GetSinkCap                       = control | 0x08 // source or DRP, SOP
	DRSwap                           = control | 0x09 // both, SOP
	PRSwap                           = control | 0x0A // both, SOP; not in EPR
	VCONNSwap                        = control | 0x0B // both, SOP
	Wait                             = control | 0x0C // both, SOP
	SoftReset                        = control | 0x0D // both, SOP*; MessageID 0
	DataReset                        = control | 0x0E // both, SOP
	DataResetComplete                = control | 0x0F // SOP; both in table 6.5, the DFP in section 6.3.15
	NotSupported                     = control | 0x10 // all, SOP*; R3 only
	GetSourceCapExtended             = control | 0x11 // sink or DRP, SOP
	GetStatus                        = control | 0x12 // both, SOP*
	FRSwap                           = control | 0x13 // sink, SOP
	GetPPSStatus                     = control | 0x14 // sink, SOP
	GetCountryCodes                  = control | 0x15 // both, SOP
	GetSinkCapExtended               = control | 0x16 // source or DRP, SOP
	GetSourceInfo                    = control | 0x17 // sink or DRP, SOP
	GetRevision                      = control | 0x18 // both, SOP*
)

// Data messages: who sends them, to whom, and their objects (USB PD R3.2 V1.1, table 6.6).
const (
	SourceCapabilities MessageType = data | 0x01 // source or DRP, SOP; 1 to 7 PDO
	Request                        = data | 0x02 // sink, SOP; one RDO
	BIST                           = data | 0x03 // tester and ports, SOP*; BDO, with test data 7 objects
	SinkCapabilities               = data | 0x04 // sink or DRP, SOP; 1 to 7 SinkPDO
	BatteryStatus                  = data | 0x05 // both, SOP; BSDO
	Alert                          = data | 0x06 // both, SOP; ADO
	GetCountryInfo                 = data | 0x07 // both, SOP; CCDO
	EnterUSB                       = data | 0x08 // DFP, SOP*; EUDO
	EPRRequest                     = data | 0x09 // sink, SOP; RDO and a copy of the PDO asked for
	EPRMode                        = data | 0x0A // both, SOP; EPRMDO
	SourceInfo                     = data | 0x0B // source, SOP; SIDO
	RevisionMessage                = data | 0x0C // all, SOP*; RMDO. The standard calls it Revision, which is a type here
	VendorDefined                  = data | 0x0F // all, SOP*; VDMHeader and up to 6 VDO
)

// Extended messages: to whom, their data block and its Data Size; R3.0 V1.1 has shorter ones,
// see [MessageType.Shape] (USB PD R3.2 V1.1, table 6.53).
const (
	SourceCapabilitiesExtended MessageType = extended | 0x01 // SOP; SCEDB, 25 bytes
	Status                                 = extended | 0x02 // SOP*; SDB, 7 bytes, or CSDB of a plug, 2 bytes
	GetBatteryCap                          = extended | 0x03 // SOP; GBDB, 1 byte
	GetBatteryStatus                       = extended | 0x04 // SOP; GBDB, 1 byte
	BatteryCapabilities                    = extended | 0x05 // SOP; BCDB, 9 bytes
	GetManufacturerInfo                    = extended | 0x06 // SOP*; GMIDB, 2 bytes
	ManufacturerInfo                       = extended | 0x07 // SOP*; MIDB, 5 to 26 bytes
	SecurityRequest                        = extended | 0x08 // SOP*; 4 to 260 bytes
	SecurityResponse                       = extended | 0x09 // SOP*; 4 to 260 bytes
	FirmwareUpdateRequest                  = extended | 0x0A // SOP*; 4 to 260 bytes
	FirmwareUpdateResponse                 = extended | 0x0B // SOP*; 4 to 260 bytes
	PPSStatus                              = extended | 0x0C // SOP; PPSSDB, 4 bytes
	CountryInfo                            = extended | 0x0D // SOP; CountryInfoBlock, 4 to 26 bytes
	CountryCodes                           = extended | 0x0E // SOP; CountryCodesBlock, 4 to 26 bytes
	SinkCapabilitiesExtended               = extended | 0x0F // SOP; SKEDB, 24 bytes
	ExtendedControl                        = extended | 0x10 // SOP; ECDB, 2 bytes
	EPRSourceCapabilities                  = extended | 0x11 // SOP; 7 to 11 PDO, see BlockObjects
	EPRSinkCapabilities                    = extended | 0x12 // SOP; 7 to 11 SinkPDO, see BlockObjects
	VendorDefinedExtended                  = extended | 0x1E // SOP*; 4 to 260 bytes
)

var messageTypeNames = [...]string{
	GoodCRC:              "GoodCRC",
	GotoMin:              "GotoMin",
	Accept:               "Accept",
	Reject:               "Reject",
	Ping:                 "Ping",
	PSRDY:                "PS_RDY",
	GetSourceCap:         "Get_Source_Cap",
	GetSinkCap:           "Get_Sink_Cap",
	DRSwap:               "DR_Swap",
	PRSwap:               "PR_Swap",
	VCONNSwap:            "VCONN_Swap",
	Wait:                 "Wait",
	SoftReset:            "Soft_Reset",
	DataReset:            "Data_Reset",
	DataResetComplete:    "Data_Reset_Complete",
	NotSupported:         "Not_Supported",
	GetSourceCapExtended: "Get_Source_Cap_Extended",
	GetStatus:            "Get_Status",
	FRSwap:               "FR_Swap",
	GetPPSStatus:         "Get_PPS_Status",
	GetCountryCodes:      "Get_Country_Codes",
	GetSinkCapExtended:   "Get_Sink_Cap_Extended",
	GetSourceInfo:        "Get_Source_Info",
	GetRevision:          "Get_Revision",

	SourceCapabilities: "Source_Capabilities",
	Request:            "Request",
	BIST:               "BIST",
	SinkCapabilities:   "Sink_Capabilities",
	BatteryStatus:      "Battery_Status",
	Alert:              "Alert",
	GetCountryInfo:     "Get_Country_Info",
	EnterUSB:           "Enter_USB",
	EPRRequest:         "EPR_Request",
	EPRMode:            "EPR_Mode",
	SourceInfo:         "Source_Info",
	RevisionMessage:    "Revision",
	VendorDefined:      "Vendor_Defined",

	SourceCapabilitiesExtended: "Source_Capabilities_Extended",
	Status:                     "Status",
	GetBatteryCap:              "Get_Battery_Cap",
	GetBatteryStatus:           "Get_Battery_Status",
	BatteryCapabilities:        "Battery_Capabilities",
	GetManufacturerInfo:        "Get_Manufacturer_Info",
	ManufacturerInfo:           "Manufacturer_Info",
	SecurityRequest:            "Security_Request",
	SecurityResponse:           "Security_Response",
	FirmwareUpdateRequest:      "Firmware_Update_Request",
	FirmwareUpdateResponse:     "Firmware_Update_Response",
	PPSStatus:                  "PPS_Status",
	CountryInfo:                "Country_Info",
	CountryCodes:               "Country_Codes",
	SinkCapabilitiesExtended:   "Sink_Capabilities_Extended",
	ExtendedControl:            "Extended_Control",
	EPRSourceCapabilities:      "EPR_Source_Capabilities",
	EPRSinkCapabilities:        "EPR_Sink_Capabilities",
	VendorDefinedExtended:      "Vendor_Defined_Extended",
}

// NewMessageType joins a class and a code of five bits; upper bits of code are dropped.
func NewMessageType(c Class, code int) MessageType {
	return MessageType(c)<<typeClassShift | MessageType(code&typeCodeMask)
}

// Class is the class of the type.
func (t MessageType) Class() Class { return Class(t >> typeClassShift) }

// Code is the five-bit Message Type field of the header.
func (t MessageType) Code() int { return int(t & typeCodeMask) }

// Defined reports whether USB PD R3.2 V1.1 gives the code a meaning.
func (t MessageType) Defined() bool {
	return int(t) < len(messageTypeNames) && messageTypeNames[t] != ""
}

// DefinedIn reports whether the revision has the message. A header's 3.x and an unknown
// revision take the newest.
//
// R3.0 V1.1 was read and lacks Data_Reset and its neighbour, Get_Sink_Cap_Extended,
// Sink_Capabilities_Extended, Enter_USB and Vendor_Defined_Extended, which later versions of
// R3.0 have (from memory): they count as R3.0. What R2.0 has is from memory.
func (t MessageType) DefinedIn(r Revision) bool {
	return t.Defined() && r.rank() >= t.since().rank()
}

// since is the first revision with the message.
func (t MessageType) since() Revision {
	switch t {
	case GoodCRC, GotoMin, Accept, Reject, Ping, PSRDY, GetSourceCap, GetSinkCap, DRSwap, PRSwap,
		VCONNSwap, Wait, SoftReset,
		SourceCapabilities, Request, BIST, SinkCapabilities, VendorDefined:
		return Revision10
	case GetSourceInfo, GetRevision, SourceInfo, RevisionMessage, EPRRequest, EPRMode,
		ExtendedControl, EPRSourceCapabilities, EPRSinkCapabilities:
		return Revision31
	default:
		return Revision30
	}
}

// String gives the standard's own name ("Source_Capabilities", "PS_RDY"); a reserved
// code is "Reserved_0xNN".
func (t MessageType) String() string {
	if !t.Defined() {
		return fmt.Sprintf("Reserved_0x%02X", t.Code())
	}
	return messageTypeNames[t]
}

// ParseMessageType finds the type that String names, for every defined message.
func ParseMessageType(name string) (MessageType, bool) {
	if name == "" {
		return 0, false
	}
	for t, n := range messageTypeNames {
		if n == name {
			return MessageType(t), true
		}
	}
	return 0, false
}
