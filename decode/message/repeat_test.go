package message

import (
	"encoding/hex"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/pd"
)

// A retry follows within tReceive and tRetry (1.1 ms and 195 us: USB PD R3.2 V1.1 table 6.68),
// and where the other side speaks in between, from the end of that: one of two may speak at a
// time (section 5.7).
func TestRepeats(t *testing.T) {
	const offer, request, other = "61412c9101082cd102002cb1040045410600", "421045150541", "821045150551"
	type said struct {
		atMS  float64
		from  pd.PowerRole
		bytes string
		again bool
	}
	for _, c := range []struct {
		name string
		said []said
	}{
		{"after 1 ms", []said{{0, pd.Sink, request, false}, {1.6, pd.Sink, request, true}}},
		{"after 2 ms", []said{{0, pd.Sink, request, false}, {2.6, pd.Sink, request, false}}},
		{"after 2 ms, and the source has repeated its offer", []said{
			{0.7, pd.Source, offer, false}, {1.9, pd.Sink, request, false}, {2.6, pd.Source, offer, true}, {4.3, pd.Sink, request, true}, {5.9, pd.Sink, request, true},
		}},
		{"the source spoke too late to put it off", []said{{0.05, pd.Sink, request, false}, {2.05, pd.Source, offer, false}, {3.45, pd.Sink, request, false}}},
		{"another Request", []said{{0, pd.Sink, request, false}, {0.8, pd.Source, offer, false}, {2.2, pd.Sink, other, false}}},
	} {
		r := NewRepeats()
		r.Acknowledge(pd.SOP, pd.Sink, 7) // the recorder shows what is acknowledged
		for _, s := range c.said {
			b, err := hex.DecodeString(s.bytes)
			require.NoError(t, err)
			at := time.Duration(s.atMS * float64(time.Millisecond))
			m := &captures.Message{At: at, Set: pd.SOP, Bytes: b}
			assert.Equal(t, s.again, r.See(m, s.from, at+600*time.Microsecond), "%s: at %g ms", c.name, s.atMS)
		}
	}
}
