package charger_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/charger"
	"portside/pd"
)

// rig writes the recording of one plug-in of a simulated charger, whose every time
// and level is drawn inside what the standard allows, or set by a test.
type rig struct {
	rng *rand.Rand
	set map[string]float64 // drawn values that a test sets
	mid bool               // the middle of every range, in place of a draw

	now     float64
	out     []captures.Message
	ids     [3]int // by pd.PowerRole
	cableID int
	rev     pd.Revision
	acks    bool // the recorder shows GoodCRC
	ends    bool // it shows end_s
	by      captures.Recorder
	dfp     bool // the source is the DFP

	volts []corner // at the source, with no load
	amps  []corner

	meter meterModel

	later  []func() // to be said once a contract stands
	object int      // position of the adjustable object of the contract, 0 for none or one offered anew since
}

// corner is where a straight stretch of VBUS or the current ends.
type corner struct{ at, value float64 }

// meterModel is the meter of a rig.
type meterModel struct {
	rate   float64 // samples a second; 0 is no meter
	gainV  float64 // 1 is right
	gainA  float64
	digitV float64
	digitA float64
	cable  float64 // loop resistance up to the meter
	noAmps bool
	mean   bool // a sample is the mean since the one before
	end    float64
}

func newRig() *rig {
	return &rig{
		mid: true, set: map[string]float64{}, rev: pd.Revision3x, acks: true, ends: true, dfp: true,
		volts: []corner{{0, 0}}, amps: []corner{{0, 0}},
		meter: meterModel{rate: 1000, gainV: 1, gainA: 1, digitV: 0.001, digitA: 0.001},
	}
}

// draw gives a value of a range: what a test set, the middle, or in one draw of
// three an edge.
func (r *rig) draw(name string, lowest, highest float64) float64 {
	if v, ok := r.set[name]; ok {
		return v
	}
	if r.mid {
		return (lowest + highest) / 2
	}
	switch r.rng.IntN(6) {
	case 0:
		return lowest
	case 1:
		return highest
	default:
		return lowest + (highest-lowest)*r.rng.Float64()
	}
}

func (r *rig) wait(name string, lowest, highest float64) *rig {
	r.now += r.draw(name, lowest, highest)
	return r
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * float64(time.Second))) }

func (r *rig) mark(k captures.Marker) *rig {
	r.out = append(r.out, captures.Message{At: seconds(r.now), Marker: k, By: r.by})
	return r
}

// air is the length on the line: 149 bits for a header alone, 10 for each further
// byte, 84 for a reset (USB PD R3.2 V1.1, sections 5.5 and 5.6, computed).
func (r *rig) air(bytes int) float64 {
	return float64(149+10*(bytes-2)) / r.draw("bit rate", 270e3, 330e3)
}

func (r *rig) put(set pd.OrderedSet, b []byte) {
	m := captures.Message{At: seconds(r.now), Set: set, Bytes: b, By: r.by}
	r.now += r.air(len(b))
	if r.ends {
		m.End, m.HasEnd = seconds(r.now), true
	}
	r.out = append(r.out, m)
}

func (r *rig) header(kind pd.MessageType, from pd.PowerRole) pd.HeaderFields {
	f := pd.HeaderFields{Type: kind, MessageID: r.ids[from], Revision: r.rev, PowerRole: from, DataRole: pd.UFP}
	if (from == pd.Source) == r.dfp {
		f.DataRole = pd.DFP
	}
	return f
}

func opposite(from pd.PowerRole) pd.PowerRole { return pd.Sink + pd.Source - from }

func sideName(from pd.PowerRole) string {
	if from == pd.Source {
		return "source"
	}
	return "sink"
}

// unheard sends a message without a GoodCRC.
func (r *rig) unheard(from pd.PowerRole, kind pd.MessageType, objects ...uint32) *rig {
	return r.sends(pd.NewMessage(pd.SOP, r.header(kind, from), objects...))
}

func (r *rig) sends(p pd.Message) *rig {
	r.put(p.Set, p.Bytes())
	return r
}

// ack answers the last message of a side.
func (r *rig) ack(from pd.PowerRole) *rig {
	other := opposite(from)
	r.wait("goodcrc "+sideName(other), 25e-6, 195e-6)
	if !r.acks {
		r.now += r.air(2)
		r.ids[from] = (r.ids[from] + 1) % 8
		return r
	}
	f := r.header(pd.GoodCRC, other)
	f.MessageID = r.ids[from]
	r.put(pd.SOP, pd.NewMessage(pd.SOP, f).Bytes())
	r.ids[from] = (r.ids[from] + 1) % 8
	return r
}

