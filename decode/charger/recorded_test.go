package charger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures"
	"portside/decode/charger"
	"portside/testdata/negotiations"
)

// recordedFails are the failures on recorded negotiations, each by the clause it
// breaks.
var recordedFails = map[string][]string{
	// The log of this sink does not print the header of its Request, and the reader
	// rebuilds it with revision 2.0. Against that the Accept 0x03A3, which says 3.x, breaks
	// USB PD R3.2 V1.1, section 6.2.1.1.5: the lower revision of offer and Request holds
	// until detach or Hard Reset. With the source's own revision in the rebuilt header
	// nothing fails: see below.
	"late-listener-a": {"revision-kept"},
}

func TestRecordedNegotiations(t *testing.T) {
	all, err := negotiations.Read()
	require.NoError(t, err)
	require.NotEmpty(t, all)
	verdicts := map[charger.Verdict]int{}
	for _, n := range all {
		for _, vbus := range []bool{true, false} {
			list, err := n.Messages(vbus)
			require.NoError(t, err)
			want := recordedFails[n.ID]
			if want == nil {
				want = []string{}
			}
			r := checkRecorded(list)
			verdicts[r.Verdict]++
			assert.Equal(t, want, failures(r), n.ID)
			for _, c := range r.Checks {
				assert.NotEqual(t, charger.Pass, map[string]charger.Outcome{"goodcrc-time": c.Result, "retry-time": c.Result}[c.Check],
					"%s: %s of software stamps", n.ID, c.Check)
			}
			sameRevision(list)
			assert.Empty(t, failures(checkRecorded(list)), n.ID)
		}
	}
	assert.Positive(t, verdicts[charger.WithinStandard])
	assert.Positive(t, verdicts[charger.NotEnoughEvidence])
}

func checkRecorded(list []negotiations.Message) *charger.Result {
	c := charger.New(charger.Options{})
	for i := range list {
		c.Message(&list[i].Message)
	}
	return c.Finish()
}

// sameRevision gives rebuilt headers the revision of the last header that was logged.
func sameRevision(list []negotiations.Message) {
	const revisionBits = 0xC0 // USB PD R3.2 V1.1, table 6.1, bits 7 and 6
	var last byte
	for i := range list {
		m := &list[i]
		if m.Marker != captures.NoMarker || len(m.Bytes) < 2 {
			continue
		}
		if !m.Reconstructed {
			last = m.Bytes[0] & revisionBits
		} else if last != 0 {
			m.Bytes[0] = m.Bytes[0]&^revisionBits | last
		}
	}
}
