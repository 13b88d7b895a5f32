package pd_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// vectorGroups are the groups of the standard's vectors: how many there are, and
// the test of this package that asserts all of them.
var vectorGroups = map[string]struct {
	count int
	test  string
}{
	"phy.symbols_4b5b":                     {16, "TestSymbols"},
	"phy.k_codes":                          {6, "TestSymbols"},
	"phy.invalid_codes":                    {2, "TestSymbols"},
	"phy.ordered_sets":                     {7, "TestOrderedSetSymbols"},
	"phy.ordered_set_rule":                 {4, "TestRecogniseOrderedSet"},
	"phy.preamble":                         {5, "TestAirTime"},
	"phy.bmc_example":                      {4, ""}, // of the line's decoder
	"phy.crc":                              {8, "TestCRCResidualOfTheStandard"},
	"phy.frames":                           {9, "TestFrames"},
	"phy.airtime":                          {8, "TestAirTime"},
	"headers":                              {13, "TestHeaderVectors"},
	"extended_headers":                     {14, "TestExtendedHeaderVectors"},
	"message_types.control":                {24, "TestMessageTypes"},
	"message_types.data":                   {13, "TestMessageTypes"},
	"message_types.extended":               {19, "TestMessageTypes"},
	"message_types.extended_control":       {4, "TestExtendedControlTypes"},
	"message_types.reserved":               {4, "TestMessageTypes"},
	"pdos":                                 {20, "TestPDOVectors"},
	"rdos":                                 {7, "TestRDOVectors"},
	"objects":                              {24, "TestObjectVectors"},
	"timers":                               {69, "TestParameterVectors"},
	"electrical":                           {108, "TestParameterVectors"},
	"counters":                             {6, "TestCounterVectors"},
	"values":                               {3, "TestValueVectors"},
	"voltage_windows":                      {7, "TestFixedWindowVectors"},
	"sink_disconnect":                      {3, "TestSinkDisconnectVectors"},
	"cc_levels":                            {4, "TestCCMeaning"},
	"power_rules.spr_fixed":                {21, "TestSPRFixedCurrentVectors"},
	"power_rules.spr_constrained_examples": {6, "TestConstrainedVectors"},
	"power_rules.epr_constrained_examples": {8, "TestConstrainedVectors"},
	"power_rules.pps_examples":             {4, "TestPPSOfferVectors"},
	"power_rules.pps_ranges":               {7, "TestPPSRangeVectors"},
	"power_rules.avs_ranges":               {5, "TestAVSRangeVectors"},
	"kernel_constants":                     {29, "TestKernelConstantVectors"},
}

// TestEveryVectorGroupIsAsserted: no group and no vector is there that nobody
// looks at, and each test named here exists.
func TestEveryVectorGroupIsAsserted(t *testing.T) {
	var file map[string]json.RawMessage
	readVectors(t, "standard_vectors.json", &file)
	delete(file, "meta")
	found := map[string]int{}
	for name, raw := range file {
		var list []json.RawMessage
		if json.Unmarshal(raw, &list) == nil {
			found[name] = len(list)
			continue
		}
		for inner, n := range sizes(t, raw) {
			found[name+"."+inner] = n
		}
	}
	want := map[string]int{}
	tests := ownTests(t)
	for name, g := range vectorGroups {
		want[name] = g.count
		if g.test != "" {
			assert.Contains(t, tests, "func "+g.test+"(t *testing.T)", name)
		}
	}
	assert.Equal(t, want, found)
}

// sizes are the numbers of entries of each member.
func sizes(t *testing.T, raw json.RawMessage) map[string]int {
	t.Helper()
	var members map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(raw, &members))
	out := map[string]int{}
	for name, member := range members {
		var list []json.RawMessage
		var object map[string]json.RawMessage
		if json.Unmarshal(member, &list) == nil {
			out[name] = len(list)
			continue
		}
		require.NoError(t, json.Unmarshal(member, &object), name)
		out[name] = len(object)
	}
	return out
}

// ownTests is the text of this package's tests.
func ownTests(t *testing.T) string {
	t.Helper()
	names, err := filepath.Glob("*_test.go")
	require.NoError(t, err)
	var all strings.Builder
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		all.Write(text)
	}
	return all.String()
}
