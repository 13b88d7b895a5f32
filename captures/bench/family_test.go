package bench

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/pd"
)

func TestFamiliesCoverTheFourLocations(t *testing.T) {
	count, names := map[Location]int{}, map[string]bool{}
	for _, f := range Families() {
		assert.False(t, names[f.Name], f.Name)
		names[f.Name] = true
		count[f.Location]++
		assert.Equal(t, f.Location == Healthy, f.Part == "", f.Name)
		assert.NotEmpty(t, f.Story, f.Name)
		for _, s := range append(f.Spans(), commonSpans()...) {
			assert.NotEmpty(t, s.Source, "%s %s", f.Name, s.Name)
			assert.Contains(t, Names(), s.Name)
			assert.Less(t, s.From, s.To, "%s %s", f.Name, s.Name)
		}
	}
	assert.GreaterOrEqual(t, len(names), 40)
	for _, l := range []Location{BeforePort, AtPort, BehindPort, Healthy} {
		assert.GreaterOrEqual(t, count[l], 10, l)
	}
}

// A seed is a bench: the same again, and another one with another seed.
func TestADrawFollowsItsSeed(t *testing.T) {
	for _, f := range Families() {
		a, b := f.Draw(5), f.Draw(5)
		assert.Equal(t, a.Parameters, b.Parameters, f.Name)
		assert.NotEqual(t, a.Parameters, f.Draw(6).Parameters, f.Name)
		for seed := range uint64(20) {
			s := f.Draw(seed)
			require.NoError(t, s.Parameters.Check(), "%s seed %d", f.Name, seed)
		}
	}
}

// How long somebody records tells nothing of the fault: no family has a length of its own.
func TestNoFamilyHasALengthOfItsOwn(t *testing.T) {
	for _, f := range Families() {
		short, long := math.Inf(1), 0.0
		for seed := range uint64(40) {
			if p := f.Draw(seed).Parameters; p.MeterHz <= 100 {
				short, long = min(short, p.DurationS), max(long, p.DurationS)
			}
		}
		assert.Greater(t, long, 1.5*short, f.Name)
		assert.Greater(t, long, 60.0, f.Name)
	}
}

// A pack whose cells rise no further stays in precharge for as long as it is watched; a sound one
// leaves it within the hour (5 to 30 min: common practice).
func TestAPackThatStaysTakesPrechargeForEver(t *testing.T) {
	p := Sound()
	p.BatteryStart, p.DurationS, p.MeterHz, p.MeterDropped = -0.003, 2400, 1, 0
	for _, stays := range []bool{true, false} {
		p.BatteryStays = stays
		r, err := Simulate(Scenario{Name: "x", Parameters: p}, 1)
		require.NoError(t, err)
		last := r.Rows[len(r.Rows)-1].Amps
		assert.Equal(t, stays, last < 0.5, "%.2f A", last) // 0.44 A into 9 V are 0.2 A at 20 V
	}
}

// A charge that is let down passes through what lies between; a pack that cuts off does not.
func TestAWarmPackIsLetDown(t *testing.T) {
	p := Sound()
	p.DurationS, p.MeterHz, p.MeterDropped, p.BatteryCutS, p.BatteryBackS, p.ChargeRampAPerS = 40, 50, 0, 5, 6, 1
	for _, warm := range []bool{true, false} {
		p.BatteryWarm = warm
		r, err := Simulate(Scenario{Name: "x", Parameters: p}, 1)
		require.NoError(t, err)
		between, top, from := 0, 0.0, -1
		for i, x := range r.Rows {
			if x.Amps > top {
				top, from = x.Amps, i
			}
			if i > from && top > 1 && x.Amps > 0.3*top && x.Amps < 0.7*top && r.Rows[i-1].Amps > x.Amps {
				between++
			}
		}
		assert.Equal(t, warm, between > 20, "%d rows on the way down", between)
	}
}

// A sound machine has a rail: its charger circuit comes up in its first tries and stays.
func TestSoundMachinesHaveARail(t *testing.T) {
	for _, f := range Families() {
		seeds := uint64(10)
		switch {
		case f.Location != Healthy:
			continue
		case !f.Parameters.BatteryConnected: // else it holds the rail up
			seeds = 150
		}
		for seed := range seeds {
			p := f.Draw(seed).Parameters
			p.DurationS, p.MeterHz, p.MeterFromS = p.AttachS+8, 10, 0
			b, err := newBench(p, rand.New(rand.NewPCG(seed, seedStream)))
			require.NoError(t, err)
			require.NoError(t, b.run())
			assert.False(t, b.device.latched, "%s seed %d", f.Name, seed)
			assert.GreaterOrEqual(t, b.y[nodeRail], p.HiccupVolts, "%s seed %d", f.Name, seed)
		}
	}
}

