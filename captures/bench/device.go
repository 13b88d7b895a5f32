package bench

// device is the board behind the port controller: input switch, charger
// circuit with its supervisor, the software that sets its input limit, and the
// power-on sequence of the main rail.
type device struct {
	b       *bench
	epoch   int
	supply  Offer
	tries   int     // failed restarts of the charger circuit
	latched bool    // stays so until the power goes
	trips   int     // ends of the search that the source or the charger forced
	settled float64 // where the search stays; 0 while it is open
	top     float64 // the search's last limit
	booted  bool
	cancels []func()
}

// Times of the board in seconds: common practice.
const (
	undervoltageS      = 0.002 // deglitch of the system undervoltage: charger data sheet SLUSDU3
	railGoodShare      = 0.92
	railGoodS          = 0.020
	chargeAfterS       = 0.9 // rail good to the battery's charge
	busyFromS, busyToS = 0.06, 0.4
	idleFromS, idleToS = 0.3, 1.5
	bootForS           = 22.0
	bootLow, bootHigh  = 0.45, 1.35
	cutLow, cutHigh    = 0.85, 1.25
	swingLow           = -0.6 // of the swing: an idle machine moves up more than down
	searchStabiliseS   = 1.0  // after a trip, before the search climbs anew
)

// atLeast keeps what repeats from repeating without end at one moment.
func atLeast(s float64) float64 { return max(s, 0.005) }

func (d *device) later(after float64, do func()) {
	epoch := d.epoch
	d.b.after(after, func() {
		if epoch == d.epoch {
			do()
		}
	})
}

// when watches until the board is switched off.
func (d *device) when(reached func(y *state) bool, do func()) {
	d.cancels = append(d.cancels, d.b.when(func(_ float64, y *state) bool { return reached(y) }, do))
}

// powered closes the input switch on a supply and starts the charger circuit.
func (d *device) powered(o Offer) {
	d.supply = o
	if d.b.p.SwitchStuck || d.b.p.ControllerUnset {
		return
	}
	d.close()
}

func (d *device) close() {
	c := &d.b.c
	c.switchOn, c.switchAt = true, d.b.now
	if trip := d.b.p.SwitchTripA; trip > 0 {
		d.cancels = append(d.cancels, d.b.when(func(t float64, y *state) bool {
			return c.switchCurrent(t, y[nodePort], y[nodeInput]) > trip
		}, d.switchTripped))
	}
	d.later(d.b.p.ChargerDelayMS/1000, d.start)
}

// switchTripped is the input switch's own overcurrent: it opens and tries
// again.
func (d *device) switchTripped() {
	d.epoch++
	d.unwatch()
	d.rest()
	d.b.c.switchOn = false
	d.later(atLeast(d.b.p.SwitchRetryMS/1000), d.close)
}

// rest is the board without its charger circuit.
func (d *device) rest() {
	c := &d.b.c
	c.chargerOn, c.retryW = false, 0
	c.charge = ramp{rate: 1}
	if !d.b.p.BatteryConnected {
		c.loadW, d.booted = 0, false
	}
}

// off opens the switch: VBUS is gone or about to go.
func (d *device) off() {
	if d.b.p.Search && d.b.c.chargerOn && d.top > 0 {
		d.searchEnded()
	}
	d.epoch++
	d.unwatch()
	d.b.c.switchOn = false
	d.rest()
	d.tries, d.latched = 0, false
}

func (d *device) unwatch() {
	for _, cancel := range d.cancels {
		cancel()
	}
	d.cancels = nil
}

// start enables the charger circuit. Its input limit is held down until the
// main rail has passed the undervoltage level.
func (d *device) start() {
	if d.b.p.ChargerDead {
		return
	}
	c := &d.b.c
	c.inputFloor = d.b.y[nodeInput] - d.b.p.InputDropV
	d.enable()
	d.later((d.b.p.HiccupOnMS/1000)+undervoltageS, d.judgeStart)
}

func (d *device) enable() {
	c := &d.b.c
	c.chargerOn, c.chargerAt = true, d.b.now
	c.inputLimit = d.b.p.HiccupLimitA
}

func (d *device) railLow(y *state) bool { return y[nodeRail] < d.b.p.HiccupVolts }

func (d *device) judgeStart() {
	if d.railLow(&d.b.y) {
		d.hiccup()
		return
	}
	d.tries = 0
	d.openLimit()
	d.watchRail()
}

// hiccup is the system undervoltage protection: off, a short try, off again,
// and after so many tries off for good.
func (d *device) hiccup() {
	d.b.c.chargerOn, d.b.c.retryW = false, 0
	if d.tries >= d.b.p.HiccupTries {
		d.latched = true
		return
	}
	d.later(d.b.p.HiccupOffMS/1000, func() {
		d.tries++
		d.enable()
		d.later(d.b.p.HiccupOnMS/1000, d.judgeStart)
	})
}

