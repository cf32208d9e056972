package line

import (
	"errors"
	"math"
	"os"
	"strings"
	"testing"

	"wreath/quantity"
)

func example(t testing.TB) *Pattern {
	t.Helper()
	data, err := os.ReadFile("testdata/example.json")
	if err != nil {
		t.Fatal(err)
	}
	p, err := DecodePattern(data)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestRead(t *testing.T) {
	p := example(t)
	for _, row := range []struct {
		line string
		want Value
	}{
		{"ok    12.3456 g", Value{Text: "12.3456", Unit: "g", Kind: Mass, Number: 12.3456, Interval: 1e-4, Mark: Settled}},
		{"..  - 0.0012 g ", Value{}},
		{"..    -0.0012 g", Value{Text: "-0.0012", Unit: "g", Kind: Mass, Number: -0.0012, Interval: 1e-4, Mark: Moving}},
		{"ok    62.2155 ct", Value{Text: "62.2155", Unit: "ct", Kind: Mass, Number: 12.4431, Interval: 2e-5, Mark: Settled}},
		{"..   over", Value{Mark: Moving, State: Overload}},
		{"ok    12.3456 gr", Value{}},
		{"ok    12.3456 oz", Value{}},
		{"ok    12.3456", Value{}},
		{"ok    12.34 g", Value{}},
		{"ok    12.34 ", Value{}},
		{"ok    12,3456 g", Value{}},
		{"ok   012.3456 g", Value{}},
		{"ok  1 12.3456 g", Value{}},
		{"k    12.3456 g", Value{}},
		{"ok    12.3456 g ", Value{}},
		{"ok    12.3456  g", Value{}},
		{"ok    1e.3456 g", Value{}},
		{"ok    12.34５6 g", Value{}},
		{"", Value{}},
	} {
		v, err := p.Read([]byte(row.line))
		if row.want == (Value{}) {
			var re *ReadError
			if err == nil || !errors.As(err, &re) && !errors.Is(err, ErrNoReading) {
				t.Errorf("%q reads as %+v, %v; want an error of the package", row.line, v, err)
			}
			if v != (Value{}) {
				t.Errorf("%q gives %+v beside its error", row.line, v)
			}
			continue
		}
		if err != nil || math.Abs(v.Number-row.want.Number) > 1e-14 || math.Abs(v.Interval-row.want.Interval) > 1e-18 {
			t.Errorf("%q reads as %+v, %v; want %+v", row.line, v, err, row.want)
			continue
		}
		v.Number, v.Interval = row.want.Number, row.want.Interval
		if v != row.want {
			t.Errorf("%q reads as %+v, want %+v", row.line, v, row.want)
		}
	}
	for _, row := range []struct{ line, says string }{
		{"ok    12.3456 gr", "gram and as grain"},
		{"ok    12.3456 xyz", `"xyz"`},
		{"ok    12.34 g", "4 digits behind a decimal point"},
	} {
		if _, err := p.Read([]byte(row.line)); err == nil || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%q: %v, want it to say %q", row.line, err, row.says)
		}
	}
	if _, err := p.Read([]byte("invented balance")); !errors.Is(err, ErrNoReading) {
		t.Errorf("a heading: %v", err)
	}
}

func TestReadAll(t *testing.T) {
	p := &Pattern{Format: Format, Framing: Framing{End: "any"}, Tests: []LineTest{{Line: "", Refused: true}},
		Lines: []Shape{{Name: "both", Means: "reading", Parts: []Part{
			{Is: "number", Decimals: 1, Whole: 3, Channel: "temperature"}, {Is: "unit"}, {Is: "text", Text: ";"},
			{Is: "number", Decimals: 3, Whole: 5, Sign: "after"}, {Is: "unit"}}}}}
	if err := p.Check(); err != nil {
		t.Fatal(err)
	}
	all, err := p.ReadAll(nil, []byte("68.0°F;12.345-kg"))
	if err != nil || len(all) != 2 {
		t.Fatalf("%+v, %v", all, err)
	}
	if all[0].Number != -12345 || all[0].Text != "-12.345" || all[0].Channel != "" {
		t.Errorf("the mass: %+v", all[0])
	}
	if math.Abs(all[1].Number-20) > 1e-12 || all[1].Unit != "°F" || all[1].Channel != "temperature" || math.Abs(all[1].Interval-0.1*5/9) > 1e-15 {
		t.Errorf("the temperature: %+v", all[1]) // 68 °F is 20 °C, exactly
	}
}