// A controller that hears nothing resets as often as it may (nHardResetCount, USB PD R3.2 V1.1
// table 6.70), and VBUS goes with each.
func TestAControllerThatHearsNothingResets(t *testing.T) {
	p := Sound()
	p.ControllerDeaf, p.DurationS = true, 20
	r, err := Simulate(Scenario{Name: "x", Parameters: p}, 1)
	require.NoError(t, err)
	resets, falls, acked := 0, 0, 0
	for _, m := range r.Messages {
		if m.Set.IsReset() {
			resets++
			continue
		}
		if h, err := pd.ParseMessage(m.Set, m.Bytes); err == nil && m.Set == pd.SOP && h.Type() == pd.GoodCRC {
			acked++
		}
	}
	for i := 1; i < len(r.Rows); i++ {
		if r.Rows[i-1].Volts > 1 && r.Rows[i].Volts <= 1 {
			falls++
		}
	}
	assert.Equal(t, []int{3, 3, 0}, []int{resets, falls, acked})
}

// A source that begins anew says so while VBUS stands, and takes it away after tPSHardReset, 25 to 35 ms
// (USB PD R3.2 V1.1 table 6.68); a pull on VBUS by the load is none.
func TestAChargerThatBeginsAnewSaysSoFirst(t *testing.T) {
	p := Sound()
	p.SourceResetS, p.BatteryConnected, p.DurationS, p.MeterHz, p.MeterJitterS, p.MeterDropped = 3, false, 15, 1000, 0, 0
	r, err := Simulate(Scenario{Name: "x", Parameters: p}, 1)
	require.NoError(t, err)
	volts := func(at float64) float64 {
		i := slices.IndexFunc(r.Rows, func(x captures.Sample) bool { return x.At.Seconds() >= at })
		require.GreaterOrEqual(t, i, 0)
		return r.Rows[i].Volts
	}
	resets := 0
	for _, m := range r.Messages {
		if at := m.At.Seconds(); m.Set.IsReset() {
			resets++
			assert.InDelta(t, 20, volts(at), 1, "as it is said")
			assert.InDelta(t, 20, volts(at+0.02), 1, "20 ms later")
			assert.Less(t, volts(at+0.06), 19.0, "60 ms later")
		}
	}
	assert.Greater(t, resets, 1)
}

// A source says PS_RDY once its output stands (USB PD R3.2 V1.1 section 7.1.5), and what pulls it down
// on its way up keeps it from that; cold, such a part shows nothing.
func TestASourceThatIsPulledDownIsNotReady(t *testing.T) {
	p := Sound()
	p.VBUSLeakFromV, p.VBUSLeakOhm, p.DurationS = 8, 0.3, 15
	s := Scenario{Name: "x", Location: AtPort, Part: "vbus-short", Parameters: p}
	r, err := Simulate(s, 1)
	require.NoError(t, err)
	said := map[pd.MessageType]int{}
	for _, m := range r.Messages {
		if h, err := pd.ParseMessage(m.Set, m.Bytes); err == nil {
			said[h.Type()]++
		}
	}
	assert.Positive(t, said[pd.Accept])
	assert.Zero(t, said[pd.PSRDY])
	assert.Greater(t, unit{Scenario: s, random: rand.New(rand.NewPCG(1, 1))}.vbus(), 1e4)
}

