package press

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing/oned"
	"github.com/makiuchi-d/gozxing/qrcode"
	"pgregory.net/rapid"

	"wreath/internal/sentence"
	"wreath/internal/station"
)

func labelsOf(t failing) []Label {
	t.Helper()
	f := priced(t, slipOf(t, "ring"), "430.57")
	bag, err := BagLabel(f, nil)
	if err != nil {
		t.Fatal(err)
	}
	i := &station.Instrument{
		ID: "B-1", Version: 2, Kind: station.Balance, Maker: "Invented Works", Type: "IW 220", Serial: "0042-77",
		Certificates: []station.Certificate{{Number: "C-6", Date: "2025-03-01", NextDue: "2026-03-01"}, {Number: "C-7", Date: "2026-03-01", NextDue: "2027-03-01"}},
	}
	out := *i
	out.ID, out.OutOfService = "T-3", &station.OutOfService{Since: "2026-11-20", Reason: "dropped"}
	return []Label{TrayLabel(f.Shop, "TRAY-07"), bag, InstrumentLabel(f.Shop, i, "2026-11-25", nil), InstrumentLabel(f.Shop, &out, "2026-11-25", sentence.In("de"))}
}

func labelPDF(t failing, labels []Label, o LabelOptions) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := LabelPDF(&out, labels, slipNoon, o); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestLabelTexts(t *testing.T) {
	for name, o := range map[string]LabelOptions{"labels.txt": {}, "labels-qr.txt": {Symbol: AsQR, Columns: 42}, "labels-ascii.txt": {ASCII: true, Columns: 24}} {
		var out bytes.Buffer
		if err := LabelText(&out, labelsOf(t), o); err != nil {
			t.Fatal(err)
		}
		golden(t, name, out.String())
	}
}

// TestLabelsReadBack prints labels at 203 dpi and reads them with a decoder that is not ours: bars and squares, on
// both sizes, alone and on sheets, as PDF and by a browser.
func TestLabelsReadBack(t *testing.T) {
	labels := labelsOf(t)
	for _, size := range LabelSizes {
		for symbol, reads := range map[Symbol]string{AsBars: "code128", AsQR: "qrcode", AsFits: "code128"} {
			pages := printed(t, labelPDF(t, labels, LabelOptions{Size: size, Symbol: symbol}))
			if len(pages) != len(labels) {
				t.Fatalf("%s: %d pages of %d labels", size, len(pages), len(labels))
			}
			for i, got := range scanned(t, reads, pages) {
				if got != labels[i].Code {
					t.Errorf("%s as %q: %q is read as %q", size, symbol, labels[i].Code, got)
				}
				second := oned.NewCode128Reader()
				if symbol == AsQR {
					second = qrcode.NewQRCodeReader()
				}
				if got, err := decoded(second, pages[i], false); err != nil || got != labels[i].Code {
					t.Errorf("%s as %q: %q is read as %q by the second decoder, %v", size, symbol, labels[i].Code, got, err)
				}
			}
		}
		var page bytes.Buffer
		if err := LabelHTML(&page, labels, LabelOptions{Size: size}); err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(scanned(t, "code128", printed(t, byBrowser(t, page.Bytes()))), " "); got != "TRAY-07 D-000417 B-1 T-3" {
			t.Errorf("%s: by a browser the labels read %s", size, got)
		}
	}
}

// TestSheetsOfLabels fills two sheets, with places left out: every label stands once, none over the edge.
func TestSheetsOfLabels(t *testing.T) {
	f := slipOf(t, "ring")
	var labels []Label
	for i := range 40 {
		labels = append(labels, TrayLabel(f.Shop, fmt.Sprintf("T%03d", i)))
	}
	for sheet, wide := range map[string]float64{"a4": 210, "letter": 215.9} {
		words := wordsOf(t, labelPDF(t, labels, LabelOptions{Sheet: sheet, Skip: 5}))
		if len(words.Pages) != 2 {
			t.Fatalf("%s: %d pages", sheet, len(words.Pages))
		}
		times := map[string]int{}
		for _, page := range words.Pages {
			if w := page.Wide * point; w < wide-0.1 || w > wide+0.1 {
				t.Errorf("%s: %.1f mm wide", sheet, w)
			}
			for _, w := range page.Words {
				times[w.Text]++
				if edge := 5 / point; w.Left < edge || w.Right > page.Wide-edge || w.Top < edge || w.Bottom > page.Tall-edge {
					t.Errorf("%s: %q lies over the edge", sheet, w.Text)
				}
			}
		}
		for _, l := range labels {
			if times[l.Title] != 1 {
				t.Errorf("%s: %s stands %d times", sheet, l.Title, times[l.Title])
			}
		}
	}
}

