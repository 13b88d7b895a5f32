package charger_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/charger"
	"portside/decode/line"
	"portside/pd"
)

// offering makes one offer and a contract of 5 V on it.
func offering(list ...uint32) *rig {
	return newRig().plug(list...).negotiate(to(1, 500, 5, 5))
}

// flagged is a fixed object with flags.
func flagged(v pd.Millivolts, i pd.Milliamps, f pd.FixedSupply) uint32 {
	f.Voltage, f.MaxCurrent = v, i
	return uint32(f.Encode())
}

// revision32 has the source say that it is built to R3.2 V1.1 before its offer.
func revision32(list ...uint32) *rig {
	r := newRig().plug(list...).negotiate(to(1, 500, 5, 5))
	r.sink(pd.GetRevision).source(pd.RevisionMessage, 0x32110000)
	r.now += 0.02
	list = append([]uint32{}, list...)
	list[0] ^= 1 << 27 // an offer that differs, so that it is judged anew
	r.source(pd.SourceCapabilities, list...)
	return r.negotiate(to(1, 500, 5, 5))
}

// says has the source state its maximum rating before a second offer.
func says(w pd.Watts, list ...uint32) *rig {
	r := offering(list...)
	r.sink(pd.GetSourceInfo).source(pd.SourceInfo, uint32(pd.SourceInfoFields{MaximumPDP: w, PresentPDP: w, Guaranteed: true}.Encode()))
	r.now += 0.02
	list = append([]uint32{}, list...)
	list[0] ^= 1 << 27
	r.source(pd.SourceCapabilities, list...)
	return r.negotiate(to(1, 500, 5, 5))
}

func avs(at15, at20 pd.Milliamps) uint32 {
	return uint32(pd.SPRAVSSupply{MaxCurrent15V: at15, MaxCurrent20V: at20}.Encode())
}

func variable(low, high pd.Millivolts, i pd.Milliamps) uint32 {
	return uint32(pd.VariableSupply{MinVoltage: low, MaxVoltage: high, MaxCurrent: i}.Encode())
}

// inEPR goes into EPR mode with an offer of the caller's.
func inEPR(spr, epr []uint32) *rig {
	r := newRig()
	r.enterEPR(spr, epr)
	r.now += 0.05
	return r
}

