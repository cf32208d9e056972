package press

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"

	"wreath/internal/paper"
	"wreath/internal/picture"
	"wreath/internal/sentence"
)

var updateSlips = flag.Bool("update-slips", false, "write the golden texts of slips and labels anew")

// golden holds a text against the one that is kept.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", "slip", name)
	if *updateSlips {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; go test ./internal/press -update-slips writes it anew. It is now:\n%s", name, got)
	}
}

// slipCases are slips of every kind of finding and of every mark.
func slipCases(t failing) map[string]*paper.Facts {
	superseded := priced(t, slipOf(t, "coin"), "1234.50")
	superseded.Copy, superseded.SupersededBy, superseded.State = 3, "D-000431", "superseded"
	bare := slipOf(t, "platinum-band")
	bare.Shop.Demo, bare.Shop.Address = false, ""
	bare.Signatures, bare.Declared, bare.Item, bare.Checkpoint, bare.Proof, bare.Record.Station = nil, nil, nil, "", "", nil
	bare.Unsigned = []string{"A person with the role sign must approve."}
	return map[string]*paper.Facts{
		"met":        priced(t, slipOf(t, "ring"), "430.57"),
		"doubtful":   slipOf(t, "doubtful-bar"),
		"superseded": superseded,
		"bare":       bare,
		"quartz":     slipOf(t, "gold-in-quartz"),
		"stone":      slipOf(t, "stone"),
	}
}

func TestSlipTexts(t *testing.T) {
	for name, f := range slipCases(t) {
		golden(t, name+"-58.txt", slipText(t, f, SlipOptions{}))
	}
	met := priced(t, slipOf(t, "ring"), "430.57")
	golden(t, "met-80-de-es.txt", slipText(t, met, SlipOptions{Roll: Roll80, Languages: []string{"de", "es"}}))
	golden(t, "met-42-ascii-typed.txt", slipText(t, met, SlipOptions{Columns: 42, ASCII: true, Feed: 4, Typed: true, Languages: []string{"de"}}))
}

