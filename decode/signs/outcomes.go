package signs

// Seen is what was seen of a question: the chance to see it under each outcome
// that may be true. An outcome that is not named had no chance.
type Seen map[string]float64

// Exactly is an outcome that was seen as it is.
func Exactly(outcome string) Seen { return Seen{outcome: 1} }

// How far a power-up may come.
const (
	NoVBUS        = "no-vbus"
	LostOnTheWay  = "vbus-lost-on-the-way"
	ShortBefore   = "vbus-twitches-and-nothing-flows"
	NoOffer       = "no-offer"
	DeafSource    = "deaf-source"
	ComesAndGoes  = "5v-comes-and-goes"
	GoesAtOnce    = "5v-goes-at-once"
	Unanswered    = "unanswered"
	NoRequest     = "no-request"
	BegunAnew     = "soft-reset-in-place-of-a-request"
	Refused       = "refused"
	WronglyAsked  = "wrongly-asked"
	Misnumbered   = "request-misnumbered"
	UnheardAsked  = "request-unheard"
	DeafToAsked   = "requests-unheard"
	UnheardSink   = "sink-unheard"
	NoAnswer      = "no-answer"
	LateAnswer    = "late-answer"
	AnswerUnheard = "answer-unheard"
	CutPulled     = "cut-short-and-pulled-down"
	CutFed        = "cut-short-and-loaded-late-at-5v"
	CutLoaded     = "cut-short-and-loaded-from-the-start"
	CutBySink     = "cut-short-by-the-sink"
	CutIdle       = "cut-short-and-nothing-drawn"
	CutThere      = "cut-short-at-the-voltage"
	ReadyUnheard  = "power-ready-unheard"
	NoPowerReady  = "no-power-ready"
	UpAndLetGo    = "up-and-let-go"
	Contract5V    = "contract-at-5v"
	ContractHigh  = "contract-above-5v"
	ContractLost  = "contract-lost"
	ContractAnew  = "contract-made-anew"
	AsksCable     = "asks-the-cable-alone"
	AsksInVain    = "asks-the-cable-in-vain"
)

// Patterns of the draw.
const (
	DrawNone         = "none"
	DrawStandby      = "standby"
	DrawLight        = "light"
	DrawFast         = "pulses-fast"
	DrawCharger      = "pulses-charger"
	DrawSlow         = "pulses-slow"
	DrawDrops        = "drops"
	DrawOnOff        = "on-and-off"
	DrawInUse        = "works-now-and-then"
	DrawLosesAll     = "stops-with-all-that-is-fed"
	DrawCycles       = "begins-anew"
	DrawBeats        = "beats"
	DrawCuts         = "is-cut-off"
	DrawPauses       = "pauses"
	DrawStages       = "climbs-by-stages"
	DrawRefills      = "cut-off-and-refilled"
	DrawBreaks       = "breaks-off-for-moments"
	DrawBounces      = "bounces"
	DrawBouncesFed   = "bounces-and-feeds-the-controller"
	DrawEnds         = "stops-for-good"
	DrawHolds        = "stops-and-stays-alive"
	DrawWakes        = "wakes"
	DrawGivesUp      = "starts-and-gives-up"
	DrawRunsAway     = "runs-away"
	DrawStairsFall   = "staircase-falls"
	DrawStairsSettle = "staircase-settles"
	DrawWorking      = "working"
	DrawAtLimit      = "at-limit"
	DrawLeap         = "leap"
	DrawTaper        = "taper"
	DrawPrecharge    = "precharge"
	DrawOver         = "over-contract"
	DrawStarved      = "starved"
)

// What a meter may show while VBUS never comes up.
const (
	OffQuiet = "quiet"
	OffTicks = "ticks"
)

// What VBUS and the kind of load may say, and the line.
const (
	SeriesSound    = "sound"
	SeriesHigh     = "high"
	SeriesFar      = "far-too-high"
	SeriesCarries  = "far-too-high-and-carries"
	SeriesExtreme  = "extreme"
	SeriesUnsteady = "unsteady"
	SeriesRejoins  = "opens-before-the-meter"

	WindowInside  = "inside"
	WindowLow     = "low"
	WindowSunk    = "sunk"
	WindowElse    = "not-the-agreed"
	WindowSlides  = "slides"
	WindowHigh    = "high"
	WindowRaised  = "raised"
	WindowOdd     = "odd"
	WindowOddIdle = "odd-and-idle"
	WindowBeyond  = "beyond-programmable"
	WindowSwings  = "swings"
	WindowHums    = "swings-with-the-mains"

	LoadResistive = "resistive"
	LoadMixed     = "mixed"
	LoadConverter = "converter"

	LineClean  = "clean"
	LineSource = "source-damaged"
	LineSink   = "sink-damaged"
	LineHeavy  = "mostly-damaged"

	LineSourceOnly = "source-alone-damaged"
	LineSinkOnly   = "sink-alone-damaged"

	InrushNormal = "normal"
	InrushExcess = "excess"

	CCSound  = "sound"
	CCHigh   = "stuck-high"
	CCLow    = "stuck-low"
	CCNoRd   = "rd-missing"
	CCBothRd = "rd-on-both"
	CCBadRp  = "rp-wrong"
	CCHeld   = "held-down"
	CCShorts = "falls-to-nothing"
	CCJoined = "joined"
	CCRides  = "rides"
	CCDead   = "nothing-on-it"
	CCWaits  = "waits-for-vbus"
	CCSeeks  = "seeks-a-source"
)

// What flows at 5 V before there is a contract.
const (
	EarlyNone   = "none"
	EarlyLittle = "little"
	EarlySome   = "some"
	EarlyMuch   = "much"
)

// What flows while VBUS has fallen.
const (
	HeldShort = "held-down"
	HeldCold  = "never-comes-up"
	HeldLate  = "held-after-a-while"
	LetGo     = "let-go"
)

// How a power-up that comes to stand begins.
const (
	StartSmooth = "smooth"
	StartRough  = "rough"
	StartLate   = "late"
)

// How a contract that stands now was kept.
const (
	KeptOn      = "kept"
	LostOnce    = "lost-once"
	LostAtFirst = "lost-at-first"
	LostMore    = "lost-more"
	LostDraw    = "lost-at-one-draw"
)

// How long a working draw holds.
const (
	Holds    = "holds"
	BreaksUp = "breaks-down"
)
