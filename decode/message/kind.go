package message

import "portside/pd"

// Kind is what a data object, or the block of an extended message, is read as.
type Kind uint8

// Kinds of objects and blocks.
const (
	KindOther  Kind = iota // of a message without a meaning
	KindSupply             // of a source; the kind of supply is in the object
	KindSinkSupply
	KindUnused  // a position of EPR capabilities without a supply
	KindRequest // the offer it answers is not known
	KindRequestFixed
	KindRequestBattery
	KindRequestPPS
	KindRequestAVS
	KindEPRMode
	KindAlert
	KindBatteryStatus
	KindRevision
	KindSourceInfo
	KindCountryCode
	KindEnterUSB
	KindBIST
	KindVDMHeader
	KindVDO // a vendor's own, or a mode's
	KindIDHeader
	KindIDHeaderPlug
	KindCertStat
	KindProduct
	KindPassiveCable
	KindActiveCable1
	KindActiveCable2
	KindVPD
	KindR20Cable // a cable object of R2.0
	KindAMA
	KindUFP
	KindDFP
	KindSVIDs
	KindMode

	// Blocks of extended messages.
	KindSourceCapabilitiesExtended
	KindSinkCapabilitiesExtended
	KindStatus
	KindCableStatus
	KindPPSStatus
	KindGetBatteryCap
	KindGetBatteryStatus
	KindBatteryCapabilities
	KindGetManufacturerInfo
	KindManufacturerInfo
	KindSecurity
	KindFirmware
	KindCountryInfo
	KindCountryCodes
	KindExtendedControl
	KindVendorBlock
	KindOtherBlock // of a message without a meaning
)

var kindNames = [...]string{
	KindOther:          "other",
	KindUnused:         "unused",
	KindRequest:        "rdo",
	KindRequestFixed:   "rdo-fixed",
	KindRequestBattery: "rdo-battery",
	KindRequestPPS:     "rdo-pps",
	KindRequestAVS:     "rdo-avs",
	KindEPRMode:        "epr-mode",
	KindAlert:          "alert",
	KindBatteryStatus:  "battery-status",
	KindRevision:       "revision",
	KindSourceInfo:     "source-info",
	KindCountryCode:    "country-code",
	KindEnterUSB:       "enter-usb",
	KindBIST:           "bist",
	KindVDMHeader:      "vdm-header",
	KindVDO:            "vdo",
	KindIDHeader:       "vdo-id-header",
	KindIDHeaderPlug:   "vdo-id-header",
	KindCertStat:       "vdo-cert-stat",
	KindProduct:        "vdo-product",
	KindPassiveCable:   "vdo-passive-cable",
	KindActiveCable1:   "vdo-active-cable-1",
	KindActiveCable2:   "vdo-active-cable-2",
	KindVPD:            "vdo-vpd",
	KindR20Cable:       "vdo-cable-r2.0",
	KindAMA:            "vdo-ama",
	KindUFP:            "vdo-ufp",
	KindDFP:            "vdo-dfp",
	KindSVIDs:          "vdo-svids",
	KindMode:           "vdo-mode",

	KindSourceCapabilitiesExtended: "source-capabilities-extended",
	KindSinkCapabilitiesExtended:   "sink-capabilities-extended",
	KindStatus:                     "status",
	KindCableStatus:                "cable-status",
	KindPPSStatus:                  "pps-status",
	KindGetBatteryCap:              "get-battery-cap",
	KindGetBatteryStatus:           "get-battery-status",
	KindBatteryCapabilities:        "battery-capabilities",
	KindGetManufacturerInfo:        "get-manufacturer-info",
	KindManufacturerInfo:           "manufacturer-info",
	KindSecurity:                   "security",
	KindFirmware:                   "firmware",
	KindCountryInfo:                "country-info",
	KindCountryCodes:               "country-codes",
	KindExtendedControl:            "extended-control",
	KindVendorBlock:                "vendor-block",
	KindOtherBlock:                 "other-block",
}

// IsBlock reports a kind that is a block of bytes and not a word.
func (k Kind) IsBlock() bool { return k >= KindSourceCapabilitiesExtended }

// RequestKind is how a request for that offer is read; ok is false where the
// offer is not known or reserved.
func RequestKind(offer pd.PDO, known bool) Kind {
	if !known {
		return KindRequest
	}
	switch offer.Kind() {
	case pd.KindFixed, pd.KindVariable:
		return KindRequestFixed
	case pd.KindBattery:
		return KindRequestBattery
	case pd.KindPPS:
		return KindRequestPPS
	case pd.KindSPRAVS, pd.KindEPRAVS:
		return KindRequestAVS
	default:
		return KindRequest
	}
}

// singleKind is the kind of the objects of a data message whose objects are all
// of one kind.
func singleKind(t pd.MessageType) Kind {
	switch t {
	case pd.SourceCapabilities:
		return KindSupply
	case pd.SinkCapabilities:
		return KindSinkSupply
	case pd.EPRMode:
		return KindEPRMode
	case pd.Alert:
		return KindAlert
	case pd.BatteryStatus:
		return KindBatteryStatus
	case pd.RevisionMessage:
		return KindRevision
	case pd.SourceInfo:
		return KindSourceInfo
	case pd.GetCountryInfo:
		return KindCountryCode
	case pd.EnterUSB:
		return KindEnterUSB
	case pd.BIST:
		return KindBIST
	default:
		return KindOther
	}
}
