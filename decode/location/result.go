package location

import (
	"portside/decode/rules"
)

// Result is where the fault lies, how sure that is, and what to do next.
type Result struct {
	Verdict  Verdict
	Suspects []Suspect
	Next     []Test
	Locate   []Step
	NotSeen  []string // what the model itself could not tell, such as a large unknown share
}

// Verdict is the sum over the fault classes of each location.
type Verdict struct {
	Location    rules.Location             `json:"location"`
	Probability float64                    `json:"probability"`
	Locations   map[rules.Location]float64 `json:"locations"` // all four; adds up to 1
	Open        []rules.Location           `json:"open"`      // 0.05 or more, largest first
	Excluded    []Excluded                 `json:"excluded"`
	Summary     string                     `json:"summary"`
	WouldChange []Change                   `json:"would_change"` // readings that would change a named location
}

// Excluded is a location that the evidence rules out.
type Excluded struct {
	Location rules.Location `json:"location"`
	Why      string         `json:"why"`
}

// Suspect is a part that may have failed.
type Suspect struct {
	Part        string          `json:"part"`
	Location    *rules.Location `json:"location"` // nil for unknown
	Probability float64         `json:"probability"`
	Why         string          `json:"why"`
	Confirm     string          `json:"confirm"`
}

// Test is a measurement that would move the verdict.
type Test struct {
	Test     string                    `json:"test"`
	Reading  *string                   `json:"reading"`
	GainBits float64                   `json:"gain_bits"`
	Minutes  float64                   `json:"minutes"`
	Expect   map[rules.Location]string `json:"expect"`
	Caution  *string                   `json:"caution"`
}

// Step is one step from the verdict to the part.
type Step struct {
	Step    string             `json:"step"`
	Reading *string            `json:"reading"`
	Minutes float64            `json:"minutes"`
	Expect  string             `json:"expect"`
	Limits  map[string]float64 `json:"limits"`
	Caution *string            `json:"caution"`
}
