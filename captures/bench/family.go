package bench

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"reflect"
	"strconv"
	"strings"
)

// Family is a scenario and what differs from one bench to the next: no two
// machines, chargers, faults and meters are alike.
type Family struct {
	Scenario
	spans []Span                            // its own, before the common ones
	vary  func(r *rand.Rand, p *Parameters) // what hangs together
	meter func(r *rand.Rand, p *Parameters) // nil: any meter
}

// Span is what one parameter is drawn from: evenly, or evenly over decades.
type Span struct {
	Name     string
	From, To float64
	Decades  bool
	Source   string
}

// practice is the source of what no document states.
const practice = "common practice"

// commonSpans are drawn in every family that does not set the parameter
// itself.
func commonSpans() []Span {
	return []Span{
		{"attach_s", 0.6, 6, false, practice},
		{"source_output_ohm", 0.015, 0.12, true, "fixed supplies regulate within 5 %: USB PD R3.2 V1.1 table 7.23"},
		{"source_foldback", 0.2, 1, false, practice},
		{"source_trip_ms", 3, 120, true, "overcurrent deglitch of 1.2 ms and up: data sheet JAJSKN2B; " + practice},
		{"source_retry_s", 0.4, 1.4, true, "985 and 1395 ms: data sheet SLVSDJ5D"},
		{"source_slew_v_per_s", 60, 3000, true, "at most 30 mV/us: USB PD R3.2 V1.1 table 7.23"},
		{"source_turn_on_ms", 2, 60, true, practice},
		{"source_bleed_a", 0.08, 0.6, true, practice},
		{"source_capacitance_uf", 20, 400, true, "cSrcBulk: USB PD R3.2 V1.1 table 7.23"},
		{"cable_ohm", 0.05, 0.19, false, "good 1 m cables 80 to 120 mohm, at most 250 mohm: USB Type-C R2.0 section 4.4.1"},
		{"meter_burden_ohm", 0.015, 0.06, false, practice},
		{"controller_w", 0.01, 0.12, true, "10 to 100 mW: " + practice},
		{"controller_boot_ms", 8, 250, true, practice},
		{"port_capacitance_uf", 1, 10, true, "cSnkBulk: USB PD R3.0 V1.1 table 7-20"},
		{"switch_ohm", 0.01, 0.06, true, "16 to 35 mohm on: " + practice},
		{"charger_delay_ms", 40, 1200, true, practice},
		{"input_capacitance_uf", 20, 95, true, "cSnkBulkPd, at most 100 uF: USB PD R3.0 V1.1 table 7-20"},
		{"input_drop_v", 0.6, 1.6, false, "1.28 V below no load in one family, 4.5 V absolute in another: data sheets SLUSE65A, SLUSCJ4B"},
		{"input_share", 0.85, 1, false, practice},
		{"charger_efficiency", 0.88, 0.97, false, practice},
		{"charger_soft_start_ms", 2, 30, true, "3 to 7 ms: data sheet SLVSEG3E; " + practice},
		{"charger_quiescent_a", 0.001, 0.006, true, "0.39 to 5 mA: data sheet SLUSDV2B"},
		{"hiccup_volts", 2.2, 5, false, "2.4, 3.2, 4.0 V and up: data sheet SLUSE65A"},
		{"hiccup_limit_a", 0.3, 1, true, "0.5 A: data sheet SLUSDU3; other designs: " + practice},
		{"hiccup_on_ms", 6, 25, true, "10 ms: data sheet SLUSDU3; other designs: " + practice},
		{"hiccup_off_ms", 400, 700, true, "500 ms: data sheet SLUSDU3; 620 ms: SLVSGF4B"},
		{"rail_capacitance_uf", 60, 1000, true, practice},
		{"charge_ramp_a_per_s", 0.4, 20, true, practice},
		{"standby_w", 0.2, 1.2, true, "0.2 to 0.6 W, off with a full battery 0.3 to 1 W: " + practice},
		{"boot_w", 10, 35, false, "10 to 45 W: " + practice},
		{"idle_w", 4, 16, true, "5 to 20 W: " + practice},
		{"battery_start", 0.08, 0.7, false, practice},
		{"meter_start_s", 0, 4000, false, practice},
		{"messages_start_s", 0, 4000, false, practice},
	}
}

// anyLog is how long a recording is that nobody left on for long. It is drawn last.
var anyLog = Span{"duration_s", 20, 120, true, practice}

// softStartShare is what the soft start takes of a try at most: a circuit whose tries are shorter
// never brings up a sound rail. Common practice.
const softStartShare = 0.6

// familyStream parts the draws from those of [Simulate].
const familyStream = 0x66616d696c79

