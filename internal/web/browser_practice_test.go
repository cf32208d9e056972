package web

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// practiceWalks are what people do at a practice bench.
var practiceWalks = []struct {
	name string
	do   func(*testing.T, *chrome)
}{
	{"a whole lesson", walkPracticeLesson},
	{"a bubble", walkPracticeBubble},
	{"by keyboard, refused", walkPracticeRefused},
	{"print", walkPracticePrint},
	{"every page", walkPracticePages},
}

// TestPracticeInBrowser measures and judges at the practice bench.
func TestPracticeInBrowser(t *testing.T) {
	c := startChrome(t)
	for _, walk := range practiceWalks {
		t.Run(walk.name, func(t *testing.T) { walk.do(t, c) })
	}
}

// stored is everything that the store of a bench holds, byte by byte.
func (w *benchWorld) stored() []byte {
	w.t.Helper()
	var all []byte
	for _, name := range []string{w.path, w.path + "-wal"} {
		data, err := os.ReadFile(name)
		if err != nil && !os.IsNotExist(err) {
			w.t.Fatal(err)
		}
		all = append(all, data...)
	}
	return all
}

// untouched asks at the end of a walk that nothing reached the store.
func (w *benchWorld) untouched() func() {
	before := w.stored()
	return func() {
		w.t.Helper()
		if !bytes.Equal(before, w.stored()) {
			w.t.Error("the store is not what it was before practising")
		}
	}
}

// practises begins a lesson, sixteen times as fast as life.
func (b *tab) practises(lesson string) {
	b.t.Helper()
	b.visit("/practice")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('[name="pace"][value="16"]').click()`))
	b.click(fmt.Sprintf(`button[name="lesson"][value=%q]`, lesson))
	b.at("/practice/")
	b.until(`document.getElementById("practice")?.dataset.listens === "yes"`)
}

// acts does acts at the bench, one after the other. The balance is set to zero only when it stands still, as a
// careful person does.
func (b *tab) acts(acts ...string) {
	b.t.Helper()
	for _, act := range acts {
		button := fmt.Sprintf(`#acts button[value=%q]`, act)
		b.until(`document.querySelector(%q) && !document.querySelector(%q).hasAttribute("aria-disabled") && document.getElementById("busy").hidden && !document.documentElement.dataset.acting`, button, button)
		if act == "zero" {
			b.rests()
		}
		b.click(button)
		b.until(`!document.documentElement.dataset.acting`)
	}
}

// rests waits until the hands are off and the page has said for a second that the balance stands still.
func (b *tab) rests() {
	b.t.Helper()
	b.until(`document.getElementById("busy").hidden && /still, [1-9][0-9]* s/.test(document.getElementById("now").innerText)`)
}

// notes waits until the balance stands still, and takes its reading.
func (b *tab) notes(slot string) string {
	b.t.Helper()
	had := eval[int](b, `document.querySelectorAll(%q).length`, row(slot)+" .num")
	b.rests()
	b.click(fmt.Sprintf(`#paper button[value=%q]`, slot))
	b.until(`document.querySelectorAll(%q).length === %d`, row(slot)+" .num", had+1)
	return eval[string](b, `[...document.querySelectorAll(%q)].at(-1).textContent`, row(slot)+" .num")
}

// judges says what the person comes to.
func (b *tab) judges(finding, fault string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector('[name="finding"][value=%q]').click()`, finding)))
	b.choose(`[name="fault"]`, fault)
	b.click(`#judge button.main`)
	b.until(`document.getElementById("truth")`)
}

// walkPracticeLesson weighs a sound ring as a careful person does, with the check piece, and gets all points.
func walkPracticeLesson(t *testing.T, c *chrome) {
	w := openWorld(t)
	defer w.untouched()()
	b := c.open(t, w.home())
	b.practises("first-ring")
	if text := eval[string](b, `document.querySelector("aside.practice").innerText`); !strings.Contains(text, "Practice (simulated)") {
		t.Errorf("the line across the top says %q", text)
	}
	b.acts("zero", "pan-on")
	air := b.notes("air_g")
	b.acts("pan-off", "check-on")
	b.notes("liquid.proof.air_g")
	b.acts("pan-off", "hang", "zero", "immerse-ck")
	b.notes("liquid.proof.liquid_g")
	b.acts("lift", "zero", "immerse", "brush")
	b.notes("liquid_g")
	b.acts("lift", "immerse", "brush")
	under := b.notes("liquid_g")
	b.acts("lift")
	b.notes("closing_zero_g")
	b.acts("unhang", "dry", "zero", "pan-on")
	b.notes("closing_air_g")
	t.Logf("%s in air, %s in the liquid", air, under)
	b.picture("practice-weighed", true)
	b.reads(".paper-answer .finding", "met")
	b.judges("met", "none")
	b.reads("#truth", "100")
	b.reads("#truth", "the interval of the sheet") // one in twenty lies outside of it, and that is said too
	b.reads("#truth", "nothing is wrong")
	b.picture("practice-judged", true)
}

