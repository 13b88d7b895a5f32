package charger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode/charger"
	"portside/pd"
)

// worked are the offers that the standard works out itself.
var worked = []struct {
	name           string
	maximum        pd.Watts
	present        pd.Watts
	list, extended []uint32
	source         string
}{
	{"27 W", 27, 27, []uint32{fixed(5000, 3000), fixed(9000, 3000), pps(5000, 11_000, 3000)}, nil, "USB PD R3.2 V1.1, p1006"},
	{"36 W", 36, 36, []uint32{
		fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 2400), avs(2400, 0), pps(5000, 11_000, 3000), pps(5000, 16_000, 2400),
	}, nil, "USB PD R3.2 V1.1, p1006"},
	{"50 W", 50, 50, []uint32{
		fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), fixed(20_000, 2500), avs(3000, 2500), pps(5000, 16_000, 3000), pps(5000, 21_000, 2500),
	}, nil, "USB PD R3.2 V1.1, p1007"},
	{"80 W", 80, 80, []uint32{
		fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), fixed(20_000, 4000), avs(3000, 4000), pps(5000, 16_000, 3000), pps(5000, 21_000, 4000),
	}, nil, "USB PD R3.2 V1.1, p1007"},
	{"80 W at 65 W", 80, 65, []uint32{fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), fixed(20_000, 3250), avs(3000, 3250)}, nil, "USB PD R3.2 V1.1, table 10.4"},
	{"80 W at 40 W", 80, 40, []uint32{fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 2670), fixed(20_000, 2000), avs(2670, 2000)}, nil, "USB PD R3.2 V1.1, table 10.4"},
	{"40 W", 40, 40, []uint32{fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 2670), avs(2670, 0)}, nil, "USB PD R3.2 V1.1, table 10.4"},
	{"80 W at 20 W", 80, 20, []uint32{fixed(5000, 3000), fixed(9000, 2220), fixed(15_000, 1330), fixed(20_000, 1000), avs(1330, 1000)}, nil, "USB PD R3.2 V1.1, table 10.4"},
	{"40 W at 20 W", 40, 20, []uint32{fixed(5000, 3000), fixed(9000, 2220), fixed(15_000, 1330), avs(1330, 0)}, nil, "USB PD R3.2 V1.1, table 10.4"},
	{"80 W at 15 W", 80, 15, []uint32{fixed(5000, 3000), fixed(9000, 1670), fixed(15_000, 1000), fixed(20_000, 750), avs(1000, 750)}, nil, "USB PD R3.2 V1.1, table 10.4"},
	{"80 W at 15 W, the optional left out", 80, 15, []uint32{fixed(5000, 3000)}, nil, "USB PD R3.2 V1.1, table 10.4"},
	{"200 W at 108 W", 200, 108, offer140SPR, []uint32{fixed(28_000, 3860), fixed(36_000, 3000), fixed(48_000, 2250), eprAVS(48_000, 108)}, "USB PD R3.2 V1.1, table 10.14"},
	{"200 W at 72 W", 200, 72, []uint32{
		flagged(5000, 3000, pd.FixedSupply{EPRCapable: true}), fixed(9000, 3000), fixed(15_000, 3000), fixed(20_000, 3600), avs(3000, 3600),
	}, []uint32{fixed(28_000, 2570), fixed(36_000, 2000), fixed(48_000, 1500), eprAVS(48_000, 72)}, "USB PD R3.2 V1.1, table 10.14"},
	{"140 W", 140, 140, offer140SPR, offer140EPR, "USB PD R3.2 V1.1, table 10.12"},
}

func eprAVS(high pd.Millivolts, w pd.Watts) uint32 {
	return uint32(pd.EPRAVSSupply{MinVoltage: 15_000, MaxVoltage: high, PDP: w}.Encode())
}

