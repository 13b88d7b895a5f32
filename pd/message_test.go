package pd_test

import (
	"encoding/binary"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

func TestFrames(t *testing.T) {
	frames := standard(t).Phy.Frames
	require.NotEmpty(t, frames)
	for _, f := range frames {
		t.Run(f.Name, func(t *testing.T) {
			payload := unhex(t, f.Payload)
			m, err := pd.ParseMessage(orderedSetOf(t, f.OrderedSet), payload)
			require.NoError(t, err, f.Source)
			assert.Equal(t, parseWord(t, f.CRC), pd.CRC(payload), f.Source)
			assert.Equal(t, unhex(t, f.CRCWire), pd.AppendCRC(payload)[len(payload):], f.Source)
			assert.True(t, pd.CheckCRC(payload, [4]byte(unhex(t, f.CRCWire))))
			assert.Equal(t, pd.CRCResidual, pd.CRC(pd.AppendCRC(payload)))

			symbols := m.AppendSymbols(nil)
			var names []string
			for _, s := range symbols {
				names = append(names, s.String())
			}
			assert.Equal(t, f.Symbols, strings.Join(names, " "), f.Source)
			assert.Equal(t, f.Bits, lineBits(symbols), f.Source)
			assert.Equal(t, f.Total, m.LineBits(), f.Source)
		})
	}
}

// The worked value of USB PD R3.2 V1.1, appendix A.1: payload bytes 01 01.
func TestCRCOfTheStandard(t *testing.T) {
	assert.Equal(t, uint32(0x2FC51328), pd.CRC([]byte{0x01, 0x01}))
	assert.True(t, pd.CheckCRC([]byte{0x01, 0x01}, [4]byte{0x28, 0x13, 0xC5, 0x2F}))
	assert.False(t, pd.CheckCRC([]byte{0x01, 0x21}, [4]byte{0x28, 0x13, 0xC5, 0x2F}))
}

// The register of USB PD R3.2 V1.1, section 5.6.2, bit by bit: the residual is C704DD7Bh
// after data and CRC.
func TestCRCResidualOfTheStandard(t *testing.T) {
	register := uint32(0xFFFFFFFF)
	for _, b := range pd.AppendCRC([]byte{0x82, 0x10, 0x45, 0x15, 0x05, 0x43}) {
		for i := range 8 {
			feedback := register>>31 ^ uint32(b>>i&1)
			register <<= 1
			if feedback == 1 {
				register ^= 0x04C11DB7
			}
		}
	}
	assert.Equal(t, uint32(0xC704DD7B), register)
}

func TestAirTime(t *testing.T) {
	for _, v := range standard(t).Phy.Airtime {
		t.Run(v.Name, func(t *testing.T) {
			shortest, nominal, longest := pd.AirTime(v.Bits)
			tenth := float64(100 * time.Nanosecond)
			assert.InDelta(t, v.Min*1e3, float64(shortest), tenth, v.Source)
			assert.InDelta(t, v.Nom*1e3, float64(nominal), tenth, v.Source)
			assert.InDelta(t, v.Max*1e3, float64(longest), tenth, v.Source)
		})
	}
	assert.Equal(t, 84, pd.Message{Set: pd.HardReset}.LineBits())
}

func TestRecordedMessages(t *testing.T) {
	for _, v := range recorded(t).Messages {
		if v.Bytes == nil {
			continue
		}
		t.Run(v.Meaning, func(t *testing.T) {
			require.NotEmpty(t, v.Source)
			b := unhex(t, *v.Bytes)
			set, ok := pd.ParseOrderedSet(v.SOP)
			require.True(t, ok)
			m, err := pd.ParseMessage(set, b)
			assert.Equal(t, b, m.Bytes())
			assert.Equal(t, v.Type, m.Type().String(), v.Source)
			if v.CRC != nil {
				assert.Equal(t, *v.CRCOK, pd.CheckCRC(b, [4]byte(unhex(t, *v.CRC))), v.Source)
			}
			if v.CRCOK == nil || *v.CRCOK {
				assert.NoError(t, err, v.Source)
			}
		})
	}
}

// 28, 36 and 48 V at 5 A in the second chunk of a recorded EPR_Source_Capabilities.
func TestExtendedMessageBlock(t *testing.T) {
	m, err := pd.ParseMessage(pd.SOP, unhex(t, "B1CF28880000F4C11800F4411B00F4011F00"))
	require.NoError(t, err)
	x, ok := m.ExtendedHeader()
	require.True(t, ok)
	assert.Equal(t, pd.ExtendedHeader(0x8828), x)
	assert.Equal(t, unhex(t, "0000F4C11800F4411B00F4011F00"), m.Block())
	assert.Zero(t, m.NumObjects(), "an extended message has a block, not objects")
}

// USB PD R3.2 V1.1, section 6.5.15.1, wants the number of objects of the SPR message in the
// header of the EPR capabilities, here 5, against its own chunk rule, which gives 4: both
// are taken, by the Data Size.
func TestEPRCapabilitiesCountByDataSize(t *testing.T) {
	chunk := unhex(t, "B1CF28880000F4C11800F4411B00F4011F00")
	objects := func(b []byte) (n int) {
		m, err := pd.ParseMessage(pd.SOP, b)
		require.NoError(t, err)
		for range pd.BlockObjects(m.Block()) {
			n++
		}
		return n
	}
	assert.Equal(t, 3, objects(chunk))
	chunk[1] = 0xDF
	assert.Equal(t, 5, pd.Header(0xDFB1).Objects())
	assert.Equal(t, 3, objects(chunk))
	_, err := pd.ParseMessage(pd.SOP, chunk[:len(chunk)-4])
	assert.Error(t, err)
}

// A joined block: the SPR objects with unused positions zero, 28 V at position 8 (USB PD
// R3.2 V1.1, section 6.5.15.1), and a byte of no object.
func TestBlockObjects(t *testing.T) {
	var block []byte
	want := []uint32{0x0981912C, 0x0002D12C, 0x0004B12C, 0x000641F4, 0, 0, 0, 0x0008C1F4, 0xD230968C}
	for _, o := range want {
		block = binary.LittleEndian.AppendUint32(block, o)
	}
	var got []uint32
	for _, o := range pd.BlockObjects(append(block, 0xAA)) {
		got = append(got, o)
	}
	assert.Equal(t, want, got)
	for range pd.BlockObjects(block) {
		break
	}
}

func TestBlockLeavesPaddingOut(t *testing.T) {
	// Extended_Control of EPR_KeepAlive_Ack, two bytes of data (USB PD R3.2 V1.1, tables
	// 6.66 and 6.67), here with a byte of padding that is not zero.
	m, err := pd.ParseMessage(pd.SOP, unhex(t, "B09502800400"))
	require.NoError(t, err)
	assert.Equal(t, []byte{0x04, 0x00}, m.Block())
	m, err = pd.ParseMessage(pd.SOP, unhex(t, "B095018004EE"))
	require.NoError(t, err)
	assert.Equal(t, []byte{0x04}, m.Block())
}

func TestParseMessageLengths(t *testing.T) {
	// Lengths follow USB PD R3.2 V1.1, section 6.2.1; the damaged ones are cut by hand.
	tests := []struct {
		name                  string
		set                   pd.OrderedSet
		hex                   string
		expected, found       int // objects
		wantBytes, foundBytes int
		objects               int // whole ones kept
		text                  string
	}{
		{"object missing", pd.SOP, "61412C910108", 4, 1, 16, 4, 1, "header 0x4161 announces 4 data objects, 1 follow"},
		{"object cut", pd.SOP, "82102CB104", 1, 0, 4, 3, 0, "header 0x1082 announces 1 data objects, 0 follow"},
		{"bytes left over", pd.SOP, "A30300", 0, 0, 0, 1, 0, "header 0x03A3 announces 0 bytes, 1 follow"},
		{"object left over", pd.SOP, "A3032CB10420", 0, 1, 0, 4, 1, "header 0x03A3 announces 0 data objects, 1 follow"},
		{"extended header missing", pd.SOP, "A282", 0, 0, 2, 0, 0, "header 0x82A2 announces 2 bytes, 0 follow"},
		{"unchunked block cut", pd.SOP, "A2820700AABB", 2, 1, 9, 4, 0, "header 0x82A2 announces 9 bytes, 4 follow"},
		{"chunk cut", pd.SOP, "A2B20780AABB", 3, 1, 12, 4, 0, "header 0xB2A2 announces 12 bytes, 4 follow"},
		{"reset with bytes", pd.HardReset, "A303", 0, 0, 0, 2, 0, "header 0x0000 announces 0 bytes, 2 follow"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m, err := pd.ParseMessage(tt.set, unhex(t, tt.hex))
			var e *pd.LengthError
			require.ErrorAs(t, err, &e)
			assert.Equal(t, tt.expected, e.ExpectedObjects)
			assert.Equal(t, tt.found, e.FoundObjects)
			assert.Equal(t, tt.wantBytes, e.ExpectedBytes)
			assert.Equal(t, tt.foundBytes, e.FoundBytes)
			assert.Equal(t, tt.objects, m.NumObjects())
			assert.Equal(t, tt.text, e.Error())
			assert.Equal(t, unhex(t, tt.hex), m.Bytes(), "nothing is lost")
		})
	}
	for _, short := range [][]byte{nil, {0x01}} {
		_, err := pd.ParseMessage(pd.SOP, short)
		assert.ErrorIs(t, err, pd.ErrNoHeader)
	}
	m, err := pd.ParseMessage(pd.HardReset, nil)
	assert.NoError(t, err)
	assert.Empty(t, m.Bytes())
}

