package pd

import "fmt"

// EPRMDO is the object of an EPR_Mode message (USB PD R3.2 V1.1, table 6.50).
//
//	31-24  Action
//	23-16  Data: the sink's PDP in W with Enter, the cause with Enter Failed, else 0
//	15-0   reserved
type EPRMDO uint32

// EPRAction is the step of entering or leaving EPR mode, bits 31 to 24 (USB PD R3.2 V1.1,
// table 6.50).
type EPRAction uint8

// The actions; all other codes are reserved.
const (
	EPREnter             EPRAction = 1 // sink
	EPREnterAcknowledged EPRAction = 2 // source
	EPREnterSucceeded    EPRAction = 3 // source
	EPREnterFailed       EPRAction = 4 // source
	EPRExit              EPRAction = 5 // either
)

// String gives the standard's name of the action, or "reserved action N".
func (a EPRAction) String() string {
	switch a {
	case EPREnter:
		return "Enter"
	case EPREnterAcknowledged:
		return "Enter Acknowledged"
	case EPREnterSucceeded:
		return "Enter Succeeded"
	case EPREnterFailed:
		return "Enter Failed"
	case EPRExit:
		return "Exit"
	default:
		return fmt.Sprintf("reserved action %d", uint8(a))
	}
}

// EPRFailure is why a source refused to enter EPR mode, bits 23 to 16 of an EPR_Mode with
// Enter Failed (USB PD R3.2 V1.1, table 6.50). The zero value is the standard's
// "unknown".
type EPRFailure uint8

// The causes; all other codes are reserved.
const (
	EPRFailedUnknown        EPRFailure = iota // cause unknown
	EPRFailedCable                            // cable not EPR capable
	EPRFailedVCONN                            // source did not become VCONN source
	EPRFailedRequestBit                       // EPR bit not set in the request
	EPRFailedUnable                           // unable now; the sink may try again
	EPRFailedCapabilityBit                    // EPR bit not set in the offer
	firstReservedEPRFailure                   // from here on reserved
)

var eprFailureNames = [...]string{
	EPRFailedUnknown:       "unknown cause",
	EPRFailedCable:         "cable not EPR capable",
	EPRFailedVCONN:         "source did not become VCONN source",
	EPRFailedRequestBit:    "EPR capable bit not set in the request",
	EPRFailedUnable:        "source unable to enter now",
	EPRFailedCapabilityBit: "EPR capable bit not set in the offer",
}

// String says the cause in words.
func (f EPRFailure) String() string {
	if f >= firstReservedEPRFailure {
		return fmt.Sprintf("reserved cause %d", uint8(f))
	}
	return eprFailureNames[f]
}

// Action is the step.
func (o EPRMDO) Action() EPRAction { return EPRAction(o >> 24) }

// Data is the raw second byte.
func (o EPRMDO) Data() uint8 { return uint8(o >> 16) }

// SinkPDP is the sink's EPR operational PDP; ok only with Enter.
func (o EPRMDO) SinkPDP() (p Watts, ok bool) { return Watts(o.Data()), o.Action() == EPREnter }

// Failure is the cause; ok only with Enter Failed.
func (o EPRMDO) Failure() (f EPRFailure, ok bool) {
	return EPRFailure(o.Data()), o.Action() == EPREnterFailed
}

// EPRModeFields is an EPR_Mode object taken apart.
type EPRModeFields struct {
	Action   EPRAction // bits 31-24
	Data     uint8     // bits 23-16; meaning by Action
	Reserved uint16    // bits 15 to 0
}

// Fields takes the object apart; Encode is the exact inverse.
func (o EPRMDO) Fields() EPRModeFields {
	return EPRModeFields{Action: o.Action(), Data: o.Data(), Reserved: uint16(o)}
}

// Encode puts the object together.
func (f EPRModeFields) Encode() EPRMDO {
	return EPRMDO(uint32(f.Action)<<24 | uint32(f.Data)<<16 | uint32(f.Reserved))
}
