package pd

// Parameter is a timer, a counter or an electrical value of the standards; Limits gives
// its numbers. The zero value is unknown.
type Parameter uint16

// The parameters by the standards' names, each with its unit and what it limits; their
// numbers, documents and tables are in [Parameter.Limits].
const (
	unknownParameter Parameter = iota

	// Timers (USB PD R3.2 V1.1, table 6.68), who keeps them and from where to where.
	TTransmit                     // ms; receiver of a message: last bit of its EOP received, until first preamble bit of GoodCRC
	TReceive                      // ms; CRCReceiveTimer, sender: last bit of own EOP sent, until last bit of the GoodCRC's EOP received
	TRetry                        // ms; sender: CRCReceiveTimer expiry, until first preamble bit of the retry
	TReceiverResponse             // ms; receiver of a request: last bit of its GoodCRC's EOP sent, until first preamble bit of the answer
	TSenderResponse               // ms; SenderResponseTimer, sender: last bit of GoodCRC to the request received, until last bit of GoodCRC to the answer sent
	TTypeCSendSourceCap           // ms; SourceCapabilityTimer, source: interval between attempts of Source_Capabilities while no GoodCRC has come
	TFirstSourceCap               // ms; source: VBUS at vSafe5V (attach, hard reset, PR/FR swap), or GoodCRC of the Accept to a Soft_Reset, or GoodCRC of EPR_Mode Enter Succeeded / Exit, until first capabilities message
	TTypeCSinkWaitCap             // ms; SinkWaitCapTimer, sink: VBUS present (or EPR entry/exit GoodCRC), until Hard Reset if no capabilities
	TSinkRequest                  // ms; sink: EOP of Wait, until next Request
	TSinkTx                       // ms; SinkTxTimer, source: Rp set to SinkTxNG, until source may start an AMS
	TSinkDelay                    // ms; sink: SinkTxNG asserted, until sink no longer starts an AMS
	TSrcHoldsBus                  // ms; source: allowed to keep the bus (no Rp change) between back-to-back sequences
	TPSTransitionSPR              // ms; PSTransitionTimer, sink: last bit of GoodCRC to Accept sent, until last bit of GoodCRC to PS_RDY sent; expiry = Hard Reset
	TPSTransitionEPR              // ms; PSTransitionTimer, sink: the same, in or into EPR
	TPSSourceOffSPR               // ms; PSSourceOffTimer, sink side of a role swap: GoodCRC to Accept, until GoodCRC to PS_RDY; expiry = Error Recovery
	TPSSourceOffEPR               // ms; PSSourceOffTimer: the same, in EPR
	TPSSourceOn                   // ms; PSSourceOnTimer, old source: GoodCRC to own PS_RDY, until GoodCRC to partner's PS_RDY; expiry = Error Recovery
	TSwapSourceStart              // ms; new source: GoodCRC to its PS_RDY, until first Source_Capabilities
	TSwapSinkReady                // ms; new sink: its GoodCRC to PS_RDY, until able to receive capabilities
	TPRSwapWait                   // ms; requester: EOP of Wait, until next PR_Swap
	TDRSwapWait                   // ms; requester: EOP of Wait, until next DR_Swap
	TVCONNSwapWait                // ms; requester: EOP of Wait, until next VCONN_Swap
	TVCONNSwapDelayDFP            // ms; DFP that lost VCONN: GoodCRC to PS_RDY, until own VCONN_Swap
	TVCONNSwapDelayUFP            // ms; UFP that lost VCONN: GoodCRC to PS_RDY, until own VCONN_Swap
	TEnterUSBWait                 // ms; DFP: EOP of Wait, until next Enter_USB
	TEnterUSB                     // ms; DFP: connection, Data_Reset_Complete or DR_Swap Accept, until Enter_USB
	TPSHardReset                  // ms; PSHardResetTimer, source: last bit of Hard Reset sent or received, until VBUS starts down, VCONN off
	THardReset                    // ms; sender: last CRCReceiveTimer expiry of a failed Soft_Reset, until Hard Reset
	THardResetComplete            // ms; HardResetCompleteTimer: request to PHY, until treated as sent although the line was busy
	TNoResponse                   // s; NoResponseTimer, source (R3.2): Hard Reset, until GoodCRC to Source_Capabilities; expiry = another Hard Reset up to nHardResetCount
	TSoftReset                    // ms; sender: CRCReceiveTimer expiry after last retry, until Soft_Reset fully sent
	TProtErrSoftReset             // ms; receiver of an unexpected message: EOP of its GoodCRC, until Soft_Reset fully sent
	TProtErrHardReset             // ms; receiver: EOP of its GoodCRC, until Hard Reset fully sent
	TDRSwapHardReset              // ms; receiver of DR_Swap in modal operation: EOP of its GoodCRC, until Hard Reset
	TPPSRequest                   // s; SinkPPSPeriodicTimer, sink: entry to ready state in a PPS contract, until next PPS Request
	TPPSTimeout                   // s; SourcePPSCommTimer, source: entry to ready state in a PPS contract, until Hard Reset if no traffic
	TEnterEPR                     // ms; SinkEPREnterTimer, sink: GoodCRC to EPR_Mode Enter, until GoodCRC to Enter Succeeded; expiry = Soft_Reset
	TSinkEPRKeepAlive             // s; sink in EPR: last traffic, until EPR_KeepAlive
	TSourceEPRKeepAlive           // s; source in EPR: last traffic, until Hard Reset
	TEPRSourceCableDiscovery      // s; EPR source: GoodCRC to first PS_RDY, until Discover Identity to the cable (VCONN swap included)
	TCapabilitiesMismatchResponse // s; source with reported PDP below present PDP: PS_RDY after a Request with mismatch, until new capabilities
	TVDMSenderResponse            // ms; VDMResponseTimer, initiator: GoodCRC to the command, until GoodCRC to the response
	TVDMReceiverResponse          // ms; responder: EOP of GoodCRC to the command, until first preamble bit of the response
	TVDMBusy                      // ms; initiator: BUSY received, until repeat
	TVDMEnterMode                 // ms; responder: Enter Mode, until response
	TVDMExitMode                  // ms; responder: Exit Mode, until response; also leave modes after detach or Hard Reset
	TVDMWaitModeEntry             // ms; initiator: Enter Mode, until response
	TVDMWaitModeExit              // ms; initiator: Exit Mode, until response
	TDiscoverIdentity             // ms; port probing a cable: interval between Discover Identity to SOP' in a contract
	TCableMessage                 // ms; cable plug at PD2 only: wait before an SOP'/SOP'' packet
	TChunkingNotSupported         // ms; port without chunking: chunk of a multi-chunk message, until Not_Supported not before
	TChunkSenderRequest           // ms; chunk sender: GoodCRC to chunk, until GoodCRC to the next chunk request
	TChunkSenderResponse          // ms; chunk requester: GoodCRC to request, until GoodCRC to the chunk
	TChunkReceiverRequest         // ms; chunk requester: its GoodCRC, until first preamble bit of the request
	TChunkReceiverResponse        // ms; chunk sender: its GoodCRC, until first preamble bit of the chunk
	TVCONNSourceOn                // ms; new VCONN source: Accept, until VCONN on and PS_RDY
	TVCONNSourceOff               // ms; old VCONN source: GoodCRC to PS_RDY, until VCONN off
	TVCONNSourceTimeout           // ms; VCONNOnTimer: GoodCRC to Accept, until PS_RDY
	TVCONNSourceDischarge         // ms; VCONNDischargeTimer, DFP in Data Reset: GoodCRC to Accept, until PS_RDY of the UFP; expiry = Error Recovery
	TDataReset                    // ms; DFP: GoodCRC to Accept, until process complete
	TDataResetFail                // ms; DFP: expiry = Error Recovery
	TDataResetFailUFP             // ms; UFP: expiry = Error Recovery
	TFRSwapInit                   // ms; initial sink: Fast Role Swap signal detected, until last bit of FR_Swap's EOP
	TFRSwap5V                     // ms; initial source: Accept sent and VBUS at/below vSafe5V, until PS_RDY starts
	TFRSwapComplete               // ms; initial sink: PS_RDY received, until own PS_RDY
	TBISTContMode                 // ms; unit under test: length of the continuous carrier
	TBISTCarrierMode              // ms; unit under test: GoodCRC to BIST, until carrier starts
	TBISTSharedTestMode           // s; shared-capacity charger: GoodCRC to BIST, until new capabilities on all ports
	TACTempUpdate                 // ms; active cable plug: interval of its temperature report

	// Electrical values of both sides (USB PD R3.2 V1.1, table 7.25).
	VSafe0V         // V; VBUS that counts as off
	VSafe5V         // V; VBUS of 5 V, and the window of a 5 V contract
	TSafe0V         // ms; start of the fall to vSafe0V
	TSafe5V         // ms; start of the fall to vSafe5V
	TVCONNReapplied // ms; Data_Reset: VCONN off before it comes back
	TVCONNValid     // ms; VCONN source told to switch on, to valid
	TVCONNZero      // ms; VCONN off to discharged

	// Source (USB PD R3.2 V1.1, table 7.23).
	CSrcBulk               // µF; source with a supply of its own
	CSrcBulkShared         // µF; source with a supply shared between ports
	VSrcNew                // ×PDO; steady voltage of a fixed contract
	VSrcValid              // V; allowed beyond vSrcNew in transients and transitions
	VSrcPeak               // ×PDO; steady voltage during an allowed overload
	VSrcSlewPos            // mV/µs; rising, not at attach, role swap and Hard Reset
	VSrcSlewNeg            // mV/µs; falling, with the same exceptions
	VSrcNeg                // V; lowest voltage ever in a transition
	VSmallStep             // mV; smaller rises do not count as an increase
	TSrcTransition         // ms; GoodCRC to Accept, until VBUS starts to move
	TSrcSettleSPR          // ms; VBUS starts to move, until inside vSrcNew
	TSrcSettleEPR          // ms; the same where the transition begins or ends in EPR
	TSrcReadySPR           // ms; VBUS starts to move, until ready for full current
	TSrcReadyEPR           // ms; the same in EPR
	TSrcTransReqSPR        // ms; GoodCRC to Accept, until PS_RDY starts
	TSrcTransReqEPR        // ms; the same in EPR
	TSrcTransOff           // ms; PR_Swap: Accept, until PS_RDY of the old source
	TSrcTransOn            // ms; PR_Swap: PS_RDY of the old source, until that of the new
	TSrcTransient          // ms; load step to inside vSrcNew, target load of 60 mA or more
	TSrcTransientLightLoad // ms; the same below 60 mA
	TSrcRecoverSPR         // s; Hard Reset: VBUS stays at vSafe0V
	TSrcRecoverEPR         // s; the same in EPR
	TSrcTurnOn             // ms; vSafe0V to vSafe5V
	TSrcSwapStdby          // ms; PR_Swap: VBUS down to vSafe0V
	TSrcFRSwap             // µs; Fast Role Swap: VBUS below vSafe5V to the new source feeding
	TNewSnk                // ms; source turned sink
	VPpsNew                // ×RDO; steady voltage of a PPS contract
	VPpsValid              // V; allowed beyond vPpsNew
	VPpsStep               // mV; step of the voltage asked for
	VPpsSmallStep          // mV; largest small step
	VPpsSlewPos            // mV/µs; rising
	VPpsSlewNeg            // mV/µs; falling
	VPpsMinVoltage         // ×APDO; at the lower end of the range offered
	VPpsMaxVoltage         // ×APDO; at the upper end of the range offered
	VPpsShutdown           // ×APDO min; in current limit below this the source may give up
	TPpsSrcTransSmall      // ms; GoodCRC to Accept, until settled and PS_RDY, small step
	TPpsSrcTransLarge      // ms; the same, larger step
	TPpsTransient          // ms; load step to inside vPpsNew, target load of 60 mA or more
	TPpsTransientLightLoad // ms; the same below 60 mA
	IPpsCLMin              // A; lowest current limit
	IPpsCLStep             // mA; step of the current limit
	IPpsCLNew              // mA; error of the current limit, 1 to 3 A
	IPpsCLNewAbove3A       // %; error of the current limit above 3 A
	IPpsCLTransient        // mA; beyond the new load after a step in current limit
	IPpsCVCLTransient      // mA; from the current limit (minimum) to the new load (maximum), in the change from voltage to limit
	VPpsCLCVTransient      // V; beyond ±5 % of the voltage asked for, in the change from limit to voltage
	IPpsCLLoadStepRate     // mA/µs; load steps that the source must follow
	IPpsCLLoadReleaseRate  // mA/µs; load releases that the source must follow
	TPpsCLProgramSettle    // ms; new current limit to settled
	TPpsCLSettle           // ms; load step in current limit to settled
	TPpsCVCLTransient      // ms; constant voltage to current limit
	TPpsCLCVTransient      // ms; current limit to constant voltage
	VAvsNew                // ×RDO; steady voltage of an AVS contract
	VAvsValid              // V; allowed beyond vAvsNew
	VAvsStep               // mV; step of the voltage asked for
	VAvsSmallStep          // V; largest small step
	TAvsSrcTransSmall      // ms; GoodCRC to Accept, until settled and PS_RDY, small step
	TAvsSrcTransLarge      // ms; the same, larger step and entry into AVS
	TAvsTransient          // ms; load step to inside vAvsNew
	VAvsSlewPos            // mV/µs; rising
	VAvsSlewNeg            // mV/µs; falling
	DNL                    // LSB; error between neighbouring steps

	// Sink (USB PD R3.2 V1.1, table 7.24).
	CSnkBulkPd           // µF; sink's bulk capacitance after a contract
	ISnkStdby            // mA; sink while VBUS rises, Accept to PS_RDY
	ISnkSwapStdby        // mA; sink in a role swap
	ISafe0mA             // mA; sink while VBUS is driven to vSafe0V
	ILoadStepRate        // mA/µs; at the sink's receptacle
	ILoadReleaseRate     // mA/µs; at the sink's receptacle
	IOvershoot           // mA; around the settled current
	IPpsCLLoadStep       // mA; change of load while in current limit
	PSnkSusp             // mW; sink in USB suspend
	PHubSusp             // mW; hub in USB suspend
	TSnkStdby            // ms; Accept to standby current
	TSnkNewPower         // ms; PS_RDY to normal current
	TSnkHardResetPrepare // ms; Hard Reset to ready for VBUS off
	TSnkRecover          // ms; VBUS at vSafe5V to able to communicate
	TSnkSwapStdby        // ms; PR_Swap: Accept to standby current
	TSnkFRSwap           // µs; Fast Role Swap: time to drop the load
	TNewSrc              // ms; sink turned source: VBUS at vSafe5V
	VSprMax              // V; a sink should stand this in SPR
	VEprMax              // V; a sink should stand this in EPR

	// Bit rate on the line (USB PD R3.2 V1.1, table 5.17).
	FBitRate      // kbit/s; before BMC
	TUnitInterval // µs; one bit

	// Transmitter (USB PD R3.2 V1.1, table 5.18).
	PBitRate       // %; largest drift inside a packet
	TEndDriveBMC   // µs; end of the last bit to driver released
	THoldLowBMC    // µs; low held after the last edge
	TInterFrameGap // µs; end of a frame to the next preamble
	TStartDrive    // µs; drive may start this much around the first bit
	TRise          // ns; 10 to 90 %
	TFall          // ns; 90 to 10 %
	VSwing         // V; high level on CC
	REdgeBMC       // ×UI; an edge at the receiver may lie wrong by, at the centre of the mask
	ZDriver        // Ω; at 750 kHz
	TFRSwapTx      // µs; length of the Fast Role Swap pulse
	RFRSwapTx      // Ω; driver of the Fast Role Swap pulse

	// Receiver (USB PD R3.2 V1.1, table 5.19).
	CReceiver         // pF; each port while it does not send
	NTransitionCount  // edges; edges inside tTransitionWindow that make the line busy
	TTransitionWindow // µs; window of the idle detection
	TRxFilter         // ns; time constant of the receive filter
	TFRSwapRx         // µs; CC low for this long is a Fast Role Swap request
	VFRSwapCableTx    // mV; CC below this is low for Fast Role Swap
	VIRDropGNDC       // mV; ground shift by the cable's current
	VNoiseActive      // mVpp; noise while a frame is on the line
	VNoiseIdle        // mVpp; smaller signals on an idle line are noise
	ZBmcRx            // MΩ; receiver input

	// What a sink may draw in standby by USB PD R3.0 V1.1; R3.2 has iSnkStdby instead.
	PSnkStdby // W
	// Bulk capacitance of a sink at attach; R3.2 only refers to USB 3.2.
	CSnkBulk // µF

	// Counters (USB PD R3.2 V1.1, table 6.70).
	NRetryCount            // repeats of a message without GoodCRC
	NHardResetCount        // then the partner does not respond
	NCapsCount             // optional; at least so many Source_Capabilities without GoodCRC
	NDiscoverIdentityCount // tries to read the cable
	NMessageIDCount        // highest MessageID
	NBusyCount             // answers BUSY taken; 1 for the timing of alternate modes

	// USB Type-C times (USB Type-C R2.1, tables 4-29 to 4-31).
	TVBUSON             // ms; source: Attached.SRC to VBUS at vSafe5V
	TVBUSOFF            // ms; source: sink gone to VBUS at vSafe0V
	TVCONNON            // ms; source: VBUS on to VCONN on
	TVCONNONPA          // ms; the same, powered accessory
	TVCONNOFF           // ms; source: sink gone to VCONN off
	TSinkAdj            // ms; sink: Rp changed to current followed
	TDRP                // ms; period of the role toggling
	TDRPTransition      // ms; change of role while toggling
	TDRPTry             // ms; wait in Try
	TDRPTryWait         // ms; wait in TryWait
	TTryTimeout         // ms; end of Try
	TCCDebounce         // ms; attach: CC steady for this long
	TPDDebounce         // ms; detach and change of Rp: CC steady for this long
	TTryCCDebounce      // ms; CC steady while trying
	TErrorRecovery      // ms; terminations off for this long
	TErrorRecoveryVCONN // ms; the same where it sourced VCONN
	TRpValueChange      // ms; Rp steady for this long counts as changed
	TSRCDisconnect      // ms; source: open CC to Unattached.SRC
	TSinkDisconnect     // ms; sink: VBUS gone to Unattached.SNK
	TVCONNStable        // ms; plug: VCONN valid to ready
	TVCONNDischarge     // ms; VCONN off to discharged

	// USB Type-C terminations and levels.
	IRpDefault          // µA; current source of default USB current
	IRp1A5              // µA; current source of 1.5 A
	IRp3A0              // µA; current source of 3.0 A
	RRd                 // kΩ; pull-down of a sink that tells 1.5 A and 3 A
	RRa                 // Ω; pull-down on VCONN of a powered cable
	VCCOpen             // V; CC at the sink: no source
	VCCDefault          // V; CC at the sink: default USB current
	VCC1A5              // V; CC at the sink: 1.5 A
	VCC3A0              // V; CC at the sink: 3.0 A
	VCCDefaultOnlySink  // V; CC at a sink that does not tell currents
	VSinkDisconnect     // V; sink: VBUS below is a detach, contract up to 5 V
	VSinkPDAllowance    // mV; below the lowest source voltage by this is vSinkPD_min
	VSinkDisconnectPD   // ×vSinkPD_min; share of vSinkPD_min below which a sink sees a detach
	VVCONNValid         // V; VCONN at the plug
	IDefaultUSB2        // mA; default current of a USB 2.0 port
	IDefaultUSB3        // mA; default current of a USB 3.2 port, one lane
	IDefaultUSB3TwoLane // mA; default current of a USB 3.2 port, two lanes
	VCableDropVBUS      // mV; along the cable at rated current, both mated ends included
	VCableDropGND       // mV; the same in the ground wire
	RContactNew         // mΩ; contact resistance, per contact, new
	RContactStressed    // mΩ; the same after the stress tests
	IConnector          // A; all VBUS contacts together
	VTypeCSource        // V; VBUS of a source without contract, no load
	CSrcReceptacle      // µF; VBUS capacitance of an unattached source-only port
	CDRPReceptacle      // µF; the same of a dual-role port
	RSBUIsolation       // kΩ; SBU against everything else
	VCable20V           // V; highest voltage a 20 V cable must stand
	VCable50V           // V; highest voltage a 50 V cable must stand

	parameterCount
)
