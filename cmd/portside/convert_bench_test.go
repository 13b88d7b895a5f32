package main

import (
	"bytes"
	"errors"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"portside/captures"
)

// packetsOf makes a packet file of a message list.
func packetsOf(tb testing.TB, list []byte) []byte {
	tb.Helper()
	in, err := captures.Open("list", bytes.NewReader(list), captures.Options{})
	require.NoError(tb, err)
	var out bytes.Buffer
	w, err := captures.NewPacketWriter(&out, []*captures.Input{in})
	require.NoError(tb, err)
	for {
		r, err := in.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(tb, err)
		require.NoError(tb, w.Write(r, in))
	}
	require.NoError(tb, w.Close())
	return out.Bytes()
}

// BenchmarkDecodeJSONOfPackets reads, decodes and prints a million messages of
// a packet file; BenchmarkDecodeJSON holds what it is measured against.
func BenchmarkDecodeJSONOfPackets(b *testing.B) {
	const n = 1_000_000
	file := packetsOf(b, millisecondList(n))
	begun := processorTime()
	for b.Loop() {
		s := &streams{in: bytes.NewReader(file), out: io.Discard, err: io.Discard, getenv: func(string) string { return "" }}
		if status := run([]string{"decode", "--json", "-"}, s); status != 0 {
			b.Fatal(status)
		}
	}
	reportEach(b, n, begun)
}

// The same messages from either file are the same lines.
func TestPacketsDecodeAsTheListDoes(t *testing.T) {
	list := millisecondList(len(contractRows))
	require.Equal(t, decoded(t, list), decoded(t, packetsOf(t, list)))
}
