package web

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"wreath/internal/desk"
	"wreath/internal/station"
)

var handWalks = []struct {
	name string
	do   func(*testing.T, *chrome)
}{
	{"cards", walkCards},
	{"scans mixed with typing", walkMisroutes},
	{"restore", walkRestore},
	{"keys of the list", walkKeyList},
	{"foot switch", walkFootSwitch},
	{"another station", walkMove},
	{"sounds", walkSounds},
	{"pasted column", walkPaste},
	{"odd numbers", walkOdd},
	{"touches", walkTouchRules},
	{"two numbers on their way", walkQueue},
}

// TestHandsInBrowser walks through what hands do on a sheet.
func TestHandsInBrowser(t *testing.T) {
	c := startChrome(t)
	for _, walk := range handWalks {
		t.Run(walk.name, func(t *testing.T) { walk.do(t, c) })
	}
}

// readings are those of a sheet, as typed, by their row; those that are set aside begin with a minus.
func (w *benchWorld) readings(id string) (out []string) {
	w.t.Helper()
	s, err := w.desk.Sheet(context.Background(), w.who, id)
	if err != nil {
		w.t.Fatal(err)
	}
	for _, r := range s.Sheet.Readings {
		line := r.Slot + " " + r.Text
		if r.Withdrawn != nil {
			line = "-" + line
		}
		out = append(out, line)
	}
	return out
}

func (w *benchWorld) has(id string, want ...string) {
	w.t.Helper()
	if got := w.readings(id); !slices.Equal(got, want) {
		w.t.Errorf("the sheet holds %q, want %q", got, want)
	}
}

// focus puts the focus into the field of a row, or takes it out of all.
func (b *tab) focus(slot string) {
	b.t.Helper()
	if slot == "" {
		b.do(chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`))
		return
	}
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector(%q).focus()`, row(slot)+` [name=text]`)))
}

// enters types a number into the field of a row and presses Enter.
func (b *tab) enters(slot, text string) {
	b.t.Helper()
	b.focus(slot)
	b.types(text)
	b.press(kb.Enter)
}