func (r *rig) say(from pd.PowerRole, kind pd.MessageType, objects ...uint32) *rig {
	if kind == pd.SoftReset {
		r.ids = [3]int{}
	}
	if kind == pd.SourceCapabilities || kind == pd.SoftReset {
		r.object = 0
	}
	return r.unheard(from, kind, objects...).ack(from)
}

func (r *rig) source(kind pd.MessageType, objects ...uint32) *rig {
	return r.say(pd.Source, kind, objects...)
}

func (r *rig) sink(kind pd.MessageType, objects ...uint32) *rig {
	return r.say(pd.Sink, kind, objects...)
}

// block sends an extended message that fits one chunk.
func (r *rig) block(from pd.PowerRole, kind pd.MessageType, data []byte) *rig {
	const chunk = 26
	for n := 0; n*chunk < len(data) || n == 0; n++ {
		if n > 0 {
			r.wait("answer sink", 0.001, 0.014)
			r.chunk(opposite(from), kind, pd.ExtendedHeaderFields{Chunked: true, ChunkNumber: n, RequestChunk: true}, nil)
			r.wait("answer source", 0.001, 0.014)
		}
		part := data[n*chunk : min((n+1)*chunk, len(data))]
		r.chunk(from, kind, pd.ExtendedHeaderFields{Chunked: true, ChunkNumber: n, DataSize: len(data)}, part)
	}
	return r
}

func (r *rig) chunk(from pd.PowerRole, kind pd.MessageType, x pd.ExtendedHeaderFields, part []byte) {
	w := x.Encode()
	body := append([]byte{byte(w), byte(w >> 8)}, part...)
	for len(body)%4 != 0 {
		body = append(body, 0)
	}
	f := r.header(kind, from)
	f.Objects = len(body) / 4
	r.sends(pd.Message{Set: pd.SOP, Header: f.Encode(), Body: body}).ack(from)
}

// toCable sends a message of the source's port to the cable and its GoodCRC.
func (r *rig) toCable(answered bool, objects ...uint32) *rig {
	f := pd.HeaderFields{Type: pd.VendorDefined, MessageID: r.cableID, Revision: r.rev}
	r.sends(pd.NewMessage(pd.SOPPrime, f, objects...))
	if !answered {
		r.now += 0.0012
		return r
	}
	r.wait("goodcrc cable", 25e-6, 195e-6)
	r.sends(pd.NewMessage(pd.SOPPrime, pd.HeaderFields{Type: pd.GoodCRC, MessageID: r.cableID, Revision: r.rev, CablePlug: true}))
	r.cableID = (r.cableID + 1) % 8
	return r
}

// cableSays sends a message of the plug.
func (r *rig) cableSays(objects ...uint32) *rig {
	r.sends(pd.NewMessage(pd.SOPPrime, pd.HeaderFields{Type: pd.VendorDefined, Revision: r.rev, CablePlug: true}, objects...))
	r.wait("goodcrc source", 25e-6, 195e-6)
	return r.sends(pd.NewMessage(pd.SOPPrime, pd.HeaderFields{Type: pd.GoodCRC, Revision: r.rev}))
}

func identity(t pd.CommandType) uint32 {
	return uint32(pd.VDMHeaderFields{SVID: 0xFF00, VersionMajor: 1, CommandType: t, Command: pd.DiscoverIdentity}.Encode())
}

// readCable asks the cable and has it answer.
func (r *rig) readCable(f pd.CableFields) *rig {
	r.toCable(true, identity(pd.REQ))
	r.wait("answer cable", 0.001, 0.014)
	head := pd.IDHeaderFields{Product: uint8(pd.PassiveCable), Connector: pd.ConnectorPlug}
	return r.cableSays(identity(pd.ACK), uint32(head.Encode()), 0, 0, uint32(pd.PassiveCableFields{CableFields: f}.Encode()))
}

var (
	cable3A  = pd.CableFields{Current: 0b01, Latency: 1}
	cable5A  = pd.CableFields{Current: 0b10, Latency: 1}
	cableEPR = pd.CableFields{Current: 0b10, MaxVBUS: 0b11, EPRCapable: true, Latency: 1}
)

