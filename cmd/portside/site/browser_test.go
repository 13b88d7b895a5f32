package site_test

import (
	"context"
	"fmt"
	"net"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"portside/cmd/portside/site"
)

// patience is how long one step in the browser may take on a busy machine.
const patience = 40 * time.Second

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
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.WSURLReadTimeout(patience))
	alloc, end := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(end)
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(end)
	require.NoError(t, chromedp.Do(ctx))
	return ctx
}

// live serves a site and gives its address.
func live(t *testing.T, change func(*site.Config)) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	c := config()
	c.Port = listener.Addr().(*net.TCPAddr).Port
	if change != nil {
		change(&c)
	}
	h, err := site.New(c)
	require.NoError(t, err)
	server := httptest.NewUnstartedServer(h)
	_ = server.Listener.Close() // the one it made itself
	server.Listener = listener
	server.Start()
	t.Cleanup(server.Close)
	return server.URL
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
	ctx, stop := context.WithTimeout(ctx, patience)
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
	var paths []string
	for _, p := range demoParts(t, name) {
		path := filepath.Join(dir, p.name)
		require.NoError(t, os.WriteFile(path, []byte(p.content), 0o600))
		paths = append(paths, path)
	}
	return paths
}

func TestInABrowser(t *testing.T) {
	browser := browser(t)
	address := live(t, nil)

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

	t.Run("every page", func(t *testing.T) { everyPage(t, browser, address) })
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

// everyPage looks at each kind of page narrow, in the dark and on paper.
func everyPage(t *testing.T, browser context.Context, address string) {
	b := newTab(t, browser)
	b.run(chromedp.Navigate(address), chromedp.Click(chromedp.CSS("form[action='/demos'] button")))
	b.arrives()
	one := value[string](b, "location.pathname")
	b.run(chromedp.SendKeys(chromedp.CSS("#other-value"), "open"), chromedp.Click(chromedp.CSS(".bench button")), chromedp.WaitVisible(chromedp.CSS(".was")))
	two := value[string](b, "location.pathname")
	id := func(path string) string { return strings.TrimPrefix(path, "/results/") }
	for _, path := range []string{"/", one, two, "/compare?before=" + id(one) + "&after=" + id(two)} {
		// Reflow at 320 px: WCAG 2.2, success criterion 1.4.10.
		b.run(chromedp.EmulateViewport(320, 640), chromedp.Navigate(address+path))
		assert.LessOrEqual(t, value[int](b, "document.documentElement.scrollWidth"), 320, path)
		// Targets of 24 by 24 px: success criterion 2.5.8.
		assert.Empty(t, value[[]string](b, `Array.from(document.querySelectorAll("main a, header a, button, input:not([type=hidden]), select, summary"))
			.filter((e) => e.offsetParent && (e.getBoundingClientRect().height < 24 || e.getBoundingClientRect().width < 24)).map((e) => e.outerHTML.slice(0, 120))`), path)
		b.run(chromedp.EmulateViewport(1100, 900),
			media(emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}}))
		assert.Equal(t, "rgb(18, 18, 18)", value[string](b, "getComputedStyle(document.body).backgroundColor"), path)
		paper, err := chromedp.Run(b.ctx, chromedp.PrintToPDF())
		require.NoError(t, err)
		assert.True(t, strings.HasPrefix(string(paper), "%PDF"), path)
		b.run(media(emulation.SetEmulatedMediaParams{Media: "print", Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}}))
		assert.Equal(t, "rgb(255, 255, 255)", value[string](b, "getComputedStyle(document.body).backgroundColor"), "paper is white: %s", path)
		b.run(media(emulation.SetEmulatedMediaParams{}))
	}
	b.quiet()
}

// The browser gets to see why, also where it is still sending.
func TestTooLargeInABrowser(t *testing.T) {
	browser := browser(t)
	address := live(t, func(c *site.Config) { c.MaxUpload = 1 << 20 })
	large := filepath.Join(t.TempDir(), "large.csv")
	require.NoError(t, os.WriteFile(large, []byte(log(400_000)), 0o600))
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
