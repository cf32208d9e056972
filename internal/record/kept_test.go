package record

import (
	"crypto/sha256"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"wreath/internal/determination"
	"wreath/internal/station"
)

var update = flag.Bool("update", false, "add records to testdata/records that are not there yet; those that are there stay")

const kept = "testdata/records/format-1"

// keptRecords make the records of the set that stays for ever. A record that is in the set already
// is not made again: what stands here may change, the record does not.
var keptRecords = []struct {
	name string
	make func(*testing.T, Making) (*Record, error)
}{
	{"immersion-hanging-met", ofExample("ring")},
	{"immersion-standing", ofExample("standing-vessel")},
	{"immersion-in-ethanol", ofExample("ring-in-ethanol")},
	{"immersion-bar-on-a-hook", ofExample("bar")},
	{"silver-undecided", ofExample("spoon")},
	{"platinum", ofExample("platinum-band")},
	{"stone-in-carat", ofExample("stone")},
	{"pycnometer", ofExample("gold-dust")},
	{"impregnated", ofExample("porous-casting")},
	{"sinker-aided", ofText(`{"item": {"description": "bead said to be amber"}, "method": "sinker-aided", "air_g": [2.9971], "liquid_g": [17.6733, 17.6735],
 "sinker_liquid_g": [17.4851], "liquid": {"kind": "water", "temperature_c": 20}, "balance": {"resolution_g": 0.0001}}`)},
	{"coated", ofText(`{"item": {"description": "porous casting, lacquered"}, "claim": {"metal": "gold", "fineness": 750}, "method": "coated",
 "air_g": [12.5009], "coated_air_g": [12.7006], "liquid_g": [11.6311, 11.6313], "coating": {"density_kg_m3": 900, "density_u_kg_m3": 5},
 "liquid": {"kind": "water", "temperature_c": 20}, "balance": {"resolution_g": 0.0001}}`)},
	{"comparison", ofText(`{"item": {"description": "plain band"}, "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow"}, "method": "comparison",
 "air_g": [7.4218], "liquid_g": [6.9431, 6.9428], "closing_air_g": [7.4218],
 "reference": {"air_g": [39.6500], "liquid_g": [34.6655], "density_kg_m3": 7930, "density_u_kg_m3": 0.4},
 "liquid": {"kind": "water", "temperature_c": 21.4}, "balance": {"resolution_g": 0.0001}}`)},
	{"measured-liquid", ofText(`{"claim": {"metal": "gold", "fineness": 585}, "house_rule": "first-look", "air_g": "62.2155 ct", "liquid_g": ["58.0004 ct"],
 "liquid": {"density_kg_m3": 870.2, "density_u_kg_m3": 0.3, "temperature_c": 20.5, "name": "toluene"}, "air": {"altitude_m": 1600}}`)},
	{"suspended-took-up-liquid", ofText(`{"claim": {"metal": "gold", "fineness": 750}, "air_g": [7.4218], "liquid_g": [6.9431, 6.9428], "closing_air_g": [7.4262],
 "liquid": {"kind": "water", "temperature_c": 21.4}, "balance": {"resolution_g": 0.0001}}`)},
	{"not-met", ofText(`{"item": {"colour": "yellow"}, "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow"}, "house_rule": "two-immersions",
 "air_g": [8.0003], "liquid_g": [7.3980, 7.3981], "liquid": {"kind": "water", "temperature_c": 21, "temperature_u_c": 0.1}, "balance": {"resolution_g": 0.0001}}`)},
	{"station-withdrawn-reading", func(t *testing.T, m Making) (*Record, error) {
		s, with := ring(t)
		m.Station, m.Instruments = with.Station, with.Instruments
		return Make(s, m)
	}},
	{"station-claim-changed-late", func(t *testing.T, m Making) (*Record, error) {
		s, with := ring(t)
		s = must[Sheet](t)(s.Change([]byte(strings.Replace(claimDoc, "750, ", "585, ", 1)), at(9), "the stamp was misread"))
		s = must[Sheet](t)(s.Note(at(9), "Stamp read again under the glass."))
		m.Station, m.Instruments = with.Station, with.Instruments
		m.Options.MonteCarlo = determination.WhereNeeded
		return Make(s, m)
	}},
	{"station-corrected", func(t *testing.T, m Making) (*Record, error) {
		s, with := ring(t)
		s = must[Sheet](t)(s.Withdraw(4, at(20), "misread"))
		s = taken(t, s, reading("air_g", "7.4219", 21))
		m.Station, m.Instruments = with.Station, with.Instruments
		m.Supersedes = &Supersedes{"station-withdrawn-reading", "F1-station-withdrawn-reading", "the first reading in air was misread"}
		return Make(s, m)
	}},
}

func ofExample(name string) func(*testing.T, Making) (*Record, error) {
	return func(t *testing.T, m Making) (*Record, error) {
		return ofText(string(examples(t)[name]))(t, m)
	}
}

func ofText(document string) func(*testing.T, Making) (*Record, error) {
	return func(_ *testing.T, m Making) (*Record, error) {
		return MakeFromDocument([]byte(document), Sheet{ID: "sheet-of-" + m.ID, Opened: at(0)}, Typed, m)
	}
}

