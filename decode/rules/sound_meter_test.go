package rules_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode"
	"portside/decode/rules"
)

// waveform is what stands on the cable at a time: the source's voltage without
// load, and the current into the device.
type waveform func(t float64) (volts, amps float64)

// logger is a meter: common practice is 1 or 10 rows a second on a display's
// log, 50 to 1000 on a better one; 10 mV and 1 mA steps; 1 % of reading.
type logger struct {
	name     string
	hz       float64
	averages bool
}

var loggers = []logger{
	{"1 Hz instant", 1, false}, {"1 Hz mean", 1, true}, {"10 Hz instant", 10, false},
	{"10 Hz mean", 10, true}, {"100 Hz mean", 100, true}, {"1 kHz instant", 1000, false},
}

// loopOhm is what stands before a meter at the device: a sound 1 m cable takes
// 80 to 120 milliohm, the source's own regulation some more (common practice).
const loopOhm = 0.13

// log reads a waveform from fromS to toS into an engine.
func (l logger) log(e *decode.Engine, fromS, toS float64, w waveform) {
	random := rand.New(rand.NewPCG(uint64(l.hz), uint64(toS)))
	looks := 1
	if l.averages {
		looks = max(1, int(1000/l.hz))
	}
	for k := range int((toS - fromS) * l.hz) {
		t := fromS + float64(k)/l.hz
		var v, i float64
		for j := range looks {
			v0, amps := w(t - float64(looks-1-j)/l.hz/float64(looks))
			v += max(0, v0-loopOhm*amps) / float64(looks)
			i += amps / float64(looks)
		}
		v = math.Round((v+0.004*random.NormFloat64())*100) / 100
		i = math.Round((i+0.0015*random.NormFloat64())*1000) / 1000
		e.Sample(&captures.Sample{
			At: time.Duration(t * float64(time.Second)), Volts: max(0, v), Amps: i,
			CC: [2]float64{math.NaN(), math.NaN()}, Line: k + 2,
		})
	}
}

// between gives one waveform before a time and another after it.
func between(before waveform, at float64, after waveform) waveform {
	return func(t float64) (float64, float64) {
		if t < at {
			return before(t)
		}
		return after(t - at)
	}
}

func steadily(volts, amps float64) waveform {
	return func(float64) (float64, float64) { return volts, amps }
}

// pluggedIn is 5 V for half a second and then the contract, the current falling
// below 2.5 W while the voltage moves (pSnkStdby, USB PD R3.2 V1.1 table 7.24).
func pluggedIn(volts float64, load func(t float64) float64) waveform {
	return func(t float64) (float64, float64) {
		switch {
		case t < 0.5:
			return 5.1, 0.09
		case t < 0.53:
			return 5.1 + (volts-5.1)*(t-0.5)/0.03, 0.02
		case t < 0.8:
			return volts, 0.04
		default:
			return volts, load(t - 0.8)
		}
	}
}

// hashed is a number from 0 to 1 that belongs to a whole number.
func hashed(n float64) float64 {
	x := math.Sin(n*12.9898) * 43758.5453
	return x - math.Floor(x)
}

// boots is a machine that boots: 0.5 to 2.3 A at 20 V in stretches of 0.2 to
// 1.5 s (common practice), then idles with bursts.
func boots(t float64) float64 {
	switch {
	case t < 1:
		return 0.06
	case t < 25:
		k := math.Floor(t / 0.4)
		return 0.5 + 1.8*hashed(math.Floor(k/(1+math.Floor(3*hashed(k/4)))))
	default:
		k := math.Floor(t / 0.25)
		return 0.55 + 0.4*math.Pow(hashed(k), 6)
	}
}

// asleep draws 60 mA and looks round every 30 s for 2 s.
func asleep(t float64) float64 {
	if math.Mod(t+7, 30) < 2 {
		return 0.35
	}
	return 0.06
}

// charges ramps up over 3 s, holds and then tapers with 800 s.
func charges(top float64, holdS float64) func(float64) float64 {
	return func(t float64) float64 {
		switch {
		case t < 3:
			return 0.1 + (top-0.1)*t/3
		case t < 3+holdS:
			return top + 0.05*math.Sin(t*1.3)
		default:
			return 0.08 + (top-0.08)*math.Exp(-(t-3-holdS)/800)
		}
	}
}

