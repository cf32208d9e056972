package press

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/xml"
	"flag"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"wreath/internal/determination"
	"wreath/internal/paper"
	"wreath/internal/picture"
	"wreath/internal/record"
	"wreath/internal/sentence"
	"wreath/internal/station"
)

var updateReports = flag.Bool("update-reports", false, "write the texts of the reports in testdata/reports anew")

// amended is a report that takes the place of another.
func amended(t failing) *paper.Facts {
	f := reportOf(t, "ring")
	f.Report.Number = "R-000205"
	f.Report.Deviations = "The item was degreased with ethanol before it was weighed; no open flame was near."
	f.Report.Opinion = "The band looks as bands of its maker do."
	f.Report.Amends = &paper.Amends{
		Number: "R-000204", Issued: slipNoon, Record: "D-000416", Reason: "The first reading in air was misread.",
		Changes: []station.Change{{Path: "document.air_g[0]", Old: "7.4318", New: "7.4218"}, {Path: "item.condition", New: `"worn, not bent"`}},
	}
	return f
}

// without is a report of an example without a photo.
func without(t failing, example string) *paper.Facts {
	f := reportOf(t, example)
	f.Photo, f.Item.Photo, f.Item.Caption = nil, "", ""
	return f
}

// reportForms are the forms whose text is kept in testdata/reports.
var reportForms = []struct {
	name  string
	o     Options
	facts func(failing) *paper.Facts
}{
	{"met-a4-en", Options{}, func(t failing) *paper.Facts {
		f := reportOf(t, "ring")
		f.Logo = reportLogo(t)
		return f
	}},
	{"met-letter-en-de", Options{Paper: Letter, Languages: []string{"en", "de"}}, func(t failing) *paper.Facts { return reportOf(t, "ring") }},
	{"met-a4-es", Options{Languages: []string{"es"}}, func(t failing) *paper.Facts { return without(t, "ring") }},
	{"undecided-letter-en", Options{Paper: Letter}, func(t failing) *paper.Facts { return without(t, "spoon") }},
	{"doubtful-a4-en", Options{}, func(t failing) *paper.Facts { return without(t, "doubtful-bar") }},
	{"doubtful-a4-de-es", Options{Languages: []string{"de", "es"}}, func(t failing) *paper.Facts { return without(t, "doubtful-bar") }},
	{"bar-a4-en", Options{}, func(t failing) *paper.Facts { return without(t, "bar") }},
	{"stone-a4-en", Options{}, func(t failing) *paper.Facts { return without(t, "stone") }},
	{"composite-a4-en", Options{}, func(t failing) *paper.Facts { return without(t, "ring-with-diamond") }},
	{"coin-a4-de", Options{Languages: []string{"de"}}, func(t failing) *paper.Facts { return without(t, "sovereign") }},
	{"superseded-a4-en", Options{}, func(t failing) *paper.Facts {
		f := without(t, "ring")
		f.SupersededBy = "R-000205"
		return f
	}},
	{"copy-letter-en-de", Options{Paper: Letter, Languages: []string{"en", "de"}}, func(t failing) *paper.Facts {
		f := without(t, "ring")
		f.Copy, f.SupersededBy = 3, "D-000418"
		return f
	}},
	{"amended-a4-en", Options{}, amended},
	{"draft-a4-en", Options{}, func(t failing) *paper.Facts {
		f := without(t, "ring")
		f.Report, f.Signatures, f.Unsigned = nil, nil, []string{"A person with the role sign must approve."}
		f.Item, f.Received, f.Declared, f.Instruments, f.Checkpoint, f.Proof = nil, nil, nil, nil, "", ""
		return f
	}},
}