// TestLabelsStayOnTheLabel: words of any length and script stay within, and what is left out shows a sign.
func TestLabelsStayOnTheLabel(t *testing.T) {
	labels := labelsOf(t)
	for name, f := range hard(t) {
		bag, err := BagLabel(f, nil)
		if err != nil {
			t.Fatal(name, err)
		}
		labels = append(labels, bag)
	}
	for _, size := range []LabelSize{{57, 32}, {50, 25}, {30, 18}} {
		words := wordsOf(t, labelPDF(t, labels, LabelOptions{Size: size, Symbol: AsQR}))
		for i, page := range words.Pages {
			cut := false
			for _, w := range page.Words {
				const slack = 0.6 // points
				if w.Left < 0 || w.Right > page.Wide+slack || w.Top < 0 || w.Bottom > page.Tall+slack {
					t.Errorf("%s: %q of %s lies at %.1f to %.1f, %.1f to %.1f of %.1f x %.1f points", size, w.Text, labels[i].Title, w.Left, w.Right, w.Top, w.Bottom, page.Wide, page.Tall)
				}
				cut = cut || strings.HasSuffix(w.Text, "…")
			}
			if shop := labels[i].Lines[len(labels[i].Lines)-1]; shop == "The Example Counter" && !cut {
				if last := page.Words[len(page.Words)-1].Text; last != "Counter" {
					t.Errorf("%s: the last line of %s is left out without a sign; the last word is %q", size, labels[i].Title, last)
				}
			}
		}
	}
}

func TestLabelTextsStayOnTheLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Label{Code: "X", Title: anyWords().Draw(t, "title"), Lines: []string{anyWords().Draw(t, "line"), anyWords().Draw(t, "line")}, Mark: anyWords().Draw(t, "mark")}
		o := LabelOptions{Columns: rapid.SampledFrom([]int{24, 32, 80}).Draw(t, "columns"), ASCII: rapid.Bool().Draw(t, "ascii")}
		var out bytes.Buffer
		if err := LabelText(&out, []Label{l, l}, o); err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(out.String(), "\n") {
			if columns(line) > o.Columns {
				t.Fatalf("%q is longer than %d", line, o.Columns)
			}
		}
	})
}

func TestLabelSaysNoFinding(t *testing.T) {
	bag := labelsOf(t)[1]
	for _, words := range append(bag.Lines, bag.Title, bag.Mark) {
		if strings.Contains(words, "met") || strings.Contains(words, "ppt") || strings.Contains(words, "EUR") {
			t.Errorf("a label says %q", words)
		}
	}
}

func TestWhatALabelRefuses(t *testing.T) {
	var out bytes.Buffer
	ok := []Label{{Code: "A", Title: "A"}}
	for name, err := range map[string]error{
		"nothing":      LabelPDF(&out, nil, slipNoon, LabelOptions{}),
		"an odd sheet": LabelPDF(&out, ok, slipNoon, LabelOptions{Sheet: "a3"}),
		"too small":    LabelPDF(&out, ok, slipNoon, LabelOptions{Size: LabelSize{10, 10}}),
		"skipping":     LabelPDF(&out, ok, slipNoon, LabelOptions{Skip: 3}),
		"umlaut bars":  LabelPDF(&out, []Label{{Code: "ü", Title: "ü"}}, slipNoon, LabelOptions{Symbol: AsBars}),
		"long bars":    LabelPDF(&out, []Label{{Code: strings.Repeat("Ab", 30), Title: "x"}}, slipNoon, LabelOptions{Symbol: AsBars}),
		"odd code":     LabelText(&out, ok, LabelOptions{Symbol: "aztec"}),
		"odd columns":  LabelText(&out, ok, LabelOptions{Columns: 3}),
	} {
		if err == nil {
			t.Errorf("%s is taken", name)
		}
	}
	for _, text := range []string{"", "57", "57x", "x32", "57*32", "-5x20", "57x32x1", "20x20", "200x40", "57.25x32"} {
		if s, err := ParseLabelSize(text); err == nil {
			t.Errorf("the size %q is taken as %s", text, s)
		}
	}
	if s, err := ParseLabelSize("57.5x32"); err != nil || s.String() != "57.5x32" {
		t.Errorf("57.5x32 is read as %s, %v", s, err)
	}
}

func BenchmarkLabelPDF(b *testing.B) {
	labels := labelsOf(b)
	b.ReportAllocs()
	for b.Loop() {
		labelPDF(b, labels, LabelOptions{Sheet: "a4"})
	}
}
