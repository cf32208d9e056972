package tables

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden holds what came out against a file.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s:\n%s\nwant\n%s", name, got, want)
	}
}

// TestGolden holds CSV and JSON Lines to their bytes. Workbooks are held by TestOtherPrograms.
func TestGolden(t *testing.T) {
	golden(t, "sample.csv", written(t, CSV, sample()))
	golden(t, "sample.jsonl", written(t, JSONL, sample()))
}

func list(t testing.TB, data string) *List {
	t.Helper()
	l, err := ReadList([]byte(data), wide)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// TestNamesAreUnique holds that a heading stands for one field, that every name is plain, and that the
// usual names of all fields are known.
func TestNamesAreUnique(t *testing.T) {
	seen := map[string]Field{}
	for f, names := range headings {
		for _, name := range names {
			if plain := strings.Join(plainWords(name), " "); plain != name {
				t.Errorf("%q can't be found, since it is read as %q", name, plain)
			}
			if other, twice := seen[name]; twice {
				t.Errorf("%q stands for %s and %s", name, other, f)
			}
			seen[name] = f
		}
	}
	for _, c := range ListColumns {
		for _, heading := range []string{c.Heading(), c.Key, strings.ToUpper(c.Name)} {
			if f, unit := fieldOf(heading); string(f) != c.Key || unit != "" {
				t.Errorf("%q is read as %q with unit %q, want %s", heading, f, unit, c.Key)
			}
		}
	}
	for words := range units {
		if plain := strings.Join(plainWords(words), " "); plain != words {
			t.Errorf("the unit %q can't be found, since it is read as %q", words, plain)
		}
	}
}

// TestHeadings reads headings as they come from programs in three languages.
func TestHeadings(t *testing.T) {
	for heading, want := range map[string]Field{
		"Serial No.": Serial, "Barren-Nr.": Serial, "Nº serie": Serial, "N.º de serie": "", "Número de lingote": Serial,
		"Refiner": Marks, "Prägung": Marks, "Punzón": Marks, "Maker's mark": Marks,
		"Fineness (‰)": Fineness, "Feingehalt [‰]": Fineness, "Ley, por mil": Fineness, "fineness, parts per thousand": Fineness, "Purity": Fineness,
		"Gross weight (oz t)": Mass, "Gewicht in g": "", "Gewicht, kg": Mass, "Peso (gramos)": Mass, "mass_g": Mass, "weight_kg": Mass,
		"Einheit": MassUnit, "Unidad": MassUnit, "Strichcode": Barcode, "Código de barras": Barcode, "Your reference": Reference,
		"Teil von": PartOf, "Lote": PartOf, "Bezeichnung": Description, "Descripción": Description, "declarado por": ClaimBy,
		"Colour": "", "": "",
	} {
		if got, _ := fieldOf(heading); got != want {
			t.Errorf("%q is read as %q, want %q", heading, got, want)
		}
	}
}

// TestListsAlike reads the same invented bars from files of three languages and forms.
func TestListsAlike(t *testing.T) {
	want := []map[Field]string{
		{Serial: "A 1001", Marks: "WORKS", Metal: "gold", Fineness: "999.9", Mass: "1000.50", MassUnit: "g"},
		{Serial: "0012", Marks: "WORKS", Metal: "silver", Fineness: "999", Mass: "31.1", MassUnit: "ozt"},
	}
	book := written(t, XLSX, Table{"bars", []Column{{"", "Serial", "", Text}, {"", "Refiner", "", Text}, {"", "Metal", "", Text}, {"", "Purity", "", Number}, {"", "Weight", "", Number}, {"", "Unit", "", Text}},
		rowsOf([][]string{{"A 1001", "WORKS", "Au", "999.9", "1000.50", "g"}, {"0012", "WORKS", "Ag", "999", "31.1", "troy ounces"}})})
	for name, data := range map[string]string{
		"English, commas":    "Serial,Marks,Metal,Fineness,Mass,Mass unit\nA 1001,WORKS,gold,999.9,1000.50,g\n0012,WORKS,silver,999,31.1,ozt\n",
		"German, semicolons": "\ufeffBarrennummer;Hersteller;Metall;Feingehalt;Gewicht;Einheit\r\nA 1001;WORKS;Gold;999,9;1000,50;g\r\n0012;WORKS;Silber;999;31,1;oz t\r\n",
		"Spanish, tabs":      "Número de serie\tFabricante\tMetal\tLey\tPeso\tUnidad\rA 1001\tWORKS\tOro\t999,9\t1000,50\tgramos\r0012\tWORKS\tPlata\t999\t31,1\tonzas troy\r",
		"units in cells":     "serial,marks,metal,fineness,mass\n A 1001 ,WORKS,Gold,999.9‰,1000.50 g\n0012,WORKS,ag,999 ‰,31.1 oz t\n",
		"sep":                "sep=;\r\nserial;marks;metal;fineness;mass;unit\r\nA 1001;WORKS;gold;999.9;1000.50;g\r\n0012;WORKS;silver;999;31.1;ozt\r\n",
		"blank rows":         "\n\nserial,marks,metal,fineness,mass,unit\n\nA 1001,WORKS,gold,999.9,1000.50,g\n,,,,,\n0012,WORKS,silver,999,31.1,ozt",
		"JSON Lines":         `{"serial":"A 1001","marks":"WORKS","metal":"gold","fineness_ppt":999.9,"mass":1000.50,"mass_unit":"g"}` + "\n\n" + `{"serial":"0012","marks":"WORKS","metal":"silver","fineness_ppt":"999","mass":31.1,"mass_unit":"ozt","barcode":null}`,
		"workbook":           string(book),
	} {
		l := list(t, data)
		if len(l.Findings) > 0 {
			t.Errorf("%s: %+v", name, l.Findings)
		}
		var got []map[Field]string
		for _, i := range l.Items {
			got = append(got, i.Cells)
		}
		if !reflect.DeepEqual(got, want) || l.Rows != 2 {
			t.Errorf("%s is read as %v", name, got)
		}
	}
}

// TestFindings says what is wrong in a row: where, and how to mend it.
func TestFindings(t *testing.T) {
	for _, row := range []struct{ data, column, wrong, mend string }{
		{"serial,metal\nA,gould\n", "metal", `"gould"`, "Did you mean gold?"},
		{"serial,metal\nA,brass\n", "metal", `"brass"`, "claim"},
		{"serial,metal,fineness\nA,gold,24\n", "fineness", "24", "carats"},
		{"serial,metal,fineness\nA,gold,0.9999\n", "fineness", "0.9999", "999.9"},
		{"serial,metal,fineness\nA,gold,1001\n", "fineness", "1001", "1000"},
		{"serial,metal,fineness\nA,gold,75%\n", "fineness", "75%", "decimal mark"},
		{"serial,metal,fineness\nA,,750\n", "metal", "what metal", "gold"},
		{"serial,fineness\nA,750\n", "fineness", "what metal", "column metal"},
		{"serial,mass\nA,100\n", "mass", "no unit", "mass (g)"},
		{"serial,mass\nA,100 oz\n", "mass", "ounce", "ozt"},
		{"serial,mass,unit\nA,100,gr\n", "unit", "grain", "gram"},
		{"serial,mass,unit\nA,100,stone\n", "unit", "stone", "Units known: g, kg"},
		{"serial,mass (kg)\nA,100 g\n", "mass (kg)", "kg and in g", "once"},
		{"serial,mass (kg),unit\nA,100,g\n", "unit", "kg and in g", "once"},
		{"serial,mass,unit\nA,,g\n", "unit", "no mass", "take its unit out"},
		{"serial,mass (g)\nA,\"1,234\"\n", "mass (g)", "1.234 or 1234", "point"},
		{"serial;mass (g)\nA;1.234,5\n", "mass (g)", "several marks", "thousands"},
		{"serial;mass (g)\nA;1'234.5\n", "mass (g)", "no number", "thousands"},
		{"serial,mass (g)\nA,-5\n", "mass (g)", "no number", "digits"},
		{"serial,mass (g)\nA,1e3\n", "mass (g)", "no number", "digits"},
		{"serial,mass (g)\nA,0.00\n", "mass (g)", "is none", "empty"},
	} {
		l := list(t, row.data)
		if len(l.Findings) != 1 {
			t.Errorf("%q: %+v", row.data, l.Findings)
			continue
		}
		f := l.Findings[0]
		if f.Row != 2 || f.Column != row.column || !strings.Contains(f.Wrong, row.wrong) || !strings.Contains(f.Mend, row.mend) || f.Warning {
			t.Errorf("%q: %+v, want %s: %s, %s", row.data, f, row.column, row.wrong, row.mend)
		}
	}
	l := list(t, "serial;mass (g)\nA;1,234\nB;12,5\n")
	if len(l.Findings) > 0 || l.Items[0].Cells[Mass] != "1.234" || l.Items[1].Cells[Mass] != "12.5" {
		t.Errorf("decimal commas between semicolons: %+v", l)
	}
}

// TestColumnsThatAreNotEntered says so once for the file.
func TestColumnsThatAreNotEntered(t *testing.T) {
	for heading, want := range map[string]struct {
		mend    string
		warning bool
	}{
		"colour": {"known headings", true}, "fine weight": {"follows from", true}, "Feingewicht": {"follows from", true}, "karat": {"585 for 14", false}, "finenes": {"fineness", true},
	} {
		l := list(t, "serial,"+heading+",empty\nA,1,\nB,2,\n")
		if len(l.Findings) != 1 || l.Findings[0].Row != 0 || l.Findings[0].Column != heading || !strings.Contains(l.Findings[0].Mend, want.mend) || l.Findings[0].Warning != want.warning {
			t.Errorf("%s: %+v", heading, l.Findings)
		}
	}
}

// TestFilesThatCannotBeRead says what is wrong with the file as a whole.
func TestFilesThatCannotBeRead(t *testing.T) {
	for _, row := range []struct{ name, data, reason, hint string }{
		{"nothing", "", "empty", "headings"},
		{"blank", " \n\n", "empty", "headings"},
		{"headings alone", "serial,metal\n", "no items", "one item a row"},
		{"no heading known", "seriall,metl\nA,gold\n", "none of the headings", "serial"},
		{"twice", "serial,bar number\nA,B\n", "mean the same", "Leave one"},
		{"UTF-16", "\xff\xfes\x00e\x00", "UTF-16", "UTF-8"},
		{"Latin-1", "serial,marks\nA,M\xfcnze\n", "row 2", "UTF-8"},
		{"old workbook", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old form", ".xlsx"},
		{"JSON array", `[{"serial":"A"}]`, "array", "one object a line"},
		{"JSON in JSON", `{"serial":{"a":1}}`, "row 1", "object a line"},
		{"JSON without names", "{}\n{}\n", "names anything", "object a line"},
		{"JSON with an empty name", `{"":1}`, "empty", "object a line"},
		{"JSON cut", `{"serial":"A"`, "row 1", "object a line"},
		{"JSON twice", `{"serial":"A","serial":"B"}`, "twice", "object a line"},
		{"open quotation", "serial,marks\nA,\"b\n", "row 2", "Close it"},
		{"behind quotation", "serial,marks\nA,\"b\"c\n", "row 2", "whole cell"},
		{"more cells", "serial,marks\nA,b,c\n", "row 2", "heading"},
		{"packed", "PK\x03\x04rest", "can't be read", "save"},
	} {
		_, err := ReadList([]byte(row.data), wide)
		var said *ReadError
		if !errors.As(err, &said) || !strings.Contains(said.Error(), row.reason) || !strings.Contains(said.Hint, row.hint) {
			t.Errorf("%s: %v (%+v), want %s; %s", row.name, err, said, row.reason, row.hint)
		}
	}
}

// TestLimits holds every limit.
func TestLimits(t *testing.T) {
	rows := func(n int) Table {
		var rows [][]string
		for i := range n {
			rows = append(rows, []string{fmt.Sprint("serial ", i), "a"})
		}
		return Table{"t", []Column{{"serial", "serial", "", Text}, {"marks", "marks", "", Text}}, rowsOf(rows)}
	}
	limits := Limits{Bytes: 20_000, Unpacked: 40_000, Rows: 100, Columns: 2, Cell: 100}
	for _, f := range Formats {
		if _, err := Read(written(t, f, rows(100)), limits); err != nil {
			t.Errorf("%s at the limit: %v", f, err)
		}
		if _, err := Read(written(t, f, rows(101)), limits); err == nil || !strings.Contains(err.Error(), "100 rows") {
			t.Errorf("%s with a row too many: %v", f, err)
		}
		long := Table{"t", []Column{{"serial", "serial", "", Text}}, rowsOf([][]string{{strings.Repeat("a", 101)}})}
		if _, err := Read(written(t, f, long), limits); err == nil || !strings.Contains(err.Error(), "100 bytes") {
			t.Errorf("%s with a long cell: %v", f, err)
		}
		broad := Table{"t", []Column{{"a", "a", "", Text}, {"b", "b", "", Text}, {"c", "c", "", Text}}, rowsOf([][]string{{"1", "2", "3"}})}
		if _, err := Read(written(t, f, broad), limits); err == nil {
			t.Errorf("%s with a column too many was read", f)
		}
	}
	if _, err := Read(bytes.Repeat([]byte("a"), 20_001), limits); err == nil || !strings.Contains(err.Error(), "20001 bytes") {
		t.Errorf("a file that is too large: %v", err)
	}
}

// TestPackedBombs reads workbooks that are small and unpack to much, or say so.
func TestPackedBombs(t *testing.T) {
	limits := Limits{Bytes: 1 << 20, Unpacked: 1 << 20, Rows: 1000, Columns: 50, Cell: 5000}
	head := `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>serial</t></is></c></row>`
	for name, sheet := range map[string]string{
		"spaces":        head + strings.Repeat(" ", 8<<20),
		"one long text": head + `<row r="2"><c r="A2" t="inlineStr"><is><t>` + strings.Repeat("a", 8<<20),
		"many runs":     head + `<row r="2"><c r="A2" t="inlineStr"><is>` + strings.Repeat("<r><t>a</t></r>", 1<<20),
		"empty rows":    head + strings.Repeat("<row/>", 2<<20),
		"a comment":     head + "<!--" + strings.Repeat("x", 8<<20),
	} {
		data := packed(t, map[string]string{"xl/worksheets/sheet1.xml": sheet})
		if len(data) > limits.Bytes {
			t.Fatalf("%s has %d bytes", name, len(data))
		}
		_, err := Read(data, limits)
		if err == nil || !strings.Contains(err.Error(), "1048576 bytes") {
			t.Errorf("%s: %v", name, err)
		}
	}
	// One shared text that every cell names.
	var sheet strings.Builder
	sheet.WriteString(head)
	for i := range 900 {
		fmt.Fprintf(&sheet, `<row r="%d"><c t="s"><v>0</v></c></row>`, i+2)
	}
	data := packed(t, map[string]string{"xl/worksheets/sheet1.xml": sheet.String() + "</sheetData></worksheet>", "xl/sharedStrings.xml": "<sst><si><t>" + strings.Repeat("a", 2000) + "</t></si></sst>"})
	if _, err := Read(data, limits); err == nil || !strings.Contains(err.Error(), "1048576 bytes") {
		t.Errorf("a shared text: %v", err)
	}
	entity := `<!DOCTYPE x [<!ENTITY a "` + strings.Repeat("a", 1000) + `">]>` + head + `<row r="2"><c r="A2" t="inlineStr"><is><t>&a;&a;</t></is></c></row></sheetData></worksheet>`
	if _, err := Read(packed(t, map[string]string{"xl/worksheets/sheet1.xml": entity}), limits); err == nil {
		t.Error("an entity was expanded")
	}
}

// packed packs a workbook of one sheet.
func packed(t testing.TB, parts map[string]string) []byte {
	t.Helper()
	all := map[string]string{
		"xl/workbook.xml":            `<workbook xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="a" sheetId="1" r:id="rId1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="rId1" Target="worksheets/sheet1.xml"/></Relationships>`,
	}
	for name, text := range parts {
		all[name] = text
	}
	var names []string
	for name := range all {
		names = append(names, name)
	}
	slices.Sort(names)
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, name := range names {
		f, err := w.Create(name)
		if err == nil {
			_, err = f.Write([]byte(all[name]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// TestForeignWorkbooks reads what other programs put into a workbook: shared texts, runs, formulas with
// their result, dates, fractions of a binary number, hidden sheets.
func TestForeignWorkbooks(t *testing.T) {
	sheet := `<worksheet><sheetData>
<row r="2"><c r="B2" t="s"><v>0</v></c><c r="C2" t="s"><v>1</v></c><c r="D2" t="str"><f>"da"&amp;"te"</f><v>date</v></c><c r="E2" t="inlineStr"><is><t>code</t></is></c></row>
<row r="4"><c r="B4"><v>12.443099999999999</v></c><c r="C4" s="1"><v>12.5</v></c><c r="D4" s="2"><v>46085</v></c><c r="E4" s="3"><v>12</v></c></row>
<row><c r="B5" t="b"><v>1</v></c><c><f>B4*2</f><v>24.886199999999999</v></c><c s="4"><v>46085.5</v></c><c r="F5"/></row>
</sheetData></worksheet>`
	data := packed(t, map[string]string{
		"xl/workbook.xml":            `<workbook xmlns:r="x"><sheets><sheet name="no" state="hidden" r:id="rId9"/><sheet name="a" r:id="rId1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="rId1" Target="/xl/other/s.xml"/></Relationships>`,
		"xl/other/s.xml":             sheet,
		"xl/sharedStrings.xml":       `<sst><si><r><t xml:space="preserve">mass </t></r><r><t>g</t></r><rPh><t>silent</t></rPh></si><si><t>mass_x0020_2</t></si></sst>`,
		"xl/styles.xml":              `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="#,##0.000_ ;[Red]\-#,##0.000"/><numFmt numFmtId="165" formatCode="00000"/><numFmt numFmtId="166" formatCode="dd/mm/yyyy h:mm"/></numFmts><cellStyleXfs><xf numFmtId="9"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="164"/><xf numFmtId="14"/><xf numFmtId="165"/><xf numFmtId="166"/></cellXfs></styleSheet>`,
	})
	s, err := Read(data, wide)
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{"", "mass g", "mass 2", "date", "code"}; !reflect.DeepEqual(s.Headings, want) {
		t.Errorf("headings %q, want %q", s.Headings, want)
	}
	want := []Row{{4, []string{"", "12.4431", "12.500", "2026-03-04", "00012"}}, {5, []string{"", "TRUE", "24.8862", "2026-03-04T12:00:00", ""}}}
	if !reflect.DeepEqual(s.Rows, want) {
		t.Errorf("rows %v, want %v", s.Rows, want)
	}
	for name, cell := range map[string]string{
		"never computed": `<c r="A2"><f>1+1</f></c>`, "#DIV/0!": `<c r="A2" t="e"><v>#DIV/0!</v></c>`, "isn't there": `<c r="A2" t="s"><v>5</v></c>`, "no number": `<c r="A2"><v>five</v></c>`, "order": `<c r="B2"><v>1</v></c><c r="A2"><v>1</v></c>`,
	} {
		bad := `<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>serial</t></is></c></row><row r="2">` + cell + `</row></sheetData></worksheet>`
		if _, err := Read(packed(t, map[string]string{"xl/worksheets/sheet1.xml": bad}), wide); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestListsOfOurOwn writes lists in the columns of this program, in each format, and reads them as they were.
func TestListsOfOurOwn(t *testing.T) {
	word := rapid.Map(anyText(), forBooks)
	trimmed := rapid.Map(word, strings.TrimSpace)
	rapid.Check(t, func(t *rapid.T) {
		var rows [][]string
		var want []map[Field]string
		for range rapid.IntRange(1, 4).Draw(t, "rows") {
			cells := map[Field]string{
				Serial: trimmed.Draw(t, "serial"), Marks: word.Draw(t, "marks"), Description: word.Draw(t, "description"), Condition: word.Draw(t, "condition"),
				Claim: word.Draw(t, "claim"), ClaimBy: word.Draw(t, "by"), Barcode: trimmed.Draw(t, "barcode"), Reference: trimmed.Draw(t, "reference"), PartOf: trimmed.Draw(t, "part of"), Place: word.Draw(t, "place"),
				Metal: rapid.SampledFrom([]string{"gold", "silver", "platinum", "palladium"}).Draw(t, "metal"),
			}
			if rapid.Bool().Draw(t, "fine") {
				cells[Fineness] = rapid.StringMatching(`[1-9][0-9]{2}(\.[0-9]{1,3})?`).Draw(t, "fineness")
			}
			if rapid.Bool().Draw(t, "weighed") {
				cells[Mass], cells[MassUnit] = rapid.StringMatching(`[1-9][0-9]{0,5}(\.[0-9]{1,6})?`).Draw(t, "mass"), rapid.SampledFrom([]string{"g", "kg", "mg", "ct", "ozt", "dwt", "grain", "tola", "momme", "baht"}).Draw(t, "unit")
			}
			var row []string
			for _, c := range ListColumns {
				row = append(row, cells[Field(c.Key)])
				if cells[Field(c.Key)] == "" {
					delete(cells, Field(c.Key))
				}
			}
			rows, want = append(rows, row), append(want, cells)
		}
		for _, f := range Formats {
			var out bytes.Buffer
			if err := Write(&out, f, Table{"claims", ListColumns, rowsOf(rows)}); err != nil {
				t.Fatal(err)
			}
			l, err := ReadList(out.Bytes(), wide)
			if err != nil {
				t.Fatalf("%s: %v", f, err)
			}
			var got []map[Field]string
			for _, i := range l.Items {
				got = append(got, i.Cells)
			}
			if diff := differ(want, got); diff != "" || len(l.Findings) > 0 {
				t.Fatalf("%s: %s %+v", f, diff, l.Findings)
			}
		}
	})
}

func FuzzReadList(f *testing.F) {
	for _, name := range []string{"bars.csv", "barren.csv", "lingotes.tsv", "with-faults.csv"} {
		data, err := os.ReadFile(filepath.Join("..", "..", "examples", "lists", name))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(`{"serial":"A 1001","metal":"gold","fineness_ppt":999.9,"mass":"1000.50 g"}`))
	small := Limits{Bytes: 1 << 20, Unpacked: 1 << 22, Rows: 1000, Columns: 50, Cell: 1 << 16}
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := ReadList(data, small)
		if err != nil {
			var said *ReadError
			if !errors.As(err, &said) || said.Hint == "" {
				t.Fatalf("%v says not what to do", err)
			}
			return
		}
		wrong := map[int]bool{}
		for _, f := range l.Findings {
			if f.Wrong == "" || f.Mend == "" {
				t.Fatalf("%+v says not what to do", f)
			}
			wrong[f.Row] = true
		}
		for _, i := range l.Items {
			for _, n := range []string{i.Cells[Fineness], i.Cells[Mass]} {
				if n != "" && (!plain(n) || n[0] == '-') {
					t.Fatalf("%q is no decimal", n)
				}
			}
			if (i.Cells[Mass] == "") != (i.Cells[MassUnit] == "") {
				t.Fatalf("a mass without a unit: %v", i)
			}
			if _, err := json.Marshal(i); err != nil {
				t.Fatal(err)
			}
		}
	})
}
