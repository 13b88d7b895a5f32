package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/captures/demo"
)

// browserWait is how long one test in the browser may take on a busy machine.
const browserWait = 60 * time.Second

// browser starts one browser for a test, or skips where there is none.
func browser(t *testing.T) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		t.Skip("no chromium on the path: what only a browser shows is not tested here")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.WSURLReadTimeout(browserWait))
	alloc, end := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(end)
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(end)
	require.NoError(t, chromedp.Do(ctx))
	return ctx
}

// page is the address of a page that the program serves, without the last slash.
func page(t *testing.T, args ...string) string {
	t.Helper()
	return strings.TrimSuffix(startServe(t, args...).address, "/")
}

// tab opens a page of its own and keeps what the console says.
type tab struct {
	t    *testing.T
	ctx  context.Context
	mu   sync.Mutex
	said []string
}

func newTab(t *testing.T, browser context.Context) *tab {
	t.Helper()
	ctx, end := chromedp.NewContext(browser)
	t.Cleanup(end)
	ctx, stop := context.WithTimeout(ctx, browserWait)
	t.Cleanup(stop)
	b := &tab{t: t, ctx: ctx}
	go func() {
		for m, err := range chromedp.Console(ctx) {
			if err != nil {
				return
			}
			b.mu.Lock()
			b.said = append(b.said, m.String())
			b.mu.Unlock()
		}
	}()
	return b
}

type step = chromedp.Action[chromedp.Void]

func (b *tab) run(steps ...step) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, steps...))
}

// call is a step that is one command of the protocol.
func call[P any](command cdp.Command[P, cdp.Empty], params P) step {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, command, params)
		return chromedp.Void{}, err
	}
}

func withoutScript() step {
	return call(emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
}

// value runs a script and gives what it results in.
func value[T any](b *tab, script string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script))
	require.NoError(b.t, err)
	return v
}

// until waits for a script to say yes.
func (b *tab) until(script string) {
	b.t.Helper()
	_, err := chromedp.Run(b.ctx, chromedp.Poll[bool](script))
	require.NoError(b.t, err)
}

// quiet holds that the console said nothing.
func (b *tab) quiet() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	assert.Empty(b.t, b.said)
}

// quietBut holds that the console said nothing, or only what a status makes it say.
func (b *tab) quietBut(status string) {
	b.t.Helper()
	b.mu.Lock()
	b.said = slices.DeleteFunc(b.said, func(s string) bool { return status != "" && strings.Contains(s, "status of "+status) })
	b.mu.Unlock()
	b.quiet()
}

// arrives waits until a result is shown whole.
func (b *tab) arrives() string {
	b.t.Helper()
	b.run(chromedp.WaitVisible(chromedp.CSS("#bench")))
	assert.Contains(b.t, value[string](b, "location.pathname"), "/results/")
	return value[string](b, "document.querySelector('h1').textContent")
}

// recorded writes a demo's files for a browser to choose.
func recorded(t *testing.T, name string) []string {
	t.Helper()
	dir := t.TempDir()
	files, err := demo.Open(name)
	require.NoError(t, err)
	var paths []string
	for _, f := range files {
		content, err := io.ReadAll(f.Data)
		require.NoError(t, err)
		paths = append(paths, filepath.Join(dir, filepath.Base(f.Label)))
		require.NoError(t, os.WriteFile(paths[len(paths)-1], content, 0o600))
	}
	return paths
}

