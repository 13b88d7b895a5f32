package location

import (
	"slices"

	"portside/decode/probe"
)

// sheet holds the measurements with their tables, so that a plan that looks ahead
// through many readings makes each but once.
type sheet struct {
	model   model
	cold    []measurement
	cc      map[[4]bool][]measurement // by the lines that are known
	powered map[shown][]measurement
	trials  map[[4]bool][]measurement // by the swaps that changed the complaint
}

func newSheet(m model, at shown) *sheet {
	return &sheet{
		model: m, cold: m.tabled(coldMeasurements(at)),
		cc: map[[4]bool][]measurement{}, powered: map[shown][]measurement{}, trials: map[[4]bool][]measurement{},
	}
}

// measurements are those of [measurements], in the same order.
func (s *sheet) measurements(at shown, given []probe.Reading) []measurement {
	var known, changed [4]bool
	for i, name := range []string{"cc1-ohm", "cc2-ohm", "cc1-diode-v", "cc2-diode-v"} {
		_, known[i] = probe.Figure(given, name)
	}
	for i, name := range []string{"other-port", "plug-flipped", "known-good-charger", "other-cable"} {
		changed[i] = probe.Word(given, name) == "different"
	}
	if _, made := s.trials[changed]; !made {
		s.trials[changed] = s.model.tabled(trials(given))
	}
	if _, made := s.cc[known]; !made {
		s.cc[known] = s.model.tabled(ccMeasurements(given))
	}
	if _, made := s.powered[at]; !made {
		s.powered[at] = s.model.tabled(poweredMeasurements(at))
	}
	return slices.Concat(s.cold, s.cc[known], s.powered[at], s.trials[changed])
}

func (m model) tabled(list []measurement) []measurement {
	for i, q := range list {
		list[i].table = q.topic.likelihoods(m)
	}
	return list
}

// likelihoods of the measurement's outcomes.
func (m measurement) likelihoods(classes model) [][]float64 {
	if m.table != nil {
		return m.table
	}
	return m.topic.likelihoods(classes)
}
