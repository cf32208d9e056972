package desk

import (
	"bytes"
	"database/sql"
	"errors"
	"image"
	"image/png"
	"strings"
	"testing"

	"wreath/internal/ledger"
	"wreath/internal/paper"
	"wreath/internal/people"
	"wreath/internal/record"
)

// reportable is the number of a signed record of an item that was bought, in a shop with an address.
func (w *world) reportable() string {
	w.t.Helper()
	w.ok(w.SetShop(w.t.Context(), w.boss(), "", "Invented Lane 1, Invented Town", "moved in"))
	i := must[Item](w.t)(w.EnterItem(w.t.Context(), w.boss(), Item{Description: "plain band", Condition: "worn, clean", Marks: "750", Claim: "750 yellow", ClaimBy: "seller"}))
	must[Item](w.t)(w.AddPhoto(w.t.Context(), w.boss(), i.ID, picture(w.t), "front"))
	return w.signedRecord(i.ID)
}

// signedRecord is the number of a record of an item, signed as the house asks.
func (w *world) signedRecord(item string) string {
	w.t.Helper()
	given := ringGiven(w.t)
	given.Item = item
	number := must[*record.Record](w.t)(w.Record(w.t.Context(), w.as("measure"), given)).Number
	w.sign("boss", number, people.Approved)
	return number
}

// withCustomer is the number of a record of an item that a customer sold.
func (w *world) withCustomer() string {
	w.t.Helper()
	number := w.reportable()
	f := must[*paper.Facts](w.t)(w.Paper(w.t.Context(), w.who["boss"], number))
	must[Deal](w.t)(w.Register(w.t.Context(), w.boss(), Deal{Kind: "buy", Items: []string{f.Item.ID}, Customer: w.customer(), Amount: "50", Currency: "EUR"}))
	return number
}

func TestReportIsIssuedUnderItsOwnNumber(t *testing.T) {
	w := openWorld(t)
	w.ok(w.SetLogo(t.Context(), w.boss(), picture(t)))
	number := w.reportable()
	f := must[*paper.Facts](t)(w.IssueReport(t.Context(), w.boss(), Issue{Record: number}))
	if f.Report.Number != "R-000001" || f.Number() != "R-000001" || f.Record.Number != number || f.Report.Name != "Boss Invented" || f.Logo == nil || f.Photo == nil {
		t.Errorf("issued %+v of %s", f.Report, f.Record.Number)
	}
	if len(f.Check()) > 0 {
		t.Errorf("missing: %+v", f.Check())
	}
	twin := must[string](t)(f.TwinHash())

	// What changes later changes nothing on it: it is printed as it was issued.
	w.ok(w.SetShop(t.Context(), w.boss(), "Renamed Invented Shop", "Invented Lane 2", ""))
	w.ok(w.SetLogo(t.Context(), w.boss(), nil))
	must[Item](t)(w.ChangeItem(t.Context(), w.boss(), Item{ID: f.Item.ID, Description: "plain band", Condition: "bent"}, ""))
	again := must[*paper.Facts](t)(w.Paper(t.Context(), w.who["boss"], "R-000001"))
	if got := must[string](t)(again.TwinHash()); got != twin || again.Item.Condition != "worn, clean" || again.Shop.Name != "Invented Shop" || again.Logo == nil {
		t.Errorf("printed again it says %+v of %+v", again.Shop, again.Item)
	}
	list := must[[]Report](t)(w.Reports(t.Context(), w.who["boss"], number))
	if len(list) != 1 || list[0].Twin != twin || list[0].SupersededBy != "" {
		t.Errorf("listed as %+v", list)
	}
	_, err := w.Verify(t.Context(), []string{w.o.Public}, nil, nil, nil)
	w.ok(err)
}

