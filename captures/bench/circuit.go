package bench

import "math"

// The circuit, from the source to the battery:
//
//	source        cable         port     switch   charger        main rail
//	vSet─Rout─┬─── Rloop ───┬──────── Rsw ──┬──[converter]──┬───── load, short
//	         Csrc          Cport           Cin             Csys ── battery
//	          │             │ controller    │ leak          │
//
// VBUS and ground of the cable are one loop resistance, since a meter sees only
// their sum.

// Indices of the state vector.
const (
	nodeSource  = iota // volts at the source's receptacle
	nodePort           // volts at the device's receptacle
	nodeInput          // volts between input switch and charger circuit
	nodeRail           // volts of the main rail
	chargerOut         // amperes out of the charger circuit
	batteryStor        // coulombs taken by the battery
	stateSize
)

type state [stateSize]float64

// Figures of the circuit that no recording depends on.
const (
	fullyOn        = 0.9   // of the load's undervoltage limit, below which it turns resistive
	converterLag   = 20e-6 // seconds; loop of some kHz, common practice
	regulationGain = 20.0  // amperes a volt, of both voltage loops
	batteryFET     = 0.02  // ohms, when the battery feeds the rail
	minimumInput   = 1.0   // volts at which a converter has long stopped
	startBand      = 0.5   // volts above it over which it comes alive
	openOhm        = 1e8   // a switch that is off
	controllerOffV = 2.9   // volts below which the port controller draws nothing
	inputBleedOhm  = 20e3  // resistors from the charger's input to ground
	railBleedOhm   = 50e3  // same for the main rail
	sourceLeakOhm  = 100e3 // same for the source's output
	chargeBand     = 0.15  // volts of rail droop over which charging gives way to the load
	chargeHeadroom = 0.2   // volts that the rail stands above the battery
	softStartAmps  = 0.8   // switch current while its gate is held back
	switchSoftS    = 0.012 // length of that: controlled slew, common practice
)

// circuit is everything that the derivative depends on beside the state. The
// policies and the charger's supervisor change it between steps.
type circuit struct {
	p *Parameters

	set        ramp // source's open-circuit voltage
	sourceOn   bool
	attached   bool
	parted     bool // a contact of VBUS is open
	switchOn   bool
	switchAt   float64 // when it closed
	chargerOn  bool
	chargerAt  float64 // when it was enabled: the soft start runs from here
	inputLimit float64 // amperes, input-current limit of the charger circuit
	inputFloor float64 // volts, input-voltage regulation
	controller float64 // watts of the port controller and its supply
	loadW      float64 // watts of what hangs on the main rail
	charge     ramp    // amperes of charge asked for
	shortOhm   float64 // main rail to ground; 0 none
	retryW     float64 // watts of a regulator behind the rail while it tries
}

// ramp moves from one value to another at a steady rate.
type ramp struct{ from, to, at, rate float64 }

func (r ramp) value(t float64) float64 {
	travel := max(0, t-r.at) * r.rate
	if r.to >= r.from {
		return min(r.to, r.from+travel)
	}
	return max(r.to, r.from-travel)
}

// end is when the ramp arrives.
func (r ramp) end() float64 { return r.at + math.Abs(r.to-r.from)/r.rate }

// flows are the currents and powers that follow from one state.
type flows struct {
	source   float64 // out of the source
	cable    float64 // through the meter, into the device
	input    float64 // through the input switch
	charger  float64 // into the charger circuit
	load     float64 // out of the main rail into what it feeds
	short    float64 // out of the main rail into the fault
	battery  float64 // into the battery
	limit    float64 // the source's limit at this voltage
	limiting bool
}

func (c *circuit) flows(t float64, y *state) flows {
	var f flows
	f.source, f.limit, f.limiting = c.sourceCurrent(t, y[nodeSource])
	f.cable = c.cableCurrent(y)
	f.input = c.switchCurrent(t, y[nodePort], y[nodeInput])
	f.charger = c.chargerInput(y)
	f.load = c.loadCurrent(y[nodeRail], c.loadW+c.retryW)
	f.short = c.shortCurrent(y)
	f.battery = c.batteryCurrent(t, y)
	return f
}

// derivative is the circuit's set of differential equations.
func (c *circuit) derivative(t float64, y *state) state {
	w := c.terms(t, y)
	return c.balance(&w, y)
}

