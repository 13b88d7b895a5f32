// Package message puts one recorded message into words, into fields with the
// bits they stand in, and into a JSON object.
//
// A [Decoder] reads the messages of one recording in the order of time and gives
// a [Line] for each. A message does not say everything about itself, so the
// decoder remembers; what it remembers is exported, since the negotiation is
// read with the same eyes:
//
//	Offers    what the source has on offer, since a request names a position only
//	Speakers  who speaks, since role bits lie around swaps and in GoodCRC
//	Repeats   what was only said again
//	Chunks    blocks of extended messages under way, in both directions
//
// Two things follow the lines and are not needed for them: [Timing] says which
// time of the standard limits the wait before a message, and [Sequences] what
// messages belong together.
//
// A field is named once, in the function of its object: supply.go, request.go,
// single_object.go, vdm.go and block.go list them with their bits, and JSON,
// words and field tables are all made from that list. A new object is a [Kind],
// its list, and its words in words.go.
//
// The JSON is appended to a buffer and equals what encoding/json writes; a test
// holds that. Nothing on the way from a message to its JSON allocates.
package message
