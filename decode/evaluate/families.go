// Package evaluate measures how right and how honest the verdict is, on cases
// drawn at random from the simulated bench and on folders of cases whose truth
// is known. It changes nothing in the verdict.
package evaluate

import (
	"math"
	"math/rand/v2"

	"portside/captures/bench"
)

// Case is one drawn case.
type Case struct {
	Family string // the scenario it was drawn from
	Run    *bench.Run
}

// Draw simulates the case of a seed: a scenario of the bench, with machine,
// charger, cable, fault and meter drawn over what is common at a bench. No
// published field data is known, so ranges are common practice.
func Draw(seed uint64) (Case, error) {
	chance := rand.New(rand.NewPCG(seed, 0x5EED))
	all := bench.Scenarios()
	s := all[chance.IntN(len(all))]
	p := &s.Parameters
	d := drawer{chance}
	d.charger(s.Name, p)
	d.machine(s.Name, p)
	d.fault(s.Name, p)
	d.recorders(s.Name, p)
	run, err := bench.Simulate(s, seed)
	return Case{Family: s.Name, Run: run}, err
}

type drawer struct{ *rand.Rand }

// between draws evenly, ratio evenly on a logarithmic scale.
func (d drawer) between(a, b float64) float64 { return a + (b-a)*d.Float64() }
func (d drawer) ratio(a, b float64) float64   { return a * math.Pow(b/a, d.Float64()) }

func (d drawer) charger(name string, p *bench.Parameters) {
	p.SourceOutputOhm = d.ratio(0.02, 0.12)
	p.SourceSlewVPerS = d.ratio(60, 400)
	p.SourceRetryS = d.ratio(0.66, 1)
	p.CableOhm = d.between(0.05, 0.2)
	p.AttachS = d.between(1, 8)
	switch name {
	case "plain-charger-search", "cable-without-marker", "weak-charger":
	default:
		watts := []float64{45, 65, 90, 100}[d.IntN(4)]
		amps := math.Min(watts/20, 5)
		p.Offers = []bench.Offer{{Volts: 5, Amps: 3}, {Volts: 9, Amps: 3}, {Volts: 15, Amps: 3}, {Volts: 20, Amps: amps}}
		p.SourceLimitA = math.Max(3, amps) * d.between(1.1, 1.4)
		p.CableMarked = amps > 3 || d.IntN(2) == 0
	}
	if name == "weak-charger" {
		p.SourceLimitA = d.between(0.7, 1.5)
		p.SourceTripMS = d.ratio(15, 150)
	}
	if name == "resistive-cable" {
		p.CableOhm = d.between(0.45, 1)
	}
}

func (d drawer) machine(name string, p *bench.Parameters) {
	p.ControllerBootMS = d.ratio(10, 150)
	p.ChargerDelayMS = d.ratio(60, 900)
	p.InputCapacitanceUF = d.ratio(20, 90)
	p.RailCapacitanceUF = d.ratio(60, 900)
	p.HiccupOnMS, p.HiccupOffMS = d.between(8, 20), d.between(300, 900)
	p.HiccupLimitA = d.between(0.3, 0.8)
	p.ChargeRampAPerS = d.ratio(0.5, 10)
	p.StandbyW = d.ratio(0.2, 1)
	switch name {
	case "sound-charging", "weak-charger", "resistive-cable", "cable-without-marker":
		p.ChargeA *= d.between(0.7, 1.2)
		if name != "weak-charger" {
			p.BatteryStart = d.between(0.1, 0.6)
		}
	}
}

func (d drawer) fault(name string, p *bench.Parameters) {
	switch name {
	case "hard-short-main-rail":
		p.RailShortOhm = d.ratio(0.02, 0.25)
	case "soft-short-main-rail":
		p.RailShortOhm = d.ratio(1.2, 4)
	case "staircase-collapse":
		p.RailShortOhm = d.ratio(0.6, 1.1)
		p.SearchDwellS = d.between(0.3, 0.8)
	case "leaky-vbus":
		p.VBUSLeakOhm = d.ratio(30, 150)
	case "shorted-vbus":
		p.VBUSLeakOhm = d.ratio(0.05, 0.6)
	}
}

func (d drawer) recorders(name string, p *bench.Parameters) {
	p.MeterHz = []float64{1, 2, 10, 10, 50, 100, 1000}[d.IntN(7)]
	p.MeterAverages = d.IntN(3) > 0
	p.MeterStepV = []float64{0.001, 0.001, 0.01}[d.IntN(3)]
	p.MeterStepA = []float64{0.0001, 0.001, 0.01}[d.IntN(3)]
	p.MeterNoiseV, p.MeterNoiseA = d.ratio(0.0003, 0.003), d.ratio(0.0003, 0.003)
	p.MeterGainV, p.MeterGainA = d.between(0.993, 1.007), d.between(0.993, 1.007)
	p.MeterOffsetA = d.between(-0.01, 0.01)
	p.MeterJitterS = d.between(0, 0.05) / p.MeterHz
	p.MeterDropped = []float64{0, 0, 0.001, 0.01}[d.IntN(4)]
	p.MeterStartS, p.MessagesStartS = d.between(0, 500), d.between(0, 500)
	if d.IntN(2) == 0 {
		p.Meter = bench.AtSource
	} else {
		p.Meter = bench.AtDevice
	}
	if name != "sound-end-of-charge" {
		p.DurationS = math.Min(p.DurationS, 60)
	}
	if p.SourcePD {
		p.MessagesRecorded = true
	}
}
