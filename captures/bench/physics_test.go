package bench

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// point is one accepted step as a test sees it.
type point struct {
	t float64
	y state
	f flows
	h float64
}

// watched runs a bench and keeps every step. prepare may change the bench
// before it runs.
func watched(t *testing.T, p Parameters, prepare func(*bench)) (*bench, []point) {
	t.Helper()
	b, err := newBench(p, rand.New(rand.NewPCG(7, 7)))
	require.NoError(t, err)
	var points []point
	b.observe = func(at float64, y *state, f flows, h float64) { points = append(points, point{at, *y, f, h}) }
	if prepare != nil {
		prepare(b)
	}
	require.NoError(t, b.run())
	return b, points
}

// quietBoard is a device without draw: what flows, flows into capacitors.
func quietBoard() Parameters {
	p := Sound()
	p.ControllerAlive, p.ControllerW = false, 0
	p.BatteryConnected = false
	p.SourcePD, p.MessagesRecorded = false, false
	p.SourceTripMS = 0
	p.DurationS, p.AttachS = 2, 0.5
	p.MeterNoiseV, p.MeterNoiseA, p.MeterJitterS, p.MeterDropped = 0, 0, 0, 0
	p.MeterGainV, p.MeterGainA, p.MeterOffsetV, p.MeterOffsetA = 1, 1, 0, 0
	return p
}

func TestCapacitorChargesAsTheExponential(t *testing.T) {
	// Source: v = V0 (1 - exp(-t/RC)), any physics textbook.
	const ohms, farads, v0 = 5.0, 100e-6, 10.0
	f := func(_ float64, y *state) state {
		var d state
		d[nodePort] = (v0 - y[nodePort]) / (ohms * farads)
		return d
	}
	var y state
	at, h, steps, v := 0.0, firstStepS, 0, solver{f: f}
	for at < 5*ohms*farads {
		s := v.try(at, &y, h, 1)
		require.False(t, s.failed)
		if s.err > 1 {
			h /= 4
			continue
		}
		y, at = s.y, at+h
		steps++
		h = nextLength(h, s.err)
		want := v0 * (1 - math.Exp(-at/(ohms*farads)))
		require.InDelta(t, want, y[nodePort], 0.02, "after %g s", at)
	}
	assert.Less(t, steps, 200, "steps must grow")
}

func TestInrushIsTheChargeOfTheCapacitor(t *testing.T) {
	// Source: Q = C V; cSnkBulk 1 to 10 uF at attach, USB PD R3.0 V1.1 table 7-20.
	for _, uf := range []float64{1, 4.7, 10} {
		p := quietBoard()
		p.PortCapacitanceUF = uf
		p.Offers = []Offer{{5, 3}}
		_, points := watched(t, p, nil)
		var charge float64
		last := points[0]
		for _, q := range points[1:] {
			if q.t > 1 {
				break // from here on only the open switch leaks
			}
			charge += q.h * (last.f.cable + q.f.cable) / 2
			last = q
		}
		assert.InEpsilon(t, uf*1e-6*5, charge, 0.02, "%g uF", uf)
	}
}

func TestVoltageAtTheMeterIsWhatTheLoopLeaves(t *testing.T) {
	// Source: V = V0 - R I, Ohm's law.
	p := Sound()
	p.CableOhm, p.MeterBurdenOhm, p.SourceOutputOhm = 0.2, 0.03, 0.07
	p.BootS = 4
	p.DurationS = 30
	_, points := watched(t, p, nil)
	checked := 0
	for _, q := range points {
		if q.t < 8 || q.h < 1e-3 {
			continue
		}
		assert.InDelta(t, 20-0.07*q.f.source-0.23*q.f.cable, q.y[nodePort], 2e-3)
		checked++
	}
	assert.Greater(t, checked, 100)
}

