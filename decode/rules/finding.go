// Package rules turns facts into findings. Each rule is one row of [Table]
// with one function: what it needs, its thresholds, where it points and the
// source of each number. A rule reads facts, never text, and judges nothing
// but its own condition; where the fault lies is weighed elsewhere.
package rules

import (
	"portside/decode/draw"
	"portside/decode/line"
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
// that carry it. Keys of Values and Limits end in their unit.
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

	FromMeter bool `json:"-"` // which of the two clocks its times lie on
}

// Facts is all that a rule may look at.
type Facts struct {
	Draw        *draw.Result        // nil without a meter log
	Negotiation *negotiation.Result // nil without a message list
	Line        *line.Result        // nil without a recording of the CC line
	Aligned     bool                // both lie on one clock
	ClockU      float64             // by how much times of the two may be off against each other, seconds
	MeterAt     string              // source, device or "" unknown
	AccuracyV   float64             // limits of the meter in percent of reading
	AccuracyA   float64
}

// values is a set of measured figures; keys end in their unit.
type values = map[string]any

// number lifts a figure into a pointer for the fields that may be null.
func number(x float64) *float64 { return &x }
