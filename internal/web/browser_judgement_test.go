package web

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/record"
)

var judgementWalks = []struct {
	name string
	do   func(*testing.T, *chrome)
}{
	{"doubt", walkDoubt},
	{"proposal", walkProposal},
	{"proposal where nothing follows", walkProposalRefused},
	{"evidence", walkEvidence},
	{"coin that is not of its type", walkCoin},
	{"ring with stones", walkRing},
	{"plate on a core", walkLayers},
	{"heap", walkHeap},
	{"next step to the end", walkNext},
	{"stop rule", walkStopRule},
	{"evidence without scripts", walkEvidencePlain},
	{"its pages", walkJudgementPages},
}

// TestJudgementInBrowser walks through what the sheet says of a weighing, and what a person answers. Items
// and readings are invented.
func TestJudgementInBrowser(t *testing.T) {
	c := startChrome(t)
	for _, walk := range judgementWalks {
		t.Run(walk.name, func(t *testing.T) { walk.do(t, c) })
	}
}

// sheetOf opens a sheet with a document of its own.
func (w *benchWorld) sheetOf(document string, readings ...[2]string) string {
	w.t.Helper()
	ctx := context.Background()
	s, err := w.desk.OpenSheet(ctx, desk.By{Who: w.who}, desk.Begin{Station: "bench", Document: json.RawMessage(document)})
	if err != nil {
		w.t.Fatal(err)
	}
	for _, r := range readings {
		if _, err := w.desk.Take(ctx, desk.By{Who: w.who}, s.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}); err != nil {
			w.t.Fatal(err)
		}
	}
	return s.Sheet.ID
}

// asks is what a sheet asks at the moment.
func (w *benchWorld) asks(id string) *determination.Draft {
	w.t.Helper()
	s, err := w.desk.Sheet(context.Background(), w.who, id)
	if err != nil {
		w.t.Fatal(err)
	}
	d, err := determination.Decode(asked(s.Sheet))
	if err != nil {
		w.t.Fatal(err)
	}
	return d
}

// unfold opens what is folded.
func (b *tab) unfold(selector string) {
	b.t.Helper()
	b.until(`document.querySelector(%q)`, selector)
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector(%q).open = true`, selector)))
}

// show goes to a sheet and waits for its scripts.
func (b *tab) show(id string) {
	b.t.Helper()
	b.visit("/sheet/" + id)
	b.ready()
}

// puts types a reading into its row, and waits until it is taken.
func (b *tab) puts(slot, text string) {
	b.t.Helper()
	before := eval[int](b, `document.querySelectorAll("#" + CSS.escape(%q) + " li").length`, "slot-"+slot)
	b.enters(slot, text)
	b.until(`document.querySelectorAll("#" + CSS.escape(%q) + " li").length === %d`, "slot-"+slot, before+1)
}

// back waits until the sheet itself is shown.
func (b *tab) back(id string) {
	b.t.Helper()
	b.until(`location.pathname === %q && document.documentElement.dataset.ready === "yes"`, "/sheet/"+id)
}

const atRest = "21.4" // °C, of the water

// walkDoubt has a bubble on the first immersion: the doubt says how large, and the reading without it
// settles it when the first is set aside.
func walkDoubt(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed[0], [2]string{"liquid.temperature_c", atRest}, [2]string{"liquid_g", "4.6701"})
	b := c.open(t, w.home())
	b.show(id)
	if eval[int](b, `document.querySelectorAll(".doubts > li").length`) != 0 {
		t.Error("one immersion at the edge of the band is doubted already")
	}
	b.puts("liquid_g", "4.6801")
	b.reads(".q4", "a bubble on the item")
	b.reads(".q4 .verdict", "possible")
	b.reads(".q4 .doubts", "a bubble of 2.3 mm") // how large, how likely, and the number to expect
	b.reads(".q4 .doubts", "Chance")
	b.reads(".q4 .doubts", "4.6801 g again settles it")
	b.reads(".q3 .finding", "doubtful")
	if n := eval[int](b, `document.querySelectorAll(".doubts > li").length`); n < 2 || n > 3 {
		t.Errorf("%d doubts are shown", n)
	}
	b.unfold(".q4 .why")
	b.reads(".q4 .why", "Can't be: the temperature of the liquid is wrong")
	b.reads(".q4 .sizes", "diameter of the bubble")
	b.reads(".next.doubt", "weigh it in air again")
	b.reads(".because", "5.0000 g again")
	b.unfold(".others-too")
	b.reads(".others-too", "Brush it")
	b.puts("closing_air_g", "5.0000")
	b.puts("liquid_g", "4.6801")
	b.reads(".q4 .verdict", "favoured") // with the closing weighing it is a bubble
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#slot-liquid_g li .aside").open = true`))
	b.fill(row("liquid_g")+" li [name=reason]", "a bubble")
	b.click(row("liquid_g") + " li .aside button")
	b.reads(row("liquid_g")+" .gone", "a bubble")
	b.until(`document.querySelector(".q4 .big")?.innerText === "no doubts"`)
	b.until(`!document.querySelector(".next.doubt")`)
	w.has(id, "air_g 5.0000", "liquid.temperature_c "+atRest, "-liquid_g 4.6701", "liquid_g 4.6801", "closing_air_g 5.0000", "liquid_g 4.6801")
}