func TestMessageObjects(t *testing.T) {
	m := pd.NewMessage(pd.SOP, pd.HeaderFields{Type: pd.SourceCapabilities, Revision: pd.Revision3x, PowerRole: pd.Source, DataRole: pd.DFP},
		0x0801912C, 0x0002D12C)
	assert.Equal(t, 2, m.Header.Objects())
	assert.Equal(t, uint32(0x0002D12C), m.Object(1))
	var got []uint32
	for _, o := range m.Objects() {
		got = append(got, o)
	}
	assert.Equal(t, []uint32{0x0801912C, 0x0002D12C}, got)
	for range m.Objects() {
		break
	}
	back, err := pd.ParseMessage(pd.SOP, m.Bytes())
	require.NoError(t, err)
	assert.Equal(t, m, back)
	assert.Panics(t, func() { m.Object(2) })
}

func TestMessageRolesBySet(t *testing.T) {
	// USB PD R3.2 V1.1, table 6.1: bit 8 is a power role on SOP, Cable Plug to a cable.
	port := pd.Message{Set: pd.SOP, Header: 0x01A1}
	assert.Equal(t, pd.Source, port.PowerRole())
	assert.Equal(t, pd.DFP, port.DataRole())
	_, ok := port.CablePlug()
	assert.False(t, ok)

	plug := pd.Message{Set: pd.SOPPrime, Header: 0x558F}
	assert.Zero(t, plug.PowerRole())
	assert.Zero(t, plug.DataRole())
	is, ok := plug.CablePlug()
	assert.True(t, is && ok)
	assert.Equal(t, "unknown", plug.PowerRole().String())
}
