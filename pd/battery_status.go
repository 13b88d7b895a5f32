package pd

import "fmt"

// BSDO is the object of a Battery_Status message (USB PD R3.2 V1.1, table 6.46).
//
//	31-16  Battery Present Capacity, 0.1 Wh; FFFFh unknown
//	15-12  reserved
//	11-10  charging status, where a battery is present
//	9      Battery is Present
//	8      Invalid Battery Reference
//	7-0    reserved
type BSDO uint32

// ChargingStatus is what a battery does, bits 11 and 10 of Battery_Status (USB PD R3.2 V1.1,
// table 6.46). The zero value is charging, as on the wire.
type ChargingStatus uint8

// The charging statuses; 3 is reserved.
const (
	BatteryCharging    ChargingStatus = iota // 00b
	BatteryDischarging                       // 01b
	BatteryIdle                              // 10b
)

// String gives "charging", "discharging", "idle" or "reserved status N".
func (s ChargingStatus) String() string {
	switch s {
	case BatteryCharging:
		return "charging"
	case BatteryDischarging:
		return "discharging"
	case BatteryIdle:
		return "idle"
	default:
		return fmt.Sprintf("reserved status %d", uint8(s))
	}
}

// Capacities come in tenths of a watt-hour.
const (
	capacityPerWh   = 10
	capacityUnknown = 0xFFFF
)

// BatteryStatusFields is a Battery_Status object taken apart.
type BatteryStatusFields struct {
	Capacity         uint16         // bits 31-16, 0.1 Wh; see CapacityWh
	ChargingStatus   ChargingStatus // bits 11-10
	Present          bool           // bit 9
	InvalidReference bool           // bit 8
	Reserved         uint32         // reserved bits, in place
}

const batteryStatusReserved = 0xF<<12 | 0xFF

// CapacityWh is the charge left in Wh; ok is false where the sender does not know it.
func (f BatteryStatusFields) CapacityWh() (wh float64, ok bool) {
	return CapacityWh(f.Capacity)
}

// Fields takes the object apart; Encode is the exact inverse.
func (o BSDO) Fields() BatteryStatusFields {
	w := uint32(o)
	return BatteryStatusFields{
		Capacity:         uint16(w >> 16),
		ChargingStatus:   ChargingStatus(bits(w, 11, 10)),
		Present:          bit(w, 9),
		InvalidReference: bit(w, 8),
		Reserved:         w & batteryStatusReserved,
	}
}

// Encode puts the object together.
func (f BatteryStatusFields) Encode() BSDO {
	return BSDO(uint32(f.Capacity)<<16 |
		put(int(f.ChargingStatus), 11, 10) |
		flag(f.Present, 9) |
		flag(f.InvalidReference, 8) |
		f.Reserved&batteryStatusReserved)
}
