package draw

// Result is what the samples of one meter log say about the draw. It is a
// snapshot: the analyser can go on after it. All times are seconds on the
// clock of the recording. No list is nil.
type Result struct {
	Plateaus   []Plateau   `json:"plateaus"`
	Spikes     []Spike     `json:"spikes"`
	Staircases []Staircase `json:"staircases"`
	Pulses     []Pulses    `json:"pulses"`
	Tapers     []Taper     `json:"tapers"`
	EnergyWh   *float64    `json:"energy_wh"` // null without both voltage and current
	Profile    []Profile   `json:"profile"`
	Load       Load        `json:"load"`
	Peak       *Peak       `json:"peak"`     // of the largest inrush; null without one
	LeftOut    int         `json:"left_out"` // entries beyond the 10,000 of each list

	// What the rules need beside the published lists.
	Levels      []Level      `json:"-"` // runs of one VBUS level, in time order
	Collapses   []Collapse   `json:"-"`
	Slides      []Slide      `json:"-"`
	Dips        []Dip        `json:"-"`
	Refills     []Refill     `json:"-"`
	Gulps       []Gulp       `json:"-"`
	Fades       []Taper      `json:"-"` // tapers shorter than any charge's, in time order
	RunOuts     []RunOut     `json:"-"`
	Drains      []Drain      `json:"-"`
	Recurs      []Recurrence `json:"-"`
	Hunts       []Hunt       `json:"-"`
	Follows     []Follow     `json:"-"`
	Recovers    []Recovery   `json:"-"`
	Bounces     []Bounce     `json:"-"`
	Ebbs        []Ebb        `json:"-"`
	Steers      []Steer      `json:"-"` // none where they do not tell a supply that is steered
	Hum         *Hum         `json:"-"` // nil where none was seen
	Gaps        []Gap        `json:"-"`
	Rises       []Rise       `json:"-"` // inrush: short charge pulses above the draw on each side
	Trace       []Bin        `json:"-"` // minimum and maximum over time, for pictures
	Sampling    Sampling     `json:"-"`
	Measured    Measured     `json:"-"`
	Figures     *Figures     `json:"-"` // nil where no row has both quantities
	Cold        ColdTries    `json:"-"` // into a VBUS that does not come up
	FromZero    FromZero     `json:"-"`
	Rejoins     Rejoins      `json:"-"`
	Twitches    Twitches     `json:"-"`
	Oscillation *Oscillation `json:"-"` // nil where the draw has none
	CC          CC           `json:"-"` // of a log that has the CC pins
	Turned      bool         `json:"-"` // the meter was turned round; currents here have the sign put right
	Fitted      int          `json:"-"` // samples with both quantities
}

// Plateau is a run of steady draw.
type Plateau struct {
	StartS   float64  `json:"start_s"`
	EndS     float64  `json:"end_s"`
	VoltageV *float64 `json:"voltage_v"`
	CurrentA *float64 `json:"current_a"`
	N        int      `json:"-"` // samples
	VoltsSD  float64  `json:"-"`
	AmpsSD   float64  `json:"-"`
}

// Spike is a short excursion of the current, down to a single sample.
type Spike struct {
	TimeS     float64 `json:"time_s"`
	PeakA     float64 `json:"peak_a"`
	BaselineA float64 `json:"baseline_a"`
	DurationS float64 `json:"duration_s"` // of the samples above half height
	VoltageV  float64 `json:"-"`
}

// Staircase is a draw that climbs in steps.
type Staircase struct {
	StartS    float64  `json:"start_s"`
	EndS      float64  `json:"end_s"`
	Steps     int      `json:"steps"`
	StepA     float64  `json:"step_a"`
	Resets    int      `json:"resets"`   // times it collapsed and began again
	PeriodS   *float64 `json:"period_s"` // of the collapses, null with fewer than two
	DwellS    float64  `json:"-"`
	TopA      float64  `json:"-"` // the highest current reached
	SettledA  *float64 `json:"-"` // the level it stayed at; nil where it collapsed or the recording ends on it
	VoltsSag  float64  `json:"-"` // VBUS lost between foot and top
	Collapsed bool     `json:"-"` // the last climb ended in a drop
}