// brokenAlone are recordings in which one clause is broken, and the check that says
// so.
var brokenAlone = []struct {
	name, check string
	make        func() *rig
	source      string
}{
	{"no 5 V first", "capabilities-first-5v", func() *rig {
		return offering(variable(4750, 5500, 3000), fixed(5000, 3000))
	}, "USB PD R3.2 V1.1, section 6.4.1.4"},
	{"20 V before 15 V", "capabilities-order", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 3000), fixed(20_000, 3250), fixed(15_000, 3000))
	}, "USB PD R3.2 V1.1, section 6.4.1.4"},
	{"PPS before a fixed object", "capabilities-order", func() *rig {
		return offering(fixed(5000, 3000), pps(3300, 11_000, 2000), fixed(9000, 2000))
	}, "USB PD R3.2 V1.1, section 6.4.1.4"},
	{"PPS falling", "capabilities-order", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 2660), pps(3300, 16_000, 2650), pps(3300, 11_000, 3000))
	}, "USB PD R3.2 V1.1, section 6.4.1.4"},
	{"9 V twice", "capabilities-duplicates", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 2000), fixed(9000, 2000))
	}, "USB PD R3.2 V1.1, section 6.4.1.6"},
	{"flags in the second object", "capabilities-flags", func() *rig {
		return offering(fixed(5000, 3000), flagged(9000, 2000, pd.FixedSupply{UnconstrainedPower: true}))
	}, "USB PD R3.2 V1.1, table 6.9"},
	{"bit 22 of a fixed object", "capabilities-reserved-bits", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 2000)|1<<22)
	}, "USB PD R3.2 V1.1, table 6.9"},
	{"bit 7 of a PPS object", "capabilities-reserved-bits", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 2000), pps(3300, 11_000, 2000)|1<<7)
	}, "USB PD R3.2 V1.1, table 6.13"},
	{"no 15 V at 65 W", "power-rule-fixed", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 3000), fixed(20_000, 3250))
	}, "USB PD R3.2 V1.1, table 10.2"},
	{"2 A at 9 V of 65 W", "power-rule-fixed", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 2000), fixed(15_000, 3000), fixed(20_000, 3250))
	}, "USB PD R3.2 V1.1, table 10.2"},
	{"two steps of 10 mA more than 65 W", "power-rule-fixed", func() *rig {
		return says(65, fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), fixed(20_000, 3270))
	}, "USB PD R3.2 V1.1, table 10.2 and section 10.1"},
	{"60 W from a port that guarantees 65 W, over a cable of 5 A", "power-rule-fixed", func() *rig {
		return says(65, fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), fixed(20_000, 2950))
	}, "USB PD R3.2 V1.1, section 10.1"},
	{"12 V from a source of R3.2", "power-rule-fixed", func() *rig {
		return revision32(fixed(5000, 3000), fixed(9000, 2000), fixed(12_000, 1500))
	}, "USB PD R3.2 V1.1, section 10.2.3.1"},
	{"PPS up to 24 V", "power-rule-pps", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 2000), pps(3300, 24_000, 1000))
	}, "USB PD R3.2 V1.1, table 10.10; USB PD R3.0 V1.1, table 10-8"},
	{"PPS from 2.9 V", "power-rule-pps", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 2000), pps(2900, 11_000, 2000))
	}, "USB PD R3.0 V1.1, table 10-8"},
	{"PPS current beyond the rating in R3.2", "power-rule-pps", func() *rig {
		return revision32(fixed(5000, 3000), fixed(9000, 3000), pps(5000, 11_000, 3050))
	}, "USB PD R3.2 V1.1, table 10.11"},
	{"15 V Prog missing at 45 W in R3.2", "power-rule-pps", func() *rig {
		return revision32(fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), avs(3000, 0), pps(5000, 11_000, 3000))
	}, "USB PD R3.2 V1.1, table 10.11"},
	{"PPS from 3.3 V in R3.2 V1.1", "power-rule-pps", func() *rig {
		return revision32(fixed(5000, 3000), fixed(9000, 3000), pps(3300, 11_000, 3000))
	}, "USB PD R3.2 V1.1, table 10.10"},
	{"no SPR AVS at 45 W in R3.2", "power-rule-avs", func() *rig {
		return revision32(fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000))
	}, "USB PD R3.2 V1.1, table 10.2"},
	{"SPR AVS with another current than the 15 V object", "power-rule-avs", func() *rig {
		return offering(fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), avs(2900, 0))
	}, "USB PD R3.2 V1.1, table 6.14"},
	{"36 V of a source of 140 W", "power-rule-epr", func() *rig {
		return inEPR(offer140SPR, []uint32{fixed(28_000, 5000), fixed(36_000, 3880), offer140EPR[1]})
	}, "USB PD R3.2 V1.1, table 10.12"},
	{"28 V carries too little", "power-rule-epr", func() *rig {
		return inEPR(offer140SPR, []uint32{fixed(28_000, 4980), offer140EPR[1]})
	}, "USB PD R3.2 V1.1, table 10.12"},
	{"no EPR AVS", "power-rule-epr", func() *rig {
		return inEPR(offer140SPR, []uint32{fixed(28_000, 5000)})
	}, "USB PD R3.2 V1.1, section 6.5.15.1"},
	{"5 A after a question that no cable answered", "cable-limit", func() *rig {
		r := newRig()
		r.now += 0.5
		r.mark(captures.Attach).wait("debounce", 0.1, 0.2).mark(captures.VBUSOn)
		r.ramp(r.now-0.001, r.now, 5)
		for range 3 {
			r.toCable(false, identity(pd.REQ))
		}
		r.now += 0.05
		return r.source(pd.SourceCapabilities, offer65...).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, section 4.4"},
	{"3.25 A over a cable of 3 A", "cable-identity", func() *rig {
		r := newRig()
		r.now += 0.5
		r.mark(captures.Attach).wait("debounce", 0.1, 0.2).mark(captures.VBUSOn)
		r.ramp(r.now-0.001, r.now, 5)
		r.readCable(cable3A)
		r.now += 0.05
		return r.source(pd.SourceCapabilities, offer65...).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, section 4.4"},
	{"three retries", "retry-count", func() *rig {
		r := newRig()
		r.now += 0.5
		r.mark(captures.Attach).wait("debounce", 0.1, 0.2).mark(captures.VBUSOn)
		r.ramp(r.now-0.001, r.now, 5)
		r.now += 0.05
		for range 4 {
			r.unheard(pd.Source, pd.SourceCapabilities, offer65...).wait("retry", 0.0009, 0.001295)
		}
		r.now += 0.145
		return r.source(pd.SourceCapabilities, offer65...).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, table 6.70"},
	{"a MessageID used twice", "message-id", func() *rig {
		r := offering(offer65...)
		r.ids[pd.Source] = (r.ids[pd.Source] + 7) % 8
		r.now += 0.02
		return r.source(pd.GetSinkCap)
	}, "USB PD R3.2 V1.1, section 6.7.1"},
	{"capabilities after a Hard Reset with MessageID 3", "message-id", func() *rig {
		r := offering(offer65...).hard(false)
		r.ids[pd.Source] = 3
		r.wait("first offer", 0.005, 0.25)
		return r.source(pd.SourceCapabilities, offer65...).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, section 6.7.1"},
	{"a source that says sink", "header-roles", func() *rig {
		r := newRig()
		r.now += 0.5
		r.mark(captures.Attach).wait("debounce", 0.1, 0.2).mark(captures.VBUSOn)
		r.ramp(r.now-0.001, r.now, 5)
		r.now += 0.05
		f := r.header(pd.SourceCapabilities, pd.Source)
		f.PowerRole = pd.Sink
		r.sends(pd.NewMessage(pd.SOP, f, offer65...)).ack(pd.Source)
		return r.negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, section 6.2.1.1.4"},
	{"a source that says UFP", "header-roles", func() *rig {
		r := newRig()
		r.dfp = false
		return r.plug(offer65...).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, section 6.2.1.1.6"},
	{"revision 3 after a Request of revision 2", "revision-kept", func() *rig {
		r := newRig().plug(offer65...)
		r.wait("request", 0.001, 0.015)
		r.rev = pd.Revision20
		r.sink(pd.Request, ask(1, 500)).wait("answer", 0.001, 0.015)
		r.rev = pd.Revision3x
		r.source(pd.Accept)
		r.now += 0.1
		r.rev = pd.Revision20
		return r.source(pd.PSRDY)
	}, "USB PD R3.2 V1.1, section 6.2.1.1.5"},
	{"a Request without an answer", "answer-missing", func() *rig {
		r := newRig().plug(offer65...)
		r.now += 0.01
		r.sink(pd.Request, ask(1, 500))
		r.now += 0.030
		return r.hard(false).wait("first offer", 0.005, 0.25).source(pd.SourceCapabilities, offer65...).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, table 6.68, tSenderResponse"},
	{"an Accept without PS_RDY", "answer-missing", func() *rig {
		r := newRig().plug(offer65...)
		r.now += 0.01
		r.sink(pd.Request, ask(1, 500)).wait("answer", 0.001, 0.015).source(pd.Accept)
		r.now += 0.5
		return r.hard(false).wait("first offer", 0.005, 0.25).source(pd.SourceCapabilities, offer65...).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, table 6.68, tPSTransition"},
	{"capabilities, no Request and no Hard Reset", "answer-missing", func() *rig {
		r := newRig().plug(offer65...)
		r.now += 0.2
		return r.source(pd.SourceCapabilities, offer65...).negotiate(to(1, 500, 5, 5))
	}, "USB PD R3.2 V1.1, table 6.68, tSenderResponse"},
	{"three tries of the sink without a GoodCRC", "answer-missing", func() *rig {
		r := offering(offer65...)
		r.now += 0.05
		for range 3 {
			r.unheard(pd.Sink, pd.GetStatus)
			r.now += 0.001
		}
		r.ids[pd.Sink]++
		r.now += 0.05
		return r.source(pd.GetSinkCap)
	}, "USB PD R3.2 V1.1, section 6.7.1"},
	{"VBUS overshoots on its way up", "transition-window", func() *rig {
		r := newRig()
		r.meter.cable = 0
		r.plug(offer65...)
		r.set["knee"] = 10.2
		return r.negotiate(to(2, 3000, 5, 9))
	}, "USB PD R3.2 V1.1, section 7.1.4"},
	{"3.8 V in 0.05 ms", "slew-rate", func() *rig {
		r := newRig()
		r.meter.rate = 50_000
		r.plug(offer65...)
		r.set["knee"], r.set["knee time"], r.set["settle"] = 8.8, 0.00005, 0.01
		return r.negotiate(to(2, 3000, 5, 9))
	}, "USB PD R3.2 V1.1, table 7.23"},
	{"PS_RDY 20 ms before the voltage", "power-ready-before-voltage", func() *rig {
		r := newRig()
		r.set["settle"], r.set["power ready"] = 0.2, 0.15
		return r.plug(offer65...).negotiate(to(2, 3000, 5, 9)).load(0.01, 8.55, 0.3)
	}, "USB PD R3.2 V1.1, section 7.1.4"},
	{"a cable of 0.5 Ohm", "cable-voltage-drop", func() *rig {
		r := newRig()
		r.meter.cable = 0.5
		r.set["level"], r.set["loaded"] = 8.6, 8.6
		r.plug(offer65...).negotiate(to(2, 3000, 5, 9))
		return r.load(1, 8.55, 0.5)
	}, "USB Type-C R2.0, section 4.4.1"},
	{"EPR mode without Enter Acknowledged", "epr-entry", func() *rig {
		r := newRig()
		r.set["silent"] = 1
		extended(r)
		return r
	}, "USB PD R3.2 V1.1, section 6.4.10.1"},
	{"EPR mode over a cable of 20 V", "epr-entry", func() *rig {
		r := newRig()
		r.set["plain cable"], r.set["stay"] = 1, 1
		r.enterEPR(offer140SPR, nil)
		return r
	}, "USB PD R3.2 V1.1, section 6.4.10.1"},
}

func TestBrokenAlone(t *testing.T) {
	for _, x := range brokenAlone {
		t.Run(x.name, func(t *testing.T) {
			require.NotEmpty(t, x.source)
			r := x.make().result()
			assert.Equal(t, []string{x.check}, failures(r))
			for _, c := range r.Checks {
				if c.Result == charger.Fail {
					t.Log(c.Check, c.Text)
					if waited, ok := c.Measured["time_s"]; ok && c.Check == "answer-missing" {
						assert.Greater(t, waited, c.Limit["time_s"])
					}
				}
			}
		})
	}
}

// frame is a frame of the source as a receiver of the line measured it.
func frame(at time.Duration) *line.Frame {
	b := pd.NewMessage(pd.SOP, pd.HeaderFields{Type: pd.Accept, Revision: pd.Revision3x, PowerRole: pd.Source, DataRole: pd.DFP}).Bytes()
	return &line.Frame{
		Start: at, End: at + 500*time.Microsecond, Good: true, Set: pd.SOP, SetMatches: 4, Bytes: b,
		PreambleBits: 64, Bits: 149,
		Measured: line.Measured{BitRateHz: 300e3, DriftPercent: 0.05, JitterUS: 0.005, DutyPercent: 50, HighV: math.NaN(), LowV: math.NaN(), RestV: math.NaN()},
	}
}

// frameCases change one frame of the source: what breaks a check, and what just keeps
// it. The limits are those of USB PD R3.2 V1.1, tables 5.17 and 5.18 and section 5.5.
var frameCases = []struct {
	name          string
	change        func(f *line.Frame)
	breaks, keeps string
}{
	{"sound", func(*line.Frame) {}, "", ""},
	{"330 kbit/s", func(f *line.Frame) { f.Measured.BitRateHz = 330e3 }, "", "bit-rate"},
	{"331 kbit/s", func(f *line.Frame) { f.Measured.BitRateHz = 331e3 }, "bit-rate", ""},
	{"270 kbit/s", func(f *line.Frame) { f.Measured.BitRateHz = 270e3 }, "", "bit-rate"},
	{"269 kbit/s", func(f *line.Frame) { f.Measured.BitRateHz = 269e3 }, "bit-rate", ""},
	{"drift at the limit", func(f *line.Frame) { f.Measured.DriftPercent = 0.25 }, "", "bit-rate"},
	{"drift beyond", func(f *line.Frame) { f.Measured.DriftPercent = 0.27 }, "bit-rate", ""},
	{"63 bits, one lost at the tap", func(f *line.Frame) { f.PreambleBits = 63 }, "", "preamble"},
	{"62 bits", func(f *line.Frame) { f.PreambleBits = 62 }, "preamble", ""},
	{"gap of 22 us, within a bit", func(f *line.Frame) { follows(f, 22*time.Microsecond) }, "", "frame-gap"},
	{"gap of 21 us", func(f *line.Frame) { follows(f, 21*time.Microsecond) }, "frame-gap", ""},
}

// firstFrame is where the frame before it begins.
const firstFrame = 600 * time.Microsecond

func TestFrames(t *testing.T) {
	for _, x := range frameCases {
		t.Run(x.name, func(t *testing.T) {
			c := charger.New(charger.Options{})
			c.Frame(frame(firstFrame))
			f := frame(10 * time.Millisecond)
			x.change(f)
			c.Frame(f)
			r := c.Finish()
			want := []string{}
			if x.breaks != "" {
				want = append(want, x.breaks)
			}
			assert.Equal(t, want, failures(r))
			if x.keeps != "" {
				assert.Equal(t, charger.Pass, find(t, r, x.keeps).Result)
			}
			assert.Equal(t, charger.NotObserved, find(t, r, "answer-time").Result)
		})
	}
}

// follows puts a frame behind the first one.
func follows(f *line.Frame, gap time.Duration) {
	f.Start = firstFrame + 500*time.Microsecond + gap
	f.End = f.Start + 500*time.Microsecond
}

// TestPPSOfOlderRevisions: what no revision allows fails whoever offers it, and the
// currents of a source that does not say R3.2 are not judged at all.
func TestPPSOfOlderRevisions(t *testing.T) {
	older := func(list ...uint32) *rig {
		r := newRig().plug(list...).negotiate(to(1, 500, 5, 5))
		r.sink(pd.GetRevision).source(pd.RevisionMessage, 0x31180000)
		r.now += 0.02
		list = append([]uint32{}, list...)
		list[0] ^= 1 << 27 // an offer that differs, so that it is judged anew
		return r.source(pd.SourceCapabilities, list...).negotiate(to(1, 500, 5, 5))
	}
	beyond := []uint32{fixed(5000, 3000), fixed(9000, 3000), pps(3300, 11_000, 5000)}
	for _, r := range []*rig{offering(beyond...), older(beyond...)} {
		c := find(t, r.result(), "power-rule-pps")
		assert.Equal(t, charger.NotObserved, c.Result, c.Text)
		assert.Contains(t, c.Text, "R3.0 and R3.1")
	}
	high := []uint32{fixed(5000, 3000), fixed(9000, 3000), pps(3300, 22_000, 3000)}
	for _, r := range []*rig{offering(high...), older(high...)} {
		assert.Equal(t, charger.Fail, find(t, r.result(), "power-rule-pps").Result)
	}
}
