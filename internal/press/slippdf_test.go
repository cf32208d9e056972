package press

import (
	"bytes"
	"encoding/xml"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wreath/internal/paper"
)

// pdfWords are the words of a PDF with their boxes in points, as pdftotext finds them.
type pdfWords struct {
	Pages []struct {
		Wide  float64 `xml:"width,attr"`
		Tall  float64 `xml:"height,attr"`
		Words []struct {
			Left   float64 `xml:"xMin,attr"`
			Top    float64 `xml:"yMin,attr"`
			Right  float64 `xml:"xMax,attr"`
			Bottom float64 `xml:"yMax,attr"`
			Text   string  `xml:",chardata"`
		} `xml:"word"`
	} `xml:"body>doc>page"`
}

func wordsOf(t *testing.T, pdf []byte) pdfWords {
	t.Helper()
	file := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	var out pdfWords
	d := xml.NewDecoder(bytes.NewReader(outside(t, "pdftotext", "-bbox", file, "-")))
	d.Strict, d.Entity = false, xml.HTMLEntity
	if err := d.Decode(&out); err != nil {
		t.Fatal(err)
	}
	return out
}

func slipPDF(t failing, f *paper.Facts, o SlipOptions) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := SlipPDF(&out, f, o); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// hard are facts that strain a layout: words without an end, sums of twelve digits, every script, nothing at all.
func hard(t failing) map[string]*paper.Facts {
	long := priced(t, slipOf(t, "ring"), "123456789012.00")
	long.Shop.Name = strings.Repeat("Donaudampfschifffahrtsgesellschaft", 4)
	long.Shop.Address = "Llanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogoch 1234567890123456789012345678901234567890"
	long.Record.Number = "D-000417-" + strings.Repeat("9", 40)
	long.Item.Description, long.Item.Marks = strings.Repeat("wundervolles ", 40), strings.Repeat("750", 60)
	long.Signatures[0].Name = strings.Repeat("Wolfeschlegelsteinhausen", 5)
	scripts := slipOf(t, "coin")
	scripts.Shop.Name, scripts.Shop.Address = "Золото Ювелир Χρυσός", "上海金行 ローマ 한국 ไทย देवनागरी ქართული հայ 😀"
	scripts.Item.Description, scripts.Item.Marks = "طبعة ذهبية قديمة 750", "טבעת זהב 750 (ישנה)"
	scripts.Copy = 12
	out := slipCases(t)
	out["long"], out["scripts"] = long, scripts
	return out
}

// TestSlipPDFStaysOnThePaper: every word lies where a printer prints, on both widths and in two languages.
func TestSlipPDFStaysOnThePaper(t *testing.T) {
	for name, f := range hard(t) {
		for _, o := range []SlipOptions{{}, {Roll: Roll80, Languages: []string{"de", "es"}}} {
			words := wordsOf(t, slipPDF(t, f, o))
			if len(words.Pages) != 1 {
				t.Fatalf("%s: %d pages", name, len(words.Pages))
			}
			page := words.Pages[0]
			roll := o.roll()
			margin := (float64(roll) - roll.Printable()) / 2 / point
			if wide := page.Wide * point; wide < float64(roll)-0.01 || wide > float64(roll)+0.01 {
				t.Errorf("%s: the page is %.2f mm wide, want %d", name, wide, roll)
			}
			if len(page.Words) < 60 {
				t.Errorf("%s: only %d words", name, len(page.Words))
			}
			const slack = 0.6 // points: a letter may lean out of its own width
			for _, w := range page.Words {
				if w.Left < margin-slack || w.Right > page.Wide-margin+slack || w.Top < 0 || w.Bottom > page.Tall {
					t.Errorf("%s on %d mm: %q lies at %.1f to %.1f of %.1f points", name, roll, w.Text, w.Left, w.Right, page.Wide)
				}
			}
		}
	}
}

// TestSlipPDFSaysWhatTheTextSays: every letter of the slip as text stands on the PDF too.
func TestSlipPDFSaysWhatTheTextSays(t *testing.T) {
	f := priced(t, slipOf(t, "ring"), "430.57")
	var all strings.Builder
	for _, w := range wordsOf(t, slipPDF(t, f, SlipOptions{Roll: Roll80})).Pages[0].Words {
		all.WriteString(w.Text)
	}
	s, err := compose(f, booksOf(t, SlipOptions{}))
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range s.blocks {
		if b.kind == slipCode {
			continue
		}
		for _, word := range strings.Fields(b.text) {
			if !strings.Contains(all.String(), word) {
				t.Errorf("%q of %q is not on the PDF", word, b.text)
			}
		}
	}
}

