package pd

import (
	"fmt"
	"strings"
)

// Violation is one rule of the standard that a message or an object breaks.
type Violation struct {
	Rule   Rule   // which rule
	Object int    // the data object at fault, from 1; 0 where it is not one of several
	Bits   uint32 // the bits at fault, in place in their word; 0 where the rule is about values
	Clause string // document and clause, as "USB PD R3.2 V1.1, table 6.9"
}

// String says what is wrong and by which clause: "object 2: reserved bits are set,
// 0x00400000 (USB PD R3.2 V1.1, table 6.9)".
func (v Violation) String() string {
	var b strings.Builder
	if v.Object > 0 {
		fmt.Fprintf(&b, "object %d: ", v.Object)
	}
	b.WriteString(v.Rule.String())
	if v.Bits != 0 {
		fmt.Fprintf(&b, ", 0x%08X", v.Bits)
	}
	fmt.Fprintf(&b, " (%s)", v.Clause)
	return b.String()
}

// Rule is a kind of violation. The zero value is none.
type Rule uint8

// The rules. The clause is with each violation, since several tables share a rule.
const (
	RuleLength         Rule = iota + 1 // header and bytes disagree on the length
	RuleReservedType                   // the message type is reserved
	RuleNotInRevision                  // the revision has no such message or object
	RuleDeprecated                     // the message or field is deprecated
	RuleReservedBits                   // reserved bits are set
	RuleReservedCode                   // a field holds a code without a meaning
	RuleCable                          // not a message for cable plugs
	RuleSender                         // not a message of the sender's role
	RuleMessageID                      // a Soft_Reset with a MessageID other than 0
	RuleObjectCount                    // a number of objects the message cannot have
	RuleDataSize                       // a size the data block cannot have
	RuleChunk                          // chunk fields that contradict each other
	RulePadding                        // padding that is not zero
	RuleFirstObject                    // the first object is not fixed 5 V
	RuleFirstObjectBit                 // bits that only the first object may set
	RuleOrder                          // objects out of order
	RuleRepeated                       // two objects of one kind and voltage
	RuleEPRPosition                    // an EPR object in positions 1 to 7
	RuleSPRPosition                    // an SPR object from position 8 on
	RuleOneEPRAVS                      // not exactly one EPR AVS object, at the end
	RuleVoltage                        // a voltage the kind of object cannot have
	RuleVoltageRange                   // minimum above maximum voltage
	RuleVoltageSpread                  // minimum below 80 % of maximum voltage
	RuleCurrent                        // more than 5 A
	RulePosition                       // a position that no object has
	RuleRequestVoltage                 // a voltage outside the offer
	RuleRequestCurrent                 // a current above the offer
	RuleRequestPower                   // a power above the offer
	RuleMaximumField                   // maximum and operating value differ
	RuleVoltageStep                    // a voltage between the steps of 100 mV
	RuleCopy                           // the copy is not the object asked for
	RuleUnusedData                     // data where there is none
	RuleSVID                           // a command with an SVID that is not its own
	RuleCommandType                    // a command type the command cannot have
	RuleVDMPosition                    // an object position the command cannot have
	RuleText                           // a text that is too long or without its end
	ruleCount
)

var ruleTexts = [ruleCount]string{
	RuleLength:         "header and bytes disagree on the length",
	RuleReservedType:   "reserved message type",
	RuleNotInRevision:  "not in this revision",
	RuleDeprecated:     "deprecated",
	RuleReservedBits:   "reserved bits are set",
	RuleReservedCode:   "reserved code",
	RuleCable:          "not a message for cable plugs",
	RuleSender:         "not a message of the sender's role",
	RuleMessageID:      "Soft_Reset with a MessageID other than 0",
	RuleObjectCount:    "wrong number of data objects",
	RuleDataSize:       "wrong size of the data block",
	RuleChunk:          "chunk fields contradict each other",
	RulePadding:        "padding is not zero",
	RuleFirstObject:    "the first object is not fixed 5 V",
	RuleFirstObjectBit: "bits are set that only the first object has",
	RuleOrder:          "objects out of order",
	RuleRepeated:       "same kind and voltage as the object before",
	RuleEPRPosition:    "EPR object in positions 1 to 7",
	RuleSPRPosition:    "SPR object from position 8 on",
	RuleOneEPRAVS:      "not exactly one EPR AVS object at the end",
	RuleVoltage:        "voltage that the kind of object cannot have",
	RuleVoltageRange:   "minimum above maximum voltage",
	RuleVoltageSpread:  "minimum below 80 % of maximum voltage",
	RuleCurrent:        "more than 5 A",
	RulePosition:       "position that no object has",
	RuleRequestVoltage: "voltage outside the offer",
	RuleRequestCurrent: "current above the offer",
	RuleRequestPower:   "power above the offer",
	RuleMaximumField:   "maximum differs from operating value",
	RuleVoltageStep:    "voltage is no multiple of 100 mV",
	RuleCopy:           "the copy is not the object asked for",
	RuleUnusedData:     "data where there is none",
	RuleSVID:           "SVID does not belong to the command",
	RuleCommandType:    "command type does not belong to the command",
	RuleVDMPosition:    "object position does not belong to the command",
	RuleText:           "text is too long or has no end",
}

// String says the rule's violation in words.
func (r Rule) String() string {
	if r == 0 || r >= ruleCount {
		return "unknown rule"
	}
	return ruleTexts[r]
}

// The documents that clauses name.
const (
	by32       = title32 + ", "
	by30       = title30
	byMemory20 = "USB PD R2.0, " + titleMemory
)

// checker collects what is broken. One that finds nothing needs no memory.
type checker struct {
	revision Revision
	object   int // of the data object at hand, from 1; 0 outside
	found    []Violation
}

func (c *checker) add(rule Rule, bits uint32, clause string) {
	c.found = append(c.found, Violation{Rule: rule, Object: c.object, Bits: bits, Clause: clause})
}

// unless adds a violation where the rule does not hold.
func (c *checker) unless(holds bool, rule Rule, clause string) {
	if !holds {
		c.add(rule, 0, clause)
	}
}

// zero adds a violation where reserved bits are set.
func (c *checker) zero(w, mask uint32, clause string) {
	if w&mask != 0 {
		c.add(RuleReservedBits, w&mask, clause)
	}
}

// code adds a violation where bits hi to lo hold more than the last code with a meaning.
func (c *checker) code(w uint32, hi, lo uint, last int, clause string) {
	if v := bits(w, hi, lo); v > last {
		c.add(RuleReservedCode, put(v, hi, lo), clause)
	}
}

// from reports that the pair is surely at the revision or a later one: where only a
// header's 3.x is known, no rule applies that one of the R3 lacks.
func (c *checker) from(least Revision) bool {
	earliest, _ := c.revision.span()
	return earliest >= least.rank()
}

// upTo reports that the pair is surely at the revision or an earlier one.
func (c *checker) upTo(most Revision) bool {
	_, latest := c.revision.span()
	return latest <= most.rank()
}
