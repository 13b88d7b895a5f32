package line_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/captures/line"
	decode "portside/decode/line"
)

var update = flag.Bool("update", false, "write the recording in testdata/line anew")

const conversationFile = "../../testdata/line/conversation.vcd"

// conversation is the recording in testdata/line: see the README there.
func conversation() []byte {
	c := newTalker()
	c.say(100_000, true, offerOf(0), 60)
	c.say(5000, false, append(headerOf(reqType, 1, 0, false), 0x2c, 0xb1, 0x04, 0x13), 60)
	c.say(5000, true, headerOf(accept, 0, 1, true), 60)
	c.by(false)
	damaged := []byte(bitsOf("SOP", headerOf(accept, 0, 2, false)))
	copy(damaged[109:], "00000")
	c.put(3000, string(damaged))
	c.by(true)
	c.put(3000, bitsOf("Hard_Reset", nil))
	var b bytes.Buffer
	b.WriteString("$timescale 1 us $end\n$scope module probe $end\n$var wire 1 ! cc $end\n$var wire 1 \" aux $end\n$upscope $end\n$enddefinitions $end\n#0\n")
	last := int64(-1)
	for _, e := range c.events {
		if at := e.At.Microseconds(); at != last {
			fmt.Fprintf(&b, "#%d\n", at)
			last = at
		}
		fmt.Fprintf(&b, "%d!\n", e.Level-line.Low)
	}
	fmt.Fprintf(&b, "#%d\n", last+5000)
	return b.Bytes()
}

// TestConversation reads the recording as the program does.
func TestConversation(t *testing.T) {
	if *update {
		require.NoError(t, os.WriteFile(conversationFile, conversation(), 0o600))
	}
	file, err := os.ReadFile(conversationFile)
	require.NoError(t, err)
	require.Equal(t, string(conversation()), string(file), "the file and what makes it")
	frames := 0
	in, err := captures.Open("x", bytes.NewReader(file), captures.Options{Line: func(signals []line.Signal) captures.LineDecoder {
		return decode.NewMessages(signals, func(f *decode.Frame) {
			frames++
			assert.Len(t, f.Picture.Bits, f.Bits)
		})
	}})
	require.NoError(t, err)
	var got []string
	for {
		r, err := in.Next()
		if err != nil {
			break
		}
		m := r.Message
		got = append(got, fmt.Sprintf("%s %x %t %q", m.Set, m.Bytes, m.Damaged(), m.Broken))
	}
	assert.Equal(t, []string{
		`SOP a1112c910108 false ""`, `SOP 8100 false ""`,
		`SOP 82102cb10413 false ""`, `SOP a101 false ""`,
		`SOP a303 false ""`, `SOP 8102 false ""`,
		`SOP 8304 true "five bits that are no symbol of data"`,
		`Hard_Reset  false ""`,
	}, got)
	assert.Equal(t, 8, frames)
}