func TestInABrowser(t *testing.T) {
	browser := browser(t)
	address := page(t)

	t.Run("upload by button", func(t *testing.T) {
		b := newTab(t, browser)
		b.run(chromedp.Navigate(address), chromedp.SetUploadFiles(chromedp.CSS("#files"), recorded(t, "hard-short-main-rail")),
			chromedp.Click(chromedp.CSS("form.upload button")))
		assert.Contains(t, b.arrives(), "BEHIND THE PORT")
		assert.Equal(t, "H1", value[string](b, "document.activeElement.tagName"), "the focus is on the result")
		b.run(chromedp.Focus(chromedp.CSS("figure .scroll")), chromedp.KeyEvent(kb.ArrowRight))
		assert.Contains(t, value[string](b, "document.querySelector('.readout').textContent"), " V, ", "the readout follows the keys")
		b.quiet()
	})

	t.Run("upload by drop", func(t *testing.T) {
		b := newTab(t, browser)
		b.run(chromedp.Navigate(address))
		b.run(chromedp.Evaluate[chromedp.Void](`(() => {
			const data = new DataTransfer();
			let rows = "time_s,voltage_v,current_a\n";
			for (let i = 0; i < 100; i++) rows += i / 10 + ",5.05,0.01\n";
			data.items.add(new File([rows], "dropped.csv"));
			const to = document.querySelector(".drop");
			for (const kind of ["dragenter", "dragover", "drop"]) {
				to.dispatchEvent(new DragEvent(kind, { bubbles: true, cancelable: true, dataTransfer: data }));
			}
		})()`))
		b.arrives()
		assert.Contains(t, value[string](b, "document.title"), "dropped.csv")
		b.quiet()
	})

	t.Run("without script, under no-referrer", func(t *testing.T) {
		b := newTab(t, browser)
		b.run(withoutScript(), chromedp.Navigate(address),
			chromedp.SetUploadFiles(chromedp.CSS("#files"), recorded(t, "hard-short-main-rail")),
			chromedp.Click(chromedp.CSS("form.upload button")), chromedp.WaitVisible(chromedp.CSS("#bench")),
			chromedp.SendKeys(chromedp.CSS("#other-value"), "12kohm"),
			chromedp.SetValue(chromedp.CSS("#other"), "charger-input-ohm"),
			chromedp.Click(chromedp.CSS(".bench button")), chromedp.WaitVisible(chromedp.CSS(".was")))
		b.quiet()
	})

	t.Run("keyboard only", func(t *testing.T) {
		b := newTab(t, browser)
		b.run(chromedp.Navigate(address), chromedp.KeyEvent(kb.Tab))
		assert.Equal(t, "skip", value[string](b, "document.activeElement.className"), "the skip link comes first")
		b.tabTo("#demo")
		b.run(chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.Enter))
		b.arrives()
		b.tabTo("#other-value")
		b.run(chromedp.KeyEvent("open"), chromedp.KeyEvent(kb.Enter), chromedp.WaitVisible(chromedp.CSS(".was")))
		b.quiet()
	})

	t.Run("picture and findings", func(t *testing.T) {
		b := newTab(t, browser)
		b.run(chromedp.Navigate(address), chromedp.Click(chromedp.CSS("form[action='/demos'] button")))
		b.arrives()
		width := func() float64 {
			return value[float64](b, "document.querySelector('svg.plot').getBoundingClientRect().width")
		}
		whole := width()
		b.run(chromedp.Click(chromedp.CSS(".zoom button:nth-of-type(1)")))
		assert.InDelta(t, 2, width()/whole, 0.1, "Closer doubles the picture")
		b.run(chromedp.Focus(chromedp.CSS("figure .scroll")), chromedp.KeyEvent("+"))
		assert.InDelta(t, 4, width()/whole, 0.2, "and so does the key")
		b.run(chromedp.KeyEvent("0"))
		assert.InDelta(t, 1, width()/whole, 0.01, "0 shows the whole")

		b.run(chromedp.Click(chromedp.CSS("button.letter")))
		letter := value[string](b, "document.querySelector('button.letter').textContent")
		assert.Equal(t, letter, value[string](b, "document.querySelector('.mark.lit').dataset.letter"), "a finding lights its mark")
		b.run(chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll(".mark")].at(-1).dispatchEvent(new MouseEvent("click", { bubbles: true }))`))
		assert.Equal(t, value[string](b, "[...document.querySelectorAll('.mark')].at(-1).dataset.letter"),
			value[string](b, "document.querySelector('tr.lit button.letter').textContent"), "a mark lights its finding")
		b.quiet()
	})

	t.Run("two pictures", func(t *testing.T) {
		b := newTab(t, browser)
		one := b.demo(address, "hard-short-main-rail")
		two := b.demo(address, "weak-charger")
		b.run(chromedp.Navigate(address + "/compare?before=" + one + "&after=" + two))
		assert.Empty(t, value[[]string](b, `[...document.querySelectorAll("button.letter")].filter((letter) => {
			letter.click();
			const of = letter.closest("[data-of]").dataset.of, lit = [...document.querySelectorAll(".mark.lit")];
			return lit.length === 0 || lit.some((m) => m.ownerSVGElement.id !== of);
		}).map((letter) => letter.textContent)`), "a letter lights its own picture only")
		assert.Empty(t, value[[]string](b, `[...document.querySelectorAll(".mark")].filter((m) => {
			m.dispatchEvent(new MouseEvent("click", { bubbles: true }));
			const at = document.activeElement;
			return at.textContent !== m.dataset.letter || at.closest("[data-of]").dataset.of !== m.ownerSVGElement.id;
		}).map((m) => m.dataset.letter)`), "and a mark leads to its own list")
		assert.Equal(t, []string{"after", "before"}, value[[]string](b, `[...new Set([...document.querySelectorAll(".mark")].map((m) => m.ownerSVGElement.id))].sort()`))
		b.quiet()
	})

	t.Run("refusals", func(t *testing.T) {
		b := newTab(t, browser)
		bad := filepath.Join(t.TempDir(), "bad.bin")
		require.NoError(t, os.WriteFile(bad, []byte("\x00\x01\x02"), 0o600))
		b.run(chromedp.Navigate(address), chromedp.SetUploadFiles(chromedp.CSS("#files"), []string{bad}),
			chromedp.Click(chromedp.CSS("form.upload button")))
		b.until(`document.querySelector("form.upload .status").textContent.includes("binary")`)
		assert.False(t, value[bool](b, `document.querySelector("form.upload button").disabled`))
	})
}

func media(p emulation.SetEmulatedMediaParams) step { return call(emulation.SetEmulatedMedia, p) }

// demo opens a recording that comes with the program, and gives its result.
func (b *tab) demo(address, name string) string {
	b.run(chromedp.Navigate(address), chromedp.Evaluate[chromedp.Void](`document.querySelector("#demo").value = "`+name+`"`),
		chromedp.Click(chromedp.CSS("form[action='/demos'] button")))
	b.arrives()
	return strings.TrimPrefix(value[string](b, "location.pathname"), "/results/")
}

// tabTo presses Tab until the element is focused, and holds that each stop is
// seen.
func (b *tab) tabTo(selector string) {
	b.t.Helper()
	for range 200 {
		b.run(chromedp.KeyEvent(kb.Tab))
		if at := value[string](b, `(() => {
			const e = document.activeElement, s = getComputedStyle(e);
			if (e === document.body) return "";
			return e.matches(":focus-visible") && parseFloat(s.outlineWidth) >= 2 && s.outlineStyle !== "none" ? "" : e.outerHTML.slice(0, 100);
		})()`); at != "" {
			assert.Fail(b.t, "no visible focus", at)
		}
		if value[bool](b, fmt.Sprintf("document.activeElement.matches(%q)", selector)) {
			return
		}
	}
	require.FailNow(b.t, "Tab does not reach "+selector)
}

// shownPage is one page under test.
type shownPage struct {
	name, address string
	says          string // the console's own words of a status that is no success
}

// saved writes the report that a command makes and gives its address on the disk.
func saved(t *testing.T, name string, args ...string) shownPage {
	t.Helper()
	path := filepath.Join(t.TempDir(), "report.html")
	s, _, errs := screen(nil)
	s.outTTY = false
	require.Zero(t, run(append(args, "--html", path), s), errs.String())
	return shownPage{name: name + " from disk", address: "file://" + path}
}

// everyKind are all pages there are: those of the site and the reports on disk.
func everyKind(t *testing.T, b *tab, address string) []shownPage {
	t.Helper()
	before := b.demo(address, "hard-short-main-rail")
	b.run(chromedp.SendKeys(chromedp.CSS("#other-value"), "open"), chromedp.Click(chromedp.CSS(".bench button")), chromedp.WaitVisible(chromedp.CSS(".was")))
	moved := strings.TrimPrefix(value[string](b, "location.pathname"), "/results/")
	after := b.demo(address, "weak-charger")
	const line = "../../testdata/line/conversation.vcd"
	photo := filepath.Join(t.TempDir(), "photo.jpg")
	require.NoError(t, os.WriteFile(photo, []byte("\xff\xd8\x00"), 0o600))
	b.run(chromedp.Navigate(address), chromedp.SetUploadFiles(chromedp.CSS("#files"), append(recorded(t, "weak-charger"), photo)),
		chromedp.Click(chromedp.CSS("form.upload button")))
	b.arrives()
	partly := value[string](b, "location.pathname")
	assert.Contains(t, value[string](b, "document.querySelector('.unread').textContent"), "photo.jpg")
	return []shownPage{
		{name: "result of a part of the files", address: address + partly},
		{name: "first page", address: address + "/"},
		{name: "result", address: address + "/results/" + before},
		{name: "result with a reading", address: address + "/results/" + moved},
		{name: "comparison", address: address + "/compare?before=" + before + "&after=" + after},
		{name: "error", address: address + "/nothing", says: "404"},
		saved(t, "diagnosis", "diagnose", "demo:hard-short-main-rail"),
		saved(t, "diagnosis of a line", "diagnose", line),
		saved(t, "diagnosis without a file", "diagnose", "--reading", "main-rail-ohm=0.4ohm"),
		saved(t, "charger", "charger", "demo:weak-charger"),
		saved(t, "charger without a meter", "charger", line),
		saved(t, "two chargers", "charger", "--against", "demo:weak-charger", "demo:sound-charging"),
		saved(t, "comparison", "compare", "demo:hard-short-main-rail", "demo:sound-charging"),
		saved(t, "lesson", "teach", "hard-short-main-rail"),
	}
}

// looks are the ways to look at a page.
var looks = []struct {
	name      string
	wide      int64
	dark      bool
	paperGrey string // colour of the background
}{
	{"light", 1100, false, "rgb(255, 255, 255)"},
	{"dark", 1100, true, "rgb(18, 18, 18)"},
	{"narrow", 320, false, "rgb(255, 255, 255)"}, // reflow: WCAG 2.2, success criterion 1.4.10
	{"narrow and dark", 320, true, "rgb(18, 18, 18)"},
}

func scheme(dark bool) emulation.SetEmulatedMediaParams {
	value := "light"
	if dark {
		value = "dark"
	}
	return emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: value}}}
}

// Every page in light and dark, wide and narrow, and on paper.
func TestEveryPageInABrowser(t *testing.T) {
	browser := browser(t)
	axe := axeCore(t)
	if axe == "" {
		t.Run("axe-core", func(t *testing.T) { t.Skip("PORTSIDE_AXE names no axe-core: the pages are looked at without it") })
	}
	address := page(t)
	for _, p := range everyKind(t, newTab(t, browser), address) {
		t.Run(p.name, func(t *testing.T) {
			b := newTab(t, browser)
			for _, look := range looks {
				b.run(chromedp.EmulateViewport(look.wide, 900), media(scheme(look.dark)), chromedp.Navigate(p.address))
				assert.Equal(t, look.paperGrey, value[string](b, "getComputedStyle(document.body).backgroundColor"), look.name)
				assert.LessOrEqual(t, value[int64](b, "document.documentElement.scrollWidth"), look.wide, look.name)
				// Targets of 24 by 24 px: success criterion 2.5.8.
				assert.Empty(t, value[[]string](b, `Array.from(document.querySelectorAll("main a, header a, button, input:not([type=hidden]), select, summary"))
					.filter((e) => e.offsetParent && (e.getBoundingClientRect().height < 24 || e.getBoundingClientRect().width < 24)).map((e) => e.outerHTML.slice(0, 120))`), look.name)
				if axe != "" {
					assert.Empty(t, b.violations(axe), look.name)
				}
			}
			forced := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "forced-colors", Value: "active"}, {Name: "prefers-color-scheme", Value: "dark"}}}
			b.run(chromedp.EmulateViewport(1100, 900), media(forced), chromedp.Navigate(p.address))
			assert.Empty(t, value[[]string](b, unforced), "colours of the reader's own")
			b.run(media(scheme(false)), chromedp.Navigate(p.address))
			for _, id := range value[[]string](b, `[...document.querySelectorAll("svg.plot")].map((svg) => svg.id)`) {
				b.handles(id)
			}
			b.run(media(scheme(true)))
			paper, err := chromedp.Run(b.ctx, chromedp.PrintToPDF())
			require.NoError(t, err)
			assert.True(t, strings.HasPrefix(string(paper), "%PDF"))
			printed := scheme(true)
			printed.Media = "print"
			b.run(media(printed))
			assert.Equal(t, "rgb(255, 255, 255)", value[string](b, "getComputedStyle(document.body).backgroundColor"), "paper is white")
			assert.Empty(t, value[[]string](b, `[...document.querySelectorAll(".skip, .readout, .zoom")].filter((e) => getComputedStyle(e).display !== "none").map((e) => e.className)`), "what only a screen needs stays off the paper")
			b.quietBut(p.says)
		})
	}
}

// picture is where a picture lies on the screen and what it shows.
type picture struct {
	X, Y, Width, ScrollLeft float64
	Readout                 string
	Expected                float64 // the time at the middle of what is seen
	Part                    bool    // dragging marks a part instead of moving along
	Samples                 bool    // it has some to read out
}

func (b *tab) picture(id string) picture {
	b.t.Helper()
	return value[picture](b, fmt.Sprintf(`(() => {
		const svg = document.getElementById(%q), scroll = svg.parentElement;
		scroll.scrollIntoView({ block: "center" });
		const seen = scroll.getBoundingClientRect(), box = svg.getBoundingClientRect();
		const X = seen.left + seen.width / 2, inPicture = (X - box.left) / box.width * svg.viewBox.baseVal.width;
		return {
			X, Y: box.top + box.height / 2, Width: box.width, ScrollLeft: scroll.scrollLeft,
			Readout: document.querySelector('.readout[data-for="' + svg.id + '"]').textContent,
			Expected: +svg.dataset.start + (inPicture - svg.dataset.left) / svg.dataset.inner * (svg.dataset.end - svg.dataset.start),
			Part: svg.dataset.drag === "part",
			Samples: JSON.parse(document.getElementById(svg.id + "-trace").textContent).length > 0,
		};
	})()`, id))
}

// handles holds that a picture answers to mouse, wheel and keys.
func (b *tab) handles(id string) {
	b.t.Helper()
	whole := b.picture(id)
	for try := range 40 { // a busy machine may lay out the page after the first move
		b.run(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, whole.X+float64(try%2), whole.Y))
		if !whole.Samples || b.picture(id).Readout != "" {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	at, words, _ := strings.Cut(b.picture(id).Readout, " s: ")
	bin := value[float64](b, fmt.Sprintf(`(() => { const svg = document.getElementById(%q); return (svg.dataset.end - svg.dataset.start) / 100; })()`, id))
	if whole.Samples {
		seconds, err := strconv.ParseFloat(at, 64)
		require.NoError(b.t, err, "the readout under the cursor of %s", id)
		assert.InDelta(b.t, whole.Expected, seconds, bin, "of the time under the cursor: %s", id)
		assert.Regexp(b.t, `^(no V|[-\d.e]+( to [-\d.e]+)? V), (no A|[-\d.e]+( to [-\d.e]+)? A)$`, words, id)
	}

	b.run(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseWheel, whole.X, whole.Y, func(p *input.DispatchMouseEventParams) {
		p.DeltaX, p.DeltaY = 0.01, -100 // an X of 0 would not be sent, and is asked for
		p.Modifiers = int64(chromedp.ModifierCtrl)
	}))
	b.until(fmt.Sprintf("document.getElementById(%q).getBoundingClientRect().width > %f", id, 1.2*whole.Width))
	closer := b.picture(id)
	assert.InDelta(b.t, whole.Expected, closer.Expected, bin/2, "the wheel keeps the place under the cursor: %s", id)
	b.run(chromedp.Focus(chromedp.CSS(fmt.Sprintf(".scroll:has(#%s)", id))), chromedp.KeyEvent("+"))
	assert.InDelta(b.t, 2.5, b.picture(id).Width/whole.Width, 0.05, "the key comes closer: %s", id)

	before := b.picture(id)
	b.run(chromedp.MouseEvent(chromedp.MousePressed, before.X, before.Y, chromedp.ButtonLeft),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, before.X-60, before.Y, chromedp.ButtonLeft),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, before.X-60, before.Y, chromedp.ButtonLeft))
	moved := b.picture(id).ScrollLeft - before.ScrollLeft
	if before.Part {
		assert.InDelta(b.t, 0, moved, 1, "the picture stays while a part is marked: %s", id)
		assert.Contains(b.t, value[string](b, `document.querySelector("[data-part] .status").textContent`), "Marked:")
		assert.NotEmpty(b.t, value[string](b, `document.querySelector("[data-part] [name=from]").value`))
	} else {
		assert.InDelta(b.t, 60, moved, 1, "dragging moves along: %s", id)
	}
	b.run(chromedp.KeyEvent("0"))
	assert.InDelta(b.t, 1, b.picture(id).Width/whole.Width, 0.01, "0 shows the whole: %s", id)
	b.run(chromedp.KeyEvent(kb.ArrowRight))
	assert.Equal(b.t, whole.Samples, before.Readout != b.picture(id).Readout, "the arrow keys move the readout: %s", id)
}

// unforced lists what a picture does not draw in the colour of text that the reader has
// set.
const unforced = `(() => {
	const probe = document.createElement("p");
	probe.style.cssText = "color: CanvasText; forced-color-adjust: none";
	document.body.append(probe);
	const ink = getComputedStyle(probe).color;
	const out = [...document.querySelectorAll("svg text, svg path, svg line, svg .window, svg .phase rect, svg .contract rect, svg .symbol rect, svg .byte rect")].filter((e) => {
		const s = getComputedStyle(e);
		return (e.tagName === "text" ? s.fill : s.stroke) !== ink;
	}).map((e) => e.outerHTML.slice(0, 80));
	probe.remove();
	return out;
})()`

// axeCore is the script that looks for what shuts people out, "" where there is none.
func axeCore(t *testing.T) string {
	t.Helper()
	path := os.Getenv("PORTSIDE_AXE")
	if path == "" {
		return ""
	}
	script, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(script)
}

// violations are what axe-core finds on the page that is open.
func (b *tab) violations(axe string) []string {
	b.t.Helper()
	b.run(chromedp.Evaluate[chromedp.Void](axe))
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](`axe.run(document, {
		resultTypes: ["violations"],
		runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
	}).then((r) => r.violations.flatMap((v) => v.nodes.map((n) => v.id + ": " + n.html.slice(0, 160) + " " + n.failureSummary)))`, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err)
	return found
}

// The browser gets to see why, also where it is still sending.
func TestTooLargeInABrowser(t *testing.T) {
	browser := browser(t)
	address := page(t, "--max-upload", "1MiB")
	large := filepath.Join(t.TempDir(), "large.csv")
	require.NoError(t, os.WriteFile(large, []byte("time_s,voltage_v,current_a\n"+strings.Repeat("0.001,5.0500,0.0100\n", 400_000)), 0o600))
	b := newTab(t, browser)
	b.run(withoutScript(), chromedp.Navigate(address),
		chromedp.SetUploadFiles(chromedp.CSS("#files"), []string{large}), chromedp.Click(chromedp.CSS("form.upload button")),
		chromedp.WaitVisible(chromedp.CSS(".problem")))
	why, err := chromedp.Run(b.ctx, chromedp.Text(chromedp.CSS(".problem")))
	require.NoError(t, err)
	assert.Contains(t, why, "at most 1 MiB")

	b = newTab(t, browser)
	b.run(chromedp.Navigate(address), chromedp.SetUploadFiles(chromedp.CSS("#files"), []string{large}), chromedp.Click(chromedp.CSS("form.upload button")))
	b.until(`document.querySelector("form.upload .status").textContent.includes("too large")`)
	b.quiet()
}
