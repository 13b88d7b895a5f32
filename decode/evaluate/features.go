package evaluate

import (
	"math"
	"slices"

	"portside/captures"
	"portside/captures/bench"
	"portside/pd"
)

// absent stands for a feature that a recording does not have: trees split it
// from every figure.
const absent = -1e6

// features is what the reference observer looks at: plain statistics of rows
// and messages, made without any part of the engine. Meter and messages stand
// in fixed places, so that one list serves all inputs.
type features struct {
	names []string
	x     []float32
}

func (f *features) add(name string, v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		v = absent
	}
	f.names = append(f.names, name)
	f.x = append(f.x, float32(v))
}

// observe takes the features of a run, from what its files hold.
func observe(run *bench.Run, inputs string) features {
	var f features
	p := &run.Scenario.Parameters
	var rows []captures.Sample
	var messages []captures.Message
	if inputs != Messages {
		rows = run.Rows
	}
	if inputs != Meter {
		messages = run.Messages
	}
	m := f.meter(rows, p.Meter == bench.AtSource)
	l := f.messages(messages)
	f.add("contract reached on the meter", ratio(m.topV, l.contractV))
	f.add("off the contract", offContract(m.topV, l.contractV))
	f.add("highest draw of the contract", ratio(m.topA, l.contractA))
	f.add("usual draw of the contract", ratio(m.usualA, l.contractA))
	f.add("offered and not seen", float64(min(l.offers, 9))*boolean(m.rows > 0 && m.topV < 4))
	return f
}

func boolean(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func ratio(a, b float64) float64 {
	if b == 0 || a == absent || b == absent {
		return absent
	}
	return a / b
}

// offContract is how far VBUS stands from the contract, as a share of it, at most a
// fifth: what lies further off is no contract, and trees draw their cuts near it.
func offContract(level, contract float64) float64 {
	if r := ratio(level, contract); r != absent {
		return min(max(r-1, -0.2), 0.2)
	}
	return absent
}

// offNominal is how far a level lies from the nearest fixed voltage that
// chargers offer, as a share of it.
func offNominal(v float64) float64 {
	best := absent
	for _, nominal := range []float64{5, 9, 12, 15, 20, 28} {
		if off := v/nominal - 1; math.Abs(off) < math.Abs(best) {
			best = off
		}
	}
	return best
}

// quantile of sorted values; absent where there is none.
func quantile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return absent
	}
	return sorted[min(int(q*float64(len(sorted))), len(sorted)-1)]
}

