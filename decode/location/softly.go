package location

import "fmt"

// Who starts the talk anew in a contract that stands.
const (
	talksOn       = "talks-on"
	sinkAnew      = "sink-begins-anew"
	softResetSeen = 3 // Soft Resets of the sink, for it to be a habit: common practice

	askedAgainSeen = 8 // Requests for a fixed contract that stands: common practice
)

// softlyTopic: a Soft_Reset follows a message that got lost or made no sense, or a
// controller that starts anew.
func softlyTopic() topic {
	return topic{name: "soft resets", cap: recordingCap, rows: []row{
		{talksOn, "no Soft_Reset of the sink again and again", 99.2, like{controller: 86, supply: 86, ccContact: 93, cable: 97, source: 97.5, healthyPart: 99.5}, "a sound talk needs none", "USB PD R3.2 V1.1 section 6.3.13"},
		{sinkAnew, "the sink resets the talk again and again", 0.8, like{controller: 14, supply: 14, ccContact: 7, cable: 3, source: 2.5, healthyPart: 0.5}, "its controller starts anew, or does not understand the answers", "USB PD R3.2 V1.1 section 6.3.13; " + practice},
	}}
}

// beginsAnew reports a sink that resets the talk again and again.
func (p picture) beginsAnew() string {
	n := p.Facts.Negotiation
	if n == nil || len(n.Contracts) == 0 { // else it asks for the answer that it did not get
		return ""
	}
	if n.AskedAgain >= askedAgainSeen {
		return fmt.Sprintf("the sink asks %d times more for the contract that stands", n.AskedAgain)
	}
	count, first := 0, 0.0
	for _, r := range n.Resets {
		if !r.Hard && !r.Cable && r.By == "sink" {
			if count == 0 {
				first = r.TimeS
			}
			count++
		}
	}
	if count < softResetSeen {
		return ""
	}
	return fmt.Sprintf("the sink sends %d Soft_Resets, first at %.2f s", count, first)
}