// TestSlipPDFIsSound: it is the same on every run, opens without a complaint, carries its fonts, title and
// language.
func TestSlipPDFIsSound(t *testing.T) {
	f := slipOf(t, "ring")
	first, second := slipPDF(t, f, SlipOptions{Languages: []string{"de"}}), slipPDF(t, f, SlipOptions{Languages: []string{"de"}})
	if !bytes.Equal(first, second) {
		t.Error("the same facts give other bytes")
	}
	file := filepath.Join(t.TempDir(), "slip.pdf")
	if err := os.WriteFile(file, first, 0o600); err != nil {
		t.Fatal(err)
	}
	if out := string(outside(t, "qpdf", "--check", file)); !strings.Contains(out, "No syntax or stream encoding errors") {
		t.Errorf("qpdf says\n%s", out)
	}
	fonts := strings.Split(strings.TrimSpace(string(outside(t, "pdffonts", file))), "\n")
	if len(fonts) < 3 {
		t.Errorf("no fonts:\n%s", fonts)
	}
	for _, line := range fonts[2:] {
		if fields := strings.Fields(line); len(fields) < 8 || fields[4] != "yes" || fields[6] != "yes" {
			t.Errorf("not embedded, or not readable as text: %s", line)
		}
	}
	if info := string(outside(t, "pdfinfo", file)); !strings.Contains(info, "The Example Counter, D-000417") || !strings.Contains(info, "Pages:           1") {
		t.Errorf("pdfinfo says\n%s", info)
	}
	if !bytes.Contains(first, []byte("/Lang (de)")) {
		t.Error("the PDF names no language")
	}
}

// TestSlipPageOfABrowser prints the page by Chromium: one sheet as wide as the roll, with all words and a code
// that reads.
func TestSlipPageOfABrowser(t *testing.T) {
	f := priced(t, slipOf(t, "ring"), "430.57")
	for _, roll := range Rolls {
		var page bytes.Buffer
		if err := SlipHTML(&page, f, SlipOptions{Roll: roll}); err != nil {
			t.Fatal(err)
		}
		pdf := byBrowser(t, page.Bytes())
		words := wordsOf(t, pdf)
		if len(words.Pages) != 1 {
			t.Fatalf("%d mm: %d pages", roll, len(words.Pages))
		}
		// A browser rounds the size of paper to its pixels of 1/96 inch.
		if wide := words.Pages[0].Wide * point; wide < float64(roll)-0.3 || wide > float64(roll)+0.3 {
			t.Errorf("the page is %.2f mm wide, want %d", wide, roll)
		}
		last := words.Pages[0].Words[len(words.Pages[0].Words)-1]
		if used := last.Bottom / words.Pages[0].Tall; used < 0.8 {
			t.Errorf("%d mm: only %.0f %% of the page are used", roll, 100*used)
		}
		if got := scanned(t, "qrcode", printed(t, pdf)); got[0] != f.Proof {
			t.Errorf("%d mm: the proof is read as %q", roll, got[0])
		}
	}
}

// byBrowser prints a page as a browser's print dialog does.
func byBrowser(t *testing.T, page []byte) []byte {
	t.Helper()
	folder := t.TempDir()
	in, out := filepath.Join(folder, "page.html"), filepath.Join(folder, "page.pdf")
	if err := os.WriteFile(in, page, 0o600); err != nil {
		t.Fatal(err)
	}
	outside(t, "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-component-update", "--user-data-dir="+filepath.Join(folder, "profile"),
		"--no-pdf-header-footer", "--print-to-pdf="+out, "file://"+in)
	data, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestHTMLKeepsWhatIsTyped: what is typed is text on the page, and nothing else.
func TestHTMLKeepsWhatIsTyped(t *testing.T) {
	f := slipOf(t, "ring")
	f.Shop.Name, f.Item.Description = `<script>alert("1")</script>`, `"><img src=x onerror=1> & co`
	var slip, label bytes.Buffer
	if err := SlipHTML(&slip, f, SlipOptions{}); err != nil {
		t.Fatal(err)
	}
	bag, err := BagLabel(f, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := LabelHTML(&label, []Label{bag, TrayLabel(f.Shop, `<b>"`)}, LabelOptions{Symbol: AsQR}); err != nil {
		t.Fatal(err)
	}
	for name, page := range map[string]string{"slip": slip.String(), "label": label.String()} {
		for _, bad := range []string{"<script>", "<img", `<b>"`} {
			if strings.Contains(page, bad) {
				t.Errorf("the page of a %s holds %s", name, bad)
			}
		}
		if !strings.Contains(page, "&lt;script&gt;") {
			t.Errorf("the page of a %s lost the name of the shop", name)
		}
	}
}
