package pcapng

import (
	"encoding/binary"
	"fmt"
	"math"

	"github.com/google/gopacket"
)

// SamplePacket is a packet of [LinkSamples]:
//
//	byte 0        version, 1
//	bytes 1 to 3  zero
//	bytes 4, 12   VBUS in volts and current in amperes, positive into the device,
//	              each an IEEE 754 binary64, little-endian; a NaN is a gap
type SamplePacket struct {
	Volts, Amps float64
	contents    []byte
}

const (
	voltsAt      = 4
	ampsAt       = 12
	sampleLength = 20
)

// LayerType is [LayerTypeSamplePacket].
func (s *SamplePacket) LayerType() gopacket.LayerType { return LayerTypeSamplePacket }

// LayerContents is the whole packet.
func (s *SamplePacket) LayerContents() []byte { return s.contents }

// LayerPayload is empty.
func (s *SamplePacket) LayerPayload() []byte { return nil }

// CanDecode makes the layer a gopacket.DecodingLayer.
func (s *SamplePacket) CanDecode() gopacket.LayerClass { return LayerTypeSamplePacket }

// NextLayerType is none.
func (s *SamplePacket) NextLayerType() gopacket.LayerType { return gopacket.LayerTypeZero }

// DecodeFromBytes takes one packet. Its error is [ErrVersion] or [ErrShort],
// wrapped with what was found. Bytes after the current are left to later
// versions.
func (s *SamplePacket) DecodeFromBytes(data []byte, df gopacket.DecodeFeedback) error {
	if len(data) < sampleLength {
		df.SetTruncated()
		return fmt.Errorf("%w: expected %d bytes, found %d", ErrShort, sampleLength, len(data))
	}
	if data[0] != layerVersion {
		return fmt.Errorf("%w: expected %d, found %d", ErrVersion, layerVersion, data[0])
	}
	s.Volts = math.Float64frombits(binary.LittleEndian.Uint64(data[voltsAt:]))
	s.Amps = math.Float64frombits(binary.LittleEndian.Uint64(data[ampsAt:]))
	s.contents = data
	return nil
}

// AppendTo appends the packet to b.
func (s *SamplePacket) AppendTo(b []byte) []byte {
	b = append(b, layerVersion, 0, 0, 0)
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(s.Volts))
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(s.Amps))
}

func decodeSamplePacket(data []byte, b gopacket.PacketBuilder) error {
	s := &SamplePacket{}
	if err := s.DecodeFromBytes(data, b); err != nil {
		return err
	}
	b.AddLayer(s)
	return nil
}