// Pulses is a train of retries: short draws with rest between them.
type Pulses struct {
	StartS   float64  `json:"start_s"`
	EndS     float64  `json:"end_s"`
	Count    int      `json:"count"`
	PeriodS  *float64 `json:"period_s"` // null where the sampling cannot hold it
	OnS      *float64 `json:"on_s"`
	PeakA    float64  `json:"peak_a"`
	PeriodU  *float64 `json:"-"` // standard uncertainty of the period
	SeenS    *float64 `json:"-"` // from one that was seen to the next: the period, or where it is null perhaps twice the period
	RestA    float64  `json:"-"` // draw between the pulses
	VoltageV float64  `json:"-"` // VBUS level they stand on
	MinV     float64  `json:"-"` // lowest VBUS during a pulse
	WithVBUS bool     `json:"-"` // VBUS itself goes away between the pulses
	Quiet    bool     `json:"-"` // the train ended and nothing followed
}

// Taper is a draw that falls like the constant-voltage phase of a charge.
type Taper struct {
	StartS float64  `json:"start_s"`
	EndS   float64  `json:"end_s"`
	TauS   *float64 `json:"tau_s"`
	TauU   *float64 `json:"-"`
	FromA  float64  `json:"-"`
	ToA    float64  `json:"-"`
}

// Profile is one phase of a battery's charge.
type Profile struct {
	Phase  string  `json:"phase"` // precharge, constant-current, constant-voltage, full
	StartS float64 `json:"start_s"`
	EndS   float64 `json:"end_s"`
}

// Level is a run of samples whose VBUS stands at one nominal voltage.
type Level struct {
	StartS, EndS float64
	VoltageV     float64 // mean
	MinV, MaxV   float64
	NominalV     float64 // 0 (off), 5, 9, 15, 20, 28, 36, 48, or 0.1 V steps where none fits
	MeanA, MaxA  float64
	ChargeC      float64
	N            int
	SpreadV      float64 // standard deviation of the rows
	FallsV       float64 // the most that VBUS lies below what it was before, the last row left out
}

// Collapse is VBUS falling away without a new contract explaining it.
type Collapse struct {
	TimeS      float64
	FromV, ToV float64
	AtA        float64  // current just before
	BackS      *float64 // time until VBUS was back, nil if it never was
	HeldV      float64  // VBUS and current where a load held VBUS down: the load is a short
	HeldA      float64  // 0 where none was seen to
}

// Gap is a stretch without samples, or without one quantity.
type Gap struct{ StartS, EndS float64 }

// Rise is a short charge pulse, such as capacitors filling.
type Rise struct {
	TimeS, ChargeC, PeakA float64
	ChargeU               float64
	FromV, ToV            float64
	BaseA                 float64 // draw on top of which it flows, the larger of both sides
	Rows                  int     // with charge in them
	late                  bool    // the most of it stands in a row at which VBUS has arrived
}

// Peak is what a recording says of the largest current of an inrush, which is
// shorter than most meters see.
type Peak struct {
	TimeS   float64  `json:"time_s"`
	LeastA  float64  `json:"at_least_a"`
	MostA   *float64 `json:"at_most_a"` // of a contract's step, filled as VBUS rises (vSrcSlewPos); null where nothing limits it
	Samples *string  `json:"samples"`   // what the edges of the draw show the rows to be, "means" or "instants"; null where they do not tell
}

// Bin is the extent of the samples over one stretch of time. NaN where the
// stretch holds none.
type Bin struct {
	StartS, EndS           float64
	MinV, MaxV, MinA, MaxA float64
	N                      int
}

// Sampling is what the log can and cannot show.
type Sampling struct {
	N                        int
	StartS, EndS             float64
	IntervalS                float64 // median distance of samples, 0 with fewer than two
	JitterS                  float64 // median absolute deviation of it
	NoiseV, NoiseA           float64 // standard deviation, from first differences, floored by resolution
	ResolutionV, ResolutionA float64 // smallest step seen, 0 unknown
	Averaging                *bool   // samples are means over the interval; nil unknown
	WithVoltage, WithCurrent int     // samples that carry it
	MaxV, MinV, MaxA, MinA   float64
}

// Quantity is a measured value with its standard uncertainty.
type Quantity struct {
	Value       float64  `json:"value"`
	Uncertainty *float64 `json:"uncertainty"`
	AtS         *float64 `json:"at_s"`
}

// Measured holds the quantities every diagnosis names; nil is unknown.
type Measured struct {
	SeriesResistanceOhm *Quantity `json:"series_resistance_ohm"`
	LoadExponent        *Quantity `json:"load_exponent"`
	LeakResistanceOhm   *Quantity `json:"leak_resistance_ohm"`
	RetryPeriodS        *Quantity `json:"retry_period_s"`
	TaperTauS           *Quantity `json:"taper_tau_s"`
	InrushChargeC       *Quantity `json:"inrush_charge_c"`
}