// bursts sends a code as a scanner does: keys in haste, each with the text it writes into what has the
// focus, and Enter. It runs within the page and moves its clock, as the haste must not hang on the machine.
func (b *tab) bursts(code string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { const real = performance.now; let now = real.call(performance); performance.now = () => now;
	for (const key of [...%q, "Enter"]) {
		now += 3;
		const at = document.activeElement ?? document.body;
		const e = new KeyboardEvent("keydown", {key, bubbles: true, cancelable: true});
		if (at.dispatchEvent(e) && key.length === 1 && at.matches("input:not([type=hidden])")) document.execCommand("insertText", false, key);
	}
	performance.now = real; })()`, code)))
}

// walkCards weighs with both hands full: numbers are typed, cards do the rest.
func walkCards(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("TRAY-61")
	b := c.open(t, w.home())
	b.visit("/cards")
	if n := eval[int](b, `document.querySelectorAll("svg.bars path").length`); n != len(cardsKnown) {
		t.Errorf("%d cards are drawn, want %d", n, len(cardsKnown))
	}
	b.bursts("TRAY-61") // a tray from the page of the cards
	b.at("/sheet/" + id)
	b.ready()
	b.bursts("BENCHGET") // nothing is typed
	b.reads("#heard", "No reading is typed yet")
	b.focus("air_g")
	b.types("5.0000")
	b.bursts("BENCHGET")
	b.taken("air_g", "5.0000")
	b.bursts("benchredo") // a scanner with the capitals the other way round
	b.until(`document.activeElement.matches(%q)`, row("liquid_g")+` [name=text]`)
	b.types("4.6801")
	b.focus("")
	b.bursts("BENCHGET") // it takes what the field holds, wherever the focus is
	b.taken("liquid_g", "4.6801")
	b.bursts("BENCHOUT")
	b.reads(row("liquid_g")+" .gone", "set aside by card")
	w.has(id, "air_g 5.0000", "-liquid_g 4.6801")
	b.bursts("NOT-KNOWN-9")
	b.at("/")
	b.reads("#heard", "Not known here: NOT-KNOWN-9")
	b.ready()
	b.bursts("BENCHOUT")
	b.reads("#heard", "This card acts on a sheet")
	b.bursts("TRAY-61")
	b.at("/sheet/" + id)
	b.ready()
	b.bursts("BENCHNEXT")
	b.at("/")
	b.until(`document.querySelector(".trays")`)
}

// walkMisroutes scans 1,000 times between typed numbers, from every focus. No scan leaves a letter in a field,
// none is lost, and no typed letter is.
func walkMisroutes(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("TRAY-62", weighed[0], weighed[1])
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	const seed = 61
	rng := rand.New(rand.NewPCG(seed, seed))
	// The page's clock is moved by the test: a person's keys are 90 ms apart, a scanner's 3 ms. Scans are of
	// the card "again", which changes nothing, and of a card that is cut short, which is no code of ours.
	var script strings.Builder
	script.WriteString(`(() => { let now = performance.now(); const real = performance.now.bind(performance); performance.now = () => now;
	let heard = 0; document.addEventListener("wreath-happened", (e) => { if (e.detail === "scan") heard++; });
	const press = (key, after) => { now += after; const at = document.activeElement ?? document.body;
		const e = new KeyboardEvent("keydown", {key, bubbles: true, cancelable: true});
		if (at.dispatchEvent(e) && key.length === 1 && at.matches("input:not([type=hidden])")) document.execCommand("insertText", false, key); };
	const typed = {};
	const field = (slot) => document.querySelector('#' + CSS.escape("slot-" + slot) + ' [name=text]');
	`)
	slots := []string{"air_g", "liquid_g", "closing_air_g", "liquid.temperature_c"}
	scans := 0
	for range 1000 {
		slot := slots[rng.IntN(len(slots))]
		switch rng.IntN(3) {
		case 0: // some letters of a number, typed by a person
			for range 1 + rng.IntN(3) {
				digit := rng.IntN(10)
				fmt.Fprintf(&script, "field(%q).focus(); field(%q).setSelectionRange(1e6, 1e6); press(\"%d\", 90); typed[%q] = (typed[%q] ?? \"\") + \"%d\";\n", slot, slot, digit, slot, slot, digit)
			}
		case 1:
			fmt.Fprintf(&script, "field(%q).focus();", slot)
		case 2: // beside all fields
			script.WriteString("document.activeElement.blur();")
		}
		scans++
		script.WriteString(`now += 90; for (const key of [..."BENCHREDO", "Enter"]) press(key, 3);` + "\n")
	}
	script.WriteString(`performance.now = real; const wrong = [];
	for (const f of document.querySelectorAll("form.take [name=text]")) { const want = typed[f.form.elements.slot.value] ?? ""; if (f.value !== want) wrong.push(f.form.elements.slot.value + ": " + f.value + ", want " + want); }
	return [String(heard), ...wrong]; })()`)
	got := eval[[]string](b, "%s", script.String())
	if got[0] != fmt.Sprint(scans) {
		t.Errorf("%s of %d scans were heard", got[0], scans)
	}
	if len(got) > 1 {
		t.Errorf("fields do not hold what was typed: %q", got[1:])
	}
	w.has(id, "air_g 5.0000", "liquid_g 4.6801")
	b.visit("/sheet/" + id) // nothing of the scans was kept for later either
	b.ready()
	if left := eval[[]string](b, `[...document.querySelectorAll("form.take [name=text]")].map((f) => f.value).filter((v) => /[A-Z]/i.test(v))`); len(left) > 0 {
		t.Errorf("after a reload fields hold %q", left)
	}
}

// walkRestore sets the last reading aside by X, and X again takes that back.
func walkRestore(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed[0], weighed[1])
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	b.focus("")
	b.key("x")
	b.until(`document.activeElement.name === "reason"`)
	b.types("bubble")
	b.press(kb.Enter)
	b.reads(row("liquid_g")+" .gone", "bubble")
	w.has(id, "air_g 5.0000", "-liquid_g 4.6801")
	b.focus("")
	b.key("x")
	b.until(`document.activeElement.form?.action.endsWith("/restore")`)
	b.types("none")
	b.press(kb.Enter)
	b.until(`!document.querySelector(%q)`, row("liquid_g")+" .gone")
	w.has(id, "air_g 5.0000", "liquid_g 4.6801")
	b.reads(".cond", "set aside and restored: 1 of 2")
}

// walkKeyList presses the keys of the list, and finds each of them in it.
func walkKeyList(t *testing.T, c *chrome) {
	w := openWorld(t)
	w.openSheet("TRAY-64")
	id := w.openSheet("TRAY-63", weighed[:5]...)
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	listed := eval[string](b, `[...document.querySelectorAll("#keys kbd")].map((k) => k.textContent).join(" ")`)
	for _, key := range []string{"Space", "Enter", "A", "L", "T", "X", "I", "C", "E", "1", "5", "S", "P", "N", "O", "M", "W", "B", "/", "Esc", "?"} {
		if !strings.Contains(" "+listed+" ", " "+key+" ") {
			t.Errorf("%s is not in the list of keys: %s", key, listed)
		}
	}
	for _, k := range []struct{ key, goes string }{
		{"a", `.matches("#slot-air_g [name=text]")`}, {"l", `.matches("#slot-liquid_g [name=text]")`}, {"t", `.form?.elements.slot?.value === "liquid.temperature_c"`},
		{"i", `.matches(".change [name=description]")`}, {"c", `.name === "metal"`}, {"e", `.closest("#evidence") !== null`},
		{"1", `.dataset.key === "1"`}, {"2", `.dataset.key === "2"`}, {"3", `.dataset.key === "3"`}, {"4", `.dataset.key === "4"`}, {"5", `.dataset.key === "5"`},
		{"o", `.matches(".others a")`},
	} {
		b.focus("")
		b.key(k.key)
		b.until(`document.activeElement%s`, k.goes)
	}
	b.focus("air_g") // in a field a letter is a letter
	b.types("n")
	if got := eval[string](b, `location.pathname + " " + document.activeElement.value`); got != "/sheet/"+id+" n" {
		t.Errorf("in a field the key N leads to %s", got)
	}
	b.press(kb.Escape) // and Esc loses nothing
	b.until(`document.activeElement === document.body`)
	if left := eval[string](b, `document.querySelector("#slot-air_g [name=text]").value`); left != "n" {
		t.Errorf("Esc left %q of what was typed", left)
	}
	b.focus("closing_air_g") // an empty field: Enter goes on
	b.press(kb.Enter)
	b.until(`document.activeElement.form?.elements.slot?.value === "liquid.temperature_c"`)
	b.focus("")
	b.key("w")
	b.at("/")
	b.until(`location.search.includes("weigh")`)
	b.ready()
	b.focus("")
	b.key("/")
	b.at("/book")
}

// walkFootSwitch takes readings with the space bar, then with another key from within a field.
func walkFootSwitch(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("")
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	b.focus("air_g")
	b.types("5.0000")
	b.press(kb.Escape)
	b.until(`document.activeElement === document.body`)
	b.press(" ")
	b.taken("air_g", "5.0000")
	b.click(`[data-open=keys]`)
	b.do(chromedp.Evaluate[chromedp.Void](`document.getElementById("foot").focus()`))
	b.press(kb.F9)
	b.until(`document.getElementById("foot").value === "F9"`)
	b.press(kb.Escape)
	b.until(`document.activeElement !== document.getElementById("foot")`)
	b.do(chromedp.Evaluate[chromedp.Void](`document.getElementById("keys").close()`))
	b.focus("liquid_g")
	b.types("4.6801")
	b.press(kb.F9)
	b.taken("liquid_g", "4.6801")
	w.has(id, "air_g 5.0000", "liquid_g 4.6801")
}

// walkMove takes the sheet to another station: what was weighed before is shown with its station and does
// not count.
func walkMove(t *testing.T, c *chrome) {
	w := openWorld(t)
	w.secondBench()
	id := w.openSheet("", weighed[0], weighed[1], weighed[4])
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	b.until(`document.querySelector(".density .value").innerText.startsWith("15")`)
	b.focus("")
	b.key("m")
	b.until(`document.activeElement.name === "station"`)
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector(".move [name=reason]").focus()`))
	b.types("this balance can't decide it")
	b.press(kb.Enter)
	b.reads(".cond", "bench-2")
	b.reads("#next", "does not count on this balance")
	b.reads(row("air_g")+" .gone", "taken at bench")
	b.until(`document.querySelector(".density .value").innerText.trim() === "–"`)
	for _, r := range [][2]string{weighed[0], weighed[1], weighed[4]} {
		b.enters(r[0], r[1])
		b.taken(r[0], r[1])
	}
	b.until(`document.querySelector(".density .value").innerText.startsWith("15")`)
}

