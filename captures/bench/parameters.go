package bench

import (
	"fmt"
	"math"
	"reflect"
	"strconv"
)

// Parameters is the whole bench: source, cable, device and meter. Tags carry
// the name for scripts, the range that [Parameters.Check] holds and the source
// of the default. A resistance of 0 in a fault means that the fault is absent.
type Parameters struct {
	// The recording.
	DurationS float64 `json:"duration_s" min:"1" max:"86400" source:"common practice"`
	AttachS   float64 `json:"attach_s" min:"0" max:"3600" source:"common practice"` // plug in, on the bench's clock

	// Source.
	Offers              []Offer `json:"offers"`             // fixed supplies, 5 V first; without PD the first one stands
	SourcePD            bool    `json:"source_pd"`          // speaks PD
	SourcePowerReady    bool    `json:"source_power_ready"` // false: accepts, and never brings the voltage
	SourceOutputOhm     float64 `json:"source_output_ohm" min:"0.005" max:"2" source:"fixed supplies regulate within 5 %: USB PD R3.2 V1.1 table 7.23"`
	SourceLimitA        float64 `json:"source_limit_a" min:"0.1" max:"20" source:"its own choice: USB PD R3.2 V1.1 section 7.1.7"`
	SourceFoldback      float64 `json:"source_foldback" min:"0" max:"1" source:"common practice"`                                                // share of the limit left at 0 V; 1 is a plain current limit
	SourceTripMS        float64 `json:"source_trip_ms" min:"0" max:"10000" source:"common practice"`                                             // overload or undervoltage for this long switches off; 0 never
	SourceRetryS        float64 `json:"source_retry_s" min:"0" max:"60" source:"open laptop embedded-controller firmware: VBUS back within 1 s"` // without PD; with PD tSrcRecover
	SourceLatchTrips    int     `json:"source_latch_trips" min:"0" max:"100" source:"must not cycle for ever: USB PD R3.2 V1.1 section 7.1.7"`   // 0 never latches
	SourceSlewVPerS     float64 `json:"source_slew_v_per_s" min:"20" max:"30000" source:"at most 30 mV/us: USB PD R3.2 V1.1 table 7.23"`
	SourceTurnOnMS      float64 `json:"source_turn_on_ms" min:"0.1" max:"200" source:"common practice"`
	SourceBleedA        float64 `json:"source_bleed_a" min:"0.01" max:"2" source:"common practice"`
	SourceCapacitanceUF float64 `json:"source_capacitance_uf" min:"10" max:"3000" source:"cSrcBulk: USB PD R3.2 V1.1 table 7.23"`

	// Cable, with the meter's own burden.
	CableOhm       float64 `json:"cable_ohm" min:"0.01" max:"5" source:"loop at most 0.25 ohm at 3 A: USB Type-C R2.0 section 4.4.1"`
	MeterBurdenOhm float64 `json:"meter_burden_ohm" min:"0" max:"0.2" source:"20 to 60 mohm: common practice"`
	CableMarked    bool    `json:"cable_marked"` // has an e-marker that says 5 A

	// Port: CC, port controller and its supply, input switch.
	ControllerAlive   bool    `json:"controller_alive"` // hears and acknowledges
	SinkRequests      bool    `json:"sink_requests"`    // decides on an offer
	SinkWantsMW       int     `json:"sink_wants_mw" min:"500" max:"240000" source:"common practice"`
	ControllerW       float64 `json:"controller_w" min:"0" max:"5" source:"common practice"` // taken at any voltage: it has a converter
	ControllerBootMS  float64 `json:"controller_boot_ms" min:"1" max:"2000" source:"common practice"`
	PortCapacitanceUF float64 `json:"port_capacitance_uf" min:"1" max:"100" source:"cSnkBulk, 1 to 10 uF: USB PD R3.0 V1.1 table 7-20"`
	VBUSLeakOhm       float64 `json:"vbus_leak_ohm,omitempty" min:"0" max:"1e6" source:"common practice"`
	VBUSLeakFromV     float64 `json:"vbus_leak_from_v,omitempty" min:"0" max:"48" source:"common practice"` // it leaks what lies above
	SwitchAt5V        bool    `json:"switch_at_5v"`                                                         // closes on a source without PD, and on any where the controller is dead
	PlainAtOnce       bool    `json:"plain_at_once,omitempty"`                                              // and does so by Rp alone, before it has asked for PD
	SwitchOhm         float64 `json:"switch_ohm" min:"0.005" max:"1" source:"16 to 35 mohm on: common practice"`
	SwitchLimitA      float64 `json:"switch_limit_a" min:"0.5" max:"20" source:"common practice"`

	// Charger circuit.
	ChargerDelayMS      float64 `json:"charger_delay_ms" min:"1" max:"10000" source:"common practice"` // contract to enabled
	InputCapacitanceUF  float64 `json:"input_capacitance_uf" min:"10" max:"1000" source:"cSnkBulkPd, at most 100 uF in all: USB PD R3.0 V1.1 table 7-20"`
	InputLeakOhm        float64 `json:"input_leak_ohm,omitempty" min:"0" max:"1e6" source:"common practice"`
	InputDropV          float64 `json:"input_drop_v" min:"0.1" max:"5" source:"1.28 V below no load: charger data sheet SLUSE65A"`
	InputShare          float64 `json:"input_share" min:"0.3" max:"1" source:"common practice"` // of the contract's current that the charger circuit may take
	ChargerEfficiency   float64 `json:"charger_efficiency" min:"0.5" max:"0.99" source:"common practice"`
	ChargerLossOhm      float64 `json:"charger_loss_ohm" min:"0.001" max:"0.5" source:"common practice"`
	ChargerQuiescentA   float64 `json:"charger_quiescent_a" min:"0" max:"0.05" source:"3 to 5 mA switching: charger data sheets, common practice"`
	ChargerOutputLimitA float64 `json:"charger_output_limit_a" min:"1" max:"40" source:"common practice"`
	ChargerTripA        float64 `json:"charger_trip_a,omitempty" min:"0" max:"40" source:"common practice"` // output current that stops it; 0 never
	ChargerRestartS     float64 `json:"charger_restart_s" min:"0.1" max:"60" source:"common practice"`      // and the wait after that
	ChargerSoftStartMS  float64 `json:"charger_soft_start_ms" min:"0" max:"100" source:"3 to 7 ms: common practice"`
	HiccupVolts         float64 `json:"hiccup_volts" min:"0" max:"10" source:"system undervoltage 2.4 V: charger data sheet SLUSDU3"`
	HiccupLimitA        float64 `json:"hiccup_limit_a" min:"0.05" max:"5" source:"0.5 A: charger data sheet SLUSDU3"`
	HiccupOnMS          float64 `json:"hiccup_on_ms" min:"1" max:"1000" source:"10 ms: charger data sheet SLUSDU3"`
	HiccupOffMS         float64 `json:"hiccup_off_ms" min:"1" max:"10000" source:"500 ms: charger data sheet SLUSDU3"`
	HiccupTries         int     `json:"hiccup_tries" min:"0" max:"1000000" source:"7 within 90 s, then latched: charger data sheet SLUSDU3"`

	// Input-current search by software.
	Search       bool    `json:"search"` // climbs instead of taking the contract's current at once
	SearchStartA float64 `json:"search_start_a" min:"0.05" max:"5" source:"500 mA: open laptop embedded-controller firmware"`
	SearchStepA  float64 `json:"search_step_a" min:"0.01" max:"1" source:"64 mA: open laptop embedded-controller firmware"`
	SearchDwellS float64 `json:"search_dwell_s" min:"0.05" max:"10" source:"500 ms: open laptop embedded-controller firmware"`
	SearchBackA  float64 `json:"search_back_a" min:"0" max:"1" source:"128 mA: open laptop embedded-controller firmware"`
	SearchTrips  int     `json:"search_trips" min:"1" max:"1000000" source:"3 matching overcurrents: open laptop embedded-controller firmware"`

	// Main rail and what it feeds.
	RailMinimumV      float64 `json:"rail_minimum_v" min:"2.5" max:"24" source:"common practice"`
	RailCapacitanceUF float64 `json:"rail_capacitance_uf" min:"10" max:"5000" source:"common practice"`
	RailShortOhm      float64 `json:"rail_short_ohm,omitempty" min:"0" max:"1e6" source:"common practice"`
	StandbyW          float64 `json:"standby_w" min:"0" max:"20" source:"0.2 to 0.6 W: common practice"`
	BootS             float64 `json:"boot_s" min:"0" max:"600" source:"common practice"` // rail good to boot; 0 stays off
	BootW             float64 `json:"boot_w" min:"0" max:"100" source:"10 to 45 W: common practice"`
	IdleW             float64 `json:"idle_w" min:"0" max:"100" source:"5 to 20 W: common practice"`
	IdleSwing         float64 `json:"idle_swing" min:"0" max:"1" source:"common practice"` // share by which the draw of an idle machine moves

	// Battery.
	BatteryConnected bool    `json:"battery_connected"`
	BatteryCells     float64 `json:"battery_cells" min:"1" max:"6" source:"common practice"`
	BatteryAH        float64 `json:"battery_ah" min:"0.05" max:"50" source:"50 Wh at 11.4 V: common practice"`
	BatteryOhm       float64 `json:"battery_ohm" min:"0.01" max:"2" source:"common practice"`
	BatteryStart     float64 `json:"battery_start" min:"-0.02" max:"1" source:"share of full"`
	ChargeA          float64 `json:"charge_a" min:"0.05" max:"20" source:"0.2 to 1 C: common practice"`
	ChargeRampAPerS  float64 `json:"charge_ramp_a_per_s" min:"0.1" max:"100" source:"common practice"`
	PrechargeA       float64 `json:"precharge_a" min:"0.02" max:"5" source:"at most 0.1 C: common practice"`
	ChargeEndA       float64 `json:"charge_end_a" min:"0.01" max:"5" source:"0.05 to 0.1 C: common practice"`

	// What else may be wrong or odd. 0 and false are absent.
	SourceDead       bool    `json:"source_dead,omitempty"`                                                                                  // gives nothing at all
	SourceRefuses    bool    `json:"source_refuses,omitempty"`                                                                               // answers each Request with Reject
	SourceSetGain    float64 `json:"source_set_gain,omitempty" min:"0" max:"1.5" source:"common practice"`                                   // its voltage over the one it named; 0 is 1
	SourceDropS      float64 `json:"source_drop_s,omitempty" min:"0" max:"3600" source:"common practice"`                                    // after this long in a contract it switches off, as by heat
	SourceResetS     float64 `json:"source_reset_s,omitempty" min:"0" max:"3600" source:"common practice"`                                   // after this long in a contract it says Hard Reset, whatever is drawn
	CableOpen        bool    `json:"cable_open,omitempty"`                                                                                   // VBUS of the cable is broken
	CCOpen           bool    `json:"cc_open,omitempty"`                                                                                      // the source never sees Rd
	CCNoise          float64 `json:"cc_noise,omitempty" min:"0" max:"1" source:"a sound line loses one frame in thousands: common practice"` // share of frames that arrive damaged
	ContactEveryS    float64 `json:"contact_every_s,omitempty" min:"0" max:"3600" source:"common practice"`                                  // a contact of VBUS opens: mean distance
	ContactForMS     float64 `json:"contact_for_ms,omitempty" min:"0" max:"10000" source:"50 to 500 ms: common practice"`                    // and for how long
	ContactWithCC    bool    `json:"contact_with_cc,omitempty"`                                                                              // CC opens with it
	ContactAtPort    bool    `json:"contact_at_port,omitempty"`                                                                              // it is the receptacle's, behind a meter at the device
	ReceptacleOhm    float64 `json:"receptacle_ohm,omitempty" min:"0" max:"10" source:"contact 40 mohm at most when new: common practice"`   // behind the meter
	ControllerResetS float64 `json:"controller_reset_s,omitempty" min:"0" max:"600" source:"common practice"`                                // after this long awake its supply gives out and it starts anew
	ControllerBootW  float64 `json:"controller_boot_w,omitempty" min:"0" max:"5" source:"0.10 to 0.25 A at 5 V: trade pages, common practice"`
	ControllerDeaf   bool    `json:"controller_deaf,omitempty"`  // hears nothing, and resets
	ControllerUnset  bool    `json:"controller_unset,omitempty"` // it has lost its settings: asks for 5 V, and never closes the input switch
	SwitchStuck      bool    `json:"switch_stuck,omitempty"`     // the input switch never closes
	SwitchTripA      float64 `json:"switch_trip_a,omitempty" min:"0" max:"20" source:"common practice"`
	SwitchRetryMS    float64 `json:"switch_retry_ms,omitempty" min:"0" max:"10000" source:"100 to 263 ms: data sheets JAJSJF0D, SLVSEG3E"`
	ChargerDead      bool    `json:"charger_dead,omitempty"`                                                   // never starts
	RailShortAfterS  float64 `json:"rail_short_after_s,omitempty" min:"0" max:"3600" source:"common practice"` // the short comes this long after the rail is good
	DownstreamW      float64 `json:"downstream_w,omitempty" min:"0" max:"60" source:"common practice"`         // a regulator behind the rail that trips and tries again
	DownstreamOnMS   float64 `json:"downstream_on_ms,omitempty" min:"0" max:"1000" source:"3 to 7 ms: data sheet SLVSEG3E"`
	DownstreamOffMS  float64 `json:"downstream_off_ms,omitempty" min:"0" max:"10000" source:"118 to 620 ms: data sheets SLVSEG3E, SLVSGF4B"`
	BatteryCutS      float64 `json:"battery_cut_s,omitempty" min:"0" max:"3600" source:"common practice"` // the pack's protection ends the charge after this long
	BatteryBackS     float64 `json:"battery_back_s,omitempty" min:"0" max:"3600" source:"common practice"`
	BatteryWarm      bool    `json:"battery_warm,omitempty"`                                         // the breaks are the charger circuit's own, which lets the charge down and takes it up again
	BatteryStays     bool    `json:"battery_stays,omitempty"`                                        // its cells take the charge and rise no further
	ReplugS          float64 `json:"replug_s,omitempty" min:"0" max:"3600" source:"common practice"` // the plug is pulled
	ReplugForS       float64 `json:"replug_for_s,omitempty" min:"0" max:"3600" source:"common practice"`
	SleepEveryS      float64 `json:"sleep_every_s,omitempty" min:"0" max:"3600" source:"common practice"` // a sleeping machine wakes for a moment
	SleepForS        float64 `json:"sleep_for_s,omitempty" min:"0" max:"600" source:"common practice"`
	SleepW           float64 `json:"sleep_w,omitempty" min:"0" max:"50" source:"common practice"`
	PPSMaxV          float64 `json:"pps_max_v,omitempty" min:"0" max:"21" source:"USB PD R3.2 V1.1 table 10.9"` // a programmable offer of the source, from 3.3 V
	PPSUseV          float64 `json:"pps_use_v,omitempty" min:"0" max:"21" source:"common practice"`             // what the sink asks of it
	EPR              bool    `json:"epr,omitempty"`                                                             // source, cable and sink go on to 28 V

	// Meter and message recorder.
	MeterFromS       float64  `json:"meter_from_s,omitempty" min:"0" max:"3600" source:"common practice"`    // the log begins here
	MessagesFromS    float64  `json:"messages_from_s,omitempty" min:"0" max:"3600" source:"common practice"` // the list begins here
	MessagesNoAck    bool     `json:"messages_no_ack,omitempty"`                                             // the recorder shows no GoodCRC
	Meter            MeterEnd `json:"meter_at"`
	MeterHz          float64  `json:"meter_hz" min:"0.1" max:"100000" source:"loggers 1 to 100 Hz: common practice"`
	MeterAverages    bool     `json:"meter_averages"` // else each row is one instant
	MeterStepV       float64  `json:"meter_step_v" min:"1e-5" max:"0.1" source:"1 to 10 mV: common practice"`
	MeterStepA       float64  `json:"meter_step_a" min:"1e-5" max:"0.1" source:"1 to 10 mA: common practice"`
	MeterNoiseV      float64  `json:"meter_noise_v" min:"0" max:"1" source:"common practice"`
	MeterNoiseA      float64  `json:"meter_noise_a" min:"0" max:"1" source:"common practice"`
	MeterGainV       float64  `json:"meter_gain_v" min:"0.9" max:"1.1" source:"0.5 to 1 %: common practice"`
	MeterGainA       float64  `json:"meter_gain_a" min:"0.9" max:"1.1" source:"0.5 to 1 %: common practice"`
	MeterOffsetV     float64  `json:"meter_offset_v" min:"-0.2" max:"0.2" source:"common practice"`
	MeterOffsetA     float64  `json:"meter_offset_a" min:"-0.1" max:"0.1" source:"10 mA class: common practice"`
	MeterJitterS     float64  `json:"meter_jitter_s" min:"0" max:"1" source:"common practice"`
	MeterDropped     float64  `json:"meter_dropped" min:"0" max:"0.5" source:"common practice"`                                                                              // share of rows that never reach the file
	MeterStartS      float64  `json:"meter_start_s" min:"-100000" max:"100000" source:"common practice"`                                                                     // the meter's clock when the bench's reads 0
	MeterClockPPM    float64  `json:"meter_clock_ppm,omitempty" min:"-5000" max:"5000" source:"crystals 20 to 50 ppm, ceramic and RC oscillators 1000 ppm: common practice"` // how much faster its clock runs
	MessagesRecorded bool     `json:"messages_recorded"`
	MessagesStartS   float64  `json:"messages_start_s" min:"-100000" max:"100000" source:"common practice"` // the recorder's clock then
	MessageCRC       bool     `json:"message_crc"`                                                          // the list carries the CRC bytes
}

