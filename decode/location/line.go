package location

import (
	"portside/decode/rules"
	"portside/decode/signs"
)

// line is what damaged messages and the level of CC say.
func (m model) line(p signs.Picture) []observation {
	var out []observation
	if p.Is("crc-errors", rules.Warning) {
		n := p.Facts.Negotiation
		damaged := signs.Exactly(signs.LineSource)
		if n != nil {
			damaged = signs.DamagedSide(n.CRCErrors.Source, n.CRCErrors.Sink)
		}
		if n != nil && float64(n.CRCErrors.Source+n.CRCErrors.Sink) > signs.HeavyShare*float64(n.Messages) {
			damaged = signs.Exactly(signs.LineHeavy)
		}
		if only := signs.OneSided(n); only != "" {
			damaged = signs.Exactly(only)
		}
		quality := lineTopic()
		if p.Garbled() {
			quality.cap = protocolCap
		}
		out = append(out, m.observe(quality, damaged, p.Text("crc-errors")))
	} else if s, text := p.Unheard(); s != nil {
		out = append(out, m.observe(hearingTopic(), s, text))
	}
	if text := p.Rides(); text != "" {
		t := ccTopic()
		t.cap = coldCap
		return append(out, m.observe(t, signs.Exactly(signs.CcRides), text))
	}
	for _, level := range []struct{ rule, outcome string }{
		{"cc-stuck-high", signs.CcHigh}, {"cc-stuck-low", signs.CcLow}, {"rd-missing", signs.CcNoRd}, {"rd-on-both", signs.CcBothRd}, {"rp-wrong", signs.CcBadRp},
	} {
		if !p.Is(level.rule, rules.Warning) {
			continue
		}
		t := ccTopic()
		if _, held := p.Found[level.rule].Values["voltage_v"]; held && level.outcome == signs.CcLow {
			t.cap, level.outcome = physicsCap, signs.CcHeld
		}
		if _, joined := p.Found[level.rule].Values["voltage_v"]; joined && level.outcome == signs.CcBothRd {
			t.cap, level.outcome = physicsCap, signs.CcJoined
		}
		return append(out, m.observe(t, signs.Exactly(level.outcome), p.Text(level.rule)))
	}
	if p.SilentCC() {
		out = append(out, m.observe(ccTopic(), signs.Exactly(signs.CcDead), p.Text("no-vbus")+", and nothing on either CC pin"))
	}
	if d := p.Meter(); d != nil && p.Is("no-vbus", rules.Fault) && d.CC.Waits.Seconds >= rules.CCWaitsS && d.Sampling.MaxA < signs.IntoShortA {
		out = append(out, m.observe(ccWaitTopic(p.Facts.MeterAt, d.Sampling.IntervalS), signs.Exactly(signs.CcWaits), p.Text("no-vbus")))
	}
	return out
}
