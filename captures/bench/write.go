package bench

import (
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"io"
	"math"
	"strconv"

	"portside/captures"
)

// WriteMeterCSV writes the meter's log: time_s, voltage_V, current_A, with as
// many digits as the meter resolves.
func (r *Run) WriteMeterCSV(w io.Writer) error {
	volts, amps := digits(r.Scenario.Parameters.MeterStepV), digits(r.Scenario.Parameters.MeterStepA)
	rows := [][]string{{"time_s", "voltage_V", "current_A"}}
	for i := range r.Rows {
		s := &r.Rows[i]
		rows = append(rows, []string{decimal(s.At.Seconds(), r.Scenario.Parameters.timeDigits()), decimal(s.Volts, volts), decimal(s.Amps, amps)})
	}
	return csv.NewWriter(w).WriteAll(rows)
}

func decimal(x float64, digits int) string { return strconv.FormatFloat(x, 'f', digits, 64) }

// digits is how many decimals a resolution needs.
func digits(step float64) int {
	return max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
}

// WriteMessagesCSV writes the list of messages: time_s, end_s, sop, bytes and,
// where the recorder keeps it, crc.
func (r *Run) WriteMessagesCSV(w io.Writer) error {
	head := []string{"time_s", "end_s", "sop", "bytes"}
	withCRC := r.Scenario.Parameters.MessageCRC
	if withCRC {
		head = append(head, "crc")
	}
	rows := [][]string{head}
	for i := range r.Messages {
		m := &r.Messages[i]
		row := []string{decimal(m.At.Seconds(), 6), decimal(m.End.Seconds(), 6), m.Set.String(), hex.EncodeToString(m.Bytes)}
		if withCRC {
			row = append(row, crcColumn(m))
		}
		rows = append(rows, row)
	}
	return csv.NewWriter(w).WriteAll(rows)
}

func crcColumn(m *captures.Message) string {
	if m.Set.IsReset() {
		return ""
	}
	return hex.EncodeToString(m.CRC[:])
}

// Truth is what the bench knows of a run and a recording does not say.
type Truth struct {
	Scenario   string          `json:"scenario"`
	Location   Location        `json:"location"`
	Part       *string         `json:"part"` // the faulty part; null where all is sound
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
		Scenario: r.Scenario.Name, Location: r.Scenario.Location,
		Rules:      append([]string{}, r.Scenario.Rules...),
		Parameters: TruthParameters{Seed: r.Seed, Parameters: r.Scenario.Parameters},
	}
	if r.Scenario.Part != "" {
		t.Part = &r.Scenario.Part
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
