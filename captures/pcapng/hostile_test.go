package pcapng

import (
	"bytes"
	"errors"
	"io"
	"runtime"
	"strings"
	"testing"

	"github.com/google/gopacket/pcapgo"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// repeated gives head and then body n times.
func repeated(head, body []byte, n int) io.Reader {
	return io.MultiReader(bytes.NewReader(head), &repeater{body: body, left: n})
}

type repeater struct {
	body []byte
	at   int
	left int
}

func (r *repeater) Read(p []byte) (n int, err error) {
	for n < len(p) && r.left > 0 {
		m := copy(p[n:], r.body[r.at:])
		n += m
		if r.at += m; r.at == len(r.body) {
			r.at = 0
			r.left--
		}
	}
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

// memory gives the bytes allocated while f runs, and those still held after it.
func memory(f func()) (allocated, held int64) {
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	f()
	runtime.GC()
	runtime.ReadMemStats(&after)
	return int64(after.TotalAlloc - before.TotalAlloc), int64(after.HeapAlloc) - int64(before.HeapAlloc)
}

// walked reads a file to its end and gives the numbers of packets and pieces
// of damage.
func walked(t *testing.T, src io.Reader) (r *Reader, packets, damaged int, err error) {
	t.Helper()
	r, err = NewReader(src, func(Damage) { damaged++ })
	for err == nil {
		if _, err = r.Next(); err == nil {
			packets++
		}
	}
	return r, packets, damaged, err
}

// pcapHead is a classic file of messages that claims packets of 4 GiB
// (draft-ietf-opsawg-pcap, section 4).
const pcapHead = "d4c3b2a1 02000400 00000000 00000000 ffffffff 93000000\n"

// What a file claims costs nothing: each of these claims gigabytes.
func TestClaimsCostNothing(t *testing.T) {
	greedy := strings.Replace(messages, "00000400", "ffffffff", 1) // snap length
	options := func(option string) string {
		return "01000000 20000000 93000000 00000000 " + option + " 00000000 20000000\n"
	}
	for name, hex := range map[string]string{
		"packet of 1 GiB":             section + messages + "06000000 20000040 00000000 00000000 02000000 00000040 00000040 01000000",
		"packet of 64 MiB in 36":      section + messages + "06000000 24000000 00000000 00000000 02000000 00000004 00000004 01000000 24000000",
		"old packet of 64 MiB in 36":  section + messages + "02000000 24000000 00000000 00000000 02000000 00000004 00000004 01000000 24000000",
		"packet block of 4 GiB":       section + messages + "06000000 f0ffffff 00000000 00000000 02000000 d0ffffff d0ffffff 01000000",
		"simple packet of 2 GiB":      section + messages + "03000000 10000080 ffffff7f 01000000",
		"old packet of 2 GiB":         section + messages + "02000000 20000080 00000000 00000000 02000000 ffffff7f ffffff7f 01000000",
		"snap length of 4 GiB":        section + greedy + good,
		"interface of 2 GiB":          section + "01000000 00000080 93000000 00000000 0200ff00",
		"section of 4 GiB":            "0a0d0d0a fcffffff 4d3c2b1a 01000000 ffffffffffffffff 0100ffff",
		"option that wraps":           section + options("0100 ffff 61626364") + good,
		"resolution of 10^-127":       section + options("0900 0100 7f000000") + good,
		"resolution of 2^-127":        section + options("0900 0100 ff000000") + good,
		"resolution of 10^-64":        section + options("0900 0100 40000000") + good,
		"pcap of 4 GiB a packet":      pcapHead + "01000000 00000000 06000000 06000000 01000000 4100",
		"pcap, a packet of 2 GiB":     pcapHead + "01000000 00000000 ffffff7f ffffff7f 01000000 4100",
		"pcap, a packet of 4 GiB":     pcapHead + "01000000 00000000 ffffffff ffffffff 01000000 4100",
		"statistics that claim 4 GiB": section + messages + "05000000 fcffffff 00000000 00000000 05000000",
	} {
		data := blocks(t, hex)
		allocated, _ := memory(func() {
			_, _, _, err := walked(t, bytes.NewReader(data))
			assert.Error(t, err, name)
		})
		assert.Less(t, allocated, int64(2<<20), name)
	}
}

// The library alone takes a claim at its word. When this no longer fails, the
// guard has one reason less.
func TestTheLibraryAloneTakesAClaimAtItsWord(t *testing.T) {
	data := blocks(t, section+messages+"06000000 20000004 00000000 00000000 02000000 00000004 00000004 01000000")
	allocated, _ := memory(func() {
		r, err := pcapgo.NewNgReader(bytes.NewReader(data), pcapgo.NgReaderOptions{WantMixedLinkType: true})
		require.NoError(t, err)
		_, _, err = r.ZeroCopyReadPacketData()
		assert.Error(t, err)
	})
	assert.Greater(t, allocated, int64(60<<20))
}

// Endless files hold no more memory than short ones.
func TestEndlessFilesHoldNoMemory(t *testing.T) {
	comment := append(blocks(t, "0100 00f0"), make([]byte, 0xF000)...)
	length := []byte{byte(28 + len(comment)), byte((28 + len(comment)) >> 8), 0, 0}
	commented := bytes.Join([][]byte{
		blocks(t, "0a0d0d0a"), length, blocks(t, "4d3c2b1a 01000000 ffffffffffffffff"), comment, length,
	}, nil)
	named := bytes.Join([][]byte{blocks(t, "01000000"), length20(length), blocks(t, "93000000 00000000"), comment, length20(length)}, nil)
	for name, src := range map[string]io.Reader{
		"named interfaces":  repeated(blocks(t, section), named, 1000),
		"interfaces":        repeated(blocks(t, section), blocks(t, messages), 500_000),
		"sections":          repeated(nil, blocks(t, section+messages+good), 300_000),
		"comments":          repeated(nil, commented, 500),
		"damaged packets":   repeated(blocks(t, section+messages), blocks(t, strings.Replace(good, "01000000 4100", "02000000 4100", 1)), 500_000),
		"unknown blocks":    repeated(blocks(t, section), blocks(t, "efbeadde 10000000 00000000 10000000"), 1_000_000),
		"statistics":        repeated(blocks(t, section+messages), blocks(t, "05000000 18000000 00000000 00000000 05000000 18000000"), 500_000),
		"records of a pcap": repeated(blocks(t, pcapHead), blocks(t, "01000000 00000000 06000000 06000000 01000000 4100"), 500_000),
	} {
		var kept *Reader
		_, held := memory(func() {
			var err error
			kept, _, _, err = walked(t, src)
			assert.ErrorIs(t, err, io.EOF, name)
		})
		assert.Less(t, held, int64(2<<20), name)
		runtime.KeepAlive(kept)
	}
}

// What is met a million times is told once.
func TestTooManyInterfacesAreToldOnce(t *testing.T) {
	_, packets, damaged, err := walked(t, repeated(blocks(t, section), blocks(t, messages), 5000))
	assert.ErrorIs(t, err, io.EOF)
	assert.Zero(t, packets)
	assert.Equal(t, 1, damaged)
}

// length20 turns the length of a section into that of an interface.
func length20(of28 []byte) []byte {
	return append([]byte{of28[0] - 8}, of28[1:]...)
}

// A source that fails is told as it failed.
func TestErrorsOfTheSource(t *testing.T) {
	boom := errors.New("boom")
	data := blocks(t, section+messages+good+good)
	for n := SniffLen; n < len(data); n++ {
		_, _, _, err := walked(t, io.MultiReader(bytes.NewReader(data[:n]), failing{boom}))
		assert.ErrorIs(t, err, boom, "%d bytes", n)
	}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

// No allocation per packet.
func TestReadingAllocatesNothingPerPacket(t *testing.T) {
	r, err := NewReader(repeated(blocks(t, section+messages+samples), blocks(t, good+
		"06000000 34000000 01000000 00000000 00105e5f 14000000 14000000 01000000 0000000000001440 000000000000d03f 34000000"), 10_000),
		func(d Damage) { t.Error(d) })
	require.NoError(t, err)
	_, err = r.Next()
	require.NoError(t, err)
	assert.Zero(t, testing.AllocsPerRun(5000, func() {
		if _, err := r.Next(); err != nil {
			t.Error(err)
		}
	}))
}
