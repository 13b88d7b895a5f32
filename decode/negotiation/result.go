package negotiation

// Result is what the messages of a recording say about the negotiation. It is
// a snapshot: the tracker can go on after it. Times are seconds on the clock
// of the recording; nil is unknown. No list is nil.
type Result struct {
	AttachS    *float64   `json:"attach_s"`
	Phases     []Phase    `json:"phases"`
	Offers     []Offer    `json:"offers"` // the last offer of the source
	Contracts  []Contract `json:"contracts"`
	HardResets int        `json:"hard_resets"`
	SoftResets int        `json:"soft_resets"`
	LeftOut    int        `json:"left_out"` // entries beyond the 10,000 of each list

	// What the rules need beside the published lists.
	Attempts     []Attempt  `json:"-"` // every try at a contract, in time order
	Resets       []Reset    `json:"-"`
	Mismatches   []Moment   `json:"-"` // Requests with Capability Mismatch set
	SourceSays   Events     `json:"-"` // of itself, in all of its Alerts and its Status
	SinkSays     Events     `json:"-"`
	AskedAgain   int        `json:"-"` // Requests for the fixed contract that stood
	SinkMV       int        `json:"-"` // highest voltage of the last Sink_Capabilities, 0 where none was seen
	Refusals     []Moment   `json:"-"` // Reject or Wait while a contract stood, which stands on
	CRCErrors    CRCErrors  `json:"-"`
	VBUS         []VBUSNote `json:"-"` // VBUS_On and VBUS_Off where a recorder notes them
	Attaches     []float64  `json:"-"`
	Detaches     []float64  `json:"-"`
	FirstS       *float64   `json:"-"`
	LastS        *float64   `json:"-"`
	Messages     int        `json:"-"` // messages on the line, resets and GoodCRC included
	FromSource   int        `json:"-"`
	FromSink     int        `json:"-"`
	GoodCRCs     int        `json:"-"`
	FromCable    int        `json:"-"`
	Malformed    int        `json:"-"` // header and bytes disagree, or a header nobody sends
	BeginsInside bool       `json:"-"` // the recording begins inside a connection
	Software     bool       `json:"-"` // times are software stamps of one side
	ResolutionS  float64    `json:"-"` // coarseness of the time stamps, 0 unknown
	SourceRev    string     `json:"-"` // "2.0", "3.x" or "" where not seen
	CableAnswers CableLimit `json:"-"`
	PPSMissed    []Moment   `json:"-"` // a keep-alive that was due and did not come
}

// Phase is one step of the negotiation, named by what is waited for.
type Phase struct {
	Phase  string   `json:"phase"` // attach, source-capabilities, request, answer, power-ready, contract, hard-reset, soft-reset
	StartS *float64 `json:"start_s"`
	EndS   *float64 `json:"end_s"`
	Late   bool     `json:"late"` // over the standard's limit by more than the stamps' uncertainty
	LimitS *float64 `json:"-"`
	Limit  string   `json:"-"` // the standard's name of the limit, such as tReceiverResponse
}

// Offer is one object of the source's last capabilities.
type Offer struct {
	Position     int    `json:"position"`
	Kind         string `json:"kind"`
	VoltageMV    *int   `json:"voltage_mv"`
	MinVoltageMV *int   `json:"min_voltage_mv"`
	CurrentMA    *int   `json:"current_ma"`
	PowerMW      *int   `json:"power_mw"`
}

