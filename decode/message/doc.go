// Package message puts one recorded message into words and into a JSON object.
//
// A request does not say what kind of supply it asks for, so a [Decoder] keeps
// the last capabilities of the source. What it keeps is exported, since the
// negotiation is read with the same eyes: [Offers] for what is on offer,
// [Speakers] for who speaks, [Repeats] for what was only said again.
//
// Further kinds of objects go into kind.go and object.go; the assembly of
// chunked messages other than EPR_Source_Capabilities belongs beside offers.go.
package message
