package web

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// ready waits until the scripts of a page are at work.
func (b *tab) ready() {
	b.t.Helper()
	b.until(`document.documentElement.dataset.ready === "yes"`)
}

// types presses keys as fast as a person does: a scanner is known by its haste.
func (b *tab) types(text string) {
	b.t.Helper()
	for _, key := range text {
		b.press(string(key))
		time.Sleep(40 * time.Millisecond)
	}
}

// row is the row of a reading.
func row(slot string) string { return `#slot-` + strings.ReplaceAll(slot, ".", `\.`) }

// taken waits until the sheet shows a reading in its row.
func (b *tab) taken(slot, text string) {
	b.t.Helper()
	b.until(`document.getElementById(%q)?.querySelector("ul")?.innerText.includes(%q)`, "slot-"+slot, text)
}

func walkFirstRun(t *testing.T, c *chrome) {
	w := emptyWorld(t)
	b := c.open(t, w.home())
	b.visit("/")
	b.at("/first")
	b.fill(`[name=interval]`, "0.1 mg")
	b.click(`button[value=own]`)
	b.at("/")
	b.reads("h1", "Bench")
	b.fill(`[name=description]`, "plain band (invented)")
	b.choose(`[name=metal]`, "gold")
	b.fill(`[name=fineness]`, "750")
	b.click(`button[data-key=N]`)
	b.at("/sheet/")
	b.ready()
	for i, r := range [][2]string{weighed[0], weighed[1], weighed[4]} {
		b.reads("#next", []string{"in air", "Hang it", "thermometer"}[i])
		b.fill(row(r[0])+` [name=text]`, r[1])
		b.click(row(r[0]) + ` .take button`)
		b.taken(r[0], r[1])
	}
	b.until(`/^15\.\d+/.test(document.querySelector(".density .value").innerText)`)
	b.until(`document.querySelector(".finding").innerText.trim() !== "none yet"`)
	b.click(`button[data-key=S]`)
	b.at("/record/D-000001")
}