// walkProposal types the weight lost in place of the immersed reading.
func walkProposal(t *testing.T, c *chrome) {
	w := openWorld(t)
	readings := [][2]string{weighed[0], {"liquid.temperature_c", atRest}, {"liquid_g", "0.3199"}}
	id, other := w.openSheet("", readings...), w.openSheet("", readings...)
	b := c.open(t, w.home())
	b.show(id)
	b.reads("[data-odd]", "0.3199")
	b.reads("[data-odd] button[value=candidate-0]", "it was 4.6801 (15.58 g/cm³)")
	b.reads("[data-odd] button[value=stands]", "keep as typed")
	b.reads(".q4", "one quantity was typed in place of another")
	b.click(`[data-odd] button[value=candidate-0]`)
	b.reads(row("liquid_g")+" .gone", "misread: 0.3199 was typed for 4.6801")
	b.until(`!document.querySelector("[data-odd]")`)
	b.reads(".density .value", "15.5")
	w.has(id, "air_g 5.0000", "liquid.temperature_c "+atRest, "-liquid_g 0.3199", "liquid_g 4.6801")

	b.show(other)
	b.click(`[data-odd] button[value=stands]`)
	b.until(`!document.querySelector("[data-odd]")`)
	w.has(other, "air_g 5.0000", "liquid.temperature_c "+atRest, "liquid_g 0.3199")
	b.show(other)
	if eval[bool](b, `document.querySelector("[data-odd]") !== null`) {
		t.Error("what stands is asked about again")
	}
}

// walkProposalRefused types carats as grams: no density follows, and what may have been meant stands beside
// the refusal.
func walkProposalRefused(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed[0], [2]string{"liquid.temperature_c", atRest}, [2]string{"liquid_g", "23.4005"})
	b := c.open(t, w.home())
	b.show(id)
	b.reads(".next.stop", "heavier in the liquid")
	b.reads(".q4", "another unit")
	b.until(`[...document.querySelectorAll("[data-odd] button")].some((e) => e.innerText.includes("4.6801"))`)
	b.do(chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll("[data-odd] button")].find((e) => e.innerText.includes("4.6801")).click()`))
	b.reads(row("liquid_g")+" .gone", "23.4005")
	b.reads(".density .value", "15.5")
	w.has(id, "air_g 5.0000", "liquid.temperature_c "+atRest, "-liquid_g 23.4005", "liquid_g 4.6801")
}

// test writes down what a test found; fields by name and text.
func (b *tab) test(kind string, fields ...string) {
	b.t.Helper()
	b.unfold(".test")
	b.choose(`.test [name=kind]`, kind)
	for i := 0; i+1 < len(fields); i += 2 {
		name := fmt.Sprintf(`.test [name=%s-%s]`, kind, fields[i])
		b.until(`document.querySelector(%q).offsetParent`, name) // only its own fields are seen
		b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector(%q).value = %q`, name, fields[i+1])))
	}
	b.click(`.test button`)
}