func mean(x []float64) float64 {
	if len(x) == 0 {
		return absent
	}
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// spread is the standard deviation.
func spread(x []float64) float64 {
	if len(x) < 2 {
		return absent
	}
	m, sum := mean(x), 0.0
	for _, v := range x {
		sum += (v - m) * (v - m)
	}
	return math.Sqrt(sum / float64(len(x)))
}

// Bands of VBUS: absent, held down, 5 V, above.
var bands = []float64{0.8, 4.4, 5.9}

type metered struct {
	rows               int
	topV, topA, usualA float64
}

func (f *features) meter(rows []captures.Sample, atSource bool) metered {
	n := float64(len(rows))
	seconds := absent
	if len(rows) > 1 {
		seconds = (rows[len(rows)-1].At - rows[0].At).Seconds()
	}
	f.add("rows a second", ratio(n, seconds))
	f.add("seconds", seconds)
	f.add("at the source's end", boolean(atSource && len(rows) > 0))

	var share [4]float64
	var at5, above, aboveV, all, v5 []float64
	falls, firstUp, firstContract := 0, absent, absent
	for i := range rows {
		r := &rows[i]
		b, _ := slices.BinarySearch(bands, r.Volts)
		share[b]++
		all = append(all, r.Amps)
		switch b {
		case 2:
			at5, v5 = append(at5, r.Amps), append(v5, r.Volts)
		case 3:
			above, aboveV = append(above, r.Amps), append(aboveV, r.Volts)
		}
		t := r.At.Seconds()
		if firstUp == absent && b >= 2 {
			firstUp = t
		}
		if firstContract == absent && b == 3 {
			firstContract = t
		}
		if i > 0 && rows[i-1].Volts > 4 && r.Volts < 1 {
			falls++
		}
	}
	for i, name := range []string{"share without VBUS", "share held down", "share at 5 V", "share above 5 V"} {
		f.add(name, ratio(share[i], n))
	}
	f.add("falls of VBUS", float64(falls))
	f.add("falls a second", ratio(float64(falls), seconds))
	wait := absent
	if firstContract != absent {
		wait = firstContract - firstUp
	}
	f.add("5 V to contract", wait)

	slope, off := f.levels(above, aboveV, at5, v5)
	f.add("slope of VBUS", slope)
	f.add("scatter about it", off)
	f.pulses(rows)
	f.climbs(rows)
	f.ends(rows)

	slices.Sort(all)
	for _, q := range []float64{0.1, 0.5, 0.9, 0.99, 1} {
		f.add("draw at quantile", quantile(all, q))
	}
	slices.Sort(aboveV)
	out := metered{rows: len(rows), topV: quantile(aboveV, 0.5), topA: quantile(above, 1), usualA: quantile(above, 0.5)}
	if len(aboveV) == 0 {
		slices.Sort(v5)
		out.topV = quantile(v5, 0.5)
	}
	f.add("dips", ratio(quantile(aboveV, 0.01), out.topV))
	f.add("level", out.topV)
	f.add("off its nominal level", offNominal(out.topV))
	f.add("5 V level", quantile(v5, 0.5))
	f.add("power", out.usualA*out.topV)
	return out
}

// levels gives quantiles of the draw at 5 V and above, and the slope of VBUS
// on the draw above. It sorts at5 and above.
func (f *features) levels(above, aboveV, at5, v5 []float64) (slope, off float64) {
	slope, off = absent, absent
	if len(above) > 2 {
		ma, mv := mean(above), mean(aboveV)
		var saa, sav, svv float64
		for i := range above {
			a, v := above[i]-ma, aboveV[i]-mv
			saa, sav, svv = saa+a*a, sav+a*v, svv+v*v
		}
		if saa > 0 {
			slope = sav / saa
			off = math.Sqrt(max(svv-sav*slope, 0) / float64(len(above)))
		}
	}
	f.add("scatter of the draw above 5 V", spread(above))
	f.add("mean draw above 5 V", mean(above))
	f.add("mean draw at 5 V", mean(at5))
	f.add("rows at 5 V", float64(len(at5)))
	f.add("scatter of 5 V", spread(v5))
	slices.Sort(above)
	slices.Sort(at5)
	for _, q := range []float64{0.02, 0.1, 0.5, 0.9, 1} {
		f.add("draw above 5 V at quantile", quantile(above, q))
	}
	for _, q := range []float64{0.1, 0.5, 0.9, 1} {
		f.add("draw at 5 V at quantile", quantile(at5, q))
	}
	f.add("rest above 5 V over draw at 5 V", ratio(quantile(above, 0.05), quantile(at5, 0.3)))
	middle := quantile(above, 0.5)
	flat := 0.0
	for _, a := range above {
		if math.Abs(a-middle) < 0.03*middle {
			flat++
		}
	}
	f.add("share that is flat", ratio(flat, float64(len(above))))
	return slope, off
}

// pulses counts rises past half of the highest draw, after falls below a
// quarter of it.
func (f *features) pulses(rows []captures.Sample) {
	top := 0.0
	for i := range rows {
		top = max(top, rows[i].Amps)
	}
	var starts, lengths, withV []float64
	up := false
	for i := range rows {
		t := rows[i].At.Seconds()
		switch {
		case !up && rows[i].Amps > top/2:
			up = true
			starts = append(starts, t)
		case up && rows[i].Amps < top/4:
			up = false
			lengths = append(lengths, t-starts[len(starts)-1])
			withV = append(withV, boolean(rows[i].Volts < 3))
		}
	}
	var gaps []float64
	for i := 1; i < len(starts); i++ {
		gaps = append(gaps, starts[i]-starts[i-1])
	}
	f.add("pulses", float64(len(lengths)))
	f.add("distance of pulses", mean(gaps))
	f.add("their unevenness", ratio(spread(gaps), mean(gaps)))
	f.add("pulses that take VBUS with them", mean(withV))
	slices.Sort(lengths)
	slices.Sort(gaps)
	f.add("middle distance", quantile(gaps, 0.5))
	f.add("length of pulses", quantile(lengths, 0.5))
	f.add("longest pulse", quantile(lengths, 1))
	last := absent
	if len(starts) > 0 {
		last = rows[len(rows)-1].At.Seconds() - starts[len(starts)-1]
	}
	f.add("quiet at the end", last)
}

// climbs looks for draws that rise slowly and fall at once.
func (f *features) climbs(rows []captures.Sample) {
	low, from, rises, longest := math.Inf(1), 0.0, 0.0, 0.0
	peak, peakAt := 0.0, 0.0
	for i := range rows {
		a, t := rows[i].Amps, rows[i].At.Seconds()
		switch {
		case a < low || a < peak/2:
			if peak > 2*low+0.1 && peakAt-from > 0.5 {
				rises++
				longest = max(longest, peakAt-from)
			}
			low, from, peak, peakAt = a, t, a, t
		case a > peak:
			peak, peakAt = a, t
		}
	}
	f.add("slow rises", rises)
	f.add("longest rise", longest)
}

// ends compares the quarters of the time with VBUS.
func (f *features) ends(rows []captures.Sample) {
	var on []float64
	for i := range rows {
		if rows[i].Volts > 4 {
			on = append(on, rows[i].Amps)
		}
	}
	quarter := len(on) / 4
	if quarter == 0 {
		f.add("first quarter", absent)
		f.add("last quarter", absent)
		f.add("scatter of last quarter", absent)
		return
	}
	f.add("first quarter", mean(on[:quarter]))
	f.add("last quarter", mean(on[len(on)-quarter:]))
	f.add("scatter of last quarter", spread(on[len(on)-quarter:]))
}

type spoken struct {
	offers               int
	contractV, contractA float64
}

// kinds of message that are counted.
var kinds = []pd.MessageType{
	pd.SourceCapabilities, pd.Request, pd.Accept, pd.Reject, pd.Wait, pd.PSRDY, pd.GoodCRC, pd.SoftReset, pd.EPRRequest,
}

func (f *features) messages(messages []captures.Message) spoken {
	out := spoken{contractV: absent, contractA: absent}
	counts := map[pd.MessageType]float64{}
	hard, damaged, seconds := 0.0, 0.0, absent
	var offer []pd.PDO
	var asked pd.RDO
	var acked, total, mismatch, contracts, best float64
	var hardAt, offerAt, held []float64
	last, since := 0.0, math.NaN()
	for i := range messages {
		m := &messages[i]
		t := m.At.Seconds()
		if m.Damaged() {
			damaged++
			continue
		}
		p, err := pd.ParseMessage(m.Set, m.Bytes)
		if m.Set.IsReset() {
			hard++
			hardAt = append(hardAt, t)
			if !math.IsNaN(since) {
				held, since = append(held, t-since), math.NaN()
			}
			continue
		}
		if err != nil || m.Set != pd.SOP {
			continue
		}
		kind := p.Header.Type()
		counts[kind]++
		total++
		last = float64(kind)
		switch kind { //nolint:exhaustive // what makes a contract
		case pd.SourceCapabilities:
			out.offers++
			offerAt = append(offerAt, t)
			offer = offer[:0]
			for w := range p.Header.Objects() {
				offer = append(offer, pd.PDO(p.Object(w)))
			}
		case pd.Request:
			asked = pd.RDO(p.Object(0))
			mismatch += boolean(asked.CapabilityMismatch())
		case pd.GoodCRC:
			acked++
		case pd.PSRDY:
			contracts++
			since = t
			if v, ok := offered(offer, asked); ok && float64(v.Voltage)/1000 > best {
				best = float64(v.Voltage) / 1000
				out.contractV, out.contractA = best, float64(v.MaxCurrent)/1000
			}
		}
	}
	if len(messages) > 1 {
		seconds = (messages[len(messages)-1].At - messages[0].At).Seconds()
	}
	f.add("messages", total)
	f.add("seconds of messages", seconds)
	for _, k := range kinds {
		f.add("count of "+k.String(), counts[k])
	}
	f.add("hard resets", hard)
	f.add("damaged", damaged)
	f.add("share damaged", ratio(damaged, damaged+total))
	f.add("share acknowledged", ratio(acked, total))
	f.add("mismatch", mismatch)
	f.add("last message", last)
	f.add("contract voltage", out.contractV)
	f.add("contract current", out.contractA)
	slices.Sort(held)
	f.add("contracts held", quantile(held, 0.5))
	f.add("longest held", quantile(held, 1))
	f.add("distance of hard resets", middleGap(hardAt))
	f.add("distance of offers", middleGap(offerAt))
	return out
}

func offered(offer []pd.PDO, r pd.RDO) (pd.FixedSupply, bool) {
	at := r.Position() - 1
	if at < 0 || at >= len(offer) {
		return pd.FixedSupply{}, false
	}
	return offer[at].Fixed()
}

func middleGap(at []float64) float64 {
	var gaps []float64
	for i := 1; i < len(at); i++ {
		gaps = append(gaps, at[i]-at[i-1])
	}
	slices.Sort(gaps)
	return quantile(gaps, 0.5)
}