// walkKeyboard never touches the mouse.
func walkKeyboard(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	b.visit("/")
	b.ready()
	for range 30 { // to the first field, as the page orders it
		if eval[bool](b, `document.activeElement.name === "description"`) {
			break
		}
		b.press(kb.Tab)
	}
	b.types("band")
	b.press(kb.Enter)
	b.at("/sheet/")
	b.ready()
	for i, r := range weighed[:5] {
		if i > 0 { // the focus is where the next reading belongs, or a key goes there
			b.until(`document.activeElement.matches(".slot input[name=text]")`)
		}
		b.press(kb.Escape)
		b.until(`document.activeElement === document.body`)
		if key := map[string]string{"air_g": "a", "liquid_g": "l", "liquid.temperature_c": "t"}[r[0]]; key != "" {
			b.key(key)
		} else {
			b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector(%q).focus()`, row(r[0])+` [name=text]`)))
		}
		b.until(`document.activeElement.matches(%q)`, row(r[0])+` [name=text]`)
		b.types(r[1])
		b.press(kb.Enter)
		b.taken(r[0], r[1])
	}
	b.press(kb.Escape)
	b.until(`document.activeElement === document.body`)
	b.key("1")
	b.until(`document.activeElement.innerText.includes("Density")`)
	b.key("x")
	b.until(`document.activeElement.name === "reason"`)
	b.press(kb.Escape)
	b.press(kb.Escape)
	b.until(`!document.querySelector(".aside[open]")`)
	b.key("?")
	b.until(`document.getElementById("keys").open`)
	b.press(kb.Escape)
	b.until(`!document.getElementById("keys").open`)
	b.key("s")
	b.at("/record/")
}

// walkSingleKeysOff switches the single keys off; then they do nothing.
func walkKeysOff(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	b.visit("/sheet/" + w.openSheet("", weighed...))
	b.ready()
	b.click(`[data-open=keys]`)
	b.click(`#keys-off`)
	b.press(kb.Escape)
	b.until(`!document.getElementById("keys").open`)
	b.do(chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`))
	before := eval[string](b, `location.href`)
	b.key("n")
	b.key("s")
	b.key("?")
	b.until(`document.readyState === "complete"`)
	if now := eval[string](b, `location.href`); now != before || eval[bool](b, `document.getElementById("keys").open`) {
		t.Errorf("a single key acted though they are off: at %s", now)
	}
}

// walkTouch does it with a finger on a phone.
func walkTouch(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	b.touch(390, 844)
	id := w.openSheet("T-5")
	b.visit("/sheet/" + id)
	b.ready()
	for _, r := range [][2]string{weighed[0], weighed[1], weighed[4]} {
		b.tap(row(r[0]) + ` [name=text]`)
		b.until(`document.activeElement.matches(%q)`, row(r[0])+` [name=text]`)
		b.types(r[1])
		b.tap(row(r[0]) + ` .take button`)
		b.taken(r[0], r[1])
	}
	b.tap(row("air_g") + ` summary`)
	b.tap(row("air_g") + ` [name=reason]`)
	b.types("moved")
	b.tap(row("air_g") + ` .aside button`)
	b.reads(row("air_g")+" .gone", "moved")
	b.tap(`a[data-key=N]`)
	b.at("/")
}

// walkScanner scans trays from anywhere, and types nothing into a number's field.
func walkScanner(t *testing.T, c *chrome) {
	w := openWorld(t)
	first, second := w.openSheet("TRAY-41"), w.openSheet("TRAY-42", weighed[0])
	b := c.open(t, w.home())
	b.visit("/sheet/" + first)
	b.ready()
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector(".slot input[name=text]").focus()`))
	b.scan("TRAY-42")
	b.at("/sheet/" + second)
	b.ready()
	b.scan("TRAY-41")
	b.at("/sheet/" + first)
	b.ready()
	if left := eval[string](b, `document.querySelector(".slot input[name=text]").value`); left != "" {
		t.Errorf("the scan left %q in a number's field", left)
	}
	b.scan("TRAY-41") // at the sheet itself: what lies in the tray is what the sheet says
	b.reads(".item", "tray checked")
	b.ready()
	b.scan("NEW-TRAY-43")
	b.at("/")
	b.until(`document.querySelector("[name=barcode]").value === "NEW-TRAY-43"`)
	s, err := w.desk.Sheet(context.Background(), w.who, first)
	if err != nil || len(s.Sheet.Readings) != 0 {
		t.Errorf("scans took %d readings (%v)", len(s.Sheet.Readings), err)
	}
}

// scan sends keys in one burst within the page, as the haste of a scanner must not hang on the machine.
func (b *tab) scan(code string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { const at = document.activeElement; for (const key of [...%q, "Enter"]) {
		const e = new KeyboardEvent("keydown", {key, bubbles: true, cancelable: true});
		if (at.dispatchEvent(e) && key.length === 1 && at.matches("input:not([type=hidden])")) at.value += key;
	} })()`, code)))
}

// walkTwoTabs works at one sheet from two tabs, and takes readings from both.
func walkTwoTabs(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("")
	a := c.open(t, w.home())
	a.visit("/sheet/" + id)
	a.until(`document.documentElement.dataset.listens === "yes"`)
	b := a.another()
	b.visit("/sheet/" + id)
	b.until(`document.documentElement.dataset.listens === "yes"`)
	a.fill(row("air_g")+` [name=text]`, "5.0000")
	a.click(row("air_g") + ` .take button`)
	b.taken("air_g", "5.0000")
	b.fill(row("liquid_g")+` [name=text]`, "4.6801")
	b.click(row("liquid_g") + ` .take button`)
	a.taken("liquid_g", "4.6801")
	// One of them keeps the record; the other hears of it and can't keep it twice.
	a.fill(row("liquid.temperature_c")+` [name=text]`, "21.4")
	a.click(row("liquid.temperature_c") + ` .take button`)
	b.taken("liquid.temperature_c", "21.4")
	a.click(`button[data-key=S]`)
	a.at("/record/")
	b.until(`document.querySelector("button[data-key=S]")`)
	b.click(`button[data-key=S]`)
	b.until(`document.querySelector(".wrong") || location.pathname.startsWith("/record/")`)
	found, err := w.desk.Find(context.Background(), w.who, everything)
	if err != nil || len(found) != 1 {
		t.Errorf("%d records were kept of one sheet (%v)", len(found), err)
	}
}

// walkKilledTab closes the tab after every step; the sheet and what was typed are where they were.
func walkKilledTab(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("")
	first := c.open(t, w.home())
	first.visit("/")
	for _, r := range [][2]string{weighed[0], weighed[1], weighed[4]} {
		b := first.another()
		b.visit("/sheet/" + id)
		b.ready()
		b.fill(row(r[0])+` [name=text]`, r[1])
		b.do(chromedp.Evaluate[chromedp.Void](`window.old = true; location.reload()`)) // as after a crash of the page
		b.until(`!window.old && document.documentElement.dataset.ready === "yes" && document.querySelector(%q).value === %q`, row(r[0])+` [name=text]`, r[1])
		b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector(%q).click()`, row(r[0])+` .take button`))) // the page may be put in place anew meanwhile
		b.taken(r[0], r[1])
		b.end()
	}
	b := first.another()
	b.visit("/sheet/" + id)
	for _, r := range [][2]string{weighed[0], weighed[1], weighed[4]} {
		b.taken(r[0], r[1])
	}
	s, err := w.desk.Sheet(context.Background(), w.who, id)
	if err != nil || len(s.Sheet.Readings) != 3 {
		t.Errorf("there are %d readings, want 3 (%v)", len(s.Sheet.Readings), err)
	}
}

