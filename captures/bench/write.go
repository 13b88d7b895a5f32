package bench

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"portside/captures"
)

// WriteMeterCSV writes the meter's log: time_s, voltage_V, current_A, with as
// many digits as the meter resolves.
func (r *Run) WriteMeterCSV(w io.Writer) error {
	out := bufio.NewWriter(w)
	volts, amps := digits(r.Scenario.Parameters.MeterStepV), digits(r.Scenario.Parameters.MeterStepA)
	fmt.Fprintln(out, "time_s,voltage_V,current_A")
	for i := range r.Rows {
		s := &r.Rows[i]
		fmt.Fprintf(out, "%.4f,%.*f,%.*f\n", s.At.Seconds(), volts, s.Volts, amps, s.Amps)
	}
	return out.Flush()
}

// digits is how many decimals a resolution needs.
func digits(step float64) int {
	return max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
}

// WriteMessagesCSV writes the list of messages: time_s, end_s, sop, bytes and,
// where the recorder keeps it, crc.
func (r *Run) WriteMessagesCSV(w io.Writer) error {
	out := bufio.NewWriter(w)
	withCRC := r.Scenario.Parameters.MessageCRC
	fmt.Fprint(out, "time_s,end_s,sop,bytes")
	if withCRC {
		fmt.Fprint(out, ",crc")
	}
	fmt.Fprintln(out)
	for i := range r.Messages {
		m := &r.Messages[i]
		fmt.Fprintf(out, "%.6f,%.6f,%s,%s", m.At.Seconds(), m.End.Seconds(), m.Set, hexadecimal(m.Bytes))
		if withCRC {
			fmt.Fprint(out, ","+crcColumn(m))
		}
		fmt.Fprintln(out)
	}
	return out.Flush()
}

func hexadecimal(b []byte) string { return fmt.Sprintf("%x", b) }

func crcColumn(m *captures.Message) string {
	if !m.HasCRC {
		return ""
	}
	return hexadecimal(m.CRC[:])
}

// Truth is what the bench knows of a run and a recording does not say.
type Truth struct {
	Scenario   string          `json:"scenario"`
	Location   Location        `json:"location"`
	Part       string          `json:"part"`
	Rules      []string        `json:"rules"`
	Parameters TruthParameters `json:"parameters"`
}

// TruthParameters is the bench's set-up with what follows from it.
type TruthParameters struct {
	Seed         uint64   `json:"seed"`
	ClockOffsetS *float64 `json:"clock_offset_s"` // to be added to the meter's times; null without messages
	Parameters
}

// Truth gives the answer to a run.
func (r *Run) Truth() Truth {
	t := Truth{
		Scenario: r.Scenario.Name, Location: r.Scenario.Location, Part: r.Scenario.Part,
		Rules:      append([]string{}, r.Scenario.Rules...),
		Parameters: TruthParameters{Seed: r.Seed, Parameters: r.Scenario.Parameters},
	}
	if r.Scenario.Parameters.MessagesRecorded {
		offset := r.Scenario.Parameters.ClockOffsetS()
		t.Parameters.ClockOffsetS = &offset
	}
	return t
}

// WriteTruth writes the answer as one JSON document.
func (r *Run) WriteTruth(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(r.Truth())
}