func TestEnergyIsKept(t *testing.T) {
	for _, s := range Scenarios() {
		t.Run(s.Name, func(t *testing.T) {
			b, err := newBench(s.Parameters, rand.New(rand.NewPCG(3, 3)))
			require.NoError(t, err)
			before := b.c.stored(&b.y)
			require.NoError(t, b.run())
			e := b.energy
			out := e.Cable + e.Port + e.Charger + e.Rail + e.Battery + b.c.stored(&b.y) - before
			assert.InDelta(t, e.Source, out, 1e-3*math.Abs(e.Source)+2e-3)
			assert.Positive(t, e.Source)
			for name, part := range map[string]float64{"cable": e.Cable, "charger": e.Charger, "rail": e.Rail} {
				assert.GreaterOrEqual(t, part, 0.0, name)
			}
		})
	}
}

func TestAnyBenchWithinItsRangesIsSolved(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 11))
	scenarios := Scenarios()
	fields := reflect.TypeFor[Parameters]()
	benches := 40
	if *long {
		benches = 1000
	}
	for n := range benches {
		p := scenarios[random.IntN(len(scenarios))].Parameters
		p.DurationS = min(p.DurationS, 15)
		v := reflect.ValueOf(&p).Elem()
		for range 6 {
			i := random.IntN(fields.NumField())
			r, ok := rangeOf(fields.Field(i))
			if !ok || r.Name == "duration_s" || r.Name == "attach_s" || r.Name == "meter_hz" {
				continue
			}
			x := r.Min + (r.Max-r.Min)*random.Float64()
			if r.Min > 0 { // ranges over decades
				x = r.Min * math.Pow(r.Max/r.Min, random.Float64())
			}
			if v.Field(i).CanInt() {
				v.Field(i).SetInt(int64(x))
			} else {
				v.Field(i).SetFloat(x)
			}
		}
		b, err := newBench(p, rand.New(rand.NewPCG(uint64(n), 1)))
		require.NoError(t, err)
		before := b.c.stored(&b.y)
		require.NoError(t, b.run(), "%+v", p)
		e := b.energy
		out := e.Cable + e.Port + e.Charger + e.Rail + e.Battery + b.c.stored(&b.y) - before
		require.InDelta(t, e.Source, out, 5e-3*math.Abs(e.Source)+0.02, "%+v", p)
	}
}

func TestHiccup(t *testing.T) {
	// Source: charger data sheet SLUSDU3: off 500 ms, retry 10 ms, 2 ms deglitch,
	// input current at most 0.5 A, 7 tries, then latched. Hence 510 to 512 ms,
	// 9.8 mA on average, 3.6 s.
	s, ok := Find("hard-short-main-rail")
	require.True(t, ok)
	p := s.Parameters
	p.DurationS = 30
	p.ChargerOutputLimitA = 40 // so that the input clamp is what holds
	b, points := watched(t, p, nil)

	var starts, ends []float64
	on := false
	var charge float64
	for i, q := range points {
		drawing := q.f.charger > 0.1
		if drawing && !on {
			starts = append(starts, q.t)
		}
		if !drawing && on {
			ends = append(ends, q.t)
		}
		on = drawing
		if i > 0 && len(ends) > 0 && len(starts) <= 8 {
			charge += q.h * (q.f.charger + points[i-1].f.charger) / 2
		}
		assert.LessOrEqual(t, q.f.charger, 0.5+1e-3)
	}
	require.Len(t, starts, 1+7, "the start and seven tries")
	require.Len(t, ends, 8)
	for i := 2; i < len(starts); i++ {
		period := starts[i] - starts[i-1]
		assert.True(t, period >= 0.5095 && period <= 0.5125, "period %g", period)
		assert.InDelta(t, 0.010, ends[i]-starts[i], 0.001)
	}
	assert.InDelta(t, 3.6, ends[7]-ends[0], 0.06)
	assert.LessOrEqual(t, charge/(ends[7]-ends[0]), 0.0098)
	assert.True(t, b.device.latched)
	assert.Less(t, points[len(points)-1].f.cable, 0.02, "quiet after the last try")
}