// Draw gives the bench of a seed. The same seed gives the same bench.
func (f Family) Draw(seed uint64) Scenario {
	name := fnv.New64a()
	_, _ = name.Write([]byte(f.Name)) // it never fails
	r := rand.New(rand.NewPCG(seed, familyStream^name.Sum64()))
	s := f.Scenario
	p, base := &s.Parameters, Sound()
	if p.BatteryCells == base.BatteryCells && p.ChargeA == base.ChargeA {
		varyMachine(r, p)
	}
	if reflect.DeepEqual(p.Offers, base.Offers) {
		varySource(r, p)
	}
	spans := f.spans
	for _, c := range commonSpans() {
		if value(p, c.Name) == value(&base, c.Name) && !named(f.spans, c.Name) {
			spans = append(spans[:len(spans):len(spans)], c)
		}
	}
	for _, span := range spans {
		set(p, span.Name, span.draw(r))
	}
	p.ChargerSoftStartMS = min(p.ChargerSoftStartMS, softStartShare*p.HiccupOnMS)
	if f.meter != nil {
		f.meter(r, p)
	} else {
		varyMeter(r, p)
	}
	if f.vary != nil {
		f.vary(r, p)
	}
	varyLater(rand.New(rand.NewPCG(seed, laterStream^name.Sum64())), p)
	return s
}

// laterStream parts what is drawn last from the rest.
const laterStream = 0x6c61746572

// varyLater draws what no family sets itself: whether the source gives up after
// some trips, which it must in the end (USB PD R3.2 V1.1 section 7.1.7), the rate of
// the meter's clock: a crystal's, or for one meter in four that of a plain oscillator
// (common practice), and how long somebody records, from when the meter begins.
func varyLater(r *rand.Rand, p *Parameters) {
	if p.SourceLatchTrips == 0 {
		p.SourceLatchTrips = oneOf(r, 0, 0, 0, 5, 10)
	}
	if p.MeterClockPPM == 0 {
		p.MeterClockPPM = oneOf(r, 50.0, 50, 50, 1000) * even(r, -1, 1)
	}
	if p.DurationS == min(Sound().DurationS, longest(p.MeterHz)) {
		p.DurationS = min(anyLog.draw(r), longest(p.MeterHz)) + p.MeterFromS
	}
}

// Spans lists what a family draws by itself.
func (f Family) Spans() []Span { return append([]Span{}, f.spans...) }

func (s Span) draw(r *rand.Rand) float64 {
	if s.Decades {
		return s.From * math.Pow(s.To/s.From, r.Float64())
	}
	return s.From + (s.To-s.From)*r.Float64()
}

func named(spans []Span, name string) bool {
	for _, s := range spans {
		if s.Name == name {
			return true
		}
	}
	return false
}

func oneOf[T any](r *rand.Rand, of ...T) T { return of[r.IntN(len(of))] }

func even(r *rand.Rand, from, to float64) float64 { return from + (to-from)*r.Float64() }

func decades(r *rand.Rand, from, to float64) float64 { return from * math.Pow(to/from, r.Float64()) }

// varyMachine draws battery and main rail together. Packs of 2 to 4 cells and
// 30 to 80 Wh, charged with 0.2 to 0.8 C, precharge of 0.05 to 0.1 C, end at
// 0.05 to 0.1 C: common practice.
func varyMachine(r *rand.Rand, p *Parameters) {
	p.BatteryCells = oneOf(r, 2.0, 3, 3, 4)
	p.RailMinimumV = 3.07 * p.BatteryCells
	p.BatteryAH = even(r, 30, 80) / (3.7 * p.BatteryCells)
	p.ChargeA = p.BatteryAH * even(r, 0.25, 0.8)
	p.PrechargeA = p.BatteryAH * even(r, 0.05, 0.1)
	p.ChargeEndA = p.BatteryAH * even(r, 0.05, 0.1)
	p.BatteryOhm = p.BatteryCells * even(r, 0.02, 0.05)
	p.SinkWantsMW = oneOf(r, 45000, 60000, 65000, 90000)
}

// chargeInput is about what a charging machine takes from 20 V, in amperes.
func (p *Parameters) chargeInput() float64 {
	return p.ChargeA * 3.8 * p.BatteryCells / 0.93 / 20
}

// varySource draws a charger of common ratings, whose cable carries what it
// offers. Offers by the power rules of USB PD R3.2 V1.1 table 10.2.
func varySource(r *rand.Rand, p *Parameters) {
	watts := oneOf(r, 45.0, 60, 65, 65, 90, 100)
	amps := math.Round(100*min(watts/20, 5)) / 100
	p.Offers = []Offer{{5, 3}, {9, 3}, {15, 3}, {20, amps}}
	if r.IntN(3) == 0 {
		p.Offers = []Offer{{5, 3}, {9, 3}, {12, 3}, {15, 3}, {20, amps}}
	}
	p.SourceLimitA = max(3, amps) * even(r, 1.1, 1.5)
	p.CableMarked = amps > silentCableA || r.IntN(2) == 0
}