// TestReportAmended: a new report of the same record, and one of its correction, have numbers of their
// own, name the one before, and say what changed and why (ISO/IEC 17025:2017, 7.8.8).
func TestReportAmended(t *testing.T) {
	w := openWorld(t)
	number := w.reportable()
	first := must[*paper.Facts](t)(w.IssueReport(t.Context(), w.boss(), Issue{Record: number}))
	_, err := w.IssueReport(t.Context(), w.boss(), Issue{Record: number})
	saying(t, "a second report without a reason", err, "needs a reason")
	must[Item](t)(w.ChangeItem(t.Context(), w.boss(), Item{ID: first.Item.ID, Description: "plain band", Condition: "bent", Marks: "750"}, ""))
	second := must[*paper.Facts](t)(w.IssueReport(t.Context(), w.boss(), Issue{Record: number, Reason: "condition was wrong"}))
	if a := second.Report.Amends; a == nil || a.Number != "R-000001" || a.Reason != "condition was wrong" || !changed(a, "item.condition") || changed(a, "result.density_kg_m3") {
		t.Errorf("amends %+v", a)
	}
	old := must[*paper.Facts](t)(w.Paper(t.Context(), w.who["boss"], "R-000001"))
	if old.SupersededBy != "R-000002" {
		t.Errorf("the old one is superseded by %q", old.SupersededBy)
	}

	given := ringGiven(t)
	given.Item = first.Item.ID
	given.Document = []byte(strings.Replace(string(given.Document), "7.4218", "7.4318", 1))
	corrected := must[*record.Record](t)(w.Correct(t.Context(), w.as("second"), number, given, "misread")).Number
	stale := must[*paper.Facts](t)(w.Paper(t.Context(), w.who["boss"], "R-000002"))
	if stale.SupersededBy != corrected {
		t.Errorf("a report of a record that was corrected is superseded by %q, want %q", stale.SupersededBy, corrected)
	}
	_, err = w.IssueReport(t.Context(), w.boss(), Issue{Record: number, Reason: "again"})
	saying(t, "a report of the wrong record", err, "was superseded by "+corrected)
	w.sign("boss", corrected, people.Approved)
	third := must[*paper.Facts](t)(w.IssueReport(t.Context(), w.boss(), Issue{Record: corrected}))
	if a := third.Report.Amends; a == nil || a.Number != "R-000002" || a.Record != number || a.Reason != "misread" || !changed(a, "result.density_kg_m3") || !changed(a, "document.air_g[0]") {
		t.Errorf("amends %+v", a)
	}
}

func changed(a *paper.Amends, path string) bool {
	for _, c := range a.Changes {
		if c.Path == path {
			return true
		}
	}
	return false
}

// TestReportNeedsAllThatIsAsked: what is missing is said, with what to fill in, and nothing is kept.
func TestReportNeedsAllThatIsAsked(t *testing.T) {
	w := openWorld(t)
	number := w.recorded(w.as("measure"))
	before := w.all()
	_, err := w.IssueReport(t.Context(), w.boss(), Issue{Record: number})
	for _, words := range []string{"address of the shop", "condition of the item", "date on which the item came", "signature"} {
		saying(t, "a bare record", err, words)
	}
	var missing *paper.MissingError
	if !errors.As(err, &missing) || !strings.Contains(missing.Hint(), "Set the address of the shop.") {
		t.Errorf("%v", err)
	}
	if w.all() != before {
		t.Error("a refused report changed the store")
	}
	w.ok(w.SetShop(t.Context(), w.boss(), "", "Invented Lane 1", ""))
	w.sign("boss", number, people.Approved)
	later := morning.AddDate(4, 0, 0)
	_, err = w.IssueReport(t.Context(), w.boss(), Issue{Record: number, Condition: "worn", Received: &later})
	saying(t, "an item that came after it was weighed", err, "after its first reading")
	came := morning
	f := must[*paper.Facts](t)(w.IssueReport(t.Context(), w.boss(), Issue{Record: number, Condition: "worn", Received: &came}))
	if f.Description() == "" || f.Item.Condition != "worn" {
		t.Errorf("%+v", f.Item)
	}
}

