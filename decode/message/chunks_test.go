package message_test

import (
	"encoding/binary"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/message"
	"portside/pd"
)

// chunk is one packet of a chunked block, padded as it goes on the line (USB
// PD R3.2 V1.1, section 6.2.1.2).
func chunk(t pd.MessageType, block []byte, n int) pd.Message {
	part := block[min(n*26, len(block)):min(n*26+26, len(block))]
	return extended(t, pd.ExtendedHeaderFields{Chunked: true, ChunkNumber: n, DataSize: len(block)}, part, n)
}

func extended(t pd.MessageType, x pd.ExtendedHeaderFields, part []byte, id int) pd.Message {
	body := append(binary.LittleEndian.AppendUint16(nil, uint16(x.Encode())), part...)
	for x.Chunked && len(body)%4 != 0 {
		body = append(body, 0)
	}
	h := pd.HeaderFields{Type: t, MessageID: id % 8, Revision: pd.Revision3x, PowerRole: pd.Source}
	if x.Chunked {
		h.Objects = len(body) / 4
	}
	return pd.Message{Set: pd.SOP, Header: h.Encode(), Body: body}
}

func bytesOf(n int, seed byte) []byte {
	b := make([]byte, n)
	for i := range b {
		b[i] = seed + byte(i)
	}
	return b
}

// given is one packet as it is fed: from whom, when, and whether it is a repeat.
type given struct {
	p     pd.Message
	from  pd.PowerRole
	at    time.Duration
	again bool
}

// wholeBlocks feeds packets and gives every block that came together.
func wholeBlocks(list []given) (out [][]byte) {
	var c message.Chunks
	for _, g := range list {
		if part := c.Take(g.p, g.from, g.at, g.again); part.Block != nil {
			out = append(out, append([]byte{}, part.Block...))
		}
	}
	return out
}

func TestChunks(t *testing.T) {
	const info, secret = pd.ManufacturerInfo, pd.SecurityResponse
	a, b := bytesOf(30, 1), bytesOf(60, 100)
	src := func(p pd.Message) given { return given{p: p, from: pd.Source} }
	snk := func(p pd.Message) given { return given{p: p, from: pd.Sink} }
	later := func(g given, by time.Duration) given { g.at = by; return g }
	repeat := func(g given) given { g.again = true; return g }
	onPlug := func(g given) given { g.p.Set = pd.SOPPrime; return g }
	cut := func(g given) given { g.p.Body = g.p.Body[:len(g.p.Body)-4]; return g }
	other := append([]byte{}, a...)
	other[0]++
	cases := []struct {
		name   string
		in     []given
		want   [][]byte
		source string
	}{
		{"in order", []given{src(chunk(secret, a, 0)), src(chunk(secret, a, 1))}, [][]byte{a}, "USB PD R3.2 V1.1, figure 6.8"},
		{"one chunk", []given{src(chunk(info, a[:7], 0))}, [][]byte{a[:7]}, "figure 6.7"},
		{"exactly one chunk", []given{src(chunk(info, a[:26], 0))}, [][]byte{a[:26]}, "table 6.84"},
		{"unchunked", []given{src(extended(secret, pd.ExtendedHeaderFields{DataSize: 30}, a, 0))}, [][]byte{a}, "figure 6.6"},
		{"unchunked and cut short", []given{src(extended(secret, pd.ExtendedHeaderFields{DataSize: 30}, a[:20], 0))}, nil, "ours"},
		{"out of order", []given{src(chunk(secret, b, 2)), src(chunk(secret, b, 0)), src(chunk(secret, b, 1))}, [][]byte{b}, "ours"},
		{"missing", []given{src(chunk(secret, b, 0)), src(chunk(secret, b, 2))}, nil, "ours"},
		{"both directions", []given{src(chunk(secret, a, 0)), snk(chunk(secret, b, 0)), src(chunk(secret, a, 1)), snk(chunk(secret, b, 1)), snk(chunk(secret, b, 2))}, [][]byte{a, b}, "ours"},
		{"two sets", []given{src(chunk(secret, a, 0)), onPlug(src(chunk(secret, other, 0))), onPlug(src(chunk(secret, other, 1))), src(chunk(secret, a, 1))}, [][]byte{other, a}, "ours"},
		{"two messages of one sender", []given{src(chunk(secret, a, 0)), src(chunk(info, b, 0)), src(chunk(secret, a, 1)), src(chunk(info, b, 1)), src(chunk(info, b, 2))}, [][]byte{a, b}, "ours"},
		{"a repeat inside", []given{src(chunk(secret, b, 0)), repeat(src(chunk(secret, b, 0))), src(chunk(secret, b, 1)), src(chunk(secret, b, 2))}, [][]byte{b}, "section 6.7.1"},
		{"a repeat of the last", []given{src(chunk(secret, a, 0)), src(chunk(secret, a, 1)), repeat(src(chunk(secret, a, 1)))}, [][]byte{a, a}, "section 6.7.1"},
		{"the same block once more", []given{src(chunk(secret, a, 0)), src(chunk(secret, a, 1)), src(chunk(secret, a, 0)), src(chunk(secret, a, 1))}, [][]byte{a, a}, "ours"},
		{"halves of two blocks", []given{src(chunk(secret, a, 0)), src(chunk(secret, other, 0)), src(chunk(secret, other, 1))}, [][]byte{other}, "ours"},
		{"another Data Size", []given{src(chunk(secret, a, 0)), src(chunk(secret, b, 1))}, nil, "section 6.2.1.2.4"},
		{"long after", []given{src(chunk(secret, a, 0)), later(src(chunk(secret, a, 1)), 5*time.Second)}, nil, "ours"},
		{"a chunk cut short", []given{src(chunk(secret, a, 0)), cut(src(chunk(secret, a, 1)))}, nil, "ours"},
		{"the largest", []given{
			src(chunk(secret, bytesOf(260, 3), 0)), src(chunk(secret, bytesOf(260, 3), 1)), src(chunk(secret, bytesOf(260, 3), 2)), src(chunk(secret, bytesOf(260, 3), 3)), src(chunk(secret, bytesOf(260, 3), 4)),
			src(chunk(secret, bytesOf(260, 3), 5)), src(chunk(secret, bytesOf(260, 3), 6)), src(chunk(secret, bytesOf(260, 3), 7)), src(chunk(secret, bytesOf(260, 3), 8)), src(chunk(secret, bytesOf(260, 3), 9)),
		}, [][]byte{bytesOf(260, 3)}, "table 6.84"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			require.NotEmpty(t, c.source)
			assert.Equal(t, c.want, wholeBlocks(c.in))
		})
	}
}

