package register

import (
	"encoding/json"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func day(t testing.TB, text string) Date {
	t.Helper()
	d, err := ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// at reads an instant in RFC 3339.
func at(t testing.TB, text string) time.Time {
	t.Helper()
	i, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return i
}

// Expected days computed with PostgreSQL 15, date + interval.
func TestPeriodAfter(t *testing.T) {
	for _, c := range []struct {
		from string
		p    Period
		want string
	}{
		{"2026-01-31", Period{Months: 1}, "2026-02-28"},
		{"2028-01-31", Period{Months: 1}, "2028-02-29"},
		{"2028-02-29", Period{Years: 1}, "2029-02-28"},
		{"2028-02-29", Period{Years: 4}, "2032-02-29"},
		{"2026-08-31", Period{Months: 1}, "2026-09-30"},
		{"2026-12-31", Period{Months: 2}, "2027-02-28"},
		{"2027-12-31", Period{Months: 2}, "2028-02-29"},
		{"2026-02-28", Period{Months: 1}, "2026-03-28"},
		{"2026-03-31", Period{Months: 13}, "2027-04-30"},
		{"2026-12-25", Period{Days: 12}, "2027-01-06"},
		{"2028-02-17", Period{Days: 12}, "2028-02-29"},
		{"2026-10-30", Period{Months: 120}, "2036-10-30"},
	} {
		if got := c.p.After(day(t, c.from)).String(); got != c.want {
			t.Errorf("%s and %s: %s, want %s", c.from, c.p, got, c.want)
		}
	}
}

// Expected instants computed with Python 3 zoneinfo from the IANA table.
func TestStartOfDay(t *testing.T) {
	for _, c := range []struct{ zone, day, want string }{
		{"UTC", "2026-03-29", "2026-03-29T00:00:00Z"},
		{"Europe/Vienna", "2026-03-29", "2026-03-28T23:00:00Z"}, // the day of 23 hours
		{"Europe/Vienna", "2026-03-30", "2026-03-29T22:00:00Z"},
		{"Europe/Vienna", "2026-10-25", "2026-10-24T22:00:00Z"}, // the day of 25 hours
		{"Europe/Vienna", "2026-10-26", "2026-10-25T23:00:00Z"},
		{"America/New_York", "2026-03-09", "2026-03-09T04:00:00Z"},
		{"America/New_York", "2026-11-02", "2026-11-02T05:00:00Z"},
		{"Pacific/Auckland", "2026-04-06", "2026-04-05T12:00:00Z"},
		{"Australia/Lord_Howe", "2026-04-06", "2026-04-05T13:30:00Z"}, // half an hour of daylight saving
		{"Asia/Kathmandu", "2026-05-01", "2026-04-30T18:15:00Z"},
		{"America/Sao_Paulo", "2018-11-04", "2018-11-04T03:00:00Z"}, // midnight is skipped
		{"America/Sao_Paulo", "2018-02-18", "2018-02-18T03:00:00Z"}, // 23:00 to 24:00 comes twice
		{"America/Havana", "2024-03-10", "2024-03-10T05:00:00Z"},    // midnight is skipped
		{"America/Havana", "2024-11-03", "2024-11-03T04:00:00Z"},    // 00:00 to 01:00 comes twice
		{"America/St_Johns", "2010-11-07", "2010-11-07T03:30:00Z"},  // the day began, went back, and began again
		{"Pacific/Apia", "2011-12-30", "2011-12-30T10:00:00Z"},      // a day that was left out
		{"Pacific/Apia", "2011-12-31", "2011-12-30T10:00:00Z"},
	} {
		if got := startOfDay(day(t, c.day), zone(t, c.zone)); !got.Equal(at(t, c.want)) {
			t.Errorf("%s in %s begins %s, want %s", c.day, c.zone, got.UTC().Format(time.RFC3339), c.want)
		}
	}
}

func TestSameTime(t *testing.T) {
	for _, c := range []struct{ zone, time, day, want string }{
		{"Europe/Vienna", "2026-03-17T09:30:15Z", "2026-03-29", "2026-03-29T08:30:15Z"},
		{"Europe/Vienna", "2026-03-17T01:30:00Z", "2026-03-29", "2026-03-29T01:00:00Z"},    // 02:30 is skipped
		{"Europe/Vienna", "2026-10-13T00:30:00Z", "2026-10-25", "2026-10-25T01:30:00Z"},    // 02:30 comes twice
		{"America/New_York", "2026-02-24T07:30:00Z", "2026-03-08", "2026-03-08T07:00:00Z"}, // 02:30 is skipped
		{"America/New_York", "2026-10-20T05:30:00Z", "2026-11-01", "2026-11-01T06:30:00Z"}, // 01:30 comes twice
	} {
		if got := sameTime(at(t, c.time), day(t, c.day), zone(t, c.zone)); !got.Equal(at(t, c.want)) {
			t.Errorf("%s of %s in %s: %s, want %s", c.day, c.time, c.zone, got.UTC().Format(time.RFC3339), c.want)
		}
	}
}

var someZones = []string{"UTC", "Europe/Vienna", "Europe/London", "America/New_York", "America/Sao_Paulo", "America/Havana",
	"Asia/Kathmandu", "Asia/Tehran", "Africa/Casablanca", "Australia/Lord_Howe", "Pacific/Apia", "Pacific/Chatham", "Antarctica/Troll"}

// An instant lies in its day: not before it begins, and before the next one begins.
func TestDaysHoldTheirInstants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(someZones).Draw(t, "zone")
		z, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		i := time.Unix(rapid.Int64Range(0, 2_500_000_000).Draw(t, "instant"), 0)
		d := dateOf(i.In(z))
		if start, next := startOfDay(d, z), startOfDay(d.AddDays(1), z); i.Before(start) || !i.Before(next) {
			t.Fatalf("%s in %s is day %s from %s to %s", i.UTC(), name, d, start, next)
		}
	})
}

