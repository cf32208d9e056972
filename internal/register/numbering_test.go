package register

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/internal/strictjson"
)

func TestNextRestartsAtLocalNewYear(t *testing.T) {
	b := nowhere(t)
	c := Counter{}
	for _, step := range []struct{ at, want string }{
		{"2026-01-01T08:00:00Z", "A-2026-00001"},
		{"2026-12-31T22:59:59Z", "A-2026-00002"}, // 23:59:59 in Vienna
		{"2026-12-31T23:00:00Z", "A-2027-00001"}, // midnight in Vienna
		{"2027-07-09T21:00:00Z", "A-2027-00002"},
		{"2027-07-09T22:00:00Z", "A-2027-00003"}, // the second edition goes on counting
	} {
		var got string
		var err error
		if got, c, err = b.Next(c, at(t, step.at)); err != nil || got != step.want {
			t.Errorf("at %s: %q, %v, want %q", step.at, got, err, step.want)
		}
	}
	_, after, err := b.Next(c, at(t, "2026-12-31T12:00:00Z"))
	var field *strictjson.FieldError
	if !errors.As(err, &field) || !strings.Contains(field.Hint, "clock") || after != c {
		t.Errorf("a clock set back over New Year: %v, counter %v", err, after)
	}
}

// A clock set back does not take the year of the counter back: a later yearly restart would give
// numbers again.
func TestYearNeverGoesBack(t *testing.T) {
	n := Numbering{"A-{year}-{number}", Never}
	number, c, err := n.next(Counter{2027, 5}, 2026)
	if err != nil || number != "A-2027-6" || c != (Counter{2027, 6}) {
		t.Errorf("got %s, %v, %v, want A-2027-6", number, c, err)
	}
}

func TestPatterns(t *testing.T) {
	c := Counter{2026, 42}
	for text, want := range map[string]string{
		"{number}": "42", "{number:5}": "00042", "A-{year}-{number:3}": "A-2026-042", "{number:2}/{year}": "42/2026", "{year}{number:4}K.1": "20260042K.1",
	} {
		p, err := parsePattern(text)
		if err != nil || p.write(c) != want {
			t.Errorf("%s: %q, %v, want %q", text, p.write(c), err, want)
			continue
		}
		back, ok := p.read(want)
		if !ok || back.Last != 42 || p.hasYear() && back.Year != 2026 {
			t.Errorf("%s: %q reads back as %v", text, want, back)
		}
	}
	p, err := parsePattern("A{number:3}")
	if err != nil {
		t.Fatal(err)
	}
	if got := p.write(Counter{Last: 12345}); got != "A12345" {
		t.Errorf("more digits than the padding: %s", got)
	}
	for _, text := range []string{"", "A", "A42", "A0042", "B042", "A+42", "A-42", "A000", "A42a", "A042\n", "A99999999999999999999", "Ａ042"} {
		if c, ok := p.read(text); ok {
			t.Errorf("%q is read as %v", text, c)
		}
	}
}

func TestNextRefusesImpossibleCounters(t *testing.T) {
	for _, last := range []int64{-1, math.MaxInt64} {
		if number, _, err := plainNumbering.next(Counter{2026, last}, 2026); err == nil {
			t.Errorf("after %d comes %s", last, number)
		}
	}
}

// Whatever the clock and the editions do, no number is given twice, and those that were given have
// no gap.
func TestNumbersAreConsecutiveAndNeverReused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := None(rapid.SampledFrom(someZones).Draw(t, "zone"))
		n := Numbering{Pattern: rapid.SampledFrom([]string{"A-{year}-{number:2}", "{year}{number:3}", "N{number}/{year}"}).Draw(t, "pattern"),
			Restart: rapid.SampledFrom([]string{"", Yearly, Never}).Draw(t, "restart")}
		r.Editions = []Edition{{Edition: "e", Source: "s", ValidFrom: Date{2020, 1, 1}, Numbering: &n}}
		b, err := New(r)
		if err != nil {
			t.Fatal(err)
		}
		start := Counter{2024, rapid.Int64Range(0, 50).Draw(t, "start")}
		c, now := start, time.Date(2024, 6, 1, 0, 0, 0, 0, time.UTC)
		seen := map[string]bool{}
		var list []Given
		var ends []Counter // the counter at the end of each year
		for range rapid.IntRange(1, 60).Draw(t, "deals") {
			now = now.Add(time.Duration(rapid.IntRange(-100, 1500).Draw(t, "hours")) * time.Hour)
			number, next, err := b.Next(c, now)
			if err != nil {
				continue // a clock set back over New Year gets no number
			}
			if seen[number] {
				t.Fatalf("%s was given twice", number)
			}
			seen[number] = true
			if next.Year != c.Year {
				ends = append(ends, c)
			}
			c = next
			list = append(list, Given{Number: number})
		}
		faults, err := n.Gaps(list, start, c)
		if err != nil || len(faults) > 0 {
			t.Fatalf("%v: %v, %v", list, faults, err)
		}
		if len(list) == 0 {
			return
		}
		// One taken out is missed, unless it was the last of a year that is over: nothing follows it.
		i := rapid.IntRange(0, len(list)-1).Draw(t, "removed")
		gone := list[i].Number
		for _, e := range ends {
			if p, _ := parsePattern(n.Pattern); n.Restart == Yearly && p.write(e) == gone {
				return
			}
		}
		faults, err = n.Gaps(append(append([]Given(nil), list[:i]...), list[i+1:]...), start, c)
		if err != nil || len(faults) != 1 || faults[0].Kind != Missing || faults[0].Count != 1 {
			t.Fatalf("without %s: %v, %v", gone, faults, err)
		}
	})
}

