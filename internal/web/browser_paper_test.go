package web

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/press"
	"wreath/internal/proof"
	"wreath/internal/record"
	"wreath/internal/spool"
)

var paperWalks = []struct {
	name string
	do   func(*testing.T, *chrome)
}{
	{"slip by the dialog of the browser", walkSlip},
	{"sheet to slip by one key", walkSheetToSlip},
	{"report", walkReport},
	{"printer", walkPrinter},
	{"list", walkList},
	{"check of a proof", walkVerify},
	{"every page of paper", walkPaperPages},
}

// TestPaperInBrowser walks through what becomes paper or a file.
func TestPaperInBrowser(t *testing.T) {
	c := startChrome(t)
	for _, walk := range paperWalks {
		t.Run(walk.name, func(t *testing.T) { walk.do(t, c) })
	}
}

// run runs a program of a Debian package, which must be there: a paper that nothing else has read is not known
// to be readable.
func run(t testing.TB, name string, args ...string) string {
	t.Helper()
	var errors bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stderr = &errors
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %s: %v %s (./check installs what is missing)", name, strings.Join(args, " "), err, errors.String())
	}
	return string(out)
}

// dialog puts a counter in the place of the browser's print dialog.
func (b *tab) dialog() {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `window.asked = 0; window.print = () => { window.asked++; };`}); err != nil {
		b.t.Fatal(err)
	}
}

// asked waits until the page has asked for the dialog so often, and finds that it does no more.
func (b *tab) asked(times int) {
	b.t.Helper()
	b.until(`window.asked >= %d`, times)
	if n := eval[int](b, `window.asked`); n != times {
		b.t.Errorf("the page asked for the dialog %d times, want %d", n, times)
	}
}

// printed is the page of a tab as the browser prints it.
func (b *tab) printed(name string) string {
	b.t.Helper()
	yes := true
	out, err := chromedp.Call(b.ctx, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: &yes})
	if err != nil {
		b.t.Fatal(err)
	}
	file := filepath.Join(b.t.TempDir(), name+".pdf")
	if err := os.WriteFile(file, out.Data, 0o600); err != nil {
		b.t.Fatal(err)
	}
	return file
}

// opens asks that the code of a paper, as a printer of 203 dpi has it, is the proof of a record.
func (w *benchWorld) opens(pdf, number string) {
	w.t.Helper()
	bare := strings.TrimSuffix(pdf, ".pdf")
	run(w.t, "pdftoppm", "-r", "203", "-png", "-singlefile", pdf, bare)
	text := strings.TrimSpace(run(w.t, "zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", bare+".png"))
	key, err := proof.ParseKey(w.public)
	if err != nil {
		w.t.Fatal(err)
	}
	opened, err := proof.Open(text, key)
	if err != nil {
		w.t.Fatalf("the code reads %.60q: %v", text, err)
	}
	if opened.Statement.Number != number {
		w.t.Errorf("the code is of %s, want %s", opened.Statement.Number, number)
	}
}