// Contract is what source and sink agreed on. StartS is the PS_RDY.
type Contract struct {
	StartS    *float64 `json:"start_s"`
	EndS      *float64 `json:"end_s"`    // nil while it stands at the end of the recording
	Kind      string   `json:"kind"`     // fixed, variable, battery, pps, spr-avs, epr-avs or unknown
	Position  int      `json:"position"` // 0 where no Request was seen
	VoltageMV *int     `json:"voltage_mv"`
	CurrentMA *int     `json:"current_ma"`
	Mismatch  bool     `json:"-"`
	EndedBy   string   `json:"-"` // "", hard-reset, soft-reset, detach, vbus-off, new-contract, role-swap, restart
	Implied   bool     `json:"-"` // the recording begins inside it, or its Request was not recorded
	Unheard   bool     `json:"-"` // its PS_RDY was said again, or is known not to have been acknowledged
	AcceptS   *float64 `json:"-"` // end of the Accept, or of its GoodCRC; nil where it was not seen

	// A variable or battery object has limits in place of a voltage.
	MinVoltageMV *int `json:"-"`
	MaxVoltageMV *int `json:"-"`
	PowerMW      *int `json:"-"` // a battery object is asked for by power
}

// Step is the first step that an attempt lacked.
type Step uint8

// Steps of an attempt at a contract, in order.
const (
	StepUnknown      Step = iota
	StepCapabilities      // the source never offered
	StepAcknowledge       // the offer was never acknowledged
	StepRequest           // acknowledged, but no Request came
	StepBegunAnew         // the sink answers the offer with a Soft_Reset
	StepAnswer            // no answer to the Request
	StepRefused           // Reject or Wait, and no contract
	StepAnswerHeard       // Accept, and the sink never acknowledged it, or waited on for it
	StepCutShort          // Accept, and a Hard Reset before PS_RDY was due
	StepPowerReady        // Accept, but no PS_RDY
	StepDone              // a contract was made
	StepLeft              // ended by the end of the recording before anything was due
)

// Attempt is one try at a contract.
type Attempt struct {
	StartS, EndS float64
	Missing      Step
	DueS         *float64 // when the missing step was due at the latest
	Offers       int      // Source_Capabilities sent in it
	OfferMV      int      // highest fixed voltage offered
	OfferMW      int      // highest power offered
	RequestMV    int      // 0 where not known
	RequestMA    int
	RequestAt    int   // position of the object asked for, 0 where there was no Request
	Heard        Heard // whether the source acknowledged the last Request
	AnswerHeard  Heard // whether the sink acknowledged the Accept
	Interrupted  bool  // the sink spoke between Accept and PS_RDY
	SaidBefore   bool  // the last Request has the MessageID of the sink's message before it, which makes it a repeat
	Waited       bool  // the last Request was answered with Wait
	Mismatch     bool
	EndedBy      string // "", hard-reset, soft-reset, detach, vbus-off, end-of-recording, new-offer, new-request, role-swap
	Beginning    bool   // the recording begins inside it: nothing before is known
}

// Heard is what a recording shows of a message's GoodCRC.
type Heard uint8

// A recorder that shows no GoodCRC leaves it unknown.
const (
	HeardUnknown Heard = iota
	Acknowledged
	Unacknowledged
)

// Reset is a Hard Reset, Soft_Reset or Cable Reset.
type Reset struct {
	TimeS float64
	Hard  bool
	Cable bool   // a Cable Reset
	By    string // source, sink or ""
	Cause string // "", no-capabilities, no-request, no-answer, no-power-ready, soft-reset-failed
}

// Moment is one message worth naming by its time.
type Moment struct{ TimeS float64 }

// CRCErrors counts bad CRCs and missing acknowledgements by who was speaking.
type CRCErrors struct {
	Source, Sink, Cable                      int // Cable: to or from the cable
	UnacknowledgedSource, UnacknowledgedSink int
	RepeatedSource, RepeatedSink             int // messages said again for want of a GoodCRC, offers apart
	UnheardSource                            int // source messages said again though the recorder heard their GoodCRC
	Misread                                  int // of these, the ones whose GoodCRC followed: only the recorder heard them badly
	FirstS, LastS                            float64
}

// VBUSNote is VBUS coming or going as the message recorder saw it.
type VBUSNote struct {
	TimeS float64
	On    bool
}

// CableLimit is what the cable said of itself.
type CableLimit struct {
	Asked, Answered bool
	CurrentMA       int // 0 unknown
}
