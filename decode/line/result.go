package line

import (
	"slices"
	"time"
)

// Result is how healthy the line is, over the recording so far. It is a
// snapshot. Nil is unknown; no list is nil.
type Result struct {
	Frames         int      `json:"frames"`         // packets and resets read right
	BitRateHz      *float64 `json:"bit_rate_hz"`    // mean
	DriftPercent   *float64 `json:"drift_percent"`  // largest within a packet
	JitterUS       *float64 `json:"jitter_us"`      // standard deviation of edges
	DutyPercent    *float64 `json:"duty_percent"`   // mean share of high in an even pattern
	PreambleBits   *int     `json:"preamble_bits"`  // of the frame that shows fewest
	GapUS          *float64 `json:"gap_us"`         // smallest between frames
	CRCErrors      ByPort   `json:"crc_errors"`     // broken frames by who sent them
	Unacknowledged ByPort   `json:"unacknowledged"` // by who sent them
	Levels         Levels   `json:"levels"`
	Rp             *string  `json:"rp"` // default, 1.5A or 3A, by the level at rest before the first frame
	Rd             *string  `json:"rd"` // one, both or none; unknown where one pin was recorded only

	// DriftUncertaintyPercent is the standard uncertainty of a frame's drift; of
	// many frames the largest drift is some three of them even on a steady clock.
	DriftUncertaintyPercent *float64 `json:"drift_uncertainty_percent"`

	// GridUS is the step in which the recorder stamped levels, where it is coarse, and
	// GridJitterUS what that alone adds to the jitter.
	GridUS       *float64 `json:"grid_us"`
	GridJitterUS *float64 `json:"grid_jitter_us"`

	Limits   Limits    `json:"limits"`
	Speakers []Speaker `json:"speakers"` // those that were heard
	Lines    []Line    `json:"lines"`    // every line that was looked at

	Broken           int     `json:"broken"`             // frames that nobody can use; cut short ones are none
	CutShort         int     `json:"cut_short"`          // as before a Hard Reset, or at the end of the recording
	CRCErrorsUnknown int     `json:"crc_errors_unknown"` // of the broken: who sent them is unknown
	HardResets       int     `json:"hard_resets"`
	CableResets      int     `json:"cable_resets"`
	Carriers         int     `json:"carriers"`       // stretches of BIST carrier
	GarbledAcks      int     `json:"garbled_acks"`   // a broken frame where a GoodCRC was due
	SilentPort       *string `json:"silent_port"`    // source or sink: nothing was heard of it while the other spoke
	OffersInVain     int     `json:"offers_in_vain"` // Source_Capabilities that nobody acknowledged
}

// ByPort counts by the port that sent.
type ByPort struct {
	Source int `json:"source"`
	Sink   int `json:"sink"`
}

// Levels are voltages of the line; nil where no volts were recorded.
type Levels struct {
	HighV *float64 `json:"high_v"`
	LowV  *float64 `json:"low_v"`
	RestV *float64 `json:"rest_v"` // between frames, most of the time
}

// Limits are the standard's numbers beside the measured ones (USB PD R3.2
// V1.1, tables 5.17 to 5.19 and 6.68).
type Limits struct {
	BitRateHz    [2]float64 `json:"bit_rate_hz"`
	DriftPercent float64    `json:"drift_percent"` // at most
	EdgeUS       float64    `json:"edge_us"`       // an edge may lie wrong by at most this at the receiver, at 300 kbit/s
	PreambleBits int        `json:"preamble_bits"` // sent; the first may be lost
	GapUS        float64    `json:"gap_us"`        // at least
	GoodCRCUS    float64    `json:"goodcrc_us"`    // at most
	SwingV       [2]float64 `json:"swing_v"`
	Retries      int        `json:"retries"` // at most, of one message
}

// Speaker is one who speaks on the line.
type Speaker struct {
	Who            string   `json:"who"` // source, sink or cable
	Frames         int      `json:"frames"`
	BitRateHz      Spread   `json:"bit_rate_hz"`
	DriftPercent   *float64 `json:"drift_percent"`
	JitterUS       *float64 `json:"jitter_us"`
	DutyPercent    *float64 `json:"duty_percent"`
	PreambleBits   int      `json:"preamble_bits"`
	HighV          *float64 `json:"high_v"`
	LowV           *float64 `json:"low_v"`
	SwingV         *float64 `json:"swing_v"`
	GoodCRCUS      *Spread  `json:"goodcrc_us"` // end of the other's message to its GoodCRC
	Retries        int      `json:"retries"`    // messages sent again
	MostRetries    int      `json:"most_retries"`
	CRCErrors      int      `json:"crc_errors"`
	Unacknowledged int      `json:"unacknowledged"`
}

// Spread is a measured quantity over many frames.
type Spread struct {
	Mean float64 `json:"mean"`
	Min  float64 `json:"min"`
	Max  float64 `json:"max"`
}

// Line is one line that was recorded.
type Line struct {
	Name      string   `json:"name"`
	Frames    int      `json:"frames"`
	Edges     int      `json:"edges"` // spikes are none
	StartS    float64  `json:"-"`     // its first sample
	SeenS     float64  `json:"seen_s"`
	HighShare *float64 `json:"high_share"` // of the time, as a logic level; nil for a line in volts
	Stuck     *string  `json:"stuck"`      // low or high where it never moved
	RestV     *float64 `json:"rest_v"`     // most of the time
	Rests     []Rest   `json:"rests"`      // how long it rested where
	Rd        *bool    `json:"rd"`         // a sink pulls this line down; nil where its rest does not tell
}

// Rest is a range of resting levels and how long the line was there.
type Rest struct {
	Level string  `json:"level"` // as pd.CCMeaning has it: open, default, 1.5 A, 3.0 A, too close to call, outside every level
	S     float64 `json:"s"`
}

// Moved is the result on a clock that reads more by so much.
func (r *Result) Moved(by time.Duration) *Result {
	out := *r
	out.Lines = slices.Clone(r.Lines)
	for i := range out.Lines {
		out.Lines[i].StartS += by.Seconds()
	}
	return &out
}
