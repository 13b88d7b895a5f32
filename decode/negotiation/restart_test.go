package negotiation_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// offeredAgain goes on, with no reset and no note of VBUS, to a second contract
// of 20 V.
func (s *script) offeredAgain() *script {
	return s.wait(4*time.Second).source(pd.SourceCapabilities, offers65...).
		wait(5*ms).sink(pd.Request, ask(4, 3250)).
		wait(5 * ms).source(pd.Accept).wait(170 * ms).source(pd.PSRDY)
}

// MessageIDs count to 7 and then from 0, and from 0 after a reset or an attach:
// USB PD R3.2 V1.1 section 6.7.1.
func TestBothSidesBeginAnew(t *testing.T) {
	for _, v := range variants {
		t.Run(v.name, func(t *testing.T) {
			s := v.make()
			s.agreed()
			s.ids = [3]int{}
			s.offeredAgain()
			s.ids = [3]int{}
			s.offeredAgain()
			r := run(s.out)
			require.Len(t, r.Contracts, 3)
			assert.Equal(t, "restart", r.Contracts[0].EndedBy)
			assert.Equal(t, "restart", r.Contracts[1].EndedBy)
			assert.Nil(t, r.Contracts[2].EndS)
			assert.Zero(t, r.HardResets+r.SoftResets)
		})
	}
}

// An offer inside a contract renews it where the count goes on, also past 7,
// and where the source alone began anew nothing is concluded.
func TestOfferInsideAContractIsNoRestart(t *testing.T) {
	ids := map[string]func(*script){
		"the count goes on": func(*script) {},
		"the count wraps":   func(s *script) { s.ids = [3]int{0, 0, 0}; s.sourceAt(8) },
		"only the source's": func(s *script) { s.ids[pd.Source] = 0 },
		"only the sink's":   func(s *script) { s.ids[pd.Sink] = 0 },
	}
	for name, prepare := range ids {
		t.Run(name, func(t *testing.T) {
			s := variants[0].make()
			s.agreed()
			prepare(s)
			s.offeredAgain()
			for _, c := range run(s.out).Contracts {
				assert.NotEqual(t, "restart", c.EndedBy)
			}
		})
	}
}

// sourceAt lets both sides talk until their counts stand at n.
func (s *script) sourceAt(n int) {
	s.ids = [3]int{}
	s.ids[pd.Source], s.ids[pd.Sink] = 3, 1
	for s.ids[pd.Source] != n%8 || s.ids[pd.Sink] != n%8 {
		if s.ids[pd.Source] != n%8 {
			s.wait(20 * ms).source(pd.Ping)
		}
		if s.ids[pd.Sink] != n%8 {
			s.wait(20 * ms).sink(pd.GetStatus)
		}
	}
}
