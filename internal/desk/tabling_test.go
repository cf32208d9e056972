package desk

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	osexec "os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
	"wreath/internal/tables"
	"wreath/internal/value"
)

// grid is a table, each row by the names of its columns.
func grid(t testing.TB, table tables.Table, err error) (rows []map[string]string) {
	t.Helper()
	if err != nil {
		t.Fatalf("%v: %s", err, hintOf(err))
	}
	keys, headings := map[string]bool{}, map[string]bool{}
	for _, c := range table.Columns {
		if keys[c.Key] || headings[c.Heading()] || c.Key == "" || c.Name == "" {
			t.Errorf("the table %s has the column %q, %q twice or without a name", table.Name, c.Key, c.Heading())
		}
		keys[c.Key], headings[c.Heading()] = true, true
	}
	var out bytes.Buffer
	if err := tables.Write(&out, tables.JSONL, table); err != nil {
		t.Fatal(err)
	}
	dec := json.NewDecoder(&out)
	dec.UseNumber()
	for dec.More() {
		var row map[string]any
		if err := dec.Decode(&row); err != nil {
			t.Fatal(err)
		}
		texts := map[string]string{}
		for k, v := range row {
			texts[k] = fmt.Sprint(v)
		}
		rows = append(rows, texts)
	}
	// A workbook takes it as well.
	if err := tables.Write(&out, tables.XLSX, table); err != nil {
		t.Error(err)
	}
	return rows
}

// TestDayBookTable holds the table against the search that it shows, over several pages.
func TestDayBookTable(t *testing.T) {
	w := stocked(t)
	found := must[[]store.Determination](t)(w.Find(t.Context(), w.who["boss"], store.Query{}))
	table, err := w.DayBookTable(t.Context(), w.who["boss"], store.Query{})
	rows := grid(t, table, err)
	if len(rows) != len(found) || len(rows) < 2 {
		t.Fatalf("%d rows, %d found", len(rows), len(found))
	}
	for i, d := range found {
		if r := rows[i]; r["number"] != d.Number || r["at"] != d.At.Format("2006-01-02T15:04:05Z") || r["state"] != d.State || r["superseded_by"] != d.SupersededBy || r["entry"] != fmt.Sprint(d.Seq) || r["finding"] != d.Finding {
			t.Errorf("%+v became %v", d, r)
		}
		density, err := json.Number(rows[i]["density_kg_m3"]).Float64()
		if err != nil || density < d.DensityKgM3*(1-1e-14) || density > d.DensityKgM3*(1+1e-14) {
			t.Errorf("a density of %v became %v", d.DensityKgM3, rows[i]["density_kg_m3"])
		}
	}
	table, err = w.DayBookTable(t.Context(), w.who["boss"], store.Query{State: "superseded"})
	if rows := grid(t, table, err); len(rows) != 1 || rows[0]["superseded_by"] == "" {
		t.Errorf("the superseded: %v", rows)
	}
}

// TestLotTable holds the lines of a lot against its value: items, sums of the metals, money, payout.
func TestLotTable(t *testing.T) {
	w := stocked(t)
	lots := must[[]LotRow](t)(w.Lots(t.Context(), w.who["boss"]))
	lot := lots[0].Lot
	table, err := w.LotTable(t.Context(), w.who["boss"], w.lot)
	rows := grid(t, table, err)
	of := func(line string) (out []map[string]string) {
		for _, r := range rows {
			if r["line"] == line {
				out = append(out, r)
			}
		}
		return out
	}
	if items := of("item"); len(items) != len(lot.Items) || items[0]["metal_g"] != lot.Items[0].MetalG.String() || items[0]["safe_ppt"] != lot.Items[0].Fineness.String() {
		t.Errorf("items %v, want %+v", items, lot.Items)
	}
	if metals := of("metal"); len(metals) != len(lot.Metals) || metals[0]["safe_fine_g"] != lot.Metals[0].SafeG.String() || metals[0]["items"] != "1" || metals[0]["U_fine_g"] == "" {
		t.Errorf("metals %v, want %+v", metals, lot.Metals)
	}
	var money []string
	for _, r := range of("money") {
		money = append(money, r["what"]+" "+r["result"]+" "+r["unit"])
	}
	var want []string
	for _, l := range lot.Money {
		want = append(want, l.What+" "+l.Result.String()+" "+l.Unit)
	}
	if !slices.Equal(money, want) || len(want) == 0 {
		t.Errorf("money %q, want %q", money, want)
	}
	if p := of("payout"); len(p) != 1 || lot.Payout == nil || p[0]["result"] != lot.Payout.String() || p[0]["unit"] != "EUR" {
		t.Errorf("payout %v, want %v", p, lot.Payout)
	}
	_, err = w.LotTable(t.Context(), w.who["boss"], "l-none")
	refused(t, "a lot that isn't there", err)
}