func TestGaps(t *testing.T) {
	yearly, never := Numbering{"A-{year}-{number:3}", Yearly}, Numbering{"{number:3}", Never}
	list := func(numbers ...string) (given []Given) {
		for _, n := range numbers {
			given = append(given, Given{Number: n})
		}
		return given
	}
	for _, c := range []struct {
		name       string
		n          Numbering
		list       []Given
		start, end Counter
		want       []string
	}{
		{"nothing", never, nil, Counter{}, Counter{}, nil},
		{"whole, in disorder", never, list("003", "001", "002"), Counter{}, Counter{2026, 3}, nil},
		{"one", never, list("001", "003"), Counter{}, Counter{2026, 3}, []string{"number 002 is missing"}},
		{"first", never, list("002"), Counter{}, Counter{2026, 2}, []string{"number 001 is missing"}},
		{"last", never, list("001"), Counter{}, Counter{2026, 3}, []string{"the 2 numbers 002 to 003 are missing"}},
		{"all", never, nil, Counter{2026, 4}, Counter{2026, 6}, []string{"the 2 numbers 005 to 006 are missing"}},
		{"very many", never, list("001", "9000000000000"), Counter{}, Counter{2026, 9000000000000}, []string{"the 8999999999998 numbers 002 to 8999999999999 are missing"}},
		{"goes on from paper", never, list("101", "102"), Counter{2026, 100}, Counter{2026, 102}, nil},
		{"twice", never, list("001", "002", "002", "002"), Counter{}, Counter{2026, 2}, []string{"number 002 stands in the register 3 times"}},
		{"strange", never, list("001", "A-1"), Counter{}, Counter{2026, 1}, []string{`"A-1" is not a number of this register`}},
		{"not given yet", never, list("001", "002"), Counter{}, Counter{2026, 1}, []string{"number 002 was never given"}},
		{"before the start", never, list("001", "002"), Counter{2026, 1}, Counter{2026, 2}, []string{"number 001 was never given"}},
		{"void", never, []Given{{"001", true, "typed twice"}, {"002", true, " "}}, Counter{}, Counter{2026, 2}, []string{"number 002 is void without a reason"}},
		{"years", yearly, list("A-2026-001", "A-2026-002", "A-2027-001"), Counter{}, Counter{2027, 1}, nil},
		{"start of a year", yearly, list("A-2026-001", "A-2027-003"), Counter{}, Counter{2027, 3}, []string{"the 2 numbers A-2027-001 to A-2027-002 are missing"}},
		{"a whole new year", yearly, list("A-2026-001"), Counter{}, Counter{2027, 2}, []string{"the 2 numbers A-2027-001 to A-2027-002 are missing"}},
		{"same number in two years", yearly, list("A-2026-001", "A-2027-001"), Counter{}, Counter{2027, 1}, nil},
	} {
		faults, err := c.n.Gaps(c.list, c.start, c.end)
		var got []string
		for _, f := range faults {
			got = append(got, f.String())
		}
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %q, %v, want %q", c.name, got, err, c.want)
		}
	}
	if _, err := (Numbering{Pattern: "x"}).Gaps(nil, Counter{}, Counter{}); err == nil {
		t.Error("a pattern without a number is accepted")
	}
}

// Numbering stays as it was on days that no edition speaks of.
func TestNumberingGoesOnWithoutAnEdition(t *testing.T) {
	until := Date{2026, 6, 30}
	r := None("UTC")
	r.Editions = []Edition{
		{Edition: "later", Source: "s", ValidFrom: Date{2027, 1, 1}}, // speaks of other things
		{Edition: "first", Source: "s", ValidFrom: Date{2026, 1, 1}, ValidUntil: &until, Numbering: &Numbering{"A-{year}-{number}", Yearly}},
	}
	b := book(t, r)
	c := Counter{2026, 7}
	for _, step := range []struct{ at, want string }{
		{"2025-12-31T12:00:00Z", "00008"}, {"2026-06-30T12:00:00Z", "A-2026-8"}, {"2026-07-01T12:00:00Z", "A-2026-8"}, {"2027-03-01T12:00:00Z", "A-2027-1"},
	} {
		if got, _, err := b.Next(c, at(t, step.at)); err != nil || got != step.want {
			t.Errorf("at %s: %q, %v, want %q", step.at, got, err, step.want)
		}
	}
}

// FuzzRead: what reads as a number writes the same text again.
func FuzzRead(f *testing.F) {
	f.Add("A-{year}-{number:5}", "A-2026-00001")
	f.Add("{number}", "+1")
	f.Add("{year}{number}", "2026")
	f.Fuzz(func(t *testing.T, pattern, text string) {
		p, err := parsePattern(pattern)
		if err != nil {
			return
		}
		if c, ok := p.read(text); ok && (p.write(c) != text || c.Last < 1) {
			t.Fatalf("%q by %q reads as %v, which is %q", text, pattern, c, p.write(c))
		}
	})
}