// secondBench is a station with a balance of its own.
func (w *benchWorld) secondBench() {
	w.t.Helper()
	by := desk.By{Who: w.who}
	i, err := station.DecodeInstrument([]byte(`{"id": "B-2", "version": 1, "kind": "balance", "capacity_g": 210, "scale_interval_g": 0.0001, "repeatability_g": 0.0001, "repeatability_liquid_g": 0.0002, "repeatability_dof": 20}`))
	if err == nil {
		_, err = w.desk.SetInstrument(context.Background(), by, *i, "")
	}
	if err != nil {
		w.t.Fatal(err)
	}
	at, err := station.DecodeStation([]byte(`{"id": "bench-2", "version": 1, "name": "Bench 2", "arrangement": "hanging", "balance": {"id": "B-2", "version": 1}, "liquid": {"kind": "water"}}`))
	if err == nil {
		_, err = w.desk.SetStation(context.Background(), by, *at, "")
	}
	if err != nil {
		w.t.Fatal(err)
	}
}

// walkSounds listens for what the page would sound: nothing while the switch is off, then each by its name; and
// the finding sounds the same whatever it is.
func walkSounds(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("TRAY-65")
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	spy := `window.happened = []; window.sounded = []; document.addEventListener("wreath-happened", (e) => happened.push(e.detail)); document.addEventListener("wreath-sound", (e) => sounded.push(e.detail.name))`
	b.do(chromedp.Evaluate[chromedp.Void](spy))
	b.enters("air_g", "5.0000")
	b.taken("air_g", "5.0000")
	b.until(`happened.includes("taken")`)
	if n := eval[int](b, `sounded.length`); n != 0 {
		t.Errorf("%d sounds while they are off", n)
	}
	b.click(`[data-open=keys]`)
	b.click(`#sounds-on`)
	b.until(`sounded.length === 1`)
	b.do(chromedp.Evaluate[chromedp.Void](`document.getElementById("keys").close(); happened.length = sounded.length = 0`))
	b.enters("liquid_g", "4.6801") // the finding comes with it
	b.until(`sounded.includes("taken") && sounded.includes("answer")`)
	b.bursts("BENCHREDO")
	b.until(`sounded.includes("scan")`)
	b.bursts("BENCHGET")
	b.until(`sounded.includes("unknown")`)
	b.do(chromedp.Evaluate[chromedp.Void](`happened.length = sounded.length = 0`))
	b.enters("liquid_g", "46.801") // a doubt, or a question: look
	b.until(`sounded.includes("doubt") || sounded.includes("stop")`)
	b.until(`document.querySelector("[data-odd]")`) // which is seen as well
	b.visit("/sheet/" + id)                         // the switch is kept
	b.ready()
	if !eval[bool](b, `document.getElementById("sounds-on").checked`) {
		t.Error("the switch of the sounds is not kept")
	}
	// One tone of one length for the three findings: they go by the one name "answer".
	text := eval[string](b, `fetch(document.querySelector('script[type=module]').src.replace("live.js", "sounds.js")).then((r) => r.text())`)
	for _, word := range []string{"met", "undecided"} {
		if strings.Contains(text, word+":") {
			t.Errorf("there is a tone for %q of its own", word)
		}
	}
}

