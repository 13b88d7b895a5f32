package report_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"portside/captures"
	"portside/captures/demo"
	"portside/cmd/portside/report"
	"portside/cmd/portside/text"
	"portside/decode"
	"portside/decode/compare"
)

var about = report.About{
	Version: "0.1.0", Standard: "USB Power Delivery R3.2 V1.1",
	Files: []report.File{{Name: "meter.csv", SHA256: strings.Repeat("a", 64), Bytes: 12}},
}

func diagnosed(t *testing.T, name string) *decode.Diagnosis {
	t.Helper()
	r, err := demo.Recording(name)
	require.NoError(t, err)
	e := decode.NewEngine(decode.Options{})
	for {
		record, err := r.Next()
		if errors.Is(err, io.EOF) {
			return e.Diagnose(r.Stats(), r.Clocks())
		}
		require.NoError(t, err)
		e.Take(record)
	}
}

func page(t *testing.T, d *decode.Diagnosis) (raw string, root *html.Node) {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.Diagnosis(&b, report.Recorded{Diagnosis: d}, "portside diagnose meter.csv", about))
	root, err := html.Parse(bytes.NewReader(b.Bytes()))
	require.NoError(t, err)
	return b.String(), root
}

// each visits every element below n.
func each(n *html.Node, visit func(*html.Node)) {
	if n.Type == html.ElementNode {
		visit(n)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		each(c, visit)
	}
}

