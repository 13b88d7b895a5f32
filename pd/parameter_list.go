package pd

// Parameter is a timer, a counter or an electrical value of the standards; Limits gives
// its numbers. The zero value is unknown.
type Parameter uint16

// The parameters, by the standards' names.
const (
	unknownParameter Parameter = iota

	// Timers (USB PD R3.2 V1.1, table 6.68), who keeps them and from where to where.
	TTransmit                     // receiver of a message: last bit of its EOP received, until first preamble bit of GoodCRC
	TReceive                      // CRCReceiveTimer, sender: last bit of own EOP sent, until last bit of the GoodCRC's EOP received
	TRetry                        // sender: CRCReceiveTimer expiry, until first preamble bit of the retry
	TReceiverResponse             // receiver of a request: last bit of its GoodCRC's EOP sent, until first preamble bit of the answer
	TSenderResponse               // SenderResponseTimer, sender: last bit of GoodCRC to the request received, until last bit of GoodCRC to the answer sent
	TTypeCSendSourceCap           // SourceCapabilityTimer, source: interval between attempts of Source_Capabilities while no GoodCRC has come
	TFirstSourceCap               // source: VBUS at vSafe5V (attach, hard reset, PR/FR swap), or GoodCRC of the Accept to a Soft_Reset, or GoodCRC of EPR_Mode Enter Succeeded / Exit, until first capabilities message
	TTypeCSinkWaitCap             // SinkWaitCapTimer, sink: VBUS present (or EPR entry/exit GoodCRC), until Hard Reset if no capabilities
	TSinkRequest                  // sink: EOP of Wait, until next Request
	TSinkTx                       // SinkTxTimer, source: Rp set to SinkTxNG, until source may start an AMS
	TSinkDelay                    // sink: SinkTxNG asserted, until sink no longer starts an AMS
	TSrcHoldsBus                  // source: allowed to keep the bus (no Rp change) between back-to-back sequences
	TPSTransitionSPR              // PSTransitionTimer, sink: last bit of GoodCRC to Accept sent, until last bit of GoodCRC to PS_RDY sent; expiry = Hard Reset
	TPSTransitionEPR              // PSTransitionTimer, sink: the same, in or into EPR
	TPSSourceOffSPR               // PSSourceOffTimer, sink side of a role swap: GoodCRC to Accept, until GoodCRC to PS_RDY; expiry = Error Recovery
	TPSSourceOffEPR               // PSSourceOffTimer: the same, in EPR
	TPSSourceOn                   // PSSourceOnTimer, old source: GoodCRC to own PS_RDY, until GoodCRC to partner's PS_RDY; expiry = Error Recovery
	TSwapSourceStart              // new source: GoodCRC to its PS_RDY, until first Source_Capabilities
	TSwapSinkReady                // new sink: its GoodCRC to PS_RDY, until able to receive capabilities
	TPRSwapWait                   // requester: EOP of Wait, until next PR_Swap
	TDRSwapWait                   // requester: EOP of Wait, until next DR_Swap
	TVCONNSwapWait                // requester: EOP of Wait, until next VCONN_Swap
	TVCONNSwapDelayDFP            // DFP that lost VCONN: GoodCRC to PS_RDY, until own VCONN_Swap
	TVCONNSwapDelayUFP            // UFP that lost VCONN: GoodCRC to PS_RDY, until own VCONN_Swap
	TEnterUSBWait                 // DFP: EOP of Wait, until next Enter_USB
	TEnterUSB                     // DFP: connection, Data_Reset_Complete or DR_Swap Accept, until Enter_USB
	TPSHardReset                  // PSHardResetTimer, source: last bit of Hard Reset sent or received, until VBUS starts down, VCONN off
	THardReset                    // sender: last CRCReceiveTimer expiry of a failed Soft_Reset, until Hard Reset
	THardResetComplete            // HardResetCompleteTimer: request to PHY, until treated as sent although the line was busy
	TNoResponse                   // NoResponseTimer, source (R3.2): Hard Reset, until GoodCRC to Source_Capabilities; expiry = another Hard Reset up to nHardResetCount
	TSoftReset                    // sender: CRCReceiveTimer expiry after last retry, until Soft_Reset fully sent
	TProtErrSoftReset             // receiver of an unexpected message: EOP of its GoodCRC, until Soft_Reset fully sent
	TProtErrHardReset             // receiver: EOP of its GoodCRC, until Hard Reset fully sent
	TDRSwapHardReset              // receiver of DR_Swap in modal operation: EOP of its GoodCRC, until Hard Reset
	TPPSRequest                   // SinkPPSPeriodicTimer, sink: entry to ready state in a PPS contract, until next PPS Request
	TPPSTimeout                   // SourcePPSCommTimer, source: entry to ready state in a PPS contract, until Hard Reset if no traffic
	TEnterEPR                     // SinkEPREnterTimer, sink: GoodCRC to EPR_Mode Enter, until GoodCRC to Enter Succeeded; expiry = Soft_Reset
	TSinkEPRKeepAlive             // sink in EPR: last traffic, until EPR_KeepAlive
	TSourceEPRKeepAlive           // source in EPR: last traffic, until Hard Reset
	TEPRSourceCableDiscovery      // EPR source: GoodCRC to first PS_RDY, until Discover Identity to the cable (VCONN swap included)
	TCapabilitiesMismatchResponse // source with reported PDP below present PDP: PS_RDY after a Request with mismatch, until new capabilities
	TVDMSenderResponse            // VDMResponseTimer, initiator: GoodCRC to the command, until GoodCRC to the response
	TVDMReceiverResponse          // responder: EOP of GoodCRC to the command, until first preamble bit of the response
	TVDMBusy                      // initiator: BUSY received, until repeat
	TVDMEnterMode                 // responder: Enter Mode, until response
	TVDMExitMode                  // responder: Exit Mode, until response; also leave modes after detach or Hard Reset
	TVDMWaitModeEntry             // initiator: Enter Mode, until response
	TVDMWaitModeExit              // initiator: Exit Mode, until response
	TDiscoverIdentity             // port probing a cable: interval between Discover Identity to SOP' in a contract
	TCableMessage                 // cable plug at PD2 only: wait before an SOP'/SOP'' packet
	TChunkingNotSupported         // port without chunking: chunk of a multi-chunk message, until Not_Supported not before
	TChunkSenderRequest           // chunk sender: GoodCRC to chunk, until GoodCRC to the next chunk request
	TChunkSenderResponse          // chunk requester: GoodCRC to request, until GoodCRC to the chunk
	TChunkReceiverRequest         // chunk requester: its GoodCRC, until first preamble bit of the request
	TChunkReceiverResponse        // chunk sender: its GoodCRC, until first preamble bit of the chunk
	TVCONNSourceOn                // new VCONN source: Accept, until VCONN on and PS_RDY
	TVCONNSourceOff               // old VCONN source: GoodCRC to PS_RDY, until VCONN off
	TVCONNSourceTimeout           // VCONNOnTimer: GoodCRC to Accept, until PS_RDY
	TVCONNSourceDischarge         // VCONNDischargeTimer, DFP in Data Reset: GoodCRC to Accept, until PS_RDY of the UFP; expiry = Error Recovery
	TDataReset                    // DFP: GoodCRC to Accept, until process complete
	TDataResetFail                // DFP: expiry = Error Recovery
	TDataResetFailUFP             // UFP: expiry = Error Recovery
	TFRSwapInit                   // initial sink: Fast Role Swap signal detected, until last bit of FR_Swap's EOP
	TFRSwap5V                     // initial source: Accept sent and VBUS at/below vSafe5V, until PS_RDY starts
	TFRSwapComplete               // initial sink: PS_RDY received, until own PS_RDY
	TBISTContMode                 // unit under test: length of the continuous carrier
	TBISTCarrierMode              // unit under test: GoodCRC to BIST, until carrier starts
	TBISTSharedTestMode           // shared-capacity charger: GoodCRC to BIST, until new capabilities on all ports
	TACTempUpdate                 // active cable plug: interval of its temperature report

	// Electrical values of both sides (USB PD R3.2 V1.1, table 7.25).
	VSafe0V         // VBUS that counts as off
	VSafe5V         // VBUS of 5 V, and the window of a 5 V contract
	TSafe0V         // start of the fall to vSafe0V
	TSafe5V         // start of the fall to vSafe5V
	TVCONNReapplied // Data_Reset: VCONN off before it comes back
	TVCONNValid     // VCONN source told to switch on, to valid
	TVCONNZero      // VCONN off to discharged

	// Source (USB PD R3.2 V1.1, table 7.23).
	CSrcBulk               // source with a supply of its own
	CSrcBulkShared         // source with a supply shared between ports
	VSrcNew                // steady voltage of a fixed contract
	VSrcValid              // allowed beyond vSrcNew in transients and transitions
	VSrcPeak               // steady voltage during an allowed overload
	VSrcSlewPos            // rising, not at attach, role swap and Hard Reset
	VSrcSlewNeg            // falling, with the same exceptions
	VSrcNeg                // lowest voltage ever in a transition
	VSmallStep             // smaller rises do not count as an increase
	TSrcTransition         // GoodCRC to Accept, until VBUS starts to move
	TSrcSettleSPR          // VBUS starts to move, until inside vSrcNew
	TSrcSettleEPR          // the same where the transition begins or ends in EPR
	TSrcReadySPR           // VBUS starts to move, until ready for full current
	TSrcReadyEPR           // the same in EPR
	TSrcTransReqSPR        // GoodCRC to Accept, until PS_RDY starts
	TSrcTransReqEPR        // the same in EPR
	TSrcTransOff           // PR_Swap: Accept, until PS_RDY of the old source
	TSrcTransOn            // PR_Swap: PS_RDY of the old source, until that of the new
	TSrcTransient          // load step to inside vSrcNew, target load of 60 mA or more
	TSrcTransientLightLoad // the same below 60 mA
	TSrcRecoverSPR         // Hard Reset: VBUS stays at vSafe0V
	TSrcRecoverEPR         // the same in EPR
	TSrcTurnOn             // vSafe0V to vSafe5V
	TSrcSwapStdby          // PR_Swap: VBUS down to vSafe0V
	TSrcFRSwap             // Fast Role Swap: VBUS below vSafe5V to the new source feeding
	TNewSnk                // source turned sink
	VPpsNew                // steady voltage of a PPS contract
	VPpsValid              // allowed beyond vPpsNew
	VPpsStep               // step of the voltage asked for
	VPpsSmallStep          // largest small step
	VPpsSlewPos            // rising
	VPpsSlewNeg            // falling
	VPpsMinVoltage         // at the lower end of the range offered
	VPpsMaxVoltage         // at the upper end of the range offered
	VPpsShutdown           // in current limit below this the source may give up
	TPpsSrcTransSmall      // GoodCRC to Accept, until settled and PS_RDY, small step
	TPpsSrcTransLarge      // the same, larger step
	TPpsTransient          // load step to inside vPpsNew, target load of 60 mA or more
	TPpsTransientLightLoad // the same below 60 mA
	IPpsCLMin              // lowest current limit
	IPpsCLStep             // step of the current limit
	IPpsCLNew              // error of the current limit, 1 to 3 A
	IPpsCLNewAbove3A       // error of the current limit above 3 A
	IPpsCLTransient        // beyond the new load after a step in current limit
	IPpsCVCLTransient      // from the current limit (minimum) to the new load (maximum), in the change from voltage to limit
	VPpsCLCVTransient      // beyond ±5 % of the voltage asked for, in the change from limit to voltage
	IPpsCLLoadStepRate     // load steps that the source must follow
	IPpsCLLoadReleaseRate  // load releases that the source must follow
	TPpsCLProgramSettle    // new current limit to settled
	TPpsCLSettle           // load step in current limit to settled
	TPpsCVCLTransient      // constant voltage to current limit
	TPpsCLCVTransient      // current limit to constant voltage
	VAvsNew                // steady voltage of an AVS contract
	VAvsValid              // allowed beyond vAvsNew
	VAvsStep               // step of the voltage asked for
	VAvsSmallStep          // largest small step
	TAvsSrcTransSmall      // GoodCRC to Accept, until settled and PS_RDY, small step
	TAvsSrcTransLarge      // the same, larger step and entry into AVS
	TAvsTransient          // load step to inside vAvsNew
	VAvsSlewPos            // rising
	VAvsSlewNeg            // falling
	DNL                    // error between neighbouring steps

	// Sink (USB PD R3.2 V1.1, table 7.24).
	CSnkBulkPd           // sink's bulk capacitance after a contract
	ISnkStdby            // sink while VBUS rises, Accept to PS_RDY
	ISnkSwapStdby        // sink in a role swap
	ISafe0mA             // sink while VBUS is driven to vSafe0V
	ILoadStepRate        // at the sink's receptacle
	ILoadReleaseRate     // at the sink's receptacle
	IOvershoot           // around the settled current
	IPpsCLLoadStep       // change of load while in current limit
	PSnkSusp             // sink in USB suspend
	PHubSusp             // hub in USB suspend
	TSnkStdby            // Accept to standby current
	TSnkNewPower         // PS_RDY to normal current
	TSnkHardResetPrepare // Hard Reset to ready for VBUS off
	TSnkRecover          // VBUS at vSafe5V to able to communicate
	TSnkSwapStdby        // PR_Swap: Accept to standby current
	TSnkFRSwap           // Fast Role Swap: time to drop the load
	TNewSrc              // sink turned source: VBUS at vSafe5V
	VSprMax              // a sink should stand this in SPR
	VEprMax              // a sink should stand this in EPR

	// Bit rate on the line (USB PD R3.2 V1.1, table 5.17).
	FBitRate      // before BMC
	TUnitInterval // one bit

	// Transmitter (USB PD R3.2 V1.1, table 5.18).
	PBitRate       // largest drift inside a packet
	TEndDriveBMC   // end of the last bit to driver released
	THoldLowBMC    // low held after the last edge
	TInterFrameGap // end of a frame to the next preamble
	TStartDrive    // drive may start this much around the first bit
	TRise          // 10 to 90 %
	TFall          // 90 to 10 %
	VSwing         // high level on CC
	ZDriver        // at 750 kHz
	TFRSwapTx      // length of the Fast Role Swap pulse
	RFRSwapTx      // driver of the Fast Role Swap pulse

	// Receiver (USB PD R3.2 V1.1, table 5.19).
	CReceiver         // each port while it does not send
	NTransitionCount  // edges inside tTransitionWindow that make the line busy
	TTransitionWindow // window of the idle detection
	TRxFilter         // time constant of the receive filter
	TFRSwapRx         // CC low for this long is a Fast Role Swap request
	VFRSwapCableTx    // CC below this is low for Fast Role Swap
	VIRDropGNDC       // ground shift by the cable's current
	VNoiseActive      // noise while a frame is on the line
	VNoiseIdle        // smaller signals on an idle line are noise
	ZBmcRx            // receiver input

	// What a sink may draw in standby by USB PD R3.0 V1.1; R3.2 has iSnkStdby instead.
	PSnkStdby
	// Bulk capacitance of a sink at attach; R3.2 only refers to USB 3.2.
	CSnkBulk

	// Counters (USB PD R3.2 V1.1, table 6.70).
	NRetryCount            // repeats of a message without GoodCRC
	NHardResetCount        // then the partner does not respond
	NCapsCount             // optional; at least so many Source_Capabilities without GoodCRC
	NDiscoverIdentityCount // tries to read the cable
	NMessageIDCount        // highest MessageID
	NBusyCount             // answers BUSY taken; 1 for the timing of alternate modes

	// USB Type-C times (USB Type-C R2.1, tables 4-29 to 4-31).
	TVBUSON             // source: Attached.SRC to VBUS at vSafe5V
	TVBUSOFF            // source: sink gone to VBUS at vSafe0V
	TVCONNON            // source: VBUS on to VCONN on
	TVCONNONPA          // the same, powered accessory
	TVCONNOFF           // source: sink gone to VCONN off
	TSinkAdj            // sink: Rp changed to current followed
	TDRP                // period of the role toggling
	TDRPTransition      // change of role while toggling
	TDRPTry             // wait in Try
	TDRPTryWait         // wait in TryWait
	TTryTimeout         // end of Try
	TCCDebounce         // attach: CC steady for this long
	TPDDebounce         // detach and change of Rp: CC steady for this long
	TTryCCDebounce      // CC steady while trying
	TErrorRecovery      // terminations off for this long
	TErrorRecoveryVCONN // the same where it sourced VCONN
	TRpValueChange      // Rp steady for this long counts as changed
	TSRCDisconnect      // source: open CC to Unattached.SRC
	TSinkDisconnect     // sink: VBUS gone to Unattached.SNK
	TVCONNStable        // plug: VCONN valid to ready
	TVCONNDischarge     // VCONN off to discharged

	// USB Type-C terminations and levels.
	IRpDefault          // current source of default USB current
	IRp1A5              // current source of 1.5 A
	IRp3A0              // current source of 3.0 A
	RRd                 // pull-down of a sink that tells 1.5 A and 3 A
	RRa                 // pull-down on VCONN of a powered cable
	VCCOpen             // CC at the sink: no source
	VCCDefault          // CC at the sink: default USB current
	VCC1A5              // CC at the sink: 1.5 A
	VCC3A0              // CC at the sink: 3.0 A
	VCCDefaultOnlySink  // CC at a sink that does not tell currents
	VSinkDisconnect     // sink: VBUS below is a detach, contract up to 5 V
	VSinkPDAllowance    // below the lowest source voltage by this is vSinkPD_min
	VSinkDisconnectPD   // share of vSinkPD_min below which a sink sees a detach
	VVCONNValid         // VCONN at the plug
	IDefaultUSB2        // default current of a USB 2.0 port
	IDefaultUSB3        // default current of a USB 3.2 port, one lane
	IDefaultUSB3TwoLane // default current of a USB 3.2 port, two lanes
	VCableDropVBUS      // along the cable at rated current, both mated ends included
	VCableDropGND       // the same in the ground wire
	RContactNew         // contact resistance, per contact, new
	RContactStressed    // the same after the stress tests
	IConnector          // all VBUS contacts together
	VTypeCSource        // VBUS of a source without contract, no load
	CSrcReceptacle      // VBUS capacitance of an unattached source-only port
	CDRPReceptacle      // the same of a dual-role port
	RSBUIsolation       // SBU against everything else
	VCable20V           // highest voltage a 20 V cable must stand
	VCable50V           // highest voltage a 50 V cable must stand

	parameterCount
)