// TestChunksTellWhatIsMissing: a block that will never be whole is told once.
func TestChunksTellWhatIsMissing(t *testing.T) {
	var c message.Chunks
	b := bytesOf(60, 1)
	got := c.Take(chunk(pd.SecurityResponse, b, 0), pd.Source, 0, false)
	assert.Equal(t, 1, got.Missing)
	got = c.Take(chunk(pd.SecurityResponse, b, 2), pd.Source, 0, false)
	assert.Equal(t, 1, got.Missing)
	got = c.Take(chunk(pd.SecurityResponse, bytesOf(30, 9), 0), pd.Source, 0, false)
	assert.Equal(t, pd.SecurityResponse, got.Abandoned)
	assert.Equal(t, 1, got.Lost)
	got = c.Take(chunk(pd.SecurityResponse, bytesOf(30, 9), 1), pd.Source, 0, false)
	assert.Zero(t, got.Abandoned)
	assert.Equal(t, bytesOf(30, 9), got.Block)
	assert.Equal(t, -1, got.Missing)
}

// TestChunksInAnyOrder: every order of the chunks of a block gives the block,
// once, at its last chunk, with another block under way the other way.
func TestChunksInAnyOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var c message.Chunks
	for range 2000 {
		size := 27 + rng.IntN(pd.MaxExtendedMsgLen-26)
		block := make([]byte, size)
		for i := range block {
			block[i] = byte(rng.Uint32())
		}
		n := (size + 25) / 26
		for done, i := range rng.Perm(n) {
			c.Take(chunk(pd.SecurityRequest, bytesOf(200, byte(i)), rng.IntN(8)), pd.Sink, 0, false)
			part := c.Take(chunk(pd.SecurityResponse, block, i), pd.Source, 0, false)
			if done < n-1 {
				require.Nil(t, part.Block)
				continue
			}
			require.Equal(t, block, part.Block)
		}
	}
}

// FuzzChunks feeds packets made of the input; a block that comes out must have
// been in the packets, part by part.
func FuzzChunks(f *testing.F) {
	f.Add([]byte{0x24, 0x80, 1, 2, 3, 4, 0x24, 0x88, 5, 6}, []byte{0, 1})
	f.Add([]byte{0x07, 0x80, 1, 2, 3, 4, 5, 6, 7}, []byte{0})
	f.Fuzz(func(t *testing.T, data, who []byte) {
		var c message.Chunks
		sent := map[string]bool{}
		for i := 0; len(data) >= 2; i++ {
			n := min(len(data), 2+min(28, len(data)-2))
			h := pd.HeaderFields{Type: pd.MessageType(pd.SecurityResponse), Objects: (n + 3) / 4}.Encode()
			p := pd.Message{Set: pd.OrderedSet(len(who) % 9), Header: h, Body: data[:n]}
			data = data[n:]
			from := pd.PowerRole(0)
			if i < len(who) {
				from = pd.PowerRole(who[i] % 4)
			}
			sent[string(p.Block())] = true
			part := c.Take(p, from, time.Duration(i)*time.Millisecond, len(who) > i && who[i] > 127)
			for at := 0; at < len(part.Block); at += 26 {
				piece := part.Block[at:min(at+26, len(part.Block))]
				if !sent[string(part.Block)] && !sent[string(piece)] {
					t.Fatalf("bytes %d of the block were never sent", at)
				}
			}
			if part.Block != nil && part.Missing >= 0 {
				t.Fatal("whole and not whole")
			}
		}
	})
}