// searches raises the current limit 64 mA each 500 ms until the source gives
// way, three times, and settles 128 mA below (open laptop embedded-controller
// firmware). VBUS is back within 0.5 s.
func searches(limit float64) waveform {
	climb := (limit - 0.5) / 0.064 * 0.5
	return func(t float64) (float64, float64) {
		for range 3 {
			if t < climb {
				return 5.1, 0.5 + 0.064*math.Floor(t/0.5)
			}
			if t < climb+0.05 {
				return 5.1 - 1.5*(t-climb)/0.05, limit
			}
			if t < climb+0.5 {
				return 0.2, 0
			}
			t -= climb + 0.5
		}
		return 5.1, min(limit-0.128, 0.5+0.064*math.Floor(t/0.5))
	}
}

// phonePPS charges directly: the voltage follows the cell in steps of 20 mV.
func phonePPS(fromV, toV, overS, amps float64) waveform {
	return func(t float64) (float64, float64) {
		switch {
		case t < 0.5:
			return 5.1, 0.09
		case t < 1:
			return fromV, 0.2
		}
		v := fromV + (toV-fromV)*min(1, (t-1)/overS)
		return math.Round(v/0.02) * 0.02, amps
	}
}

// soundRecordings are drawn by sources, cables and machines that work. What may
// be said of one beside notes stands with its reason.
var soundRecordings = []struct {
	name   string
	endS   float64
	w      waveform
	allow  map[string]string
	source string
}{
	{"charging at 20 V", 120, between(steadily(0.01, 0), 2.2, pluggedIn(20.1, charges(2.7, 1e6))), nil, "off and charging: 30 to 65 W, common practice"},
	{"charging to the taper at 20 V", 1500, between(steadily(0, 0), 2.2, pluggedIn(20.0, charges(2.7, 300))), nil, "constant voltage: common practice"},
	{"booting", 90, between(steadily(0, 0), 1.3, pluggedIn(20.2, boots)), nil, "boot peaks of 0.5 to 2.3 A at 20 V: common practice"},
	{"asleep", 300, between(steadily(0, 0), 1.3, pluggedIn(20.05, asleep)), nil, "sleep: 0.5 to 3 W, common practice"},
	{"full battery", 120, between(steadily(0, 0), 2, pluggedIn(20.0, func(t float64) float64 { return 0.035 + 0.004*math.Sin(t) })), nil, "off, full: 15 to 50 mA at 20 V, common practice"},
	{"full battery topped up", 900, between(steadily(0, 0), 2, pluggedIn(20.0, func(t float64) float64 {
		if math.Mod(t, 240) > 200 {
			return 0.7
		}
		return 0.04
	})), nil, "common practice"},
	{"begins in the middle of a charge", 60, func(t float64) (float64, float64) { return 20.1, 2.4 + 0.1*math.Sin(t) }, nil, "common practice"},
	{"idle machine with a burst each second", 60, between(steadily(0, 0), 2, pluggedIn(20.0, func(t float64) float64 {
		if math.Mod(t, 1.0) < 0.12 {
			return 1.3
		}
		return 0.6
	})), nil, "idle on: 5 to 20 W, common practice"},
	{"plain 5 V source, laptop searching its limit", 90, between(steadily(5.1, 0), 3, searches(1.5)), nil, "open laptop embedded-controller firmware: charge_ramp_sw"},
	{"plain 5 V source, phone", 120, between(steadily(5.1, 0), 30, steadily(5.1, 1.4)), nil, "a legacy port is always on: USB Type-C R2.0 section 4.5.2.2"},
	{"plain 5 V source, phone full at the end", 900, between(steadily(5.1, 0), 3, func(t float64) (float64, float64) { return 5.1, charges(1.4, 100)(t) }), nil, "common practice"},
	{"plain 5 V source, late plug", 100, between(steadily(5.1, 0), 80, steadily(5.1, 0.9)), nil, "common practice"},
	{"deeply discharged battery, precharge at 5 V", 120, between(steadily(0, 0), 2, steadily(5.05, 0.88)), nil, "C/10 of 4.39 Ah at 9 V: 0.88 A at 5 V, computed"},
	{"precharge, then the charge proper", 400, between(steadily(0, 0), 2, pluggedIn(20, func(t float64) float64 {
		if t < 200 {
			return 0.22
		}
		return charges(2.5, 1e6)(t - 200)
	})), nil, "precharge of at most 0.1 C: common practice"},
	{"tablet at 9 V", 200, between(steadily(0, 0), 2, pluggedIn(9.05, charges(1.9, 1e6))), nil, "a recorded tablet takes 9 V though 20 V is offered"},
	{"28 V in EPR", 120, between(steadily(0, 0), 2, func(t float64) (float64, float64) {
		switch {
		case t < 0.5:
			return 5.1, 0.1
		case t < 3:
			return 20, 0.3
		}
		return 28.1, charges(4.6, 1e6)(t - 3)
	}), nil, "USB PD R3.2 V1.1 section 6.4.10"},
	{"PPS from 7 to 9 V", 600, between(steadily(0, 0), 2, phonePPS(7.2, 9.0, 500, 2.9)), nil, "PPS of 3.3 to 11 V: recorded offers"},
	{"PPS from 3.6 to 4.4 V", 600, between(steadily(0, 0), 2, phonePPS(3.6, 4.4, 500, 3.0)), nil, "PPS of 3.3 V at the least: recorded offers"},
	{"PPS about 5.7 V", 300, between(steadily(0, 0), 2, phonePPS(5.6, 5.9, 280, 2.0)), nil, "PPS of 3.3 to 11 V: recorded offers"},
	{"PPS about 8.2 V", 300, between(steadily(0, 0), 2, phonePPS(8.0, 8.4, 280, 2.0)), nil, "PPS of 3.3 to 11 V: recorded offers"},
	{"PPS about 10 V", 300, between(steadily(0, 0), 2, phonePPS(9.9, 10.1, 280, 2.9)), nil, "PPS of 3.3 to 11 V: recorded offers"},
	{"PPS from 16 to 19 V", 300, between(steadily(0, 0), 2, phonePPS(16.0, 19.0, 280, 2.0)), nil, "PPS of 3.3 to 21 V: USB PD R3.2 V1.1 section 10.2"},
	{"three plugs, turned twice", 100, func(t float64) (float64, float64) {
		k := math.Mod(t, 30)
		if k < 4 {
			return 0.01, 0
		}
		return pluggedIn(20.1, charges(2.2, 1e6))(k - 4)
	}, nil, "common practice: each plug both ways"},
	{"pulled at the end", 60, between(between(steadily(0, 0), 2, pluggedIn(20, charges(2.5, 1e6))), 50, steadily(0.02, 0)), nil, "common practice"},
	{"a hot charger offers 15 V", 120, between(between(steadily(0, 0), 2, pluggedIn(20, charges(2.9, 1e6))), 60, steadily(15.0, 2.0)), nil, "USB PD R3.2 V1.1 section 6.4.1: new capabilities at any time"},
	{"a full phone goes back to 5 V", 300, between(between(steadily(0, 0), 2, pluggedIn(9.0, charges(1.8, 1e6))), 200, steadily(5.1, 0.12)), nil, "a new contract at 5 V: USB PD R3.2 V1.1 section 6.4.2"},
	{"a shared charger takes power away and gives it back", 120, func(t float64) (float64, float64) {
		switch {
		case t < 2:
			return 0, 0
		case t < 40:
			return pluggedIn(20, charges(2.9, 1e6))(t - 2)
		case t < 42:
			return 5.1, 0.4
		default:
			return 20, 1.9
		}
	}, nil, "USB PD R3.2 V1.1 section 6.4.1"},
}

func TestSoundMeterLogs(t *testing.T) {
	for _, s := range soundRecordings {
		for _, l := range loggers {
			if s.endS*l.hz > 100_000 {
				continue // the slower ones show it
			}
			t.Run(s.name+"/"+l.name, func(t *testing.T) {
				require.NotEmpty(t, s.source)
				e := decode.NewEngine(decode.Options{})
				l.log(e, 0, s.endS, s.w)
				checkSound(t, e.Diagnose(nil, nil), s.allow)
			})
		}
	}
}

// checkSound asserts that nothing is accused: no fault, and no warning but
// those allowed.
func checkSound(t *testing.T, d *decode.Diagnosis, allow map[string]string) {
	t.Helper()
	for _, f := range d.Findings {
		if f.Severity == rules.Note || f.Severity == rules.Warning && allow[f.Rule] != "" {
			continue
		}
		assert.Fail(t, fmt.Sprintf("%s %s", f.Severity, f.Rule), f.Text)
	}
	if allow["verdict"] != "" {
		return
	}
	located := []rules.Location{rules.BeforePort, rules.AtPort, rules.BehindPort}
	assert.False(t, slices.Contains(located, d.Verdict.Location), "%s: %s", d.Verdict.Location, d.Verdict.Summary)
}