// watchRail follows a rail that came up.
func (d *device) watchRail() {
	d.when(d.railLow, func() {
		d.later(undervoltageS, func() {
			if d.railLow(&d.b.y) {
				d.unwatch()
				d.hiccup()
			}
		})
	})
	if trip := d.b.p.ChargerTripA; trip > 0 {
		d.when(func(y *state) bool { return y[chargerOut] > trip }, d.outputTripped)
	}
	good := railGoodShare * d.b.p.RailMinimumV
	d.when(func(y *state) bool { return y[nodeRail] >= good }, func() { d.later(railGoodS, d.railGood) })
}

// outputTripped is the charger circuit's own overcurrent: it stops and the
// software starts it anew.
func (d *device) outputTripped() {
	d.epoch++
	d.unwatch()
	d.searchEnded()
	d.rest()
	d.b.c.loadW = 0
	d.later(d.b.p.ChargerRestartS, d.start)
}

// railGood lets the board live: standby, charge, and the button where there is
// one to be pressed.
func (d *device) railGood() {
	if !d.booted {
		d.b.c.loadW = d.b.p.StandbyW
	}
	if d.b.p.BatteryConnected {
		d.later(chargeAfterS, d.charge)
	}
	if d.b.p.RailShortAfterS > 0 {
		d.later(d.b.p.RailShortAfterS, func() { d.b.c.shortOhm = d.b.p.RailShortOhm })
	}
	if d.b.p.DownstreamW > 0 {
		d.retry()
	}
	if d.b.p.SleepEveryS > 0 {
		d.sleep()
	}
	if d.b.p.BootS > 0 && !d.booted {
		d.later(d.b.p.BootS, func() {
			d.booted = true
			d.busy(d.b.now + bootForS)
		})
	}
}

// charge ramps the charge up. A pack whose protection opens ends it and takes
// it again later; for a pack that is too warm it is let down.
func (d *device) charge() {
	d.b.c.charge = ramp{from: d.b.c.charge.value(d.b.now), to: d.b.p.ChargeA, at: d.b.now, rate: d.b.p.ChargeRampAPerS}
	if d.b.p.BatteryCutS > 0 {
		d.later(atLeast(d.b.p.BatteryCutS)*d.b.uniform(cutLow, cutHigh), func() {
			end := ramp{rate: 1}
			if d.b.p.BatteryWarm {
				end = ramp{from: d.b.c.charge.value(d.b.now), at: d.b.now, rate: d.b.p.ChargeRampAPerS}
			}
			d.b.c.charge = end
			d.later(atLeast(d.b.p.BatteryBackS)*d.b.uniform(cutLow, cutHigh), d.charge)
		})
	}
}

// retry is a regulator behind the main rail that starts into its fault, trips
// and tries again.
func (d *device) retry() {
	d.b.c.retryW = d.b.p.DownstreamW
	d.later(atLeast(d.b.p.DownstreamOnMS/1000), func() {
		d.b.c.retryW = 0
		d.later(atLeast(d.b.p.DownstreamOffMS/1000), d.retry)
	})
}

// sleep is a machine that wakes for a moment now and then.
func (d *device) sleep() {
	d.later(atLeast(d.b.p.SleepEveryS)*d.b.uniform(bootLow, bootHigh), func() {
		d.b.c.loadW = d.b.p.SleepW
		d.later(atLeast(d.b.p.SleepForS)*d.b.uniform(bootLow, bootHigh), func() {
			d.b.c.loadW = d.b.p.StandbyW
			d.sleep()
		})
	})
}

// busy is the draw of a machine that starts and then idles.
func (d *device) busy(until float64) {
	if d.b.now < until {
		d.b.c.loadW = d.b.p.BootW * d.b.uniform(bootLow, bootHigh)
		d.later(d.b.uniform(busyFromS, busyToS), func() { d.busy(until) })
		return
	}
	d.b.c.loadW = d.b.p.IdleW * (1 + d.b.p.IdleSwing*d.b.uniform(swingLow, 1))
	d.later(d.b.uniform(idleFromS, idleToS), func() { d.busy(until) })
}

// openLimit gives the charger circuit its input current: the contract's share
// at once, or a search from below.
func (d *device) openLimit() {
	most := d.b.p.InputShare * d.supply.Amps
	if !d.b.p.Search {
		d.b.c.inputLimit = most
		return
	}
	if d.settled > 0 {
		most = min(most, d.settled)
	}
	d.climb(min(d.b.p.SearchStartA, most), most)
}

func (d *device) climb(limit, most float64) {
	d.top = limit
	d.b.c.inputLimit = limit
	if limit < most {
		d.later(d.b.p.SearchDwellS, func() { d.climb(min(most, limit+d.b.p.SearchStepA), most) })
	}
}

// searchEnded counts a trip; after enough of them the search stays below the
// last limit.
func (d *device) searchEnded() {
	if !d.b.p.Search {
		return
	}
	if d.trips++; d.trips >= d.b.p.SearchTrips && d.settled == 0 {
		d.settled = d.top - d.b.p.SearchBackA
	}
	d.top = 0
}
