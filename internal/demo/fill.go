package demo

import (
	"context"
	"fmt"
	"time"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/register"
	"wreath/internal/value"
	"wreath/internal/vault"
)

// Days is how many days back the demo begins.
const Days = 9

// keeper is the one person of the shop. A second one would mean that everybody signs in, and nobody
// can sign in to look around.
var keeper = people.Person{ID: "owner", Name: "Q. Weigher (invented)"}

// story is the shop while it is being made.
type story struct {
	desk  *desk.Desk
	by    desk.By
	clock *clock

	seller  string             // customer who sells here
	visitor string             // customer who had an item measured, and asked to be forgotten
	started map[string]started // by key of the thing
}

// started is what came of a thing.
type started struct {
	item, record, deal string // item's name, record's number, deal's number
}

// Fill opens an invented shop in an empty store and lets ten days pass in it that end now; now's
// location is the shop's time zone, UTC where it has no name of the IANA table. Of the options it
// takes all but the clock. The store is not empty afterwards when it fails.
func Fill(ctx context.Context, o desk.Options, now time.Time) error {
	zone := now.Location().String()
	if _, err := time.LoadLocation(zone); err != nil || zone == "Local" || zone == "" {
		zone, now = "UTC", now.UTC()
	}
	c := &clock{at: morning(now, Days), end: now}
	o.Now = c.now
	d, err := desk.New(o)
	if err != nil {
		return err
	}
	s := &story{desk: d, clock: c, started: map[string]started{}}
	if err := s.open(ctx, zone); err != nil {
		return fmt.Errorf("open the invented shop: %w", err)
	}
	for day := Days; day >= 0; day-- {
		if err := s.day(ctx, day); err != nil {
			return fmt.Errorf("%d days before the end of the invented ten: %w", day, err)
		}
	}
	c.to(now)
	return nil
}

// morning is when the shop opens on an earlier day.
func morning(now time.Time, day int) time.Time {
	y, m, d := now.AddDate(0, 0, -day).Date()
	return time.Date(y, m, d, 9, 0, 0, 0, now.Location())
}

// open makes the shop and everything that stands in it before the first customer.
func (s *story) open(ctx context.Context, zone string) error {
	opening := desk.Opening{
		Shop: desk.Shop{
			Name: "Invented Gold Desk", Address: "1 Invented Street, Invented Town (everything here is invented)",
			TimeZone: zone, Currency: "EUR", Demo: true,
		},
		Person: keeper,
	}
	if err := s.desk.OpenShop(ctx, opening, ""); err != nil {
		return err
	}
	who, err := s.desk.Local(ctx, people.Console)
	if err != nil {
		return err
	}
	s.by = desk.By{Who: who}
	if err := s.equip(ctx); err != nil {
		return err
	}
	terms, err := value.DecodeTerms([]byte(termsDocument))
	if err != nil {
		return err
	}
	if _, err := s.desk.SetTerms(ctx, s.by, *terms, "first entry"); err != nil {
		return err
	}
	rules, err := register.Decode(fmt.Appendf(nil, rulesDocument, zone))
	if err != nil {
		return err
	}
	if err := s.desk.SetRegisterRules(ctx, s.by, rules, "first entry"); err != nil {
		return err
	}
	s.visitor, err = s.desk.EnterCustomer(ctx, s.by, vault.Person{Name: "Otto Example (invented)", Contact: "+00 000 0000 (invented)", Note: "an invented customer"})
	if err != nil {
		return err
	}
	s.seller, err = s.desk.EnterCustomer(ctx, s.by, vault.Person{
		Name: "Ida Example (invented)", Address: "2 Invented Street, Invented Town", BornOn: "1970-01-01",
		Identity: &vault.Identity{Kind: "identity card", Number: "INVENTED-0001", Issuer: "Invented Town"}, Note: "an invented customer",
	})
	return err
}

const termsDocument = `{
 "format": 1, "key": "counter", "version": 1, "name": "counter terms (invented)", "currency": "EUR", "max_price_age_min": 1440,
 "metals": [
  {"metal": "gold", "percent": "90", "by_fineness": [{"from_ppt": "990", "percent": "96"}]},
  {"metal": "silver", "percent": "80"}, {"metal": "platinum", "percent": "85"}, {"metal": "palladium", "percent": "80"}
 ],
 "charges": [{"name": "handling (invented)", "per_item": "1.50"}],
 "rounding": {"step": "0.10", "direction": "down"}
}`

const rulesDocument = `{
 "format": 1, "name": "Invented Town", "note": "Invented rules of an invented town; no law says this.", "time_zone": %q,
 "editions": [{
  "edition": "first", "source": "invented", "valid_from": "2020-01-01",
  "numbering": {"pattern": "A-{year}-{number:4}", "restart": "yearly"},
  "holds": [{"name": "five days", "deals": ["buy"], "for": {"days": 5}, "forbids": ["sell", "melt", "alter"]}],
  "identity": [{"name": "from 100", "deals": ["buy", "pledge"], "from": {"amount": "100", "currency": "EUR"}, "ask": ["name", "address", "identity_document"]}],
  "retention": [{"name": "five years", "of": "personal-data", "deals": ["buy", "pledge", "sell"], "from": "deal", "for": {"years": 5}}]
 }]
}`

// day lets one day pass.
func (s *story) day(ctx context.Context, day int) error {
	var today []int
	for n, t := range Things {
		if t.Day == day {
			today = append(today, n)
		}
	}
	at, pause := morning(s.clock.end, day).Add(10*time.Minute), 24*time.Minute
	if day == 0 { // the last hours before now
		pause = 14 * time.Minute
		at = s.clock.end.Add(-time.Duration(len(today)) * pause)
	}
	s.clock.to(at.Add(-5 * time.Minute))
	if err := s.prices(ctx, day); err != nil {
		return err
	}
	for i, n := range today {
		s.clock.to(at.Add(time.Duration(i) * pause))
		if err := s.handle(ctx, n); err != nil {
			return fmt.Errorf("%s: %w", Things[n].Key, err)
		}
	}
	s.clock.wait(10 * time.Minute)
	if do, ok := events[day]; ok {
		return do(s, ctx)
	}
	return nil
}

// dayPrices are the invented prices of a gram of fine metal, by days before today.
var dayPrices = [Days + 1]struct{ gold, silver, platinum, palladium string }{
	{"84.10", "0.98", "31.40", "30.20"}, {"83.65", "0.97", "31.10", "30.45"}, {"83.90", "0.98", "31.25", "30.40"}, {"83.20", "0.96", "30.90", "30.10"},
	{"82.85", "0.96", "30.75", "29.95"}, {"83.05", "0.97", "30.80", "30.00"}, {"82.40", "0.95", "30.60", "29.80"}, {"82.70", "0.95", "30.65", "29.70"},
	{"82.15", "0.94", "30.30", "29.55"}, {"82.00", "0.94", "30.20", "29.50"},
}

func (s *story) prices(ctx context.Context, day int) error {
	at := s.clock.at.Truncate(time.Minute)
	var prices []value.Price
	for _, row := range [][2]string{{"gold", dayPrices[day].gold}, {"silver", dayPrices[day].silver}, {"platinum", dayPrices[day].platinum}, {"palladium", dayPrices[day].palladium}} {
		amount, err := value.ParseDecimal(row[1])
		if err != nil {
			return err
		}
		prices = append(prices, value.Price{Metal: row[0], Amount: amount, Per: "g", Currency: "EUR", HeldAt: value.Moment{Time: at}, Source: "invented"})
	}
	return s.desk.SetPrices(ctx, s.by, prices)
}
