package pd_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// rulesOf are the rules broken, in the order they were found.
func rulesOf(list []pd.Violation) (out []pd.Rule) {
	for _, v := range list {
		out = append(out, v.Rule)
	}
	return out
}

type rules = []pd.Rule

// Words are built bit by bit from the table each case names; what breaks a rule stands next
// to what just keeps it.
func TestValidatePDO(t *testing.T) {
	const (
		r20 = pd.Revision20
		r30 = pd.Revision30
		r32 = pd.Revision32
		r3x = pd.Revision3x
	)
	tests := []struct {
		name     string
		word     pd.PDO
		revision pd.Revision
		want     rules
	}{
		{"5 V 3 A with every flag (table 6.9)", 0x3FB1912C, r32, nil},
		{"bit 22 (table 6.9)", 0x0041912C, r32, rules{pd.RuleReservedBits}},
		{"EPR Capable where it is reserved (R3.0 V1.1)", 0x0081912C, r30, rules{pd.RuleReservedBits}},
		{"EPR Capable with 3.x in the header", 0x0081912C, r3x, nil},
		{"unchunked where it is reserved (R2.0, from memory)", 0x0101912C, r20, rules{pd.RuleReservedBits}},
		{"0 V (table 6.9)", 0x0000012C, r32, rules{pd.RuleVoltage}},
		{"20 V 5 A (table 10.2)", 0x000641F4, r32, nil},
		{"20 V 5.01 A (table 10.2)", 0x000641F5, r32, rules{pd.RuleCurrent}},
		{"12 V, above the ceiling (section 10.2.3.1)", 0x0003C12C, r32, rules{pd.RuleVoltage}},
		{"12 V in R3.0, which has no ceiling", 0x0003C12C, r30, nil},
		{"12 V with 3.x in the header", 0x0003C12C, r3x, nil},
		{"7 V, optional (section 10.2.3.1)", 0x0002312C, r32, nil},

		{"variable 4.0 to 5.0 V (table 6.11)", 0x86414064, r32, nil},
		{"variable 3.95 to 5.0 V (table 6.11)", 0x86413C64, r32, rules{pd.RuleVoltageSpread}},
		{"the same with 3.x in the header", 0x86413C64, r3x, nil},
		{"variable upside down (table 6.11)", 0x85019064, r32, rules{pd.RuleVoltageRange}},
		{"variable 5 A (table 10.2)", 0x864141F4, r32, nil},
		{"variable 5.1 A (table 10.2)", 0x864141FE, r32, rules{pd.RuleCurrent}},
		{"battery 3.0 to 4.2 V (table 6.12)", 0x4540F03C, r32, nil},
		{"battery upside down (table 6.12)", 0x43C1503C, r32, rules{pd.RuleVoltageRange}},
		{"battery 0 V (table 6.12)", 0x4000003C, r32, rules{pd.RuleVoltage}},

		{"PPS 5 to 11 V 3 A, power limited (table 6.13)", 0xC8DC323C, r32, nil},
		{"PPS 3.3 V in R3.2 (table 10.10)", 0xC0DC213C, r32, rules{pd.RuleVoltage}},
		{"PPS 3.3 V with 3.x in the header", 0xC0DC213C, r3x, nil},
		{"PPS 3 V in R3.0 (R3.0 V1.1, table 10-8)", 0xC0DC1E3C, r30, nil},
		{"PPS 2.9 V in R3.0 (R3.0 V1.1, table 10-8)", 0xC0DC1D3C, r30, rules{pd.RuleVoltage}},
		{"PPS up to 21.1 V (table 10.10)", 0xC1A6323C, r32, rules{pd.RuleVoltage}},
		{"PPS upside down (table 6.13)", 0xC064333C, r32, rules{pd.RuleVoltageRange}},
		{"PPS 5.05 A (table 10.2)", 0xC0DC3265, r32, rules{pd.RuleCurrent}},
		{"PPS bits 26, 25, 16 and 7 (table 6.13)", 0xC6DD32BC, r32, rules{pd.RuleReservedBits}},
		{"PPS in R2.0 (from memory)", 0xC0DC323C, r20, rules{pd.RuleNotInRevision}},

		{"SPR AVS 3 A and 2.25 A (table 6.14)", 0xE004B0E1, r32, nil},
		{"SPR AVS bits 25 to 20 (table 6.14)", 0xE3F4B0E1, r32, rules{pd.RuleReservedBits}},
		{"SPR AVS 5 A (table 10.2)", 0xE004B1F4, r32, nil},
		{"SPR AVS 5.1 A (table 10.2)", 0xE004B1FE, r32, rules{pd.RuleCurrent}},
		{"SPR AVS in R3.0 V1.1, which has none", 0xE004B0E1, r30, rules{pd.RuleNotInRevision}},

		{"EPR AVS 15 to 28 V 140 W (table 6.15)", 0xD230968C, r32, nil},
		{"EPR AVS 14.9 V (table 10.15)", 0xD230958C, r32, rules{pd.RuleVoltage}},
		{"EPR AVS 15 to 30 V (table 10.15)", 0xD258968C, r32, rules{pd.RuleVoltage}},
		{"EPR AVS upside down (table 6.15)", 0xD140FF8C, r32, rules{pd.RuleVoltageRange, pd.RuleVoltage}},
		{"EPR AVS bit 16 (table 6.15)", 0xD231968C, r32, rules{pd.RuleReservedBits}},
		{"the fourth augmented kind (table 6.8)", 0xF0000000, r32, rules{pd.RuleReservedCode}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := tt.word.Validate(tt.revision)
			assert.Equal(t, tt.want, rulesOf(got), "%v", got)
		})
	}
	v := pd.PDO(0x0041912C).Validate(pd.Revision32)
	require.Len(t, v, 1)
	assert.Equal(t, "reserved bits are set, 0x00400000 (USB PD R3.2 V1.1, table 6.9)", v[0].String())
}

// USB PD R3.2 V1.1, tables 6.17 to 6.22.
func TestValidateSinkPDO(t *testing.T) {
	tests := []struct {
		name string
		word pd.SinkPDO
		want rules
	}{
		{"fixed with every flag", 0x3F81912C, nil},
		{"fixed bits 22 to 20", 0x0071912C, rules{pd.RuleReservedBits}},
		{"fixed 0 V", 0x0000012C, rules{pd.RuleVoltage}},
		{"variable, any spread", 0x87D02064, nil},
		{"variable upside down", 0x85019064, rules{pd.RuleVoltageRange}},
		{"battery upside down", 0x43C1503C, rules{pd.RuleVoltageRange}},
		{"PPS 3.3 to 21 V", 0xC1A42164, nil},
		{"PPS bit 27, power limited in a source's", 0xC9A42164, rules{pd.RuleReservedBits}},
		{"PPS upside down", 0xC0202164, rules{pd.RuleVoltageRange}},
		{"SPR AVS", 0xE004B0E1, nil},
		{"SPR AVS bits 27 and 26, peak current in a source's", 0xEC04B0E1, rules{pd.RuleReservedBits}},
		{"EPR AVS 15 to 48 V", 0xD3C096F0, nil},
		{"EPR AVS bits 27 and 26", 0xDFC096F0, rules{pd.RuleReservedBits}},
		{"the fourth augmented kind", 0xFFFFFFFF, rules{pd.RuleReservedCode}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			assert.Equal(t, tt.want, rulesOf(tt.word.Validate(pd.Revision32)))
		})
	}
	assert.Equal(t, rules{pd.RuleNotInRevision}, rulesOf(pd.SinkPDO(0xC1A42164).Validate(pd.Revision20)))
}

