package decode

import (
	"portside/decode/draw"
	"portside/decode/line"
	"portside/decode/location"
	"portside/decode/negotiation"
	"portside/decode/rules"
)

// Schema names the form of a [Diagnosis]. Within one schema fields are only
// added.
const Schema = "portside/diagnosis/1"

// Diagnosis is the result of the main job: one model for every surface. A
// field that does not apply is null; arrays are never null.
type Diagnosis struct {
	Schema      string              `json:"schema"`
	Inputs      []Input             `json:"inputs"`
	Verdict     location.Verdict    `json:"verdict"`
	Findings    []rules.Finding     `json:"findings"`
	LeftOut     int                 `json:"left_out"` // findings beyond 10,000
	Negotiation *negotiation.Result `json:"negotiation"`
	Draw        *draw.Result        `json:"draw"`
	Clock       Clock               `json:"clock"`
	Clocks      []InputClock        `json:"clocks"`
	Suspects    []location.Suspect  `json:"suspects"`
	Next        []location.Test     `json:"next"`
	Locate      []location.Step     `json:"locate"`
	Measured    draw.Measured       `json:"measured"`
	Line        *line.Result        `json:"line"`
	NotSeen     []string            `json:"not_seen"`
}

// Input is one file and what could be read of it.
type Input struct {
	Path     string    `json:"path"`
	Kind     string    `json:"kind"`
	Records  int       `json:"records"`
	Skipped  int       `json:"skipped"`
	StartS   *float64  `json:"start_s"`
	EndS     *float64  `json:"end_s"`
	Problems []Problem `json:"problems"`
	Notes    []string  `json:"notes"`
}

// Problem is a piece of an input that could not be used.
type Problem struct {
	Line  *int     `json:"line"`
	TimeS *float64 `json:"time_s"`
	Text  string   `json:"text"`
}

// Clock is what must be added to the meter's times to lie on the messages'
// clock; null where the data do not determine it.
type Clock struct {
	OffsetS      *float64  `json:"offset_s"`
	UncertaintyS *float64  `json:"uncertainty_s"`
	Method       string    `json:"method"`
	Matched      []Matched `json:"matched"` // the events that determine it
}

// Matched is one event that both recorders saw, each on its own clock.
type Matched struct {
	MeterS    float64 `json:"meter_s"`
	MessagesS float64 `json:"messages_s"`
	Event     string  `json:"event"`
}

// InputClock is one input's clock against the reference.
type InputClock struct {
	Path         string   `json:"path"`
	OffsetS      *float64 `json:"offset_s"`
	UncertaintyS *float64 `json:"uncertainty_s"`
	RatePPM      *float64 `json:"rate_ppm"` // how much faster the reference runs; null where the steps do not tell it
	Method       string   `json:"method"`

	RateUncertaintyPPM *float64 `json:"rate_uncertainty_ppm"` // standard uncertainty of it
}
