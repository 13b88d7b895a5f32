package draw

// Retimed is the result with every time put through at: the same log on
// another clock. Lengths of time stay as they are. The receiver is not changed.
func (r *Result) Retimed(at func(float64) float64) *Result {
	c := *r
	c.Plateaus = retimed(r.Plateaus, func(p *Plateau) { p.StartS, p.EndS = at(p.StartS), at(p.EndS) })
	c.Spikes = retimed(r.Spikes, func(s *Spike) { s.TimeS = at(s.TimeS) })
	c.Staircases = retimed(r.Staircases, func(s *Staircase) { s.StartS, s.EndS = at(s.StartS), at(s.EndS) })
	c.Pulses = retimed(r.Pulses, func(p *Pulses) { p.StartS, p.EndS = at(p.StartS), at(p.EndS) })
	c.Tapers = retimed(r.Tapers, func(t *Taper) { t.StartS, t.EndS = at(t.StartS), at(t.EndS) })
	c.Fades = retimed(r.Fades, func(t *Taper) { t.StartS, t.EndS = at(t.StartS), at(t.EndS) })
	c.Profile = retimed(r.Profile, func(p *Profile) { p.StartS, p.EndS = at(p.StartS), at(p.EndS) })
	c.Levels = retimed(r.Levels, func(l *Level) { l.StartS, l.EndS = at(l.StartS), at(l.EndS) })
	c.Collapses = retimed(r.Collapses, func(x *Collapse) { x.TimeS = at(x.TimeS) })
	c.Slides = retimed(r.Slides, func(s *Slide) { s.StartS, s.EndS = at(s.StartS), at(s.EndS) })
	c.Dips = retimed(r.Dips, func(d *Dip) { d.StartS, d.EndS = at(d.StartS), at(d.EndS) })
	c.Recurs = retimed(r.Recurs, func(x *Recurrence) { x.StartS, x.EndS = at(x.StartS), at(x.EndS) })
	c.Drains = retimed(r.Drains, func(x *Drain) { x.StartS, x.EndS = at(x.StartS), at(x.EndS) })
	c.RunOuts = retimed(r.RunOuts, func(x *RunOut) { x.StartS, x.EndS = at(x.StartS), at(x.EndS) })
	c.Hunts = retimed(r.Hunts, func(x *Hunt) { x.StartS, x.EndS = at(x.StartS), at(x.EndS) })
	c.Follows = retimed(r.Follows, func(x *Follow) { x.TimeS = at(x.TimeS) })
	c.Cold.FirstS, c.FromZero.FirstS, c.Rejoins.FirstS = at(r.Cold.FirstS), at(r.FromZero.FirstS), at(r.Rejoins.FirstS)
	c.Twitches.FirstS = at(r.Twitches.FirstS)
	if o := r.Oscillation; o != nil {
		c.Oscillation = &Oscillation{StartS: at(o.StartS), EndS: at(o.EndS), Count: o.Count, PeriodS: o.PeriodS, SwingA: o.SwingA}
	}
	for _, s := range []*CCStood{&c.CC.Feeds, &c.CC.Waits, &c.CC.Held, &c.CC.Joined} {
		s.FirstS, s.LastS = at(s.FirstS), at(s.LastS)
	}
	if f := &c.CC.Falls; f.LowS > 0 {
		f.TimeS = at(f.TimeS)
	}
	c.Recovers = retimed(r.Recovers, func(x *Recovery) { x.StartS, x.EndS = at(x.StartS), at(x.EndS) })
	c.Bounces = retimed(r.Bounces, func(x *Bounce) { x.TimeS = at(x.TimeS) })
	c.Ebbs = retimed(r.Ebbs, func(x *Ebb) { x.StartS, x.EndS = at(x.StartS), at(x.EndS) })
	c.Steers = retimed(r.Steers, func(x *Steer) { x.TimeS = at(x.TimeS) })
	c.Refills = retimed(r.Refills, func(x *Refill) { x.TimeS = at(x.TimeS) })
	c.Gulps = retimed(r.Gulps, func(x *Gulp) { x.TimeS = at(x.TimeS) })
	c.Gaps = retimed(r.Gaps, func(g *Gap) { g.StartS, g.EndS = at(g.StartS), at(g.EndS) })
	c.Rises = retimed(r.Rises, func(x *Rise) { x.TimeS = at(x.TimeS) })
	c.Trace = retimed(r.Trace, func(b *Bin) { b.StartS, b.EndS = at(b.StartS), at(b.EndS) })
	c.Sampling.StartS, c.Sampling.EndS = at(r.Sampling.StartS), at(r.Sampling.EndS)
	if r.Hum != nil {
		moved := *r.Hum
		moved.StartS, moved.EndS = at(moved.StartS), at(moved.EndS)
		c.Hum = &moved
	}
	if r.Peak != nil {
		moved := *r.Peak
		moved.TimeS = at(moved.TimeS)
		c.Peak = &moved
	}
	c.Measured = r.Measured.retimed(at)
	return &c
}

func retimed[T any](list []T, move func(*T)) []T {
	out := make([]T, len(list))
	copy(out, list)
	for i := range out {
		move(&out[i])
	}
	return out
}

func (m Measured) retimed(at func(float64) float64) Measured {
	for _, q := range []**Quantity{&m.SeriesResistanceOhm, &m.LoadExponent, &m.LeakResistanceOhm, &m.RetryPeriodS, &m.TaperTauS, &m.InrushChargeC} {
		if *q == nil || (*q).AtS == nil {
			continue
		}
		moved := **q
		t := at(*moved.AtS)
		moved.AtS = &t
		*q = &moved
	}
	return m
}