// at builds a message of a port in a role at a revision.
func at(r pd.Revision, mt pd.MessageType, role pd.PowerRole, objects ...uint32) pd.Message {
	f := pd.HeaderFields{Type: mt, Revision: r, PowerRole: role, DataRole: pd.UFP}
	if role == pd.Source {
		f.DataRole = pd.DFP
	}
	return pd.NewMessage(pd.SOP, f, objects...)
}

// Offers whose objects are each sound; their order is that of USB PD R3.2 V1.1, section
// 6.4.1.4 for sources and 6.4.1.6 for sinks.
func TestValidateCapabilities(t *testing.T) {
	const (
		v5, v9, v15, v20 = 0x0001912C, 0x0002D12C, 0x0004B12C, 0x0006412C
		battery          = 0x4540F03C // 3.0 to 4.2 V
		batteryHigh      = 0x45410050 // 3.2 to 4.2 V
		variable         = 0x86414064 // 4.0 to 5.0 V
		pps11, pps21     = 0xC0DC323C, 0xC1A4323C
		sprAVS           = 0xE004B0E1
		v28, eprAVS      = 0x0008C1F4, 0xD230968C
	)
	tests := []struct {
		name     string
		mt       pd.MessageType
		revision pd.Revision
		objects  []uint32
		want     rules
		object   int // at fault
	}{
		{"every kind in order", pd.SourceCapabilities, pd.Revision32, []uint32{v5, v9, battery, variable, sprAVS, pps11, pps21}, nil, 0},
		{"9 V first", pd.SourceCapabilities, pd.Revision32, []uint32{v9, v15}, rules{pd.RuleFirstObject}, 1},
		{"PPS first", pd.SourceCapabilities, pd.Revision32, []uint32{pps11}, rules{pd.RuleFirstObject}, 1},
		{"20 V before 9 V", pd.SourceCapabilities, pd.Revision32, []uint32{v5, v20, v9}, rules{pd.RuleOrder}, 3},
		{"wide PPS before narrow", pd.SourceCapabilities, pd.Revision32, []uint32{v5, pps21, pps11}, rules{pd.RuleOrder}, 3},
		{"battery after variable", pd.SourceCapabilities, pd.Revision32, []uint32{v5, variable, battery}, rules{pd.RuleOrder}, 3},
		{"batteries by falling minimum", pd.SourceCapabilities, pd.Revision32, []uint32{v5, batteryHigh, battery}, rules{pd.RuleOrder}, 3},
		{"fixed after PPS", pd.SourceCapabilities, pd.Revision32, []uint32{v5, pps11, v9}, rules{pd.RuleOrder}, 3},
		{"fixed after PPS in any R3", pd.SourceCapabilities, 0, []uint32{v5, pps11, v9}, rules{pd.RuleOrder}, 3},
		{"SPR AVS after PPS", pd.SourceCapabilities, pd.Revision32, []uint32{v5, pps11, sprAVS}, rules{pd.RuleOrder}, 3},
		{"the same with 3.x in the header: R3.1 is not known", pd.SourceCapabilities, 0, []uint32{v5, pps11, sprAVS}, nil, 0},
		{"flags of the first in the second (table 6.9)", pd.SourceCapabilities, pd.Revision32, []uint32{v5 | 0x3F<<24, v9 | 1<<27}, rules{pd.RuleFirstObjectBit}, 2},
		{"28 V in SPR (section 6.5.15.1)", pd.SourceCapabilities, pd.Revision32, []uint32{v5, v28}, rules{pd.RuleEPRPosition}, 2},
		{"EPR AVS in SPR (section 6.5.15.1)", pd.SourceCapabilities, pd.Revision32, []uint32{v5, eprAVS}, rules{pd.RuleEPRPosition}, 2},

		{"a sink's fixed twice", pd.SinkCapabilities, pd.Revision32, []uint32{v5, v9, v9}, rules{pd.RuleRepeated}, 3},
		{"a source's fixed twice: said of sinks only", pd.SourceCapabilities, pd.Revision32, []uint32{v5, v9, v9}, nil, 0},
		{"a sink's 9 V first", pd.SinkCapabilities, pd.Revision32, []uint32{v9}, rules{pd.RuleFirstObject}, 1},
		{"a sink's flags in the second (table 6.17)", pd.SinkCapabilities, pd.Revision32, []uint32{v5 | 1<<28, v9 | 1<<24}, rules{pd.RuleFirstObjectBit}, 2},
		{"a sink's reserved bits in the second (table 6.17)", pd.SinkCapabilities, pd.Revision32, []uint32{v5, v9 | 1<<22}, rules{pd.RuleReservedBits}, 2},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := at(pd.Revision3x, tt.mt, pd.Source, tt.objects...).Validate(tt.revision)
			require.Equal(t, tt.want, rulesOf(got), "%v", got)
			if len(got) > 0 {
				assert.Equal(t, tt.object, got[0].Object)
			}
		})
	}
}

// Whole blocks of EPR capabilities (USB PD R3.2 V1.1, section 6.5.15.1).
func TestValidateEPRCapabilities(t *testing.T) {
	spr := []uint32{0x0081912C, 0x0002D12C, 0x0004B12C, 0x000641F4, 0, 0, 0}
	tests := []struct {
		name string
		epr  []uint32
		sink bool
		want rules
	}{
		{"28 V and EPR AVS", []uint32{0x0008C1F4, 0xD230968C}, false, nil},
		{"28, 36 V and EPR AVS", []uint32{0x0008C1F4, 0x000B41F4, 0xD2D096B4}, false, nil},
		{"36 V before 28 V", []uint32{0x000B41F4, 0x0008C1F4, 0xD2D096B4}, false, rules{pd.RuleOrder}},
		{"no EPR AVS", []uint32{0x0008C1F4}, false, rules{pd.RuleOneEPRAVS}},
		{"no EPR AVS of a sink", []uint32{0x0008C1F4}, true, nil},
		{"two EPR AVS", []uint32{0x0008C1F4, 0xD230968C, 0xD230968C}, false, rules{pd.RuleOneEPRAVS}},
		{"fixed after EPR AVS", []uint32{0xD230968C, 0x0008C1F4}, false, rules{pd.RuleOrder}},
		{"20 V from position 8 on", []uint32{0x000641F4, 0xD230968C}, false, rules{pd.RuleSPRPosition}},
		{"flags of the first (table 6.9)", []uint32{0x2008C1F4, 0xD230968C}, false, rules{pd.RuleFirstObjectBit}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			mt := pd.EPRSourceCapabilities
			if tt.sink {
				mt = pd.EPRSinkCapabilities
			}
			block := objectBytes(append(spr[:7:7], tt.epr...)...)
			got := pd.ValidateBlock(mt, block, false, pd.Revision32)
			assert.Equal(t, tt.want, rulesOf(got), "%v", got)
		})
	}
	most := objectBytes(append(spr[:7:7], 0x0008C1F4, 0x000B41F4, 0x000F01F4, 0xD3C096F0)...)
	assert.Empty(t, pd.ValidateBlock(pd.EPRSourceCapabilities, most, false, pd.Revision32), "eleven objects")
	assert.Contains(t, rulesOf(pd.ValidateBlock(pd.EPRSourceCapabilities, append(most, most[40:]...), false, pd.Revision32)), pd.RuleDataSize, "twelve")
	short := pd.ValidateBlock(pd.EPRSourceCapabilities, objectBytes(spr[:6]...), false, pd.Revision32)
	assert.Contains(t, rulesOf(short), pd.RuleDataSize, "28 bytes at least (table 6.53)")
	odd := pd.ValidateBlock(pd.EPRSourceCapabilities, append(objectBytes(append(spr[:7:7], 0xD230968C)...), 0), false, pd.Revision32)
	assert.Equal(t, rules{pd.RuleDataSize}, rulesOf(odd), "no whole object")
}