// Offer is a fixed supply of the source, in volts and amperes.
type Offer struct {
	Volts float64 `json:"voltage_v"`
	Amps  float64 `json:"current_a"`
}

// MeterEnd is the end of the cable that the meter sits at.
type MeterEnd string

// Ends of the cable.
const (
	AtSource MeterEnd = "source"
	AtDevice MeterEnd = "device"
)

// wantsMW is what the controller asks for; without its settings no more than 5 V gives.
func (p *Parameters) wantsMW() int {
	if p.ControllerUnset {
		return 0
	}
	return p.SinkWantsMW
}

func (p *Parameters) loopOhm() float64 { return p.CableOhm + p.MeterBurdenOhm }

// ClockOffsetS is what must be added to the meter's times to lie on the
// messages' clock, to the microsecond: in the middle of what both recorded,
// where their clocks differ in rate.
func (p *Parameters) ClockOffsetS() float64 {
	middle := (max(p.MeterFromS, p.MessagesFromS) + p.DurationS) / 2
	return math.Round((p.MessagesStartS-p.MeterStartS-middle*p.MeterClockPPM*1e-6)*1e6) / 1e6
}

// Sound is a sound bench: a 65 W source, a 1 m cable and a machine of three
// cells that is off and charges.
func Sound() Parameters {
	return Parameters{
		DurationS: 40, AttachS: 3,

		Offers:   []Offer{{5, 3}, {9, 3}, {15, 3}, {20, 3.25}},
		SourcePD: true, SourcePowerReady: true,
		SourceOutputOhm: 0.05, SourceLimitA: 4, SourceFoldback: 0.6,
		SourceTripMS: 30, SourceRetryS: 0.6, SourceSlewVPerS: 160, SourceTurnOnMS: 8,
		SourceBleedA: 0.25, SourceCapacitanceUF: 47,

		CableOhm: 0.11, MeterBurdenOhm: 0.03, CableMarked: true,

		ControllerAlive: true, SinkRequests: true, SinkWantsMW: 65000,
		ControllerW: 0.1, ControllerBootMS: 35, PortCapacitanceUF: 8,
		SwitchOhm: 0.025, SwitchLimitA: 6,

		ChargerDelayMS: 220, InputCapacitanceUF: 66, InputDropV: 1.28, InputShare: 0.95,
		ChargerEfficiency: 0.95, ChargerLossOhm: 0.03, ChargerQuiescentA: 0.004,
		ChargerOutputLimitA: 10, ChargerRestartS: 2, ChargerSoftStartMS: 5,
		HiccupVolts: 2.4, HiccupLimitA: 0.5, HiccupOnMS: 10, HiccupOffMS: 500, HiccupTries: 7,
		SearchStartA: 0.5, SearchStepA: 0.064, SearchDwellS: 0.5, SearchBackA: 0.128, SearchTrips: 3,

		RailMinimumV: 9.2, RailCapacitanceUF: 220,
		StandbyW: 0.5, BootW: 22, IdleW: 7, IdleSwing: 0.25,

		BatteryConnected: true, BatteryCells: 3, BatteryAH: 4.4, BatteryOhm: 0.14, BatteryStart: 0.45,
		ChargeA: 3, ChargeRampAPerS: 1.5, PrechargeA: 0.44, ChargeEndA: 0.22,

		Meter: AtDevice, MeterHz: 50, MeterAverages: true,
		MeterStepV: 0.001, MeterStepA: 0.001, MeterNoiseV: 0.0015, MeterNoiseA: 0.001,
		MeterGainV: 1.002, MeterGainA: 0.997, MeterOffsetA: 0.002, MeterJitterS: 0.0004, MeterDropped: 0.001,
		MessagesRecorded: true,
	}
}

