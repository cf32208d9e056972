package batch

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"wreath/internal/determination"
	"wreath/uncertainty"
)

// run answers an input and returns what was written to out and to the messages.
func run(t testing.TB, input string, o Options) (out, messages string, sum Summary) {
	t.Helper()
	b, err := Open(strings.NewReader(input), "rows", o)
	if err != nil {
		t.Fatal(err)
	}
	var answers, said bytes.Buffer
	sum, err = b.Run(context.Background(), &answers, &said)
	if err != nil {
		t.Fatal(err)
	}
	return answers.String(), said.String(), sum
}

// cells parses the answers by an independent reader and returns the rows below the header.
func cells(t testing.TB, out string) [][]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatalf("%v in %q", err, out)
	}
	for _, r := range rows {
		if len(r) != len(outColumns) {
			t.Fatalf("%d cells, want %d: %q", len(r), len(outColumns), r)
		}
	}
	return rows[1:]
}

func at(t testing.TB, row []string, column string) string {
	t.Helper()
	for i, c := range outColumns {
		if c.name == column {
			return row[i]
		}
	}
	t.Fatalf("no column %q", column)
	return ""
}

const head = "id,claim.metal,claim.fineness,air_g,liquid_g,liquid.kind,liquid.temperature_c,balance.resolution_g\n"

func TestRows(t *testing.T) {
	// Invented rings; the densities follow from the two readings in water of 998 kg/m³.
	out, messages, sum := run(t, head+
		"a,gold,750,7.4218,6.9431 6.9428,water,21.4,0.0001\n"+
		"b,,,37.109 ct,34.7148 ct,water,21.4,0.0002\n\n"+
		"c,gold,585,2.0,2.1,water,21.4,0.001\n", Options{})
	rows := cells(t, out)
	if len(rows) != 3 || sum.Rows != 3 || sum.Failed != 1 || sum.Undecided != 1 || sum.NoClaim != 1 {
		t.Fatalf("rows %q, summary %v", rows, sum)
	}
	for i, id := range []string{"a", "b", "c"} {
		if rows[i][1] != id {
			t.Errorf("row %d is %q, want %s", i, rows[i][1], id)
		}
	}
	for _, row := range rows[:2] {
		var rho float64
		fmt.Sscan(at(t, row, "density_20c_kg_m3"), &rho)
		if math.Abs(rho-15450) > 30 { // 7.4218/0.4788 × 996.7 kg/m³, by hand
			t.Errorf("%s: density %v, want 15450 ± 30 kg/m³", row[1], rho)
		}
	}
	if got := at(t, rows[2], "error"); !strings.Contains(got, "liquid_g") || !strings.Contains(got, "swapped") {
		t.Errorf("error cell %q", got)
	}
	if rows[2][0] != "5" || !strings.HasPrefix(messages, "wreath: row 5: liquid_g: ") {
		t.Errorf("row number %s, message %q; the row stands on line 5", rows[2][0], messages)
	}
}

