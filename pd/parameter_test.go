package pd_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/pd"
)

// byName finds parameters by the standard's name.
func byName(t *testing.T) map[string]pd.Parameter {
	t.Helper()
	out := map[string]pd.Parameter{}
	for p := range pd.Parameters() {
		require.NotContains(t, out, p.String())
		out[p.String()] = p
	}
	return out
}

// parameterName turns the vectors' way to write conditions into the table's.
func parameterName(name string) string {
	name = strings.TrimSuffix(name, " (relative)")
	name = strings.TrimSuffix(name, " fixed")
	for _, supply := range []string{"SPR", "EPR"} {
		if short, ok := strings.CutSuffix(name, " "+supply); ok {
			return short + " (" + supply + ")"
		}
	}
	return name
}

func TestParameterVectors(t *testing.T) {
	v := standard(t)
	known := byName(t)
	vectors := append(v.Timers, v.Electrical...)
	require.Len(t, vectors, 69+108)
	for _, want := range vectors {
		// The vectors put two parameters with the same limits into one line.
		for name := range strings.SplitSeq(want.Name, ", ") {
			name = parameterName(name)
			t.Run(name, func(t *testing.T) {
				p, ok := known[name]
				require.True(t, ok, "no parameter of that name")
				l := p.Limits(pd.Revision32)
				assertBound(t, want.Min, l.Min, want.Source)
				if name != "tUnitInterval" { // its nominal value is arithmetic: 1/300 kbit/s
					assertBound(t, want.Nom, l.Nom, want.Source)
				}
				assertBound(t, want.Max, l.Max, want.Source)
				unit, _, _ := strings.Cut(want.Unit, " ") // "V beyond vSrcNew"
				unit = strings.Split(unit, "×")[0]
				assert.True(t, strings.HasPrefix(l.Unit, unit), "%s is not %s", l.Unit, unit)
				assert.Contains(t, want.Source, l.Document)
				assert.Contains(t, want.Source, "table "+l.Table)
			})
		}
	}
}

func assertBound(t *testing.T, want bound, got pd.Bound, source string) {
	t.Helper()
	if want == nil {
		assert.False(t, got.Given, source)
		return
	}
	assert.True(t, got.Given, source)
	assert.Equal(t, *want, got.Value, source)
}

func TestCounterVectors(t *testing.T) {
	known := byName(t)
	counters := standard(t).Counters
	require.Len(t, counters, 6)
	for _, want := range counters {
		assert.Equal(t, want.Value, known[want.Name].Limits(pd.Revision3x).Nom.Value, want.Source)
	}
}

func TestValueVectors(t *testing.T) {
	have := map[string]int{
		"MaxExtendedMsgLen": pd.MaxExtendedMsgLen, "MaxExtendedMsgChunkLen": pd.MaxExtendedMsgChunkLen,
		"MaxExtendedMsgLegacyLen": pd.MaxExtendedMsgLegacyLen,
	}
	for _, want := range standard(t).Values {
		assert.Equal(t, want.Value, have[want.Name], want.Source)
	}
}