// Range is the allowed range of one parameter and where its default comes from.
type Range struct {
	Name     string
	Min, Max float64
	Source   string
}

// Ranges lists the numeric parameters in the order of [Parameters].
func Ranges() []Range {
	var out []Range
	t := reflect.TypeFor[Parameters]()
	for i := range t.NumField() {
		if r, ok := rangeOf(t.Field(i)); ok {
			out = append(out, r)
		}
	}
	return out
}

func rangeOf(f reflect.StructField) (Range, bool) {
	low, errLow := strconv.ParseFloat(f.Tag.Get("min"), 64)
	high, errHigh := strconv.ParseFloat(f.Tag.Get("max"), 64)
	if errLow != nil || errHigh != nil {
		return Range{}, false
	}
	return Range{Name: jsonName(f), Min: low, Max: high, Source: f.Tag.Get("source")}, true
}

// Check tells the first parameter that lies outside its range.
func (p *Parameters) Check() error {
	v := reflect.ValueOf(p).Elem()
	for i := range v.NumField() {
		r, ok := rangeOf(v.Type().Field(i))
		if !ok {
			continue
		}
		x := number(v.Field(i))
		if math.IsNaN(x) || x < r.Min || x > r.Max {
			return fmt.Errorf("%s is %g, it must lie between %g and %g", r.Name, x, r.Min, r.Max)
		}
	}
	if err := p.checkOffers(); err != nil {
		return err
	}
	if rows := p.DurationS * p.MeterHz; rows > mostRows {
		return fmt.Errorf("%g s at %g rows a second are %.0f rows, at most %d are kept", p.DurationS, p.MeterHz, rows, mostRows)
	}
	if p.Meter != AtSource && p.Meter != AtDevice {
		return fmt.Errorf("meter_at is %q, it must be %q or %q", p.Meter, AtSource, AtDevice)
	}
	return nil
}

