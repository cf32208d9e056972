package web

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// page is a page with something on it.
type seenPage struct{ name, path string }

func everyPage(w *benchWorld) []seenPage {
	number, other := w.keep(), w.keep()
	return []seenPage{
		{"bench", "/"}, {"sheet-empty", "/sheet/" + w.openSheet("T-17")}, {"sheet-half", "/sheet/" + w.openSheet("T-19", weighed[:1]...)},
		{"sheet-done", "/sheet/" + w.openSheet("T-18", weighed...)},
		{"sheet-doubtful", "/sheet/" + w.openSheet("T-22", append(weighed[:5:5], weighed[5], [2]string{"liquid.proof.liquid_g", "17.4834"})...)},
		{"sheet-plain", "/sheet/" + w.openSheet("T-20", weighed[0], weighed[1], weighed[4])},
		{"far", "/sheet/" + w.openSheet("T-21", weighed...) + "/far"},
		{"record", "/record/" + number}, {"correct", "/record/" + number + "/correct"}, {"compare", "/compare?record=" + number + "&record=" + other},
		{"book", "/book"}, {"day", "/day"},
		{"plan-empty", "/plan"}, {"plan", "/plan?station=bench&mass=12.4&unit=g&metal=gold&fineness=750&family=gold-yellow"}, {"plan-coarse", coarsePlan + "&chances=1"},
		{"plan-bad", "/plan?station=bench&mass=two&unit=g&metal=gold&fineness=750&against=585,+tungsten"}, {"stations", "/stations"}, {"station", "/stations/bench"}, {"materials", "/materials"}, {"table", "/materials/families"},
		{"settings", "/settings"}, {"lost", "/nowhere"},
	}
}

// coarsePlan is the address of a plan of a small ring on a balance that steps by 0.01 g.
const coarsePlan = "/plan?station=&mass=2&unit=g&metal=gold&fineness=750&colour=yellow&resolution=0.01+g"

// themes are what a device can be set to.
var themes = []string{"light", "dark", "high", "high-dark"}

// axe is the text of the accessibility checker.
func axe(t testing.TB) string {
	t.Helper()
	const name = "../../.tools/node/node_modules/axe-core/axe.min.js"
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal("the accessibility checker is missing: run ./check, or: npm install --no-save --prefix .tools/node axe-core@4.14.1")
	}
	return string(text)
}

// walkPages looks at every page: with the accessibility checker in every theme, at the size of every
// screen, as narrow as 320 px (which is also 400 % of 1280), from right to left, and at its targets.
func walkPages(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	b.visit("/")
	b.inspectAll(everyPage(w))
}

// inspectAll does it with some pages.
func (b *tab) inspectAll(pages []seenPage) {
	t := b.t
	t.Helper()
	checker := axe(t)
	for _, p := range pages {
		b.size(1280, 800)
		b.look("light")
		b.visit(p.path)
		b.do(chromedp.Evaluate[chromedp.Void](checker + "; void 0"))
		for _, theme := range themes {
			b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.documentElement.dataset.theme = %q`, theme)))
			rules := `{resultTypes: ["violations"]}` // but for contrast, nothing hangs on the theme
			if theme != "light" {
				rules = `{resultTypes: ["violations"], runOnly: ["color-contrast"]}`
			}
			found := eval[[]string](b, `axe.run(document, %s).then((r) => r.violations.flatMap((v) => v.nodes.map((n) => v.id + ": " + n.html.slice(0, 160) + " " + (n.any[0]?.message ?? ""))))`, rules)
			for _, violation := range found {
				t.Errorf("%s, %s: %s", p.name, theme, violation)
			}
			b.picture(p.name+"-1280-"+theme, false)
		}
		if strings.HasPrefix(p.name, "sheet") {
			b.do(chromedp.Evaluate[chromedp.Void](`document.documentElement.dataset.theme = "light"`))
			b.seenAtOnce(p.name)
		}
		if p.name == "far" {
			for _, what := range []string{".reading", ".farline.num", ".farline.finding", ".farnext"} {
				b.large(p.name, what)
			}
		}
		b.targets(p.name)
		for _, size := range [][2]int64{{768, 1024}, {390, 844}, {320, 640}} {
			b.size(size[0], size[1])
			b.fits(p.name, size[0])
			b.picture(fmt.Sprintf("%s-%d", p.name, size[0]), true)
		}
		b.targets(p.name + " at 320 px")
		b.do(chromedp.Evaluate[chromedp.Void](`document.documentElement.dir = "rtl"`))
		b.fits(p.name+" from right to left", 320)
		b.size(1280, 800)
		b.fits(p.name+" from right to left", 1280)
		b.picture(p.name+"-1280-mirror", false)
	}
	for _, lang := range []string{"de", "es"} { // their words are longer
		b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.cookie = "wreath-language=%s; path=/"`, lang)))
		for _, p := range pages {
			b.size(320, 640)
			b.visit(p.path)
			if got := eval[string](b, `document.documentElement.lang`); got != lang {
				t.Errorf("%s is in %s, want %s", p.name, got, lang)
			}
			b.fits(p.name+" in "+lang, 320)
			b.size(1280, 800)
			b.fits(p.name+" in "+lang, 1280)
			b.picture(p.name+"-1280-"+lang, false)
		}
	}
}

