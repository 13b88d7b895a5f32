package bench

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
)

// Setting is what the bench says of one parameter that can be set by name.
type Setting struct {
	Name   string
	Kind   string // number, count, switch, choice or offers
	Unit   string // "" where it has none
	Min    float64
	Max    float64 // both 0 where it is neither number nor count
	Value  string  // in the scenario it was asked for
	Source string
}

// Settings lists what can be set in a scenario, in the order of [Parameters].
func (s *Scenario) Settings() []Setting {
	var out []Setting
	v := reflect.ValueOf(&s.Parameters).Elem()
	for i := range v.NumField() {
		f := v.Type().Field(i)
		setting := Setting{Name: jsonName(f), Unit: Unit(jsonName(f)), Value: fmt.Sprint(v.Field(i))}
		switch f.Type.Kind() { //nolint:exhaustive // the kinds that Parameters holds
		case reflect.Slice:
			setting.Kind, setting.Value = "offers", offersText(s.Parameters.Offers)
		case reflect.Bool:
			setting.Kind = "switch"
		case reflect.String:
			setting.Kind = "choice"
		case reflect.Int:
			setting.Kind = "count"
		default:
			setting.Kind = "number"
		}
		if r, ok := rangeOf(f); ok {
			setting.Min, setting.Max, setting.Source = r.Min, r.Max, r.Source
		}
		out = append(out, setting)
	}
	return out
}

// offersText writes offers as Set takes them.
func offersText(offers []Offer) string {
	var pairs []string
	for _, o := range offers {
		pairs = append(pairs, fmt.Sprintf("%g:%g", o.Volts, o.Amps))
	}
	return strings.Join(pairs, ",")
}

// units by the end of a name; the longer ends first.
func units() [][2]string {
	return [][2]string{
		{"_v_per_s", "V/s"}, {"_a_per_s", "A/s"},
		{"_ohm", "ohm"}, {"_ms", "ms"}, {"_mw", "mW"}, {"_uf", "uF"}, {"_ah", "Ah"}, {"_hz", "Hz"}, {"_ppm", "ppm"},
		{"_volts", "V"}, {"_v", "V"}, {"_a", "A"}, {"_w", "W"}, {"_s", "s"},
	}
}

// Unit is the unit that a parameter's name ends in, "" where it has none.
func Unit(name string) string {
	if strings.HasPrefix(name, "meter_gain_") {
		return "" // of volts, of amperes
	}
	for _, u := range units() {
		if strings.HasSuffix(name, u[0]) {
			return u[1]
		}
	}
	return ""
}

// FullName finds the parameter that a name stands for: hyphens are as good as
// underscores, and the end of a name will do where one parameter alone ends so,
// as short-ohm for rail_short_ohm.
func FullName(name string) (full string, ok bool) {
	name = strings.ToLower(strings.ReplaceAll(name, "-", "_"))
	names := Names()
	if slices.Contains(names, name) {
		return name, true
	}
	for _, n := range names {
		if strings.HasSuffix(n, "_"+name) {
			if full != "" {
				return "", false
			}
			full = n
		}
	}
	return full, full != ""
}

// ErrTwoSides is wrapped where settings put faults on two sides of the port.
var ErrTwoSides = errors.New("faults on two sides of the port")

// Change changes a scenario's parameters and keeps the answer true: where the
// change adds or removes a fault, location and part follow, and the rules,
// which belonged to the fault, are empty. A meter that is made faster or slower
// keeps its jitter's share of a row. Faults on two sides have no single
// answer: the error wraps [ErrTwoSides], and the scenario is as it was.
func (s *Scenario) Change(change func(p *Parameters) error) error {
	was, before := *s, s.faults()
	s.Parameters.Offers = slices.Clone(s.Parameters.Offers)
	if err := change(&s.Parameters); err != nil {
		*s = was
		return err
	}
	if p := &s.Parameters; p.MeterHz != was.Parameters.MeterHz && p.MeterJitterS == was.Parameters.MeterJitterS {
		p.MeterJitterS *= was.Parameters.MeterHz / p.MeterHz // jitter is a share of a row
	}
	after := s.faults()
	if slices.Equal(before, after) {
		return nil
	}
	s.Location, s.Part, s.Rules = Healthy, "", []string{}
	for _, f := range after {
		if s.Location != Healthy && s.Location != f.location {
			err := fmt.Errorf("%w: %s is %s, and %s is %s", ErrTwoSides, s.Part, s.Location, f.part, f.location)
			*s = was
			return err
		}
		if s.Location == Healthy {
			s.Location, s.Part = f.location, f.part
		}
	}
	return nil
}

// ErrTruth is wrapped where a truth.json cannot be read.
var ErrTruth = errors.New("no truth")

const byteOrderMark = "\uFEFF"

// ReadTruth reads a truth.json, a bench's or a shop's own: only the location
// must be there, and fields that it does not know, or that are of another type, are
// passed over. An editor's byte order mark may stand before it. The error wraps
// [ErrTruth].
func ReadTruth(r io.Reader) (Truth, error) {
	var t Truth
	text := bufio.NewReader(r)
	if mark, err := text.Peek(len(byteOrderMark)); err == nil && string(mark) == byteOrderMark {
		_, _ = text.Discard(len(byteOrderMark))
	}
	d := json.NewDecoder(text)
	var other *json.UnmarshalTypeError // the rest is read nevertheless
	if err := d.Decode(&t); err != nil && !errors.As(err, &other) {
		return Truth{}, fmt.Errorf("%w: %w", ErrTruth, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return Truth{}, fmt.Errorf("%w: more than one JSON document", ErrTruth)
	}
	if places := []Location{BeforePort, AtPort, BehindPort, Healthy}; !slices.Contains(places, t.Location) {
		return Truth{}, fmt.Errorf("%w: location is %q, it must be one of %q", ErrTruth, t.Location, places)
	}
	return t, nil
}
