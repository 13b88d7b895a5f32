package pcapng

import (
	"testing"

	"github.com/google/gopacket"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// The library's own tools take packets apart with the layers.
func TestLayersWorkWithTheLibrary(t *testing.T) {
	data := blocks(t, "01000100 a1112c910108 e8a6f73f")
	packet := gopacket.NewPacket(data, LayerTypeMessagePacket, gopacket.Default)
	require.Nil(t, packet.ErrorLayer())
	outer, ok := packet.Layer(LayerTypeMessagePacket).(*MessagePacket)
	require.True(t, ok)
	assert.Equal(t, pd.SOP, outer.Set)
	assert.True(t, pd.CheckCRC(outer.LayerPayload(), outer.CRC))
	inner, ok := packet.Layer(LayerTypeMessage).(*Message)
	require.True(t, ok)
	assert.Equal(t, pd.SourceCapabilities, inner.PD.Type())
	assert.NoError(t, inner.Mismatch)

	reset := gopacket.NewPacket(blocks(t, "01050000"), LayerTypeMessagePacket, gopacket.Default)
	assert.Nil(t, reset.ErrorLayer())
	assert.Nil(t, reset.Layer(LayerTypeMessage))

	sample := gopacket.NewPacket(blocks(t, "01000000 0000000000001440 000000000000d03f"), LayerTypeSamplePacket, gopacket.Default)
	read, ok := sample.Layer(LayerTypeSamplePacket).(*SamplePacket)
	require.True(t, ok)
	assert.Equal(t, 5.0, read.Volts)
	assert.Equal(t, 0.25, read.Amps)

	for _, bad := range []string{"", "02000000 4100", "01070000 4100", "01000000 41", "01000100 4100 0000"} {
		packet := gopacket.NewPacket(blocks(t, bad), LayerTypeMessagePacket, gopacket.NoCopy)
		assert.NotNil(t, packet.ErrorLayer(), bad)
	}
}

// Without allocation, into layers that are used again.
func TestLayersDecodeInPlace(t *testing.T) {
	var outer MessagePacket
	var inner Message
	parser := gopacket.NewDecodingLayerParser(LayerTypeMessagePacket, &outer, &inner)
	var decoded []gopacket.LayerType
	inner.Set = pd.SOP
	data := blocks(t, "01000100 a1112c910108 e8a6f73f")
	require.NoError(t, parser.DecodeLayers(data, &decoded))
	assert.Equal(t, []gopacket.LayerType{LayerTypeMessagePacket, LayerTypeMessage}, decoded)
	assert.Equal(t, 1, inner.PD.NumObjects())
	assert.False(t, parser.Truncated)
	assert.Zero(t, testing.AllocsPerRun(100, func() { _ = parser.DecodeLayers(data, &decoded) }))

	// A message whose header announces more is kept, and told as cut.
	require.NoError(t, parser.DecodeLayers(blocks(t, "01000000 a1112c91"), &decoded))
	assert.True(t, parser.Truncated)
	var length *pd.LengthError
	assert.ErrorAs(t, inner.Mismatch, &length)
}

// Every packet that can be written reads back, and gives the same bytes again.
func TestPacketsReadBack(t *testing.T) {
	for set := pd.SOP; set <= pd.CableReset; set++ {
		for flags := range 4 {
			p := MessagePacket{Set: set, HasCRC: flags&1 != 0, CRCWrong: flags&2 != 0}
			data := []byte{0x41, 0x00}
			if set.IsReset() {
				p.HasCRC, data = false, nil
			}
			if p.HasCRC {
				p.CRC = [4]byte{1, 2, 3, 4}
			}
			wire := p.AppendTo(nil, data)
			var back MessagePacket
			require.NoError(t, back.DecodeFromBytes(wire, gopacket.NilDecodeFeedback))
			assert.Equal(t, string(data), string(back.LayerPayload()))
			assert.Equal(t, wire, back.AppendTo(nil, back.LayerPayload()))
			back.contents, back.payload = nil, nil
			assert.Equal(t, p, back)
		}
	}
}