// TestRegisterTable shows customers by the name of the log, and opens their data only for who may see them
// and gives a reason.
func TestRegisterTable(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	kept, gone := w.customer(), w.customer()
	enter := func(customer, amount string) Deal {
		return must[Deal](t)(w.Register(ctx, w.boss(), Deal{Kind: "buy", Items: []string{w.item().ID}, Customer: customer, Amount: amount, Currency: "EUR"}))
	}
	first, second := enter(kept, "1250.50"), enter(gone, "0.10")
	enter(kept, "3")
	w.ok(w.VoidDeal(ctx, w.boss(), second.Number, "=came to nothing"))
	w.ok(w.EraseCustomer(ctx, w.boss(), gone, "asked for"))
	before := w.size()
	table, err := w.RegisterTable(ctx, w.who["price"], time.Time{}, time.Time{}, "")
	rows := grid(t, table, err)
	if len(rows) != 3 || rows[0]["number"] != first.Number || rows[0]["amount"] != "1250.50" || rows[0]["customer"] != kept || rows[1]["state"] != "void" || rows[1]["void"] != "=came to nothing" {
		t.Errorf("%v", rows)
	}
	if text := fmt.Sprint(rows, table.Columns); strings.Contains(text, somebody.Name) || strings.Contains(text, "identity") {
		t.Errorf("personal data without being asked for: %s", text)
	}
	if w.size() != before {
		t.Error("the register without personal data left an entry")
	}
	table, err = w.RegisterTable(ctx, w.who["price"], time.Time{}, time.Time{}, "inspection of 3 December")
	rows = grid(t, table, err)
	if rows[0]["name"] != somebody.Name || rows[0]["document_number"] != somebody.Identity.Number || rows[0]["personal_data"] != "opened" || rows[2]["name"] != somebody.Name {
		t.Errorf("%v", rows)
	}
	if rows[1]["name"] != "" || !strings.HasPrefix(rows[1]["personal_data"], "erased on 2026-") {
		t.Errorf("a customer who was erased: %v", rows[1])
	}
	// One look a customer, with the reason.
	if e := lastEntry(t, w.Desk); w.size() != before+1 || e.Kind != "customer-seen" || e.Subject != kept || e.Person != "price" || !strings.Contains(string(e.Body), "inspection of 3 December") {
		t.Errorf("%d entries, the last %+v", w.size()-before, e)
	}
	// Who may see the register and no personal data.
	before = w.size()
	_, err = w.RegisterTable(ctx, w.who["audit"], time.Time{}, time.Time{}, "curious")
	refused(t, "an auditor who asks for personal data", err)
	if w.size() != before {
		t.Error("who was refused left an entry")
	}
	table, err = w.RegisterTable(ctx, w.who["audit"], time.Time{}, time.Time{}, "")
	grid(t, table, err)
	for _, span := range []struct {
		from, until time.Time
		want        int
	}{{morning, morning.AddDate(0, 0, 1), 3}, {morning.AddDate(0, 0, 1), time.Time{}, 0}, {time.Time{}, morning, 0}} {
		table, err := w.RegisterTable(ctx, w.who["price"], span.from, span.until, "")
		if rows := grid(t, table, err); len(rows) != span.want {
			t.Errorf("%d deals from %s until %s, want %d", len(rows), span.from, span.until, span.want)
		}
	}
}

// TestHistoryTable shows what is known of an instrument and of a station.
func TestHistoryTable(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	number := must[*record.Record](t)(w.Conclude(ctx, w.boss(), w.sheet())).Number
	must[any](t)(one(w.TakeOutOfService(ctx, w.boss(), "B-1", "dropped")))
	for _, name := range []string{"B-1", "S-1", "K-1", "T-1"} {
		table, err := w.HistoryTable(ctx, w.who["instruments"], name)
		rows := grid(t, table, err)
		kinds := map[string]int{}
		for _, r := range rows {
			kinds[r["what"]]++
			if r["what"] == "check piece" && (r["record"] != number || r["check_air_g"] != "39.6500 g" || r["check_liquid_g"] != "34.6655 g" || r["liquid_density_kg_m3"] == "" || r["remark"] == "") {
				t.Errorf("%s: %v", name, r)
			}
			if r["what"] == "calibration point" && (r["certificate"] == "" || r["unit"] == "" || r["k"] == "" || r["day"] == "") {
				t.Errorf("%s: %v", name, r)
			}
		}
		if kinds["check piece"] != 1 || kinds["version"] == 0 {
			t.Errorf("%s: %v", name, kinds)
		}
		if name == "B-1" && (kinds["version"] != 2 || kinds["change"] == 0 || kinds["certificate"] != 1 || kinds["acceptance"] != 1) {
			t.Errorf("%s: %v", name, kinds)
		}
	}
	table, err := w.HistoryTable(ctx, w.who["instruments"], "T-1")
	points := slices.DeleteFunc(grid(t, table, err), func(r map[string]string) bool { return r["what"] != "calibration point" })
	if len(points) != 2 || points[1]["shown"] != "25" || points[1]["correction"] != "-0.1" || points[1]["unit"] != "degC" || points[1]["next_due"] != "2027-06-01" {
		t.Errorf("calibration points %v", points)
	}
	_, err = w.HistoryTable(ctx, w.who["instruments"], "none")
	refused(t, "an instrument that isn't there", err)
}

