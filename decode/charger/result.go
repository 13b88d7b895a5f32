package charger

import "portside/decode/negotiation"

// Schema names the form of a [Result]. Within one schema fields are only added.
const Schema = "portside/charger/1"

// Outcome is what became of one check.
type Outcome string

// The outcomes.
const (
	Pass        Outcome = "pass"
	Fail        Outcome = "fail"
	NotObserved Outcome = "not-observed"
)

// Verdict is what all checks say together.
type Verdict string

// The verdicts.
const (
	WithinStandard    Verdict = "within-standard"
	OutsideStandard   Verdict = "outside-standard"
	NotEnoughEvidence Verdict = "not-enough-evidence"
)

// Values are quantities by name; a name ends in its unit.
type Values map[string]float64

// Check is one line of the result.
type Check struct {
	Check    string  `json:"check"`
	Result   Outcome `json:"result"`
	Measured Values  `json:"measured"` // the value nearest its limit, or furthest beyond it
	Limit    Values  `json:"limit"`    // the end of the limit that is nearest
	// Uncertainty is a bound: the value fails only when it is outside by more.
	Uncertainty Values   `json:"uncertainty"`
	AtS         *float64 `json:"at_s"`
	Text        string   `json:"text"`
	Source      string   `json:"source"`

	Effect string `json:"-"` // what a failure does to a device
}

// Result is what one recording says about a source and its cable. No list and no
// map is nil.
type Result struct {
	Schema  string              `json:"schema"`
	PDPW    *float64            `json:"pdp_w"` // the maximum PDP stated, else the one the offer implies
	Offers  []negotiation.Offer `json:"offers"`
	Checks  []Check             `json:"checks"`
	Verdict Verdict             `json:"verdict"`
	Summary string              `json:"summary"`
}

// Count gives how many checks had the outcome.
func (r *Result) Count(o Outcome) int {
	n := 0
	for i := range r.Checks {
		if r.Checks[i].Result == o {
			n++
		}
	}
	return n
}