func TestConstantPowerCollapsesBeyondItsLimit(t *testing.T) {
	// Source: a source V0 behind R gives at most V0²/4R (5 V and 0.4 ohm: 15.6 W).
	const v0, loop = 5.0, 0.4
	limit := v0 * v0 / (4 * loop)
	lowest := func(watts float64) float64 {
		p := quietBoard()
		p.Offers = []Offer{{v0, 20}}
		p.SourceOutputOhm, p.SourceLimitA, p.SourceFoldback = 0.05, 20, 1
		p.CableOhm, p.MeterBurdenOhm = loop-0.05, 0
		p.RailMinimumV, p.BootS = 3.3, 0
		p.ChargerEfficiency, p.ChargerLossOhm, p.ChargerQuiescentA = 0.99, 0.001, 0
		p.InputDropV = 5 // no input-voltage regulation: the bare converter
		p.SwitchOhm, p.SwitchLimitA, p.HiccupLimitA = 0.005, 20, 5
		p.ChargerOutputLimitA = 40
		p.HiccupVolts = 0
		p.DurationS = 2.26
		_, points := watched(t, p, func(b *bench) {
			b.at(1.0, func() {
				b.sink.unwatch() // nobody takes the sag for a removal of the plug
				b.device.powered(Offer{v0, 20})
			})
			b.at(1.8, func() { b.c.inputLimit = 20 })
			for i := 1; i <= 40; i++ { // slowly: a leap of the load asks for more for a moment
				b.at(2.0+0.005*float64(i), func() { b.c.loadW = watts * 0.985 * float64(i) / 40 })
			}
		})
		low := math.Inf(1)
		for _, q := range points {
			if q.t > 2.24 {
				low = min(low, q.y[nodeInput])
			}
		}
		return low
	}
	assert.Greater(t, lowest(0.9*limit), v0/2, "below the limit the upper branch holds")
	assert.Less(t, lowest(1.15*limit), v0/2, "above it there is no upper branch")
}

func TestTaperHasTheBatterysTimeConstant(t *testing.T) {
	// Source: constant voltage into R and a storage whose voltage rises by k a
	// coulomb: I falls with tau = R/k. Here k follows from the pack: cells
	// times 0.23 V over the last 20 % of its charge.
	s, ok := Find("sound-end-of-charge")
	require.True(t, ok)
	p := s.Parameters
	p.StandbyW = 0
	_, points := watched(t, p, nil)
	perCoulomb := 3 * 0.23 / (0.2 * p.BatteryAH * 3600)
	want := p.BatteryOhm / perCoulomb
	at := func(x float64) float64 {
		for _, q := range points {
			if q.t >= x {
				return q.f.battery
			}
		}
		return math.NaN()
	}
	const from, to = 300, 900
	got := (to - from) / math.Log(at(from)/at(to))
	assert.InEpsilon(t, want, got, 0.02)
	assert.True(t, want > 600-60 && want < 3600, "10 to 60 min, common practice; here %g s", want)
}

func TestPrechargeIsATenthOfTheCapacity(t *testing.T) {
	// Source: at most 0.1 C below 3.0 V a cell, common practice.
	s, ok := Find("sound-precharge")
	require.True(t, ok)
	_, points := watched(t, s.Parameters, nil)
	stepped := math.NaN()
	for _, q := range points {
		if s.Parameters.BatteryStart+q.y[batteryStor]/(4.4*3600) < 0 {
			assert.LessOrEqual(t, q.f.battery, 0.44+1e-6)
		} else if q.f.battery > 2 && math.IsNaN(stepped) {
			stepped = q.t
		}
	}
	assert.True(t, stepped > 60 && stepped < 120, "fast charge follows, here after %g s", stepped)
}