// TestSlipFollowsTheFiveQuestions looks for what must stand on a slip, in its order.
func TestSlipFollowsTheFiveQuestions(t *testing.T) {
	text := oneLine(slipText(t, priced(t, slipOf(t, "ring"), "430.57"), SlipOptions{}))
	at := 0
	for _, words := range []string{
		"INVENTED", "The Example Counter", "D - 0 0 0 4 1 7", "2026-11-25 10:26 +01:00",
		"(by stamp, not measured)", "15.449 ± 0.014 g/cm³", "fineness 739 to 771 (95 %)",
		"gold 750, yellow gold: met", "more than 99.9 %", "Legal limit 750: undecided", `house rule "closed and proved", version 2`,
		"Density alone can't exclude", "tungsten-copper 80/20", "Another recipe of the same density",
		"chance that nothing is wrong", "at least 740 ppt of gold", "430.57 EUR",
		"Q. Weigher, 2026-11-25 10:30 +01:00", "Counter 2", "not a hallmark, not an assay certificate", "813/7K2M 9Q4X",
	} {
		i := strings.Index(text[at:], words)
		if i < 0 {
			t.Fatalf("%q does not stand after %q", words, text[max(0, at-60):at])
		}
		at += i
	}
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// TestWorthIsSaidOnlyWhereItMayBe: not without a value, and not of a record that was corrected.
func TestWorthIsSaidOnlyWhereItMayBe(t *testing.T) {
	f := priced(t, slipOf(t, "ring"), "430.57")
	if text := slipText(t, f, SlipOptions{}); !strings.Contains(text, "430.57 EUR") {
		t.Error("the worth is missing")
	}
	f.SupersededBy = "D-000431"
	text := slipText(t, f, SlipOptions{})
	if strings.Contains(text, "430.57") || !strings.Contains(oneLine(text), "SUPERSEDED by D-000431") {
		t.Errorf("a slip that is superseded says\n%s", text)
	}
	f.SupersededBy, f.Worth = "", nil
	if text := slipText(t, f, SlipOptions{}); strings.Contains(text, "worth") {
		t.Error("a worth stands where none is known")
	}
}

func TestWhatASlipRefuses(t *testing.T) {
	f := slipOf(t, "ring")
	for _, o := range []SlipOptions{{Roll: 57}, {Columns: 10}, {Columns: 200}, {Feed: -1}, {Feed: 1000}, {Languages: []string{"xx"}}, {Languages: []string{"en", "de", "es"}}} {
		var out bytes.Buffer
		if err := SlipText(&out, f, o); err == nil || out.Len() > 0 {
			t.Errorf("%+v is taken: %d bytes, %v", o, out.Len(), err)
		}
		if err := SlipPDF(&out, f, o); err == nil || out.Len() > 0 {
			t.Errorf("%+v is taken as PDF: %d bytes, %v", o, out.Len(), err)
		}
	}
}

// anyWords draws what people type: letters of many scripts, some from the right, accents, signs, and what
// should not be there.
func anyWords() *rapid.Generator[string] {
	scripts := []string{
		"abcdefghijklmnopqrstuvwxyzABCDEFGHIJ0123456789", "äöüßÄÖÜéèñçőłđøåæœţšž", "абвгдежзийклмнопрстуфхцчшщъыьэюяіїє", "αβγδεζηθικλμνξοπρστυφχψω",
		"אבגדהוזחטיכלמנסעפצקרשת", "ابتثجحخدذرزسشصضطظعغفقكلمنهوي", "上海金行黄金銀地金製品", "กขคงจฉชซไทย", "अआइईउऊकखगघ", "ქართული", "Հայերեն", "한국어금은",
		"±×−°µ€£¥³²½…–—‘’“”„•№‰", "\u202e\u200b\u00ad\u2066\t\n\x00\x1b\x07\u0301\u0308", "😀💍🪙𝔸",
	}
	word := rapid.Custom(func(t *rapid.T) string {
		letters := []rune(rapid.SampledFrom(scripts).Draw(t, "script"))
		return string(rapid.SliceOfN(rapid.SampledFrom(letters), 1, 60).Draw(t, "word"))
	})
	return rapid.Custom(func(t *rapid.T) string { return strings.Join(rapid.SliceOfN(word, 0, 8).Draw(t, "words"), " ") })
}

// anyFacts draws facts whose texts are anything, with fields missing.
func anyFacts(t *rapid.T, base map[string]*paper.Facts) *paper.Facts {
	f := *base[rapid.SampledFrom([]string{"met", "doubtful", "superseded", "bare", "quartz", "stone"}).Draw(t, "example")]
	words := anyWords()
	f.Shop.Name, f.Shop.Address = words.Draw(t, "shop"), words.Draw(t, "address")
	if f.Item != nil && rapid.Bool().Draw(t, "item") {
		item := *f.Item
		item.Description, item.Marks = words.Draw(t, "description"), words.Draw(t, "marks")
		f.Item = &item
	}
	f.Declared = nil
	for range rapid.IntRange(0, 2).Draw(t, "declared") {
		f.Declared = append(f.Declared, paper.Declared{What: "claim", Text: words.Draw(t, "claim"), By: words.Draw(t, "by")})
	}
	f.Signatures = nil
	for range rapid.IntRange(0, 2).Draw(t, "signatures") {
		f.Signatures = append(f.Signatures, paper.Signature{Name: words.Draw(t, "name"), At: slipNoon, Meaning: "approved"})
	}
	f.Copy = rapid.SampledFrom([]int{0, 1, 1234567}).Draw(t, "copy")
	if rapid.Bool().Draw(t, "priced") {
		priced(t, &f, "123456789012.00")
	}
	return &f
}

// TestSlipsAreAsWideAsThePaper: whatever is typed, no line is longer than the paper, no word is lost, and the
// letters of an ASCII printer are those of ASCII.
func TestSlipsAreAsWideAsThePaper(t *testing.T) {
	base := slipCases(t)
	rapid.Check(t, func(t *rapid.T) {
		f := anyFacts(t, base)
		o := SlipOptions{
			Columns: rapid.SampledFrom([]int{24, 32, 42, 48, 80}).Draw(t, "columns"), ASCII: rapid.Bool().Draw(t, "ascii"),
			Typed: rapid.Bool().Draw(t, "typed"), Languages: rapid.SampledFrom([][]string{nil, {"de"}, {"es", "en"}}).Draw(t, "languages"),
		}
		text := slipText(t, f, o)
		if !strings.HasSuffix(text, "\n") {
			t.Fatal("the last line is not ended")
		}
		for _, line := range strings.Split(text, "\n") {
			if n := columns(line); n > o.Columns {
				t.Fatalf("%d columns, %d are there: %q", n, o.Columns, line)
			}
		}
		for _, r := range text {
			if o.ASCII && r != '\n' && (r < 0x20 || r > 0x7e) {
				t.Fatalf("%q is not ASCII", r)
			}
			if r != '\n' && unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
				t.Fatalf("%U steers a printer or a reader", r)
			}
		}
		// Every letter of every block stands there, in order; lines may break it anywhere.
		s, err := compose(f, booksOf(t, o))
		if err != nil {
			t.Fatal(err)
		}
		letters := func(words string) string { return strings.Join(strings.Fields(words), "") }
		all := letters(text)
		for _, b := range s.blocks {
			if b.kind == slipCode {
				continue
			}
			words := plain(b.text)
			if o.ASCII {
				words = ascii(b.text)
			}
			at := 0
			for _, word := range strings.Fields(words) {
				i := strings.Index(all[at:], word)
				if i < 0 && (b.kind == slipBanner || b.kind == slipPair) {
					// broken by the frame of its line
					i = strings.Index(strings.ReplaceAll(all[at:], "*", ""), strings.ReplaceAll(word, "*", ""))
				}
				if i < 0 {
					t.Fatalf("%q of %q is lost", word, words)
				}
			}
		}
	})
}