// A clock of the zone shows the time of sameTime, or the time was skipped; and nothing later shows it.
func TestSameTimeIsShown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z, err := time.LoadLocation(rapid.SampledFrom(someZones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		i := time.Unix(rapid.Int64Range(0, 2_500_000_000).Draw(t, "instant"), 0)
		d := dateOf(i.In(z)).AddDays(rapid.IntRange(0, 400).Draw(t, "days"))
		got := sameTime(i, d, z)
		wall := func(x time.Time) string { return x.In(z).Format("2006-01-02 15:04:05") }
		want := d.String() + i.In(z).Format(" 15:04:05")
		if wall(got) != want {
			// Skipped: clocks show less just before and more from then on.
			if wall(got.Add(-time.Nanosecond)) >= want || wall(got) <= want {
				t.Fatalf("%s, want %s", wall(got), want)
			}
			return
		}
		for _, later := range []time.Duration{30 * time.Minute, time.Hour, 2 * time.Hour, 24 * time.Hour} {
			if wall(got.Add(later)) == want {
				t.Fatalf("%s comes again %s later", want, later)
			}
		}
	})
}

func TestMonthsKeepTheirOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Date{2000, 1, 1}.AddDays(rapid.IntRange(0, 40_000).Draw(t, "day"))
		n := rapid.IntRange(0, 1200).Draw(t, "months")
		got := d.AddMonths(n)
		if months := (got.Year-d.Year)*12 + int(got.Month-d.Month); months != n || got.Day > d.Day || got.Day < min(d.Day, 28) {
			t.Fatalf("%s and %d months is %s", d, n, got)
		}
		if got.Day < d.Day && got.AddDays(1).Day != 1 {
			t.Fatalf("%s and %d months is %s, which is not the end of a month", d, n, got)
		}
		if next := d.AddDays(1).AddMonths(n); next.Before(got) {
			t.Fatalf("a day later ends earlier: %s after %s", next, got)
		}
	})
}

func TestDateText(t *testing.T) {
	for _, text := range []string{"", "2026-02-29", "2026-2-9", "29.02.2028", "0000-01-01", "2026-01-01T00:00:00Z"} {
		if _, err := ParseDate(text); err == nil {
			t.Errorf("%q is taken for a day", text)
		}
	}
	d := day(t, "2028-02-29")
	text, err := json.Marshal(d)
	var back Date
	if err != nil || string(text) != `"2028-02-29"` || json.Unmarshal(text, &back) != nil || back != d {
		t.Errorf("%s reads back as %s", text, back)
	}
}
