package register

import (
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/internal/strictjson"
)

// held is a book with one hold in one zone.
func held(t testing.TB, zone string, h Hold) *Book {
	t.Helper()
	h.Name, h.Deals = "wait", []string{"buy"}
	r := None(zone)
	r.Editions = []Edition{{Edition: "e", Source: "s", ValidFrom: Date{2000, 1, 1}, Holds: []Hold{h}}}
	return book(t, r)
}

func TestRelease(t *testing.T) {
	for _, c := range []struct {
		name, zone string
		p          Period
		ends       string
		deal, want string
	}{
		{"12 days", "Europe/Vienna", Period{Days: 12}, "", "2026-05-04T09:00:00Z", "2026-05-16T22:00:00Z"},
		{"12 days, first instant of the day", "Europe/Vienna", Period{Days: 12}, "", "2026-05-03T22:00:00Z", "2026-05-16T22:00:00Z"},
		{"12 days, last second of the day", "Europe/Vienna", Period{Days: 12}, "", "2026-05-04T21:59:59Z", "2026-05-16T22:00:00Z"},
		{"12 days, a second later", "Europe/Vienna", Period{Days: 12}, "", "2026-05-04T22:00:00Z", "2026-05-17T22:00:00Z"},
		{"12 days to the hour", "Europe/Vienna", Period{Days: 12}, SameTime, "2026-05-04T09:00:00Z", "2026-05-16T09:00:00Z"},
		{"into summer time", "Europe/Vienna", Period{Days: 12}, "", "2026-03-20T11:00:00Z", "2026-04-01T22:00:00Z"},
		{"into summer time, to the hour", "Europe/Vienna", Period{Days: 12}, SameTime, "2026-03-20T11:00:00Z", "2026-04-01T10:00:00Z"},
		{"into a skipped hour", "Europe/Vienna", Period{Days: 12}, SameTime, "2026-03-17T01:30:00Z", "2026-03-29T01:00:00Z"},
		{"into winter time", "Europe/Vienna", Period{Days: 12}, "", "2026-10-20T11:00:00Z", "2026-11-01T23:00:00Z"},
		{"into an hour that comes twice", "Europe/Vienna", Period{Days: 12}, SameTime, "2026-10-13T00:30:00Z", "2026-10-25T01:30:00Z"},
		{"two months from New Year's Eve", "Europe/Vienna", Period{Months: 2}, "", "2026-12-31T11:00:00Z", "2027-02-28T23:00:00Z"},
		{"two months, leap year", "Europe/Vienna", Period{Months: 2}, "", "2027-12-31T11:00:00Z", "2028-02-29T23:00:00Z"},
		{"a year from a leap day", "Europe/Vienna", Period{Years: 1}, "", "2028-02-29T11:00:00Z", "2029-02-28T23:00:00Z"},
		{"over there", "America/New_York", Period{Days: 3}, "", "2026-03-06T03:00:00Z", "2026-03-09T04:00:00Z"}, // still 5 March there
	} {
		b := held(t, c.zone, Hold{For: c.p, Ends: c.ends})
		got, ok := b.Release("sell", "buy", at(t, c.deal))
		if !ok || !got.At.Equal(at(t, c.want)) || got.Rule != "wait" || got.Edition != "e" {
			t.Errorf("%s: %+v, want %s", c.name, got, c.want)
		}
		item := Item{Deal: "buy", At: at(t, c.deal)}
		if b.May("sell", item, got.At.Add(-time.Nanosecond), nil) == nil {
			t.Errorf("%s: sold an instant before", c.name)
		}
		if err := b.May("sell", item, got.At, nil); err != nil {
			t.Errorf("%s: at the release: %v", c.name, err)
		}
	}
}

func TestMay(t *testing.T) {
	b := nowhere(t)
	bought := Item{Deal: "buy", At: at(t, "2026-05-04T09:00:00Z")}
	early := at(t, "2026-05-10T09:00:00Z")
	for _, action := range []string{"sell", "melt", "alter", "move"} {
		err := b.May(action, bought, early, nil)
		var refused *RefusedError
		if !errors.As(err, &refused) {
			t.Errorf("%s: %v, want a RefusedError", action, err)
			continue
		}
		for _, want := range []string{"2026-05-17 00:00 +02:00", "Europe/Vienna", "bought items wait", "Nowhere 2026"} {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %q lacks %q", action, err, want)
			}
		}
		if refused.Hint() == "" || !refused.Until.Equal(at(t, "2026-05-16T22:00:00Z")) {
			t.Errorf("%s: until %s, hint %q", action, refused.Until, refused.Hint())
		}
	}
	if err := b.May("return", bought, early, nil); err != nil {
		t.Errorf("return to the owner: %v", err)
	}
	if err := b.May("eat", bought, early, nil); err == nil {
		t.Error("an unknown action is allowed")
	}
	if err := b.May("move", Item{Deal: "pledge", At: bought.At}, early, nil); err != nil {
		t.Errorf("the rule for pledges does not forbid to move: %v", err)
	}
	if err := b.May("sell", Item{Deal: "consign", At: bought.At}, early, nil); err != nil {
		t.Errorf("no rule is for consigned items: %v", err)
	}
}

