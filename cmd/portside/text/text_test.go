package text

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/decode"
	"portside/decode/draw"
	"portside/decode/location"
	"portside/decode/rules"
)

func TestSafeShowsWhatCouldSteer(t *testing.T) {
	cases := map[string]string{
		"plain text":            "plain text",
		"Ω µ 漢":                 "Ω µ 漢",
		"\x1b[31mred":           `\x1b[31mred`,
		"a\nb\tc":               `a\nb\tc`,
		"\r\x00\x7f":            `\x0d\x00\x7f`,
		"\u009b31m":             `\u009b31m`, // a one-byte escape of old terminals
		"\u202egnp":             `\u202egnp`, // right-to-left override
		"\u2066x\u2069":         `\u2066x\u2069`,
		"\ufeffx":               `\ufeffx`,
		"\xff\xc3":              `\xff\xc3`,
		"\U000e0041":            `\U000e0041`, // invisible tag
		"\u2028":                `\u2028`,
		"already \\x1b spelled": `already \x1b spelled`,
	}
	for in, want := range cases {
		assert.Equal(t, want, Safe(in), "%q", in)
	}
}

func FuzzSafe(f *testing.F) {
	for _, s := range []string{"", "a", "\x1b]0;title\a", "\u202e", "\xff", "漢\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		safe := Safe(s)
		for _, r := range safe {
			if !unicode.IsPrint(r) {
				t.Fatalf("%q keeps %q", s, r)
			}
		}
		if Safe(safe) != safe {
			t.Fatalf("%q changes twice", s)
		}
	})
}

func FuzzWrap(f *testing.F) {
	f.Add("one two three", 5)
	f.Add("averyverylongword", 4)
	f.Add("漢字かな kana", 3)
	f.Fuzz(func(t *testing.T, s string, width int) {
		if width < 2 || width > 200 {
			return
		}
		s = Safe(s)
		lines := wrap(s, width)
		if len(lines) == 0 {
			t.Fatal("no line")
		}
		for _, line := range lines {
			if columns(line) > width && len([]rune(line)) > 1 && columns(cut(line, width)) <= width && cut(line, width) != line {
				t.Fatalf("%q is wider than %d", line, width)
			}
		}
		if got, want := strings.Join(strings.Fields(strings.Join(lines, "")), ""), strings.Join(strings.Fields(s), ""); got != want {
			t.Fatalf("%q became %q", want, got)
		}
	})
}

func TestLetters(t *testing.T) {
	assert.Equal(t, []string{"a", "z", "aa", "az", "ba"}, []string{letterAt(0), letterAt(25), letterAt(26), letterAt(51), letterAt(52)})
}

func TestPercentNeverClaimsMoreThanItHas(t *testing.T) {
	for p, want := range map[float64]string{0: "0 %", 0.001: "<1 %", 0.5: "50 %", 0.996: ">99 %", 1: "100 %"} {
		assert.Equal(t, want, percent(p))
	}
}

func TestVerdictLine(t *testing.T) {
	all := map[rules.Location]float64{rules.BeforePort: 0.02, rules.AtPort: 0.42, rules.BehindPort: 0.54, rules.Healthy: 0.02}
	cases := []struct {
		v    location.Verdict
		want string
	}{
		{location.Verdict{Location: rules.Undetermined, Locations: all, Open: []rules.Location{rules.BehindPort, rules.AtPort}}, "BEHIND THE PORT (54 %) or AT THE PORT (42 %): not settled yet."},
		{location.Verdict{Location: rules.AtPort, Probability: 0.7}, "AT THE PORT: likely (70 %)."},
		{location.Verdict{Location: rules.BeforePort, Probability: 0.9}, "BEFORE THE PORT: very likely (90 %)."},
		{location.Verdict{Location: rules.Healthy, Probability: 0.999}, "HEALTHY: all but certain (>99 %)."},
	}
	for _, c := range cases {
		assert.Equal(t, c.want, verdictLine(&c.v))
	}
}

func TestFigures(t *testing.T) {
	for want, v := range map[string]float64{"0 A": 0, "4.00 mA": 0.004, "0.52 A": 0.52, "20.1 A": 20.1, "580 uA": 0.00058, "47.0 kA": 47000, "-2.00 mA": -0.002} {
		assert.Equal(t, want, figure(&v, "A"))
	}
	assert.Equal(t, "?", figure(nil, "A"))
	nan := math.NaN()
	assert.Equal(t, "?", figure(&nan, "A"))
}

