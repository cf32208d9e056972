package register

import (
	"strings"
	"testing"
	"time"
)

func TestErasable(t *testing.T) {
	b := nowhere(t)
	bought := func(text string) Kept {
		return Kept{Number: "A-1", Item: Item{Deal: "buy", At: at(t, text)}}
	}
	pledged := Kept{Number: "A-2", Item: Item{Deal: "pledge", At: at(t, "2026-05-04T09:00:00Z")}}
	redeemed := pledged
	redeemed.Closed = at(t, "2026-06-30T09:00:00Z")
	order := Order{Authority: "the watch of Nowhere (invented)", Reference: "N 17", From: at(t, "2026-05-05T00:00:00Z")}
	seized := bought("2026-05-04T09:00:00Z")
	seized.Orders = []Order{order}
	freed := seized
	lifted := order
	lifted.Lifted = &Lifting{At: at(t, "2027-01-01T00:00:00Z"), Reference: "N 18"}
	freed.Orders = []Order{lifted}
	for _, c := range []struct {
		name, of string
		deals    []Kept
		due      string // "" when it cannot be known, or there is no duty
		open     bool
		why      string // is in the first reason just before due
	}{
		{"no deal", "personal-data", nil, "", false, ""},
		{"measured only", "personal-data", []Kept{{Item: Item{Deal: "measure-only", At: at(t, "2026-05-04T09:00:00Z")}}}, "", false, ""},
		{"three years", "personal-data", []Kept{bought("2026-05-04T09:00:00Z")}, "2029-05-04T22:00:00Z", false, "who sold it"},
		{"the day of the deal is local", "personal-data", []Kept{bought("2026-05-04T22:00:00Z")}, "2029-05-05T22:00:00Z", false, "who sold it"},
		{"to a leap day that is not", "personal-data", []Kept{bought("2028-02-29T09:00:00Z")}, "2033-02-28T23:00:00Z", false, "who dealt"},
		{"latest of two", "personal-data", []Kept{bought("2026-05-04T09:00:00Z"), bought("2026-08-04T09:00:00Z")}, "2029-08-04T22:00:00Z", false, "who sold it"},
		{"last day of the first edition", "personal-data", []Kept{bought("2027-07-09T21:59:59Z")}, "2030-07-09T22:00:00Z", false, "Nowhere 2026"},
		{"first day of the second edition", "personal-data", []Kept{bought("2027-07-09T22:00:00Z")}, "2032-07-10T22:00:00Z", false, "Nowhere 2027"},
		{"from the last deal", "personal-data", []Kept{bought("2028-01-01T09:00:00Z"), bought("2030-01-01T09:00:00Z")}, "2035-01-01T23:00:00Z", false, "who dealt"},
		{"from the end of the year", "records", []Kept{bought("2026-05-04T09:00:00Z")}, "2033-12-31T23:00:00Z", false, "register"},
		{"redeemed pledge", "personal-data", []Kept{redeemed}, "2029-06-30T22:00:00Z", false, "whose pledge it is"},
		{"open pledge", "personal-data", []Kept{pledged}, "", true, ""},
		{"held by an authority", "personal-data", []Kept{seized}, "", true, ""},
		{"freed by it", "personal-data", []Kept{freed}, "2029-05-04T22:00:00Z", false, "who sold it"},
		{"older than all editions", "personal-data", []Kept{bought("2025-05-04T09:00:00Z")}, "2028-05-04T22:00:00Z", false, "who sold it"},
		{"only the hold", "photos", []Kept{bought("2026-05-04T09:00:00Z")}, "2026-05-16T22:00:00Z", false, "bought items wait"},
	} {
		now := at(t, "2126-01-01T00:00:00Z")
		if c.due != "" {
			now = at(t, c.due)
		}
		// Editions of today matter only where no edition was: look at it from within the first one.
		if c.name == "older than all editions" {
			b = before2027(t)
		} else {
			b = nowhere(t)
		}
		d, err := b.Erasable(c.of, c.deals, now)
		if err != nil {
			t.Fatal(err)
		}
		if d.Allowed == c.open || d.Open != c.open || (len(d.Reasons) > 0) != c.open {
			t.Errorf("%s: at %s %+v", c.name, now, d)
		}
		if c.due == "" {
			if !d.Due.IsZero() {
				t.Errorf("%s: due %s, want none", c.name, d.Due)
			}
			continue
		}
		if !d.Due.Equal(now) {
			t.Errorf("%s: due %s, want %s", c.name, d.Due.UTC().Format(time.RFC3339), c.due)
		}
		d, err = b.Erasable(c.of, c.deals, now.Add(-time.Nanosecond))
		if err != nil || d.Allowed || len(d.Reasons) == 0 {
			t.Errorf("%s: an instant before: %+v, %v", c.name, d, err)
			continue
		}
		last := d.Reasons[len(d.Reasons)-1]
		if !strings.Contains(last.Rule+last.Edition, c.why) || !strings.Contains(last.Text, "until "+b.stamp(now)) {
			t.Errorf("%s: reason %+v, want %q and the date", c.name, last, c.why)
		}
	}
	if _, err := b.Erasable("letters", nil, time.Now()); err == nil {
		t.Error("an unknown thing may be erased")
	}
}

// before2027 is the example with its first edition open, so that it is also the one of later days.
func before2027(t *testing.T) *Book {
	t.Helper()
	r, err := Decode(example(t))
	if err != nil {
		t.Fatal(err)
	}
	r.Editions = r.Editions[:1]
	r.Editions[0].ValidUntil = nil
	return book(t, r)
}

func TestReasonsOfADeferredErasure(t *testing.T) {
	b := nowhere(t)
	pledged := Kept{Number: "A-2026-00002", Item: Item{Deal: "pledge", At: at(t, "2026-05-04T09:00:00Z"),
		Orders: []Order{{Authority: "the watch of Nowhere (invented)", Reference: "N 17", From: at(t, "2026-05-05T00:00:00Z")}}}}
	d, err := b.Erasable("personal-data", []Kept{pledged}, at(t, "2026-05-06T00:00:00Z"))
	if err != nil || d.Allowed || !d.Open || len(d.Reasons) != 3 {
		t.Fatalf("%+v, %v", d, err)
	}
	for i, want := range []string{"ordered to keep the item (N 17)", "the item is held back until 2026-07-05 00:00 +02:00", "it is not closed, and the time of keeping (3 years)"} {
		if got := d.Reasons[i].Text; !strings.Contains(got, want) || !strings.Contains(got, "A-2026-00002") {
			t.Errorf("reason %q, want …%s…", got, want)
		}
	}
}