// walkRestart stops the program in the middle; what was typed then is sent when it is back, once.
func walkRestart(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed[0])
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	w.halt()
	b.fill(row("liquid_g")+` [name=text]`, "4.6801")
	b.click(row("liquid_g") + ` .take button`)
	b.until(`document.querySelector(".take .wrong")`)
	b.until(`document.querySelector(%q).value === "4.6801"`, row("liquid_g")+` [name=text]`)
	w.desk = w.sit()
	w.options.Desk = w.desk
	w.serve(w.address)
	b.taken("liquid_g", "4.6801")
	s, err := w.desk.Sheet(context.Background(), w.who, id)
	if err != nil || len(s.Sheet.Readings) != 2 {
		t.Errorf("there are %d readings, want 2 (%v)", len(s.Sheet.Readings), err)
	}
}

// walkCutNetwork cuts the network, types, reloads nothing, and is joined again.
func walkCutNetwork(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("")
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	b.offline(true)
	b.fill(row("air_g")+` [name=text]`, "5.0000")
	b.click(row("air_g") + ` .take button`)
	b.until(`document.querySelector(".take .wrong")`)
	b.offline(false)
	b.taken("air_g", "5.0000")
	s, err := w.desk.Sheet(context.Background(), w.who, id)
	if err != nil || len(s.Sheet.Readings) != 1 {
		t.Errorf("there are %d readings, want 1 (%v)", len(s.Sheet.Readings), err)
	}
}

func (b *tab) offline(cut bool) {
	b.t.Helper()
	rules := []*network.Conditions{}
	if cut {
		rules = append(rules, &network.Conditions{Offline: true, DownloadThroughput: -1, UploadThroughput: -1})
	}
	if _, err := chromedp.Call(b.ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: rules}); err != nil {
		b.t.Fatal(err)
	}
}

// walkWetTouches taps 1,000 times at random beside everything that takes a touch: nothing changes.
func walkWetTouches(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed[:3]...)
	b := c.open(t, w.home())
	b.touch(390, 844)
	b.visit("/sheet/" + id)
	b.ready()
	before, err := w.desk.History(context.Background(), w.who, id)
	if err != nil {
		t.Fatal(err)
	}
	const seed = 17
	rng := rand.New(rand.NewPCG(seed, seed))
	points := make([]string, 1000)
	for i := range points {
		points[i] = fmt.Sprintf("[%.0f,%.0f]", 390*rng.Float64(), 844*rng.Float64())
	}
	// A touch that lands outside of the capture control clicks what lies there; navigation is left out.
	touched := eval[int](b, `(() => { let n = 0; for (const [x, y] of [%s]) {
		const at = document.elementFromPoint(x, y);
		if (!at || at.closest(".take, .acts, a, .carry, dialog")) continue;
		n++; at.click();
	} return n; })()`, strings.Join(points, ","))
	if touched < 300 {
		t.Fatalf("only %d of 1,000 touches landed outside of the capture control", touched)
	}
	b.until(`document.readyState === "complete" && location.pathname.endsWith(%q)`, id)
	after, err := w.desk.History(context.Background(), w.who, id)
	if err != nil || len(after) != len(before) {
		t.Errorf("%d touches changed the sheet: %d entries before, %d after (%v)", touched, len(before), len(after), err)
	}
}

// walkLost sees a page of ours where there is none.
func walkLost(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	b.visit("/no/such/page")
	b.reads("main", "There is no page")
	b.click("main a.button")
	b.at("/")
}

// walkCorrection corrects a record, and compares both.
func walkCorrection(t *testing.T, c *chrome) {
	w := openWorld(t)
	number := w.keep()
	b := c.open(t, w.home())
	b.visit("/record/" + number)
	b.click(`a[href$="/correct"]`)
	b.at("/record/" + number + "/correct")
	b.ready()
	if was := eval[string](b, `document.querySelector("[name='slot-liquid_g']").value`); was != "4.6801\n4.6802" {
		t.Errorf("the form holds %q of the readings", was)
	}
	b.fill(`[name=reason]`, "stamp read wrongly")
	b.fill(`[name=fineness]`, "585")
	b.click(`button[data-key=S]`)
	b.at("/record/D-000002")
	b.reads("main", "stamp read wrongly")
	b.click(`a[href="/compare?record=D-000002"]`)
	b.at("/compare")
	b.until(`[...document.querySelectorAll(".differs")].some((e) => e.innerText.includes("585"))`)
	b.visit("/record/" + number + "?again")
	b.reads("main", "bit for bit")
	b.reads("main", "Superseded by")
}

// walkCarry carries the check piece of the last sheet over with one touch.
func walkCarry(t *testing.T, c *chrome) {
	w := openWorld(t)
	w.keep()
	id := w.openSheet("", weighed[:5]...)
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	b.reads("#next", "Carry the check piece over")
	b.click(`.carry button`)
	b.taken("liquid.proof.air_g", "20.0000")
	b.reads("#next", "Send it to an assay")
}