// What a family is called after must be seen by a meter that sees all.
func TestFamiliesShowWhatTheyAreCalledAfter(t *testing.T) {
	type summary struct{ maxV, maxA, endV, endA, endMeanA float64 }
	look := func(t *testing.T, name string, seed uint64) (*Run, summary) {
		f, ok := FindFamily(name)
		require.True(t, ok, name)
		s := f.Draw(seed)
		p := &s.Parameters
		p.MeterHz, p.MeterAverages, p.MeterNoiseA, p.MeterOffsetA, p.MeterStepA, p.Meter = 100, true, 0, 0, 0.0001, AtDevice
		p.DurationS = min(p.DurationS, 40)
		r, err := Simulate(s, seed)
		require.NoError(t, err)
		var out summary
		n := len(r.Rows)
		for i, x := range r.Rows {
			out.maxV, out.maxA = max(out.maxV, x.Volts), max(out.maxA, x.Amps)
			if i >= n/2 {
				out.endMeanA += x.Amps / float64(n-n/2)
			}
		}
		out.endV, out.endA = r.Rows[n-1].Volts, r.Rows[n-1].Amps
		return r, out
	}
	for _, c := range []struct {
		name   string
		holds  func(s summary) bool
		source string
	}{
		{"dead-charger", func(s summary) bool { return s.maxV < 0.1 }, "no output"},
		{"broken-cable", func(s summary) bool { return s.maxV < 0.1 }, "VBUS does not reach the device"},
		{"open-cc", func(s summary) bool { return s.maxV < 0.1 }, "VBUS stays cold until Rd is seen: USB Type-C R2.0 section 4.5.2.2"},
		{"extended-range", func(s summary) bool { return s.maxV > 26.6 && s.endA > 0.3 }, "28 V within 5 %: USB PD R3.2 V1.1 table 7.23"},
		{"small-charger", func(s summary) bool { return s.endV > 8 && s.endA > 0.5 }, "it charges"},
		{"plain-charger", func(s summary) bool { return s.maxV < 5.5 && s.endA > 0.3 }, "it charges at 5 V"},
		{"charger-too-high", func(s summary) bool { return s.maxV > 21 }, "above 5 %: USB PD R3.2 V1.1 table 7.23"},
		{"silent-charger", func(s summary) bool { return s.maxV < 5.5 && s.maxA < 0.2 }, "no contract, no draw"},
		{"open-input-switch", func(s summary) bool { return s.maxV > 14 && s.endA < 0.02 }, "a contract and no draw"},
		{"dead-charger-circuit", func(s summary) bool { return s.maxV > 14 && s.endA < 0.02 }, "a contract and no draw"},
		{"controller-unset", func(s summary) bool { return s.maxV < 5.5 && s.endA < 0.05 }, "firmware in recovery: 5 V and 0.00 to 0.02 A, trade pages, common practice"},
		{"leaky-vbus-alone", func(s summary) bool { return s.maxV > 14 && s.endMeanA > 0.02 && s.endMeanA < 0.5 }, "20 V over 60 to 800 ohm, and a board's standby"},
		{"dead-controller-charges", func(s summary) bool { return s.maxV < 5.5 && s.endMeanA > 0.3 }, "charges at 5 V and no more"},
		{"board-alone-waits", func(s summary) bool { return s.maxV > 14 && s.endMeanA > 0.08 && s.maxA < 4*s.endMeanA+0.5 }, "a load that moves about its mean"},
		{"falls-over", func(s summary) bool { return s.maxV > 14 && s.maxA > 4*s.endMeanA }, "starts that do not last"},
		{"charge-pauses", func(s summary) bool { return s.maxV > 14 && s.endMeanA > 0.1 && s.maxA > 1.2*s.endMeanA }, "it charges, and rests"},
		{"keeps-to-5v", func(s summary) bool { return s.maxV < 5.5 && s.endA < 0.05 }, "a contract at 5 V"},
		{"endless-hiccup", func(s summary) bool { return s.endMeanA > 0.001 && s.endMeanA < 0.1 }, "10 ms in 510 ms at 0.5 A or less: data sheet SLUSDU3"},
		{"leak-above-5v", func(s summary) bool { return s.maxV > 5.5 && s.maxV < 14 && s.maxA > 3 }, "it conducts from 6 to 9 V on, before any contract's 15 or 20 V stands"},
		{"leaky-main-rail", func(s summary) bool { return s.endMeanA > 0.05 }, "a load that stands"},
	} {
		for seed := range uint64(3) {
			_, s := look(t, c.name, seed)
			assert.True(t, c.holds(s), "%s seed %d: %+v (%s)", c.name, seed, s, c.source)
		}
	}
}

func TestSetByName(t *testing.T) {
	p := Sound()
	require.NoError(t, p.Set("cable_ohm", "0.3"))
	assert.InDelta(t, 0.3, p.CableOhm, 0)
	require.NoError(t, p.Set("switch_stuck", "true"))
	assert.True(t, p.SwitchStuck)
	require.NoError(t, p.Set("hiccup_tries", "3"))
	assert.Equal(t, 3, p.HiccupTries)
	require.NoError(t, p.Set("meter_at", "source"))
	require.NoError(t, p.Set("offers", "5:3, 9:2.22"))
	assert.ErrorContains(t, p.Set("offers", "5V/3A"), "5:3,9:3,20:3.25", "the error names the form")
	assert.Equal(t, []Offer{{5, 3}, {9, 2.22}}, p.Offers)
	for _, bad := range [][2]string{{"cable_ohm", "much"}, {"cable_ohm", "77"}, {"offers", "1"}, {"offers", "9:3"}, {"offers", "5:3,5:3"}, {"offers", "5:6"}, {"offers", "5:NaN"}, {"offers", "5:3,24:3"}, {"offers", ""},
		{"meter_hz", "100000"}, {"cable_ohm", "NaN"}, {"nothing", "1"}, {"meter_at", "middle"}, {"switch_stuck", "2"}} {
		q := Sound()
		q.DurationS = 600
		require.ErrorIs(t, q.Set(bad[0], bad[1]), ErrParameter, bad[0])
	}
}
