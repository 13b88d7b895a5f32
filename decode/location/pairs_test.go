package location

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/draw"
	"portside/decode/negotiation"
	"portside/decode/rules"
	"portside/decode/signs"
	"portside/decode/signs/build"
)

// Two recordings that differ in one fact: the fact must move the parts that make it.
func TestOneFactMovesTheRightParts(t *testing.T) {
	power := func(lengths ...float64) []build.Build {
		return []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 60, 19.9, 0.9), build.Messages(80, 40), build.LostAfter(lengths...)}
	}
	loadedAt := func(volts float64) []build.Build {
		return []build.Build{build.Meter(100, 30), build.Level(0, 1, 0.02, 0), build.Level(1, 30, volts, 1), build.Messages(40, 20), build.Contract(1.2, 20000, 3000), build.Pulses(2, 30, 0.04, 2.4, 600, nil)}
	}
	quiet := []build.Build{build.Meter(100, 60), build.Level(0, 1, 5.1, 0.01), build.Level(1, 60, 20, 0.004)}
	broken := func(draws, atA float64) []build.Build {
		return []build.Build{build.Meter(100, 30), build.Level(0, 1, 5.1, 0.01), build.Level(1, 3, 19.9, draws), build.Level(3, 4, 0.1, 0), build.Level(4, 5, 5.1, 0.01), build.Level(5, 7, 19.9, draws), build.Level(7, 8, 0.1, 0), build.Collapses(atA, 3, 7), build.Messages(60, 30), build.Lost(1, 5), build.Ended(2, "hard-reset")}
	}
	bursts := func(peak float64) []build.Build {
		builds := []build.Build{build.Meter(10, 30), build.Messages(60, 30), build.LostAfter(0.6, 0.6, 0.6, 0.6)}
		for i := range 4 {
			from := 4 * float64(i)
			builds = append(builds, build.Level(from, from+1, 5.1, 0.01), build.Level(from+1, from+1.6, 20, 0.01), func(f *rules.Facts) {
				f.Draw.Levels[len(f.Draw.Levels)-1].MaxA = peak
				f.Draw.Sampling.MaxA = max(f.Draw.Sampling.MaxA, peak)
			}, build.Level(from+1.6, from+4, 0.1, 0), build.Collapses(0.01, from+1.6))
		}
		return builds
	}
	charging := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 60, 19.9, 1.5), build.Messages(10, 6), build.Contract(0.9, 20000, 3250)}
	away := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 9, 19.9, 1.5), build.Level(9, 60, 0.02, 0), build.Messages(10, 6), build.Contract(0.9, 20000, 3250)}
	trips := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 9, 19.9, 1.5), build.Level(9, 18, 0.02, 0), build.Level(18, 30, 19.9, 1.5), build.Level(30, 38, 0.02, 0), build.Level(38, 60, 19.9, 1.5)}
	moved := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 9, 19.9, 1.5), build.Level(9, 18, 0.02, 0), build.Level(18, 60, 19.9, 1.5)}
	starts := append(charging[:len(charging):len(charging)], build.Ramps(8))
	glimpsed := func(rows int) []build.Build { // surges of a few milliseconds in rows of 20
		return append(broken(0.01, 0.4), build.Level(7.98, 7.99, 13.5, 0.44), build.Series(3), func(f *rules.Facts) {
			f.Draw.Plateaus[len(f.Draw.Plateaus)-1].N = rows
			f.Draw.Sampling.MaxA = 0.44
		})
	}
	cutShort := []build.Build{build.Meter(100, 40), build.Level(0, 5, 0.02, 0), build.Level(5, 5.1, 7, 3.5), build.Level(5.2, 40, 0.02, 0), build.Messages(5, 1), build.Attempts(negotiation.StepCutShort, 1)}
	wantsMore := func(f *rules.Facts) { f.Negotiation.Mismatches = []negotiation.Moment{{TimeS: 0.8}} }
	repeats := func(source, sink int) build.Build {
		return func(f *rules.Facts) {
			f.Negotiation.CRCErrors.RepeatedSource, f.Negotiation.CRCErrors.RepeatedSink = source, sink
		}
	}
	moving := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 10, 19.9, 0.8), build.Level(10, 25, 19.8, 1.9), build.Level(25, 45, 19.9, 1.1), build.Level(45, 60, 19.7, 2.4)}
	atSource := func(f *rules.Facts) { f.MeterAt = "source" }
	pulsing := []build.Build{build.Meter(50, 60), build.Level(0, 1, 5.1, 0.02), build.Level(1, 60, 19.8, 0.3), build.Pulses(2, 58, 1.4, 0.7, 40, nil), build.Messages(10, 6), build.Contract(0.9, 20000, 3250)}
	atDevice := func(f *rules.Facts) { f.MeterAt = "device" }
	nothing := []build.Build{build.Meter(100, 40), build.Level(0, 40, 0.02, 0)}
	cold := func(f *rules.Facts) { f.Draw.Cold = draw.ColdTries{Count: 9, FirstS: 7, PeakA: 3} }
	unheard := []build.Build{build.Meter(50, 30), build.Level(0, 30, 5.1, 0.001), build.Messages(80, 0), build.Attempts(negotiation.StepAcknowledge, 1)}
	tests := []struct {
		name   string
		with   []build.Build
		than   []build.Build
		parts  []part
		times  float64 // by which their share must be larger
		source string
	}{
		{"contracts that break at any time", power(0.6, 9, 2, 14, 5, 1), power(3, 3.1, 3, 2.9, 3, 3.1), []part{cable, ccContact, powContact}, 1.5, "a contact moves when it moves: common practice"},
		{"contracts that break after one time", power(3, 3.1, 3, 2.9, 3, 3.1), power(0.6, 9, 2, 14, 5, 1), []part{source, controller, supply}, 1.2, "a timer, a limit or a temperature ends it: common practice"},
		{"5 V under a contract of 20 V, and a draw", loadedAt(5.0), loadedAt(4.5), []part{source}, 1.3, "what holds VBUS down has no reason to stop at vSafe5V: USB PD R3.2 V1.1 table 7.25"},
		{"five tries of one height", append(quiet[:3:3], build.Spikes(0.4, 14.1, 15.4, 16.1, 17.4, 18)), quiet, []part{railShort, chargerIC, downstream}, 1.15, "10 ms on, 500 ms off: data sheets SLUSDU3 and SLUSE65A"},
		{"resets after 0.7 s at 5 V", []build.Build{build.Meter(100, 40), build.Flicker(0.7, 20)}, []build.Build{build.Meter(100, 40), build.Flicker(0.2, 20)}, []part{source}, 1.5, "a sink waits 450 to 550 ms for PS_RDY (tPSTransition), a source 24 to 33 ms for a Request (tSenderResponse): USB PD R3.2 V1.1 table 6.68"},
		{"resets after 0.2 s at 5 V", []build.Build{build.Meter(100, 40), build.Flicker(0.2, 20)}, []build.Build{build.Meter(100, 40), build.Flicker(0.7, 20)}, []part{controller}, 1.1, "as above"},
		{"a break before the machine draws", broken(0.02, 0.02), broken(1.5, 1.5), []part{controller, supply, ccContact}, 2, "no load broke it: common practice"},
		{"bursts that end the contract", bursts(1.3), bursts(0.02), []part{inputShort, vbusShort}, 1.5, "a short takes what the source gives until it trips: common practice"},
		{"a draw that stops for good", []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 4, 19.9, 1.5), build.Level(4, 40, 20, 0.003)}, []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 40, 20, 0.003)}, []part{battery}, 1.5, "what lets go under load was fed before: common practice"},
		{"5 V that stands at 4.1 V with 20 mA", []build.Build{build.Meter(50, 40), build.Level(0, 40, 4.1, 0.02)}, []build.Build{build.Meter(50, 40), build.Level(0, 40, 5.0, 0.02)}, []part{source, mains}, 2, "no lead takes a volt at 20 mA; vSafe5V is 4.75 V at least: USB PD R3.2 V1.1 table 7.25"},
		{"VBUS dips under a third of the contract", []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 40, 19.9, 1.2), build.Collapses(1.2, 9, 20, 31), build.Messages(10, 6), build.Contract(0.9, 20000, 3250)}, []build.Build{build.Meter(50, 40), build.Level(0, 1, 5.1, 0.02), build.Level(1, 40, 19.9, 1.2), build.Messages(10, 6), build.Contract(0.9, 20000, 3250)}, []part{source, mains, cable, powContact}, 5, "a source carries what it promised: USB PD R3.2 V1.1 section 7.1.7"},
		{"tries of more than was promised", append(broken(0.5, 0.5), build.Pulses(1, 8, 1.8, 3.7, 4, func(q *draw.Pulses) { q.Quiet = false })), broken(0.5, 0.5), []part{railShort, railLeak, downstream, inputShort}, 1.5, "an overload trips a sound source: common practice"},
		{"a break under a sound load", broken(1.5, 1.5), broken(0.02, 0.02), []part{source}, 1.5, "a source carries what it promised: USB PD R3.2 V1.1 section 7.1.7"},
		{"VBUS that swings by 0.8 V at 1.5 A", append(charging[:3:3], build.Swinging(0.8)), charging[:3], []part{source, mains}, 2, "0.4 ohm and half of 1.5 A make 0.3 V: common practice"},
		{"VBUS that leaves a charge and stays away", away, charging, []part{source, mains}, 2, "a plug is pulled at the end of a recording: common practice"},
		{"VBUS that leaves a charge twice", trips, moved, []part{source, mains, cable, powContact}, 2, "nobody pulls the plug twice while he records: common practice"},
		{"starts that end, of a machine that asks for more", append(starts[:len(starts):len(starts)], wantsMore), starts, []part{source, cable}, 1.1, "Capability Mismatch: USB PD R3.2 V1.1 section 6.4.2.3"},
		{"a source that repeats itself", append(charging[:len(charging):len(charging)], repeats(5, 0)), charging, []part{controller, ccContact, cable}, 1.5, "nRetryCount: USB PD R3.2 V1.1 table 6.70"},
		{"a draw of a minute that does not move", append([]build.Build{}, charging[:3]...), moving, []part{railShort, railLeak, chargerIC}, 1.2, "a machine that runs is not flat: common practice"},
		{"an offer that nobody hears, with the cable behind the meter", append(unheard[:len(unheard):len(unheard)], atSource), unheard, []part{cable}, 1.3, "its VBUS may be open: common practice"},
		{"a draw that stops and comes, with the cable behind the meter", append(starts[:len(starts):len(starts)], atSource), starts, []part{cable}, 1.5, "a contact behind the meter takes the draw and leaves VBUS: common practice"},
		{"current from the first moment, after an Accept that came to nothing", append(cutShort[:len(cutShort):len(cutShort)], cold), cutShort, []part{vbusShort, cable}, 1, "the switches are open until PS_RDY: USB PD R3.2 V1.1 table 7.24 (pSnkStdby)"},
		{"pulses under a contract that stands, behind 0.84 ohm", append(pulsing[:len(pulsing):len(pulsing)], build.Series(0.84)), pulsing, []part{cable}, 3, "a sound cable takes 0.25 ohm, whatever pulses: USB Type-C R2.0 section 4.4.1"},
		{"current from the first moment, with the cable behind the meter", append(nothing[:len(nothing):len(nothing)], cold, atSource), append(nothing[:len(nothing):len(nothing)], cold), []part{cable}, 1.5, "a short in the cable draws through a meter before it: common practice"},
		{"with a cable that may lie behind the meter, against one before it", append(nothing[:len(nothing):len(nothing)], cold), append(nothing[:len(nothing):len(nothing)], cold, atDevice), []part{cable}, 5, "and nothing through one behind it: common practice"},
		{"a surge in a single row beside one that stands, at a break", glimpsed(1), glimpsed(9), []part{railShort, inputShort, inputSwitch, chargerIC}, 2, "means over a surge keep one proportion of VBUS and current: common practice"},
		{"a leak of 1 A", []build.Build{build.Meter(50, 40), build.Level(0, 2, 5.1, 0.25), build.Level(2, 40, 20, 1.0), build.Exponent(1, 20)}, []build.Build{build.Meter(50, 40), build.Level(0, 2, 5.1, 0.4), build.Level(2, 40, 20, 1.0)}, []part{vbusLeak}, 2, "a resistor seen before the switches close: common practice"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			require.NotEmpty(t, tt.source)
			assert.Greater(t, shareOf(t, tt.with, tt.parts), tt.times*shareOf(t, tt.than, tt.parts))
		})
	}
}