// walkSlip prints the slip of a record on rolls of 58 and 80 mm, each time once more.
func walkSlip(t *testing.T, c *chrome) {
	w := openWorld(t)
	number := w.keep()
	b := c.open(t, w.home())
	b.dialog()
	b.visit("/record/" + number)
	b.ready()
	b.reads("#paper", "Not printed so far.")
	b.focus("")
	b.key("p")
	b.at("/record/" + number + "/slip")
	b.until(`document.querySelector(".slip[data-print]") && document.documentElement.dataset.paper`)
	b.asked(1)
	for i, width := range []int{58, 80} {
		if i > 0 {
			b.choose(`[name=width]`, fmt.Sprint(width))
			b.click(`.slipform button.main`)
			b.until(`document.querySelector(".slip.roll80[data-print]") && document.documentElement.dataset.paper`)
			b.reads(".slip .banner", "COPY 1")
			b.asked(1)
		}
		pdf := b.printed(fmt.Sprintf("slip-%d", width))
		wide, high := 0.0, 0.0
		info := run(t, "pdfinfo", pdf)
		if _, err := fmt.Sscanf(info[strings.Index(info, "Page size:"):], "Page size: %f x %f pts", &wide, &high); err != nil || math.Abs(wide-float64(width)/25.4*72) > 1 {
			t.Errorf("the page of %d mm is %g points wide, want %.1f (%v)", width, wide, float64(width)/25.4*72, err)
		}
		if pages := regexp.MustCompile(`Pages: +(\d+)`).FindStringSubmatch(info); pages == nil || pages[1] != "1" {
			t.Errorf("the slip of %d mm has %v pages, want 1", width, pages)
		}
		text := run(t, "pdftotext", "-layout", pdf, "-")
		for _, want := range []string{number, "Invented Bench", "750", "met", "±", "not a hallmark", "Density alone can't exclude"} {
			if !strings.Contains(strings.Join(strings.Fields(text), " "), want) {
				t.Errorf("the slip of %d mm does not say %q:\n%s", width, want, text)
			}
		}
		if strings.Contains(text, "Back to the record") || strings.Contains(text, "Day book") {
			t.Errorf("what can only be pressed is printed:\n%s", text)
		}
		if folder := os.Getenv("WREATH_PICTURES"); folder != "" {
			run(t, "pdftoppm", "-r", "203", "-png", "-singlefile", pdf, filepath.Join(folder, fmt.Sprintf("slip-printed-%d", width)))
		}
		w.opens(pdf, number)
	}
	b.visit("/record/" + number)
	b.reads("#paper", "Printed so far: 2")
	b.reads("#jobs", "COPY 1")
}

// walkSheetToSlip keeps the record of a sheet and prints its slip with one key; an unfinished sheet is printed
// as a page, as before.
func walkSheetToSlip(t *testing.T, c *chrome) {
	w := openWorld(t)
	id := w.openSheet("", weighed...)
	b := c.open(t, w.home())
	b.dialog()
	b.visit("/sheet/" + id)
	b.ready()
	b.focus("")
	b.key("p")
	b.until(`document.querySelector(".slip[data-print]")`)
	b.asked(1)
	rows, err := w.desk.Find(t.Context(), w.who, everything)
	if err != nil || len(rows) != 1 {
		t.Fatalf("%d records (%v), want 1", len(rows), err)
	}
	if came, _, err := w.desk.Prints(t.Context(), w.who, spool.Slip, rows[0].Number); err != nil || came != 1 {
		t.Errorf("%d prints (%v), want 1", came, err)
	}
	b.do(chromedp.Reload())
	b.until(`document.documentElement.dataset.paper`)
	b.asked(0)
	if came, _, _ := w.desk.Prints(t.Context(), w.who, spool.Slip, rows[0].Number); came != 1 {
		t.Errorf("after a reload there are %d prints, want 1", came)
	}
	half := w.openSheet("", weighed[0])
	b.visit("/sheet/" + half)
	b.ready()
	b.focus("")
	b.key("p")
	b.asked(1)
}

