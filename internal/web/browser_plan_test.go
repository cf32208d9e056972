package web

import (
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

var planWalks = []struct {
	name string
	do   func(*testing.T, *chrome)
}{
	{"from the sheet to the plan", walkPlanFromSheet},
	{"plan without scripts", walkPlanPlain},
}

// TestPlanInBrowser asks the page of plans as people do. Items are invented.
func TestPlanInBrowser(t *testing.T) {
	c := startChrome(t)
	for _, walk := range planWalks {
		t.Run(walk.name, func(t *testing.T) { walk.do(t, c) })
	}
}

// walkPlanFromSheet reads on the sheet whether the balance can tell, goes on to the plan, and asks it for a
// smaller item, with a slip on the way.
func walkPlanFromSheet(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	b.visit("/sheet/" + w.openSheet("", weighed[0]))
	b.ready()
	b.reads("#outlook", "2 immersions will do.")
	b.click(`a.button[href^="/plan"]`)
	b.at("/plan")
	b.reads("#said", "on an item of 5 g")
	b.reads("#expect", "bench: ±")
	b.reads("#questions", "gold 585")
	b.fill(`[name=mass]`, "a little")
	b.click(`[name=ask]`)
	b.reads(".wrong", "The mass can't be read.")
	b.until(`document.activeElement.name === "mass"`)
	if kept := eval[string](b, `document.querySelector("[name=mass]").value + ", " + document.querySelector("[name=fineness]").value`); kept != "a little, 750" {
		t.Errorf("after a slip the form holds %q, want what was entered", kept)
	}
	b.fill(`[name=mass]`, "0,5")
	b.click(`[name=ask]`)
	b.reads("#said", "on an item of 0.5 g")
	b.click(`#questions a.button`)
	b.reads("#questions", "if the item is")
	b.reads("#said", "on an item of 0.5 g")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#expect figcaption summary").click()`))
	b.reads("#expect figcaption", "0.5 g (this item)")
	b.do(chromedp.Evaluate[chromedp.Void](`history.go(-1)`)) // an address can be gone back to
	b.until(`!document.querySelector("#chances") && document.querySelector("#said")?.innerText.includes("0.5 g")`)
}

// walkPlanPlain asks for a plan where the browser runs no scripts of the page.
func walkPlanPlain(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	if _, err := chromedp.Call(b.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	b.visit("/plan")
	b.fill(`[name=mass]`, "2")
	b.fill(`[name=fineness]`, "750")
	b.click(`[name=ask]`)
	b.reads("#said", "on an item of 2 g")
	b.reads("#questions", "gold 585")
	b.click(`#expect figcaption summary`)
	b.reads("#expect figcaption", "2 g (this item)")
	if live := eval[bool](b, `!document.querySelector("[data-open=keys]").hidden`); live {
		t.Error("the page's scripts ran")
	}
}