// Where R3.0 V1.1 (tables 6-53 and 6-55) or R2.0 differ from R3.2 V1.1, or R3.0 lacks the
// parameter. NaN is "not given".
func TestLimitsByRevision(t *testing.T) {
	none := math.NaN()
	tests := []struct {
		parameter pd.Parameter
		revision  pd.Revision
		min, max  float64
		document  string
		source    string
	}{
		{pd.TSenderResponse, pd.Revision20, 24, 30, "compliance", "compliance test specification Q4 2024, table 19, as quoted in a Linux patch of 2024-12"},
		{pd.TSenderResponse, pd.Revision10, 24, 30, "compliance", "as R2.0"},
		{pd.TSenderResponse, pd.Revision30, 24, 30, "R3.0 V1.1", "USB PD R3.0 V1.1, table 6-53"},
		{pd.TSenderResponse, pd.Revision31, 26, 32, "R3.1 V1.5", "USB PD R3.1 V1.5, as quoted in a comment of another firmware"},
		{pd.TSenderResponse, pd.Revision3x, 27, 33, "R3.2 V1.1", "USB PD R3.2 V1.1, table 6.68"},
		{pd.TSenderResponse, pd.RevisionReserved, 27, 33, "R3.2 V1.1", "unknown takes the newest"},
		{pd.TSenderResponse, 0, 27, 33, "R3.2 V1.1", "unknown takes the newest"},
		{pd.TRetry, pd.Revision30, none, 0.075, "R3.0 V1.1", "USB PD R3.0 V1.1, table 6-53"},
		{pd.TRetry, pd.Revision20, none, 0.075, "R3.0 V1.1", "R2.0 takes the row of R3.0"},
		{pd.TVCONNSourceOn, pd.Revision30, none, 100, "R3.0 V1.1", "USB PD R3.0 V1.1, table 6-53"},
		{pd.TVCONNSourceOn, pd.Revision32, none, 50, "R3.2 V1.1", "USB PD R3.2 V1.1, table 6.68"},
		{pd.TPPSTimeout, pd.Revision30, none, 15, "R3.0 V1.1", "USB PD R3.0 V1.1, table 6-53"},
		{pd.TSinkDelay, pd.Revision30, none, none, "R3.0 V1.1", "absent in USB PD R3.0 V1.1"},
		{pd.TEnterEPR, pd.Revision30, none, none, "R3.0 V1.1", "absent in USB PD R3.0 V1.1"},
		{pd.TEnterEPR, pd.Revision31, 450, 550, "R3.2 V1.1", "EPR came with R3.1; its table was not read"},
		{pd.TPSTransitionSPR, pd.Revision20, 450, 550, "R3.0 V1.1", "USB PD R3.0 V1.1, table 6-53"},
		{pd.TReceiverResponse, pd.Revision30, none, 15, "R3.0 V1.1", "USB PD R3.0 V1.1, table 6-53"},
		{pd.TSrcTransientLightLoad, pd.Revision30, none, 5, "R3.0 V1.1", "USB PD R3.0 V1.1: 5 ms for every load"},
		{pd.TPpsSrcTransLarge, pd.Revision30, 0, 25, "R3.0 V1.1", "USB PD R3.0 V1.1, table 7-19: one time for every step"},
		{pd.CSnkBulkPd, pd.Revision30, 1, 100, "R3.0 V1.1", "USB PD R3.0 V1.1"},
		{pd.CSnkBulk, pd.Revision30, 1, 10, "R3.0 V1.1", "USB PD R3.0 V1.1, table 7-20"},
		{pd.ISnkStdby, pd.Revision30, none, none, "R3.0 V1.1", "USB PD R3.0 V1.1 limits the power instead"},
		{pd.PSnkStdby, pd.Revision30, none, 2.5, "R3.0 V1.1", "USB PD R3.0 V1.1"},
		{pd.PSnkStdby, pd.Revision32, none, none, "R3.2 V1.1", "USB PD R3.2 V1.1 limits the current instead"},
		{pd.VSafe5V, pd.Revision20, 4.75, 5.5, "R3.2 V1.1", "no other row was read"},
	}
	for _, tt := range tests {
		t.Run(tt.parameter.String()+" "+tt.revision.String(), func(t *testing.T) {
			l := tt.parameter.Limits(tt.revision)
			assertValue(t, tt.min, l.Min)
			assertValue(t, tt.max, l.Max)
			assert.Contains(t, l.Document, tt.document, tt.source)
		})
	}
	// Linux driver constants: three tries for R2.0, two from R3.0 on.
	assert.Equal(t, 3.0, pd.NRetryCount.Limits(pd.Revision20).Nom.Value)
	assert.Equal(t, 2.0, pd.NRetryCount.Limits(pd.Revision30).Nom.Value)
	assert.Equal(t, 2.0, pd.NRetryCount.Limits(pd.Revision3x).Nom.Value)
}

func assertValue(t *testing.T, want float64, got pd.Bound) {
	t.Helper()
	assert.Equal(t, !math.IsNaN(want), got.Given)
	if got.Given {
		assert.Equal(t, want, got.Value)
	}
}

