package pd_test

import "portside/pd"

// kernelDifference is a macro or function that differs from the standard. Its pd is how pd
// reads or builds the word the way the headers do; standard is how USB PD R3.2 V1.1 does.
type kernelDifference struct {
	kernelCheck
	clause   string
	standard func(x []uint32) uint32
}

const (
	position    = nibble          // four bits
	requestMV32 = 2*requestMV + 1 // twelve bits of 20 mV
)

func fixedRequestAt(position uint32) uint32 {
	return uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: int(position)}}.Encode())
}

// oldMV cuts the voltage of a request to eleven bits of 20 mV.
func oldMV(mv uint32) uint32 { return mv / 20 & (1<<11 - 1) * 20 }

var kernelDifferences = []kernelDifference{
	{
		kernelCheck{"rdo_index", "rdo_index(a)", numbers{anyWord}, func(x numbers) uint32 {
			return uint32(pd.RDO(x[0]).PositionFor(pd.Revision30))
		}},
		"USB PD R3.2 V1.1, table 6.23: four bits of object position; R3.0 V1.1 has three",
		func(x numbers) uint32 { return uint32(pd.RDO(x[0]).PositionFor(pd.Revision32)) },
	},
	{
		kernelCheck{"RDO_OBJ", "RDO_OBJ(a)", numbers{position}, func(x numbers) uint32 { return fixedRequestAt(x[0] & 7) }},
		"USB PD R3.2 V1.1, table 6.23: four bits of object position; R3.0 V1.1 has three",
		func(x numbers) uint32 { return fixedRequestAt(x[0]) },
	},
	{
		kernelCheck{"PDO_PROG_OUT_VOLT", "PDO_PROG_OUT_VOLT(a)", numbers{requestMV32}, func(x numbers) uint32 {
			return ppsRequestWith(0, oldMV(x[0]), 0, 0)
		}},
		"USB PD R3.2 V1.1, table 6.25: twelve bits of voltage, 20 to 9; the headers have eleven",
		func(x numbers) uint32 { return ppsRequestWith(0, x[0], 0, 0) },
	},
	{
		kernelCheck{"RDO_PROG", "RDO_PROG(a, b, c, 0)", numbers{three, requestMV32, ppsMA}, func(x numbers) uint32 {
			return ppsRequestWith(x[0], oldMV(x[1]), x[2], 0)
		}},
		"USB PD R3.2 V1.1, table 6.25: twelve bits of voltage, 20 to 9; the headers have eleven",
		func(x numbers) uint32 { return ppsRequestWith(x[0], x[1], x[2], 0) },
	},
	{
		kernelCheck{"VDO_PCABLE", "VDO_PCABLE(a, b, c, d, e, f, g, h, i)", numbers{nibble, nibble, three, twoBits, nibble, twoBits, twoBits, twoBits, three}, func(x numbers) uint32 {
			return passiveCableWith(x, false)
		}},
		"USB PD R3.2 V1.1, table 6.41: bit 17 is EPR Capable; the headers reserve it",
		func(x numbers) uint32 { return passiveCableWith(x, true) },
	},
	{
		kernelCheck{"VDO_ACABLE2", "VDO_ACABLE2(a, b, c, d, e, f, g, h, i, j, k, l, m)", numbers{octet, octet, three, one, one, one, one, twoBits, one, one, one, one, one}, func(x numbers) uint32 {
			return activeCable2With(x, false)
		}},
		"USB PD R3.2 V1.1, table 6.43: bit 1 is asymmetric USB4; the headers reserve it",
		func(x numbers) uint32 { return activeCable2With(x, true) },
	},
	{
		// The headers ask about the byte, not the bit: an extended alert has no name there.
		kernelCheck{"usb_pd_ado_type", "usb_pd_ado_type(a) & ~(USB_PD_ADO_TYPE_BATT_STATUS_CHANGE | USB_PD_ADO_TYPE_OCP | USB_PD_ADO_TYPE_OTP | USB_PD_ADO_TYPE_OP_COND_CHANGE | USB_PD_ADO_TYPE_SRC_INPUT_CHANGE | USB_PD_ADO_TYPE_OVP)", numbers{anyWord}, func(x numbers) uint32 {
			f := pd.ADO(x[0]).Fields()
			return number(f.ExtendedAlert)<<7 | f.Reserved>>24
		}},
		"USB PD R3.2 V1.1, table 6.47: bit 31 is Extended Alert; the headers have no name for it",
		func(x numbers) uint32 { return pd.ADO(x[0]).Fields().Reserved >> 24 },
	},
}

// kernelTime is a time or count of the headers, in ms or plain, that the standard limits.
type kernelTime struct {
	name      string
	parameter pd.Parameter
	revision  pd.Revision
	differs   string // why it is outside
}

