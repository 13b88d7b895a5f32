package pd_test

import "portside/pd"

// kernelLeftOut are the macros with arguments that neither build nor pick apart a word of
// the wire.
var kernelLeftOut = []string{}

func messageCode(t pd.MessageType) uint32 { return uint32(t.Code()) }

func bistWord(m pd.BISTMode) uint32 { return uint32(pd.BISTFields{Mode: m}.Encode()) }

var kernelConstants = []kernelConstant{
	{"PD_CTRL_GOOD_CRC", messageCode(pd.GoodCRC)},
	{"PD_CTRL_GOTO_MIN", messageCode(pd.GotoMin)},
	{"PD_CTRL_ACCEPT", messageCode(pd.Accept)},
	{"PD_CTRL_REJECT", messageCode(pd.Reject)},
	{"PD_CTRL_PING", messageCode(pd.Ping)},
	{"PD_CTRL_PS_RDY", messageCode(pd.PSRDY)},
	{"PD_CTRL_GET_SOURCE_CAP", messageCode(pd.GetSourceCap)},
	{"PD_CTRL_GET_SINK_CAP", messageCode(pd.GetSinkCap)},
	{"PD_CTRL_DR_SWAP", messageCode(pd.DRSwap)},
	{"PD_CTRL_PR_SWAP", messageCode(pd.PRSwap)},
	{"PD_CTRL_VCONN_SWAP", messageCode(pd.VCONNSwap)},
	{"PD_CTRL_WAIT", messageCode(pd.Wait)},
	{"PD_CTRL_SOFT_RESET", messageCode(pd.SoftReset)},
	{"PD_CTRL_NOT_SUPP", messageCode(pd.NotSupported)},
	{"PD_CTRL_GET_SOURCE_CAP_EXT", messageCode(pd.GetSourceCapExtended)},
	{"PD_CTRL_GET_STATUS", messageCode(pd.GetStatus)},
	{"PD_CTRL_FR_SWAP", messageCode(pd.FRSwap)},
	{"PD_CTRL_GET_PPS_STATUS", messageCode(pd.GetPPSStatus)},
	{"PD_CTRL_GET_COUNTRY_CODES", messageCode(pd.GetCountryCodes)},

	{"PD_DATA_SOURCE_CAP", messageCode(pd.SourceCapabilities)},
	{"PD_DATA_REQUEST", messageCode(pd.Request)},
	{"PD_DATA_BIST", messageCode(pd.BIST)},
	{"PD_DATA_SINK_CAP", messageCode(pd.SinkCapabilities)},
	{"PD_DATA_BATT_STATUS", messageCode(pd.BatteryStatus)},
	{"PD_DATA_ALERT", messageCode(pd.Alert)},
	{"PD_DATA_GET_COUNTRY_INFO", messageCode(pd.GetCountryInfo)},
	{"PD_DATA_ENTER_USB", messageCode(pd.EnterUSB)},
	{"PD_DATA_VENDOR_DEF", messageCode(pd.VendorDefined)},

	{"PD_EXT_SOURCE_CAP_EXT", messageCode(pd.SourceCapabilitiesExtended)},
	{"PD_EXT_STATUS", messageCode(pd.Status)},
	{"PD_EXT_GET_BATT_CAP", messageCode(pd.GetBatteryCap)},
	{"PD_EXT_GET_BATT_STATUS", messageCode(pd.GetBatteryStatus)},
	{"PD_EXT_BATT_CAP", messageCode(pd.BatteryCapabilities)},
	{"PD_EXT_GET_MANUFACTURER_INFO", messageCode(pd.GetManufacturerInfo)},
	{"PD_EXT_MANUFACTURER_INFO", messageCode(pd.ManufacturerInfo)},
	{"PD_EXT_SECURITY_REQUEST", messageCode(pd.SecurityRequest)},
	{"PD_EXT_SECURITY_RESPONSE", messageCode(pd.SecurityResponse)},
	{"PD_EXT_FW_UPDATE_REQUEST", messageCode(pd.FirmwareUpdateRequest)},
	{"PD_EXT_FW_UPDATE_RESPONSE", messageCode(pd.FirmwareUpdateResponse)},
	{"PD_EXT_PPS_STATUS", messageCode(pd.PPSStatus)},
	{"PD_EXT_COUNTRY_INFO", messageCode(pd.CountryInfo)},
	{"PD_EXT_COUNTRY_CODES", messageCode(pd.CountryCodes)},

	{"PD_EXT_MAX_CHUNK_DATA", pd.MaxExtendedMsgChunkLen},
	{"VDO_MAX_OBJECTS", 6}, // USB PD R3.2 V1.1, table 6.6: seven objects with the header
	{"VSAFE5V", 5000},      // USB PD R3.2 V1.1, table 6.9: the first object

	{"EUDO_USB_MODE_USB2", uint32(pd.USBMode2)},
	{"EUDO_USB_MODE_USB3", uint32(pd.USBMode32)},
	{"EUDO_USB_MODE_USB4", uint32(pd.USBMode4)},
	{"EUDO_CABLE_SPEED_USB2", uint32(pd.SpeedUSB2)},
	{"EUDO_CABLE_SPEED_USB3_GEN1", uint32(pd.SpeedUSB3Gen1)},
	{"EUDO_CABLE_SPEED_USB4_GEN2", uint32(pd.SpeedUSB3Gen2)},
	{"EUDO_CABLE_SPEED_USB4_GEN3", uint32(pd.SpeedUSB4Gen3)},
	{"EUDO_CABLE_TYPE_PASSIVE", uint32(pd.USBCablePassive)},
	{"EUDO_CABLE_TYPE_RE_TIMER", uint32(pd.USBCableReTimer)},
	{"EUDO_CABLE_TYPE_RE_DRIVER", uint32(pd.USBCableReDriver)},
	{"EUDO_CABLE_TYPE_OPTICAL", uint32(pd.USBCableOptical)},

	{"CMDT_INIT", uint32(pd.REQ)},
	{"CMDT_RSP_ACK", uint32(pd.ACK)},
	{"CMDT_RSP_NAK", uint32(pd.NAK)},
	{"CMDT_RSP_BUSY", uint32(pd.BUSY)},
	{"CMD_DISCOVER_IDENT", uint32(pd.DiscoverIdentity)},
	{"CMD_DISCOVER_SVID", uint32(pd.DiscoverSVIDs)},
	{"CMD_DISCOVER_MODES", uint32(pd.DiscoverModes)},
	{"CMD_ENTER_MODE", uint32(pd.EnterMode)},
	{"CMD_EXIT_MODE", uint32(pd.ExitMode)},
	{"CMD_ATTENTION", uint32(pd.Attention)},
	{"USB_SID_PD", uint32(pd.SVIDPowerDelivery)},
	// USB PD R3.2 V1.1, table 6.31, gives FF01h another name than the headers do.
	{"USB_SID_DISPLAYPORT", uint32(pd.SVIDDisplayPort)},

	{"IDH_PTYPE_NOT_UFP", uint32(pd.NotUFP)},
	{"IDH_PTYPE_HUB", uint32(pd.UFPHub)},
	{"IDH_PTYPE_PERIPH", uint32(pd.UFPPeripheral)},
	{"IDH_PTYPE_PSD", uint32(pd.UFPPowerSink)},
	{"IDH_PTYPE_AMA", uint32(pd.UFPAdapter)},
	{"IDH_PTYPE_NOT_CABLE", uint32(pd.NotPlug)},
	{"IDH_PTYPE_PCABLE", uint32(pd.PassiveCable)},
	{"IDH_PTYPE_ACABLE", uint32(pd.ActiveCable)},
	{"IDH_PTYPE_VPD", uint32(pd.VPD)},
	{"IDH_PTYPE_NOT_DFP", uint32(pd.NotDFP)},
	{"IDH_PTYPE_DFP_HUB", uint32(pd.DFPHub)},
	{"IDH_PTYPE_DFP_HOST", uint32(pd.DFPHost)},
	{"IDH_PTYPE_DFP_PB", uint32(pd.DFPPowerBrick)},
	{"UFP_RECEPTACLE", uint32(pd.ConnectorReceptacle)},
	{"UFP_CAPTIVE", uint32(pd.ConnectorPlug)},
	{"CABLE_CTYPE", uint32(pd.CableTypeC)},
	{"CABLE_CAPTIVE", uint32(pd.CableCaptive)},
	{"CABLE_USB2_ONLY", uint32(pd.SpeedUSB2)},
	{"CABLE_USB32_GEN1", uint32(pd.SpeedUSB3Gen1)},
	{"CABLE_USB32_4_GEN2", uint32(pd.SpeedUSB3Gen2)},
	{"CABLE_USB4_GEN3", uint32(pd.SpeedUSB4Gen3)},

	{"BDO_MODE_CARRIER2", bistWord(pd.BISTCarrier)},
	{"BDO_MODE_TESTDATA", bistWord(pd.BISTTestData)},
}
