package register

import (
	"errors"
	"math/big"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/internal/strictjson"
)

// cash is a purchase paid in cash.
func cash(t testing.TB, when, amount string) Deal {
	t.Helper()
	return Deal{Kind: "buy", At: at(t, when), Amount: amount, Currency: "EUR", Cash: amount}
}

func TestAsk(t *testing.T) {
	b := nowhere(t)
	before := "2028-05-01T09:00:00Z"
	wire := func(amount string) Deal {
		return Deal{Kind: "buy", At: at(t, before), Amount: amount, Currency: "EUR"}
	}
	kind := func(k string) Deal {
		d := wire("100000")
		d.Kind = k
		return d
	}
	francs := Deal{Kind: "buy", At: at(t, before), Amount: "20000", Currency: "CHF", Cash: "20000"}
	mixed := wire("9000")
	mixed.Cash = "2999.99"
	for _, c := range []struct {
		name    string
		deal    Deal
		earlier []Deal
		want    string // fields
		because string // in the first reason
		unclear int
	}{
		{"measuring", kind("measure-only"), nil, "", "", 0},
		{"no rule for it", kind("consign"), nil, "", "", 0},
		{"every pledge", Deal{Kind: "pledge", At: at(t, before)}, nil, "name address identity_document", "every deal of this kind", 0},
		{"every purchase, first edition", cash(t, "2027-07-09T21:59:59Z", "1"), nil, "name identity_document", "every deal", 0},
		{"small purchase, second edition", cash(t, "2027-07-09T22:00:00Z", "1"), nil, "", "", 0},
		{"cash just below", cash(t, before, "2999.99"), nil, "", "", 0},
		{"cash just there", cash(t, before, "3000.00"), nil, "name born_on identity_document", "from 3000 EUR in cash; here 3000.00 EUR", 0},
		{"not in cash", wire("9999.999999"), nil, "", "", 0},
		{"partly in cash", mixed, nil, "", "", 0},
		{"large", wire("10000"), nil, "name address born_on identity_document", "from 10000 EUR; here 10000.00 EUR", 0},
		{"two linked", cash(t, before, "1200"), []Deal{cash(t, "2028-04-01T09:00:00Z", "1200")}, "", "", 0},
		{"three linked", cash(t, before, "1200"), []Deal{cash(t, "2028-04-01T09:00:00Z", "1200"), cash(t, "2028-04-02T09:00:00Z", "1200")},
			"name born_on identity_document", "here 3600.00 EUR in 3 linked deals", 0},
		{"linked on the 180th day before", cash(t, before, "1800"), []Deal{cash(t, "2027-11-02T23:30:00Z", "1200")}, "name born_on identity_document", "2 linked deals", 0},
		{"a day too old", cash(t, before, "1800"), []Deal{cash(t, "2027-11-02T22:30:00Z", "1200")}, "", "", 0}, // still 2 November in Vienna
		{"later deals do not count", cash(t, before, "1800"), []Deal{cash(t, "2028-05-01T09:00:01Z", "1200")}, "", "", 0},
		{"other kinds do not count", cash(t, before, "1800"), []Deal{{Kind: "pledge", At: at(t, before), Amount: "5000", Cash: "5000", Currency: "EUR"}}, "", "", 0},
		{"other currency", francs, nil, "", "", 2},
		{"linked in another currency", cash(t, before, "10"), []Deal{francs}, "", "", 2},
		{"asked in any case", cash(t, before, "10000"), []Deal{francs}, "name address born_on identity_document", "", 0},
		{"amount not known", Deal{Kind: "buy", At: at(t, before)}, nil, "", "", 1},
	} {
		got, err := b.Ask(c.deal, c.earlier)
		if err != nil || strings.Join(got.Fields, " ") != c.want || len(got.Unclear) != c.unclear || (len(got.Because) > 0) != (c.want != "") {
			t.Errorf("%s: %+v, %v, want %q and %d unclear", c.name, got, err, c.want, c.unclear)
			continue
		}
		if c.because != "" && !strings.Contains(got.Because[0].Text, c.because) {
			t.Errorf("%s: %q, want …%s…", c.name, got.Because[0].Text, c.because)
		}
	}
}

// Days of the calendar count, not hours, from the first instant of the 180th day before.
func TestWindowCountsDays(t *testing.T) {
	b := nowhere(t)
	deal := cash(t, "2028-09-24T22:30:00Z", "1800") // 25 September in Vienna
	asked, err := b.Ask(deal, []Deal{cash(t, "2028-03-28T22:00:00Z", "1200")})
	if err != nil || len(asked.Fields) == 0 { // 29 March, 180 days before
		t.Errorf("%+v, %v, want it linked", asked, err)
	}
	asked, err = b.Ask(deal, []Deal{cash(t, "2028-03-28T21:59:59Z", "1200")})
	if err != nil || len(asked.Fields) != 0 {
		t.Errorf("%+v, %v, want it not linked", asked, err)
	}
}