// TestDayWithoutTime prints no midnight where only the day of receipt is known.
func TestDayWithoutTime(t *testing.T) {
	f := without(t, "ring")
	zone, err := f.Zone()
	if err != nil {
		t.Fatal(err)
	}
	came := time.Date(2026, 11, 20, 0, 0, 0, 0, zone).UTC()
	f.Received = &came
	got := strings.Join(strings.Fields(tool(t, reportPDF(t, f, Options{}), "pdftotext", "-layout", "FILE", "-")), " ")
	if !strings.Contains(got, "Received 2026-11-20 Measured") {
		t.Error("the day of receipt is not printed as a day")
	}
}

// TestTableHeadStaysWithItsRows lets the description of an item push the readings down step by step: no page
// may end in the head of their table.
func TestTableHeadStaysWithItsRows(t *testing.T) {
	head := regexp.MustCompile(`instrument +taken by|Gerät`)
	row := regexp.MustCompile(`(?m)^ *1 +`)
	seen := 0
	for n := range 12 {
		f := without(t, "ring")
		f.Item.Description = strings.Repeat("an invented band with a long story ", 2+6*n)
		for page := range strings.SplitSeq(tool(t, reportPDF(t, f, Options{Languages: []string{"de", "es"}}), "pdftotext", "-layout", "FILE", "-"), "\f") {
			at := strings.Index(page, "Ablesungen")
			if at < 0 {
				continue
			}
			seen++
			if rest := page[at:]; head.MatchString(rest) && !row.MatchString(rest) {
				t.Errorf("with %d letters a page ends in the head of the readings:\n%s", len(f.Item.Description), rest)
			}
		}
	}
	if seen == 0 {
		t.Error("no report had readings")
	}
}

// TestReportsAsKept holds the text that an independent reader finds in each form against the one that a
// person looked through.
func TestReportsAsKept(t *testing.T) {
	for _, form := range reportForms {
		t.Run(form.name, func(t *testing.T) {
			got := tool(t, reportPDF(t, form.facts(t), form.o), "pdftotext", "-layout", "FILE", "-")
			path := filepath.Join("testdata", "reports", form.name+".txt")
			if *updateReports {
				if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("the text differs from %s in line %s; look at the report, then -update-reports", path, firstDifference(got, string(want)))
			}
		})
	}
}

func firstDifference(got, want string) string {
	x, y := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range max(len(x), len(y)) {
		a, b := "", ""
		if i < len(x) {
			a = x[i]
		}
		if i < len(y) {
			b = y[i]
		}
		if a != b {
			return fmt.Sprintf("%d:\n%s\nwant\n%s", i+1, a, b)
		}
	}
	return "none"
}

// flat is the text of a report in one line, as it is read.
func flat(t *testing.T, pdf []byte) string {
	return strings.Join(strings.Fields(tool(t, pdf, "pdftotext", "-raw", "FILE", "-")), " ")
}