func shareOf(t *testing.T, builds []build.Build, parts []part) float64 {
	m := newModel()
	weights := m.weigh(m.observations(signs.Look(evidence(t, nil, builds...))))
	total := 0.0
	for _, p := range parts {
		total += weights[m.index(p)]
	}
	return total
}

// A plain source that gave way to a search and carries the machine then is sound.
func TestASearchThatSettlesIsSound(t *testing.T) {
	searched := []build.Build{build.Meter(100, 40), build.Level(0, 8, 5.0, 0.9), build.Level(8, 9, 0.1, 0), build.Level(9, 40, 4.9, 1.2), func(f *rules.Facts) {
		build.Collapses(1.5, 8)(f)
		f.Draw.Collapses[0].FromV = 4.8
	}}
	straight := []build.Build{build.Meter(100, 40), build.Level(0, 40, 4.9, 1.2)}
	assert.Greater(t, shareOf(t, searched, []part{healthyPart}), shareOf(t, straight, []part{healthyPart}), "data sheet and open laptop embedded-controller firmware: the search backs off and stays")
}

// 20 mA before the contract and 57 mA in it look like a resistor of 350 ohm, and have no
// part in a contract that breaks down at 1.4 A: common practice.
func TestASmallResistorIsNotABreak(t *testing.T) {
	broken := []build.Build{build.Meter(100, 30), build.Level(0, 1, 5.1, 0.02), build.Level(1, 3, 19.9, 1.4), build.Level(3, 4, 0.1, 0), build.Level(4, 5, 5.1, 0.02), build.Level(5, 7, 19.9, 1.4), build.Level(7, 8, 0.1, 0), build.Messages(60, 30), build.Lost(1, 5), build.Ended(2, "hard-reset"), build.Exponent(1, 350)}
	under := func(amps float64) float64 {
		return shareOf(t, append(broken[:len(broken):len(broken)], build.Collapses(amps, 3, 7)), []part{vbusLeak})
	}
	assert.Less(t, under(1.4), 0.4*under(0.1))
}