// The R3.0 column of the vectors: "same", "absent", or limits.
func TestTimersOfR30(t *testing.T) {
	known := byName(t)
	for _, want := range standard(t).Timers {
		t.Run(want.Name, func(t *testing.T) {
			now := known[parameterName(want.Name)].Limits(pd.Revision32)
			old := known[parameterName(want.Name)].Limits(pd.Revision30)
			assert.Equal(t, "USB PD R3.0 V1.1", old.Document)
			switch {
			case strings.HasPrefix(want.R30, "same"):
				assert.Equal(t, [2]pd.Bound{now.Min, now.Max}, [2]pd.Bound{old.Min, old.Max})
			case strings.HasPrefix(want.R30, "absent"):
				assert.Equal(t, [3]pd.Bound{}, [3]pd.Bound{old.Min, old.Nom, old.Max})
			default:
				assert.True(t, old.Max.Given)
			}
		})
	}
}

func TestEveryParameterIsComplete(t *testing.T) {
	n := 0
	for p := range pd.Parameters() {
		n++
		l := p.Limits(pd.Revision3x)
		assert.NotEmpty(t, l.Name, "parameter %d", p)
		assert.NotEmpty(t, l.Document, l.Name)
		if p != pd.PSnkStdby { // R3.2 has none
			assert.True(t, l.Min.Given || l.Nom.Given || l.Max.Given, l.Name)
		}
		if l.Min.Given && l.Max.Given {
			assert.LessOrEqual(t, l.Min.Value, l.Max.Value, l.Name)
		}
		if l.Nom.Given && l.Min.Given {
			assert.LessOrEqual(t, l.Min.Value, l.Nom.Value, l.Name)
			assert.LessOrEqual(t, l.Nom.Value, l.Max.Value, l.Name)
		}
	}
	assert.Greater(t, n, 220)
	assert.Equal(t, pd.Limits{}, pd.Parameter(0).Limits(pd.Revision32))
	assert.Equal(t, pd.Limits{}, pd.Parameter(60000).Limits(pd.Revision32))
	assert.Equal(t, "unknown parameter", pd.Parameter(0).String())
	for range pd.Parameters() {
		break
	}
}

// USB Type-C times (R2.1, tables 4-29 to 4-31) and levels, which no vector file holds.
func TestTypeCParameters(t *testing.T) {
	tests := []struct {
		parameter pd.Parameter
		min, max  float64
	}{
		{pd.TVBUSON, math.NaN(), 275}, {pd.TVBUSOFF, math.NaN(), 650}, {pd.TVCONNON, math.NaN(), 2},
		{pd.TVCONNONPA, math.NaN(), 100}, {pd.TVCONNOFF, math.NaN(), 35}, {pd.TSinkAdj, math.NaN(), 60},
		{pd.TDRP, 50, 100}, {pd.TDRPTransition, 0, 1}, {pd.TDRPTry, 75, 150}, {pd.TDRPTryWait, 400, 800},
		{pd.TTryTimeout, 550, 1100}, {pd.TCCDebounce, 100, 200}, {pd.TPDDebounce, 10, 20},
		{pd.TTryCCDebounce, 10, 20}, {pd.TErrorRecovery, 25, math.NaN()}, {pd.TErrorRecoveryVCONN, 240, math.NaN()},
		{pd.TRpValueChange, 10, 20}, {pd.TSRCDisconnect, 0, 20}, {pd.TSinkDisconnect, math.NaN(), 40},
		{pd.TVCONNStable, math.NaN(), 50}, {pd.IRpDefault, 64, 96}, {pd.IRp1A5, 165.6, 194.4},
		{pd.IRp3A0, 303.6, 356.4}, {pd.RRa, 800, 1200}, {pd.RRd, 4.59, 5.61}, {pd.VSinkDisconnect, 0.8, 3.67},
		{pd.VCableDropVBUS, math.NaN(), 500}, {pd.VCableDropGND, math.NaN(), 250}, {pd.RContactNew, math.NaN(), 40},
		{pd.RContactStressed, math.NaN(), 50}, {pd.VVCONNValid, 3, 5.5}, {pd.CSrcReceptacle, math.NaN(), 3000},
	}
	for _, tt := range tests {
		t.Run(tt.parameter.String(), func(t *testing.T) {
			l := tt.parameter.Limits(pd.Revision3x)
			assertValue(t, tt.min, l.Min)
			assertValue(t, tt.max, l.Max)
			assert.Contains(t, l.Document, "USB Type-C")
		})
	}
}