// walkPaste pastes a column of a spreadsheet into one field.
func walkPaste(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed[0])
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	paste := `(() => { const f = document.querySelector(%q); f.focus(); const d = new DataTransfer(); d.setData("text/plain", %q); f.dispatchEvent(new ClipboardEvent("paste", {clipboardData: d, bubbles: true, cancelable: true})); })()`
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(paste, row("liquid_g")+` [name=text]`, "4,6801\r\n4.6800\n4.6802 g\n")))
	b.taken("liquid_g", "4.6802")
	w.has(id, "air_g 5.0000", "liquid_g 4,6801", "liquid_g 4.6800", "liquid_g 4.6802 g")
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(paste, row("liquid_g")+` [name=text]`, "4.6803\nabout five\n4.6804")))
	b.reads(row("liquid_g")+" .wrong", "4.6804")
	b.until(`document.querySelector(%q).value === "about five"`, row("liquid_g")+` [name=text]`)
	w.has(id, "air_g 5.0000", "liquid_g 4,6801", "liquid_g 4.6800", "liquid_g 4.6802 g", "liquid_g 4.6803")
}

// walkOdd types odd numbers: each is taken, asked about, and kept whatever the answer.
func walkOdd(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed[0], weighed[1])
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	b.enters("liquid_g", "0.46802")
	b.reads("[data-odd]", "decimal mark stands otherwise")
	b.click(`[data-odd] button[value=candidate-0]`)
	b.reads(row("liquid_g")+" .gone", "misread: 0.46802 was typed for 4.6802")
	b.until(`!document.querySelector("[data-odd]")`)
	w.has(id, "air_g 5.0000", "liquid_g 4.6801", "-liquid_g 0.46802", "liquid_g 4.6802")
	swapped := w.openSheet("", [2]string{"air_g", "4.6801"}, [2]string{"liquid_g", "5.0000"})
	b.visit("/sheet/" + swapped)
	b.ready()
	b.reads("[data-odd]", "heavier in the liquid")
	b.click(`[data-odd] button[value=candidate-0]`)
	b.until(`!document.querySelector("[data-odd]")`)
	w.has(swapped, "-air_g 4.6801", "-liquid_g 5.0000", "air_g 5.0000", "liquid_g 4.6801")
	stands := w.openSheet("", [2]string{"air_g", "5.1200"}, [2]string{"air_g", "5.2100"})
	b.visit("/sheet/" + stands)
	b.ready()
	b.reads("[data-odd]", "digits are exchanged")
	b.click(`[data-odd] button[value=stands]`)
	b.until(`!document.querySelector("[data-odd]")`)
	w.has(stands, "air_g 5.1200", "air_g 5.2100")
	b.visit("/sheet/" + stands) // it is asked once
	b.ready()
	if eval[bool](b, `document.querySelector("[data-odd]") !== null`) {
		t.Error("what stands is asked about again")
	}
	b.enters("air_g", "3.2900 dwt") // with its unit, and echoed in grams
	b.reads(".now output", "5.1165")
}

