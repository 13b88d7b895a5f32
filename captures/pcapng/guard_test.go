package pcapng

import (
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Parts of files, little-endian, written by hand from
// draft-ietf-opsawg-pcapng, sections 4.1 to 4.4.
const (
	section  = "0a0d0d0a 1c000000 4d3c2b1a 01000000 ffffffffffffffff 1c000000\n"
	messages = "01000000 14000000 93000000 00000400 14000000\n"
	samples  = "01000000 14000000 94000000 00000000 14000000\n"
	// good is a Ping by SOP at 1 us; 40 bytes.
	good = "06000000 28000000 00000000 00000000 01000000 06000000 06000000 01000000 4100 0000 28000000\n"
)

// Where a packet stands after section and one interface.
const afterHead = 28 + 20

func TestDamageIsToldWithItsOffsetAndPassed(t *testing.T) {
	for name, tt := range map[string]struct {
		bad     string // between two good packets
		damage  string // "" where it is passed over without a word
		skipped bool
	}{
		"unknown version":         {"06000000 28000000 00000000 00000000 02000000 06000000 06000000 02000000 4100 0000 28000000", "a packet has an unknown version: expected 1, found 2", true},
		"unknown ordered set":     {"06000000 28000000 00000000 00000000 02000000 06000000 06000000 01070000 4100 0000 28000000", "a packet has an unknown ordered set: expected 0 to 6, found 7", true},
		"no room for a header":    {"06000000 28000000 00000000 00000000 02000000 05000000 05000000 01000000 4100 0000 28000000", "a packet has too few bytes: expected 6 bytes or more, found 5", true},
		"CRC without a header":    {"06000000 28000000 00000000 00000000 02000000 08000000 08000000 01000100 41000102 28000000", "a packet has too few bytes: expected 10 bytes or more, found 8", true},
		"nothing in it":           {"06000000 20000000 00000000 00000000 02000000 00000000 00000000 20000000", "a packet has too few bytes: expected 4 bytes or more, found 0", true},
		"unknown interface":       {"06000000 20000000 01000000 00000000 02000000 00000000 00000000 20000000", "a packet of interface 1; the section has described 1", true},
		"longer than its block":   {"06000000 24000000 00000000 00000000 02000000 05000000 05000000 01000000 24000000", "a packet of 5 bytes in a block with room for 4", true},
		"longer than any number":  {"06000000 24000000 00000000 00000000 02000000 ffffffff ffffffff 01000000 24000000", "a packet of 4294967295 bytes in a block with room for 4", true},
		"a block too short":       {"06000000 1c000000 00000000 00000000 02000000 00000000 1c000000", "expected a packet block of 32 bytes or more, found one that claims 28", true},
		"time out of range":       {"06000000 28000000 00000000 ffffffff ffffffff 06000000 06000000 01000000 4100 0000 28000000", "the time stamp is out of range", true},
		"no time stamp":           {"03000000 18000000 06000000 01000000 41000000 18000000", "a Simple Packet Block has no time stamp", true},
		"a block of another type": {"efbeadde 0c000000 0c000000", "", false},
		"names, section 4.5":      {"04000000 10000000 00000000 10000000", "", false},
		"statistics cut short":    {"05000000 14000000 00000000 00000000 14000000", "", false},
	} {
		packets, damage, _, err := readAll(blocks(t, section+messages+good+tt.bad+"\n"+good))
		assert.ErrorIs(t, err, io.EOF, name)
		assert.Len(t, packets, 2, name)
		if tt.damage == "" {
			assert.Empty(t, damage, name)
			continue
		}
		require.Len(t, damage, 1, name)
		assert.Equal(t, Damage{Offset: afterHead + 40, Skipped: tt.skipped, Text: tt.damage}, damage[0], name)
	}
}

func TestTheTwoLengthsOfABlock(t *testing.T) {
	odd := strings.Replace(good, "28000000\n", "2c000000\n", 1)
	packets, damage, _, err := readAll(blocks(t, section+messages+odd+good))
	assert.ErrorIs(t, err, io.EOF)
	assert.Len(t, packets, 2)
	assert.Equal(t, []Damage{{Offset: afterHead, Text: "the block claims 40 bytes at its start and 44 at its end"}}, damage)
}

func TestOtherLinkTypesArePassedOver(t *testing.T) {
	// 403 is 147 + 256: eight bits of it are not enough to tell.
	const wide = "01000000 14000000 93010000 00000000 14000000\n"
	other := strings.Replace(good, "28000000 00000000", "28000000 01000000", 1)
	packets, damage, r, err := readAll(blocks(t, section+messages+wide+other+good))
	assert.ErrorIs(t, err, io.EOF)
	assert.Len(t, packets, 1)
	assert.Empty(t, damage)
	assert.Equal(t, LinkType(403), r.Interfaces()[1].Link)
}

func TestAFileEndsWhereItsBlocksCannotBeWalked(t *testing.T) {
	for name, tt := range map[string]struct{ tail, want string }{
		"past the end":            {"06000000 00000080 00000000 00000000", "a packet block claims 28 bytes, 16 are left in the file"},
		"past the end, of a body": {"06000000 34000000 00000000 00000000 02000000 06000000 06000000 01000000", "a block claims 52 bytes, 32 are left in the file"},
		"past the end, unknown":   {"efbeadde f0ffffff 00000000", "a block claims 4294967280 bytes, 12 are left in the file"},
		"cut header":              {"06000000 28", "expected the 12 bytes that begin a block, found 5 at the end of the file"},
		"no length":               {"06000000 00000000 00000000", "expected a block of 12 bytes or more in steps of four, found one of type 0x00000006 that claims 0"},
		"odd length":              {"06000000 29000000 00000000", "expected a block of 12 bytes or more in steps of four, found one of type 0x00000006 that claims 41"},
		"a section without order": {"0a0d0d0a 1c000000 4d3c2b1b", "expected the byte-order magic 0x1A2B3C4D of a section, found 4D 3C 2B 1B"},
		"a section too short":     {"0a0d0d0a 18000000 4d3c2b1a 01000000 ffffffff 18000000 00000000", "expected a section header of 28 bytes or more, found one that claims 24"},
	} {
		packets, _, _, err := readAll(blocks(t, section+messages+good+tt.tail))
		assert.Len(t, packets, 1, name)
		var broken *BrokenError
		require.ErrorAs(t, err, &broken, name)
		assert.Equal(t, BrokenError{Offset: afterHead + 40, Text: tt.want}, *broken, name)
	}
}

// A prefix of a file gives a prefix of its packets, and says that it broke.
func TestCutAnywhere(t *testing.T) {
	for _, name := range []string{"little.hex", "big.hex"} {
		whole := file(t, name)
		want, _, _, _ := readAll(whole)
		for n := range whole {
			packets, damage, _, err := readAll(whole[:n])
			require.Error(t, err)
			assert.Empty(t, damage)
			assert.Equal(t, want[:len(packets)], append([]seen{}, packets...), "%s cut at %d", name, n)
		}
	}
}

func TestSections(t *testing.T) {
	// Section 4.1: 2 is to be read as 0; another major version is not read.
	minor2 := strings.Replace(section, "01000000", "01000200", 1)
	major2 := strings.Replace(section, "01000000", "02000000", 1)
	const bigSection = "0a0d0d0a 0000001c 1a2b3c4d 00010000 ffffffffffffffff 0000001c\n"
	const bigMessages = "00000001 00000014 00930000 00040000 00000014\n"
	const bigGood = "00000006 00000028 00000000 00000000 00000001 00000006 00000006 01000000 4100 0000 00000028\n"

	packets, damage, _, err := readAll(blocks(t, minor2+messages+good+bigSection+bigMessages+bigGood+section+samples))
	assert.ErrorIs(t, err, io.EOF)
	require.Len(t, packets, 2, "interfaces are counted anew, in the order of the section")
	assert.Equal(t, packets[0], packets[1])
	assert.Empty(t, damage)

	packets, damage, _, err = readAll(blocks(t, major2+messages+good+section+messages+good))
	assert.ErrorIs(t, err, io.EOF)
	assert.Len(t, packets, 1)
	assert.Equal(t, []Damage{{Text: "a section of version 2.0 is passed over; expected 1.0"}}, damage)

	_, _, _, err = readAll(blocks(t, major2+messages+good))
	var format *FormatError
	assert.ErrorAs(t, err, &format)

	packets, damage, _, err = readAll(blocks(t, section+messages+section+good))
	assert.ErrorIs(t, err, io.EOF)
	assert.Empty(t, packets)
	assert.Equal(t, []Damage{{Offset: 76, Skipped: true, Text: "a packet of interface 0; the section has described 0"}}, damage)
}

// An interface whose clock cannot be known gives no packets: a time is never
// guessed.
func TestInterfacesWithoutAClock(t *testing.T) {
	for name, tt := range map[string]struct{ block, want string }{
		"option past the end": {"01000000 1c000000 93000000 00000000 0200 ff00 43433100 1c000000", "option 2 claims 255 bytes, 4 are left"},
		"stray bytes":         {"01000000 18000000 93000000 00000000 0900 0100 18000000", "option 9 claims 1 bytes, 0 are left"},
		"if_tsresol":          {"01000000 1c000000 93000000 00000000 0900 0200 06000000 1c000000", "expected one byte of if_tsresol, found 2"},
		"if_tsoffset":         {"01000000 1c000000 93000000 00000000 0e00 0400 01000000 1c000000", "expected eight bytes of if_tsoffset, found 4"},
	} {
		packets, damage, _, err := readAll(blocks(t, section+tt.block+"\n"+good))
		assert.ErrorIs(t, err, io.EOF, name)
		assert.Empty(t, packets, name)
		require.Len(t, damage, 1, name)
		assert.Contains(t, damage[0].Text, tt.want, name)
		assert.Equal(t, int64(28), damage[0].Offset, name)
	}
}

// The obsolete Packet Block (appendix A) has a 16-bit interface and a count of
// drops in one word; this one stands for a reset at 2 us after 7 drops.
func TestObsoletePacketBlock(t *testing.T) {
	const old = "02000000 24000000 0000 0700 00000000 02000000 04000000 04000000 01060000 24000000\n"
	packets, damage, _, err := readAll(blocks(t, section+messages+old))
	assert.ErrorIs(t, err, io.EOF)
	assert.Empty(t, damage)
	require.Len(t, packets, 1)
	assert.Equal(t, "Cable_Reset", packets[0].Set.String())
	assert.EqualValues(t, 2000, packets[0].At)
}

// Of a packet that the recorder cut short the last bytes are no CRC.
func TestCutPacket(t *testing.T) {
	const cut = "06000000 2c000000 00000000 00000000 02000000 0a000000 12000000 01000100 a1112c910108 0000 2c000000\n"
	packets, damage, _, err := readAll(blocks(t, section+messages+cut))
	assert.ErrorIs(t, err, io.EOF)
	assert.Empty(t, damage)
	require.Len(t, packets, 1)
	assert.Equal(t, 8, packets[0].Cut)
	assert.Equal(t, "a1112c910108", packets[0].Data)
	assert.Empty(t, packets[0].CRC)
}

// Section 4.6: isb_ifdrop is option 5, isb_osdrop option 7; the latest count.
func TestPacketsThatTheRecorderLost(t *testing.T) {
	const first = "05000000 28000000 00000000 00000000 05000000 0500 0800 0300000000000000 00000000 28000000\n"
	const then = "05000000 34000000 00000000 00000000 06000000 0500 0800 0900000000000000 0700 0800 0100000000000000 00000000 34000000\n"
	_, damage, r, err := readAll(blocks(t, section+messages+good+first+then))
	assert.ErrorIs(t, err, io.EOF)
	assert.Empty(t, damage)
	assert.EqualValues(t, 10, r.Interfaces()[0].Lost())
}

func TestCRCFoundWrong(t *testing.T) {
	wrong := strings.Replace(good, "01000000 4100", "01000200 4100", 1)
	packets, _, _, _ := readAll(blocks(t, section+messages+wrong))
	require.Len(t, packets, 1)
	assert.True(t, packets[0].CRCWrong)
	assert.Empty(t, packets[0].CRC)
}

// large is a block of 300,000 bytes: more than is read at once.
func large(t *testing.T, start string) string {
	t.Helper()
	const length = "e0930400"
	start = strings.ReplaceAll(start, "LENGTH", length)
	rest := 300_000 - len(blocks(t, start)) - 4
	return start + strings.Repeat("00", rest) + length + "\n"
}

// Blocks of any length are walked over; what is lost with them is told.
func TestLargeBlocks(t *testing.T) {
	for name, tt := range map[string]struct{ file, want string }{
		"section":     {large(t, "0a0d0d0a LENGTH 4d3c2b1a 01000000 ffffffffffffffff") + messages + good, "the 299972 bytes of options of a section are left out"},
		"interface":   {section + messages + large(t, "01000000 LENGTH 93000000 00000000") + good, "an interface description of 300000 bytes cannot be read; its packets are left out"},
		"packet":      {section + messages + large(t, "06000000 LENGTH 00000000 00000000 01000000 c0930400 c0930400 01000000") + good, "a packet block of 300000 bytes; expected 262144 or fewer"},
		"statistics":  {section + messages + large(t, "05000000 LENGTH 00000000") + good, ""},
		"other":       {section + messages + large(t, "efbeadde LENGTH") + good, ""},
		"pcap record": {pcapHead + "01000000 00000000 e0930400 e0930400" + strings.Repeat("00", 300_000) + "01000000 20a10700 06000000 06000000 01000000 4100", "a packet of 300000 bytes; expected 262128 or fewer"},
	} {
		packets, damage, _, err := readAll(blocks(t, tt.file))
		assert.ErrorIs(t, err, io.EOF, name)
		assert.Len(t, packets, 1, name)
		if tt.want == "" {
			assert.Empty(t, damage, name)
			continue
		}
		require.Len(t, damage, 1, name)
		assert.Equal(t, tt.want, damage[0].Text, name)
	}
}