func objectBytes(objects ...uint32) []byte {
	return pd.NewMessage(pd.SOP, pd.HeaderFields{}, objects...).Body
}

// USB PD R3.2 V1.1, tables 6.23 to 6.26 and section 6.4.2; R3.0 V1.1 where it differs.
func TestValidateRequest(t *testing.T) {
	tests := []struct {
		name     string
		word     pd.RDO
		epr      bool
		revision pd.Revision
		want     rules
	}{
		{"object 1", 0x1304B12C, false, pd.Revision32, nil},
		{"object 0", 0x0304B12C, false, pd.Revision32, rules{pd.RulePosition}},
		{"object 8 in a Request", 0x8304B12C, false, pd.Revision32, rules{pd.RulePosition}},
		{"object 8 in an EPR_Request", 0x8304B12C, true, pd.Revision32, nil},
		{"object 11", 0xB304B12C, true, pd.Revision32, nil},
		{"object 12, where none can stand", 0xC304B12C, true, pd.Revision32, rules{pd.RulePosition}},
		{"bit 21", 0x1324B12C, false, pd.Revision32, rules{pd.RuleReservedBits}},
		{"GiveBack in R3.2", 0x1B04B12C, false, pd.Revision32, rules{pd.RuleDeprecated}},
		{"GiveBack in R3.0", 0x1B04B12C, false, pd.Revision30, nil},
		{"GiveBack with 3.x in the header", 0x1B04B12C, false, pd.Revision3x, nil},
		{"bit 31 in R3.0: three bits of position", 0x9304B12C, false, pd.Revision30, rules{pd.RuleReservedBits}},
		{"EPR Capable in R3.0", 0x1344B12C, false, pd.Revision30, rules{pd.RuleReservedBits}},
		{"EPR Capable in R3.2", 0x1344B12C, false, pd.Revision32, nil},
		{"unchunked in R2.0 (from memory)", 0x1384B12C, false, pd.Revision20, rules{pd.RuleReservedBits}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			assert.Equal(t, tt.want, rulesOf(tt.word.Validate(tt.epr, tt.revision)))
		})
	}
}

func TestValidateRequestForOffer(t *testing.T) {
	offer := []pd.PDO{
		0x0001912C, // 5 V 3 A
		0x4540F03C, // battery 15 W
		0x86414064, // variable 1 A
		0xE004B0E1, // SPR AVS 3 A to 15 V, 2.25 A to 20 V
		0xC0DC323C, // PPS 5 to 11 V 3 A
		0xE004B000, // SPR AVS 3 A to 15 V
		0,
		0x0008C1F4, // 28 V 5 A
		0xD230968C, // EPR AVS 15 to 28 V 140 W
	}
	fixed := func(position int, operating, maximum pd.Milliamps) pd.RDO {
		return pd.FixedRequest{RequestFlags: pd.RequestFlags{Position: position}, OperatingCurrent: operating, MaxCurrent: maximum}.Encode()
	}
	battery := func(operating, maximum pd.Milliwatts) pd.RDO {
		return pd.BatteryRequest{RequestFlags: pd.RequestFlags{Position: 2}, OperatingPower: operating, MaxPower: maximum}.Encode()
	}
	pps := func(v pd.Millivolts, i pd.Milliamps) pd.RDO {
		return pd.PPSRequest{RequestFlags: pd.RequestFlags{Position: 5}, Voltage: v, OperatingCurrent: i}.Encode()
	}
	avs := func(position int, v pd.Millivolts, i pd.Milliamps) pd.RDO {
		return pd.AVSRequest{RequestFlags: pd.RequestFlags{Position: position}, Voltage: v, OperatingCurrent: i}.Encode()
	}
	tests := []struct {
		name     string
		request  pd.RDO
		revision pd.Revision
		want     rules
	}{
		{"all of 5 V", fixed(1, 3000, 3000), pd.Revision32, nil},
		{"10 mA more", fixed(1, 3010, 3010), pd.Revision32, rules{pd.RuleRequestCurrent}},
		{"maximum above operating in R3.2 (table 6.23)", fixed(1, 2000, 3000), pd.Revision32, rules{pd.RuleMaximumField}},
		{"maximum above operating in R3.0", fixed(1, 2000, 3000), pd.Revision30, nil},
		{"bit 20 (table 6.23)", fixed(1, 3000, 3000) | 1<<20, pd.Revision32, rules{pd.RuleReservedBits}},
		{"all of the battery", battery(15000, 15000), pd.Revision32, nil},
		{"250 mW more", battery(15250, 15250), pd.Revision32, rules{pd.RuleRequestPower}},
		{"battery, bit 20 (table 6.24)", battery(15000, 15000) | 1<<20, pd.Revision32, rules{pd.RuleReservedBits}},
		{"maximum above operating power (table 6.24)", battery(10000, 15000), pd.Revision32, rules{pd.RuleMaximumField}},
		{"all of variable", fixed(3, 1000, 1000), pd.Revision32, nil},
		{"more than variable", fixed(3, 1010, 1010), pd.Revision32, rules{pd.RuleRequestCurrent}},
		{"PPS at its ends", pps(11000, 3000), pd.Revision32, nil},
		{"PPS at its lower end", pps(5000, 3000), pd.Revision32, nil},
		{"PPS below", pps(4980, 3000), pd.Revision32, rules{pd.RuleRequestVoltage}},
		{"PPS above", pps(11020, 3000), pd.Revision32, rules{pd.RuleRequestVoltage}},
		{"PPS 50 mA more", pps(9000, 3050), pd.Revision32, rules{pd.RuleRequestCurrent}},
		{"PPS bits 8 and 7 (table 6.25)", pps(9000, 3000) | 0x180, pd.Revision32, rules{pd.RuleReservedBits}},
		{"PPS with bit 27 in R3.0 (table 6.25)", pps(9000, 3000) | 1<<27, pd.Revision30, rules{pd.RuleReservedBits}},
		{"SPR AVS 14.9 V 3 A", avs(4, 14_900, 3000), pd.Revision32, nil},
		{"SPR AVS 15.0 V 3 A: the limit of 20 V counts (table 10.2, note 5)", avs(4, 15_000, 3000), pd.Revision32, rules{pd.RuleRequestCurrent}},
		{"SPR AVS 15.0 V 2.25 A", avs(4, 15_000, 2250), pd.Revision32, nil},
		{"SPR AVS 8.9 V", avs(4, 8900, 1000), pd.Revision32, rules{pd.RuleRequestVoltage}},
		{"SPR AVS 20.1 V", avs(4, 20_100, 1000), pd.Revision32, rules{pd.RuleRequestVoltage}},
		{"SPR AVS that ends at 15.0 V", avs(6, 15_000, 3000), pd.Revision32, nil},
		{"SPR AVS beyond that end", avs(6, 15_100, 1000), pd.Revision32, rules{pd.RuleRequestVoltage}},
		{"unused position", fixed(7, 1000, 1000), pd.Revision32, rules{pd.RulePosition}},
		{"beyond the offer", fixed(10, 1000, 1000), pd.Revision32, rules{pd.RulePosition}},
		{"no position", fixed(0, 1000, 1000), pd.Revision32, rules{pd.RulePosition}},
		{"28 V", fixed(8, 5000, 5000), pd.Revision32, nil},
		{"EPR AVS at 28 V: 140 W allow 5 A", avs(9, 28_000, 5000), pd.Revision32, nil},
		{"EPR AVS between the steps (table 6.26)", avs(9, 27_925, 5000), pd.Revision32, rules{pd.RuleVoltageStep}},
		{"EPR AVS above", avs(9, 28_100, 1000), pd.Revision32, rules{pd.RuleRequestVoltage}},
		{"EPR AVS at 15 V 5 A", avs(9, 15_000, 5000), pd.Revision32, nil},
		{"EPR AVS at 15 V 5.05 A", avs(9, 15_000, 5050), pd.Revision32, rules{pd.RuleRequestCurrent}},
		{"EPR AVS bits 8 and 7 (table 6.26)", avs(9, 28_000, 5000) | 0x80, pd.Revision32, rules{pd.RuleReservedBits}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := tt.request.ValidateFor(offer, true, tt.revision)
			assert.Equal(t, tt.want, rulesOf(got), "%v", got)
		})
	}
	// 140 W at 28.0 V are 5.00 A; 100 W would be 3.571 A, rounded down to 3.55 A.
	weak, _ := pd.PDO(0xD2309664).EPRAVS()
	current, ok := weak.CurrentAt(28_000)
	assert.True(t, ok)
	assert.Equal(t, pd.Milliamps(3550), current)
}

