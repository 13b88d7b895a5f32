package negotiation

import "portside/pd"

// Events are what one side says of itself in Alerts and Status (USB PD R3.2 V1.1, tables
// 6.47 and 6.55).
type Events struct {
	Input       bool // its own input changed, or gives too little
	Hot         bool // too hot, or limited by it
	Overcurrent bool
	Overvoltage bool
}

func (t *Tracker) says(from pd.PowerRole) *Events {
	if from == pd.Source {
		return &t.result.SourceSays
	}
	return &t.result.SinkSays
}

func (e *Events) alert(f pd.AlertFields) {
	e.add(Events{Input: f.SourceInputChange, Hot: f.OTP, Overcurrent: f.OCP, Overvoltage: f.OVP})
}

func (e *Events) status(s pd.SDB) {
	hot := s.OTP || s.LimitedByTemperature || s.Temperature == pd.TemperatureOver
	e.add(Events{Input: s.LimitedByInput, Hot: hot, Overcurrent: s.OCP, Overvoltage: s.OVP})
}

func (e *Events) add(x Events) {
	*e = Events{
		Input: e.Input || x.Input, Hot: e.Hot || x.Hot,
		Overcurrent: e.Overcurrent || x.Overcurrent, Overvoltage: e.Overvoltage || x.Overvoltage,
	}
}
