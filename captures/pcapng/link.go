package pcapng

import (
	"github.com/google/gopacket"
)

// LinkType says what the packets of an interface are. The registry leaves 147
// to 162 to users.
type LinkType uint16

// Link types read here; packets of any other are passed over.
const (
	LinkMessages LinkType = 147 // USER0: PD messages, see MessagePacket
	LinkSamples  LinkType = 148 // USER1: meter samples, see SamplePacket
)

// Known reports whether packets of the link type are read.
func (l LinkType) Known() bool { return l == LinkMessages || l == LinkSamples }

// layerVersion is the first byte of every packet of both link types.
const layerVersion = 1

// Layer types for gopacket, out of the numbers it leaves to users (1000 to 1999).
var (
	LayerTypeMessagePacket = gopacket.RegisterLayerType(1147, gopacket.LayerTypeMetadata{
		Name: "PDPacket", Decoder: gopacket.DecodeFunc(decodeMessagePacket),
	})
	LayerTypeMessage = gopacket.RegisterLayerType(1148, gopacket.LayerTypeMetadata{
		Name: "PDMessage", Decoder: gopacket.DecodeFunc(decodeMessage),
	})
	LayerTypeSamplePacket = gopacket.RegisterLayerType(1149, gopacket.LayerTypeMetadata{
		Name: "MeterSample", Decoder: gopacket.DecodeFunc(decodeSamplePacket),
	})
)