// The day of the deal decides, also when a later edition holds longer.
func TestHoldGoesByTheEditionOfTheDeal(t *testing.T) {
	b := nowhere(t)
	last, ok := b.Release("melt", "buy", at(t, "2027-07-09T21:59:59Z"))
	first, ok2 := b.Release("melt", "buy", at(t, "2027-07-09T22:00:00Z"))
	if !ok || !ok2 || !last.At.Equal(at(t, "2027-07-21T22:00:00Z")) || !first.At.Equal(at(t, "2027-07-24T22:00:00Z")) {
		t.Errorf("last day of the first edition: %s; first day of the second: %s", last.At.UTC(), first.At.UTC())
	}
}

func TestOverride(t *testing.T) {
	b := nowhere(t)
	item := Item{Deal: "buy", At: at(t, "2026-05-04T09:00:00Z")}
	early := at(t, "2026-05-10T09:00:00Z")
	for _, c := range []struct {
		o    Override
		path string
	}{
		{Override{"decision 7 of the invented court", []string{"U-1", "U-2"}}, ""},
		{Override{" ", []string{"U-1", "U-2"}}, "override.ground"},
		{Override{"decision", nil}, "override.people"},
		{Override{"decision", []string{"U-1"}}, "override.people"},
		{Override{"decision", []string{"U-1", "u-1 "}}, "override.people"},
		{Override{"decision", []string{"U-1", ""}}, "override.people"},
	} {
		err := b.May("melt", item, early, &c.o)
		var field *strictjson.FieldError
		if c.path == "" && err != nil || c.path != "" && (!errors.As(err, &field) || field.Path != c.path || field.Hint == "") {
			t.Errorf("%+v: %v, want an error at %q", c.o, err, c.path)
		}
	}
}

func TestOrderIsStrongerThanEverything(t *testing.T) {
	b := nowhere(t)
	order := Order{Authority: "the watch of Nowhere (invented)", Reference: "N 17", From: at(t, "2026-06-01T00:00:00Z")}
	item := Item{Deal: "measure-only", At: at(t, "2026-05-04T09:00:00Z"), Orders: []Order{order}}
	both := &Override{"decision", []string{"U-1", "U-2"}}
	if err := b.May("melt", item, at(t, "2026-05-31T23:59:59Z"), nil); err != nil {
		t.Errorf("before the order: %v", err)
	}
	for _, action := range Actions {
		for _, when := range []string{"2026-06-01T00:00:00Z", "2126-01-01T00:00:00Z"} {
			err := b.May(action, item, at(t, when), both)
			var refused *RefusedError
			if !errors.As(err, &refused) || refused.Order == nil || !strings.Contains(err.Error(), "N 17") || refused.Hint() == "" {
				t.Errorf("%s at %s: %v, want a refusal by the order", action, when, err)
			}
		}
	}
	order.Lifted = &Lifting{At: at(t, "2026-07-01T00:00:00Z"), Reference: "N 18"}
	item.Orders = []Order{order}
	if b.May("melt", item, at(t, "2026-06-30T23:59:59Z"), both) == nil {
		t.Error("an instant before it is lifted, the order has no effect")
	}
	if err := b.May("melt", item, at(t, "2026-07-01T00:00:00Z"), nil); err != nil {
		t.Errorf("after it was lifted: %v", err)
	}
	if err := order.Check(); err != nil {
		t.Error(err)
	}
	for name, change := range map[string]func(*Order){
		"authority": func(o *Order) { o.Authority = "" }, "reference": func(o *Order) { o.Reference = " " }, "from": func(o *Order) { o.From = time.Time{} },
		"lifted.reference": func(o *Order) { o.Lifted = &Lifting{At: o.From} },
		"lifted.at":        func(o *Order) { o.Lifted = &Lifting{At: o.From.Add(-1), Reference: "x"} },
	} {
		o := order
		change(&o)
		var field *strictjson.FieldError
		if err := o.Check(); !errors.As(err, &field) || field.Path != name {
			t.Errorf("order without %s: %v", name, err)
		}
	}
}

// A hold ends after as many days of the calendar as it says, in every zone, and a longer hold never
// ends earlier.
func TestHoldsLastLongEnough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := None(rapid.SampledFrom(someZones).Draw(t, "zone"))
		n := rapid.IntRange(1, 400).Draw(t, "days")
		hold := func(name, ends string, days int) Hold {
			return Hold{Name: name, Deals: []string{"buy"}, For: Period{Days: days}, Ends: ends, Forbids: []string{name}}
		}
		r.Editions = []Edition{{Edition: "e", Source: "s", ValidFrom: Date{1970, 1, 1},
			Holds: []Hold{hold("sell", DayEnd, n), hold("melt", SameTime, n), hold("alter", DayEnd, n+1)}}}
		b, err := New(r)
		if err != nil {
			t.Fatal(err)
		}
		deal := time.Unix(rapid.Int64Range(86_400, 2_500_000_000).Draw(t, "deal"), 0)
		release := func(action string) time.Time {
			rel, ok := b.Release(action, "buy", deal)
			if !ok {
				t.Fatalf("no hold for %s", action)
			}
			return rel.At
		}
		day, hour, longer := release("sell"), release("melt"), release("alter")
		if hour.After(day) || !day.Before(longer) {
			t.Fatalf("same time %s, end of day %s, a day longer %s", hour, day, longer)
		}
		if got := b.Day(day.Add(-1)).DaysSince(b.Day(deal)); got > n || got < n-1 { // n-1 where a day was left out
			t.Fatalf("the last held day is %d days after the deal, want %d", got, n)
		}
		if got := b.Day(day).DaysSince(b.Day(deal)); got < n+1 {
			t.Fatalf("released %d days after the deal, want %d", got, n+1)
		}
	})
}
