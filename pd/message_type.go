package pd

import "fmt"

// Class is the kind of a message: control, data or extended.
type Class uint8

// The classes. The zero value is Control, since a header of zeros has no objects.
const (
	Control Class = iota
	Data
	Extended
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

// Control messages (USB PD R3.2 V1.1, table 6.5).
const (
	GoodCRC              MessageType = control | 0x01
	GotoMin                          = control | 0x02 // deprecated; valid in R3.0 V1.1
	Accept                           = control | 0x03
	Reject                           = control | 0x04
	Ping                             = control | 0x05 // deprecated
	PSRDY                            = control | 0x06
	GetSourceCap                     = control | 0x07
	GetSinkCap                       = control | 0x08
	DRSwap                           = control | 0x09
	PRSwap                           = control | 0x0A
	VCONNSwap                        = control | 0x0B
	Wait                             = control | 0x0C
	SoftReset                        = control | 0x0D
	DataReset                        = control | 0x0E
	DataResetComplete                = control | 0x0F
	NotSupported                     = control | 0x10
	GetSourceCapExtended             = control | 0x11
	GetStatus                        = control | 0x12
	FRSwap                           = control | 0x13
	GetPPSStatus                     = control | 0x14
	GetCountryCodes                  = control | 0x15
	GetSinkCapExtended               = control | 0x16
	GetSourceInfo                    = control | 0x17
	GetRevision                      = control | 0x18
)

// Data messages (USB PD R3.2 V1.1, table 6.6).
const (
	SourceCapabilities MessageType = data | 0x01
	Request                        = data | 0x02
	BIST                           = data | 0x03
	SinkCapabilities               = data | 0x04
	BatteryStatus                  = data | 0x05
	Alert                          = data | 0x06
	GetCountryInfo                 = data | 0x07
	EnterUSB                       = data | 0x08
	EPRRequest                     = data | 0x09
	EPRMode                        = data | 0x0A
	SourceInfo                     = data | 0x0B
	RevisionMessage                = data | 0x0C // the standard's Revision; the Go name is the type's
	VendorDefined                  = data | 0x0F
)

// Extended messages (USB PD R3.2 V1.1, table 6.53).
const (
	SourceCapabilitiesExtended MessageType = extended | 0x01
	Status                                 = extended | 0x02
	GetBatteryCap                          = extended | 0x03
	GetBatteryStatus                       = extended | 0x04
	BatteryCapabilities                    = extended | 0x05
	GetManufacturerInfo                    = extended | 0x06
	ManufacturerInfo                       = extended | 0x07
	SecurityRequest                        = extended | 0x08
	SecurityResponse                       = extended | 0x09
	FirmwareUpdateRequest                  = extended | 0x0A
	FirmwareUpdateResponse                 = extended | 0x0B
	PPSStatus                              = extended | 0x0C
	CountryInfo                            = extended | 0x0D
	CountryCodes                           = extended | 0x0E
	SinkCapabilitiesExtended               = extended | 0x0F
	ExtendedControl                        = extended | 0x10
	EPRSourceCapabilities                  = extended | 0x11
	EPRSinkCapabilities                    = extended | 0x12
	VendorDefinedExtended                  = extended | 0x1E
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