// USB PD R3.2 V1.1, tables 6.1, 6.5, 6.6 and 6.53 and section 6.7.1.
func TestValidateHeader(t *testing.T) {
	tests := []struct {
		name     string
		set      pd.OrderedSet
		hex      string
		revision pd.Revision
		want     rules
	}{
		{"Accept", pd.SOP, "A303", 0, nil},
		{"reserved control code 0x19", pd.SOP, "B903", 0, rules{pd.RuleReservedType}},
		{"byte left over", pd.SOP, "A30300", 0, rules{pd.RuleLength}},
		{"revision 11b", pd.SOP, "E303", 0, rules{pd.RuleReservedCode}},
		{"revision 11b in GoodCRC, where it means nothing", pd.SOP, "E103", 0, nil},
		{"bit 5 to a cable", pd.SOPPrime, "A303", 0, rules{pd.RuleReservedBits}},
		{"Accept to a cable", pd.SOPPrime, "8303", 0, nil},
		{"PS_RDY to a cable", pd.SOPPrime, "8603", 0, rules{pd.RuleCable}},
		{"Soft_Reset with MessageID 1", pd.SOP, "8D02", 0, rules{pd.RuleMessageID}},
		{"Soft_Reset with MessageID 0", pd.SOP, "8D00", 0, nil},
		{"GotoMin in R3.2", pd.SOP, "A203", pd.Revision32, rules{pd.RuleDeprecated}},
		{"GotoMin in R3.0", pd.SOP, "A203", pd.Revision30, nil},
		{"Get_Revision in R3.0", pd.SOP, "9803", pd.Revision30, rules{pd.RuleNotInRevision}},
		{"Not_Supported in R2.0 (four bits of type, from memory)", pd.SOP, "5003", 0, rules{pd.RuleReservedBits, pd.RuleNotInRevision}},
		{"Reject in R2.0", pd.SOP, "4403", 0, nil},
		{"FR_Swap by a sink", pd.SOP, "9302", 0, nil},
		{"FR_Swap by a source", pd.SOP, "9303", 0, rules{pd.RuleSender}},
		{"Request by a source", pd.SOP, "82112CB10413", 0, rules{pd.RuleSender}},
		{"Enter_USB by a UFP", pd.SOP, "8810002000", 0, rules{pd.RuleLength, pd.RuleSender}},
		{"EPR_Mode Enter by a source", pd.SOP, "AA1100008C01", 0, rules{pd.RuleSender}},
		{"Request with two objects", pd.SOP, "82202CB104132CB10413", 0, rules{pd.RuleObjectCount}},
		{"EPR_Request with one object", pd.SOP, "89102CB10413", 0, rules{pd.RuleObjectCount}},
		{"Hard Reset", pd.HardReset, "", 0, nil},
		{"Hard Reset with bytes", pd.HardReset, "00", 0, rules{pd.RuleLength}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m, _ := pd.ParseMessage(tt.set, unhex(t, tt.hex))
			got := m.Validate(tt.revision)
			assert.Equal(t, tt.want, rulesOf(got), "%v", got)
		})
	}
}