// walkReport issues a report, filling in what is missing where the page says so, and amends it.
func walkReport(t *testing.T, c *chrome) {
	w := openWorld(t)
	number := w.keep()
	b := c.open(t, w.home())
	b.visit("/record/" + number)
	b.click(`#paper a[href$="/report"]`)
	b.at("/record/" + number + "/report")
	for _, missing := range []string{"address of the shop", "condition of the item", "date on which the item came", "signature"} {
		b.reads("#lacks", missing)
	}
	b.fill("[name=condition]", "worn (invented)")
	b.fill("[name=opinion]", "An opinion that must not be lost.")
	b.click("button.main")
	b.reads(".wrong", "needs more than is known")
	if kept := eval[string](b, `document.querySelector("[name=opinion]").value + "|" + document.querySelector("[name=condition]").value`); kept != "An opinion that must not be lost.|worn (invented)" {
		t.Errorf("after the refusal the form holds %q", kept)
	}
	b.click(`#lacks a[href="/settings#shop"]`)
	b.at("/settings")
	b.fill(`#shop [name=address]`, "Lantern Lane 1 (invented)")
	b.click(`form[action="/shop"] button`)
	b.until(`document.readyState === "complete" && document.querySelector("#shop [name=address]")?.defaultValue.startsWith("Lantern")`)
	var logo bytes.Buffer
	drawn := image.NewRGBA(image.Rect(0, 0, 120, 60))
	for x := range 120 {
		drawn.Set(x, 30, color.RGBA{0, 0, 120, 255})
	}
	if err := png.Encode(&logo, drawn); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "logo.png")
	if err := os.WriteFile(file, logo.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	b.upload(`[name=logo]`, file)
	b.click(`form[action="/logo"] button`)
	b.until(`document.querySelector("img.logo")?.naturalWidth > 0`)
	if _, err := w.desk.Sign(t.Context(), desk.By{Who: w.who}, number, people.Approved); err != nil {
		t.Fatal(err)
	}
	b.visit("/record/" + number + "/report")
	b.fill("[name=condition]", "worn (invented)")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("[name=received]").value = "2026-11-20"`))
	b.click("button.main")
	b.at("/record/" + number)
	b.reads("#paper", "R-000001")
	for _, sheet := range []string{"a4", "letter"} {
		pdf := b.download(fmt.Sprintf("/record/R-000001/paper/report.pdf?sheet=%s&language=en&second=de", sheet), sheet+".pdf")
		run(t, "qpdf", "--check", pdf)
		text := strings.Join(strings.Fields(run(t, "pdftotext", pdf, "-")), " ")
		for _, want := range []string{"R-000001", number, "worn (invented)", "Lantern Lane 1 (invented)", "Invented Bench"} {
			if !strings.Contains(text, want) {
				t.Errorf("the report on %s does not say %q", sheet, want)
			}
		}
		list := run(t, "pdfdetach", "-list", pdf)
		if !strings.Contains(list, "R-000001.json") {
			t.Errorf("the facts are not in the report: %s", list)
		}
	}
	b.visit("/record/" + number + "/report")
	b.reads("h1", "R-000001")
	if kept := eval[string](b, `document.querySelector("[name=condition]").value + "|" + document.querySelector("[name=received]").value`); kept != "worn (invented)|2026-11-20" {
		t.Errorf("of the report that is amended the form holds %q", kept)
	}
	b.fill("[name=condition]", "worn, bent (invented)")
	b.fill("[name=reason]", "the bend was overlooked (invented)")
	b.click("button.main")
	b.at("/record/" + number)
	b.reads("#paper", "R-000002")
	b.reads("#paper", "superseded by R-000002")
}

// download fetches a file as the page would, and writes it down.
func (b *tab) download(path, name string) string {
	b.t.Helper()
	got := eval[string](b, `fetch(%q).then(async (r) => { if (!r.ok || !r.headers.get("Content-Disposition")?.startsWith("attachment")) return r.status + " " + await r.text();
		const bytes = new Uint8Array(await r.arrayBuffer()); let text = ""; for (const x of bytes) text += String.fromCharCode(x); return "b:" + btoa(text); })`, path)
	data, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(got, "b:"))
	if err != nil || !strings.HasPrefix(got, "b:") {
		b.t.Fatalf("%s: %.300s", path, got)
	}
	file := filepath.Join(b.t.TempDir(), name)
	if err := os.WriteFile(file, data, 0o600); err != nil {
		b.t.Fatal(err)
	}
	return file
}

// rawPrinter is an invented printer on this machine that takes bytes.
type rawPrinter struct {
	t       *testing.T
	address string

	mu    sync.Mutex
	pages []string
	stop  func()
}

// on switches it on; it takes what comes at its address.
func (p *rawPrinter) on() {
	p.t.Helper()
	if p.address == "" {
		p.address = "127.0.0.1:0"
	}
	l, err := net.Listen("tcp", p.address)
	if err != nil {
		p.t.Fatal(err)
	}
	p.address = l.Addr().String()
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			data, _ := io.ReadAll(conn)
			conn.Close()
			if len(data) > 0 { // one that only looks whether it is there sends nothing
				p.mu.Lock()
				p.pages = append(p.pages, string(data))
				p.mu.Unlock()
			}
		}
	}()
	p.stop = sync.OnceFunc(func() { l.Close(); <-done })
	p.t.Cleanup(p.off)
}

func (p *rawPrinter) off() { p.stop() }

func (p *rawPrinter) came() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]string(nil), p.pages...)
}

// prints lets a bench print, as wreath serve does.
func (w *benchWorld) prints() {
	w.t.Helper()
	w.halt()
	render := func(ctx context.Context, job spool.Job, p spool.Printer) ([]byte, error) {
		if job.Document == spool.Test {
			return spool.Lines(p, "test page\n"), nil
		}
		who, err := w.desk.Asker(ctx, job.Number)
		if err != nil {
			return nil, err
		}
		f, err := w.desk.Paper(ctx, who, job.Subject)
		if err != nil {
			return nil, err
		}
		f.Copy = job.Copy
		var out bytes.Buffer
		err = press.SlipText(&out, f, press.SlipOptions{Languages: job.Languages, Columns: p.Columns})
		return spool.Lines(p, out.String()), err
	}
	s := &spool.Spooler{Queue: w.desk, Render: spool.RenderFunc(render), Timing: spool.Timing{Dial: time.Second, Farewell: 100 * time.Millisecond}, Look: 50 * time.Millisecond, Rest: 200 * time.Millisecond}
	w.options.Desk, w.options.Printing = w.desk, s
	w.serve(w.address)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); s.Run(ctx) }()
	w.t.Cleanup(func() { stop(); <-done })
}

// walkPrinter adds a printer in the settings, prints on it while it is on, off and on again, and once more.
func walkPrinter(t *testing.T, c *chrome) {
	w := openWorld(t)
	w.prints()
	number := w.keep()
	p := &rawPrinter{t: t}
	p.on()
	b := c.open(t, w.home())
	b.visit("/settings")
	b.unfold(`#printers > details`)
	b.fill(`.printerform [name=name]`, "Counter")
	b.fill(`.printerform [name=address]`, "tcp://"+p.address)
	b.click(`.printerform button`)
	b.reads("#printers .wrong", "short name")
	if kept := eval[string](b, `document.querySelector(".printerform [name=address]").value`); kept != "tcp://"+p.address {
		t.Errorf("after the refusal the form holds %q", kept)
	}
	b.fill(`.printerform [name=name]`, "counter")
	b.click(`.printerform button`)
	b.reads("#printers", "counter, the network address "+p.address)
	b.click(`form[action="/printers/counter/test"] button`)
	b.at("/printing")
	b.reads("main", "Nothing waits")
	b.visit("/record/" + number)
	b.ready()
	b.click(`form[action="/print"] button[value=slip]`)
	b.until(`location.hash === "#paper"`)
	b.reads("#jobs", "handed over")
	if came := p.came(); len(came) != 2 || !strings.Contains(came[1], number[2:]) && !strings.Contains(strings.ReplaceAll(came[1], " ", ""), number) || strings.Contains(came[1], "COPY") {
		t.Fatalf("the printer got %q", came)
	}

	p.off()
	b.click(`form[action="/print"] button[value=slip]`)
	b.reads("#jobs", "waiting")
	b.visit("/printing")
	b.reads("main", "Nothing of it was sent")
	b.until(`location.reload() || true`)
	deadline := time.Now().Add(patience)
	for !strings.Contains(b.page(), "can't be reached") && !strings.Contains(b.page(), "takes no connection") && time.Now().Before(deadline) {
		b.visit("/printing")
	}
	b.reads(".doubtful", "counter")
	b.picture("printing-off", true)
	p.on()
	b.reads("#jobs", "Nothing waits")
	if came := p.came(); len(came) != 3 || !strings.Contains(came[2], "COPY 1") {
		t.Fatalf("the printer got %q", came[2:])
	}
	b.visit("/record/" + number)
	b.reads("#paper", "Printed so far: 2")

	p.off()
	b.click(`form[action="/print"] button[value=slip]`)
	b.reads("#jobs", "waiting")
	b.visit("/printing")
	b.click(`form[action$="/drop"] button`)
	b.reads("#jobs", "Nothing waits")
	b.visit("/record/" + number)
	b.reads("#jobs", "put away")
	b.reads("#paper", "Printed so far: 2")
}

