// Package pcapng reads and writes packet files that hold the messages of a CC
// line and the samples of a meter: pcapng (draft-ietf-opsawg-pcapng) and the
// classic pcap (draft-ietf-opsawg-pcap).
//
// No link type is registered for USB Power Delivery, so the ones that the
// registry leaves to users carry it: [LinkMessages] for messages and
// [LinkSamples] for samples. What their packets look like stands at
// [MessagePacket] and [SamplePacket], which are decoding layers of gopacket.
//
// [Reader] walks a file, [Writer] writes one. The blocks themselves are read
// and written by gopacket; what stands between the file and that library, and
// why, is told at the type guard.
package pcapng