// USB PD R3.2 V1.1, table 6.3 and section 6.2.1.2; the sound ones are its worked examples,
// figures 6.5 to 6.11.
func TestValidateChunks(t *testing.T) {
	seven, thirty := "01020304050607", strings.Repeat("AA", 30)
	tests := []struct {
		name string
		set  pd.OrderedSet
		hex  string
		want rules
	}{
		{"7 bytes unchunked", pd.SOP, "A889" + "0700" + seven, nil},
		{"30 bytes unchunked", pd.SOP, "A989" + "1E00" + thirty, nil},
		{"7 bytes, chunk 0", pd.SOP, "A8B9" + "0780" + seven + "000000", nil},
		{"30 bytes, chunk 0", pd.SOP, "A9F9" + "1E80" + thirty[:52], nil},
		{"request for chunk 1", pd.SOP, "A999" + "008C" + "0000", nil},
		{"30 bytes, chunk 1", pd.SOP, "A9A9" + "1E88" + thirty[:8] + "0000", nil},

		{"unchunked to a cable", pd.SOPPrime, "8889" + "0700" + seven, rules{pd.RuleChunk}},
		{"objects counted unchunked", pd.SOP, "A899" + "0700" + seven, rules{pd.RuleReservedBits}},
		{"chunk number unchunked", pd.SOP, "A889" + "0708" + seven, rules{pd.RuleChunk}},
		{"bit 9", pd.SOP, "A8B9" + "0782" + seven + "000000", rules{pd.RuleReservedBits}},
		{"padding that is not zero", pd.SOP, "A8B9" + "0780" + seven + "000001", rules{pd.RulePadding}},
		{"one unit too many", pd.SOP, "A8C9" + "0780" + seven + "00000000000000", rules{pd.RuleObjectCount}},
		{"chunk beyond the block", pd.SOP, "A999" + "1E90" + "0000", rules{pd.RuleChunk}},
		{"tenth chunk of a block of 260", pd.SOP, "A9F9" + "04C9" + thirty[:52], nil},
		{"chunk 10", pd.SOP, "A999" + "04D1" + "0000", rules{pd.RuleChunk, pd.RuleChunk}},
		{"request for chunk 0", pd.SOP, "A999" + "0084" + "0000", rules{pd.RuleChunk}},
		{"request with a size", pd.SOP, "A999" + "1E8C" + "0000", rules{pd.RuleChunk}},
		{"more than 260 bytes", pd.SOP, "A9F9" + "0581" + thirty[:52], rules{pd.RuleDataSize, pd.RuleDataSize}},
		{"3 bytes of Security_Request", pd.SOP, "A8A9" + "0380" + "010203000000", rules{pd.RuleDataSize}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m, err := pd.ParseMessage(tt.set, unhex(t, tt.hex))
			require.NoError(t, err)
			got := m.Validate(0)
			assert.Equal(t, tt.want, rulesOf(got), "%v", got)
		})
	}
}

// A chunk that was cut inside its padding, and one with bytes after it, break the length
// and nothing of the padding.
func TestValidateDamagedChunks(t *testing.T) {
	for _, packet := range []string{"A8B90780010203040506070000", "A8B9078001020304050607000000FF"} {
		m, err := pd.ParseMessage(pd.SOP, unhex(t, packet))
		require.Error(t, err)
		assert.Equal(t, rules{pd.RuleLength}, rulesOf(m.Validate(0)), packet)
	}
}

// USB PD R3.2 V1.1, tables 6.27 and 6.46 to 6.52.
func TestValidateSingleObjects(t *testing.T) {
	testData := []uint32{0x80000000, 1, 2, 3, 4, 5, 6}
	tests := []struct {
		name     string
		mt       pd.MessageType
		role     pd.PowerRole
		revision pd.Revision
		objects  []uint32
		want     rules
	}{
		{"BIST carrier", pd.BIST, pd.Source, pd.Revision32, []uint32{0x50000000}, nil},
		{"BIST carrier and bits", pd.BIST, pd.Source, pd.Revision32, []uint32{0x50000001}, rules{pd.RuleReservedBits}},
		{"BIST carrier with two objects", pd.BIST, pd.Source, pd.Revision32, []uint32{0x50000000, 0}, rules{pd.RuleObjectCount}},
		{"BIST test data", pd.BIST, pd.Source, pd.Revision32, testData, nil},
		{"BIST test data alone", pd.BIST, pd.Source, pd.Revision32, testData[:1], rules{pd.RuleObjectCount}},
		{"BIST eye pattern in R3.2", pd.BIST, pd.Source, pd.Revision32, []uint32{0x70000000}, rules{pd.RuleReservedCode}},
		{"BIST eye pattern with 3.x in the header", pd.BIST, pd.Source, 0, []uint32{0x70000000}, nil},
		{"Battery_Status idle", pd.BatteryStatus, pd.Sink, 0, []uint32{0x01F40A00}, nil},
		{"Battery_Status 3", pd.BatteryStatus, pd.Sink, 0, []uint32{0x01F40E00}, rules{pd.RuleReservedCode}},
		{"Battery_Status bits", pd.BatteryStatus, pd.Sink, 0, []uint32{0x01F41A01}, rules{pd.RuleReservedBits}},
		{"Alert OCP by a source", pd.Alert, pd.Source, 0, []uint32{0x04000000}, nil},
		{"Alert OCP by a sink", pd.Alert, pd.Sink, 0, []uint32{0x04000000}, rules{pd.RuleSender}},
		{"Alert bit 24", pd.Alert, pd.Source, 0, []uint32{0x01000010}, rules{pd.RuleReservedBits}},
		{"Alert extended 4", pd.Alert, pd.Source, 0, []uint32{0x80000004}, nil},
		{"Alert extended 0", pd.Alert, pd.Source, 0, []uint32{0x80000000}, rules{pd.RuleReservedCode}},
		{"Alert extended 5", pd.Alert, pd.Source, 0, []uint32{0x80000005}, rules{pd.RuleReservedCode}},
		{"Get_Country_Info CN", pd.GetCountryInfo, pd.Source, 0, []uint32{0x434E0000}, nil},
		{"Get_Country_Info bits", pd.GetCountryInfo, pd.Source, 0, []uint32{0x434E0001}, rules{pd.RuleReservedBits}},
		{"Enter_USB USB4 5 A", pd.EnterUSB, pd.Source, 0, []uint32{0x20866000}, nil},
		{"Enter_USB mode 3", pd.EnterUSB, pd.Source, 0, []uint32{0x30866000}, rules{pd.RuleReservedCode}},
		{"Enter_USB speed 5", pd.EnterUSB, pd.Source, 0, []uint32{0x20A66000}, rules{pd.RuleReservedCode}},
		{"Enter_USB current 1", pd.EnterUSB, pd.Source, 0, []uint32{0x20826000}, rules{pd.RuleReservedCode}},
		{"Enter_USB bits", pd.EnterUSB, pd.Source, 0, []uint32{0xA9866001}, rules{pd.RuleReservedBits}},
		{"EPR_Mode Enter 140 W", pd.EPRMode, pd.Sink, 0, []uint32{0x018C0000}, nil},
		{"EPR_Mode Enter Acknowledged with data", pd.EPRMode, pd.Source, 0, []uint32{0x02010000}, rules{pd.RuleUnusedData}},
		{"EPR_Mode Enter Succeeded by a sink", pd.EPRMode, pd.Sink, 0, []uint32{0x03000000}, rules{pd.RuleSender}},
		{"EPR_Mode Enter Failed 5", pd.EPRMode, pd.Source, 0, []uint32{0x04050000}, nil},
		{"EPR_Mode Enter Failed 6", pd.EPRMode, pd.Source, 0, []uint32{0x04060000}, rules{pd.RuleReservedCode}},
		{"EPR_Mode Exit with data", pd.EPRMode, pd.Sink, 0, []uint32{0x05010000}, rules{pd.RuleUnusedData}},
		{"EPR_Mode action 6", pd.EPRMode, pd.Sink, 0, []uint32{0x06000000}, rules{pd.RuleReservedCode}},
		{"EPR_Mode bits", pd.EPRMode, pd.Sink, 0, []uint32{0x05000001}, rules{pd.RuleReservedBits}},
		{"Source_Info", pd.SourceInfo, pd.Source, 0, []uint32{0x80646464}, nil},
		{"Source_Info by a sink", pd.SourceInfo, pd.Sink, 0, []uint32{0x80646464}, rules{pd.RuleSender}},
		{"Source_Info bits", pd.SourceInfo, pd.Source, 0, []uint32{0xC0646464}, rules{pd.RuleReservedBits}},
		{"Revision 3.2", pd.RevisionMessage, pd.Source, 0, []uint32{0x32110000}, nil},
		{"Revision bits", pd.RevisionMessage, pd.Source, 0, []uint32{0x32110100}, rules{pd.RuleReservedBits}},
		{"EPR_Request with its copy (section 6.4.9)", pd.EPRRequest, pd.Sink, 0, []uint32{0x8307D1F4, 0x0008C1F4}, nil},
		{"EPR_Request for SPR", pd.EPRRequest, pd.Sink, 0, []uint32{0x1304B12C, 0x0001912C}, nil},
		{"EPR_Request with a copy of SPR", pd.EPRRequest, pd.Sink, 0, []uint32{0x8307D1F4, 0x000641F4}, rules{pd.RuleCopy}},
		{"EPR_Request for object 0: the copy is not held against it", pd.EPRRequest, pd.Sink, 0, []uint32{0x0307D1F4, 0x0008C1F4}, rules{pd.RulePosition}},
		{"EPR_Request above its copy", pd.EPRRequest, pd.Sink, 0, []uint32{0x8307D1F4, 0x0008C12C}, rules{pd.RuleRequestCurrent}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := at(pd.Revision3x, tt.mt, tt.role, tt.objects...).Validate(tt.revision)
			assert.Equal(t, tt.want, rulesOf(got), "%v", got)
		})
	}
}

