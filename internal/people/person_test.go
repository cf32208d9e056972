package people

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestPersonCheck(t *testing.T) {
	for _, c := range []struct {
		name        string
		change      func(*Person)
		path, words string
	}{
		{"good", func(p *Person) {}, "", ""},
		{"other script", func(p *Person) { p.Name = "Ἀρχιμήδης Παράδειγμα" }, "", ""},
		{"with end", func(p *Person) { u := noon.AddDate(1, 0, 0); p.Until = &u }, "", ""},
		{"format", func(p *Person) { p.Format = 2 }, "format", "newer"},
		{"capital id", func(p *Person) { p.ID = "Ada" }, "id", "small letters"},
		{"short id", func(p *Person) { p.ID = "a" }, "id", "2 to 32"},
		{"id of digits", func(p *Person) { p.ID = "12" }, "id", "letter first"},
		{"no name", func(p *Person) { p.Name = " " }, "name", "empty"},
		{"two spaces", func(p *Person) { p.Name = "Ada  Example" }, "name", "space too many"},
		{"hidden character", func(p *Person) { p.Name = "Ada\u200bExample" }, "name", "U+200B"},
		{"other space", func(p *Person) { p.Name = "Ada\u00a0Example" }, "name", "U+00A0"},
		{"direction", func(p *Person) { p.Name = "Ada\u202eExample" }, "name", "U+202E"},
		{"line break", func(p *Person) { p.Name = "Ada\nExample" }, "name", "U+000A"},
		{"decomposed", func(p *Person) { p.Name = "Rene\u0301" }, "name", "NFC"},
		{"long name", func(p *Person) { p.Name = strings.Repeat("a", 201) }, "name", "200"},
		{"no role", func(p *Person) { p.Roles = nil }, "roles", "at least one"},
		{"unknown role", func(p *Person) { p.Roles = []Role{"owner"} }, "roles", "no role owner"},
		{"role twice", func(p *Person) { p.Roles = []Role{Sign, Sign} }, "roles", "twice"},
		{"no since", func(p *Person) { p.Since = time.Time{} }, "since", "missing"},
		{"ends before", func(p *Person) { u := p.Since.Add(-1); p.Until = &u }, "until", "before"},
		{"left without day", func(p *Person) { p.Ended = true }, "until", "left"},
		{"generation", func(p *Person) { p.Generation = 0 }, "generation", "1"},
	} {
		p := person("ada", Measure)
		c.change(&p)
		err := p.Check()
		if c.path == "" {
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			roundTrip(t, p)
			continue
		}
		wantField(t, c.name, err, c.path, c.words)
	}
}

func TestActive(t *testing.T) {
	p := person("ada", Measure)
	until := noon.Add(time.Hour)
	p.Until = &until
	for at, want := range map[time.Time]bool{
		p.Since.Add(-1): false, p.Since: true, noon: true, until.Add(-1): true, until: false, until.AddDate(1, 0, 0): false,
	} {
		if got := p.Active(at); got != want {
			t.Errorf("active at %s: %v, want %v", at, got, want)
		}
	}
}

// Whatever the clock says later, who has left has left.
func TestLeaverStaysOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := person("ada", Roles...)
		left := p.Leave(noon.Add(time.Duration(rapid.Int64Range(-1<<50, 1<<50).Draw(t, "leaves"))))
		at := noon.Add(time.Duration(rapid.Int64Range(-1<<55, 1<<55).Draw(t, "looked at")))
		if left.Active(at) {
			t.Fatalf("active at %s", at)
		}
		if left.Generation <= p.Generation {
			t.Fatal("the generation did not rise")
		}
		if err := left.Check(); err != nil {
			t.Fatal(err)
		}
		if again := left.Leave(at); *again.Until != *left.Until || again.Generation != left.Generation {
			t.Fatal("leaving twice changed the first leaving")
		}
	})
}

func TestCheckAdd(t *testing.T) {
	ada := person("ada", Administer)
	gone := person("ben", Measure).Leave(noon)
	all := []Person{ada, gone}
	noError(t, CheckAdd(all, person("cleo", Measure), noon))
	wantField(t, "id in use", CheckAdd(all, person("ada", Measure), noon), "id", "never given again")
	wantField(t, "id of a leaver", CheckAdd(all, person("ben", Measure), noon), "id", "ben-2")
	twin := person("dora", Measure)
	twin.Name = "ada example"
	wantField(t, "same name", CheckAdd(all, twin, noon), "name", "tells them apart")
	twin.Name = gone.Name
	noError(t, CheckAdd(all, twin, noon))
	wantField(t, "unfit", CheckAdd(all, Person{}, noon), "format", "1")
}

func TestCheckChangeKeepsAnAdministrator(t *testing.T) {
	ada, ben := person("ada", Administer), person("ben", Measure)
	all := []Person{ada, ben}
	noError(t, CheckChange(all, ben.Leave(noon), noon))
	wantField(t, "last one leaves", CheckChange(all, ada.Leave(noon), noon), "roles", "someone who stays")
	wantField(t, "last one changes roles", CheckChange(all, ada.WithRoles([]Role{Sign}), noon), "roles", "administer")
	day := noon.AddDate(0, 1, 0)
	soon := ada
	soon.Until = &day
	wantField(t, "last one is to leave", CheckChange(all, soon, noon), "roles", "administer")
	two := []Person{ada, ben.WithRoles([]Role{Administer})}
	noError(t, CheckChange(two, ada.Leave(noon), noon))

	back := ben.Leave(noon)
	back.Ended, back.Until = false, nil
	wantField(t, "comes back", CheckChange([]Person{ada, ben.Leave(noon)}, back, noon), "ended", "new id")
	old := ben
	old.Generation = 0
	wantField(t, "generation", CheckChange(all, old, noon), "generation", "1")
	wantField(t, "generation back", CheckChange([]Person{ada, ben.PasswordChanged()}, ben, noon), "generation", "as stored")
	wantField(t, "stranger", CheckChange(all, person("cleo", Measure), noon), "id", "Add the person")
}