// TestNumbersAgree holds the reader's number against that of package quantity.
func TestNumbersAgree(t *testing.T) {
	for _, text := range []string{"0.1", "12.3456", "9999.99999", "0.000001", "123456.789", "4.35", "2.675", "1073741824.12345"} {
		want, err := quantity.ParseNumber(text, false)
		if err != nil {
			t.Fatal(err)
		}
		if got := decimal([]byte(text)); got != want {
			t.Errorf("%s is %v, want %v", text, got, want)
		}
	}
}

// TestChecksums: check values of "123456789" from the catalogue of G. Cook for the CRCs; the sum of its
// bytes is 477 = 1DD hexadecimal, its exclusive or 31, by hand.
func TestChecksums(t *testing.T) {
	for kind, want := range map[string]string{"sum": "DD", "negative-sum": "23", "xor": "31", "crc16-modbus": "4B37", "crc16-xmodem": "31C3", "crc16-ccitt": "29B1"} {
		c := Checksum{Kind: kind, Before: "*"}
		body, ok := c.strip([]byte("123456789*" + want))
		if !ok || string(body) != "123456789" {
			t.Errorf("%s of 123456789 is not %s", kind, want)
		}
		if _, ok := c.strip([]byte("123456780*" + want)); ok {
			t.Errorf("%s does not notice a changed digit", kind)
		}
	}
}

func TestCheckRefuses(t *testing.T) {
	for _, row := range []struct {
		path   string
		change func(p *Pattern)
	}{
		{"format", func(p *Pattern) { p.Format = "" }},
		{"framing.end", func(p *Pattern) { p.Framing.End = "FF" }},
		{"lines", func(p *Pattern) { p.Lines = nil }},
		{"lines[0].means", func(p *Pattern) { p.Lines[0].Means = "value" }},
		{"lines[0].mark", func(p *Pattern) { p.Lines[0].Mark = "still" }},
		{"lines[0].unit", func(p *Pattern) { p.Lines[0].Unit = "stone" }},
		{"lines[0].parts", func(p *Pattern) { p.Lines[0].Parts = p.Lines[0].Parts[:1] }},
		{"lines[0].parts[1].sign", func(p *Pattern) { p.Lines[0].Parts[1].Sign = "left" }},
		{"lines[0].parts[1]", func(p *Pattern) { p.Lines[0].Parts[1].Whole = 14 }},
		{"units[0].unit", func(p *Pattern) { p.Units = []UnitWord{{"gr", "gramme"}} }},
		{"checksum.kind", func(p *Pattern) { p.Checksum = &Checksum{Kind: "md5"} }},
		{"tests", func(p *Pattern) { p.Tests = nil }},
		{"tests[0]", func(p *Pattern) { p.Tests[0].Reads = "12.3457 g" }},
		{"tests[0]", func(p *Pattern) { p.Lines[0].Parts[1].Decimals = 3 }},
	} {
		p := example(t)
		row.change(p)
		if err := p.Check(); err == nil || !strings.HasPrefix(err.Error(), row.path+": ") {
			t.Errorf("%s: %v", row.path, err)
		}
		if _, err := p.Read([]byte("ok    12.3456 g")); err == nil {
			t.Errorf("%s: the pattern reads although it did not pass", row.path)
		}
	}
}

