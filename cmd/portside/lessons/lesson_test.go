package lessons

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/bench"
	"portside/decode/draw"
	"portside/pd"
)

// No figure is typed into a lesson: each comes from the recording or from pd.
func TestProseHoldsNoFigure(t *testing.T) {
	figure := regexp.MustCompile(`[0-9]`)
	for _, p := range plans() {
		prose := p.title + p.why + p.fails
		assert.NotRegexp(t, figure, prose, p.title)
	}
}

// rawMessage finds the first message whose header has a type of the standard's
// tables 6.5 (control) and 6.6 (data), from its bytes alone.
func rawMessage(run *bench.Run, after float64, data bool, code byte) (atS, endS float64, ok bool) {
	for i := range run.Messages {
		m := &run.Messages[i]
		if m.Set != pd.SOP || len(m.Bytes) < 2 || m.At.Seconds() < after {
			continue
		}
		if objects := m.Bytes[1] >> 4 & 7; m.Bytes[0]&31 == code && (objects > 0) == data && m.Bytes[1]&0x80 == 0 {
			return m.At.Seconds(), m.End.Seconds(), true
		}
	}
	return 0, 0, false
}

// The figures of each step are those of the recording, found here from its rows
// and bytes alone.
func TestFiguresAreTheRecordings(t *testing.T) {
	for _, f := range List() {
		l, err := New(f.Name, 3)
		require.NoError(t, err, f.Name)
		run := l.Mine.Run
		last := 0.0
		for i, s := range l.Steps {
			if !s.Mine.Found {
				continue
			}
			assert.GreaterOrEqual(t, s.Mine.AtS, last, "%s: all steps belong to one attempt, in order", f.Name)
			last = s.Mine.AtS
			say := fmt.Sprintf("%s step %d", f.Name, i+1)
			if strings.Contains(s.Title, "draws") {
				i := slices.IndexFunc(l.Mine.Diagnosis.Draw.Plateaus, func(p draw.Plateau) bool { return math.Abs(p.StartS-s.Mine.AtS) < 1e-6 })
				require.GreaterOrEqual(t, i, 0, say)
				sum, n := 0.0, 0.0
				for _, row := range run.Rows {
					if at := row.At.Seconds(); at >= s.Mine.AtS-1e-6 && at <= l.Mine.Diagnosis.Draw.Plateaus[i].EndS+1e-6 {
						sum, n = sum+row.Amps, n+1
					}
				}
				assert.InDelta(t, sum/n, s.Mine.Amps, 0.02+0.05*s.Mine.Amps, say)
			}
			if i < len(l.Steps)-1 || !strings.Contains(s.Title, "draws") {
				var volts, amps float64
				for _, row := range run.Rows {
					if row.At.Seconds() > s.Mine.AtS+1e-9 {
						break
					}
					volts, amps = row.Volts, row.Amps
				}
				assert.InDelta(t, volts, s.Mine.Volts, 1e-9, say)
				assert.InDelta(t, amps, s.Mine.Amps, 1e-9, say)
			}
			if s.Mine.PeakA != nil {
				ready, _, ok := rawMessage(run, 0, false, 6)
				require.True(t, ok, say)
				peak := 0.0
				for _, row := range run.Rows {
					if row.At.Seconds() >= ready-1e-9 {
						peak = max(peak, row.Amps)
					}
				}
				assert.InDelta(t, peak, *s.Mine.PeakA, 1e-9, say)
			}
			for _, m := range []struct {
				words string
				data  bool
				code  byte
			}{{"Source_Capabilities", true, 1}, {"Request", true, 2}, {"Accept", false, 3}, {"PS_RDY", false, 6}} {
				if strings.HasPrefix(s.Mine.Words, m.words) {
					at, _, ok := rawMessage(run, 0, m.data, m.code)
					require.True(t, ok, say)
					assert.InDelta(t, at, s.Mine.AtS, 1e-6, say)
				}
			}
		}
	}
}

// The limits of a lesson are those of pd, by name; its own copy of one would
// part from it here.
func TestLimitsAreTheStandards(t *testing.T) {
	l, err := New(First, 1)
	require.NoError(t, err)
	known := map[string]pd.Limits{}
	for p := range pd.Parameters() {
		x := p.Limits(pd.Revision32)
		known[x.Name] = x
	}
	figures := regexp.MustCompile(`[0-9]+\.?[0-9]*`)
	for _, s := range l.Steps {
		require.NotEmpty(t, s.Limits, s.Title)
		for _, x := range s.Limits {
			k, ok := known[x.Name]
			require.True(t, ok, x.Name)
			require.NotEmpty(t, x.Text, x.Name)
			assert.Contains(t, x.Source, k.Document)
			scale := 1.0
			if x.Name == pd.VSrcNew.String() {
				scale = l.Mine.seen.wantV
			}
			for _, word := range figures.FindAllString(x.Text, -1) {
				v, err := strconv.ParseFloat(word, 64)
				require.NoError(t, err)
				assert.True(t, near(v, scale*k.Min.Value) || near(v, scale*k.Max.Value) || near(v, scale*k.Nom.Value), "%s: %s", x.Name, x.Text)
			}
		}
	}
}

func near(a, b float64) bool { return a-b < 1e-3*b && b-a < 1e-3*b || a == b }

// A sound power-up keeps every limit of the standard that it is held to:
// USB PD R3.2 V1.1 tables 6.68, 7.23, 7.25.
func TestSoundPowerUpKeepsTheLimits(t *testing.T) {
	for seed := range uint64(4) {
		l, err := New(First, seed)
		require.NoError(t, err)
		require.Equal(t, -1, l.PartsAt)
		require.Len(t, l.Steps, len(plans()))
		last := 0.0
		for i, s := range l.Steps {
			require.True(t, s.Mine.Found, s.Title)
			assert.GreaterOrEqual(t, s.Mine.AtS, last, s.Title)
			last = s.Mine.AtS
			if strings.HasPrefix(s.Mine.Words, "Request") || s.Mine.Words == "Accept" {
				assert.LessOrEqual(t, *s.Mine.WaitedS, 0.015, "step %d", i+1)
			}
		}
	}
}

// Where each family leaves a sound machine, by its own physics.
func TestWhereTheyPart(t *testing.T) {
	for name, title := range map[string]string{
		"dead-charger": "VBUS comes up", "open-cc": "VBUS comes up", "shorted-vbus": "VBUS comes up",
		"silent-charger": "The charger makes its offer", "dead-port-controller": "The device hears it",
		"request-never-sent": "The device asks", "charger-refuses": "The charger accepts",
		"charger-without-power-ready": "VBUS moves", "charger-too-high": "VBUS moves",
		"hard-short-main-rail": "The machine draws", "resistive-cable": "The machine draws",
	} {
		for seed := range uint64(2) {
			l, err := New(name, seed+1)
			require.NoError(t, err)
			require.GreaterOrEqual(t, l.PartsAt, 0)
			assert.Contains(t, l.Steps[l.PartsAt].Title, title, "%s seed %d", name, seed+1)
		}
	}
}

func TestNoLesson(t *testing.T) {
	_, err := New("broken-heart", 1)
	assert.ErrorIs(t, err, ErrNoLesson)
}