// USB PD R3.2 V1.1, tables 6.28, 6.29, 6.31 and 6.33 to 6.44.
func TestValidateVDM(t *testing.T) {
	const ack = 0xFF00A041
	tests := []struct {
		name    string
		set     pd.OrderedSet
		objects []uint32
		want    rules
	}{
		{"unstructured", pd.SOP, []uint32{0x12347FFF}, nil},
		{"Discover Identity", pd.SOP, []uint32{0xFF00A001}, nil},
		{"version 1.0", pd.SOP, []uint32{0xFF008001}, nil},
		{"version 2.1", pd.SOP, []uint32{0xFF00A801}, nil},
		{"version 2.2", pd.SOP, []uint32{0xFF00B001}, rules{pd.RuleReservedCode}},
		{"version 1.1", pd.SOP, []uint32{0xFF008801}, rules{pd.RuleReservedCode}},
		{"major version 2", pd.SOP, []uint32{0xFF00C001}, rules{pd.RuleReservedCode}},
		{"bit 5", pd.SOP, []uint32{0xFF00A021}, rules{pd.RuleReservedBits}},
		{"Discover Identity of another SVID", pd.SOP, []uint32{0xFF01A001}, rules{pd.RuleSVID}},
		{"Discover Identity with a position", pd.SOP, []uint32{0xFF00A101}, rules{pd.RuleVDMPosition}},
		{"Discover Identity to the far plug", pd.SOPDoublePrime, []uint32{0xFF00A001}, rules{pd.RuleCable}},
		{"Enter Mode 1", pd.SOP, []uint32{0xFF01A104}, nil},
		{"Enter Mode without a position", pd.SOP, []uint32{0xFF01A004}, rules{pd.RuleVDMPosition}},
		{"Enter Mode 7", pd.SOP, []uint32{0xFF01A704}, rules{pd.RuleVDMPosition}},
		{"Enter Mode BUSY", pd.SOP, []uint32{0xFF01A1C4}, rules{pd.RuleCommandType}},
		{"Exit Mode, all", pd.SOP, []uint32{0xFF01A705}, nil},
		{"Exit Mode without a position", pd.SOP, []uint32{0xFF01A005}, rules{pd.RuleVDMPosition}},
		{"Attention", pd.SOP, []uint32{0xFF01A106}, nil},
		{"Attention ACK", pd.SOP, []uint32{0xFF01A146}, rules{pd.RuleCommandType}},
		{"command 7", pd.SOP, []uint32{0xFF01A007}, rules{pd.RuleReservedCode}},
		{"command 16, the SVID's own", pd.SOP, []uint32{0xFF01A710}, nil},

		{"passive cable", pd.SOPPrime, []uint32{ack, 0x18601234, 0, 0x12340100, 0x110A2640}, nil},
		{"passive cable, reserved bits", pd.SOPPrime, []uint32{ack, 0x18601234, 0, 0x12340100, 0x111A2640}, rules{pd.RuleReservedBits}},
		{"passive cable, current 3", pd.SOPPrime, []uint32{ack, 0x18601234, 0, 0x12340100, 0x110A2660}, rules{pd.RuleReservedCode}},
		{"passive cable, plug 1", pd.SOPPrime, []uint32{ack, 0x18601234, 0, 0x12340100, 0x11062640}, rules{pd.RuleReservedCode}},
		{"passive cable, speed 5", pd.SOPPrime, []uint32{ack, 0x18601234, 0, 0x12340100, 0x110A2645}, rules{pd.RuleReservedCode}},
		{"a plug's bits 25 to 23", pd.SOPPrime, []uint32{ack, 0x19E01234, 0, 0x12340100, 0x110A2640}, rules{pd.RuleReservedBits}},
		{"active cable", pd.SOPPrime, []uint32{ack, 0x20601234, 0, 0x12340100, 0x110A3BD8, 0x46550201}, nil},
		{"active cable, second object", pd.SOPPrime, []uint32{ack, 0x20601234, 0, 0x12340100, 0x110A3BD8, 0x46558201}, rules{pd.RuleReservedBits}},
		{"VPD", pd.SOPPrime, []uint32{ack, 0x30601234, 0, 0x12340100, 0x1100152A}, nil},
		{"VPD, bit 13", pd.SOPPrime, []uint32{ack, 0x30601234, 0, 0x12340100, 0x1100352A}, rules{pd.RuleReservedBits}},
		{"cable of R2.0: its own layout", pd.SOPPrime, []uint32{0xFF008041, 0x18001234, 0, 0x12340100, 0x11102780}, nil},
		{"identity with three objects", pd.SOP, []uint32{ack, 0x18601234, 0}, rules{pd.RuleObjectCount}},
		{"host", pd.SOP, []uint32{ack, 0x81401234, 0, 0x12340100, 0x46000011}, nil},
		{"host, bits of the DFP object", pd.SOP, []uint32{ack, 0x81401234, 0, 0x12340100, 0x46000031}, rules{pd.RuleReservedBits}},
		{"dual-role port: pad before the DFP object", pd.SOP, []uint32{ack, 0xD1401234, 0, 0x12340100, 0x69000003, 0, 0x46000011}, nil},
		{"dual-role port, bits of the DFP object", pd.SOP, []uint32{ack, 0xD1401234, 0, 0x12340100, 0x69000003, 0, 0x56000011}, rules{pd.RuleReservedBits}},
		{"device, bits of the UFP object", pd.SOP, []uint32{ack, 0x50401234, 0, 0x12340100, 0x79000003}, rules{pd.RuleReservedBits}},
		{"passive cable without its object", pd.SOPPrime, []uint32{ack, 0x18601234, 0, 0x12340100}, nil},
		{"active cable without its second object", pd.SOPPrime, []uint32{ack, 0x20601234, 0, 0x12340100, 0x110A3BD8}, nil},
		{"plug of no type", pd.SOPPrime, []uint32{ack, 0x00601234, 0, 0x12340100, 0xFFFFFFFF}, nil},
		{"power sinking device with a DFP: where its object stands is not known", pd.SOP, []uint32{ack, 0x99401234, 0, 0x12340100, 0xFFFFFFFF}, nil},
		{"ID Header bits", pd.SOP, []uint32{ack, 0x505F1234, 0, 0x12340100, 0x69000003}, rules{pd.RuleReservedBits}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m := pd.NewMessage(tt.set, pd.HeaderFields{Type: pd.VendorDefined, Revision: pd.Revision3x, CablePlug: tt.set.ToCable()}, tt.objects...)
			got := m.Validate(0)
			assert.Equal(t, tt.want, rulesOf(got), "%v", got)
		})
	}
	assert.Equal(t, rules{pd.RuleReservedBits}, rulesOf(pd.VDMHeader(0xFF00A021).Validate()))
}

