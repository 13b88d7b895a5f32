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
		return append(out, m.observe(t, signs.Exactly(signs.CCRides), text))
	}
	for _, level := range []struct{ rule, outcome string }{
		{"cc-stuck-high", signs.CCHigh}, {"cc-stuck-low", signs.CCLow}, {"rd-missing", signs.CCNoRd}, {"rd-on-both", signs.CCBothRd}, {"rp-wrong", signs.CCBadRp},
	} {
		if !p.Is(level.rule, rules.Warning) {
			continue
		}
		t := ccTopic()
		if _, held := p.Found[level.rule].Values["voltage_v"]; held && level.outcome == signs.CCLow {
			t.cap, level.outcome = physicsCap, signs.CCHeld
		}
		if _, joined := p.Found[level.rule].Values["voltage_v"]; joined && level.outcome == signs.CCBothRd {
			t.cap, level.outcome = physicsCap, signs.CCJoined
		}
		return append(out, m.observe(t, signs.Exactly(level.outcome), p.Text(level.rule)))
	}
	if text := p.Seeks(); text != "" {
		t := ccTopic()
		t.cap = physicsCap
		return append(out, m.observe(t, signs.Exactly(signs.CCSeeks), text))
	}
	shorts := p.Shorts()
	if shorts != "" {
		t := ccTopic()
		t.cap = physicsCap
		out = append(out, m.observe(t, signs.Exactly(signs.CCShorts), shorts))
	}
	if shorts == "" && p.SilentCC() {
		out = append(out, m.observe(ccTopic(), signs.Exactly(signs.CCDead), p.Text("no-vbus")+", and nothing on either CC pin"))
	}
	if d := p.Meter(); d != nil && p.Is("no-vbus", rules.Fault) && d.CC.Waits.Seconds >= rules.CCWaitsS && d.Sampling.MaxA < signs.IntoShortA {
		out = append(out, m.observe(ccWaitTopic(p.Facts.MeterAt, d.Sampling.IntervalS), signs.Exactly(signs.CCWaits), p.Text("no-vbus")))
	}
	return out
}
