package pd_test

import (
	"encoding/hex"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// fields are the named values a source states, numbers as float64.
type fields map[string]any

func (f fields) number(t *testing.T, name string) int {
	t.Helper()
	v, ok := f[name].(float64)
	require.Truef(t, ok, "field %s of %v", name, f)
	return int(v)
}

func (f fields) flag(name string) bool {
	switch v := f[name].(type) {
	case bool:
		return v
	case float64:
		return v != 0
	default:
		return false
	}
}

type word struct {
	Value       string
	Description string
	Kind        string
	Object      string
	Fields      fields
	Source      string
}

func (w word) raw(t *testing.T) uint32 {
	t.Helper()
	v, err := strconv.ParseUint(w.Value, 0, 32)
	require.NoError(t, err)
	return uint32(v)
}

type bound = *float64

type parameterVector struct {
	Name          string
	Min, Nom, Max bound
	Unit          string
	Source        string
	R30           string
}

type namedCode struct {
	Code   int
	Name   string
	SOP    string
	Source string
}

type standardVectors struct {
	Phy struct {
		Symbols []struct {
			Nibble string
			Code   string `json:"code_b4_to_b0"`
			Line   string `json:"line_order"`
			Source string
		} `json:"symbols_4b5b"`
		KCodes []struct {
			Name   string
			Code   string `json:"code_b4_to_b0"`
			Source string
		} `json:"k_codes"`
		Invalid struct {
			Codes []string `json:"codes_b4_to_b0"`
		} `json:"invalid_codes"`
		OrderedSets []struct {
			Name   string
			KCodes []string `json:"k_codes"`
			Line   string   `json:"line_bits"`
			Source string
		} `json:"ordered_sets"`
		Frames []struct {
			Name       string
			OrderedSet string `json:"ordered_set"`
			Payload    string `json:"payload_hex"`
			CRC        string `json:"crc32"`
			CRCWire    string `json:"crc_bytes_on_wire"`
			Symbols    string
			Bits       string `json:"bits_after_preamble"`
			Total      int    `json:"bits_total"`
			Source     string
		}
		Airtime []struct {
			Name   string
			Bits   int
			Min    float64 `json:"us_min"`
			Nom    float64 `json:"us_nom"`
			Max    float64 `json:"us_max"`
			Source string
		}
	}
	Headers         []word
	ExtendedHeaders []word `json:"extended_headers"`
	MessageTypes    struct {
		Control, Data, Extended []namedCode
		ExtendedControl         []namedCode `json:"extended_control"`
		Reserved                struct{ Control, Data, Extended []int }
	} `json:"message_types"`
	PDOs     []word
	RDOs     []word
	Objects  []word
	Timers   []parameterVector
	Counters []struct {
		Name   string
		Value  float64
		Source string
	}
	Values []struct {
		Name   string
		Value  int
		Source string
	}
	Electrical []parameterVector
	Windows    []struct {
		Nominal   float64    `json:"nominal_V"`
		Static    [2]float64 `json:"static_V"`
		Transient [2]float64 `json:"transient_V"`
		Source    string
	} `json:"voltage_windows"`
	SinkDisconnect []struct {
		Nominal   float64 `json:"nominal_V"`
		Threshold float64 `json:"threshold_V"`
		Source    string
	} `json:"sink_disconnect"`
	CCLevels []struct {
		Range   [2]float64 `json:"sink_cc_V"`
		Meaning string
		Source  string
	} `json:"cc_levels"`
}

type recordedExamples struct {
	Objects []struct {
		Raw    string
		Role   string
		For    string
		Fields fields
		Source string
	}
	Headers []struct {
		Raw    string
		Fields fields
		Source string
	}
	Messages []struct {
		SOP     string
		Bytes   *string
		Type    string
		CRC     *string
		CRCOK   *bool `json:"crc_ok"`
		Meaning string
		Source  string
	}
}

func readVectors(t *testing.T, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "testdata", "pd", name))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

func standard(t *testing.T) standardVectors {
	t.Helper()
	var v standardVectors
	readVectors(t, "standard_vectors.json", &v)
	return v
}

func recorded(t *testing.T) recordedExamples {
	t.Helper()
	var v recordedExamples
	readVectors(t, "recorded_examples.json", &v)
	return v
}

func unhex(t *testing.T, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(s)
	require.NoError(t, err)
	return b
}

func parseWord(t *testing.T, s string) uint32 {
	t.Helper()
	v, err := strconv.ParseUint(s, 0, 32)
	require.NoError(t, err)
	return uint32(v)
}