func TestWorkedOffers(t *testing.T) {
	for _, x := range worked {
		t.Run(x.name, func(t *testing.T) {
			require.NotEmpty(t, x.source)
			r := offering(x.list...)
			r.sink(pd.GetRevision).source(pd.RevisionMessage, 0x32110000)
			r.sink(pd.GetSourceInfo).source(pd.SourceInfo, uint32(pd.SourceInfoFields{MaximumPDP: x.maximum, PresentPDP: x.present}.Encode()))
			again := append([]uint32{}, x.list...)
			again[0] ^= 1 << 27 // another offer, judged by what was said meanwhile
			r.now += 0.02
			r.source(pd.SourceCapabilities, again...).negotiate(to(1, 500, 5, 5))
			got := r.result()
			assert.Empty(t, failures(got), "%s: %s", x.source, find(t, got, "power-rule-fixed").Text)
			require.NotNil(t, got.PDPW)
			assert.InDelta(t, float64(x.maximum), *got.PDPW, 0)
			if x.extended != nil {
				got = inEPR(x.list, x.extended).result()
				assert.Empty(t, failures(got), "%s: %s", x.source, find(t, got, "power-rule-epr").Text)
				assert.Equal(t, charger.Pass, find(t, got, "power-rule-epr").Result)
			}
		})
	}
}

// TestImpliedRating reads the rating from the offer alone.
func TestImpliedRating(t *testing.T) {
	for _, x := range []struct {
		list   []uint32
		want   float64
		source string
	}{
		{offer65, 65, "USB PD R3.2 V1.1, table 10.2: 20 V 3.25 A"},
		{[]uint32{fixed(5000, 3000), fixed(9000, 2220)}, 20, "USB PD R3.2 V1.1, table 10.2: 20 / 9 is 2.22 or 2.23"},
		{[]uint32{fixed(5000, 1500)}, 7.5, "USB PD R3.2 V1.1, section 10.1: half watts below 10 W"},
		{[]uint32{fixed(5000, 3000)}, 15, "USB PD R3.2 V1.1, table 10.2"},
		{offer140SPR, 100, "USB PD R3.2 V1.1, table 10.2: an EPR source offers 100 W in SPR"},
	} {
		got := offering(x.list...).result()
		require.NotNil(t, got.PDPW, x.source)
		assert.InDelta(t, x.want, *got.PDPW, 0, x.source)
	}
	assert.Nil(t, charger.New(charger.Options{}).Finish().PDPW)
}

// TestLabel judges by the watts printed on the charger where no message states any.
func TestLabel(t *testing.T) {
	for watts, fails := range map[pd.Milliwatts]bool{0: false, 65_000: false, 100_000: false, 45_000: true, 60_000: true} {
		got := offering(offer65...).check(charger.Options{LabelPDP: watts})
		assert.Equal(t, fails, find(t, got, "power-rule-fixed").Result == charger.Fail, "%d mW: %s", watts, find(t, got, "power-rule-fixed").Text)
	}
}

// TestNearestRating: what is said against an offer goes by the rating nearest to it.
func TestNearestRating(t *testing.T) {
	for _, x := range []struct {
		list   []uint32
		want   string
		source string
	}{
		{
			[]uint32{fixed(5000, 3000), fixed(9000, 3000), fixed(15_000, 3000), fixed(20_000, 3260)},
			"object 4 offers 20 V 3.26 A where 3.25 A is due, for a source of 65 W", "USB PD R3.2 V1.1, table 10.2: 65 / 20",
		},
		{
			[]uint32{fixed(5000, 3000), fixed(9000, 2000), fixed(15_000, 3000), fixed(20_000, 3250)},
			"object 2 offers 9 V 2 A where 3 A to 5 A is due, for a source of 65 W", "USB PD R3.2 V1.1, table 10.2: above 27 W",
		},
		{
			[]uint32{fixed(5000, 3000), fixed(9000, 3000), fixed(20_000, 3250)},
			"15 V is not offered, for a source of 65 W", "USB PD R3.2 V1.1, table 10.2: above 27 W",
		},
	} {
		assert.Equal(t, x.want, find(t, offering(x.list...).result(), "power-rule-fixed").Text, x.source)
	}
}