// mostRows keeps a log within the memory of a small machine.
const mostRows = 5_000_000

// checkOffers holds the offers to what a source of the standard range may
// name: up to seven, vSafe5V first, rising to 20 V, at most 5 A (USB PD R3.2
// V1.1 section 6.4.1 and table 10.2).
func (p *Parameters) checkOffers() error {
	if len(p.Offers) == 0 || len(p.Offers) > 7 {
		return fmt.Errorf("a source has 1 to 7 offers, not %d", len(p.Offers))
	}
	for i, o := range p.Offers {
		switch {
		case i == 0 && o.Volts != 5:
			return fmt.Errorf("the first offer is 5 V, not %g V", o.Volts)
		case i > 0 && !(o.Volts > p.Offers[i-1].Volts):
			return fmt.Errorf("offers rise in voltage, and %g V does not", o.Volts)
		case o.Volts > 20 || !(o.Amps > 0) || p.SourcePD && o.Amps > 5:
			return fmt.Errorf("an offer has at most 20 V and 5 A, not %g V and %g A", o.Volts, o.Amps)
		}
	}
	return nil
}

func number(v reflect.Value) float64 {
	if v.CanInt() {
		return float64(v.Int())
	}
	return v.Float()
}

func jsonName(f reflect.StructField) string {
	name := f.Tag.Get("json")
	for i, c := range name {
		if c == ',' {
			return name[:i]
		}
	}
	return name
}