// varyMeter draws the meter and the message recorder by the classes of a
// bench: displays of 1 to 2 Hz, loggers to 10 Hz, good loggers to 100 Hz,
// analysers of 1 to 10 kHz. Steps, noise and offset go with the class. Common
// practice; offset of 10 mA: data sheet SBOS844C.
func varyMeter(r *rand.Rand, p *Parameters) {
	p.MeterHz = oneOf(r, 1.0, 2, 5, 10, 10, 20, 50, 100, 100, 1000, 1000, 10000)
	p.MeterAverages = r.IntN(3) > 0
	switch {
	case p.MeterHz <= 2:
		p.MeterStepV, p.MeterStepA = 0.01, oneOf(r, 0.001, 0.01)
	case p.MeterHz <= 20:
		p.MeterStepV, p.MeterStepA = oneOf(r, 0.001, 0.01), oneOf(r, 0.001, 0.001, 0.01)
	default:
		p.MeterStepV, p.MeterStepA = oneOf(r, 0.0002, 0.001, 0.00125), oneOf(r, 0.0001, 0.00025, 0.001)
	}
	p.MeterNoiseV, p.MeterNoiseA = decades(r, 0.0003, 0.006), decades(r, 0.0002, 0.004)
	p.MeterGainV, p.MeterGainA = even(r, 0.99, 1.01), even(r, 0.99, 1.01)
	p.MeterOffsetV, p.MeterOffsetA = even(r, -0.01, 0.01), even(r, -0.008, 0.008)
	p.MeterJitterS = even(r, 0, 0.1) / p.MeterHz
	p.MeterDropped = oneOf(r, 0, 0, 0.002, 0.02)
	p.Meter = oneOf(r, AtSource, AtDevice, AtDevice)
	p.MessagesRecorded = true
	p.MessageCRC = r.IntN(2) == 0
	p.MessagesNoAck = r.IntN(8) == 0
	p.DurationS = min(p.DurationS, longest(p.MeterHz))
}

// longest keeps fast recordings to a size that a bench would keep.
func longest(hz float64) float64 {
	switch {
	case hz > 5000:
		return 14
	case hz > 500:
		return 30
	default:
		return math.Inf(1)
	}
}

// field finds a numeric parameter by its name.
func field(p *Parameters, name string) (reflect.Value, bool) {
	v := reflect.ValueOf(p).Elem()
	for i := range v.NumField() {
		if jsonName(v.Type().Field(i)) == name {
			return v.Field(i), true
		}
	}
	return reflect.Value{}, false
}

func value(p *Parameters, name string) float64 {
	v, ok := field(p, name)
	if !ok {
		return math.NaN()
	}
	return number(v)
}

func set(p *Parameters, name string, x float64) {
	v, _ := field(p, name)
	if v.CanInt() {
		v.SetInt(int64(math.Round(x)))
		return
	}
	v.SetFloat(x)
}

// Set changes one parameter by its name, from text: a number, true or false,
// source or device, or offers as volts:amperes, 5:3,9:3,20:3.25. The error wraps
// [ErrParameter].
func (p *Parameters) Set(name, text string) error {
	v, ok := field(p, name)
	if !ok {
		return fmt.Errorf("%w: there is no parameter %q", ErrParameter, name)
	}
	form := "a number"
	var err error
	switch v.Kind() { //nolint:exhaustive // the kinds that Parameters holds
	case reflect.Slice:
		form = "volts:amperes, as 5:3,9:3,20:3.25"
		var offers []Offer
		if offers, err = parseOffers(text); err == nil {
			p.Offers = offers
		}
	case reflect.Bool:
		form = "true or false"
		var b bool
		if b, err = strconv.ParseBool(text); err == nil {
			v.SetBool(b)
		}
	case reflect.String:
		v.SetString(text)
	case reflect.Int:
		form = "a whole number"
		var n int64
		if n, err = strconv.ParseInt(text, 10, 64); err == nil {
			v.SetInt(n)
		}
	default:
		var x float64
		if x, err = strconv.ParseFloat(text, 64); err == nil {
			v.SetFloat(x)
		}
	}
	if err != nil {
		return fmt.Errorf("%w: %s cannot be %q, it must be %s", ErrParameter, name, text, form)
	}
	if err := p.Check(); err != nil {
		return fmt.Errorf("%w: %w", ErrParameter, err)
	}
	return nil
}

// parseOffers reads offers as Set takes them.
func parseOffers(text string) ([]Offer, error) {
	var out []Offer
	for _, pair := range strings.Split(text, ",") {
		volts, amps, ok := strings.Cut(pair, ":")
		if !ok {
			return nil, fmt.Errorf("%q is not volts:amperes", pair)
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(volts), 64)
		if err != nil {
			return nil, err
		}
		a, err := strconv.ParseFloat(strings.TrimSpace(amps), 64)
		if err != nil {
			return nil, err
		}
		out = append(out, Offer{v, a})
	}
	return out, nil
}

// Names lists what Set takes.
func Names() []string {
	var out []string
	t := reflect.TypeFor[Parameters]()
	for i := range t.NumField() {
		out = append(out, jsonName(t.Field(i)))
	}
	return out
}

// FindFamily gives the family of a name.
func FindFamily(name string) (Family, bool) {
	for _, f := range Families() {
		if f.Name == name {
			return f, true
		}
	}
	return Family{}, false
}

// CommonSpans lists what every family draws that does not set the parameter
// itself.
func CommonSpans() []Span { return append(commonSpans(), anyLog) }