// TestReportSaysAllThatIsAsked goes through ISO/IEC 17025:2017, 7.8.2.1 (a) to (p) and what else of 7.8 a
// report has, and 21 CFR 11.50 on signatures.
func TestReportSaysAllThatIsAsked(t *testing.T) {
	f := amended(t)
	f.Person = &paper.Person{Name: "Quilla Vandermeersch", Address: "17 Invented Quay", Contact: "+00 555 0199"}
	f.Customer = paper.Party{ID: "c-1"}
	pdf := reportPDF(t, f, Options{})
	text := flat(t, pdf)
	for clause, words := range map[string][]string{
		"a title":                    {"Test report, amended R-000205"},
		"b name and address":         {"The Example Counter, Lantern Lane 1, 1000 Exampletown"},
		"c place":                    {"at: Counter 2, front room, Lantern Lane 1"},
		"d identity and end":         {"Report R-000205, page 1 of", "End of report R-000205"},
		"e customer":                 {"Customer Quilla Vandermeersch 17 Invented Quay +00 555 0199"},
		"f method":                   {"hydrostatic weighing: immersion, hanging"},
		"g item and condition":       {"plain yellow band", "known here as: i-204, tray 2000417", "worn, not bent"},
		"h date of receipt":          {"Received 2026-11-25 09:55:12 +01:00"},
		"i dates of the activity":    {"Measured 2026-11-25 10:26:12 +01:00"},
		"j date of issue":            {"Issued 2026-11-25 11:46:12 +01:00"},
		"l relates to the item only": {"The results relate only to the item that was tested"},
		"m results with units":       {"15.449 g/cm³ ± 0.014 g/cm³", "7.42131 g ± 0.00016 g"},
		"n deviations":               {"The item was degreased with ethanol before it was weighed"},
		"o who authorises":           {"R. Second", "authorised, 2026-11-25 11:46:12"},
		"7.8.2.1 note":               {"This report may be copied as a whole only"},
		"7.8.2.2 data of customers":  {"claim: gold 750 (says: stamp)"},
		"7.8.3.1 uncertainty":        {"expanded uncertainty, coverage 95 %, k = 1.96"},
		"7.8.3.1 conditions":         {"liquid at 21.4 °C: 997.906 kg/m³ ± 0.050 kg/m³"},
		"7.8.6 conformity":           {"The claim gold 750, yellow gold: met.", `Decision rule: house rule "closed and proved", version 2; by probability, 95 % and 5 %.`},
		"7.8.7 opinions":             {"Opinion of R. Second", "It is no result of the measurement.", "The band looks as bands of its maker do."},
		"7.8.8 amendment":            {"This report takes the place of report R-000204 of 2026-11-25. Reason: The first reading in air was misread.", "document.air_g[0] 7.4318 7.4218"},
		"6.5 traceability":           {"B-77, Invented Calibration", "2026-03-01 – 2027-03-01", "none: traceability not shown"},
		"signatures":                 {"Q. Weigher measured, 2026-11-25 10:30:12 +01:00", "I took the readings of this record.", "approved, 2026-11-25 11:40:12", "I answer for this record and its"},
		"limits of the method":       {"not a hallmark, not an assay certificate, not legal advice", "Density can't see tungsten", "tungsten-copper 80/20"},
		"assumption":                 {"This rests on the assumption that the item is throughout one alloy of the kind yellow gold"},
		"readings":                   {"item in air 7.4218 g", "check piece in the liquid 34.6655 g"},
		"budget":                     {"immersed reading: repeatability", "87.4 %"},
		"invented":                   {"Everything here is invented"},
	} {
		for _, w := range words {
			// Columns that stand side by side are read one after the other, so a phrase of a cell is whole.
			if !strings.Contains(text, w) && !inOrder(text, w) {
				t.Errorf("%s: %q is not in the report", clause, w)
			}
		}
	}
	pages := strings.Split(strings.TrimSuffix(tool(t, pdf, "pdftotext", "-layout", "FILE", "-"), "\f"), "\f")
	for i, page := range pages {
		if want := fmt.Sprintf("Report R-000205, page %d of %d, issued 2026-11-25", i+1, len(pages)); !strings.Contains(page, want) {
			t.Errorf("page %d does not say %q", i+1, want)
		}
		if ends := strings.Contains(page, "End of report R-000205"); ends != (i == len(pages)-1) {
			t.Errorf("page %d of %d has the end mark: %t", i+1, len(pages), ends)
		}
	}
}

// inOrder looks for words that follow each other, where cells of other columns may lie between their lines.
func inOrder(text, words string) bool {
	at := 0
	for _, w := range strings.Fields(words) {
		i := strings.Index(text[at:], w)
		if i < 0 || i > 120 && at > 0 {
			return false
		}
		at += i + len(w)
	}
	return true
}