func TestTheConverterPaysForItsLosses(t *testing.T) {
	// Source: worked by hand. 4 A into 11 V are 44 W; 4² · 0.03 ohm are 0.48 W;
	// at 95 % that takes 46.82 W, at 20 V 2.341 A.
	p := Sound()
	p.ChargerEfficiency, p.ChargerLossOhm = 0.95, 0.03
	c := circuit{p: &p}
	y := state{nodeInput: 20, nodeRail: 11, chargerOut: 4}
	assert.InDelta(t, 2.341, c.chargerInput(&y), 0.0005)
	assert.InDelta(t, 4, c.outputFor(&y, 2.341), 0.001, "and back")
}

func TestFoldbackLimitsLessAtLowVoltage(t *testing.T) {
	// Source: worked by hand. 4 A at the set 20 V, 60 % of it at 0 V: at 10 V
	// half the way, 3.2 A.
	p := Sound()
	p.SourceLimitA, p.SourceFoldback = 4, 0.6
	c := circuit{p: &p, sourceOn: true, set: ramp{from: 20, to: 20, rate: 1}}
	for volts, want := range map[float64]float64{0: 2.4, 10: 3.2, 19: 3.92} {
		amps, _, limiting := c.sourceCurrent(1, volts)
		assert.True(t, limiting)
		assert.InDelta(t, want, amps, 1e-9, "at %g V", volts)
	}
}

func TestTheSearchSettlesBelowTheSourcesLimit(t *testing.T) {
	// Source: open laptop embedded-controller firmware: 500 mA, 64 mA steps,
	// settles 128 mA below the limit after three overcurrents.
	s, ok := Find("plain-charger-search")
	require.True(t, ok)
	_, points := watched(t, s.Parameters, nil)
	losses, up := 0, false
	for _, q := range points {
		switch {
		case up && q.y[nodePort] < 1:
			losses, up = losses+1, false
		case q.y[nodePort] > 4.5:
			up = true
		}
	}
	assert.Equal(t, 3, losses)
	final := points[len(points)-1].f.charger
	steps := (final + 0.128 - 0.5) / 0.064
	assert.InDelta(t, math.Round(steps), steps, 0.05)
	assert.Less(t, final, s.Parameters.SourceLimitA)
}

func TestTheMeterSitsWhereItSits(t *testing.T) {
	// Source: Ohm's law over the cable, here 0.25 ohm.
	p := Sound()
	p.CableOhm, p.MeterBurdenOhm = 0.22, 0.03
	p.MeterNoiseV, p.MeterNoiseA, p.MeterGainV, p.MeterGainA, p.MeterOffsetA, p.MeterDropped = 0, 0, 1, 1, 0, 0
	last := func(end MeterEnd) (volts, amps float64) {
		p.Meter = end
		r, err := Simulate(Scenario{Name: "x", Parameters: p}, 3)
		require.NoError(t, err)
		row := r.Rows[len(r.Rows)-1]
		return row.Volts, row.Amps
	}
	atSource, amps := last(AtSource)
	atDevice, _ := last(AtDevice)
	assert.InDelta(t, 0.25*amps, atSource-atDevice, 0.002)
	assert.Greater(t, amps, 1.0)
}

func TestAnAveragingMeterKeepsTheCharge(t *testing.T) {
	// Source: the mean of a window times its length is the charge in it. Pulses
	// of 10 ms in rows of 100 ms: an instant meter would miss most of them.
	s, ok := Find("hard-short-main-rail")
	require.True(t, ok)
	p := s.Parameters
	p.MeterHz, p.MeterStepA = 10, 1e-5
	p.MeterNoiseA, p.MeterGainA, p.MeterOffsetA, p.MeterDropped = 0, 1, 0, 0
	b, points := watched(t, p, nil)
	var want, got float64
	for i, q := range points[1:] {
		want += q.h * (q.f.cable + points[i].f.cable) / 2
	}
	for _, row := range b.meter.rows {
		got += row.Amps / p.MeterHz
	}
	assert.InEpsilon(t, want, got, 0.02)
}

