// Package negotiation follows how source and sink come to a contract: attach,
// offers, requests, answers, contracts and what ends them.
//
// A [Tracker] takes the messages of one recording one at a time and keeps
// bounded state. It judges nothing beyond the standard's time limits, and those
// only where the stamps carry it; what a missing step means is decided by the
// rules above it. What was not recorded is unknown and never missing.
package negotiation