// TestPaperNamesTheCustomerOnlyToWhoMay: personal data stand in no twin and not in the log, and a look
// at them is an entry.
func TestPaperNamesTheCustomerOnlyToWhoMay(t *testing.T) {
	w := openWorld(t)
	number := w.withCustomer()
	f := must[*paper.Facts](t)(w.IssueReport(t.Context(), w.boss(), Issue{Record: number}))
	if f.Person != nil || f.Customer.ID == "" {
		t.Fatalf("issued for %v, %+v", f.Person, f.Customer)
	}
	size := w.size()
	_, err := w.PaperWithCustomer(t.Context(), w.as("sign"), "R-000001")
	refused(t, "who may not see personal data", err)
	if w.size() != size {
		t.Error("a refused look is an entry")
	}
	named := must[*paper.Facts](t)(w.PaperWithCustomer(t.Context(), w.as("price"), "R-000001"))
	if named.Person == nil || named.Person.Name != somebody.Name {
		t.Fatalf("named %v", named.Person)
	}
	if e := lastEntry(t, w.Desk); e.Kind != "customer-seen" || e.Person != "price" || !strings.Contains(string(e.Body), "R-000001") {
		t.Errorf("the look is %s by %s: %s", e.Kind, e.Person, e.Body)
	}
	if must[string](t)(named.TwinHash()) != must[string](t)(f.TwinHash()) || strings.Contains(string(must[[]byte](t)(named.Twin())), "Quilla") {
		t.Error("the twin holds personal data")
	}
	w.ok(w.EraseCustomer(t.Context(), w.boss(), f.Customer.ID, "asked for"))
	_, err = w.PaperWithCustomer(t.Context(), w.as("price"), "R-000001")
	saying(t, "a customer who was erased", err, "erased")
	must[*paper.Facts](t)(w.Paper(t.Context(), w.who["price"], "R-000001"))
}

// TestVerifyMissesTheLogoOfAReport: the logo of an issued report stays, also when the shop has another now.
func TestVerifyMissesTheLogoOfAReport(t *testing.T) {
	w := openWorld(t)
	var drawn bytes.Buffer
	w.ok(png.Encode(&drawn, image.NewGray(image.Rect(0, 0, 8, 8))))
	w.ok(w.SetLogo(t.Context(), w.boss(), drawn.Bytes()))
	f := must[*paper.Facts](t)(w.IssueReport(t.Context(), w.boss(), Issue{Record: w.reportable()}))
	w.ok(w.SetLogo(t.Context(), w.boss(), nil))
	_, err := w.Verify(t.Context(), []string{w.o.Public}, nil, nil, nil)
	w.ok(err)
	raw := must[*sql.DB](t)(sql.Open("sqlite", w.path))
	defer raw.Close()
	must[sql.Result](t)(raw.ExecContext(t.Context(), `delete from attachment where hash = ?`, f.Shop.Logo))
	_, err = w.Verify(t.Context(), []string{w.o.Public}, nil, nil, nil)
	if broken, is := errors.AsType[*ledger.Broken](err); !is || !strings.Contains(broken.Reason, "R-000001") {
		t.Errorf("a logo is gone: %v", err)
	}
}

func TestLogoIsCleaned(t *testing.T) {
	w := openWorld(t)
	err := w.SetLogo(t.Context(), w.boss(), []byte("<svg onload='x'/>"))
	refused(t, "a drawing with a script", err)
	w.ok(w.SetLogo(t.Context(), w.boss(), picture(t)))
	if p := must[*paper.Picture](t)(w.Logo(t.Context(), w.who["measure"])); p.Width != 40 || p.Height != 30 || p.MediaType != "image/png" {
		t.Errorf("kept as %d × %d, %s", p.Width, p.Height, p.MediaType)
	}
	w.ok(w.SetLogo(t.Context(), w.boss(), nil))
	if p := must[*paper.Picture](t)(w.Logo(t.Context(), w.who["measure"])); p != nil {
		t.Error("the logo is still there")
	}
}