func TestLimitsUnits(t *testing.T) {
	l := pd.TTransmit.Limits(pd.Revision32)
	d, ok := l.MaxDuration()
	assert.True(t, ok)
	assert.Equal(t, 195*time.Microsecond, d)
	_, ok = l.MinDuration()
	assert.False(t, ok, "none given")
	d, ok = pd.TNoResponse.Limits(pd.Revision32).MinDuration()
	assert.True(t, ok)
	assert.Equal(t, 4500*time.Millisecond, d)
	d, ok = pd.TRise.Limits(pd.Revision32).MinDuration()
	assert.True(t, ok)
	assert.Equal(t, 300*time.Nanosecond, d)
	d, ok = pd.TTransitionWindow.Limits(pd.Revision32).MaxDuration()
	assert.True(t, ok)
	assert.Equal(t, 20*time.Microsecond, d)
	d, ok = pd.TSinkTx.Limits(pd.Revision32).NomDuration()
	assert.True(t, ok)
	assert.Equal(t, 18*time.Millisecond, d)
	_, ok = pd.VSafe5V.Limits(pd.Revision32).MaxDuration()
	assert.False(t, ok, "not a time")

	si := []struct {
		parameter pd.Parameter
		max       float64
		unit      string
	}{
		{pd.TSafe0V, 0.65, "s"}, {pd.VSafe0V, 0.8, "V"}, {pd.ISnkStdby, 0.5, "A"},
		{pd.CSnkBulkPd, 100e-6, "F"}, {pd.CReceiver, 600e-12, "F"}, {pd.VSrcSlewPos, 30e3, "V/s"},
		{pd.ILoadStepRate, 150e3, "A/s"}, {pd.RContactNew, 0.04, "Ω"}, {pd.RRd, 5610, "Ω"},
		{pd.IRpDefault, 96e-6, "A"}, {pd.FBitRate, 330e3, "bit/s"}, {pd.PSnkSusp, 0.025, "W"},
		{pd.VNoiseIdle, 0.3, "Vpp"},
	}
	for _, tt := range si {
		l := tt.parameter.Limits(pd.Revision32)
		assert.InEpsilon(t, tt.max, l.MaxSI(), 1e-12, l.Name)
		assert.Equal(t, tt.unit, l.SIUnit(), l.Name)
	}
	assert.Equal(t, 1e6, pd.ZBmcRx.Limits(pd.Revision32).MinSI())
	assert.Equal(t, 100e-9, pd.TRxFilter.Limits(pd.Revision32).MinSI())
	assert.True(t, math.IsNaN(pd.ZBmcRx.Limits(pd.Revision32).MaxSI()))
}

// The rows of USB PD R3.0 V1.1, R3.1 V1.5 and R3.2 V1.1 taken together.
func TestWidest(t *testing.T) {
	any3 := []pd.Revision{pd.Revision32, pd.Revision31, pd.Revision30}
	l := pd.TSenderResponse.Widest(any3...)
	assert.Equal(t, 24.0, l.Min.Value)
	assert.Equal(t, 33.0, l.Max.Value)
	assert.False(t, l.Nom.Given)
	assert.Equal(t, "USB PD R3.2 V1.1", l.Document)

	l = pd.TPPSTimeout.Widest(any3...)
	assert.False(t, l.Min.Given, "R3.0 states no minimum")
	assert.Equal(t, 15.0, l.Max.Value)

	l = pd.TEnterEPR.Widest(any3...)
	assert.Equal(t, 450.0, l.Min.Value, "R3.0 has no EPR and does not count")
	assert.Equal(t, 195e-6, pd.TRetry.Widest(pd.Revision30, pd.Revision32).MaxSI())
	assert.Equal(t, 150.0, pd.TSrcTransientLightLoad.Widest(any3...).Max.Value)
	assert.Equal(t, pd.Limits{}, pd.TRetry.Widest())
}
