package value

import (
	"strings"
	"testing"
	"time"
)

func TestPriceCheck(t *testing.T) {
	good := priceOf("gold", "101.40", "g")
	if err := good.Check(noon); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		change       func(*Price)
		path, reason string
	}{
		{func(p *Price) { p.Metal = "Gold" }, "metal", "not a metal"},
		{func(p *Price) { p.Metal = "" }, "metal", "not a metal"},
		{func(p *Price) { p.Metal = "rhodium" }, "metal", "not a metal"},
		{func(p *Price) { p.Amount = dec("0.00") }, "amount", "0.00"},
		{func(p *Price) { p.Amount = dec("-5") }, "amount", "-5"},
		{func(p *Price) { p.Per = "oz" }, "per", "not a unit"},
		{func(p *Price) { p.Per = "OZT" }, "per", "not how"},
		{func(p *Price) { p.Currency = "" }, "currency", "missing"},
		{func(p *Price) { p.Currency = "eur" }, "currency", "ISO 4217"},
		{func(p *Price) { p.Currency = "€" }, "currency", "ISO 4217"},
		{func(p *Price) { p.HeldAt = Moment{} }, "held_at", "missing"},
		{func(p *Price) { p.HeldAt = Moment{noon.Add(6 * time.Minute)} }, "held_at", "future"},
		{func(p *Price) { p.Source = " " }, "source", "missing"},
		{func(p *Price) { p.Source = "a\nb" }, "source", "can't be seen"},
		{func(p *Price) { p.Source = "a\u202eb" }, "source", "can't be seen"},
		{func(p *Price) { p.Source = "=1+1" }, "source", "formula"},
		{func(p *Price) { p.Source = "page " }, "source", "space"},
		{func(p *Price) { p.Source = strings.Repeat("x", 501) }, "source", "longer"},
		{func(p *Price) { p.EnteredBy = "@x" }, "entered_by", "formula"},
	} {
		p := good
		c.change(&p)
		wantFault(t, p.Check(noon), c.path, c.reason)
	}
	several := Price{}
	if faults, ok := several.Check(noon).(Faults); !ok || len(faults) != 6 {
		t.Errorf("an empty price has the faults %v, want six", faults)
	}
	ahead := good
	ahead.HeldAt = Moment{noon.Add(4 * time.Minute)} // the clocks differ a little
	if err := ahead.Check(noon); err != nil || ahead.Age(noon) != 0 {
		t.Errorf("a price four minutes ahead: %v, age %v", err, ahead.Age(noon))
	}
}

func TestStale(t *testing.T) {
	p := priceOf("gold", "101.40", "g") // ten minutes old
	if p.Stale(noon, 10*time.Minute) || !p.Stale(noon, 10*time.Minute-1) {
		t.Error("a price is stale when it is older than allowed, and not before")
	}
	for d, want := range map[time.Duration]string{59 * time.Minute: "59 min", 119 * time.Minute: "119 min", 125 * time.Minute: "2 h 5 min", 50 * time.Hour: "2 days"} {
		if got := words(d); got != want {
			t.Errorf("%v is %q, want %q", d, got, want)
		}
	}
}

func TestLatest(t *testing.T) {
	at := func(amount string, minutes int) Price {
		p := priceOf("gold", amount, "g")
		p.HeldAt = Moment{noon.Add(time.Duration(minutes) * time.Minute)}
		return p
	}
	dollars := at("9", -1)
	dollars.Currency = "USD"
	prices := []Price{at("1", -30), at("2", -10), at("3", -20), at("4", 1), dollars, priceOf("silver", "5", "kg")}
	if p, ok := Latest(prices, "gold", "EUR", noon); !ok || p.Amount.String() != "2" {
		t.Errorf("the latest price is %v, %v, want that of ten minutes ago", p, ok)
	}
	if _, ok := Latest(prices, "gold", "CHF", noon); ok {
		t.Error("there is no price in francs")
	}
}