// walkTouchRules touches as wet fingers do: two touches within 300 ms are one, a finger that leaves the button
// does nothing, and neither does a long press.
func walkTouchRules(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed[0], weighed[1], weighed[4])
	b := c.open(t, w.home())
	b.touch(390, 844)
	b.visit("/sheet/" + id)
	b.ready()
	before := len(w.readings(id))
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#slot-air_g .aside").scrollIntoView({block: "center"}); window.toggles = 0; document.querySelector("#slot-air_g .aside").addEventListener("toggle", () => toggles++)`))
	at := eval[[]float64](b, `(() => { const r = document.querySelector("#slot-air_g .aside summary").getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()`)
	b.finger(input.DispatchTouchEventTypeTouchStart, at[0], at[1])
	b.finger(input.DispatchTouchEventTypeTouchEnd, 0, 0)
	b.finger(input.DispatchTouchEventTypeTouchStart, at[0]+3, at[1]+2)
	b.finger(input.DispatchTouchEventTypeTouchEnd, 0, 0)
	b.until(`document.querySelector("#slot-air_g .aside").open`)
	if n := eval[int](b, `toggles`); n != 1 {
		t.Errorf("two touches at once count as %d", n)
	}
	// A finger that slides off the button before it lifts presses nothing.
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#slot-air_g .aside [name=reason]").value = "moved"; document.querySelector("#slot-air_g .aside button").scrollIntoView({block: "center"})`))
	on := eval[[]float64](b, `(() => { const r = document.querySelector("#slot-air_g .aside button").getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()`)
	b.finger(input.DispatchTouchEventTypeTouchStart, on[0], on[1])
	b.finger(input.DispatchTouchEventTypeTouchMove, on[0], on[1]+160)
	b.finger(input.DispatchTouchEventTypeTouchEnd, 0, 0)
	// Nothing waits for a long press or for a double touch.
	if listens := eval[bool](b, `["oncontextmenu", "ondblclick"].some((name) => [...document.querySelectorAll("*")].some((e) => e[name]))`); listens {
		t.Error("something waits for a long press or a double touch")
	}
	w.has(id, "air_g 5.0000", "liquid_g 4.6801", "liquid.temperature_c 21.4")
	if after := len(w.readings(id)); after != before {
		t.Errorf("%d readings became %d", before, after)
	}
	// The finger that slid moved the page as well: it comes to rest before the next touch.
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#slot-air_g .aside button").scrollIntoView({block: "center"}); window.rest = {at: scrollY, frames: 0}; (function look() { rest = scrollY === rest.at ? {at: rest.at, frames: rest.frames + 1} : {at: scrollY, frames: 0}; if (rest.frames < 30) requestAnimationFrame(look); })()`))
	b.until(`rest.frames >= 30`)
	b.tap("#slot-air_g .aside button") // and a proper touch does it
	b.reads(row("air_g")+" .gone", "moved")
}

// finger moves one finger on the glass.
func (b *tab) finger(kind input.DispatchTouchEventType, x, y float64) {
	b.t.Helper()
	p := input.DispatchTouchEventParams{Type: kind, TouchPoints: []*input.TouchPoint{}}
	if kind != input.DispatchTouchEventTypeTouchEnd {
		p.TouchPoints = []*input.TouchPoint{{X: x, Y: y}}
	}
	if _, err := chromedp.Call(b.ctx, input.DispatchTouchEvent, p); err != nil {
		b.t.Fatal(err)
	}
}

// walkQueue sends a second number while the first is on its way: both arrive, once each.
func walkQueue(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("")
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.ready()
	b.do(chromedp.Evaluate[chromedp.Void](`for (const [slot, text] of [["air_g", "5.0000"], ["liquid_g", "4.6801"]]) {
		const f = document.querySelector("#" + CSS.escape("slot-" + slot) + " [name=text]"); f.focus(); document.execCommand("insertText", false, text); f.form.requestSubmit(); f.form.requestSubmit(); }`))
	b.taken("liquid_g", "4.6801")
	b.taken("air_g", "5.0000")
	w.has(id, "air_g 5.0000", "liquid_g 4.6801")
}