// plot draws one panel of a made-up trace and gives its rows.
func plot(t *testing.T, trace []draw.Bin, gaps []draw.Gap, look Look) []string {
	t.Helper()
	var out bytes.Buffer
	p := newPage(&out, look)
	p.picture(&decode.Diagnosis{Draw: &draw.Result{Trace: trace, Gaps: gaps}}, nil)
	require.NoError(t, p.close())
	return strings.Split(out.String(), "\n")
}

func flat(from, to, step, v float64) []draw.Bin {
	var out []draw.Bin
	for s := from; s < to; s += step {
		out = append(out, draw.Bin{StartS: s, EndS: s, MinV: v, MaxV: v, MinA: 0, MaxA: 0, N: 1})
	}
	return out
}

// One sample of ten thousand is still on the picture, in every look.
func TestPictureKeepsTheExtreme(t *testing.T) {
	for _, look := range []Look{{}, {Unicode: true}, {Width: 50}} {
		trace := flat(0, 1000, 0.1, 5)
		trace[7777].MaxV = 20
		rows := plot(t, trace, nil, look)
		assert.Contains(t, rows[2], "highest 20.0 V")
		assert.NotEmpty(t, strings.TrimSpace(string([]rune(rows[4])[axisWidth:])), "the second row from the top: %q", rows[4])
	}
}

func TestPictureLeavesAGapOpen(t *testing.T) {
	trace := append(flat(0, 40, 1, 5), flat(60, 100, 1, 5)...)
	open := plot(t, trace, []draw.Gap{{StartS: 39, EndS: 60}}, Look{})
	joined := plot(t, trace, nil, Look{})
	find := func(rows []string) string {
		for _, r := range rows {
			if strings.Contains(r, "---") {
				return r[strings.Index(r, "-"):]
			}
		}
		return ""
	}
	assert.Contains(t, find(open), "    ", "the gap")
	assert.NotContains(t, find(joined), " ", "samples far apart are joined")
}

func TestPictureOfOneSample(t *testing.T) {
	assert.NotPanics(t, func() { plot(t, flat(3, 3.5, 1, 5), nil, Look{}) })
}

func TestPictureWithoutCurrent(t *testing.T) {
	trace := flat(0, 10, 1, 5)
	for i := range trace {
		trace[i].MinA, trace[i].MaxA = math.NaN(), math.NaN()
	}
	assert.Contains(t, strings.Join(plot(t, trace, nil, Look{}), "\n"), "The log has no current.")
}

func TestNarrowScreens(t *testing.T) {
	for _, width := range []int{20, 40, 60, 200} {
		for i, line := range strings.Split(print80(t, short20V(), Look{Width: width}), "\n") {
			if strings.Contains(line, "|") {
				continue // the picture and its scale
			}
			assert.LessOrEqual(t, columns(line), max(width, minWidth)+20, "line %d: %s", i+1, line)
		}
	}
}

// Whatever a file or a path says, the page holds no control characters.
func TestHostileTextIsShown(t *testing.T) {
	const evil = "\x1b[2J\u202e\r\n\x00"
	d := short20V()
	d.Verdict.Summary += evil
	d.Inputs[0].Path += evil
	d.Inputs[0].Problems[0].Text += evil
	d.Inputs[0].Notes[0] += evil
	d.Findings[0].Text += evil
	d.Findings[1].Input = &d.Inputs[0].Path
	d.Suspects[0].Why += evil
	d.Next[0].Test += evil
	d.Next[0].Expect[rules.AtPort] += evil
	*d.Next[0].Caution += evil
	d.Locate[0].Step += evil
	d.NotSeen[0] += evil
	d.Clocks[0].Path += evil
	for _, look := range []Look{{}, {Unicode: true}} {
		for _, r := range print80(t, d, look) {
			require.True(t, r == '\n' || unicode.IsPrint(r), "%q", r)
		}
	}
}

// A figure at the end of a line takes its unit along.
func TestFiguresKeepTheirUnit(t *testing.T) {
	for s, want := range map[string][]string{
		"an offer of 15 V 3 A, and so on": {"an offer of", "15 V 3 A,", "and so on"},
		"max 450 to 550 ms: kept":         {"max 450 to", "550 ms: kept"},
		"object 2 of 11":                  {"object 2 of", "11"},
		"(up to 12.5 W)":                  {"(up to", "12.5 W)"},
		"<1 %":                            {"<1 %"},
	} {
		assert.Equal(t, want, wrap(s, 12), s)
	}
}