// TestReportIsAWholeFile: the file is sound, its fonts are within, it names title, author and language, and the
// same facts give the same bytes.
func TestReportIsAWholeFile(t *testing.T) {
	for _, form := range reportForms {
		t.Run(form.name, func(t *testing.T) {
			f := form.facts(t)
			pdf := reportPDF(t, f, form.o)
			if again := reportPDF(t, form.facts(t), form.o); !bytes.Equal(pdf, again) {
				t.Error("the same facts give other bytes")
			}
			tool(t, pdf, "qpdf", "--check", "FILE")
			fonts := strings.Split(strings.TrimSpace(tool(t, pdf, "pdffonts", "FILE")), "\n")[2:]
			if len(fonts) < 3 {
				t.Errorf("%d fonts", len(fonts))
			}
			for _, line := range fonts {
				if !regexp.MustCompile(`Identity-H\s+yes\s+\S+\s+yes`).MatchString(line) {
					t.Errorf("not embedded, or without its letters: %s", line)
				}
			}
			info := tool(t, pdf, "pdfinfo", "FILE")
			for _, want := range []string{f.Number(), "The Example Counter"} {
				if !strings.Contains(info, want) {
					t.Errorf("%s is not in %s", want, info)
				}
			}
			lang := "en"
			if len(form.o.Languages) > 0 {
				lang = form.o.Languages[0]
			}
			if !bytes.Contains(pdf, []byte("/Lang ("+lang+")")) {
				t.Errorf("the language is not %s", lang)
			}
		})
	}
}

// TestReportCarriesItsFacts: what an independent reader takes out of the file is the twin, byte for byte, and
// its hash is printed.
func TestReportCarriesItsFacts(t *testing.T) {
	for _, form := range reportForms {
		f := form.facts(t)
		pdf := reportPDF(t, f, form.o)
		folder := t.TempDir()
		tool(t, pdf, "pdfdetach", "-saveall", "-o", folder, "FILE")
		got, err := os.ReadFile(filepath.Join(folder, f.Number()+".json"))
		if err != nil {
			t.Fatal(err)
		}
		want, err := f.Twin()
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s: the attachment is %.80s, want %.80s", form.name, got, want)
		}
		sum := sha256.Sum256(got)
		if text := flat(t, pdf); !inOrder(text, grouped(hex.EncodeToString(sum[:]))) {
			t.Errorf("%s: the hash of the attachment is not printed", form.name)
		}
	}
}

// TestReportCodeIsRead: an independent reader finds the proof in the printed page, at the resolution of an
// office printer and at a phone's.
func TestReportCodeIsRead(t *testing.T) {
	f := reportOf(t, "ring")
	for _, o := range []Options{{}, {Paper: Letter, Languages: []string{"en", "de"}}} {
		pdf := reportPDF(t, f, o)
		pages := strings.Count(tool(t, pdf, "pdftotext", "FILE", "-"), "\f")
		for _, dpi := range []string{"300", "200"} {
			page := filepath.Join(t.TempDir(), "page")
			tool(t, pdf, "pdftoppm", "-r", dpi, "-gray", "-png", "-singlefile", "-f", fmt.Sprint(pages), "FILE", page)
			out, err := exec.Command("zbarimg", "--raw", "-q", page+".png").Output()
			if err != nil {
				t.Fatalf("zbarimg at %s dpi: %v", dpi, err)
			}
			if strings.TrimRight(string(out), "\n") != f.Proof {
				t.Errorf("%s dpi: read %.40q, want %.40q", dpi, out, f.Proof)
			}
		}
	}
}

// names that a layout must bear: long without a space, from right to left, in scripts that the fonts lack.
var hardNames = []string{
	strings.Repeat("Wolfeschlegelsteinhausenbergerdorff", 5),
	strings.Repeat("long words in a row, ", 90),
	"שרה בת־אברהם לוי", "محمد بن عبد الله آل سعيد", "عائشة 750 (gold) محمد",
	"Αικατερίνη Παπαδοπούλου", "Екатерина Дмитриевна", "Գոհար Հակոբյան", "ნინო",
	"山田太郎", "김민준", "देवनागरी नाम", "สมชาย", "𝔊𝔬𝔩𝔡 👑", "e\u0301clat a\u0308 x\u0332", "tab\tand\u0000control\u202emarks",
}

