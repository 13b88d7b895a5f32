package charger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/charger"
	"portside/pd"
)

// TestVBUSAheadOfALateStamp: the sink's own software stamps an Accept up to 5 ms late
// (recorded logs), and VBUS may have followed it by then. A rise that no Accept explains
// in that time fails.
func TestVBUSAheadOfALateStamp(t *testing.T) {
	for late, want := range map[time.Duration][]string{4500 * time.Microsecond: {}, 50 * time.Millisecond: {"pps-voltage"}} {
		r := newRig()
		r.by, r.acks, r.ends = captures.SinkItself, false, false
		inPPS(r)
		r.now += 1
		r.set["settle"] = 0.001
		r.negotiate(r.toPPS(5, 10_720, 2000, 9))
		accept := &r.out[len(r.out)-2]
		p, err := pd.ParseMessage(accept.Set, accept.Bytes)
		require.NoError(t, err)
		require.Equal(t, pd.Accept, p.Type())
		accept.At += late
		assert.Subset(t, failures(r.check(charger.Options{})), want, "%s late", late)
		if len(want) == 0 {
			assert.Empty(t, failures(r.check(charger.Options{})))
		}
	}
}