// An acknowledged Request that gets no answer is the source's silence; one that nobody
// acknowledges may be lost on the line, where the source misses other messages too: USB PD
// R3.2 V1.1 table 6.68 (tReceive, tReceiverResponse).
func TestRequestsThatWereHeard(t *testing.T) {
	asked := func(heard negotiation.Heard, missed int) []build.Build {
		return []build.Build{build.Messages(40, 20), build.Attempts(negotiation.StepAnswer, 5), func(f *rules.Facts) {
			f.Negotiation.CRCErrors.UnheardSource = missed
			for i := range f.Negotiation.Attempts {
				f.Negotiation.Attempts[i].Heard = heard
			}
		}}
	}
	before := []part{source, mains}
	share := func(heard negotiation.Heard, missed int) float64 { return shareOf(t, asked(heard, missed), before) }
	assert.Greater(t, share(negotiation.Acknowledged, 0), share(negotiation.HeardUnknown, 0))
	assert.Greater(t, share(negotiation.HeardUnknown, 0), share(negotiation.Unacknowledged, 2))
	assert.Greater(t, share(negotiation.Unacknowledged, 0), share(negotiation.Unacknowledged, 2))
}

// A Request for an object that is not in the offer is the sink's slip: USB PD R3.2 V1.1
// section 6.4.2 (object position).
func TestARequestBeyondTheOffer(t *testing.T) {
	asked := func(position int) []build.Build {
		return []build.Build{build.Messages(40, 20), build.Attempts(negotiation.StepRefused, 5), func(f *rules.Facts) {
			for i := range f.Negotiation.Attempts {
				f.Negotiation.Attempts[i].RequestAt = position
			}
		}}
	}
	assert.Greater(t, shareOf(t, asked(7), []part{controller}), 2*shareOf(t, asked(1), []part{controller}))
}

// What one plug-in does not exercise shows nothing: a recording that looks sound leaves each
// fault at least as much of its share.
func TestUnexercised(t *testing.T) {
	m := newModel()
	shown := make([]float64, len(m.classes))
	shown[m.index(healthyPart)] = 1
	p := posterior(m.prior, m.unexercised(shown))
	sound := m.index(healthyPart)
	for i, c := range m.classes {
		if i != sound {
			assert.InDelta(t, c.hides*m.prior[i]/m.prior[sound], p[i]/p[sound], 1e-9, c.part)
		}
	}
}