// walkPracticeBubble brushes off a bubble that was seeded, sets aside what was read with it, and names it.
func walkPracticeBubble(t *testing.T, c *chrome) {
	w := openWorld(t)
	defer w.untouched()()
	b := c.open(t, w.home())
	b.touch(390, 844)
	b.practises("too-light")
	b.acts("zero", "pan-on")
	b.notes("air_g")
	b.acts("pan-off", "hang", "zero", "immerse")
	first := b.notes("liquid_g")
	b.acts("brush")
	second := b.notes("liquid_g")
	if !(grams(t, second) > grams(t, first)+0.0005) {
		t.Errorf("%s with the bubble, %s without", first, second)
	}
	b.click(row("liquid_g") + " summary")
	b.click(row("liquid_g") + " .aside button")
	b.until(`document.querySelector(%q)?.textContent === %q`, row("liquid_g")+" s", first)
	b.acts("lift", "immerse", "brush")
	b.notes("liquid_g")
	b.acts("lift", "unhang", "dry", "zero", "pan-on")
	b.notes("closing_air_g")
	b.judges("met", "bubble")
	b.reads("#truth", "100")
	b.reads("#truth", "A bubble under the item carries part of its weight")
}

func grams(t *testing.T, text string) float64 {
	t.Helper()
	var g float64
	if _, err := fmt.Sscanf(strings.Replace(text, "−", "-", 1), "%g", &g); err != nil {
		t.Fatalf("%q is no number: %v", text, err)
	}
	return g
}

// walkPracticeRefused presses by key what can't be done: it says why, and the focus stays.
func walkPracticeRefused(t *testing.T, c *chrome) {
	w := openWorld(t)
	defer w.untouched()()
	b := c.open(t, w.home())
	b.practises("first-coin")
	b.until(`document.querySelector('#acts button[value="immerse"]').getAttribute("aria-disabled") === "true"`)
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('#acts button[value="immerse"]').focus()`))
	b.press("\r")
	b.reads("#note", "no hanger hangs in the liquid; hang it first")
	if at := eval[string](b, `document.activeElement.value`); at != "immerse" {
		t.Errorf("the focus is at %q", at)
	}
	b.click(`form[action$="/look"] button`)
	b.reads("#practice dl", "Nothing strikes the eye.")
	b.visit("/practice")
	b.reads("main", "Under way")
}

// walkPracticePages looks at the pages as at every other.
func walkPracticePages(t *testing.T, c *chrome) {
	w := openWorld(t)
	defer w.untouched()()
	b := c.open(t, w.home())
	b.practises("standing-vessel")
	one := eval[string](b, `location.pathname`)
	b.acts("zero", "pan-on")
	b.notes("air_g")
	b.practises("far-off")
	b.judges("undecided", "none")
	two := eval[string](b, `location.pathname`)
	b.inspectAll([]seenPage{{"practice-lessons", "/practice"}, {"practice-bench", one}, {"practice-truth", two}})
}

// walkPracticePrint prints a practice bench: the line across the top is on paper too.
func walkPracticePrint(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	b.practises("first-ring")
	b.do(chromedp.Evaluate[chromedp.Void](`globalThis.printed = [...document.styleSheets].flatMap((s) => { try { return [...s.cssRules]; } catch { return []; } }).filter((r) => r.type === CSSRule.PAGE_RULE).map((r) => r.cssText).join(" "); void 0`))
	if text := eval[string](b, `printed`); !strings.Contains(text, "practice (simulated)") {
		t.Errorf("the pages of a print say %q", text)
	}
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
		t.Fatal(err)
	}
	if name := eval[string](b, `getComputedStyle(document.body).page`); name != "practice" {
		t.Errorf("a print's pages are called %q", name)
	}
	if tall := eval[float64](b, `document.querySelector("aside.practice").getBoundingClientRect().height`); tall < 10 {
		t.Errorf("the line across the top is %g px tall in print", tall)
	}
}