func TestTheDrawNeverPassesTheContract(t *testing.T) {
	// Source: USB PD R3.2 V1.1 table 7.24, iOvershoot 230 mA around the settled value.
	for _, name := range []string{"sound-charging", "soft-short-main-rail", "sound-boot", "resistive-cable"} {
		s, ok := Find(name)
		require.True(t, ok, name)
		_, points := watched(t, s.Parameters, nil)
		for _, q := range points {
			require.Less(t, q.f.cable, 3.25+0.23, "%s at %g s", name, q.t)
		}
	}
}

func TestFinerStepsChangeLittle(t *testing.T) {
	for _, name := range []string{"sound-charging", "resistive-cable", "hard-short-main-rail", "staircase-collapse"} {
		t.Run(name, func(t *testing.T) {
			s, ok := Find(name)
			require.True(t, ok)
			p := s.Parameters
			p.MeterNoiseV, p.MeterNoiseA = 0, 0
			run := func(tolerance float64) (*bench, int) {
				b, points := watched(t, p, func(b *bench) { b.tolerance = tolerance })
				return b, len(points)
			}
			coarse, few := run(1)
			fine, many := run(0.05)
			require.Greater(t, many, few)
			require.Len(t, fine.meter.rows, len(coarse.meter.rows))
			assert.InEpsilon(t, fine.energy.Source, coarse.energy.Source, 2e-3)
			var differ int
			for i := range fine.meter.rows {
				a, b := fine.meter.rows[i], coarse.meter.rows[i]
				if math.Abs(a.Volts-b.Volts) > 0.005 || math.Abs(a.Amps-b.Amps) > 0.005 {
					differ++ // an event that a step moved across the edge of one row
				}
			}
			assert.LessOrEqual(t, float64(differ)/float64(len(fine.meter.rows)), 0.01)
		})
	}
}

func TestTheMetersClockRunsAtItsOwnRate(t *testing.T) {
	// Source: worked by hand. 1000 ppm fast, the meter counts 40.04 s while 40 s
	// pass; in the middle of the recording it is 20 ms ahead.
	p := Sound()
	p.MeterJitterS, p.MeterDropped, p.MeterClockPPM, p.MeterStartS, p.MessagesStartS = 0, 0, 1000, 100, 7
	fast, err := Simulate(Scenario{Name: "x", Parameters: p}, 3)
	require.NoError(t, err)
	p.MeterClockPPM = 0
	even, err := Simulate(Scenario{Name: "x", Parameters: p}, 3)
	require.NoError(t, err)
	span := func(r *Run) float64 { return (r.Rows[len(r.Rows)-1].At - r.Rows[0].At).Seconds() }
	assert.InDelta(t, 1.001*span(even), span(fast), 2e-4)
	assert.InDelta(t, -93.02, fast.Scenario.Parameters.ClockOffsetS(), 1e-6)
	assert.InDelta(t, -93, even.Scenario.Parameters.ClockOffsetS(), 1e-6)
	assert.Equal(t, even.Messages, fast.Messages, "the bench's own clock is one")
}

func TestChargeGoesWhereItFlows(t *testing.T) {
	// Source: Kirchhoff's current law and Q = C V: what flows into a node over
	// the whole run and does not flow out of it again stands in its capacitor.
	for _, name := range []string{"sound-charging", "hard-short-main-rail", "leaky-vbus", "weak-charger", "sound-boot"} {
		s, ok := Find(name)
		require.True(t, ok, name)
		p := s.Parameters
		p.DurationS = min(p.DurationS, 20)
		p.MeterHz = 100
		var into, through state
		_, points := watched(t, p, nil)
		last := points[0]
		for _, q := range points[1:] {
			mean := func(x func(*point) float64) float64 { return q.h * (x(&last) + x(&q)) / 2 }
			add := func(node int, in, out func(*point) float64) {
				i, o := mean(in), mean(out)
				into[node] += i - o
				through[node] += math.Abs(i) + math.Abs(o)
			}
			add(nodeSource, func(x *point) float64 { return x.f.source },
				func(x *point) float64 { return x.f.cable + x.y[nodeSource]/sourceLeakOhm })
			add(nodeRail, func(x *point) float64 { return x.y[chargerOut] },
				func(x *point) float64 { return x.f.load + x.f.short + x.f.battery + x.y[nodeRail]/railBleedOhm })
			last = q
		}
		for node, uf := range map[int]float64{nodeSource: p.SourceCapacitanceUF, nodeRail: p.RailCapacitanceUF} {
			stands := uf * 1e-6 * (last.y[node] - points[0].y[node])
			assert.InDelta(t, stands, into[node], 0.005*through[node]+2e-4, "%s node %d", name, node)
		}
	}
}