// wordBox is a word where an independent reader finds it, in points.
type wordBox struct {
	XMin float64 `xml:"xMin,attr"`
	YMin float64 `xml:"yMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

// boxes reads where the words of each page stand.
func boxes(t *testing.T, pdf []byte) (pages [][]wordBox, wide, tall float64) {
	t.Helper()
	var doc struct {
		Pages []struct {
			Wide  float64   `xml:"width,attr"`
			Tall  float64   `xml:"height,attr"`
			Words []wordBox `xml:"word"`
		} `xml:"body>doc>page"`
	}
	d := xml.NewDecoder(strings.NewReader(tool(t, pdf, "pdftotext", "-bbox", "FILE", "-")))
	d.Strict, d.Entity = false, xml.HTMLEntity
	if err := d.Decode(&doc); err != nil {
		t.Fatal(err)
	}
	for _, p := range doc.Pages {
		pages = append(pages, p.Words)
		wide, tall = p.Wide, p.Tall
	}
	return pages, wide, tall
}

// TestLayoutBears prints every text of a report as each of the hard names, with many readings and without
// anything that may be missing: all words stay within the margins of the page, and the file stays sound.
func TestLayoutBears(t *testing.T) {
	for i, name := range hardNames {
		o := []Options{{}, {Paper: Letter, Languages: []string{"de", "es"}}}[i%2]
		f := amended(t)
		f.Photo, f.Logo = nil, nil
		f.Shop.Name, f.Shop.Address = name, name
		f.Person = &paper.Person{Name: name, Address: name + "\n" + name, Contact: "+00 123456789012"}
		f.Item.Description, f.Item.Marks, f.Item.Condition, f.Item.ID = name, name, name, name
		f.Declared = []paper.Declared{{What: "said of the item", Text: name, By: name}, {What: "price paid", Text: "123456789012.34 EUR", By: "customer"}}
		f.Report.Name, f.Report.Deviations, f.Report.Opinion, f.Report.Amends.Reason = name, name, name, name
		f.Report.Amends.Changes = []station.Change{{Path: "item.description", Old: name, New: name}}
		f.Record.Station.Name, f.Record.Station.Place = name, name
		f.Record.Marks = []string{name}
		for n := range f.Signatures {
			f.Signatures[n].Name = name
		}
		f.Instruments[0].Title, f.Instruments[0].Issuer, f.Instruments[0].Certificate = name, name, name
		f.Record.Sheet.Readings = slices.Clone(f.Record.Sheet.Readings)
		for n := range 120 {
			r := f.Record.Sheet.Readings[0]
			r.No, r.Person = 100+n, name
			if n%3 == 0 {
				r.Withdrawn = &record.Withdrawal{Time: slipNoon, Person: name, Reason: name}
			}
			if n > 8 {
				r.Person = "q.weigher"
				r.Withdrawn = nil
			}
			f.Record.Sheet.Readings = append(f.Record.Sheet.Readings, r)
		}
		pdf := reportPDF(t, f, o)
		tool(t, pdf, "qpdf", "--check", "FILE")
		pages, wide, tall := boxes(t, pdf)
		if len(pages) < 3 {
			t.Errorf("name %d: %d pages", i, len(pages))
		}
		margin := 20/point - 1.5
		for n, words := range pages {
			for _, w := range words {
				if w.XMin < margin || w.XMax > wide-margin || w.YMin < 20 || w.YMax > tall-20 {
					t.Fatalf("name %d on %s, page %d: %q stands at %.0f–%.0f, %.0f–%.0f of %.0f × %.0f", i, o.Paper, n+1, w.Text, w.XMin, w.XMax, w.YMin, w.YMax, wide, tall)
				}
			}
		}
	}
}

// TestNothingIsPrintedOverAnother: no two words of a page lie on each other.
func TestNothingIsPrintedOverAnother(t *testing.T) {
	for _, form := range reportForms {
		f := form.facts(t)
		f.SupersededBy, f.Copy = "", 0
		if f.Report == nil {
			continue // the large mark lies below the text on purpose
		}
		pages, _, _ := boxes(t, reportPDF(t, f, form.o))
		for n, words := range pages {
			for i, a := range words {
				for _, b := range words[i+1:] {
					wide, tall := min(a.XMax, b.XMax)-max(a.XMin, b.XMin), min(a.YMax, b.YMax)-max(a.YMin, b.YMin)
					// Lines of a paragraph touch; a box is as tall as the tallest letter of the font.
					if wide > 1 && tall > 0.45*min(a.YMax-a.YMin, b.YMax-b.YMin) {
						t.Errorf("%s, page %d: %q lies on %q", form.name, n+1, a.Text, b.Text)
					}
				}
			}
		}
	}
}

// TestMissingLettersAreShown: a letter that the font lacks is neither left out nor mistaken for another.
func TestMissingLettersAreShown(t *testing.T) {
	f := without(t, "ring")
	f.Item.Description = "ring of 山田"
	text := flat(t, reportPDF(t, f, Options{}))
	for _, want := range []string{"ring of [U+5C71 U+7530]", "Letters that the font of this paper lacks"} {
		if !strings.Contains(text, want) && !inOrder(text, want) {
			t.Errorf("%q is not in the report", want)
		}
	}
	if plain := flat(t, reportPDF(t, without(t, "ring"), Options{})); strings.Contains(plain, "Letters that the font") {
		t.Error("nothing is missing, and the report says that something is")
	}
}

func TestScripts(t *testing.T) {
	for _, c := range []struct{ given, printed, paper string }{
		{"Ada", "Ada", "Ada"},
		{"שלום", "שלום", "םולש"},
		{"Name: שלום, 750", "Name: שלום, 750", "Name: 750 ,םולש"},
		{"אב 750 (gold) גד", "אב 750 (gold) גד", "750 בא (gold) דג"},
		{"אב (גד) 1,5", "אב (גד) 1,5", "1,5 (דג) בא"},
		// Beh joins on both sides, alef to the right only (Unicode, Arabic Presentation Forms B).
		{"باب", "\ufe91\ufe8e\ufe8f", "\ufe8f\ufe8e\ufe91"},
		{"لا", "\ufefb", "\ufefb"},
		{"山", "[U+5C71]", "[U+5C71]"},
		{"e\u0301", "é", "é"},
		{"a\u202eb", "a b", "a b"},
	} {
		printed, _ := printable(c.given)
		if printed != c.printed || visual(printed) != c.paper {
			t.Errorf("%q is printed as %q and stands as %q, want %q and %q", c.given, printed, visual(printed), c.printed, c.paper)
		}
	}
}

func TestReportRefuses(t *testing.T) {
	f := reportOf(t, "ring")
	for _, c := range []struct {
		o    Options
		says string
	}{
		{Options{Paper: "a5"}, "there is no paper"},
		{Options{Languages: []string{"xx"}}, `there is no language "xx"`},
		{Options{Languages: []string{"en", "de", "es"}}, "3 languages"},
		{Options{Languages: []string{"de", "de"}}, "given twice"},
	} {
		var out bytes.Buffer
		if err := Report(&out, f, c.o); err == nil || !strings.Contains(err.Error(), c.says) || out.Len() > 0 {
			t.Errorf("%+v: %v, %d bytes; want %q and nothing written", c.o, err, out.Len(), c.says)
		}
	}
}

// TestMarksLieBelowTheText renders a page with marks and one without: where the text of the one is black, that of
// the other is too.
func TestMarksLieBelowTheText(t *testing.T) {
	f := without(t, "ring")
	plain := rendered(t, reportPDF(t, f, Options{}))
	f.Copy = 2
	marked := rendered(t, reportPDF(t, f, Options{}))
	b := plain.Bounds()
	grey, black := 0, 0
	for y := b.Dy() / 6; y < b.Dy()*9/10; y++ {
		for x := range b.Dx() {
			p, _, _, _ := plain.At(x, y).RGBA()
			m, _, _, _ := marked.At(x, y).RGBA()
			switch {
			case p < 0x3000 && m > 0x6000:
				t.Fatalf("the text at %d, %d is hidden by a mark", x, y)
			case p < 0x3000:
				black++
			case p > 0xf000 && m > 0xc000 && m < 0xe800:
				grey++
			}
		}
	}
	if grey < b.Dx()*b.Dy()/50 || black < 1000 {
		t.Errorf("the marks cover %d of %d dots, the text %d", grey, b.Dx()*b.Dy(), black)
	}
}

func rendered(t *testing.T, pdf []byte) image.Image {
	t.Helper()
	page := filepath.Join(t.TempDir(), "page")
	tool(t, pdf, "pdftoppm", "-r", "60", "-gray", "-png", "-singlefile", "FILE", page)
	file, err := os.Open(page + ".png")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	img, err := png.Decode(file)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// TestEveryShapeIsDrawn: what the density scale shows on a page is on paper too.
func TestEveryShapeIsDrawn(t *testing.T) {
	f := without(t, "ring")
	a, err := f.Answer()
	if err != nil {
		t.Fatal(err)
	}
	d, err := f.Draft()
	if err != nil {
		t.Fatal(err)
	}
	for _, lang := range []string{"en", "de"} {
		p := picture.Scale(picture.Subject{Answer: a, Claim: d.Claim, In: sentence.In(lang)}, picture.ScaleOptions{Width: 783, Tall: 460})
		shapes, err := p.Scene(picture.Print)
		if err != nil {
			t.Fatal(err)
		}
		text := flat(t, reportPDF(t, f, Options{Languages: []string{lang}}))
		words := 0
		for _, s := range shapes {
			if s.Path == nil {
				words++
				if !strings.Contains(text, s.Text) {
					t.Errorf("%s: %q of the scale is not in the report", lang, s.Text)
				}
			}
		}
		if words < 20 || len(shapes) < 60 {
			t.Errorf("%d shapes, %d of them words", len(shapes), words)
		}
	}
}

// TestReadingsSetAsideStay prints a reading that does not count, with its reason.
func TestReadingsSetAsideStay(t *testing.T) {
	f := without(t, "ring")
	f.Record.Sheet.Readings = slices.Clone(f.Record.Sheet.Readings)
	f.Record.Sheet.Readings[1].Withdrawn = &record.Withdrawal{Time: slipNoon, Person: "q.weigher", Reason: "bubble seen"}
	f.Record.Marks = []string{"Readings set aside: 1 of 7."}
	text := flat(t, reportPDF(t, f, Options{Languages: []string{"de"}}))
	for _, want := range []string{"beiseitegelegt: bubble seen", "Beiseitegelegte Ablesungen: 1 von 7."} {
		if !inOrder(text, want) {
			t.Errorf("%q is not in the report", want)
		}
	}
}

// TestNoFigureIsSafeInDoubt: a weighing in doubt gives no figure to pay by.
func TestNoFigureIsSafeInDoubt(t *testing.T) {
	f := without(t, "doubtful-bar")
	a, err := f.Answer()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(a.Doubts, func(d determination.Doubt) bool { return d.Suspends }) {
		t.Fatal("the example is not in doubt")
	}
	if text := flat(t, reportPDF(t, f, Options{})); !strings.Contains(text, "none while the weighing is in doubt") {
		t.Error("the report gives a safe figure")
	}
}

// BenchmarkReport prints a report of a usual item, with its photo.
func BenchmarkReport(b *testing.B) {
	f := reportOf(b, "ring")
	b.ReportAllocs()
	for b.Loop() {
		var out bytes.Buffer
		if err := Report(&out, f, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