// ramp moves VBUS from where it is, beginning and ending at a time.
func (r *rig) ramp(from, to, value float64) {
	last := r.volts[len(r.volts)-1]
	from = max(from, last.at)
	r.volts = append(r.volts, corner{from, last.value}, corner{max(to, from+1e-6), value})
}

// draws sets the current from a time on.
func (r *rig) draws(at, value float64) {
	last := r.amps[len(r.amps)-1]
	at = max(at, last.at+2e-6)
	r.amps = append(r.amps, corner{at - 1e-6, last.value}, corner{at, value})
}

// track reads a series of corners at rising times.
type track struct {
	list []corner
	i    int
}

func (k *track) at(t float64) float64 {
	for k.i+1 < len(k.list) && k.list[k.i+1].at <= t {
		k.i++
	}
	a := k.list[k.i]
	if k.i+1 == len(k.list) || t <= a.at {
		return a.value
	}
	b := k.list[k.i+1]
	return a.value + (b.value-a.value)*(t-a.at)/(b.at-a.at)
}

// samples is what the meter logs.
func (r *rig) samples() []captures.Sample {
	m := r.meter
	if m.rate == 0 {
		return nil
	}
	v, i := track{list: r.volts}, track{list: r.amps}
	end := max(r.now+0.05, m.end)
	dt := 1 / m.rate
	var out []captures.Sample
	const parts = 8
	for n := 1; float64(n)*dt < end; n++ {
		at := float64(n) * dt
		var sumV, sumI, k float64
		for p := parts - 1; p >= 0; p-- {
			if p > 0 && !m.mean {
				continue
			}
			t := at - dt*float64(p)/parts
			amps := i.at(t)
			sumV += v.at(t) - amps*m.cable
			sumI += amps
			k++
		}
		s := captures.Sample{At: seconds(at), Volts: digits(sumV/k*m.gainV, m.digitV), Amps: digits(sumI/k*m.gainA, m.digitA), CC: [2]float64{math.NaN(), math.NaN()}}
		if m.noAmps {
			s.Amps = math.NaN()
		}
		out = append(out, s)
	}
	return out
}

func digits(x, step float64) float64 { return math.Round(x/step) * step }

// check runs the recording through a checker.
func (r *rig) check(o charger.Options) *charger.Result {
	slices.SortStableFunc(r.out, func(a, b captures.Message) int { return int(a.At - b.At) })
	return run(o, r.out, r.samples())
}

// run gives messages and samples to a checker in the order of time.
func run(o charger.Options, list []captures.Message, samples []captures.Sample) *charger.Result {
	c := charger.New(o)
	k := 0
	for i := range list {
		for k < len(samples) && samples[k].At <= list[i].At {
			c.Sample(&samples[k])
			k++
		}
		c.Message(&list[i])
	}
	for ; k < len(samples); k++ {
		c.Sample(&samples[k])
	}
	return c.Finish()
}

func (r *rig) result() *charger.Result { return r.check(charger.Options{}) }

// find is one check of a result.
func find(t testing.TB, r *charger.Result, name string) charger.Check {
	t.Helper()
	for _, c := range r.Checks {
		if c.Check == name {
			return c
		}
	}
	require.Fail(t, "no such check", name)
	return charger.Check{}
}

// failures lists the checks that failed.
func failures(r *charger.Result) []string {
	out := []string{}
	for _, c := range r.Checks {
		if c.Result == charger.Fail {
			out = append(out, c.Check)
		}
	}
	return out
}

func fixed(v pd.Millivolts, i pd.Milliamps) uint32 {
	return uint32(pd.FixedSupply{Voltage: v, MaxCurrent: i}.Encode())
}

func pps(low, high pd.Millivolts, i pd.Milliamps) uint32 {
	return uint32(pd.PPSSupply{MinVoltage: low, MaxVoltage: high, MaxCurrent: i}.Encode())
}

func ask(position int, i pd.Milliamps) uint32 {
	return uint32(pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: position, EPRCapable: true}, OperatingCurrent: i, MaxCurrent: i}.Encode())
}

func askPPS(position int, v pd.Millivolts, i pd.Milliamps) uint32 {
	return uint32(pd.PPSRequest{RequestFlags: pd.RequestFlags{Position: position}, Voltage: v, OperatingCurrent: i}.Encode())
}

func askAVS(position int, v pd.Millivolts, i pd.Milliamps) uint32 {
	return uint32(pd.AVSRequest{RequestFlags: pd.RequestFlags{Position: position}, Voltage: v, OperatingCurrent: i}.Encode())
}