func TestCashAllowed(t *testing.T) {
	b := nowhere(t)
	when := "2028-05-01T09:00:00Z"
	if unclear, err := b.CashAllowed(cash(t, when, "10000"), nil); err != nil || len(unclear) > 0 {
		t.Errorf("just the ceiling: %v, %v", unclear, err)
	}
	_, err := b.CashAllowed(cash(t, when, "10000.01"), nil)
	var ceiling *CeilingError
	if !errors.As(err, &ceiling) || !strings.Contains(err.Error(), `at most 10000 EUR may be paid in cash; here 10000.01 EUR: rule "no more cash"`) {
		t.Errorf("a cent more: %v", err)
	}
	if _, err = b.CashAllowed(cash(t, when, "6000"), []Deal{cash(t, when, "6000")}); !errors.As(err, &ceiling) {
		t.Errorf("in two parts: %v", err)
	}
	wire := cash(t, when, "6000")
	wire.Cash = ""
	if _, err = b.CashAllowed(wire, []Deal{cash(t, when, "12000")}); err != nil {
		t.Errorf("not in cash: %v", err)
	}
	francs := cash(t, when, "20000")
	francs.Currency = "CHF"
	if unclear, err := b.CashAllowed(francs, nil); err != nil || len(unclear) != 1 || !strings.Contains(unclear[0].Text, "convert") {
		t.Errorf("other currency: %v, %v", unclear, err)
	}
	if _, err = b.CashAllowed(cash(t, "2027-07-09T21:59:59Z", "20000"), nil); err != nil {
		t.Errorf("before the rule: %v", err)
	}
}

func TestAmountsRefused(t *testing.T) {
	b := nowhere(t)
	good := cash(t, "2028-05-01T09:00:00Z", "100")
	for _, c := range []struct {
		path   string
		change func(*Deal)
	}{
		{"kind", func(d *Deal) { d.Kind = "steal" }},
		{"amount", func(d *Deal) { d.Amount = "-1" }},
		{"amount", func(d *Deal) { d.Amount = "1e3" }},
		{"amount", func(d *Deal) { d.Amount = "1/3" }},
		{"amount", func(d *Deal) { d.Amount = "1,5" }},
		{"amount", func(d *Deal) { d.Amount = "1." }},
		{"amount", func(d *Deal) { d.Amount = ".5" }},
		{"amount", func(d *Deal) { d.Amount = "NaN" }},
		{"amount", func(d *Deal) { d.Amount = "１２" }},
		{"amount", func(d *Deal) { d.Amount = strings.Repeat("9", 400) }},
		{"cash", func(d *Deal) { d.Cash = "x" }},
		{"cash", func(d *Deal) { d.Cash = "100.01" }},
		{"currency", func(d *Deal) { d.Currency = "" }},
		{"currency", func(d *Deal) { d.Currency = "EURO" }},
	} {
		d := good
		c.change(&d)
		for path, try := range map[string]func() error{
			c.path:                 func() error { _, err := b.Ask(d, nil); return err },
			"earlier[0]." + c.path: func() error { _, err := b.Ask(good, []Deal{d}); return err },
		} {
			var field *strictjson.FieldError
			if err := try(); !errors.As(err, &field) || field.Path != path || field.Hint == "" {
				t.Errorf("%+v: error %v, want one at %s", d, err, path)
			}
		}
	}
}

// What is asked depends neither on the order of the earlier deals nor on how a sum is cut into deals,
// and more money never asks less.
func TestLinkedDealsAddUp(t *testing.T) {
	b := nowhere(t)
	when := time.Date(2028, 5, 1, 9, 0, 0, 0, time.UTC)
	deal := func(cents int64) Deal {
		text := new(big.Rat).SetFrac64(cents, 100).FloatString(2)
		return Deal{Kind: "buy", At: when, Amount: text, Currency: "EUR", Cash: text}
	}
	rapid.Check(t, func(t *rapid.T) {
		parts := rapid.SliceOfN(rapid.Int64Range(1, 400_000), 1, 6).Draw(t, "cents")
		var sum int64
		var deals []Deal
		for _, p := range parts {
			sum += p
			deals = append(deals, deal(p))
		}
		ask := func(first Deal, earlier []Deal) []string {
			a, err := b.Ask(first, earlier)
			if err != nil {
				t.Fatal(err)
			}
			return a.Fields
		}
		whole := ask(deal(sum), nil)
		if got := ask(deals[0], deals[1:]); !reflect.DeepEqual(got, whole) {
			t.Fatalf("in parts %v, at once %v", got, whole)
		}
		last := len(deals) - 1
		if got := ask(deals[last], deals[:last]); !reflect.DeepEqual(got, whole) {
			t.Fatalf("in another order %v, want %v", got, whole)
		}
		if (len(whole) > 0) != (sum >= 300_000) {
			t.Fatalf("%d cents ask %v", sum, whole)
		}
		if more := ask(deal(sum+1), nil); len(more) < len(whole) {
			t.Fatalf("a cent more asks %v instead of %v", more, whole)
		}
	})
}

// FuzzAmount: what is read as an amount is a decimal number that big.Rat reads alike, and not negative.
func FuzzAmount(f *testing.F) {
	for _, s := range []string{"1250.50", "0", "-1", "1e9", "1/2", "", ".", "00.10", "+1", "0x1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := parseAmount("amount", text)
		if err != nil {
			var field *strictjson.FieldError
			if !errors.As(err, &field) || field.Hint == "" {
				t.Fatalf("%q: error %v has no hint", text, err)
			}
			return
		}
		if r.Sign() < 0 || strings.Trim(text, "0123456789.") != "" {
			t.Fatalf("%q is read as %s", text, r)
		}
	})
}
