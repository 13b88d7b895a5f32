package message_test

import (
	"encoding/binary"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/message"
	"portside/pd"
)

// raw are the kinds that stay a word or bytes, with the reason.
var raw = map[message.Kind]string{
	message.KindOther:       "of a message without a meaning",
	message.KindUnused:      "a position without a supply, all zero",
	message.KindVDO:         "a vendor's own",
	message.KindMode:        "the SVID's standard gives it a meaning",
	message.KindSecurity:    "the USB Type-C Authentication standard gives it a meaning",
	message.KindFirmware:    "the USB PD Firmware Update standard gives it a meaning",
	message.KindVendorBlock: "a vendor's own",
	message.KindOtherBlock:  "of a message without a meaning",
}

// wordsOf are the words a kind is tried with: of a supply one a kind of supply
// (USB PD R3.2 V1.1, tables 6.7 and 6.8).
func wordsOf(k message.Kind) []uint32 {
	if k != message.KindSupply && k != message.KindSinkSupply {
		return []uint32{0xFFFFFFFF}
	}
	return []uint32{0x3FFFFFFF, 0x7FFFFFFF, 0xBFFFFFFF, 0xCFFFFFFF, 0xDFFFFFFF, 0xEFFFFFFF}
}

// TestEveryKindHasAFieldTable with bits that lie within the object.
func TestEveryKindHasAFieldTable(t *testing.T) {
	for k := message.KindOther; k <= message.KindOtherBlock; k++ {
		for _, word := range wordsOf(k) {
			o := message.Object{Kind: k, Raw: word, First: true}
			bits := 32
			if k.IsBlock() {
				o.Block = make([]byte, 26)
				bits = 8 * len(o.Block)
			}
			require.NotEmpty(t, o.Name(), "kind %d", k)
			list := o.AppendFields(nil)
			taken := len(list) > 0 && (len(list) > 1 || list[0].Name != "size")
			assert.Equal(t, raw[k] == "", taken, "kind %s: %v", o.Name(), list)
			for _, f := range list {
				assert.True(t, f.Low >= 0 && f.High >= f.Low && f.High < bits, "%s of %s: bits %d to %d", f.Name, o.Name(), f.High, f.Low)
			}
		}
	}
}

// TestEveryMessageIsTakenApart: every message of the standard is read into kinds
// with a field table.
func TestEveryMessageIsTakenApart(t *testing.T) {
	n := 0
	for _, class := range []pd.Class{pd.Control, pd.Data, pd.Extended} {
		for code := range 32 {
			typ := pd.NewMessageType(class, code)
			if !typ.Defined() {
				continue
			}
			n++
			for _, set := range []pd.OrderedSet{pd.SOP, pd.SOPPrime} {
				l := last(longest(t, set, typ))
				require.Equal(t, typ, l.Header.Type())
				require.NotEmpty(t, l.Header.AppendFields(nil), typ)
				assert.Equal(t, class != pd.Control, len(l.Objects) > 0, typ)
				for i := range l.Objects {
					requireTaken(t, typ, i, &l.Objects[i])
				}
			}
		}
	}
	assert.Equal(t, messagesOfTheStandard, n)
}

// messagesOfTheStandard are 24 control, 13 data and 19 extended messages (USB PD
// R3.2 V1.1, tables 6.5, 6.6 and 6.53).
const messagesOfTheStandard = 24 + 13 + 19

func requireTaken(t *testing.T, typ pd.MessageType, i int, o *message.Object) {
	t.Helper()
	switch {
	case typ == pd.VendorDefined && i > 0: // here an unknown command's
	case typ == pd.VendorDefinedExtended, o.Kind == message.KindSecurity, o.Kind == message.KindFirmware:
	case o.Kind == message.KindRequest: // without an offer
	default:
		assert.Empty(t, raw[o.Kind], "object %d of %s", i+1, typ)
	}
}

// longest is a message with all that it may carry, none of it zero.
func longest(t *testing.T, set pd.OrderedSet, typ pd.MessageType) captures.Message {
	t.Helper()
	shape, ok := typ.Shape()
	require.True(t, ok, typ)
	h := pd.HeaderFields{Type: typ, Revision: pd.Revision30, PowerRole: pd.Source, DataRole: pd.DFP, Objects: shape.MaxObjects}
	var body []byte
	if typ.Class() == pd.Extended {
		h.Objects = 0
		body = binary.LittleEndian.AppendUint16(nil, uint16(shape.MaxBytes))
		for range shape.MaxBytes {
			body = append(body, 0x41)
		}
	}
	for range h.Objects {
		body = binary.LittleEndian.AppendUint32(body, 0x11111111)
	}
	return captures.Message{Set: set, Bytes: append(binary.LittleEndian.AppendUint16(nil, uint16(h.Encode())), body...)}
}