// TestOrder: the order is that of the rows, and the output the same, however many workers there
// are and however long each takes.
func TestOrder(t *testing.T) {
	var input strings.Builder
	input.WriteString("id,air_g\n")
	for i := range 1000 {
		fmt.Fprintf(&input, "r%d,1.5\n", i)
	}
	var first string
	for _, workers := range []int{1, 2, 7} {
		b, err := Open(strings.NewReader(input.String()), "rows", Options{Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		b.evaluate = func(d *determination.Draft, _ determination.Options) (*determination.Answer, error) {
			time.Sleep(time.Duration(rand.IntN(300)) * time.Microsecond)
			return &determination.Answer{ID: d.ID, Density20C: determination.Density{KgM3: 1, UExpanded: 1}}, nil
		}
		var out, said bytes.Buffer
		if _, err := b.Run(context.Background(), &out, &said); err != nil {
			t.Fatal(err)
		}
		for i, row := range cells(t, out.String()) {
			if want := fmt.Sprintf("r%d", i); row[1] != want {
				t.Fatalf("%d workers: row %d is %s, want %s", workers, i, row[1], want)
			}
		}
		if first == "" {
			first = out.String()
		}
		if out.String() != first {
			t.Errorf("%d workers: output differs from that of one", workers)
		}
	}
}

func TestBase(t *testing.T) {
	resolution, celsius := 0.001, 22.0
	base := &determination.Draft{
		HouseRule: "first-look", Liquid: &determination.Liquid{Kind: "water", TemperatureC: &celsius},
		Balance: &determination.Balance{ResolutionG: &resolution},
	}
	own, _, _ := run(t, "id,claim.metal,claim.fineness,air_g,liquid_g,liquid.temperature_c,house_rule\na,gold,750,7.422,6.943,21.4,\nb,gold,750,7.422,6.943,21.4,strict\n", Options{Base: base, Format: JSONL, Details: true})
	var a, b determination.Answer
	lines := strings.Split(strings.TrimSpace(own), "\n")
	if err := errors.Join(json.Unmarshal([]byte(lines[0]), &a), json.Unmarshal([]byte(lines[1]), &b)); err != nil {
		t.Fatal(err)
	}
	if a.Density.TemperatureC != 21.4 {
		t.Errorf("temperature %v, the row's own is 21.4", a.Density.TemperatureC)
	}
	if !strings.Contains(a.Finding.Rule, "first look") || !strings.Contains(b.Finding.Rule, "strict") {
		t.Errorf("rules %q and %q, want the base's and the row's own", a.Finding.Rule, b.Finding.Rule)
	}
	if *base.Liquid.TemperatureC != 22 {
		t.Error("the base was changed")
	}
}

func TestWholeFilesThatCannotBeRead(t *testing.T) {
	for _, c := range []struct{ name, in, reason, hint string }{
		{"empty", "", "empty", "CSV"},
		{"blank", "\n \n", "empty", "CSV"},
		{"header only", "id,air_g\n", "no rows", "below"},
		{"unknown column", "id,airg,liquid_g\n1,2,3\n", "airg", "air_g"},
		{"unknown column in a group", "id,liquid.temprature_c\n1,2\n", "liquid.temprature_c", "liquid.temperature_c"},
		{"column twice", "id,claim.metal,claim.metal\n1,gold,gold\n", "twice", "one"},
		{"group as column", "id,liquid\n1,water\n", "group", "liquid.kind"},
		{"UTF-16", "\xff\xfei\x00d\x00", "UTF-16", "UTF-8"},
		{"Latin-1", "id,note\n1,caf\xe9\n", "UTF-8", "UTF-8"},
		{"spreadsheet", "PK\x03\x04rest", "spreadsheet", "CSV"},
		{"zero bytes", "id,air_g\n1,\x00\n", "zero", "UTF-8"},
		{"JSON list", "[{\"air_g\": 1}]", "list", "each line"},
	} {
		_, err := Open(strings.NewReader(c.in), "rows.csv", Options{})
		var in *determination.InputError
		if !errors.As(err, &in) || in.Path != "rows.csv" || !strings.Contains(in.Reason, c.reason) || !strings.Contains(in.Hint, c.hint) {
			t.Errorf("%s: %v (%+v), want …%s…; …%s…", c.name, err, in, c.reason, c.hint)
		}
	}
}

// TestBadRows: each bad row is said in one line, and the good row after it is answered.
func TestBadRows(t *testing.T) {
	const good = "good,gold,750,7.4218,6.9431,water,21.4,0.0001\n"
	for _, c := range []struct{ name, row, field, reason string }{
		{"too many cells", "x,gold,750,7.4218,6.9431,water,21.4,0.0001,9\n", "", "names 8 columns"},
		{"too few cells", "x,gold,750,7.4218\n", "liquid_g", "names 8 columns"},
		{"decimal comma", "x,gold,750,7,4218,6,9431,water,21,4,0,0001\n", "", "decimal comma"},
		{"quoted decimal comma", "x,gold,750,\"7,4218\",6.9431,water,21.4,0.0001\n", "air_g", "decimal comma"},
		{"text", "x,gold,750,seven,6.9431,water,21.4,0.0001\n", "air_g", "not a number"},
		{"NaN", "x,gold,750,NaN,6.9431,water,21.4,0.0001\n", "air_g", "not a number"},
		{"Inf", "x,gold,750,7.4218,Inf,water,21.4,0.0001\n", "liquid_g", "not a number"},
		{"unknown unit", "x,gold,750,7.4218 lb,6.9431,water,21.4,0.0001\n", "air_g", "unknown unit"},
		{"blank for thousands", "x,gold,750,1 234.5,6.9431,water,21.4,0.0001\n", "air_g", "thousands"},
		{"unit on one of two", "x,gold,750,37.1 ct 7.4218,6.9431,water,21.4,0.0001\n", "air_g", "with a unit and readings without"},
		{"word for a flag", "x,gold,750,7.4218,6.9431,water,warm,0.0001\n", "liquid.temperature_c", "not a number"},
		{"stray quote", "x,gold,750,7.4\"218,6.9431,water,21.4,0.0001\n", "air_g", "quotation mark"},
		{"open quote", "x,\"gold,750,7.4218,6.9431,water,21.4,0.0001\n", "claim.metal", "never closed"},
		{"carat for fineness", "x,gold,18,7.4218,6.9431,water,21.4,0.0001\n", "claim.fineness", "carat"},
		{"beyond the formula", "x,gold,750,7.4218,6.9431,water,60,0.0001\n", "liquid.temperature_c", "outside 0 to 40"},
		{"Latin-1", "caf\xe9,gold,750,7.4218,6.9431,water,21.4,0.0001\n", "", "UTF-8"},
		{"too long", strings.Repeat("x", 1<<20) + "\n", "", "1 MiB"},
	} {
		b, err := Open(strings.NewReader(head+good+c.row+good), "rows", Options{})
		if err != nil {
			// The whole beginning is looked at, so a wrong encoding is seen before the first row.
			if !strings.Contains(err.Error(), c.reason) {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		var out, said bytes.Buffer
		sum, err := b.Run(context.Background(), &out, &said)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		rows := cells(t, out.String())
		if sum.Rows != 3 || sum.Failed != 1 || at(t, rows[0], "error") != "" || at(t, rows[2], "error") != "" {
			t.Errorf("%s: summary %v, want one of three to fail: %q", c.name, sum, rows)
			continue
		}
		message := said.String()
		if !strings.HasPrefix(message, "wreath: row 3: "+c.field) || !strings.Contains(message, c.reason) || strings.Count(message, "\n") != 1 || !strings.Contains(message, "; ") {
			t.Errorf("%s: said %q, want …%s… …%s…; and a way out", c.name, message, c.field, c.reason)
		}
	}
}

// TestLostQuoteCostsOneRow: a quotation mark that is opened and forgotten takes no later row with
// it, whatever marks those hold, and the row keeps its id.
func TestLostQuoteCostsOneRow(t *testing.T) {
	const good, quoted = "good,gold,750,7.4218,6.9431,water,21.4,0.0001\n", "\"good\",\"gold\",750,7.4218,6.9431,water,21.4,0.0001\n"
	out, said, sum := run(t, head+good+"x,\"gold,750,7.4218,6.9431,water,21.4,0.0001\n"+good+quoted+good, Options{})
	if sum.Rows != 5 || sum.Failed != 1 || !strings.HasPrefix(said, "wreath: row 3: claim.metal: its quotation mark is not closed on this line") {
		t.Errorf("%v, said %q, want row 3 alone to fail", sum, said)
	}
	for i, row := range cells(t, out) {
		if want := []string{"good", "x", "good", "good", "good"}[i]; row[1] != want {
			t.Errorf("answer %d is that of %q, want %q", i+1, row[1], want)
		}
	}
}

func TestOtherWaysToWriteTables(t *testing.T) {
	want, _, _ := run(t, "id,air_g,liquid_g,liquid.kind\na,7.4218,6.9431 6.9428,water\n", Options{})
	for name, in := range map[string]string{
		"semicolon and comma":  "id;air_g;liquid_g;liquid.kind\na;7,4218;6,9431 6,9428;water\n",
		"tab":                  "id\tair_g\tliquid_g\tliquid.kind\na\t7.4218\t6.9431 6.9428\twater\n",
		"byte order mark":      "\xef\xbb\xbfid,air_g,liquid_g,liquid.kind\na,7.4218,6.9431 6.9428,water\n",
		"CR LF":                "id,air_g,liquid_g,liquid.kind\r\na,7.4218,6.9431 6.9428,water\r\n",
		"repeated column":      "id,air_g,liquid_g,liquid_g,liquid.kind\na,7.4218,6.9431,6.9428,water\n",
		"quotes":               "\"id\",\"air_g\",\"liquid_g\",\"liquid.kind\"\n\"a\",\"7.4218\",\"6.9431 6.9428\",\"water\"\n",
		"no line end":          "id,air_g,liquid_g,liquid.kind\na,7.4218,6.9431 6.9428,water",
		"blanks around":        "id, air_g, liquid_g, liquid.kind\na, 7.4218, 6.9431 6.9428, water\n",
		"JSON Lines":           `{"id": "a", "air_g": 7.4218, "liquid_g": [6.9431, 6.9428], "liquid": {"kind": "water"}}` + "\n",
		"JSON Lines and blank": "\n" + `{"id": "a", "air_g": 7.4218, "liquid_g": [6.9431, 6.9428], "liquid": {"kind": "water"}}`,
	} {
		got, _, _ := run(t, in, Options{Format: CSV})
		a, b := cells(t, want)[0], cells(t, got)[0]
		if fmt.Sprint(a[1:]) != fmt.Sprint(b[1:]) {
			t.Errorf("%s:\n%q, want\n%q", name, b, a)
		}
	}
}

func TestTextIsHarmless(t *testing.T) {
	out, messages, _ := run(t, "id,air_g,liquid_g,liquid.kind\n=HYPERLINK(1),7.4218,6.9431,water\n\"a\x1b[31m\",x,6,water\n-5,7.4218,6.9431,water\n", Options{})
	rows := cells(t, out)
	if got := rows[0][1]; got != "'=HYPERLINK(1)" {
		t.Errorf("a formula is written as %q", got)
	}
	if got := rows[2][1]; got != "-5" {
		t.Errorf("the number -5 is written as %q", got)
	}
	if strings.Contains(messages, "\x1b") {
		t.Errorf("a control character reaches the terminal: %q", messages)
	}
}

// TestIntervalsAgree: where a batch leaves the propagation out or makes it with few points, the
// interval of 200 random drafts is that of a full one within the tolerance of JCGM 101:2008 7.9.2
// for one significant digit of u: half of that digit.
func TestIntervalsAgree(t *testing.T) {
	const seed = 7
	r := rand.New(rand.NewPCG(seed, seed))
	compared, left := 0, 0
	for compared < 200 {
		d := randomDraft(r)
		quick, err := determination.Evaluate(d, determination.Options{MonteCarlo: determination.WhereNeeded})
		if err != nil {
			continue // too small an item for its balance
		}
		full, err := determination.Evaluate(d, determination.Options{MonteCarlo: determination.Always})
		if err != nil {
			t.Fatal(err)
		}
		compared++
		if quick.MonteCarlo == nil {
			left++
		}
		a, b := quick.Density20C, full.Density20C
		if (a.HighKgM3 == nil) != (b.HighKgM3 == nil) {
			t.Errorf("%v: one interval has an upper end, the other has none: %v, %v", d.AirG, a, b)
			continue
		}
		// What is propagated is the specific volume, so the tolerance is that of its u.
		v := func(rho float64) float64 { return 1000 / rho }
		tolerance := uncertainty.Tolerance(v(a.KgM3)*a.UKgM3/a.KgM3, 1)
		if math.Abs(v(a.LowKgM3)-v(b.LowKgM3)) > tolerance || a.HighKgM3 != nil && math.Abs(v(*a.HighKgM3)-v(*b.HighKgM3)) > tolerance {
			t.Errorf("%v: interval %v, in full %v, tolerance %g cm³/g", d.AirG, a, b, tolerance)
		}
	}
	if left == 0 || left == compared {
		t.Errorf("%d of %d drafts were answered without propagation; both ways must be met", left, compared)
	}
}

// randomDraft returns an invented item of 10 to 19 g/cm³ and 1 to 150 g on a balance of 0.1 to
// 10 mg, in half of the cases one whose repeatability is known.
func randomDraft(r *rand.Rand) *determination.Draft {
	rho, mass, interval := 10+9*r.Float64(), math.Exp(5*r.Float64()), math.Pow10(-2-r.IntN(3))
	reading := func(gram float64) determination.Reading {
		return determination.Reading{Gram: (math.Round(gram/interval) + float64(r.IntN(3)-1)) * interval}
	}
	d := &determination.Draft{Liquid: &determination.Liquid{Kind: "water"}, Balance: &determination.Balance{ResolutionG: &interval}}
	for range 1 + r.IntN(4) {
		d.AirG = append(d.AirG, reading(mass))
		d.LiquidG = append(d.LiquidG, reading(mass*(1-0.997/rho)))
	}
	if r.IntN(2) == 0 {
		celsius, u := 20.0, 0.1
		d.Balance.RepeatabilityG, d.Liquid.TemperatureC, d.Liquid.TemperatureUC = &interval, &celsius, &u
	}
	return d
}
