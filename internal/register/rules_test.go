package register

import (
	"encoding/json"
	"errors"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"wreath/internal/strictjson"
	"wreath/internal/vault"
)

func example(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile("../../examples/house/register-rules.json")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// nowhere is the book of the invented example.
func nowhere(t testing.TB) *Book {
	t.Helper()
	r, err := Decode(example(t))
	if err != nil {
		t.Fatal(err)
	}
	return book(t, r)
}

func book(t testing.TB, r Rules) *Book {
	t.Helper()
	b, err := New(r)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestExample(t *testing.T) {
	r, err := Decode(example(t))
	if err != nil {
		t.Fatal(err)
	}
	if found := Lint(r); len(found) != 0 {
		t.Errorf("the example has findings: %v", found)
	}
	if !strings.Contains(r.Name, "invented") {
		t.Error("the example does not say that it is invented")
	}
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	back, err := Decode(text)
	if err != nil || !reflect.DeepEqual(r, back) {
		t.Errorf("rules read back otherwise: %v", err)
	}
}

func TestEditionsChangeAtMidnight(t *testing.T) {
	b := nowhere(t)
	for when, want := range map[string]string{
		"2025-12-31T22:59:59Z": "", // 23:59:59 in Vienna
		"2025-12-31T23:00:00Z": "Nowhere 2026",
		"2027-07-09T21:59:59Z": "Nowhere 2026",
		"2027-07-09T22:00:00Z": "Nowhere 2027",
		"2099-01-01T00:00:00Z": "Nowhere 2027",
	} {
		e, ok := b.At(at(t, when))
		if e.Edition != want || ok != (want != "") {
			t.Errorf("at %s: edition %q, want %q", when, e.Edition, want)
		}
	}
}

func TestWithoutRules(t *testing.T) {
	b := book(t, None("Europe/Vienna"))
	now := at(t, "2026-11-26T10:00:00Z")
	for _, kind := range Kinds {
		asked, err := b.Ask(Deal{Kind: kind, At: now, Amount: "999999", Currency: "EUR", Cash: "999999"}, nil)
		if err != nil || len(asked.Fields)+len(asked.Because)+len(asked.Unclear) > 0 {
			t.Errorf("%s: %+v, %v, want nothing asked", kind, asked, err)
		}
		if unclear, err := b.CashAllowed(Deal{Kind: kind, At: now, Amount: "999999", Currency: "EUR", Cash: "999999"}, nil); err != nil || len(unclear) > 0 {
			t.Errorf("%s: cash: %v, %v", kind, unclear, err)
		}
		for _, action := range Actions {
			if err := b.May(action, Item{Deal: kind, At: now}, now, nil); err != nil {
				t.Errorf("%s: %v", kind, err)
			}
		}
	}
	d, err := b.Erasable("personal-data", []Kept{{Item: Item{Deal: "buy", At: now}}}, now)
	if err != nil || !d.Allowed {
		t.Errorf("erasure: %+v, %v", d, err)
	}
	number, c, err := b.Next(Counter{}, now)
	if number != "00001" || c.Last != 1 || err != nil {
		t.Errorf("first number %q, %v", number, err)
	}
}

// What a rule asks for must be what the vault keeps.
func TestFieldsAreThoseOfTheVault(t *testing.T) {
	if !reflect.DeepEqual(Personal, vault.Fields) {
		t.Errorf("rules ask %v, the vault has %v", Personal, vault.Fields)
	}
}

// edition is a whole document with one edition; extra goes into it.
func edition(extra string) string {
	return `{"format": 1, "name": "n", "time_zone": "UTC", "editions": [{"edition": "e", "source": "s", "valid_from": "2026-01-01"` + extra + `}]}`
}

func two(first, second string) string {
	return `{"format": 1, "name": "n", "time_zone": "UTC", "editions": [
		{"edition": "a", "source": "s", "valid_from": "2026-01-01"` + first + `}, {"edition": "b", "source": "s", "valid_from": "2027-01-01"` + second + `}]}`
}

func TestDecodeRefuses(t *testing.T) {
	const rule = `"name": "r", "deals": ["buy"]`
	for _, c := range []struct{ name, in, path, reason, hint string }{
		{"no format", `{"name": "n", "time_zone": "UTC"}`, "format", "is 0", "format 1"},
		{"unknown field", `{"formt": 1}`, "formt", "no such field", "format"},
		{"no name", `{"format": 1, "time_zone": "UTC"}`, "name", "missing", ""},
		{"no zone", `{"format": 1, "name": "n"}`, "time_zone", "not a known", "IANA"},
		{"zone of the machine", `{"format": 1, "name": "n", "time_zone": "Local"}`, "time_zone", "not a known", "IANA"},
		{"invented zone", `{"format": 1, "name": "n", "time_zone": "Europe/Nowhere"}`, "time_zone", "not a known", "IANA"},
		{"zone by path", `{"format": 1, "name": "n", "time_zone": "../../etc/passwd"}`, "time_zone", "not a known", "IANA"},
		{"no such day", edition(`, "valid_until": "2026-02-29"`), "editions[0].valid_until", "not a day", "hyphens"},
		{"day as number", edition(`, "valid_until": 2027`), "editions[0].valid_until", "a day is meant", "quotes"},
		{"no source", `{"format": 1, "name": "n", "time_zone": "UTC", "editions": [{"edition": "e", "valid_from": "2026-01-01"}]}`, "editions[0].source", "missing", ""},
		{"no first day", `{"format": 1, "name": "n", "time_zone": "UTC", "editions": [{"edition": "e", "source": "s"}]}`, "editions[0].valid_from", "missing", ""},
		{"backwards", edition(`, "valid_until": "2025-12-31"`), "editions[0].valid_until", "before", ""},
		{"overlap, open end", two("", ""), "editions[1].valid_from", `edition "a" holds too`, "2026-12-31"},
		{"overlap by a day", two(`, "valid_until": "2027-01-01"`, ""), "editions[1].valid_from", `edition "a" holds too`, "2026-12-31"},
		{"negative days", edition(`, "holds": [{` + rule + `, "for": {"days": -1}}]`), "editions[0].holds[0].for.days", "negative", ""},
		{"no length", edition(`, "holds": [{` + rule + `}]`), "editions[0].holds[0].for", "0 lengths", "days"},
		{"two lengths", edition(`, "holds": [{` + rule + `, "for": {"days": 1, "months": 1}}]`), "editions[0].holds[0].for", "2 lengths", "days"},
		{"too long", edition(`, "holds": [{` + rule + `, "for": {"years": 101}}]`), "editions[0].holds[0].for.years", "hundred", ""},
		{"no deals", edition(`, "holds": [{"name": "r", "for": {"days": 1}}]`), "editions[0].holds[0].deals", "missing", "pledge"},
		{"unknown deal", edition(`, "holds": [{"name": "r", "deals": ["pledg"], "for": {"days": 1}}]`), "editions[0].holds[0].deals[0]", "not known", "pledge"},
		{"deal twice", edition(`, "holds": [{"name": "r", "deals": ["buy", "buy"], "for": {"days": 1}}]`), "editions[0].holds[0].deals[1]", "twice", ""},
		{"unknown action", edition(`, "holds": [{` + rule + `, "for": {"days": 1}, "forbids": ["eat"]}]`), "editions[0].holds[0].forbids[0]", "not known", "melt"},
		{"unknown end", edition(`, "holds": [{` + rule + `, "for": {"days": 1}, "ends": "dayend"}]`), "editions[0].holds[0].ends", "not known", "day-end"},
		{"one name twice", edition(`, "holds": [{` + rule + `, "for": {"days": 1}}, {` + rule + `, "for": {"days": 2}}]`), "editions[0].holds[1].name", "another rule", ""},
		{"unknown question", edition(`, "identity": [{` + rule + `, "ask": ["adress"]}]`), "editions[0].identity[0].ask[0]", "not known", "address"},
		{"asks nothing", edition(`, "identity": [{` + rule + `}]`), "editions[0].identity[0].ask", "missing", "name"},
		{"negative amount", edition(`, "identity": [{` + rule + `, "ask": ["name"], "from": {"amount": "-1", "currency": "EUR"}}]`), "editions[0].identity[0].from.amount", "negative", ""},
		{"grouped amount", edition(`, "identity": [{` + rule + `, "ask": ["name"], "from": {"amount": "10,000", "currency": "EUR"}}]`), "editions[0].identity[0].from.amount", "not an amount", "grouping"},
		{"currency", edition(`, "identity": [{` + rule + `, "ask": ["name"], "from": {"amount": "1", "currency": "eur"}}]`), "editions[0].identity[0].from.currency", "not a currency", "ISO 4217"},
		{"negative window", edition(`, "identity": [{` + rule + `, "ask": ["name"], "within_days": -3}]`), "editions[0].identity[0].within_days", "negative", ""},
		{"ceiling", edition(`, "cash_ceilings": [{` + rule + `, "above": {"amount": "x", "currency": "EUR"}}]`), "editions[0].cash_ceilings[0].above.amount", "not an amount", ""},
		{"kept what", edition(`, "retention": [{` + rule + `, "of": "letters", "from": "deal", "for": {"years": 1}}]`), "editions[0].retention[0].of", "not known", "records"},
		{"kept from", edition(`, "retention": [{` + rule + `, "of": "records", "from": "close", "for": {"years": 1}}]`), "editions[0].retention[0].from", "not known", "closed"},
		{"no number", edition(`, "numbering": {"pattern": "A-{year}"}`), "editions[0].numbering.pattern", "{number} once", ""},
		{"yearly without year", edition(`, "numbering": {"pattern": "A-{number}", "restart": "yearly"}`), "editions[0].numbering.pattern", "again every year", "{year}"},
		{"unknown restart", edition(`, "numbering": {"pattern": "A-{number}", "restart": "monthly"}`), "editions[0].numbering.restart", "not known", ""},
		{"formula", edition(`, "numbering": {"pattern": "=A{number}"}`), "editions[0].numbering.pattern", "cannot stand there", ""},
		{"control", edition(`, "numbering": {"pattern": "A\u0007{number}"}`), "editions[0].numbering.pattern", "cannot stand there", ""},
		{"padding", edition(`, "numbering": {"pattern": "{number:99}"}`), "editions[0].numbering.pattern", "padded", ""},
		{"placeholder", edition(`, "numbering": {"pattern": "{month}{number}"}`), "editions[0].numbering.pattern", "not known", ""},
		{"open brace", edition(`, "numbering": {"pattern": "{number"}`), "editions[0].numbering.pattern", "not closed", ""},
		{"restart taken back", two(`, "valid_until": "2026-12-31", "numbering": {"pattern": "A-{year}-{number}", "restart": "yearly"}`, `, "numbering": {"pattern": "B-{number}"}`),
			"editions[1].numbering.pattern", "given again", "{year}"},
		{"alike", two(`, "valid_until": "2026-12-31", "numbering": {"pattern": "A1{number}"}`, `, "numbering": {"pattern": "A{number}"}`),
			"editions[1].numbering.pattern", "look like", "letter"},
		{"bidi", `{"format": 1, "name": "n\u202e", "time_zone": "UTC"}`, "name", "cannot be shown", ""},
	} {
		_, err := Decode([]byte(c.in))
		var field *strictjson.FieldError
		if !errors.As(err, &field) {
			t.Errorf("%s: error %v, want a FieldError", c.name, err)
			continue
		}
		if field.Path != c.path || !strings.Contains(field.Reason, c.reason) || !strings.Contains(field.Hint, c.hint) || field.Hint == "" {
			t.Errorf("%s: got path %q, reason %q, hint %q; want %q, …%s…, …%s…", c.name, field.Path, field.Reason, field.Hint, c.path, c.reason, c.hint)
		}
	}
}

func TestCautions(t *testing.T) {
	for _, c := range []struct{ name, in, path, reason string }{
		{"days without rules", two(`, "valid_until": "2026-12-30"`, ""), "editions[1].valid_from", "from 2026-12-31 to 2026-12-31"},
		{"measuring", edition(`, "identity": [{"name": "r", "deals": ["measure-only"], "ask": ["name"]}], "retention": [{"name": "k", "of": "personal-data", "deals": ["measure-only"], "from": "deal", "for": {"days": 1}}]`),
			"editions[0].identity[0].deals", "only have something measured"},
		{"kept how long", edition(`, "identity": [{"name": "r", "deals": ["buy"], "ask": ["name"]}]`), "editions[0].retention", "how long"},
		{"window without amount", edition(`, "identity": [{"name": "r", "deals": ["buy"], "ask": ["name"], "within_days": 3}], "retention": [{"name": "k", "of": "personal-data", "deals": ["buy"], "from": "deal", "for": {"days": 1}}]`),
			"editions[0].identity[0].within_days", "no effect"},
	} {
		r, err := Decode([]byte(c.in))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		found := Lint(r)
		if len(found) != 1 || !found[0].Caution || found[0].Path != c.path || !strings.Contains(found[0].Reason, c.reason) {
			t.Errorf("%s: %+v, want a caution at %s: …%s…", c.name, found, c.path, c.reason)
		}
	}
}

// FuzzDecode: rules that are accepted never crash a question, and read back to the same.
func FuzzDecode(f *testing.F) {
	f.Add(example(f))
	f.Add([]byte(edition("")))
	f.Add([]byte(two("", "")))
	f.Add([]byte(edition(`, "numbering": {"pattern": "A-{number:4}"}, "holds": [{"name": "r", "deals": ["buy"], "for": {"months": 1200}, "ends": "same-time"}]`)))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := Decode(data)
		if err != nil {
			var field *strictjson.FieldError
			if !errors.As(err, &field) || field.Hint == "" || field.Reason == "" {
				t.Fatalf("error %v has no reason or hint", err)
			}
			return
		}
		text, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := Decode(text); err != nil || len(back.Editions) != len(r.Editions) {
			t.Fatalf("reads back otherwise: %v", err)
		}
		b, err := New(r)
		if err != nil {
			t.Fatal(err)
		}
		now := time.Date(2026, 12, 31, 23, 59, 59, 0, time.UTC)
		number, c, err := b.Next(Counter{}, now)
		if err != nil {
			t.Fatal(err)
		}
		if faults, err := b.NumberingAt(now).Gaps([]Given{{Number: number}}, Counter{}, c); err != nil || len(faults) > 0 {
			t.Fatalf("%s: %v, %v", number, faults, err)
		}
		for _, kind := range Kinds {
			deal := Deal{Kind: kind, At: now, Amount: "5000", Currency: "EUR", Cash: "100"}
			if _, err := b.Ask(deal, []Deal{deal}); err != nil {
				t.Fatal(err)
			}
			item := Item{Deal: kind, At: now}
			if release, held := b.Release("melt", kind, now); held && b.May("melt", item, release.At, nil) != nil {
				t.Fatal("the item is held at its release")
			}
			if _, err := b.Erasable("personal-data", []Kept{{Item: item}}, now); err != nil {
				t.Fatal(err)
			}
		}
	})
}