func TestASmallResistanceIsWhatTheSourcesLimitMakesOfIt(t *testing.T) {
	// Source: worked by hand. A source of 5 V that never gives more than 2 A, with
	// nothing left out at low voltage, into 0.3 ohm of cable and 1 ohm of short:
	// 2 V at the device, 2.6 V at the source. Into 10.3 ohm: 5/10.35 A.
	for _, c := range []struct{ short, amps, device, source float64 }{
		{1, 2, 2, 2.6},
		{10, 0.48309, 4.8309, 4.97585},
	} {
		p := quietBoard()
		p.Offers, p.SourceOutputOhm, p.SourceLimitA, p.SourceFoldback = []Offer{{5, 3}}, 0.05, 2, 1
		p.CableOhm, p.MeterBurdenOhm, p.VBUSLeakOhm = 0.27, 0.03, c.short
		_, points := watched(t, p, nil)
		end := points[len(points)-1]
		assert.InDelta(t, c.amps, end.f.cable, 1e-3)
		assert.InDelta(t, c.device, end.y[nodePort], 1e-3)
		assert.InDelta(t, c.source, end.y[nodeSource], 1e-3)
	}
}

func TestASourceLetsGoForGood(t *testing.T) {
	// Source: a source does not cycle for ever, USB PD R3.2 V1.1 section 7.1.7.
	s, ok := Find("shorted-vbus")
	require.True(t, ok)
	p := s.Parameters
	p.SourceLatchTrips, p.MeterNoiseA, p.MeterOffsetA = 3, 0, 0
	_, points := watched(t, p, nil)
	pulses, on := 0, false
	for _, q := range points {
		if drawing := q.f.cable > 0.5; drawing != on {
			on = drawing
			if on {
				pulses++
			}
		}
	}
	assert.Equal(t, 3, pulses)
}

// A quarter of the tolerance halves the steps of a method of order 2, where the
// error alone chooses them, and must not change what a meter shows.
func TestATighterToleranceShowsTheSame(t *testing.T) {
	seeds := uint64(1)
	if *long {
		seeds = 10
	}
	steps, finer, rows, differ := 0, 0, 0, 0
	for _, f := range Families() {
		for seed := range seeds {
			p := f.Draw(seed).Parameters
			p.DurationS = min(p.DurationS, 12)
			p.MeterHz, p.MeterAverages, p.MeterJitterS = 250, true, 0 // noise on its own stream
			run := func(tolerance float64, count *int) *bench {
				b, points := watched(t, p, func(b *bench) { b.tolerance = tolerance })
				*count += len(points)
				return b
			}
			whole, half := run(1, &steps), run(0.25, &finer)
			n := min(len(whole.meter.rows), len(half.meter.rows))
			off := 0
			for i := range n {
				a, b := whole.meter.rows[i], half.meter.rows[i]
				if math.Abs(a.Volts-b.Volts) > 0.01 || math.Abs(a.Amps-b.Amps) > 0.01 {
					off++ // an event that a step moved across the edge of one row
				}
			}
			rows, differ = rows+n, differ+off
			if off > n/50 {
				t.Logf("%s seed %d: %d of %d rows", f.Name, seed, off, n)
			}
		}
	}
	t.Logf("%d and %d steps; %d of %d rows differ", steps, finer, differ, rows)
	assert.Greater(t, finer, steps*5/4)
	assert.Less(t, float64(differ)/float64(rows), 0.003)
}