// USB PD R3.2 V1.1, tables 6.54 to 6.67; sizes of R3.0 V1.1 included.
func TestValidateBlocks(t *testing.T) {
	scedb := func(at int, v byte) []byte {
		b := make([]byte, 25)
		b[at] = v
		return b
	}
	skedb := func(at int, v byte) []byte {
		b := make([]byte, 24)
		b[10] = 1
		b[at] = v
		return b
	}
	tests := []struct {
		name  string
		mt    pd.MessageType
		block []byte
		plug  bool
		want  rules
	}{
		{"source, all zero", pd.SourceCapabilitiesExtended, scedb(0, 0), false, nil},
		{"source of R3.0, 24 bytes", pd.SourceCapabilitiesExtended, scedb(0, 0)[:24], false, nil},
		{"source, 23 bytes", pd.SourceCapabilitiesExtended, scedb(0, 0)[:23], false, rules{pd.RuleDataSize}},
		{"source of a later standard", pd.SourceCapabilitiesExtended, make([]byte, 30), false, nil},
		{"source, slew code 2", pd.SourceCapabilitiesExtended, scedb(10, 2), false, rules{pd.RuleReservedCode}},
		{"source, regulation bits", pd.SourceCapabilitiesExtended, scedb(10, 0x08), false, rules{pd.RuleReservedBits}},
		{"source, compliance bits", pd.SourceCapabilitiesExtended, scedb(12, 0x08), false, rules{pd.RuleReservedBits}},
		{"source, touch current bits", pd.SourceCapabilitiesExtended, scedb(13, 0x08), false, rules{pd.RuleReservedBits}},
		{"source, touch temperature 3", pd.SourceCapabilitiesExtended, scedb(20, 3), false, rules{pd.RuleReservedCode}},
		{"source, input bits", pd.SourceCapabilitiesExtended, scedb(21, 0x08), false, rules{pd.RuleReservedBits}},
		{"source, five batteries", pd.SourceCapabilitiesExtended, scedb(22, 0x05), false, rules{pd.RuleReservedCode}},
		{"source, five slots", pd.SourceCapabilitiesExtended, scedb(22, 0x50), false, rules{pd.RuleReservedCode}},
		{"source, bit 7 of the PDP", pd.SourceCapabilitiesExtended, scedb(23, 0x80), false, rules{pd.RuleReservedBits}},
		{"sink", pd.SinkCapabilitiesExtended, skedb(18, 60), false, nil},
		{"sink of R3.0, 21 bytes", pd.SinkCapabilitiesExtended, skedb(18, 60)[:21], false, nil},
		{"sink, version 2", pd.SinkCapabilitiesExtended, skedb(10, 2), false, rules{pd.RuleReservedCode}},
		{"sink, load step code 2", pd.SinkCapabilitiesExtended, skedb(11, 2), false, rules{pd.RuleReservedCode}},
		{"sink, load step bits", pd.SinkCapabilitiesExtended, skedb(11, 4), false, rules{pd.RuleReservedBits}},
		{"sink, compliance bits", pd.SinkCapabilitiesExtended, skedb(14, 8), false, rules{pd.RuleReservedBits}},
		{"sink, five batteries", pd.SinkCapabilitiesExtended, skedb(16, 5), false, rules{pd.RuleReservedCode}},
		{"sink, mode bits", pd.SinkCapabilitiesExtended, skedb(17, 0x40), false, rules{pd.RuleReservedBits}},
		{"sink, touch temperature 4", pd.SinkCapabilitiesExtended, skedb(15, 4), false, rules{pd.RuleReservedCode}},
		{"sink, bit 7 of the PDP", pd.SinkCapabilitiesExtended, skedb(20, 0x80), false, rules{pd.RuleReservedBits}},
		{"status", pd.Status, []byte{41, 2, 0, 0, 2, 0, 0x0B}, false, nil},
		{"status of R3.0, 5 bytes", pd.Status, []byte{41, 2, 0, 0, 2}, false, nil},
		{"status, 4 bytes", pd.Status, []byte{41, 2, 0, 0}, false, rules{pd.RuleDataSize}},
		{"status, bit 0 of the input", pd.Status, []byte{41, 1, 0, 0, 0, 0, 0}, false, rules{pd.RuleReservedBits}},
		{"status, power state 7", pd.Status, []byte{41, 0, 0, 0, 0, 0, 7}, false, rules{pd.RuleReservedCode}},
		{"status, indicator 4", pd.Status, []byte{41, 0, 0, 0, 0, 0, 0x20}, false, rules{pd.RuleReservedCode}},
		{"status of a plug", pd.Status, []byte{41, 1}, true, nil},
		{"status of a plug, bits", pd.Status, []byte{41, 2}, true, rules{pd.RuleReservedBits}},
		{"battery 7", pd.GetBatteryCap, []byte{7}, false, nil},
		{"battery 8", pd.GetBatteryStatus, []byte{8}, false, rules{pd.RuleReservedCode}},
		{"battery capabilities", pd.BatteryCapabilities, []byte{0, 0, 0, 0, 0, 0, 0, 0, 1}, false, nil},
		{"battery capabilities, bits", pd.BatteryCapabilities, []byte{0, 0, 0, 0, 0, 0, 0, 0, 2}, false, rules{pd.RuleReservedBits}},
		{"manufacturer of battery 7", pd.GetManufacturerInfo, []byte{1, 7}, false, nil},
		{"manufacturer of battery 8", pd.GetManufacturerInfo, []byte{1, 8}, false, rules{pd.RuleReservedCode}},
		{"manufacturer of 2", pd.GetManufacturerInfo, []byte{2, 0}, false, rules{pd.RuleReservedCode}},
		{"manufacturer", pd.ManufacturerInfo, []byte{1, 2, 3, 4, 'a', 0}, false, nil},
		{"manufacturer of R3.0, no text", pd.ManufacturerInfo, []byte{1, 2, 3, 4}, false, nil},
		{"manufacturer, text without end", pd.ManufacturerInfo, []byte{1, 2, 3, 4, 'a'}, false, rules{pd.RuleText}},
		{"manufacturer, 21 characters", pd.ManufacturerInfo, append([]byte{1, 2, 3, 4}, append(bytes.Repeat([]byte{'a'}, 21), 0)...), false, nil},
		{"manufacturer, 22 characters", pd.ManufacturerInfo, append([]byte{1, 2, 3, 4}, bytes.Repeat([]byte{'a'}, 22)...), false, rules{pd.RuleText}},
		{"manufacturer, 26 bytes", pd.ManufacturerInfo, make([]byte, 26), false, nil},
		{"manufacturer, 27 bytes", pd.ManufacturerInfo, make([]byte, 27), false, rules{pd.RuleDataSize}},
		{"PPS status", pd.PPSStatus, []byte{0, 0, 0, 0x0E}, false, nil},
		{"PPS status, bits", pd.PPSStatus, []byte{0, 0, 0, 0x01}, false, rules{pd.RuleReservedBits}},
		{"country codes", pd.CountryCodes, []byte{1, 0, 'C', 'N'}, false, nil},
		{"country codes, count", pd.CountryCodes, []byte{2, 0, 'C', 'N'}, false, rules{pd.RuleDataSize}},
		{"country codes, reserved", pd.CountryCodes, []byte{1, 1, 'C', 'N'}, false, rules{pd.RuleReservedBits}},
		{"country info", pd.CountryInfo, []byte{'C', 'N', 0, 0, 1}, false, nil},
		{"country info, reserved", pd.CountryInfo, []byte{'C', 'N', 0, 1}, false, rules{pd.RuleReservedBits}},
		{"keep alive", pd.ExtendedControl, []byte{3, 0}, false, nil},
		{"extended control 5", pd.ExtendedControl, []byte{5, 0}, false, rules{pd.RuleReservedCode}},
		{"extended control, data", pd.ExtendedControl, []byte{1, 1}, false, rules{pd.RuleUnusedData}},
		{"security request, 4 bytes", pd.SecurityRequest, make([]byte, 4), true, nil},
		{"security request, 261 bytes", pd.SecurityRequest, make([]byte, 261), true, rules{pd.RuleDataSize}},
		{"vendor's", pd.VendorDefinedExtended, make([]byte, 260), false, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := pd.ValidateBlock(tt.mt, tt.block, tt.plug, 0)
			assert.Equal(t, tt.want, rulesOf(got), "%v", got)
		})
	}
	assert.Empty(t, pd.ValidateBlock(pd.Accept, nil, false, 0), "no extended message")
	assert.Empty(t, pd.ValidateBlock(pd.NewMessageType(pd.Extended, 0x1F), nil, false, 0), "reserved")
	// EPR_KeepAlive by a source, EPR_KeepAlive_Ack by a sink (table 6.67).
	for _, packet := range []string{"B09502800300", "B09402800400"} {
		m, err := pd.ParseMessage(pd.SOP, unhex(t, packet))
		require.NoError(t, err)
		assert.Equal(t, rules{pd.RuleSender}, rulesOf(m.Validate(0)), packet)
	}
}

