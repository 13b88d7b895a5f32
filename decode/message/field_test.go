package message_test

import (
	"encoding/binary"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/message"
)

// depends names fields that are null or read otherwise by bits outside their own.
var depends = map[string]bool{
	"charging_status": true, "sink_pdp_w": true, "failure": true, // battery present; the action of EPR_Mode
	"vdm_version": true, "object_position": true, "command_type": true, "command": true, "command_name": true, "vendor_data": true, // structured
	"country": true, "manufacturer": true, "countries": true, "position": true, // letters; text up to a zero byte; by the revision
	"max_vbus_mv": true, "max_vbus_code": true, "touch_temperature": true,
}

// TestBitsOfFields: a field is made of the bits it says it stands in. One bit of
// a random word is turned over: fields elsewhere must not change, and every bit
// of a field must matter to it sooner or later.
func TestBitsOfFields(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	for k := message.KindSupply; k < message.KindOtherBlock; k++ {
		matters, seen := map[string]map[int]bool{}, map[string][2]int{}
		for range 6000 {
			o := randomObject(rng, k)
			bit := rng.IntN(max(32, 8*len(o.Block)))
			before, after := o.AppendFields(nil), turned(o, bit)
			if len(before) != len(after) {
				continue // another kind of supply
			}
			for i, f := range before {
				seen[f.Name] = [2]int{f.High, f.Low}
				changed := f.Word() != after[i].Word()
				inside := bit >= f.Low && bit <= f.High
				if changed && !inside && !depends[f.Name] && f.Name == after[i].Name && sameKind(&o, bit) {
					t.Fatalf("kind %d: bit %d changes %s, which stands in %d to %d", k, bit, f.Name, f.High, f.Low)
				}
				if changed && inside {
					if matters[f.Name] == nil {
						matters[f.Name] = map[int]bool{}
					}
					matters[f.Name][bit] = true
				}
			}
		}
		for name, span := range seen {
			for bit := span[1]; bit <= span[0] && name != "size"; bit++ {
				null := name == "product_type_dfp" && k == message.KindIDHeaderPlug
				if !depends[name] && !null {
					assert.True(t, matters[name][bit], "kind %d: bit %d does not matter to %s", k, bit, name)
				}
			}
		}
	}
}

func randomObject(rng *rand.Rand, k message.Kind) message.Object {
	o := message.Object{Kind: k, Raw: rng.Uint32(), First: true}
	if !k.IsBlock() {
		return o
	}
	o.Block = make([]byte, 26)
	for i := range o.Block {
		o.Block[i] = byte(rng.Uint32())
	}
	return o
}

// turned gives the fields with one bit turned over.
func turned(o message.Object, bit int) []message.Field {
	if !o.Kind.IsBlock() {
		o.Raw ^= 1 << bit
		return o.AppendFields(nil)
	}
	o.Block = append([]byte{}, o.Block...)
	o.Block[bit/8] ^= 1 << (bit % 8)
	return o.AppendFields(nil)
}

// sameKind reports that turning a bit leaves the kind of a supply alone.
func sameKind(o *message.Object, bit int) bool {
	other := *o
	if !o.Kind.IsBlock() {
		other.Raw ^= 1 << bit
	}
	return o.Name() == other.Name()
}

// TestDetailLosesNoBit: fields and reserved bits together hold every bit that is
// set.
func TestDetailLosesNoBit(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	for k := message.KindOther; !k.IsBlock(); k++ {
		for range 200 {
			o := message.Object{Kind: k, Raw: rng.Uint32(), First: rng.IntN(2) == 0}
			var shown uint32
			list := o.AppendDetail(nil)
			for i, f := range list {
				shown |= uint32(1<<(f.High-f.Low+1)-1) << f.Low
				require.False(t, i > 0 && f.High > list[max(i-1, 0)].High, "upper bits first")
			}
			require.Zero(t, o.Raw&^shown, "kind %s: 0x%08X", o.Name(), o.Raw)
		}
	}
	o := message.Object{Kind: message.KindSupply, Raw: 0x0041912C}
	detail := o.AppendDetail(nil)
	assert.Contains(t, names(detail), "reserved")
	assert.Contains(t, names(detail), "kind")
	block := message.Object{Kind: message.KindStatus, Block: binary.LittleEndian.AppendUint64(nil, 0)[:7]}
	assert.Equal(t, "internal_celsius", names(block.AppendDetail(nil))[0])
}

func names(list []message.Field) (out []string) {
	for _, f := range list {
		out = append(out, f.Name)
	}
	return out
}

// TestShortBlocks: what an earlier revision does not have is null, and a block
// that no revision has is shown by its length.
func TestShortBlocks(t *testing.T) {
	get := func(k message.Kind, n int, name string) string {
		o := message.Object{Kind: k, Block: make([]byte, n)}
		for _, f := range o.AppendFields(nil) {
			if f.Name == name {
				return f.Word()
			}
		}
		return "absent"
	}
	// USB PD R3.0 V1.1: Status ends after 5 bytes, Source_Capabilities_Extended after 24.
	assert.Equal(t, "null", get(message.KindStatus, 5, "limited_by_cable"))
	assert.Equal(t, "false", get(message.KindStatus, 7, "limited_by_cable"))
	assert.Equal(t, "null", get(message.KindSourceCapabilitiesExtended, 24, "epr_pdp_w"))
	assert.Equal(t, "0", get(message.KindSourceCapabilitiesExtended, 25, "epr_pdp_w"))
	assert.Equal(t, "3", get(message.KindStatus, 3, "size"))
}
