package bench

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a family is said to be and what its parameters hold must agree, or the
// answer beside a changed scenario would be wrong.
func TestFaultsAreWhereTheFamilySays(t *testing.T) {
	unseen := map[string]bool{"never-starts": true} // nothing on it is out of order but its will to start
	for _, f := range Families() {
		for seed := range uint64(20) {
			s := f.Draw(seed)
			found := s.faults()
			if f.Location == Healthy || unseen[f.Name] {
				assert.Empty(t, found, "%s seed %d", f.Name, seed)
				continue
			}
			assert.Contains(t, found, fault{f.Location, f.Part}, "%s seed %d", f.Name, seed)
		}
	}
}

func TestTheAnswerFollowsAChange(t *testing.T) {
	set := func(name, text string) func(p *Parameters) error {
		return func(p *Parameters) error { return p.Set(name, text) }
	}
	for _, c := range []struct {
		scenario, name, value string
		location              Location
		part                  string
		rules                 bool
	}{
		{"sound-charging", "rail_short_ohm", "0.2", BehindPort, "main-rail-short", false},
		{"sound-charging", "vbus_leak_ohm", "50", AtPort, "vbus-leak", false},
		{"sound-charging", "cable_ohm", "0.9", BeforePort, "cable", false},
		{"sound-charging", "cable_ohm", "0.2", Healthy, "", true},
		{"sound-charging", "controller_unset", "true", AtPort, "port-controller", false},
		{"sound-charging", "battery_stays", "true", BehindPort, "battery", false},
		{"sound-charging", "battery_cut_s", "5", BehindPort, "battery", false},
		{"sound-charging", "battery_warm", "true", Healthy, "", true},
		{"hard-short-main-rail", "rail_short_ohm", "0.2", BehindPort, "main-rail-short", true},
		{"hard-short-main-rail", "rail_short_ohm", "20", BehindPort, "main-rail-leak", false},
		{"hard-short-main-rail", "rail_short_ohm", "0", Healthy, "", false},
	} {
		s, ok := Find(c.scenario)
		require.True(t, ok)
		require.NoError(t, s.Change(set(c.name, c.value)))
		assert.Equal(t, c.location, s.Location, "%s %s=%s", c.scenario, c.name, c.value)
		assert.Equal(t, c.part, s.Part, "%s %s=%s", c.scenario, c.name, c.value)
		assert.Equal(t, c.rules, len(s.Rules) > 0, "%s %s=%s", c.scenario, c.name, c.value)
	}
	s, _ := Find("sound-charging") // 50 rows a second
	jitter := s.Parameters.MeterJitterS
	require.NoError(t, s.Change(set("meter_hz", "500")))
	assert.InDelta(t, jitter/10, s.Parameters.MeterJitterS, 1e-9)

	s, _ = Find("hard-short-main-rail")
	was := s
	require.ErrorIs(t, s.Change(set("cable_open", "true")), ErrTwoSides)
	assert.Equal(t, was, s)
}

func TestUnit(t *testing.T) {
	for name, want := range map[string]string{
		"rail_short_ohm": "ohm", "battery_ah": "Ah", "source_slew_v_per_s": "V/s", "meter_hz": "Hz", "hiccup_volts": "V",
		"meter_gain_v": "", "meter_at": "", "hiccup_tries": "", "epr": "", "meter_clock_ppm": "ppm",
	} {
		assert.Equal(t, want, Unit(name), name)
	}
}

func TestFullName(t *testing.T) {
	for name, want := range map[string]string{
		"short-ohm": "rail_short_ohm", "rail_short_ohm": "rail_short_ohm", "Cable-Ohm": "cable_ohm",
		"ohm": "", "nothing": "", "": "", "offers": "offers",
	} {
		got, ok := FullName(name)
		assert.Equal(t, want, got, name)
		assert.Equal(t, want != "", ok, name)
	}
}

func TestReadTruth(t *testing.T) {
	s, _ := Find("hard-short-main-rail")
	s.Parameters.DurationS = 1
	r, err := Simulate(s, 3)
	require.NoError(t, err)
	var b strings.Builder
	require.NoError(t, r.WriteTruth(&b))
	got, err := ReadTruth(strings.NewReader(b.String()))
	require.NoError(t, err)
	assert.Equal(t, r.Truth(), got)

	got, err = ReadTruth(strings.NewReader(`{"location":"at-port","job":17}`))
	require.NoError(t, err)
	assert.Equal(t, AtPort, got.Location)
	got, err = ReadTruth(strings.NewReader("\uFEFF" + `{"part":3,"rules":"none","parameters":{"seed":-1,"short_ohm":{},"duration_s":"20","meter_at":"device"},"location":"healthy"}`))
	require.NoError(t, err, "as an editor and another bench write it")
	assert.Equal(t, Healthy, got.Location)
	assert.Equal(t, AtDevice, got.Parameters.Meter)
	for _, bad := range []string{"", "{}", `{"location":3}`, `{"location":"port"}`, `{"location":"at-port"} x`, `[]`} {
		_, err := ReadTruth(strings.NewReader(bad))
		assert.True(t, errors.Is(err, ErrTruth), bad)
	}
}