// terms is everything that flows in one state.
type terms struct {
	flows
	port, loss float64 // to ground at the receptacle and at the charger's input
	target     float64 // what the converter's loops ask for
}

func (c *circuit) terms(t float64, y *state) terms {
	return terms{
		flows: c.flows(t, y), port: c.portCurrent(y[nodePort]), loss: c.inputLoss(y[nodeInput]),
		target: c.chargerTarget(t, y),
	}
}

// balance is Kirchhoff's current law at each node, dV/dt = I/C.
func (c *circuit) balance(w *terms, y *state) state {
	var d state
	d[nodeSource] = (w.source - w.cable - y[nodeSource]/sourceLeakOhm) / c.p.SourceCapacitanceUF * 1e6
	d[nodePort] = (w.cable - w.input - w.port) / c.p.PortCapacitanceUF * 1e6
	d[nodeInput] = (w.input - w.charger - w.loss) / c.p.InputCapacitanceUF * 1e6
	d[nodeRail] = (y[chargerOut] - w.load - w.short - w.battery - y[nodeRail]/railBleedOhm) / c.p.RailCapacitanceUF * 1e6
	d[chargerOut] = (w.target - y[chargerOut]) / converterLag
	d[batteryStor] = w.battery
	return d
}

// slopes is the Jacobian by differences, as [system.slopes] takes it, but only
// what a state has a say in is computed anew when it moves.
func (c *circuit) slopes(t float64, y *state, j *matrix) {
	still := c.terms(t, y)
	d0 := c.balance(&still, y)
	moved := *y
	for n := range stateSize {
		delta := slopeStep(y[n])
		moved[n] += delta
		w := still
		c.renew(&w, n, t, &moved)
		d := c.balance(&w, &moved)
		moved[n] = y[n]
		for i := range stateSize {
			j[i][n] = (d[i] - d0[i]) / delta
		}
	}
}

// renew computes what depends on one state.
func (c *circuit) renew(w *terms, n int, t float64, y *state) {
	switch n {
	case nodeSource:
		w.source, w.limit, w.limiting = c.sourceCurrent(t, y[nodeSource])
		w.cable = c.cableCurrent(y)
	case nodePort:
		w.cable = c.cableCurrent(y)
		w.input = c.switchCurrent(t, y[nodePort], y[nodeInput])
		w.port = c.portCurrent(y[nodePort])
	case nodeInput:
		w.input = c.switchCurrent(t, y[nodePort], y[nodeInput])
		w.charger, w.loss = c.chargerInput(y), c.inputLoss(y[nodeInput])
		w.target = c.chargerTarget(t, y)
	case nodeRail:
		w.charger, w.target = c.chargerInput(y), c.chargerTarget(t, y)
		w.load, w.short = c.loadCurrent(y[nodeRail], c.loadW+c.retryW), c.shortCurrent(y)
		w.battery = c.batteryCurrent(t, y)
	case chargerOut:
		w.charger = c.chargerInput(y)
	case batteryStor:
		w.battery, w.target = c.batteryCurrent(t, y), c.chargerTarget(t, y)
	}
}

func (c *circuit) cableCurrent(y *state) float64 {
	if !c.attached || c.parted {
		return 0
	}
	return (y[nodeSource] - y[nodePort]) / c.p.loopOhm()
}

func (c *circuit) shortCurrent(y *state) float64 {
	if c.shortOhm <= 0 {
		return 0
	}
	return y[nodeRail] / c.shortOhm
}

// sourceCurrent is the source's output: a voltage behind a resistance, limited
// in current, with a bleeder that pulls down.
func (c *circuit) sourceCurrent(t, v float64) (amps, limit float64, limiting bool) {
	if !c.sourceOn {
		return -bleed(v, c.p.SourceBleedA), 0, false
	}
	set := c.set.value(t)
	amps = (set - v) / c.p.SourceOutputOhm
	limit = c.p.SourceLimitA
	if set > 0 {
		share := min(1, max(0, v/set))
		limit *= c.p.SourceFoldback + (1-c.p.SourceFoldback)*share
	}
	if amps > limit {
		return limit, limit, true
	}
	return max(amps, -bleed(v, c.p.SourceBleedA)), limit, false
}

