package rules

import (
	"portside/decode/draw"
	"portside/decode/negotiation"
)

// Severity says how much a finding matters.
type Severity string

// Severities, least first.
const (
	Note    Severity = "note"
	Warning Severity = "warning"
	Fault   Severity = "fault"
)

// Location is a side of the port, or a verdict about it.
type Location string

// Locations of a fault. Undetermined is only ever a verdict.
const (
	BeforePort   Location = "before-port"
	AtPort       Location = "at-port"
	BehindPort   Location = "behind-port"
	Healthy      Location = "healthy"
	Undetermined Location = "undetermined"
)

// Finding is one thing the recording shows, with its time and the figures
// that carry it. Values and Limits name their units in the key.
type Finding struct {
	Rule     string         `json:"rule"`
	Severity Severity       `json:"severity"`
	StartS   *float64       `json:"start_s"`
	EndS     *float64       `json:"end_s"`
	PointsTo []Location     `json:"points_to"`
	Text     string         `json:"text"`
	Values   map[string]any `json:"values"`
	Limits   map[string]any `json:"limits"`
	Source   string         `json:"source"`
	Input    *string        `json:"input"` // the file, where clocks are not aligned; else null
}

// Facts is all that a rule may look at.
type Facts struct {
	Draw        *draw.Result        // nil without a meter log
	Negotiation *negotiation.Result // nil without a message list
	Aligned     bool                // both lie on one clock
	MeterAt     string              // source, device or "" unknown
	AccuracyV   float64             // limits of the meter in percent of reading
	AccuracyA   float64
}