// Judging what breaks nothing takes no memory.
func TestNoAllocationsOnValidate(t *testing.T) {
	messages := []pd.Message{
		at(pd.Revision3x, pd.SourceCapabilities, pd.Source, 0x0801912C, 0x0002D12C, 0x0004B12C, 0x000640E1, 0xE004B0E1, 0xC1A4323C),
		at(pd.Revision3x, pd.EPRRequest, pd.Sink, 0x8307D1F4, 0x0008C1F4),
		at(pd.Revision3x, pd.PSRDY, pd.Source),
	}
	for _, packet := range []string{"B09502800400", "A889070001020304050607"} {
		m, err := pd.ParseMessage(pd.SOP, unhex(t, packet))
		require.NoError(t, err)
		messages = append(messages, m)
	}
	offer := []pd.PDO{0x0801912C, 0xC1A4323C}
	block := objectBytes(0x0081912C, 0, 0, 0, 0, 0, 0, 0x0008C1F4, 0xD230968C)
	broken := 0
	allocs := testing.AllocsPerRun(100, func() {
		for _, m := range messages {
			broken += len(m.Validate(pd.Revision32))
		}
		broken += len(pd.RDO(0x1304B12C).ValidateFor(offer, false, pd.Revision32))
		broken += len(pd.ValidateBlock(pd.EPRSourceCapabilities, block, false, pd.Revision32))
		broken += len(pd.VDMHeader(0xFF00A041).Validate())
	})
	assert.Zero(t, allocs)
	assert.Zero(t, broken)
}

func TestViolationWords(t *testing.T) {
	v := pd.Violation{Rule: pd.RuleOrder, Object: 3, Clause: "USB PD R3.2 V1.1, section 6.4.1.4"}
	assert.Equal(t, "object 3: objects out of order (USB PD R3.2 V1.1, section 6.4.1.4)", v.String())
	for r := pd.RuleLength; r <= pd.RuleText; r++ {
		assert.NotEmpty(t, r.String())
	}
	assert.Equal(t, "unknown rule", pd.Rule(0).String())
	assert.Equal(t, "unknown rule", pd.Rule(99).String())
}

// What real ports sent is nearly sound: the exceptions are listed, each seen by eye.
func TestValidateRecordedMessages(t *testing.T) {
	for _, v := range recorded(t).Messages {
		if v.Bytes == nil || v.CRCOK != nil && !*v.CRCOK {
			continue
		}
		set, ok := pd.ParseOrderedSet(v.SOP)
		require.True(t, ok)
		m, err := pd.ParseMessage(set, unhex(t, *v.Bytes))
		require.NoError(t, err)
		assert.Empty(t, m.Validate(0), "%s: %s", *v.Bytes, v.Source)
	}
}

// The messages of recorded negotiations whose header and objects were all logged.
func TestValidateRecordedNegotiations(t *testing.T) {
	type event struct {
		Kind    string
		Header  *string
		Objects []*struct{ Raw *string }
	}
	var sessions []struct{ Events []event }
	b, err := os.ReadFile(filepath.Join("..", "testdata", "negotiations", "recorded.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, &sessions))
	judged := 0
	broken := map[string]rules{}
	for _, s := range sessions {
		for _, e := range s.Events {
			if e.Header == nil {
				continue
			}
			m := pd.Message{Set: pd.SOP, Header: pd.Header(parseWord(t, *e.Header))}
			whole := !m.Header.Extended() && len(e.Objects) == m.Header.Objects()
			for _, o := range e.Objects {
				if o == nil || o.Raw == nil {
					whole = false
					break
				}
				m.Body = append(m.Body, objectBytes(parseWord(t, *o.Raw))...)
			}
			if whole {
				judged++
				if got := rulesOf(m.Validate(0)); got != nil {
					broken[*e.Header] = got
				}
			}
		}
	}
	assert.GreaterOrEqual(t, judged, 48)
	assert.Equal(t, map[string]rules{
		"0x144F": {pd.RuleSVID},         // a tester's Discover Identity of an SVID nobody has
		"0x0000": {pd.RuleReservedType}, // a receiver that logged an empty header
	}, broken)
}
