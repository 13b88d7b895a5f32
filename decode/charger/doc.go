// Package charger holds a source and its cable to the published standard: the
// messages and samples of one recording to about forty checks, each passed, failed
// or not observed, with what was measured, the limit and the uncertainty.
//
// Nothing passes by default. A value fails only when it is outside its limit by
// more than its uncertainty, and what the sink does wrong is never charged to the
// source.
//
// A [Checker] takes the records one at a time in the order of time and keeps
// bounded state. The checks are the rows of one table; each names the standard's
// parameters, what a recording must hold for it, and the clause.
package charger