// TestDocumented: the example of the manual is a pattern that passes.
func TestDocumented(t *testing.T) {
	text, err := os.ReadFile("../../doc/lines.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(text), "```json\n")
	doc, _, found := strings.Cut(rest, "```")
	if !found {
		t.Fatal("the manual has no example")
	}
	if _, err := DecodePattern([]byte(doc)); err != nil {
		t.Error(err)
	}
}

// TestReadAllocates: only the text of a number is new; a line that is refused needs little more.
func TestReadAllocates(t *testing.T) {
	p := example(t)
	line := []byte("..    -0.0012 g")
	if n := testing.AllocsPerRun(100, func() {
		if _, err := p.Read(line); err != nil {
			t.Fatal(err)
		}
	}); n > 1 {
		t.Errorf("%v allocations a line, want at most 1", n)
	}
}

func TestEncodeDecode(t *testing.T) {
	p := example(t)
	data, err := p.Encode()
	if err != nil {
		t.Fatal(err)
	}
	q, err := DecodePattern(data)
	if err != nil {
		t.Fatal(err)
	}
	again, err := q.Encode()
	if err != nil || string(again) != string(data) {
		t.Errorf("the document changes when it is read and written: %v", err)
	}
	if _, err := DecodePattern([]byte(`{"format": "wreath line pattern 1", "formats": 1}`)); err == nil || !strings.Contains(err.Error(), "formats") {
		t.Errorf("an unknown field: %v", err)
	}
}

// FuzzDecodePattern: whatever the document, decoding ends, and what passes reads any line without
// falling over and reads its own tests as they say.
func FuzzDecodePattern(f *testing.F) {
	data, err := os.ReadFile("testdata/example.json")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data, []byte("ok    12.3456 g"))
	f.Add([]byte(`{"format":"wreath line pattern 1","framing":{"end":"any"},"lines":[{"name":"a","means":"reading","unit":"g","parts":[{"is":"number","whole":3,"decimals":1,"width":6,"sign":"after","plus":" "}]}],"tests":[{"line":" 12.3 ","reads":"12.3 g"}]}`), []byte("  1.2-"))
	f.Fuzz(func(t *testing.T, doc, line []byte) {
		p, err := DecodePattern(doc)
		if err != nil {
			return
		}
		v, err := p.Read(line)
		if err == nil && v.State == Reading && (math.IsNaN(v.Number) || math.IsInf(v.Number, 0) || v.Text == "" || v.Unit == "") {
			t.Errorf("%q reads as %+v", line, v)
		}
		if err := p.Check(); err != nil {
			t.Errorf("passes once and not again: %v", err)
		}
	})
}

// FuzzRead: a value comes only from a line that is the number's text with the pattern's words around it.
func FuzzRead(f *testing.F) {
	p := example(f)
	f.Add([]byte("ok    12.3456 g"))
	f.Add([]byte("..    -0.0012 g"))
	f.Add([]byte("\x1b[0m\x00\xff°"))
	f.Fuzz(func(t *testing.T, line []byte) {
		v, err := p.Read(line)
		if err != nil {
			if err.Error() == "" {
				t.Error("an error without words")
			}
			return
		}
		if !printable(string(line)) {
			t.Errorf("%q is no text and reads as %+v", line, v)
		}
		if v.State == Reading && v.Kind == Mass {
			grams, err := quantity.ParseMass(v.Text+" "+v.Unit, false)
			if err != nil || math.Abs(grams-v.Number) > 1e-12*math.Abs(grams) || !strings.Contains(string(line), strings.TrimPrefix(v.Text, "-")) {
				t.Errorf("%q reads as %+v; the text is worth %v g (%v)", line, v, grams, err)
			}
		}
	})
}

func BenchmarkFramerRead(b *testing.B) {
	p := example(b)
	f := NewFramer(p.Framing)
	f.Whole()
	packet := []byte("ok    12.3456 g\r\n")
	var v Value
	var err error
	b.ReportAllocs()
	b.SetBytes(int64(len(packet)))
	for b.Loop() {
		f.Write(packet, 1, func(l Line) { v, err = p.Read(l.Bytes) })
	}
	if err != nil || v.Number != 12.3456 {
		b.Fatal(v, err)
	}
}

func TestWords(t *testing.T) {
	for want, v := range map[string]Value{
		"-12.3456 g":               {Text: "-12.3456", Unit: "g"},
		"net: -12.3456 g, settled": {Channel: "net", Text: "-12.3456", Unit: "g", Mark: Settled},
		"overload, moving":         {State: Overload, Mark: Moving, Text: "9", Unit: "g"},
		"bath: 21.5 °C":            {Channel: "bath", Text: "21.5", Unit: "°C", Kind: Temperature},
	} {
		if got := v.Words(); got != want {
			t.Errorf("%+v is %q, want %q", v, got, want)
		}
	}
}