// TestItemsTable shows an item with the newest record that stands.
func TestItemsTable(t *testing.T) {
	w := stocked(t)
	ctx := t.Context()
	done := must[*Imported](t)(w.ImportItems(ctx, w.boss(), bars))
	must[Item](t)(w.MoveItem(ctx, w.boss(), done.Items[0], "", "returned", "taken home", nil))
	table, err := w.ItemsTable(ctx, w.who["audit"])
	rows := grid(t, table, err)
	at := slices.IndexFunc(rows, func(r map[string]string) bool { return r["id"] == done.Items[0] })
	if len(rows) < 4 || at < 0 {
		t.Fatalf("%v", rows)
	}
	if r := rows[at]; r["gone"] != "returned" || r["declared_serial"] != "A 1001" || r["declared_mass"] != "100.00" || r["declared_mass_unit"] != "g" || r["claim_by"] != DeclaredByList || r["list"] != done.ID || r["list_row"] != "2" {
		t.Errorf("%v", r)
	}
	if claims := string(w.claims()); strings.Contains(claims, "A 1001") || !strings.Contains(claims, "A 1002") {
		t.Errorf("an item that left is claimed still:\n%s", claims)
	}
}

// TestPrintsTable shows what was to be printed.
func TestPrintsTable(t *testing.T) {
	w := stocked(t)
	table, err := w.PrintsTable(t.Context(), w.who["boss"])
	if rows := grid(t, table, err); len(rows) != 1 || rows[0]["asked_by"] == "" || rows[0]["state"] == "" || rows[0]["printer"] == "" {
		t.Errorf("%v", rows)
	}
}

// TestEvidenceOfAPeriod gives out the entries of a span, each proved, to whom who may see them; who has
// nothing but Python verifies them.
func TestEvidenceOfAPeriod(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	earlier := w.recorded(w.boss())
	w.clock.move(24 * time.Hour)
	begin := w.clock.now()
	for id := range w.who { // sessions of the day before ended
		if id == "gone" {
			continue
		}
		_, who, err := w.SignIn(ctx, id, password, counterPlace)
		w.ok(err)
		w.who[id] = who
	}
	w.ok(w.SetPrices(ctx, w.boss(), []value.Price{goldPrice("81")}))
	w.bought(w.item().ID)
	id := w.customer()
	_, err := one(w.SeeCustomer(ctx, w.boss(), id, "collects the ring"))
	w.ok(err)
	inside := w.recorded(w.boss())
	w.clock.move(time.Hour)
	end := w.clock.now()
	later := w.recorded(w.boss())

	kinds := func(who string, from, until time.Time) (out []string, b *ledger.Bundle, left int) {
		b, left, err := w.EvidenceOf(ctx, w.who[who], from, until)
		w.ok(err)
		_, entries, err := b.Verify(w.o.Public)
		w.ok(err)
		for _, e := range entries {
			out = append(out, e.Kind)
			if e.Time.Before(from) || !e.Time.Before(until) {
				t.Errorf("the entry %d is of %s", e.Seq, e.Time)
			}
		}
		return out, b, left
	}
	all, b, left := kinds("boss", begin, end)
	if want := []string{"prices-set", "item-entered", "deal-registered", "customer-entered", "determination-recorded"}; !slices.Equal(all, want) || left == 0 {
		t.Errorf("boss hands out %q and leaves out %d", all, left)
	}
	some, _, more := kinds("sign", begin, end)
	if want := []string{"item-entered", "customer-entered", "determination-recorded"}; !slices.Equal(some, want) || more != left+2 {
		t.Errorf("who signs hands out %q and leaves out %d", some, more)
	}
	text, err := json.Marshal(b)
	w.ok(err)
	if s := string(text); !strings.Contains(s, inside) || strings.Contains(s, earlier) || strings.Contains(s, later) || strings.Contains(s, somebody.Name) {
		t.Errorf("the bundle holds what is not of the period")
	}
	_, _, err = w.EvidenceOf(ctx, w.who["boss"], end.AddDate(1, 0, 0), end.AddDate(2, 0, 0))
	refused(t, "a period without entries", err)
	_, _, err = w.EvidenceOf(ctx, w.who["boss"], end, begin)
	refused(t, "a period that ends before it begins", err)
	if !people.May([]people.Role{people.Sign}, people.ExportEvidence) {
		t.Error("who signs may hand out no evidence")
	}

	script, err := filepath.Abs("../../doc/verify.py")
	w.ok(err)
	check := func(text []byte) (string, error) {
		file := filepath.Join(t.TempDir(), "evidence.json")
		w.ok(os.WriteFile(file, text, 0o600))
		out, err := osexec.CommandContext(ctx, "python3", script, "bundle", file, w.o.Public).CombinedOutput()
		return string(out), err
	}
	if out, err := check(text); err != nil || !strings.Contains(out, "OK: 5 entries") {
		t.Errorf("verify.py says %s (%v)", out, err)
	}
	if out, err := check(bytes.Replace(text, []byte("plain band"), []byte("p1ain band"), 1)); err == nil {
		t.Errorf("verify.py takes a forged bundle: %s", out)
	}
}