// walkEvidence enters evidence that contradicts the claim, switches it off and on, and sets it aside.
func walkEvidence(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed...)
	b := c.open(t, w.home())
	b.show(id)
	b.key("e")
	b.until(`document.querySelector(".test").open && document.activeElement.name === "kind"`)
	if n := eval[int](b, `[...document.querySelectorAll(".test fieldset")].filter((e) => e.offsetParent).length`); n != 1 {
		t.Errorf("the fields of %d tests are seen at once", n)
	}
	b.test("sound", "echo_us", "0,6")
	b.reads(".test .wrong", "is missing") // the thickness
	b.test("magnet", "result", "none")
	b.reads(".pieces", "a magnet does not attract it")
	b.until(`!document.querySelector(".next.doubt")`)
	b.test("touchstone", "metal", "gold", "fineness_ppt", "585")
	b.reads(".pieces", "its streak is that of gold 585")
	b.reads(".pieces .tag", "contradicts")
	b.reads(".q4", "evidence contradicts: touchstone against claim")
	b.reads(".next.doubt", "Draw the streak again")
	b.reads(".q3 .finding", "doubtful")
	b.reads(".pieces .shares", "→")
	b.click(`.pieces > li:last-child button[value=off]`)
	b.reads(".pieces > li:last-child", "Switched off")
	b.until(`!document.querySelector(".next.doubt")`)
	if !w.asks(id).Evidence[1].Off {
		t.Error("the sheet does not say that it is switched off")
	}
	b.click(`.pieces > li:last-child button[value=on]`)
	b.reads(".pieces .tag", "contradicts")
	b.picture("evidence-1280", true)
	b.unfold(".pieces > li:last-child .aside")
	b.fill(`.pieces > li:last-child [name=reason]`, "acid was old")
	b.click(`.pieces > li:last-child .aside button`)
	b.reads(".pieces > li.gone", "acid was old")
	b.until(`!document.querySelector(".next.doubt")`)
	if n := len(w.asks(id).Evidence); n != 1 {
		t.Errorf("%d pieces of evidence count, want 1", n)
	}
	b.click(`.pieces > li.gone button[value=restore]`)
	b.reads(".pieces .tag", "contradicts")
	b.click(`button[data-key=S]`)
	b.at("/record/")
	b.reads("main", "its streak is that of gold 585")
	b.reads("main", "Further evidence")
	if late := eval[bool](b, `document.querySelector("main").innerText.includes("Claim or rule was changed")`); late {
		t.Error("evidence counts as a change of the claim")
	}
}