// TestASCIIIsTotal: any text becomes ASCII, nothing that can be seen becomes nothing, and ASCII stays as it is.
func TestASCIIIsTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), anyWords()).Draw(t, "text")
		out := ascii(text)
		for _, r := range out {
			if r < 0x20 || r > 0x7e {
				t.Fatalf("%q leaves %q", text, r)
			}
		}
		for _, r := range plain(text) {
			if ascii(string(r)) == "" {
				t.Fatalf("%U is lost", r)
			}
		}
		if again := ascii(out); again != out {
			t.Fatalf("%q becomes %q", out, again)
		}
	})
}

// TestASCIIReads shows likenesses that people write.
func TestASCIIReads(t *testing.T) {
	for text, want := range map[string]string{
		"15.449 ± 0.014 g/cm³ at 20 °C":  "15.449 +- 0.014 g/cm3 at 20 degC",
		"Prüfstück, größer, Ärger, Øre":  "Pruefstueck, groesser, Aerger, Oere",
		"u\u0308ber":                     "ueber", // the accent apart
		"señor, façade, Łódź, Škoda":     "senor, facade, Lodz, Skoda",
		"„Gold“ – 100 € … №5":            `"Gold" - 100 EUR ... No.5`,
		"золото Χρυσός":                  "zoloto Chrysos",
		"≥ 2, −3, 5×, 1½, ‰":             ">= 2, -3, 5x, 11/2, o/oo",
		"金":                              "<U+91D1>",
		"a\u202eb\u200bc\u00add\x1b[2Je": "abcd [2Je",
		"זהב":                            "<U+05D6><U+05D4><U+05D1>",
	} {
		if got := ascii(text); got != want {
			t.Errorf("%q becomes %q, want %q", text, got, want)
		}
	}
}

// TestEverySlipWordIsSaid asks the catalogues for every text of slips and labels: those that a slip adds stand
// in the other languages, except what was typed.
func TestEverySlipWordIsSaid(t *testing.T) {
	for _, lang := range sentence.Languages {
		book := sentence.In(lang)
		for name, f := range slipCases(t) {
			english, err := compose(f, []*sentence.Book{nil})
			if err != nil {
				t.Fatal(err)
			}
			other, err := compose(f, []*sentence.Book{book})
			if err != nil {
				t.Fatal(err)
			}
			for i, b := range english.blocks {
				o := other.blocks[i]
				if b.label != "" && b.label == o.label && !sameEverywhere[b.label] {
					t.Errorf("%s, %s: the label %q is English", lang, name, b.label)
				}
				if b.kind == slipSays || b.kind == slipItem || b.kind == slipStrong || b.kind == slipSmall {
					if b.text == o.text {
						t.Errorf("%s, %s: %q is English", lang, name, b.text)
					}
				}
			}
		}
	}
}

// sameEverywhere are labels that another language writes alike.
var sameEverywhere = map[string]bool{}

func TestTextSignsDiffer(t *testing.T) {
	seen := map[string]picture.Finding{}
	for _, f := range []picture.Finding{picture.Met, picture.NotMet, picture.Undecided, picture.InDoubt, picture.Contradicts, picture.NoneYet} {
		sign := textSign(f)
		if other, found := seen[sign]; found || columns(sign) != 4 {
			t.Errorf("%q and %q have the sign %q", f, other, sign)
		}
		seen[sign] = f
	}
}

func BenchmarkSlipText(b *testing.B) {
	f := priced(b, slipOf(b, "ring"), "430.57")
	b.ReportAllocs()
	for b.Loop() {
		slipText(b, f, SlipOptions{Roll: Roll80, Languages: []string{"en", "de"}})
	}
}

func BenchmarkSlipPDF(b *testing.B) {
	f := priced(b, slipOf(b, "ring"), "430.57")
	b.ReportAllocs()
	for b.Loop() {
		var out bytes.Buffer
		if err := SlipPDF(&out, f, SlipOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSlipHTML(b *testing.B) {
	f := priced(b, slipOf(b, "ring"), "430.57")
	b.ReportAllocs()
	for b.Loop() {
		var out bytes.Buffer
		if err := SlipHTML(&out, f, SlipOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
