package negotiation

import "portside/captures"

// Options of a [Tracker]; the zero value is the usual one.
type Options struct{}

// Tracker follows the negotiation message by message.
type Tracker struct{}

// New returns a tracker for one recording.
func New(Options) *Tracker { return &Tracker{} }

// Add takes the next message in the order of time.
func (t *Tracker) Add(m *captures.Message) {}

// Result is what the messages so far say.
func (t *Tracker) Result() *Result { return &Result{} }
