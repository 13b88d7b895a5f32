package report_test

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"portside/captures/demo"
	"portside/cmd/portside/report"
	"portside/cmd/portside/text"
	"portside/decode/charger"
	"portside/decode/draw"
	"portside/decode/negotiation"
)

// tested checks the charger of a demo.
func tested(t *testing.T, name string) *report.Tested {
	t.Helper()
	r, err := demo.Recording(name)
	require.NoError(t, err)
	c, d, n := charger.New(charger.Options{Clocks: r.Clocks()}), draw.New(draw.Options{}), negotiation.New(negotiation.Options{})
	for {
		record, err := r.Next()
		if errors.Is(err, io.EOF) {
			return &report.Tested{Page: &text.ChargerPage{Result: c.Finish(), Clock: "by 2 steps"}, Draw: d.Result(), Negotiation: n.Result()}
		}
		require.NoError(t, err)
		c.Take(record)
		if record.Sample != nil {
			d.Add(record.Sample)
		} else {
			n.Add(record.Message)
		}
	}
}

func chargerPage(t *testing.T, one, other *report.Tested) (raw, said string) {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.Charger(&b, one, other, about))
	root, err := html.Parse(bytes.NewReader(b.Bytes()))
	require.NoError(t, err)
	return b.String(), words(root)
}

// The page says the sentence first, every check, and each failure with what it does to a device.
func TestPageHoldsTheCharger(t *testing.T) {
	for _, info := range demo.List() {
		t.Run(info.Name, func(t *testing.T) {
			one := tested(t, info.Name)
			raw, said := chargerPage(t, one, nil)
			assert.Contains(t, said, text.ChargerLine(one.Page.Result))
			assert.Contains(t, said, text.Sentence(one.Page.Summary))
			for _, c := range one.Page.Checks {
				assert.Contains(t, said, c.Check)
				if c.Result == charger.NotObserved {
					assert.Contains(t, strings.ToLower(said), strings.ToLower(c.Text))
					continue
				}
				assert.Contains(t, said, strings.Join(strings.Fields(c.Source), " "))
				if c.Result == charger.Fail {
					assert.Contains(t, said, c.Effect)
				}
			}
			for _, want := range []string{about.Files[0].SHA256, about.Standard, "What was not observed is not passed."} {
				assert.Contains(t, said, want)
			}
			for _, never := range []string{"http:", "https:", "ZgotmplZ"} {
				assert.NotContains(t, raw, never)
			}
			again, _ := chargerPage(t, one, nil)
			assert.Equal(t, raw, again)
		})
	}
}

// Two chargers: the sentence, the failures and the picture of both.
func TestPageOfTwoChargers(t *testing.T) {
	one, other := tested(t, "sound-charging"), tested(t, "charger-without-power-ready")
	one.Page.Against = other.Page
	raw, said := chargerPage(t, one, other)
	for _, p := range []*text.ChargerPage{one.Page, other.Page} {
		assert.Contains(t, said, text.ChargerLine(p.Result))
		assert.Contains(t, said, text.Sentence(p.Summary))
	}
	assert.Contains(t, said, "What fails of the other charger")
	assert.Contains(t, said, "PS_RDY after the Accept never came")
	assert.Equal(t, 2, strings.Count(raw, "<svg class=\"plot\""))
}

// failing is a charger that a check was made to fail.
func failing(t *testing.T) *report.Tested {
	x := tested(t, "sound-charging")
	at := x.Draw.Sampling.StartS + 1
	for i := range x.Page.Checks {
		if c := &x.Page.Checks[i]; c.Check == "voltage-window" {
			c.Result, c.AtS, c.Text = charger.Fail, &at, "VBUS <b>high</b>"
		}
	}
	return x
}

// A failure is marked in the picture where messages and meter share a clock, and
// nowhere else.
func TestFailuresAreMarkedOnOneClock(t *testing.T) {
	for _, one := range []bool{true, false} {
		x := failing(t)
		x.OneClock = one
		raw, _ := chargerPage(t, x, nil)
		assert.Equal(t, one, strings.Contains(raw, `class="mark fault"`))
		assert.NotContains(t, raw, "<b>high</b>")
	}
}