func words(n *html.Node) string {
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.TextNode {
			b.WriteString(n.Data + " ")
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(n)
	return strings.Join(strings.Fields(b.String()), " ")
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

// The page of every demo recording says what the diagnosis says.
func TestPageHoldsTheDiagnosis(t *testing.T) {
	for _, info := range demo.List() {
		t.Run(info.Name, func(t *testing.T) {
			d := diagnosed(t, info.Name)
			raw, root := page(t, d)
			said := words(root)
			assert.Contains(t, strings.ToLower(said), strings.ToLower(d.Verdict.Summary))
			for _, f := range d.Findings {
				assert.Contains(t, strings.ToLower(said), strings.ToLower(strings.Join(strings.Fields(f.Text), " ")))
			}
			if len(d.Next) > 0 {
				assert.Contains(t, said, d.Next[0].Test)
			}
			for _, f := range about.Files {
				assert.Contains(t, said, f.SHA256)
			}
			assert.NotContains(t, raw, "http:")
			assert.NotContains(t, raw, "https:")
			assert.NotContains(t, raw, "ZgotmplZ")
			assert.Less(t, len(raw), 2<<20)
			again, _ := page(t, d)
			assert.Equal(t, raw, again, "the same diagnosis gives the same bytes")
		})
	}
}

// WCAG 2.2 and the HTML standard, as far as parsing shows them.
func TestPageStructure(t *testing.T) {
	_, root := page(t, diagnosed(t, "hard-short-main-rail"))
	var headings []int
	ids := map[string]bool{}
	title := ""
	each(root, func(n *html.Node) {
		if id := attr(n, "id"); id != "" {
			assert.False(t, ids[id], "id %s twice", id)
			ids[id] = true
		}
		for _, a := range n.Attr {
			assert.False(t, strings.HasPrefix(a.Key, "on"), "%s %s", n.Data, a.Key)
		}
		switch n.Data {
		case "h1", "h2", "h3":
			headings = append(headings, int(n.Data[1]-'0'))
		case "html":
			assert.Equal(t, "en", attr(n, "lang"))
		case "title":
			if title == "" {
				title = words(n)
			}
		case "th":
			assert.NotEmpty(t, attr(n, "scope"))
		case "svg":
			if attr(n, "aria-hidden") == "true" {
				return
			}
			assert.Equal(t, "img", attr(n, "role"))
			require.Equal(t, "title", n.FirstChild.NextSibling.Data)
			assert.NotEmpty(t, words(n.FirstChild.NextSibling))
		case "a":
			assert.True(t, strings.HasPrefix(attr(n, "href"), "#"))
		}
	})
	assert.Contains(t, title, "BEHIND THE PORT")
	assert.Contains(t, title, "meter.csv")
	require.Equal(t, 1, headings[0])
	for _, h := range headings[1:] {
		assert.Equal(t, 2, h)
	}
	each(root, func(n *html.Node) {
		for _, key := range []string{"aria-labelledby", "aria-describedby"} {
			for _, id := range strings.Fields(attr(n, key)) {
				assert.True(t, ids[id], "%s names %s, which is not there", key, id)
			}
		}
	})
}

// The page's policy allows its own style and script and nothing else:
// Content Security Policy Level 3, section 2.3.1.
func TestPolicyFitsThePage(t *testing.T) {
	_, root := page(t, diagnosed(t, "sound-charging"))
	policy := ""
	each(root, func(n *html.Node) {
		if attr(n, "http-equiv") == "Content-Security-Policy" {
			policy = attr(n, "content")
		}
	})
	require.True(t, strings.HasPrefix(policy, "default-src 'none';"), policy)
	each(root, func(n *html.Node) {
		if (n.Data == "style" || n.Data == "script") && attr(n, "type") == "" {
			sum := sha256.Sum256([]byte(n.FirstChild.Data))
			assert.Contains(t, policy, n.Data+"-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'")
		}
	})
}

// Whatever stands in a file stays text.
func TestHostileTextStaysText(t *testing.T) {
	hostile := "</script></style></title><script>alert(1)</script><img src=x onerror=alert(1)>\u202e\x1b[31m\"'`{{.}}"
	d := diagnosed(t, "hard-short-main-rail")
	for i := range d.Inputs {
		d.Inputs[i].Path = hostile
		d.Inputs[i].Notes = []string{hostile}
		d.Inputs[i].Problems = []decode.Problem{{Text: hostile}}
	}
	d.Verdict.Summary = hostile
	for i := range d.Findings {
		d.Findings[i].Text = hostile
	}
	var b bytes.Buffer
	require.NoError(t, report.Diagnosis(&b, report.Recorded{Diagnosis: d}, hostile, report.About{Files: []report.File{{Name: hostile}}}))
	root, err := html.Parse(&b)
	require.NoError(t, err)
	scripts := 0
	each(root, func(n *html.Node) {
		assert.NotEqual(t, "img", n.Data)
		if n.Data == "script" {
			scripts++
		}
	})
	assert.Equal(t, 2, scripts, "the trace and the page's own")
	assert.Contains(t, words(root), "<img src=x onerror=alert(1)>")
}

// Text 4.5:1, marks and lines 3:1, in light and dark: WCAG 2.2, success
// criteria 1.4.3 and 1.4.11; the formula is its definition of contrast ratio.
func TestContrast(t *testing.T) {
	css, err := os.ReadFile("page.css")
	require.NoError(t, err)
	blocks := regexp.MustCompile(`:root\{([^}]*)\}`).FindAllStringSubmatch(string(css), -1)
	require.Len(t, blocks, 2)
	for i, theme := range []string{"light", "dark"} {
		colour := map[string]string{}
		for _, m := range regexp.MustCompile(`--(\w+):(#[0-9a-f]{3,6})`).FindAllStringSubmatch(blocks[i][1], -1) {
			colour[m[1]] = m[2]
		}
		for name, least := range map[string]float64{
			"ink": 4.5, "soft": 4.5, "fault": 4.5, "warning": 4.5, "note": 4.5, "volts": 4.5,
			"amps": 3, "rule": 3, "mark": 3, "focus": 3, "full": 3,
		} {
			require.Contains(t, colour, name, theme)
			assert.GreaterOrEqual(t, contrast(t, colour[name], colour["paper"]), least, "%s in the %s theme", name, theme)
		}
	}
}

func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	hex = strings.TrimPrefix(hex, "#")
	if len(hex) == 3 {
		hex = fmt.Sprintf("%c%c%c%c%c%c", hex[0], hex[0], hex[1], hex[1], hex[2], hex[2])
	}
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		v, err := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
		require.NoError(t, err)
		c := float64(v) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

// Only the file of the page's own assets may bypass the escaping.
func TestNothingElseBypassesEscaping(t *testing.T) {
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, f := range files {
		if f == "assets.go" || strings.HasSuffix(f, "_test.go") {
			continue
		}
		source, err := os.ReadFile(f)
		require.NoError(t, err)
		assert.NotRegexp(t, `template\.(HTML|JS|CSS|URL|HTMLAttr|JSStr|Srcset)\b`, string(source), f)
	}
}

// No spike is lost on the way into the picture, however long the log.
func TestSpikeOfOneSampleIsDrawn(t *testing.T) {
	e := decode.NewEngine(decode.Options{})
	for i := range 500_000 {
		a := 0.5
		if i == 333_333 {
			a = 4.9
		}
		e.Sample(&captures.Sample{At: time.Duration(i) * time.Millisecond, Volts: 20, Amps: a})
	}
	d := e.Diagnose([]captures.Stats{{Path: "log.csv", Kind: captures.KindMeter, Samples: true, Records: 500_000}}, nil)
	raw, _ := page(t, d)
	assert.Contains(t, raw, ",4.9,", "the numbers of the picture")
	assert.Less(t, len(raw), 2<<20)
}

func TestComparisonPage(t *testing.T) {
	before, after := diagnosed(t, "hard-short-main-rail"), diagnosed(t, "sound-charging")
	c := compare.Compare(compare.Recording{Diagnosis: before}, compare.Recording{Diagnosis: after})
	var b bytes.Buffer
	require.NoError(t, report.Comparison(&b, c, report.Recorded{Diagnosis: before}, report.Recorded{Diagnosis: after}, about))
	root, err := html.Parse(&b)
	require.NoError(t, err)
	said := words(root)
	assert.Contains(t, said, "REPAIRED")
	assert.Contains(t, said, text.Sentence(c.Summary))
	plots := 0
	each(root, func(n *html.Node) {
		if n.Data == "svg" && attr(n, "role") == "img" {
			plots++
		}
	})
	assert.Equal(t, 2, plots)
}

// A letter is listed with what it stands for, and by its own picture: two
// pictures of one page may have the same letters.
func TestEachPictureListsItsLetters(t *testing.T) {
	before, after := diagnosed(t, "hard-short-main-rail"), diagnosed(t, "weak-charger")
	c := compare.Compare(compare.Recording{Diagnosis: before}, compare.Recording{Diagnosis: after})
	bad := failing(t)
	bad.OneClock = true
	var both, charger, one bytes.Buffer
	require.NoError(t, report.Comparison(&both, c, report.Recorded{Diagnosis: before}, report.Recorded{Diagnosis: after}, about))
	require.NoError(t, report.Charger(&charger, tested(t, "weak-charger"), bad, about))
	require.NoError(t, report.Diagnosis(&one, report.Recorded{Diagnosis: before}, "", about))
	for name, page := range map[string]*bytes.Buffer{"comparison": &both, "charger": &charger, "diagnosis": &one} {
		t.Run(name, func(t *testing.T) {
			root, err := html.Parse(page)
			require.NoError(t, err)
			listed, marked := map[string]string{}, 0
			each(root, func(list *html.Node) {
				of := attr(list, "data-of")
				if of == "" {
					return
				}
				each(list, func(row *html.Node) {
					if row.Data == "tr" || row.Data == "li" {
						letter, said, _ := strings.Cut(words(row), " ")
						listed[of+" "+letter] = strings.ToLower(said)
					}
				})
			})
			each(root, func(svg *html.Node) {
				if svg.Data != "svg" || attr(svg, "class") != "plot" {
					return
				}
				each(svg, func(n *html.Node) {
					if attr(n, "data-letter") == "" {
						return
					}
					marked++
					_, what, _ := strings.Cut(words(n), ": ")
					what = strings.ToLower(strings.TrimSuffix(what, " "+attr(n, "data-letter")))
					said := listed[attr(svg, "id")+" "+attr(n, "data-letter")]
					assert.Contains(t, said, what, "%s of %s", attr(n, "data-letter"), attr(svg, "id"))
				})
			})
			assert.Positive(t, marked)
		})
	}
}

// A table of thousands of rows says how many it leaves out, and the page stays small.
func TestLongTablesSayWhatTheyLeaveOut(t *testing.T) {
	d := diagnosed(t, "sound-charging")
	phase := d.Negotiation.Phases[0]
	for i := range 20_000 {
		phase.StartS = new(float64)
		*phase.StartS = float64(i)
		d.Negotiation.Phases = append(d.Negotiation.Phases, phase)
	}
	raw, root := page(t, d)
	assert.Less(t, len(raw), 2<<20)
	assert.Regexp(t, `1[0-9]{4} rows are left out here; --json lists them`, words(root))
	_, root = page(t, diagnosed(t, "sound-charging"))
	assert.NotContains(t, words(root), "left out")
}