// bleed is a discharge current that fades out near 0 V.
func bleed(v, amps float64) float64 { return amps * min(1, max(0, v)) }

// switchCurrent is the input switch: a resistance that blocks reverse current
// and whose slew is held back while it turns on.
func (c *circuit) switchCurrent(t, from, to float64) float64 {
	if !c.switchOn {
		return (from - to) / openOhm
	}
	amps := max(0, from-to) / (c.p.SwitchOhm + c.p.ReceptacleOhm)
	if t < c.switchAt+switchSoftS {
		return min(amps, softStartAmps)
	}
	return min(amps, c.p.SwitchLimitA)
}

// portCurrent leaves VBUS at the receptacle: the port controller and a fault.
func (c *circuit) portCurrent(v float64) float64 {
	amps := c.controller / max(v, controllerOffV) * min(1, max(0, v-controllerOffV))
	if c.p.VBUSLeakOhm > 0 {
		amps += max(0, v-c.p.VBUSLeakFromV) / c.p.VBUSLeakOhm
	}
	return amps
}

func (c *circuit) inputLoss(v float64) float64 {
	amps := v / inputBleedOhm
	if c.p.InputLeakOhm > 0 {
		amps += v / c.p.InputLeakOhm
	}
	return amps
}

// chargerInput is what the converter takes: its output power, its losses and
// its own supply.
func (c *circuit) chargerInput(y *state) float64 {
	out := y[chargerOut]
	watts := (max(0, y[nodeRail])*out + c.p.ChargerLossOhm*out*out) / c.p.ChargerEfficiency
	amps := watts / max(y[nodeInput], minimumInput)
	if c.chargerOn {
		amps += c.p.ChargerQuiescentA * min(1, max(0, y[nodeInput]-controllerOffV))
	}
	return amps
}

// chargerTarget is the current the converter's loops ask for: the least of
// what the rail needs, what the converter can give and what the input may give.
func (c *circuit) chargerTarget(t float64, y *state) float64 {
	alive := min(1, max(0, (y[nodeInput]-minimumInput)/startBand))
	if !c.chargerOn || alive == 0 {
		return 0
	}
	floor := regulationGain * max(0, y[nodeInput]-c.inputFloor)
	input := max(0, min(c.inputLimit, floor)-c.p.ChargerQuiescentA)
	need := regulationGain * max(0, c.railReference(t, y)-y[nodeRail])
	return alive * min(need, c.p.ChargerOutputLimitA, c.outputFor(y, input))
}

// outputFor turns an input current into an output current: the positive root
// of loss·i² + rail·i = efficiency·input·amps.
func (c *circuit) outputFor(y *state, amps float64) float64 {
	rail, loss := max(0, y[nodeRail]), c.p.ChargerLossOhm
	watts := c.p.ChargerEfficiency * max(0, y[nodeInput]) * amps
	return 2 * watts / (rail + math.Sqrt(rail*rail+4*loss*watts) + 1e-12)
}

// railReference is where the main rail should stand: above the battery, never
// below its minimum, rising from nothing while the converter starts.
func (c *circuit) railReference(t float64, y *state) float64 {
	goal := c.p.RailMinimumV
	if c.p.BatteryConnected {
		goal = max(goal, c.openCircuit(y)+chargeHeadroom)
	}
	if start := c.p.ChargerSoftStartMS / 1000; start > 0 && t < c.chargerAt+start {
		goal *= (t - c.chargerAt) / start
	}
	// The loop is proportional: half a volt above makes up its droop.
	return goal + 0.5
}

// loadCurrent is a constant-power load above its undervoltage limit and a
// resistance below it.
func (c *circuit) loadCurrent(v, watts float64) float64 {
	knee := fullyOn * c.p.RailMinimumV
	if v >= knee {
		return watts / v
	}
	return watts * max(0, v) / (knee * knee)
}

// stored is the energy in the capacitors, in joules.
func (c *circuit) stored(y *state) float64 {
	half := func(uf, v float64) float64 { return 0.5e-6 * uf * v * v }
	return half(c.p.SourceCapacitanceUF, y[nodeSource]) + half(c.p.PortCapacitanceUF, y[nodePort]) +
		half(c.p.InputCapacitanceUF, y[nodeInput]) + half(c.p.RailCapacitanceUF, y[nodeRail])
}
