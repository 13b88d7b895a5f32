package location

import (
	"fmt"

	"portside/decode/draw"
	"portside/decode/rules"
	"portside/decode/signs"
)

// window is VBUS against what it should be, where it is not: the first of these that shows.
func (m model) window(p signs.Picture, d *draw.Result) (observation, bool) {
	for _, shows := range []func(signs.Picture, *draw.Result) (topic, signs.Seen, string){
		hum, pinned, weak, idles, outOfRange, sunk, raised, below, standingLower, unsteadyVoltage, oddVoltage,
	} {
		if t, s, text := shows(p, d); s != nil {
			return m.observe(t, s, text), true
		}
	}
	return observation{}, false
}

func hum(p signs.Picture, _ *draw.Result) (topic, signs.Seen, string) {
	if !p.Hums() {
		return topic{}, nil, ""
	}
	t := windowTopic()
	t.cap = physicsCap
	return t, signs.Exactly(signs.WindowHums), p.Text("vbus-out-of-range")
}

// pinned is VBUS held down by less current than the source gives.
func pinned(p signs.Picture, d *draw.Result) (topic, signs.Seen, string) {
	text := p.Pinned(d)
	if text == "" {
		return topic{}, nil, ""
	}
	return agreedTopic(signs.WindowSunk), signs.Exactly(signs.WindowSunk), text
}

// weak is 5 V that never came to stand.
func weak(p signs.Picture, d *draw.Result) (topic, signs.Seen, string) {
	text := p.WeakFive(d)
	if text == "" {
		return topic{}, nil, ""
	}
	return littleTopic(p.Facts.MeterAt), signs.Exactly(signs.WindowSunk), text
}

func idles(p signs.Picture, d *draw.Result) (topic, signs.Seen, string) {
	text := p.IdlesBelow(d)
	if text == "" {
		return topic{}, nil, ""
	}
	return agreedTopic(signs.WindowElse), signs.Exactly(signs.WindowElse), text
}

func outOfRange(p signs.Picture, _ *draw.Result) (topic, signs.Seen, string) {
	f, known := p.Found["vbus-out-of-range"]
	if !known || f.Severity == rules.Note || p.State[signs.NoVBUS] > 0 {
		return topic{}, nil, ""
	}
	if signs.LeftOver(f) && !(p.HeldByLittle(f) && p.NeverMore(f)) {
		return topic{}, nil, ""
	}
	if p.HeldByLittle(f) {
		return littleTopic(p.Facts.MeterAt), signs.Exactly(signs.WindowSunk), f.Text
	}
	if p.Agreed() {
		kind := p.AgainstAgreed(f)
		if text := p.NeverRises(p.Meter()); text != "" && kind == signs.WindowSunk {
			return neverRisen(p, text)
		}
		return agreedTopic(kind), signs.Exactly(kind), f.Text
	}
	return windowTopic(), signs.Exactly(signs.AgainstFixed(f)), f.Text
}

func sunk(p signs.Picture, _ *draw.Result) (topic, signs.Seen, string) {
	if p.Low == "" {
		return topic{}, nil, ""
	}
	return windowTopic(), signs.Exactly(signs.WindowSunk), p.Low
}

func raised(p signs.Picture, _ *draw.Result) (topic, signs.Seen, string) {
	if p.Unasked == "" {
		return topic{}, nil, ""
	}
	return agreedTopic(signs.WindowRaised), signs.Exactly(signs.WindowRaised), p.Unasked
}

// neverRisen is VBUS that never comes near a contract. What keeps to 5 V nobody holds there.
func neverRisen(p signs.Picture, text string) (topic, signs.Seen, string) {
	kind := signs.WindowSunk
	if p.KeepsFive(p.Meter()) {
		kind = signs.WindowElse
	}
	return agreedTopic(kind), signs.Exactly(kind), text
}

// below is VBUS under what was agreed, which no finding tells: it never comes, slips away, or
// sags further than the draw explains.
func below(p signs.Picture, d *draw.Result) (topic, signs.Seen, string) {
	t := agreedTopic(signs.WindowSunk)
	if text := p.NeverRises(d); text != "" {
		return neverRisen(p, text)
	}
	if text := p.NeverFollows(d); text != "" {
		return t, signs.Exactly(signs.WindowSunk), text
	}
	if text := p.Slips(d); text != "" {
		return t, signs.Seen{signs.WindowSunk: 1, signs.WindowInside: signs.UnheardShare}, text
	}
	if text := p.Sagging(d); text != "" {
		return t, signs.Exactly(signs.WindowSunk), text
	}
	return topic{}, nil, ""
}

// standingLower is a collapse that ends at a lower voltage, which carries the draw on.
func standingLower(p signs.Picture, d *draw.Result) (topic, signs.Seen, string) {
	l, lower := signs.StandsLower(d)
	if !lower || !p.Is("vbus-collapse", rules.Fault) {
		return topic{}, nil, ""
	}
	text := fmt.Sprintf("%s; it stands at %.2f V and carries %.2f A on", p.Text("vbus-collapse"), l.VoltageV, l.MeanA)
	return windowTopic(), signs.Exactly(signs.WindowSlides), text
}

func unsteadyVoltage(p signs.Picture, d *draw.Result) (topic, signs.Seen, string) {
	l, swings := p.Swings(d)
	if !swings {
		return topic{}, nil, ""
	}
	text := fmt.Sprintf("VBUS swings by +-%.2g V about %.4g V, more than %.2g A explain", l.SpreadV, l.VoltageV, l.MaxA)
	return windowTopic(), signs.Exactly(signs.WindowSwings), text
}

func oddVoltage(p signs.Picture, d *draw.Result) (topic, signs.Seen, string) {
	if text := p.AgainAndAgainBeyond(d); text != "" {
		return windowTopic(), signs.Exactly(signs.WindowBeyond), text
	}
	level, odd, idle := p.OddLevel(d)
	if odd <= 0 {
		return topic{}, nil, ""
	}
	kind := signs.WindowOdd
	switch {
	case p.BeyondProgrammable(level):
		kind = signs.WindowBeyond
	case idle:
		kind = signs.WindowOddIdle
	}
	text := fmt.Sprintf("VBUS stands at %.2f V, which no fixed supply gives", level)
	return windowTopic(), signs.Seen{kind: odd, signs.WindowInside: 1 - odd}, text
}
