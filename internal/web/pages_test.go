package web

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"html"
	"image"
	"image/color"
	"image/png"
	"io/fs"
	"mime/multipart"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/tables"
	"wreath/internal/value"
)

var (
	inTemplate = regexp.MustCompile(`\.T "((?:[^"\\]|\\.)*)"`)
	title      = regexp.MustCompile(`Title: "((?:[^"\\]|\\.)*)", Nav`)
)

// said collects every text of the catalogue that templates and program name, and where.
func said(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	pages, err := fs.Glob(files, "templates/*.html")
	if err != nil {
		t.Fatal(err)
	}
	sources, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range append(pages, sources...) {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, find := range []*regexp.Regexp{inTemplate, title} {
			for _, m := range find.FindAllStringSubmatch(string(text), -1) {
				english, err := strconv.Unquote(`"` + m[1] + `"`)
				if err != nil {
					t.Fatalf("%s: %q: %v", name, m[1], err)
				}
				out[english] = name
			}
		}
		if !strings.HasSuffix(name, ".go") {
			continue
		}
		tree, err := parser.ParseFile(token.NewFileSet(), name, text, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(tree, func(n ast.Node) bool {
			call, is := n.(*ast.CallExpr)
			if !is || len(call.Args) != 1 {
				return true
			}
			called := ""
			switch f := call.Fun.(type) {
			case *ast.Ident:
				called = f.Name
			case *ast.SelectorExpr:
				called = f.Sel.Name
			}
			if literal, is := call.Args[0].(*ast.BasicLit); is && literal.Kind == token.STRING && (called == "say" || called == "T") {
				english, err := strconv.Unquote(literal.Value)
				if err != nil {
					t.Fatal(err)
				}
				out[english] = name
			}
			return true
		})
	}
	if len(out) < 300 {
		t.Fatalf("only %d texts were found", len(out))
	}
	// What pages say out of lists of the rooms below.
	for _, list := range [][]string{station.Kinds, value.Metals, {value.Met, value.NotMet, value.Undecided, value.Suspended, value.NoClaim},
		{station.InOrder, station.DueSoon, station.Overdue, station.OutOfUse, station.NotTraceable}, {record.Typed, record.Received, record.Imported}, {"hanging", "standing", "recorded", "signed", "superseded"}} {
		for _, text := range list {
			out[text] = "a list"
		}
	}
	for _, role := range people.Roles {
		out[string(role)] = "the roles"
	}
	for _, m := range people.Meanings {
		out[string(m.Meaning)] = "the meanings of a signature"
	}
	return out
}

func TestEveryTextIsTranslated(t *testing.T) {
	texts := said(t)
	for _, lang := range []string{"de", "es"} {
		for text, where := range texts {
			if dictionaries[lang].texts[text] == "" {
				t.Errorf("%s has no word for %q of %s", lang, text, where)
			}
		}
		for text, other := range dictionaries[lang].texts {
			if !utf8.ValidString(other) || strings.TrimSpace(other) != other || strings.HasSuffix(text, ".") != strings.HasSuffix(other, ".") {
				t.Errorf("%s: %q becomes %q", lang, text, other)
			}
		}
	}
}

// TestNextIsShortFromAfar holds what is read at 1.5 m to 24 letters, in every language.
func TestNextIsShortFromAfar(t *testing.T) {
	text, err := os.ReadFile("sheet.go")
	if err != nil {
		t.Fatal(err)
	}
	short := regexp.MustCompile(`Short: say\("([^"]*)"\)`).FindAllStringSubmatch(string(text), -1)
	if len(short) < 10 {
		t.Fatalf("only %d short lines were found", len(short))
	}
	for _, m := range short {
		for lang, w := range dictionaries {
			if n := utf8.RuneCountInString(w.T(m[1])); n > 24 {
				t.Errorf("%s: %q has %d letters", lang, w.T(m[1]), n)
			}
		}
	}
	for _, a := range determination.Actions() {
		text := shortActs[a.Key]
		if text == "" {
			t.Errorf("the act %s has no short line", a.Key)
		}
		for lang, w := range dictionaries {
			if n := utf8.RuneCountInString(w.T(text)); n > 24 {
				t.Errorf("%s: %q has %d letters", lang, w.T(text), n)
			}
		}
	}
}

func TestFieldsAreSaidInWords(t *testing.T) {
	for _, c := range [][2]string{
		{"a closing weighing in air (closing_air_g)", "a closing weighing in air"},
		{"a proof of the liquid with a check piece (liquid.proof)", "a proof of the liquid with a check piece"},
		{"liquid.proof.liquid_g[1]: is missing", "check piece in the liquid: is missing"},
		{"hanger.surface_u_g", "pull of the surface on the wire"},
		{"the check piece finds 998.81 kg/m³ (u 0.11)", "the check piece finds 998.81 kg/m³ (u 0.11)"},
		{"D-000123.json holds e.g. this", "D-000123.json holds e.g. this"},
	} {
		if got := plain(c[0]); got != c[1] {
			t.Errorf("plain(%q) = %q, want %q", c[0], got, c[1])
		}
	}
}

// TestNoFieldNameReachesTheReader looks for names of fields in what the bench shows.
func TestNoFieldNameReachesTheReader(t *testing.T) {
	s := newBench(t)
	by := s.who("boss")
	c := s.client()
	tags := regexp.MustCompile(`(?s)<script.*?</script>|<svg.*?</svg>|<[^>]*>`)
	name := regexp.MustCompile(`\b[a-z]+(?:\.[a-z]+)*_[a-z0-9_]+\b|\bliquid\.[a-z]+`)
	for _, path := range []string{"/sheet/" + s.sheet(by), "/sheet/" + must[desk.Sheet](t)(s.desk.OpenSheet(t.Context(), by, desk.Begin{Station: "S-1", Document: []byte(claimDoc)})).Sheet.ID, "/record/" + s.recorded(by)} {
		text := tags.ReplaceAllString(c.get(path).want(200).body, " ")
		for _, found := range name.FindAllString(text, -1) {
			at := strings.Index(text, found)
			t.Errorf("%s shows %q: %.120s", path, found, text[max(0, at-60):])
		}
	}
}

func must[T any](t testing.TB) func(T, error) T {
	return func(out T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
}

// TestNoFindingWithoutItsRule asks whatever shows a finding for the rule and for what density can't
// see, every density for its uncertainty, and every price for the state of the finding: sheets, and
// records of every example.
func TestNoFindingWithoutItsRule(t *testing.T) {
	s := newBench(t)
	by := s.who("boss")
	id := s.sheet(by)
	visible := func(path string) string {
		return html.UnescapeString(regexp.MustCompile(`(?s)<svg.*?</svg>|<[^>]*>`).ReplaceAllString(s.client().get(path).want(200).body, " "))
	}
	holds := func(path, body string, texts ...string) {
		t.Helper()
		for _, text := range texts {
			if !strings.Contains(body, text) {
				t.Errorf("%s shows a finding and doesn't say %q", path, text)
			}
		}
	}
	for _, path := range []string{"/sheet/" + id, "/sheet/" + id + "/far"} {
		holds(path, visible(path), "house rule", "see tungsten", " ± ")
	}
	if body := s.client().get("/sheet/" + id).body; !strings.Contains(body, "No price while the finding is") && !strings.Contains(body, `<p class="small">finding: `) {
		t.Error("the sheet shows a price, or none, without the state of the finding")
	}

	examples, err := filepath.Glob("../../examples/*.json")
	if err != nil || len(examples) < 8 {
		t.Fatalf("%d examples, %v", len(examples), err)
	}
	findings, numbers := 0, []string{s.recorded(by)}
	for _, name := range examples {
		if filepath.Base(name) == "station.json" {
			continue // what a station gives, and no item
		}
		document := must[[]byte](t)(os.ReadFile(name))
		made, err := s.desk.Record(t.Context(), by, desk.Given{Begin: desk.Begin{Document: document}, Source: record.Imported})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		numbers = append(numbers, made.Number)
		var answer determination.Answer
		if err := json.Unmarshal(made.Answer, &answer); err != nil {
			t.Fatal(err)
		}
		density := printDensity(&answer)
		path := "/record/" + made.Number
		body := visible(path)
		holds(path, body, density.Value, "± "+density.U)
		for _, caution := range answer.Cautions {
			holds(path, body, caution)
		}
		if f := answer.Finding; f != nil {
			findings++
			holds(path, body, f.Result, f.Rule)
			compare := "/compare?record=" + made.Number + "&record=" + numbers[0]
			holds(compare, visible(compare), f.Result, f.Rule, density.Value+" ± "+density.U)
			api := s.client().get("/api/v1/determinations/" + made.Number).want(200).body
			holds("the document of "+made.Number, api, `"result"`, `"rule"`, `"U_kg_m3"`, `"cautions"`)
		}
	}
	if findings < 5 {
		t.Fatalf("only %d examples have a finding", findings)
	}
	book := visible("/book")
	holds("/book", book, "Each finding follows the rule that its record names", "clears nothing of a core")
	if n := strings.Count(book, " ± "); n < len(numbers) {
		t.Errorf("the day book has %d uncertainties for %d densities", n, len(numbers))
	}
	table := s.client().get("/book/day-book.csv").want(200).body
	holds("the day book as a table", table, "finding, by the rule that its record names", "expanded uncertainty of the density")
	lot := s.client().post("/lots", "record", numbers[0], "name", "Friday").want(200).body
	holds("the lot", lot, "Each finding follows the rule that its record names", ">undecided<")
}

func TestPageOfOurOwnWhereThereIsNone(t *testing.T) {
	s := newBench(t)
	for _, path := range []string{"/nothing", "/record/D-999999", "/sheet/d-nothing", "/lots/l-nothing", "/book/other.csv", "/photos/00", "/stations/nothing", "/materials/nothing"} {
		a := s.client().get(path).want(404)
		if !strings.Contains(a.body, "To the bench") {
			t.Errorf("%s: the page leads nowhere: %.200s", path, a.body)
		}
	}
}

// TestPageOfASheetIsLight weighs the page with all that it loads, and with what its scripts load.
func TestPageOfASheetIsLight(t *testing.T) {
	t.Run("typed", func(t *testing.T) { weighPage(t, newBench(t)) })
	t.Run("linked", func(t *testing.T) {
		s := newSite(t, "", func(o *Options) { withHub(t, o) })
		if _, err := s.desk.LinkInstrument(t.Context(), s.who("boss"), "B-1", &station.Link{Address: "push:b1", Pattern: inventedPattern(t)}, ""); err != nil {
			t.Fatal(err)
		}
		s.server.relink(t.Context())
		weighPage(t, s)
	})
}

func weighPage(t *testing.T, s *site) {
	t.Helper()
	c := s.client()
	page := c.get("/sheet/" + s.sheet(s.who("boss"))).want(200).body
	loaded := map[string]string{"the page": page}
	address := regexp.MustCompile(`(?:<link[^>]* href|<script[^>]* src|<img[^>]* src)="(/[^"]+)"`)
	module := regexp.MustCompile(`(?:from|import) ?\(?"(/[^"]+|\./[^"]+)"`)
	var load func(path string)
	load = func(path string) {
		if loaded[path] != "" {
			return
		}
		loaded[path] = c.get(path).want(200).body
		for _, m := range module.FindAllStringSubmatch(loaded[path], -1) {
			load(strings.Replace(m[1], "./", "/static/", 1))
		}
	}
	for _, m := range address.FindAllStringSubmatch(page, -1) {
		load(strings.Split(m[1], "?")[0])
	}
	if len(loaded) < 5 {
		t.Errorf("only %d parts were found", len(loaded))
	}
	plain, packed := 0, 0
	for _, body := range loaded {
		var out bytes.Buffer
		w := gzip.NewWriter(&out)
		w.Write([]byte(body))
		w.Close()
		plain, packed = plain+len(body), packed+out.Len()
	}
	t.Logf("%d parts, %d bytes, %d packed; the page alone %d", len(loaded), plain, packed, len(page))
	if plain > 150_000 {
		t.Errorf("the sheet's page weighs %d bytes with all that it loads, more than 150 kB", plain)
	}
	if packed > 50_000 {
		t.Errorf("the sheet's page weighs %d bytes packed, more than 50 kB", packed)
	}
}

func TestDayBookAsAFile(t *testing.T) {
	s := newBench(t)
	by := s.who("boss")
	evil := `=HYPERLINK("http://example.invalid")`
	document := strings.Replace(claimDoc, "plain band, stamp 750", strings.ReplaceAll(evil, `"`, `\"`), 1)
	sheet := must[desk.Sheet](t)(s.desk.OpenSheet(t.Context(), by, desk.Begin{Station: "S-1", Document: []byte(document)}))
	for _, r := range readings {
		must[desk.Sheet](t)(s.desk.Take(t.Context(), by, sheet.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}))
	}
	must[*record.Record](t)(s.desk.Conclude(t.Context(), by, sheet.Sheet.ID))
	s.recorded(by)

	a := s.client().get("/book/day-book.csv").want(200)
	rows, err := csv.NewReader(strings.NewReader(a.body)).ReadAll()
	if err != nil || len(rows) != 3 {
		t.Fatalf("%d rows (%v), want a header and two", len(rows), err)
	}
	if !slices.ContainsFunc(rows[0], func(h string) bool { return strings.Contains(h, "kg/m3") }) || !slices.Contains(rows[0], "mass, g") {
		t.Errorf("the header names no units: %v", rows[0])
	}
	if got := rows[2][2]; got != "'"+evil {
		t.Errorf("the formula stands as %q", got)
	}
	if !strings.HasPrefix(a.header.Get("Content-Disposition"), "attachment") {
		t.Error("it is no download")
	}
	lines := strings.Split(strings.TrimSpace(s.client().get("/book/day-book.jsonl").want(200).body), "\n")
	if len(lines) != 2 {
		t.Fatalf("%d lines, want 2", len(lines))
	}
	var row map[string]any
	if err := json.Unmarshal([]byte(lines[1]), &row); err != nil || row["description"] != evil {
		t.Errorf("%q (%v), want the text unchanged", row["description"], err)
	}
	book := s.client().get("/book/day-book.xlsx").want(200)
	read := must[*tables.Sheet](t)(tables.Read([]byte(book.body), tables.Limits{Bytes: 1 << 20, Unpacked: 8 << 20, Rows: 100, Columns: 100, Cell: 10_000}))
	if len(read.Rows) != 2 || !slices.Contains(read.Headings, "mass, g") || !slices.Contains(read.Rows[1].Cells, evil) {
		t.Errorf("the workbook has %d rows and the headings %q: %v", len(read.Rows), read.Headings, read.Rows)
	}
	if body := s.client().get("/book/day-book.csv?finding=met&text=nothing").want(200).body; strings.Count(body, "\n") != 1 {
		t.Errorf("a search that finds nothing gives %q", body)
	}
}

func TestOnlyWeigh(t *testing.T) {
	s := newBench(t)
	c := s.client()
	for range 2 { // sent twice, done once
		c.post("/weigh", "mark", "weigh-1", "text", "12,3456", "description", "chain", "station", "S-1").want(200)
	}
	for _, wrong := range []string{"", "abc", "1.234,5"} { // opens no sheet
		c.post("/weigh", "mark", "weigh-"+wrong, "text", wrong, "station", "S-1").want(422)
	}
	sheets := must[[]record.Sheet](t)(s.desk.Sheets(t.Context(), s.who("boss").Who))
	if len(sheets) != 1 || len(sheets[0].Readings) != 1 || sheets[0].Readings[0].Text != "12,3456" || sheets[0].Item == "" {
		t.Errorf("there are %d sheets: %+v", len(sheets), sheets)
	}
}

func TestTrayHoldsOneItem(t *testing.T) {
	s := newBench(t)
	c := s.client()
	c.post("/sheets", "description", "chain", "barcode", "T-1", "marks", "585, struck", "condition", "worn").want(200)
	again := c.post("/sheets", "barcode", "T-1").want(200)
	if !strings.Contains(again.body, "585, struck") || !strings.Contains(again.body, "worn") {
		t.Error("the sheet doesn't show marks and condition of what lies in the tray")
	}
	c.post("/sheets", "description", "ring", "barcode", "T-1").want(422)
	c.post("/sheets", "description", "ring", "barcode", "T-2", "fineness", "750").want(422) // of which metal?
}

// TestLabelsLeadToWhatTheyAreOf scans the labels of an item and of an instrument.
func TestLabelsLeadToWhatTheyAreOf(t *testing.T) {
	s := newBench(t)
	item := must[desk.Item](t)(s.desk.EnterItem(t.Context(), s.who("boss"), desk.Item{Description: "chain (invented)"}))
	for code, page := range map[string]string{item.ID: "/items/" + item.ID, "B-1": "/stations/B-1", "T-99": "/?barcode=T-99"} {
		if to := s.client().still().get("/scan?code=" + code).want(303).header.Get("Location"); to != page {
			t.Errorf("%s leads to %s, want %s", code, to, page)
		}
	}
	for _, path := range []string{"/items/" + item.ID, "/stations/B-1"} {
		if a := s.client().get(path + "/label.txt").want(200); !strings.Contains(a.body, path[strings.LastIndex(path, "/")+1:]) {
			t.Errorf("the label of %s reads %q", path, a.body)
		}
		if a := s.client().get(path + "/label.pdf?size=50x25&code=qr").want(200); !strings.HasPrefix(a.body, "%PDF-") {
			t.Errorf("the label of %s is no PDF", path)
		}
		s.client().get(path + "/label.pdf?size=1x1").want(422)
		s.client().get(path + "/label.doc").want(404)
	}
}

func TestPhotoOfAnItem(t *testing.T) {
	s := newBench(t)
	by := s.who("boss")
	item := must[desk.Item](t)(s.desk.EnterItem(t.Context(), by, desk.Item{Description: "ring (invented)", Barcode: "T-3"}))
	sheet := must[desk.Sheet](t)(s.desk.OpenSheet(t.Context(), by, desk.Begin{Station: "S-1", Item: item.ID, Document: []byte(claimDoc)}))
	picture := image.NewRGBA(image.Rect(0, 0, 40, 30))
	picture.Set(3, 3, color.White)
	var file, form bytes.Buffer
	if err := png.Encode(&file, picture); err != nil {
		t.Fatal(err)
	}
	w := multipart.NewWriter(&form)
	w.WriteField("then", "/sheet/"+sheet.Sheet.ID)
	w.WriteField("caption", "the stamp")
	part := must[interface{ Write([]byte) (int, error) }](t)(w.CreateFormFile("photo", "ring.png"))
	part.Write(file.Bytes())
	w.Close()
	a := s.client().do("POST", "/items/"+item.ID+"/photos", &form, "Content-Type", w.FormDataContentType(), "Accept", "text/html").want(200)
	found := regexp.MustCompile(`/photos/[0-9a-f]{64}`).FindString(a.body)
	if found == "" || !strings.Contains(a.body, `alt="the stamp"`) {
		t.Fatalf("the sheet shows no photo: %.300s", a.body)
	}
	if shown := s.client().get(found).want(200); !strings.HasPrefix(shown.header.Get("Content-Type"), "image/") {
		t.Errorf("the photo is of the type %q", shown.header.Get("Content-Type"))
	}
	s.client().post("/items/"+item.ID+"/photos", "caption", "none came").want(422)
}

func TestRecordIsValuedAndHandedOut(t *testing.T) {
	s := newBench(t)
	by := s.who("boss")
	number := s.recorded(by)
	c := s.client()
	bundle := c.post("/record/" + number + "/evidence").want(200)
	if !json.Valid([]byte(bundle.body)) || !strings.Contains(bundle.header.Get("Content-Disposition"), number) {
		t.Errorf("the evidence is %q: %.100s", bundle.header.Get("Content-Disposition"), bundle.body)
	}
	page := c.get("/record/" + number).want(200).body
	if !strings.Contains(page, "signed head that covers it") || !strings.Contains(page, "reading taken: in air: ") {
		t.Error("the record shows neither proof nor history in words")
	}
	a := c.post("/record/"+number+"/value", "mark", "value-1", "terms", "counter")
	if a.status == 200 && !strings.Contains(a.body, "Value again") {
		t.Errorf("the value is not shown: %.300s", a.body)
	}
	if a.status != 200 {
		a.want(422)
	}
	lot := c.post("/lots", "record", number, "name", "Friday").want(200)
	if !strings.Contains(lot.body, "Friday") || !strings.Contains(lot.body, number) {
		t.Errorf("the lot shows neither name nor record: %.300s", lot.body)
	}
	c.post("/lots", "name", "none").want(422)
	c.get("/compare?record=" + number).want(422)
	c.get("/compare?record=" + number + "&record=" + s.recorded(by)).want(200)
}

func TestEndOfTheDay(t *testing.T) {
	s := newBench(t)
	by := s.who("boss")
	id, number := s.sheet(by), s.recorded(by)
	body := s.client().get("/day").want(200).body
	for _, text := range []string{"/sheet/" + id, "/record/" + number, "no backup yet"} {
		if !strings.Contains(body, text) {
			t.Errorf("the list of the day doesn't name %s", text)
		}
	}
	s.clock.move(365 * 24 * time.Hour)
	if body := s.client().get("/day").want(200).body; !strings.Contains(body, "overdue") {
		t.Error("a year later no instrument is overdue")
	}
}

// TestDayBookDrawsItsRows asks for the picture and the sign of every row.
func TestDayBookDrawsItsRows(t *testing.T) {
	s := newBench(t)
	by := s.who("boss")
	s.recorded(by)
	s.recorded(by)
	body := s.client().get("/book").want(200).body
	if n := strings.Count(body, `class="pic dayrow"`); n != 2 {
		t.Errorf("%d small pictures, want 2", n)
	}
	if n := strings.Count(body, `class="pic sign"`); n != 2 {
		t.Errorf("%d signs, want 2", n)
	}
}

func BenchmarkSheetPage(b *testing.B) {
	s := newBench(b)
	id := s.sheet(s.who("boss"))
	c := s.client()
	for b.Loop() {
		c.get("/sheet/" + id)
	}
}

func BenchmarkDayBook(b *testing.B) {
	s := newBench(b)
	by := s.who("boss")
	for range bookPage {
		s.recorded(by)
	}
	c := s.client()
	b.ResetTimer()
	for b.Loop() {
		c.get("/book")
	}
}

// TestCheckPieceHasItsFields asks that a sheet at a station with a check piece has fields for it from the start:
// without a proof of the liquid no finding is met.
func TestCheckPieceHasItsFields(t *testing.T) {
	s := newBench(t)
	by := s.who("boss")
	bare := s.client().get("/sheet/" + s.sheet(by)).want(200).body
	if want := "Give the station a check piece"; !strings.Contains(bare, want) || strings.Contains(bare, `value="liquid.proof.air_g"`) {
		t.Errorf("without a check piece the sheet does not say %q, or asks for its readings", want)
	}
	piece := must[*station.Instrument](t)(station.DecodeInstrument([]byte(`{"id": "K-1", "version": 1, "kind": "check piece", "solid": {"volume_cm3": 2.5, "volume_u_cm3": 0.0002}}`)))
	must[station.Ref](t)(s.desk.SetInstrument(t.Context(), by, *piece, ""))
	place := must[*station.Station](t)(station.DecodeStation([]byte(strings.Replace(stationDoc, `"version": 1, "name"`, `"version": 2, "check_piece": {"id": "K-1", "version": 1}, "name"`, 1))))
	must[station.Ref](t)(s.desk.SetStation(t.Context(), by, *place, "a check piece was bought (invented)"))
	body := s.client().get("/sheet/" + s.sheet(by)).want(200).body
	for _, slot := range []string{"liquid.proof.air_g", "liquid.proof.liquid_g"} {
		if !strings.Contains(body, `value="`+slot+`"`) {
			t.Errorf("the sheet has no field for %s", slot)
		}
	}
}

// TestKeptSheetLeadsToItsRecord goes back to a sheet after its record was kept.
func TestKeptSheetLeadsToItsRecord(t *testing.T) {
	s := newBench(t)
	by := s.who("boss")
	id := s.sheet(by)
	kept := must[*record.Record](t)(s.desk.Conclude(t.Context(), by, id))
	if body := s.client().get("/sheet/" + id).want(200).body; !strings.Contains(body, "<title>"+kept.Number) {
		t.Errorf("the sheet's address does not lead to %s", kept.Number)
	}
}
