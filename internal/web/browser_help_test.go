package web

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// patience is how long a condition may take to come true on a machine that is busy.
const patience = 20 * time.Second

// chrome is a real browser. All walks share one; each has a profile of its own in it.
type chrome struct{ ctx context.Context }

// startChrome starts the browser. Without one the tests fail: a page that no browser has shown is not
// known to work.
func startChrome(t testing.TB) *chrome {
	t.Helper()
	var path string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Fatal("there is no browser: install the Debian package chromium, or run ./check, which does it")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("hide-scrollbars", false),
		chromedp.UserDataDir(t.TempDir()))
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, end := chromedp.NewContext(allocator)
	t.Cleanup(func() {
		if err := chromedp.Cancel(ctx); err != nil && !errors.Is(err, context.Canceled) {
			t.Logf("the browser did not close: %v", err)
		}
		end()
		stop()
	})
	if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil {
		t.Fatal(err)
	}
	return &chrome{ctx}
}

// tab is one tab at a shop's pages.
type tab struct {
	t    testing.TB
	ctx  context.Context
	home string // address of the pages
	end  context.CancelFunc
}

// open opens a tab with a profile of its own: no cookies, nothing stored.
func (c *chrome) open(t testing.TB, home string) *tab {
	t.Helper()
	ctx, end := chromedp.NewContext(c.ctx, chromedp.WithNewBrowserContext())
	return newTab(t, ctx, end, home)
}

// another opens a second tab in the profile of the first.
func (b *tab) another() *tab {
	b.t.Helper()
	ctx, end := chromedp.NewContext(b.ctx)
	return newTab(b.t, ctx, end, b.home)
}

func newTab(t testing.TB, ctx context.Context, end context.CancelFunc, home string) *tab {
	t.Helper()
	ctx, late := context.WithTimeout(ctx, 4*time.Minute)
	b := &tab{t: t, ctx: ctx, home: home, end: func() { late(); end() }}
	t.Cleanup(b.end)
	b.size(1280, 800)
	return b
}

func (b *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		b.t.Fatalf("%v\non a page that reads: %.600s", err, b.page())
	}
}

// page is what can be read on the page, for messages.
func (b *tab) page() string {
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`location.pathname + ": " + (document.body ? document.body.innerText : "")`))
	if err != nil {
		return err.Error()
	}
	return text
}

func (b *tab) size(width, height int64) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(width, height))
}

// visit goes to a page and waits until it is read.
func (b *tab) visit(path string) {
	b.t.Helper()
	b.do(chromedp.Navigate(b.home + path))
}

// eval evaluates an expression in the page.
func eval[T any](b *tab, expression string, args ...any) T {
	b.t.Helper()
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](fmt.Sprintf(expression, args...), chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v", fmt.Sprintf(expression, args...), err)
	}
	return out
}

// until waits for a condition of the page to come true. While a page changes, a question may fail.
func (b *tab) until(condition string, args ...any) {
	b.t.Helper()
	condition = fmt.Sprintf(condition, args...)
	deadline := time.Now().Add(patience)
	var last error
	for time.Now().Before(deadline) {
		so, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("!!("+condition+")"))
		if err == nil && so {
			return
		}
		last = err
		select {
		case <-b.ctx.Done():
			b.t.Fatalf("%s: %v", condition, b.ctx.Err())
		case <-time.After(15 * time.Millisecond):
		}
	}
	b.t.Fatalf("it did not come true that %s (%v)\non a page that reads: %.1500s", condition, last, b.page())
}

// reads waits until a part of the page holds a text.
func (b *tab) reads(selector, text string) {
	b.t.Helper()
	b.until(`(document.querySelector(%q)?.innerText || "").includes(%q)`, selector, text)
}

// at waits until the tab is at a path.
func (b *tab) at(prefix string) {
	b.t.Helper()
	b.until(`location.pathname.startsWith(%q) && document.readyState === "complete"`, prefix)
}

// fill puts a value into a field as a person who types fast would.
func (b *tab) fill(selector, value string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { const f = document.querySelector(%q); f.focus(); f.select?.(); })()`, selector)))
	b.do(chromedp.KeyEvent(value))
}

// upload gives a file to a field. It names the field by the page's own object: the numbers that the
// browser gives to nodes end when a page is shown whole.
func (b *tab) upload(selector, file string) {
	b.t.Helper()
	b.until(fmt.Sprintf(`document.readyState === "complete" && document.querySelector(%q)`, selector))
	found, err := chromedp.Call(b.ctx, runtime.Evaluate, runtime.EvaluateParams{Expression: fmt.Sprintf(`document.querySelector(%q)`, selector)})
	if err == nil {
		_, err = chromedp.Call(b.ctx, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: []string{file}, ObjectID: found.Result.ObjectID})
	}
	if err != nil {
		b.t.Fatalf("%s: %v\non a page that reads: %.600s", selector, err, b.page())
	}
}

// choose picks an option of a list.
func (b *tab) choose(selector, value string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { const f = document.querySelector(%q); f.value = %q; f.dispatchEvent(new Event("change", {bubbles: true})); })()`, selector, value)))
}

// press presses keys wherever the focus is.
func (b *tab) press(keys string) {
	b.t.Helper()
	b.do(chromedp.KeyEvent(keys))
}

// key presses one letter as a keyboard does: when the page takes the key, no letter is written.
func (b *tab) key(letter string) {
	b.t.Helper()
	code := int64(strings.ToUpper(letter)[0])
	for _, kind := range []input.DispatchKeyEventType{input.DispatchKeyEventTypeKeyDown, input.DispatchKeyEventTypeKeyUp} {
		p := input.DispatchKeyEventParams{Type: kind, Key: letter, WindowsVirtualKeyCode: code}
		if kind == input.DispatchKeyEventTypeKeyDown {
			p.Text = letter
		}
		if _, err := chromedp.Call(b.ctx, input.DispatchKeyEvent, p); err != nil {
			b.t.Fatal(err)
		}
	}
}

// click clicks with the mouse where the element is.
func (b *tab) click(selector string) {
	b.t.Helper()
	b.until(`document.readyState === "complete"`) // an element of the page before is gone at the click
	b.do(chromedp.Click(chromedp.CSS(selector)))
}

// tap touches an element with a finger.
func (b *tab) tap(selector string) {
	b.t.Helper()
	b.do(chromedp.ScrollIntoView(chromedp.CSS(selector)), chromedp.Tap(chromedp.CSS(selector)))
}

// touch makes the screen one that is touched.
func (b *tab) touch(width, height int64) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(width, height, chromedp.EmulateMobile, chromedp.EmulateTouch))
}

// picture writes what the tab shows to a file of the folder that WREATH_PICTURES names, if it names one.
// Whole takes in what is below the fold.
func (b *tab) picture(name string, whole bool) {
	b.t.Helper()
	folder := os.Getenv("WREATH_PICTURES")
	if folder == "" {
		return
	}
	shoot := chromedp.CaptureScreenshot()
	if whole {
		shoot = chromedp.FullScreenshot(100)
	}
	png, err := chromedp.Run(b.ctx, shoot)
	if err == nil {
		err = errors.Join(os.MkdirAll(folder, 0o755), os.WriteFile(folder+"/"+name+".png", png, 0o644))
	}
	if err != nil {
		b.t.Fatal(err)
	}
}