// look sets the device to a theme, and to the language that mirrors.
func (b *tab) look(theme string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.cookie = "wreath-theme=%s; path=/"`, theme)))
}

// fits asks that nothing sticks out at the side; what must stay a table scrolls in its own box.
func (b *tab) fits(name string, width int64) {
	b.t.Helper()
	if wide := eval[int](b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); wide > 0 {
		who := eval[string](b, `[...document.querySelectorAll("main *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".scroll, .others, figure, nav")).slice(0, 3).map((e) => e.outerHTML.slice(0, 100)).join(" | ")`)
		b.t.Errorf("%s is %d px too wide at %d px: %s", name, wide, width, who)
	}
}

// targets asks that everything that is touched is 48 px high, 44 px inside the readings, but for links
// within a line of text.
func (b *tab) targets(name string) {
	b.t.Helper()
	for _, small := range eval[[]string](b, `[...document.querySelectorAll("button, input:not([type=hidden], [type=checkbox], [type=radio]), select, textarea, summary, .button, label.choice, .top nav a")].filter((e) => e.offsetParent && !e.closest("dialog")).map((e) => [e, e.getBoundingClientRect()]).filter(([e, r]) => r.height < (e.closest(".aside") ? 44 : 47.9) - 0.1).map(([e, r]) => Math.round(r.height) + " px: " + e.outerHTML.slice(0, 90))`) {
		b.t.Errorf("%s: too small to touch, %s", name, small)
	}
}

// pixelMM is the size of a screen's pixel that the pages are made for: a desk screen of 96 pixels an
// inch has 0.2646 mm. Chosen here; a screen with other pixels is set right by the zoom of its browser.
const pixelMM = 0.265

// large asks that what is read from afar has capitals and figures of 18 mm, measured on the glyphs that
// the browser draws. 18 mm at 1.5 m are 41 minutes of arc; chosen here.
func (b *tab) large(name, selector string) {
	b.t.Helper()
	tall := eval[float64](b, `(() => { const e = document.querySelector(%q), s = getComputedStyle(e), c = document.createElement("canvas").getContext("2d");
		c.font = s.fontStyle + " " + s.fontWeight + " " + s.fontSize + " " + s.fontFamily; return c.measureText(/[0-9]/.test(e.textContent) ? "1" : "H").actualBoundingBoxAscent; })()`, selector)
	if mm := tall * pixelMM; mm < 18 {
		b.t.Errorf("%s: %s is %.1f px or %.1f mm tall, want 18 mm", name, selector, tall, mm)
	}
}

// seenAtOnce asks that all five answers of a sheet are seen whole and without scrolling at 1280x800, in
// the order of the questions, on the page as in the document; and what to do next too.
func (b *tab) seenAtOnce(name string) {
	b.t.Helper()
	for _, late := range eval[[]string](b, `(() => { const floor = document.querySelector(".acts").getBoundingClientRect().top; let last = null; const out = [];
		for (const s of [".density .value", ".answer figure svg", ".q3 .finding", ".q3", ".q4", ".q5", "#next"]) {
			const e = document.querySelector(s); if (!e) { out.push(s + " is missing"); continue; }
			if (e.getBoundingClientRect().bottom > floor) out.push(s + " ends " + Math.round(e.getBoundingClientRect().bottom - floor) + " px too low");
		}
		for (const s of [1, 2, 3, 4, 5].map((n) => '[data-key="' + n + '"]')) {
			const e = document.querySelector(s), r = e.getBoundingClientRect();
			if (last && !(last.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING)) out.push(s + " is out of order in the document");
			if (last && r.top < last.getBoundingClientRect().top && r.left <= last.getBoundingClientRect().left) out.push(s + " is out of order on the page");
			last = e;
		}
		return out; })()`) {
		b.t.Errorf("%s: %s", name, late)
	}
	if !strings.HasSuffix(name, "empty") {
		b.large(name, ".now output")
	}
}
