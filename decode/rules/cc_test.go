package rules

import "portside/decode/draw"

func ccOn(n draw.CCStates) build  { return func(f *Facts) { f.Draw.CC.On = n } }
func ccTimes(c draw.CC) build     { return func(f *Facts) { f.Draw.CC = c } }
func ccOff(n draw.CCStates) build { return func(f *Facts) { f.Draw.CC.Off = n } }

// Levels at the sink: USB Type-C R2.0 tables 4-35 and 4-36.
func ccCases() []ruleCase {
	const levels = "USB Type-C R2.0 tables 4-35 and 4-36"
	return []ruleCase{
		{name: "one pin with Rd, as after any sound attach", facts: []build{meterLog(60, 20, 1), ccOn(draw.CCStates{N: 600, One: 598, High: 2})},
			not: []string{"cc-stuck-high", "cc-stuck-low", "rd-missing", "rd-on-both", "rp-wrong"}, source: levels},
		{name: "VBUS has got onto a CC pin", facts: []build{meterLog(60, 5, 0.1), ccOn(draw.CCStates{N: 600, High: 600})},
			want: map[string]Severity{"cc-stuck-high": Fault}, not: []string{"rd-missing"}, source: levels},
		{name: "both pins at 0 V beside VBUS", facts: []build{meterLog(60, 5, 0.1), ccOn(draw.CCStates{N: 600, Low: 590, One: 10})},
			want: map[string]Severity{"cc-stuck-low": Warning}, source: levels},
		{name: "pins at 0 V before anything is plugged in", facts: []build{meterLog(60, 0, 0), ccOff(draw.CCStates{N: 600, Low: 600})},
			not: []string{"cc-stuck-low", "rd-missing"}, source: levels},
		{name: "the source pulls up and nothing pulls down", facts: []build{meterLog(60, 0, 0), ccOff(draw.CCStates{N: 600, High: 600})},
			want: map[string]Severity{"rd-missing": Fault}, not: []string{"cc-stuck-high"}, source: "USB Type-C R2.0 section 4.5.2.2"},
		{name: "a pin is high before the plug is in, and VBUS comes", facts: []build{meterLog(60, 20, 1), ccOff(draw.CCStates{N: 50, High: 50}), ccOn(draw.CCStates{N: 550, One: 550})},
			not: []string{"rd-missing"}, source: "USB Type-C R2.0 section 4.5.2.2"},
		{name: "a bridge between the pins", facts: []build{meterLog(60, 5, 0.1), ccOn(draw.CCStates{N: 600, Both: 600})},
			want: map[string]Severity{"rd-on-both": Warning}, source: "USB Type-C R2.0 section 4.5.1.2"},
		{name: "both pins at one voltage without VBUS", facts: []build{meterLog(60, 0, 0), ccTimes(draw.CC{Joined: draw.CCStood{Seconds: 20, Volts: 0.48}})},
			want: map[string]Severity{"rd-on-both": Fault}, source: "USB Type-C R2.0 section 4.5.2.2: a source gives VBUS to a single Rd"},
		{name: "for a moment, as a plug goes in", facts: []build{meterLog(60, 0, 0), ccTimes(draw.CC{Joined: draw.CCStood{Seconds: 0.4, Volts: 0.48}})},
			not: []string{"rd-on-both"}, source: "common practice"},
		{name: "a level that is none", facts: []build{meterLog(60, 5, 0.1), ccOn(draw.CCStates{N: 600, Between: 600})},
			want: map[string]Severity{"rp-wrong": Warning}, source: levels},
		{name: "a pin at 0.1 V without VBUS", facts: []build{meterLog(60, 0, 0), ccTimes(draw.CC{Held: draw.CCStood{Seconds: 20, Volts: 0.1}})},
			want: map[string]Severity{"cc-stuck-low": Fault}, source: levels},
		{name: "for a moment", facts: []build{meterLog(60, 0, 0), ccTimes(draw.CC{Held: draw.CCStood{Seconds: 0.4, Volts: 0.1}})},
			not: []string{"cc-stuck-low"}, source: "common practice"},
		{name: "a third of what the source's pull-up leaves later", facts: []build{meterLog(60, 20, 1), ccTimes(draw.CC{Waits: draw.CCStood{Seconds: 5, Volts: 0.55}, Feeds: draw.CCStood{Seconds: 40, Volts: 1.68}})},
			want: map[string]Severity{"cc-stuck-low": Fault}, source: levels},
		{name: "a second and a half of it, as a Hard Reset leaves", facts: []build{meterLog(60, 20, 1), ccTimes(draw.CC{Waits: draw.CCStood{Seconds: 1.5, Volts: 0.55}, Feeds: draw.CCStood{Seconds: 40, Volts: 1.68}})},
			not: []string{"cc-stuck-low"}, source: "USB PD R3.2 V1.1 table 7.23 (tSrcRecover)"},
		{name: "a few samples say nothing", facts: []build{meterLog(1, 5, 0.1), ccOn(draw.CCStates{N: 9, Between: 9})},
			not: []string{"rp-wrong"}, source: "common practice"},
	}
}
