package web

import (
	"fmt"
	"slices"
	"testing"

	"github.com/chromedp/chromedp"
)

// BenchmarkAnswerInBrowser measures, within a real browser, from the press of Enter in a reading's field to
// the density that follows from it standing on the page: sent, stored durably, evaluated, drawn and put in
// place. Run it with -benchtime=100x or more; the metrics are of all entries.
func BenchmarkAnswerInBrowser(b *testing.B) {
	c := startChrome(b)
	w := openWorld(b)
	p := c.open(b, w.home())
	const each = 8 // entries on one sheet
	var took []float64
	entry := 0
	for b.Loop() {
		if entry%each == 0 {
			p.visit("/sheet/" + w.openSheet("", weighed...))
			p.ready()
			p.do(chromedp.Evaluate[chromedp.Void](`window.took = []; let pressed = 0;
				document.addEventListener("keydown", (e) => { if (e.key === "Enter") pressed = performance.now(); }, true);
				new MutationObserver((changes) => { for (const c of changes) for (const n of c.addedNodes) if (n.id === "answer" && n.querySelector(".density .value")) took.push(performance.now() - pressed); }).observe(document.getElementById("main"), {childList: true, subtree: true});`))
		}
		entry++
		p.enters("liquid_g", fmt.Sprintf("4.680%d", entry%4))
		n := (entry-1)%each + 1
		p.until(`took.length >= %d && document.querySelectorAll("#slot-liquid_g [data-aside]").length === %d`, n, 2+n)
		took = append(took, eval[float64](p, `took[%d]`, n-1))
	}
	slices.Sort(took)
	at := func(share float64) float64 { return took[min(len(took)-1, int(share*float64(len(took))))] }
	b.ReportMetric(at(0.5), "p50-ms")
	b.ReportMetric(at(0.95), "p95-ms")
	b.ReportMetric(took[len(took)-1], "max-ms")
	b.ReportMetric(0, "ns/op") // the test's own waiting says nothing
}