// walkEvidencePlain enters evidence with scripts switched off.
func walkEvidencePlain(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed...)
	b := c.open(t, w.home())
	b.visit("/sheet/" + id + "/lanes")
	b.reads("main", "Everything in the tables that fits")
	b.reads("main", "A small share hides nothing.")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("header a[href^='/sheet/']").click()`))
	b.until(`location.pathname === %q`, "/sheet/"+id)
	b.until(`document.readyState === "complete" && document.querySelector(".test")`)
	b.do(chromedp.Evaluate[chromedp.Void](`(() => { const f = document.querySelector(".test form"); f.elements.kind.value = "surface"; f.elements["surface-parts"].value = "Au 752, silver 125, copper 123"; HTMLFormElement.prototype.submit.call(f); })()`))
	b.reads(".pieces", "the surface reads gold 752, silver 125, copper 123")
	if parts := w.asks(id).Evidence[0].Parts; len(parts) != 3 || parts[0].Metal != "gold" || *parts[2].Ppt != 123 {
		t.Errorf("the parts are %+v", parts)
	}
}

// walkCoin weighs what is said to be a sovereign and is too light for its size.
func walkCoin(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	b.visit("/")
	b.ready()
	b.fill(`[name=description]`, "gold coin (invented)")
	b.unfold(".whole-item")
	if !eval[bool](b, `[...document.querySelectorAll("#types option")].some((o) => o.value === "UK sovereign")`) {
		t.Error("the list of types holds no sovereign")
	}
	b.fill(`[name=type]`, "UK sovereign")
	b.fill(`[name=intake]`, "7.988")
	b.click(`button[data-key=N]`)
	b.at("/sheet/")
	b.ready()
	b.reads(".item", "gold 916.67")
	for _, r := range [][2]string{{"air_g", "7.9880"}, {"liquid_g", "7.3000"}, {"liquid.temperature_c", atRest}} {
		b.puts(r[0], r[1])
	}
	b.reads(".density .told", "disagrees")
	b.reads(".density .told", "The density and volume do not agree with the type")
	b.unfold(".density .more")
	b.reads(".density .more", "a true piece has")
	b.reads(".density .more", "too low")
	id := eval[string](b, `location.pathname.split("/")[2]`)
	if item := w.asks(id).Item; item.Type != "uk-sovereign" || item.IntakeMassG == nil || *item.IntakeMassG != 7.988 {
		t.Errorf("the sheet asks of %+v", item)
	}
	b.picture("coin-1280", true)
	// The short form changes what it shows and keeps what it does not show.
	b.unfold(".item .change")
	b.fill(`.item .change [name=description]`, "gold coin, mount removed (invented)")
	b.fill(`.item .change [name=reason]`, "seen late")
	b.click(`.item .change button`)
	b.reads(".item dl", "mount removed")
	if item := w.asks(id).Item; item.Type != "uk-sovereign" || item.IntakeMassG == nil {
		t.Errorf("the short form dropped what it does not show: %+v", item)
	}
}

// walkRing weighs a ring with stones that are taken off.
func walkRing(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", [2]string{"air_g", "5.1000"}, [2]string{"liquid_g", "4.7466"}, [2]string{"liquid.temperature_c", atRest})
	b := c.open(t, w.home())
	b.visit("/sheet/" + id + "/item")
	b.ready()
	b.choose(`[name=stones]`, "yes")
	if eval[bool](b, `document.querySelector("fieldset.layers").offsetParent !== null || document.querySelector("fieldset.stones").offsetParent !== null`) {
		t.Error("fields are seen that this item does not need")
	}
	b.choose(`[name=made_of]`, "stones")
	b.until(`document.querySelector("fieldset.stones").offsetParent`)
	b.fill(`[name=species-0]`, "diamond")
	b.fill(`[name=carat-0]`, "0,5")
	b.fill(`[name=species-1]`, "diamond")
	b.fill(`[name=number-1]`, "2")
	b.fill(`[name=diameter-1]`, "1.3")
	b.fill(`[name=reason]`, "stones counted")
	b.picture("item-form-1280", true)
	b.click(`button[data-key=S]`)
	b.back(id)
	b.reads(".density .told", "Without its stones the metal weighs")
	b.unfold(".density .more")
	b.reads(".density .more", "diamond")
	b.picture("ring-1280", true)
	d := w.asks(id)
	if set := d.Item.StonesSet; len(set) != 2 || *set[0].CaratEach != 0.5 || *set[1].Number != 2 || *set[1].DiameterMM != 1.3 {
		t.Fatalf("the stones are %+v", set)
	}
	b.puts("closing_air_g", "5.1000")
	b.click(`button[data-key=S]`)
	b.at("/record/")
	b.reads("main", "Without its stones the metal weighs")
	number := eval[string](b, `location.pathname.split("/")[2]`)
	// A correction that changes nothing of the item keeps all of it.
	b.visit("/record/" + number + "/correct")
	b.fill(`[name=reason]`, "a digit")
	b.click(`button[data-key=S]`)
	b.at("/record/")
	b.until(`!location.pathname.endsWith(%q)`, number)
	b.reads("main", "Without its stones the metal weighs")
}

// walkLayers weighs a bar said to be copper under gold.
func walkLayers(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.sheetOf(`{"item": {"description": "plated bar (invented)"}, "claim": {"metal": "gold", "fineness": 999}}`,
		[2]string{"air_g", "50.0000"}, [2]string{"liquid_g", "45.0000"}, [2]string{"liquid.temperature_c", atRest})
	b := c.open(t, w.home())
	b.visit("/sheet/" + id + "/item")
	b.ready()
	b.choose(`[name=made_of]`, "layers")
	b.fill(`[name=core]`, "copper")
	b.fill(`[name=plate]`, "gold 999")
	b.fill(`[name=area_cm2]`, "40")
	b.fill(`[name=reason]`, "filed")
	b.click(`button[data-key=S]`)
	b.back(id)
	b.reads(".density .told", "the plate is")
	b.unfold(".density .more")
	b.reads(".density .more", "µm")
	b.picture("layers-1280", true)
}

// walkHeap has no fineness of a heap, and says why.
func walkHeap(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed...)
	b := c.open(t, w.home())
	b.visit("/sheet/" + id + "/item")
	b.ready()
	b.choose(`[name=made_of]`, "heap")
	b.reads(".only.heap", "No fineness follows from a heap")
	b.fill(`[name=reason]`, "they are two")
	b.click(`button[data-key=S]`)
	b.back(id)
	b.reads(".density .told", "no fineness")
}

// walkNext does what the next line says until nothing is missing.
func walkNext(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("")
	b := c.open(t, w.home())
	b.show(id)
	left := map[string][]string{"air_g": {"5.0000"}, "liquid_g": {"4.6801", "4.6802"}, "closing_air_g": {"5.0000"}, "liquid.temperature_c": {atRest},
		"liquid.proof.air_g": {"20.0000"}, "liquid.proof.liquid_g": {"17.4859"}}
	var way []string
	for range 12 {
		wanted := eval[string](b, `document.querySelector(".slot.wanted")?.id.slice(5) ?? ""`)
		if wanted == "" {
			break
		}
		if len(left[wanted]) == 0 {
			t.Fatalf("%s is asked for once more, after %s; the line says %q", wanted, strings.Join(way, ", "), eval[string](b, `document.getElementById("next").innerText`))
		}
		text := left[wanted][0]
		left[wanted] = left[wanted][1:]
		way = append(way, wanted)
		if len(way) > 3 && wanted != "liquid.proof.liquid_g" {
			b.reads(".because", "asks for") // why, by the answer
		}
		b.puts(wanted, text)
	}
	b.reads("#next", "Send it to an assay") // no weighing is missing, and the claim stays undecided
	want := []string{"air_g", "liquid_g", "liquid.temperature_c", "liquid_g", "closing_air_g", "liquid.proof.air_g", "liquid.proof.liquid_g"}
	if !slices.Equal(way, want) {
		t.Errorf("the way was %v, want %v", way, want)
	}
	b.visit("/sheet/" + id + "/far")
	b.reads(".farnext", "Send it to an assay")
}

// walkStopRule agrees on when to stop before the first reading, and keeps to it.
func walkStopRule(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("")
	b := c.open(t, w.home())
	b.visit("/sheet/" + id + "/item")
	b.ready()
	b.fill(`[name=stop_least]`, "3")
	b.fill(`[name=stop_most]`, "5")
	b.fill(`[name=stop_enough]`, "0,06")
	b.click(`button[data-key=S]`)
	b.back(id)
	if r := w.asks(id).StopRule; r == nil || *r.Least != 3 || *r.Most != 5 || *r.ExpandedKgM3 != 60 {
		t.Fatalf("the rule is %+v", r)
	}
	b.ready()
	for _, r := range [][2]string{{"air_g", "5.0000"}, {"liquid.temperature_c", atRest}, {"liquid_g", "4.6801"}, {"liquid_g", "4.6802"}} {
		b.puts(r[0], r[1])
	}
	b.reads("#stop", "one more")
	b.reads("#stop", "agreed before the first reading")
	b.reads("#stop", "3 … 5")
	b.puts("closing_air_g", "5.0000")
	b.puts("liquid.proof.air_g", "20.0000")
	b.puts("liquid.proof.liquid_g", "17.4859")
	b.reads("#next", "hang it in the liquid once more") // the house rule has all it asks for; the stop rule has not
	b.puts("liquid_g", "4.6801")
	b.reads("#stop", "enough")
	b.reads("#next", "Send it to an assay")
	b.visit("/sheet/" + id + "/item")
	b.ready()
	b.fill(`[name=stop_least]`, "2")
	b.fill(`[name=reason]`, "in a hurry")
	b.click(`button[data-key=S]`)
	b.back(id)
	b.reads("#stop", "changed after the first reading")
}

// judged are requests of invented items that the judgement has much to say of.
const (
	coinAsked = `{"item": {"description": "gold coin (invented)", "colour": "yellow", "type": "uk-sovereign"}, "evidence": [{"kind": "size", "diameter_mm": 22.05, "thickness_mm": 1.52}, {"kind": "magnet", "result": "none", "off": true}]}`
	ringAsked = `{"item": {"description": "ring, one stone (invented)", "colour": "yellow", "stones": true, "stones_set": [{"species": "diamond", "number": 1, "carat_each": 0.5}]}, "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow", "made_by": "stamp"}}`
	bandAsked = `{"item": {"description": "band, stamp 750 (invented)", "colour": "yellow", "stones": false}, "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow"}, "evidence": [{"kind": "touchstone", "metal": "gold", "fineness_ppt": 585}, {"kind": "conductivity", "percent_iacs": 15}]}`
)

// walkJudgementPages looks at sheets in doubt, with evidence, of a coin and of a ring, as at every page.
func walkJudgementPages(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	b.visit("/")
	warm := [2]string{"liquid.temperature_c", atRest}
	bubble := w.openSheet("", weighed[0], warm, [2]string{"liquid_g", "4.6701"}, [2]string{"liquid_g", "4.6801"})
	coin := w.sheetOf(coinAsked, [2]string{"air_g", "7.9880"}, warm, [2]string{"liquid_g", "7.3000"})
	ring := w.sheetOf(ringAsked, [2]string{"air_g", "5.1000"}, [2]string{"liquid_g", "4.7466"}, [2]string{"liquid_g", "4.7467"}, warm)
	number, err := w.desk.Conclude(context.Background(), desk.By{Who: w.who}, w.sheetOf(bandAsked, weighed[:5]...))
	if err != nil {
		t.Fatal(err)
	}
	b.inspectAll([]seenPage{
		{"sheet-bubble", "/sheet/" + bubble}, {"sheet-meant", "/sheet/" + w.openSheet("", weighed[0], warm, [2]string{"liquid_g", "0.3199"})},
		{"sheet-refused", "/sheet/" + w.openSheet("", weighed[0], warm, [2]string{"liquid_g", "23.4005"})},
		{"sheet-coin", "/sheet/" + coin}, {"sheet-ring", "/sheet/" + ring}, {"sheet-contradicted", "/sheet/" + w.sheetOf(bandAsked, weighed[:5]...)},
		{"item", "/sheet/" + ring + "/item"}, {"lanes", "/sheet/" + coin + "/lanes"}, {"record-judged", "/record/" + number.Number},
	})
}