var kernelTimes = []kernelTime{
	{"PD_T_NO_RESPONSE", pd.TNoResponse, pd.Revision32, ""},
	{"PD_T_SEND_SOURCE_CAP", pd.TTypeCSendSourceCap, pd.Revision32, ""},
	{"PD_T_SENDER_RESPONSE", pd.TSenderResponse, pd.Revision32, "the headers relax it to 60 ms, by their own comment"},
	{"PD_T_SENDER_RESPONSE", pd.TSenderResponse, pd.Revision30, "the headers relax it to 60 ms, by their own comment"},
	{"PD_T_RECEIVER_RESPONSE", pd.TReceiverResponse, pd.Revision32, ""},
	{"PD_T_SINK_WAIT_CAP", pd.TTypeCSinkWaitCap, pd.Revision32, ""},
	{"PD_T_PS_TRANSITION", pd.TPSTransitionSPR, pd.Revision32, ""},
	{"PD_T_SRC_TRANSITION", pd.TSrcTransition, pd.Revision32, ""},
	{"PD_T_PS_SOURCE_OFF", pd.TPSSourceOffSPR, pd.Revision32, ""},
	{"PD_T_PS_SOURCE_ON", pd.TPSSourceOn, pd.Revision32, ""},
	{"PD_T_PS_SOURCE_ON_PRS", pd.TPSSourceOn, pd.Revision32, ""},
	{"PD_T_PS_HARD_RESET", pd.TPSHardReset, pd.Revision32, ""},
	{"PD_T_SRC_RECOVER", pd.TSrcRecoverSPR, pd.Revision32, ""},
	{"PD_T_SRC_RECOVER_MAX", pd.TSrcRecoverSPR, pd.Revision32, ""},
	{"PD_T_SRC_TURN_ON", pd.TSrcTurnOn, pd.Revision32, ""},
	{"PD_T_SAFE_0V", pd.TSafe0V, pd.Revision32, ""},
	{"PD_T_VCONN_SOURCE_ON", pd.TVCONNSourceOn, pd.Revision30, ""},
	{"PD_T_VCONN_SOURCE_ON", pd.TVCONNSourceOn, pd.Revision32, "100 ms in R3.0 V1.1, 50 ms in R3.2 V1.1"},
	{"PD_T_SINK_REQUEST", pd.TSinkRequest, pd.Revision32, ""},
	{"PD_T_ERROR_RECOVERY", pd.TErrorRecovery, pd.Revision32, ""},
	{"PD_T_SRCSWAPSTDBY", pd.TSrcSwapStdby, pd.Revision32, ""},
	{"PD_T_NEWSRC", pd.TNewSrc, pd.Revision32, ""},
	{"PD_T_SWAP_SRC_START", pd.TSwapSourceStart, pd.Revision32, ""},
	{"PD_T_BIST_CONT_MODE", pd.TBISTContMode, pd.Revision32, ""},
	{"PD_T_SINK_TX", pd.TSinkTx, pd.Revision32, ""},
	{"PD_T_CHUNK_NOT_SUPP", pd.TChunkingNotSupported, pd.Revision32, ""},
	{"PD_T_DRP_TRY", pd.TDRPTry, pd.Revision32, ""},
	{"PD_T_DRP_TRYWAIT", pd.TDRPTryWait, pd.Revision32, ""},
	{"PD_T_CC_DEBOUNCE", pd.TCCDebounce, pd.Revision32, ""},
	{"PD_T_PD_DEBOUNCE", pd.TPDDebounce, pd.Revision32, ""},
	{"PD_T_TRY_CC_DEBOUNCE", pd.TTryCCDebounce, pd.Revision32, ""},
	{"PD_T_VDM_BUSY", pd.TVDMBusy, pd.Revision32, ""},
	{"PD_T_VDM_WAIT_MODE_E", pd.TVDMWaitModeEntry, pd.Revision32, "the headers wait 100 ms, the standard 40 to 50"},
	{"PD_T_VDM_SNDR_RSP", pd.TVDMSenderResponse, pd.Revision32, ""},
	{"PD_T_VDM_E_MODE", pd.TVDMEnterMode, pd.Revision32, ""},
	{"PD_T_VDM_RCVR_RSP", pd.TVDMReceiverResponse, pd.Revision32, ""},
	{"PD_N_HARD_RESET_COUNT", pd.NHardResetCount, pd.Revision32, ""},
	{"PD_N_CAPS_COUNT", pd.NCapsCount, pd.Revision32, "the headers derive 33 from two times, the standard says 50"},
	{"PD_P_SNK_STDBY_MW", pd.PSnkStdby, pd.Revision30, ""},
}