// walkList imports a list: it is tried, a row is mended, and the items are entered once.
func walkList(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	b.visit("/files")
	b.click(`a[href="/import"]`)
	b.at("/import")
	good := "serial,description,metal,fineness,mass,mass unit\r\nIN-1,bar (invented),gold,999.9,1000.0,g\r\nIN-2,bar (invented),gold,999.9,1000.1,g\r\n"
	write := func(name, text string) string {
		file := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	b.click(`button[value=try]`) // nothing was chosen
	b.reads(".wrong", "No list came")
	b.visit("/import")
	b.upload(`[name=file]`, write("bars.csv", strings.Replace(good, "gold,999.9,1000.1", "unobtainium,999.9,1000.1", 1)))
	b.click(`button[value=try]`)
	b.reads(".findings", "unobtainium")
	b.picture("import-findings", true)
	if n := eval[int](b, `document.querySelectorAll("button[value=import]").length`); n != 0 {
		t.Error("a list that must be mended can be entered")
	}
	b.upload(`[name=file]`, write("bars.csv", good))
	b.click(`button[value=try]`)
	b.until(`document.querySelector("button[value=import]")`)
	b.picture("import-trial", true)
	before := len(must[[]string](t)(itemsOf(w)))
	b.click(`button[value=import]`) // without choosing the file again: the page has it
	b.reads("main", "Imported")
	if after := len(must[[]string](t)(itemsOf(w))); after != before+2 {
		t.Errorf("%d items after %d, want two more", after, before)
	}
	b.click(`.chips a`)
	b.at("/items/")
	b.reads("h1", "bar (invented)")
	b.visit("/import")
	b.upload(`[name=file]`, write("bars.csv", good))
	b.click(`button[value=try]`)
	b.reads("main", "imported already")
}

// itemsOf lists the names of all items.
func itemsOf(w *benchWorld) (names []string, err error) {
	t, err := w.desk.ItemsTable(context.Background(), w.who)
	if err != nil {
		return nil, err
	}
	for row, err := range t.Rows {
		if err != nil {
			return nil, err
		}
		names = append(names, row[0])
	}
	return names, nil
}

// walkVerify checks a proof on the page of a shop, without a network and without having signed in.
func walkVerify(t *testing.T, c *chrome) {
	s := byItsName(t)
	number := s.recorded(s.who("boss"))
	text := must[string](t)(s.desk.Prove(t.Context(), s.who("boss").Who, number))
	b := s.tab(t, c)
	b.visit("/verify")
	b.until(`document.querySelector("#ask #text")`)
	b.offline(true)
	check := func(text string) {
		t.Helper()
		b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.getElementById("text").value = %q; document.getElementById("ask").requestSubmit()`, text)))
	}
	check(text)
	b.reads("#answer", number)
	b.picture("verify", true)
	middle := len(text) / 2
	flipped := text[:middle] + map[bool]string{true: "B", false: "A"}[text[middle] == 'A'] + text[middle+1:]
	check(flipped)
	b.until(`!document.getElementById("answer").innerText.includes(%q)`, number)
	b.offline(false)
}

// paperPages are the pages that this file is about.
func paperPages(t *testing.T, w *benchWorld) []seenPage {
	t.Helper()
	by := desk.By{Who: w.who}
	item := must[desk.Item](t)(w.desk.EnterItem(t.Context(), by, desk.Item{Description: "plain band (invented)", Barcode: "T-78", Marks: "750, struck", Condition: "worn"}))
	sheet := must[desk.Sheet](t)(w.desk.OpenSheet(t.Context(), by, desk.Begin{Station: "bench", Item: item.ID, Document: []byte(claimed)}))
	for _, r := range weighed {
		must[desk.Sheet](t)(w.desk.Take(t.Context(), by, sheet.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}))
	}
	made, err := w.desk.Conclude(t.Context(), by, sheet.Sheet.ID)
	if err != nil {
		t.Fatal(err)
	}
	number := made.Number
	lacking := w.keep()
	must[desk.Recorded](t)(w.desk.Sign(t.Context(), by, number, people.Approved))
	if err := w.desk.SetShop(t.Context(), by, "Invented Bench", "Lantern Lane 1 (invented)", "moved"); err != nil {
		t.Fatal(err)
	}
	for _, reason := range []string{"", "wrong claim noted (invented)"} {
		if _, err := w.desk.IssueReport(t.Context(), by, desk.Issue{Record: number, NoCustomer: "measured for the shop itself", Reason: reason}); err != nil {
			t.Fatal(err)
		}
	}
	must[spool.Printer](t)(w.desk.SetPrinter(t.Context(), by, spool.Printer{Format: 1, Name: "counter", Address: "tcp://192.0.2.20:9100", Takes: spool.Text, Columns: 32, Encoding: spool.UTF8}, ""))
	must[spool.Printer](t)(w.desk.SetPrinter(t.Context(), by, spool.Printer{Format: 1, Name: "office", Address: "ipp://localhost/printers/office", Takes: spool.PDF, Paper: spool.A4}, ""))
	must[spool.Job](t)(w.desk.PrintHere(t.Context(), by, desk.PrintAsk{Document: spool.Slip, Subject: number}))
	for _, end := range []string{"failed", "broken off", "waiting"} {
		must[spool.Job](t)(w.desk.AskPrint(t.Context(), by, desk.PrintAsk{Document: spool.Slip, Subject: number, Printer: "counter"}))
		if end == "waiting" {
			continue
		}
		next, _, err := w.desk.NextPrint(t.Context(), "counter")
		if err == nil {
			err = w.desk.PrintBegun(t.Context(), next, 100, "")
		}
		if err == nil {
			_, err = w.desk.PrintFailed(t.Context(), next.Number, &spool.Trouble{Kind: spool.Broken, Printer: "counter", Reason: "went away: it was switched off or unplugged", Sent: 37})
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return []seenPage{
		{"record-paper", "/record/" + number}, {"slip", "/record/" + number + "/slip"}, {"slip-80", "/record/" + number + "/slip?width=80&language=de&second=en"},
		{"proof", "/record/" + number + "/proof"}, {"issue-lacking", "/record/" + lacking + "/report"}, {"issue-amended", "/record/" + number + "/report"},
		{"printing", "/printing"}, {"item", "/items/" + item.ID}, {"instrument", "/stations/B-1"}, {"files", "/files"}, {"import", "/import"}, {"settings-paper", "/settings"}, {"book-paper", "/book"},
	}
}

// walkPaperPages looks at each of them.
func walkPaperPages(t *testing.T, c *chrome) {
	w := openWorld(t)
	pages := paperPages(t, w)
	b := c.open(t, w.home())
	b.visit("/")
	for _, size := range [][2]int64{{1280, 800}, {390, 844}} {
		b.size(size[0], size[1])
		b.visit(pages[0].path)
		b.do(chromedp.Evaluate[chromedp.Void](`document.getElementById("paper").scrollIntoView()`))
		b.picture(fmt.Sprintf("record-paper-part-%d", size[0]), false)
	}
	b.inspectAll(pages)
}
