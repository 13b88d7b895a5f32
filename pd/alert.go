package pd

import "fmt"

// ADO is the object of an Alert message (USB PD R3.2 V1.1, table 6.47).
//
//	31     Extended Alert Event
//	30     OVP Event
//	29     Source Input Change Event
//	28     Operating Condition Change
//	27     OTP Event
//	26     OCP Event, source only
//	25     Battery Status Change Event
//	24     reserved
//	23-20  fixed batteries 3 to 0
//	19-16  hot-swappable batteries 7 to 4
//	15-4   reserved
//	3-0    Extended Alert Event Type, where bit 31 is set
type ADO uint32

// ExtendedAlertType is what an extended alert tells, bits 3 to 0 of an Alert whose bit 31 is
// set (USB PD R3.2 V1.1, table 6.47).
type ExtendedAlertType uint8

// The types; 0 and 5 to 15 are reserved.
const (
	PowerStateChange   ExtendedAlertType = 1 // DFP
	PowerButtonPress   ExtendedAlertType = 2 // UFP
	PowerButtonRelease ExtendedAlertType = 3 // UFP
	ControllerWake     ExtendedAlertType = 4 // UFP
)

// String says the type in words, or "reserved type N".
func (t ExtendedAlertType) String() string {
	switch t {
	case PowerStateChange:
		return "power state change"
	case PowerButtonPress:
		return "power button press"
	case PowerButtonRelease:
		return "power button release"
	case ControllerWake:
		return "controller initiated wake"
	default:
		return fmt.Sprintf("reserved type %d", uint8(t))
	}
}

// AlertFields is an Alert object taken apart.
type AlertFields struct {
	ExtendedAlert            bool              // bit 31
	OVP                      bool              // bit 30
	SourceInputChange        bool              // bit 29
	OperatingConditionChange bool              // bit 28; temperature status, or PPS between CV and CL
	OTP                      bool              // bit 27
	OCP                      bool              // bit 26
	BatteryStatusChange      bool              // bit 25
	FixedBatteries           uint8             // bits 23-20; bit n of the value is battery n, 0 to 3
	HotSwappableBatteries    uint8             // bits 19-16; bit n of the value is battery n+4
	ExtendedType             ExtendedAlertType // bits 3-0
	Reserved                 uint32            // reserved bits, in place
}

const alertReserved = 1<<24 | 0xFFF<<4

// Fields takes the object apart; Encode is the exact inverse.
func (o ADO) Fields() AlertFields {
	w := uint32(o)
	return AlertFields{
		ExtendedAlert:            bit(w, 31),
		OVP:                      bit(w, 30),
		SourceInputChange:        bit(w, 29),
		OperatingConditionChange: bit(w, 28),
		OTP:                      bit(w, 27),
		OCP:                      bit(w, 26),
		BatteryStatusChange:      bit(w, 25),
		FixedBatteries:           uint8(bits(w, 23, 20)),
		HotSwappableBatteries:    uint8(bits(w, 19, 16)),
		ExtendedType:             ExtendedAlertType(bits(w, 3, 0)),
		Reserved:                 w & alertReserved,
	}
}

// Encode puts the object together.
func (f AlertFields) Encode() ADO {
	return ADO(flag(f.ExtendedAlert, 31) |
		flag(f.OVP, 30) |
		flag(f.SourceInputChange, 29) |
		flag(f.OperatingConditionChange, 28) |
		flag(f.OTP, 27) |
		flag(f.OCP, 26) |
		flag(f.BatteryStatusChange, 25) |
		put(int(f.FixedBatteries), 23, 20) |
		put(int(f.HotSwappableBatteries), 19, 16) |
		put(int(f.ExtendedType), 3, 0) |
		f.Reserved&alertReserved)
}