// addKept writes the records that are not in the set yet.
func addKept(t *testing.T) {
	t.Helper()
	if err := os.MkdirAll(kept, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, k := range keptRecords {
		name := filepath.Join(kept, k.name+".json")
		if _, err := os.Stat(name); err == nil {
			continue
		}
		r, err := k.make(t, Making{ID: k.name, Number: "F1-" + k.name, Made: at(30), Options: determination.Options{Version: "0.1.0"}})
		if err != nil {
			t.Fatalf("%s: %v", k.name, err)
		}
		text := must[[]byte](t)(r.Encode())
		if err := os.WriteFile(name, text, 0o644); err != nil {
			t.Fatal(err)
		}
		sums, err := os.OpenFile(filepath.Join(kept, "SHA256SUMS"), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := fmt.Fprintf(sums, "%x  %s.json\n", sha256.Sum256(text), k.name); err != nil {
			t.Fatal(err)
		}
		if err := sums.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// TestKeptRecords reads the records of earlier programs, checks that they are as they were, and
// evaluates them again: the same at the printed digits everywhere, and bit for bit where compiler,
// processor and formulas are the same.
func TestKeptRecords(t *testing.T) {
	if *update {
		addKept(t)
	}
	sums := map[string]string{}
	for line := range strings.Lines(string(must[[]byte](t)(os.ReadFile(filepath.Join(kept, "SHA256SUMS"))))) {
		sum, name, ok := strings.Cut(strings.TrimSpace(line), "  ")
		if !ok || sums[name] != "" {
			t.Fatalf("SHA256SUMS: %q", line)
		}
		sums[name] = sum
	}
	if len(sums) < 12 {
		t.Errorf("only %d records are kept", len(sums))
	}
	for _, k := range keptRecords {
		if sums[k.name+".json"] == "" {
			t.Errorf("%s is not kept yet: go test ./internal/record -run TestKeptRecords -update", k.name)
		}
	}
	files := must[[]string](t)(filepath.Glob(filepath.Join(kept, "*.json")))
	for _, name := range files {
		if sums[filepath.Base(name)] == "" {
			t.Errorf("%s has no line in SHA256SUMS", name)
		}
	}
	seen := map[string]bool{}
	for name, sum := range sums {
		text := must[[]byte](t)(os.ReadFile(filepath.Join(kept, name)))
		if got := fmt.Sprintf("%x", sha256.Sum256(text)); got != sum {
			t.Errorf("%s was changed: its hash is %s, not %s", name, got, sum)
		}
		r, err := Decode(text)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if again := must[[]byte](t)(r.Encode()); string(again) != string(text) {
			t.Errorf("%s is written otherwise now:\n%s", name, again)
		}
		p, err := Again(r, determination.Options{Version: "now"})
		if err != nil {
			t.Errorf("%s can't be evaluated any more: %v", name, err)
			continue
		}
		v := r.Versions
		same := v.Go == runtime.Version() && v.Arch == runtime.GOARCH && v.Formulas == determination.FormulasEdition && v.Tables == determination.TablesEdition
		older := v.Formulas != determination.FormulasEdition || v.Tables != determination.TablesEdition
		for _, f := range p.Figures {
			if older && !measured(f.Path) {
				continue // another edition judges otherwise, and says so; what was measured stays
			}
			if f.Shows || same {
				t.Errorf("%s: %s was %s and is %s", name, f.Path, f.Old, f.New)
			}
		}
		for _, c := range p.Document {
			t.Errorf("%s: the document's %s was %s and is %s", name, c.Path, c.Old, c.New)
		}
		s := must[*Summary](t)(r.Summary())
		method, _, _ := strings.Cut(s.Method, ",")
		seen[method], seen[s.Finding] = true, true
		seen["suspended"] = seen["suspended"] || s.Suspended
		seen["corrected"] = seen["corrected"] || r.Supersedes != nil
		seen["station"] = seen["station"] || r.Station != nil
	}
	for _, kind := range slices.Concat(determination.Methods, []string{"met", "not met", "undecided", "none", "suspended", "corrected", "station"}) {
		if !seen[kind] {
			t.Errorf("no record that is kept shows %s", kind)
		}
	}
}

// measured is true for a figure of the measurement, which no edition of the judging may move.
func measured(path string) bool {
	for _, name := range []string{"density", "density_20c", "liquid_density", "air_density", "volume", "true_mass", "open_porosity", "budget", "monte_carlo", "method", "id", "item"} {
		if strings.HasPrefix(path, name) {
			return true
		}
	}
	return false
}

// TestKeptRecordsAreWatched: a changed figure is seen, by its path.
func TestKeptRecordsAreWatched(t *testing.T) {
	text := must[[]byte](t)(os.ReadFile(filepath.Join(kept, "pycnometer.json")))
	r := must[*Record](t)(Decode(text))
	var a determination.Answer
	if err := json.Unmarshal(r.Answer, &a); err != nil {
		t.Fatal(err)
	}
	a.Density20C.UKgM3 *= 1.0001
	r.Answer = must[[]byte](t)(json.Marshal(a))
	p := must[*Repeat](t)(Again(r, determination.Options{}))
	if !slices.ContainsFunc(p.Figures, func(f Figure) bool { return f.Path == "density_20c.u_kg_m3" && f.Shows }) {
		t.Errorf("%+v", p)
	}
	if got := (station.Change{Old: "1", New: "1.0000001"}); shows(got) {
		t.Error("a seventh digit shows")
	}
}
