// Package layout holds one test: the rooms of the program import each other in one direction
// only. doc/design.md says why.
package layout

import (
	"fmt"
	"go/build/constraint"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "wreath"

// science lists the packages that anyone may import, each with the packages of ours that it may
// import itself. None of them knows a clock, a disk, a network or a database.
var science = map[string][]string{
	"quantity":    {},
	"uncertainty": {"quantity"},
	"fluid":       {"quantity", "uncertainty"},
	"hydrostatic": {"quantity", "uncertainty"}, // it takes densities and does not know fluid
	"alloy":       {"quantity", "uncertainty", "internal/nearest"},
	"gem":         {"quantity", "uncertainty", "internal/nearest"},
	"evidence":    {},           // a reading against a range, whatever the material is called
	"mint":        {"quantity"}, // facts of law
	"composite":   {},
	"conformity":  {"quantity", "uncertainty", "internal/nearest"}, // it knows neither metals nor stones
	"fault":       {},                                              // it takes specific volumes and knows no material
	"settle":      {},                                              // it takes numbers with their times and knows no unit

	"internal/nearest": {},
}

// program lists the rooms below the commands in the same way.
var program = map[string][]string{
	"internal/strictjson": {"internal/nearest"},
	"internal/line":       {"quantity", "internal/strictjson"},
	"internal/determination": {"quantity", "uncertainty", "fluid", "hydrostatic", "alloy", "gem", "composite", "conformity", "evidence", "fault", "mint",
		"internal/nearest", "internal/strictjson"},
	"internal/people":     {"internal/strictjson"},
	"internal/vault":      {"internal/strictjson"},
	"internal/keyring":    {},
	"internal/value":      {"quantity", "alloy", "internal/determination", "internal/nearest", "internal/strictjson"},
	"internal/photo":      {"internal/strictjson"},
	"internal/plan":       {"alloy", "conformity", "internal/determination"},
	"internal/handsfree":  {"settle"},
	"internal/picture":    {"uncertainty", "alloy", "gem", "internal/determination", "internal/plan", "internal/sentence"},
	"internal/sentence":   {},
	"internal/settling":   {"settle"},
	"internal/register":   {"internal/nearest", "internal/strictjson"},
	"internal/report":     {"quantity", "uncertainty", "conformity", "internal/determination"},
	"internal/simulation": {"quantity", "fluid", "alloy", "internal/determination"},
	"internal/simulated":  {"internal/line", "internal/simulation", "internal/source"},
	"internal/practice":   {"internal/determination", "internal/simulation"},
	"internal/station":    {"internal/determination", "internal/nearest", "internal/strictjson"},
	"internal/record":     {"internal/determination", "internal/nearest", "internal/station", "internal/strictjson", "quantity"},

	"internal/proof": {"uncertainty", "internal/determination", "internal/record"},
	"internal/paper": {"internal/determination", "internal/people", "internal/record", "internal/station"},
	"internal/press": {"uncertainty", "alloy", "conformity", "internal/determination", "internal/paper", "internal/people", "internal/picture", "internal/record", "internal/sentence", "internal/station", "internal/value"},

	"internal/tables": {"quantity", "internal/nearest"}, // cells are texts; it knows no store

	"internal/materials": {"quantity", "fluid", "alloy", "gem", "evidence", "fault", "mint", "internal/determination"},
	"internal/desk": {"internal/determination", "internal/ledger", "internal/line", "internal/paper", "internal/people", "internal/photo", "internal/proof", "internal/record",
		"internal/register", "internal/spool", "internal/station", "internal/store", "internal/strictjson", "internal/tables", "internal/value", "internal/vault"},
	"internal/demo": {"quantity", "fluid", "alloy", "gem", "internal/desk", "internal/determination", "internal/people", "internal/practice", "internal/record",
		"internal/register", "internal/simulated", "internal/simulation", "internal/station", "internal/value", "internal/vault"},
	"internal/web": {"quantity", "uncertainty", "alloy", "gem", "mint", "settle", "internal/handsfree", "internal/line", "internal/live", "internal/source", "internal/desk", "internal/determination", "internal/ledger", "internal/materials",
		"internal/people", "internal/paper", "internal/picture", "internal/plan", "internal/practice", "internal/press", "internal/proof", "internal/record", "internal/register", "internal/sentence", "internal/simulated", "internal/simulation", "internal/spool", "internal/station", "internal/store", "internal/strictjson", "internal/tables", "internal/value", "internal/vault"},

	"internal/spool": {"internal/strictjson"}, // it sends bytes and does not know what they say

	"internal/source": {}, // it brings in bytes and does not read them
	"internal/live":   {"settle", "internal/line", "internal/source"},

	"internal/handsfree/trial": {"quantity", "fluid", "settle", "internal/handsfree", "internal/simulation"}, // for its table and tests

	"internal/ledger":          {}, // it chains bytes
	"internal/store":           {"internal/ledger"},
	"internal/store/sqlite":    {"internal/store"},
	"internal/store/postgres":  {"internal/store"},
	"internal/store/pgtest":    {},
	"internal/store/storetest": {"internal/ledger", "internal/store"},

	"internal/store/faultfs":      {}, // for tests
	"internal/people/passkeytest": {}, // for tests
}

// outside are the packages through which Go meets clock, disk, network, other programs and
// databases, or leaves its own safety. A trailing slash takes in everything below.
var outside = []string{
	"C", "database/", "io/ioutil", "log", "log/", "net", "net/", "os", "os/", "plugin", "syscall", "time", "unsafe",
}

// onlyForTests may be imported by test files and by testRooms alone.
var onlyForTests = []string{"testing", "testing/", "pgregory.net/rapid", "github.com/google/go-cmp/",
	"wreath/internal/people/passkeytest", "wreath/internal/store/faultfs", "wreath/internal/store/pgtest", "wreath/internal/store/storetest"}

// testRooms hold what several packages need for their tests.
var testRooms = []string{"internal/store/pgtest", "internal/store/storetest"}

// file is one Go file and what it imports.
type file struct {
	name    string // path in the tree
	room    string // its folder; "." is the root
	imports []string
}

func TestImportsPointOneWay(t *testing.T) {
	files := readTree(t, filepath.Join("..", ".."))
	rooms := map[string]bool{}
	for _, f := range files {
		rooms[f.room] = true
	}
	for _, rules := range []map[string][]string{science, program} {
		for room := range rules {
			if !rooms[room] {
				t.Errorf("package %s is in the rules and not in the tree", room)
			}
		}
	}
	for _, complaint := range judge(files) {
		t.Error(complaint)
	}
}

func TestJudgeNamesThePair(t *testing.T) {
	for _, row := range []struct {
		room, imports string
		offends       bool
	}{
		{"uncertainty", "wreath/quantity", false},
		{"quantity", "wreath/uncertainty", true},
		{"hydrostatic", "wreath/fluid", true},
		{"conformity", "wreath/alloy", true},
		{"conformity", "wreath/gem", true},
		{"conformity", "wreath/internal/nearest", false},
		{"gem", "wreath/alloy", true},
		{"alloy", "wreath/internal/determination", true},
		{"fluid", "os", true},
		{"fluid", "net/http", true},
		{"fluid", "embed", false},
		{"uncertainty", "time", true},
		{"gem", "database/sql", true},
		{"alloy", "testing/fstest", true},
		{"internal/nearest", "os", true},
		{"internal/determination", "wreath/alloy", false},
		{"internal/determination", "wreath/internal/web", true},
		{"internal/determination", "wreath/cmd/wreath", true},
		{"internal/determination", "time", false},
		{"internal/report", "wreath/internal/determination", false},
		{"internal/determination", "wreath/internal/report", true},
		{"internal/other", "wreath/cmd/wreath", true},
		{"internal/ledger", "wreath/internal/store", true},
		{"internal/store/sqlite", "wreath/internal/store/storetest", true},
		{"internal/store/storetest", "testing", false},
		{"cmd/wreath", "wreath/internal/store/pgtest", true},
		{"cmd/wreath", "wreath/internal/determination", false},
		{"cmd/wreath", "testing", true},
	} {
		complaints := judge([]file{{row.room + "/x.go", row.room, []string{row.imports}}})
		if !row.offends {
			if len(complaints) > 0 {
				t.Errorf("%s -> %s: %v, want no complaint", row.room, row.imports, complaints)
			}
			continue
		}
		if len(complaints) == 0 || !strings.Contains(complaints[0], row.room) || !strings.Contains(complaints[0], row.imports) {
			t.Errorf("%s -> %s: %v, want a complaint that names both", row.room, row.imports, complaints)
		}
	}
}

// judge returns one complaint for every import that points the wrong way.
func judge(files []file) []string {
	var complaints []string
	for _, f := range files {
		allowed, isScience := science[f.room]
		known := isScience
		if !known {
			allowed, known = program[f.room]
		}
		for _, imported := range f.imports {
			ours, inModule := strings.CutPrefix(imported, module+"/")
			complain := func(why string) {
				complaints = append(complaints, fmt.Sprintf("%s: %s imports %s; %s", f.name, f.room, imported, why))
			}
			switch {
			case oneOf(imported, onlyForTests) && !slices.Contains(testRooms, f.room):
				complain("only test files may")
			case isScience && oneOf(imported, outside):
				complain("the science knows no clock, disk, network or database")
			case !inModule:
			case strings.HasPrefix(ours, "cmd/"):
				complain("nothing imports a command")
			case known && !slices.Contains(allowed, ours):
				complain("it may import of ours only [" + strings.Join(allowed, " ") + "]")
			}
		}
	}
	return complaints
}

func oneOf(imported string, list []string) bool {
	return slices.ContainsFunc(list, func(entry string) bool {
		return imported == entry || strings.HasSuffix(entry, "/") && strings.HasPrefix(imported, entry)
	})
}

// readTree reads the imports of every Go file, for whatever system it is meant, but for tests
// and for programs that only go generate runs.
func readTree(t *testing.T, root string) []file {
	t.Helper()
	var files []file
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		below, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		below = filepath.ToSlash(below)
		if d.IsDir() {
			if base := d.Name(); below != "." && (strings.HasPrefix(base, ".") || base == "testdata" || base == "node_modules") {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(below, ".go") || strings.HasSuffix(below, "_test.go") {
			return nil
		}
		text, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		if ignored(string(text)) {
			return nil
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), name, text, parser.ImportsOnly)
		if err != nil {
			return err
		}
		f := file{name: below, room: path.Dir(below)}
		for _, spec := range parsed.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			f.imports = append(f.imports, imported)
		}
		files = append(files, f)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// ignored tells the files that stand beside a package and are run by go generate.
func ignored(text string) bool {
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "package ") {
			return false
		}
		if constraint.IsGoBuild(line) {
			expr, err := constraint.Parse(line)
			return err == nil && expr.String() == "ignore"
		}
	}
	return false
}
