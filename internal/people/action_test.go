package people

import (
	"errors"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

type expectation struct {
	action Action
	may    []bool
	kind   Kind
}

// readMatrix reads the table that was written by hand.
func readMatrix(t testing.TB) []expectation {
	t.Helper()
	text, err := os.ReadFile("testdata/matrix.txt")
	noError(t, err)
	kinds := map[string]Kind{"r": Reads, "p": ReadsPersonal, "w": Writes, "o": Own}
	var rows []expectation
	for line := range strings.Lines(string(text)) {
		f := strings.Fields(line)
		if len(f) == 0 || f[0] == "#" {
			continue
		}
		if len(f) != 2+len(Roles) || kinds[f[len(f)-1]] == "" {
			t.Fatalf("matrix.txt: bad line %q", line)
		}
		e := expectation{action: Action(f[0]), kind: kinds[f[len(f)-1]]}
		for _, cell := range f[1 : len(f)-1] {
			if cell != "x" && cell != "." {
				t.Fatalf("matrix.txt: bad cell in %q", line)
			}
			e.may = append(e.may, cell == "x")
		}
		rows = append(rows, e)
	}
	return rows
}

func TestMatrixAllCells(t *testing.T) {
	rows := readMatrix(t)
	if len(rows) != len(Actions) {
		t.Errorf("%d actions in matrix.txt, %d in the program", len(rows), len(Actions))
	}
	columns := []Role{"measure", "sign", "instruments", "price", "audit", "administer"} // as the head of matrix.txt says
	cells := 0
	for _, row := range rows {
		r, known := rule(row.action)
		if !known || r.Kind != row.kind || r.Does == "" {
			t.Errorf("%s: known %v, %s, %q; want %s", row.action, known, r.Kind, r.Does, row.kind)
		}
		for i, role := range columns {
			if got := May([]Role{role}, row.action); got != row.may[i] {
				t.Errorf("%s may %s: %v, want %v", role, row.action, got, row.may[i])
			}
			cells++
		}
	}
	if cells != 6*len(Actions) {
		t.Errorf("%d cells looked at, want %d", cells, 6*len(Actions))
	}
}

func TestActionsAreNamedOnce(t *testing.T) {
	seen := map[Action]bool{}
	for _, r := range Actions {
		if seen[r.Action] {
			t.Errorf("%s stands twice", r.Action)
		}
		seen[r.Action] = true
		if err := CheckRoles("roles", r.Roles); err != nil {
			t.Errorf("%s: %v", r.Action, err)
		}
	}
}

// The duties behind the table, as rules.
func TestMatrixKeepsDutiesApart(t *testing.T) {
	for _, r := range Actions {
		audit := May([]Role{Audit}, r.Action)
		if want := r.Kind == Reads || r.Kind == Own; audit != want {
			t.Errorf("audit may %s (%s): %v, want %v", r.Action, r.Kind, audit, want)
		}
		if r.Kind == ReadsPersonal {
			for _, role := range []Role{Measure, Sign, Instruments, Audit, Administer} {
				if May([]Role{role}, r.Action) {
					t.Errorf("%s may %s, but does not need personal data", role, r.Action)
				}
			}
		}
		if r.Kind == Own && len(r.Roles) != len(Roles) {
			t.Errorf("%s is closed to somebody", r.Action)
		}
	}
	if May([]Role{Administer}, SignDetermination) || May([]Role{Administer}, RecordDetermination) {
		t.Error("who administers may make records")
	}
	for _, m := range Meanings {
		if r, known := rule(m.Action); !known || r.Kind != Writes {
			t.Errorf("%s leads to %s, which is no act", m.Meaning, m.Action)
		}
	}
}

// Roles add up: a person with several may do what any one of them may, and no more.
func TestRolesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		roles := rapid.SliceOfDistinct(rapid.SampledFrom(Roles), rapid.ID).Draw(t, "roles")
		a := rapid.SampledFrom(Actions).Draw(t, "action").Action
		any := false
		for _, r := range roles {
			any = any || May([]Role{r}, a)
		}
		if got := May(roles, a); got != any {
			t.Fatalf("%v may %s: %v, want %v", roles, a, got, any)
		}
	})
}

func TestUnknownMayNothing(t *testing.T) {
	if May(Roles, "open-safe") || May(nil, SeeRules) || May([]Role{"owner"}, SeeRules) {
		t.Error("an unknown action, no role or an unknown role is enough")
	}
}

func TestAllowSaysWhy(t *testing.T) {
	ada := person("ada", Measure)
	left := ada.Leave(noon)
	for _, c := range []struct {
		name  string
		p     Person
		a     Action
		words string
	}{
		{"may", ada, TakeReading, ""},
		{"other role", ada, TakeOutOfService, ""},
		{"wrong role", ada, SignDetermination, "needs the role sign; they have measure"},
		{"several roles", ada, SetPrice, "needs the role price"},
		{"no such action", ada, "open-safe", "no such action"},
		{"left", left, TakeReading, "do not work here"},
	} {
		err := c.p.Allow(c.a, noon)
		if c.words == "" {
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		var r *Refused
		if !errors.As(err, &r) || !strings.Contains(err.Error(), c.words) || !strings.Contains(err.Error(), "Ada Example") || r.Hint == "" {
			t.Errorf("%s: %v, want …%s… and a hint", c.name, err, c.words)
		}
	}
}

func TestWriteMatrix(t *testing.T) {
	var out strings.Builder
	noError(t, WriteMatrix(&out))
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	if len(lines) != len(Actions)+1 {
		t.Fatalf("%d lines, want %d", len(lines), len(Actions)+1)
	}
	for i, row := range readMatrix(t) {
		f := strings.Fields(lines[i+1])
		if f[0] != string(row.action) {
			t.Errorf("line %d is of %s, want %s", i+1, f[0], row.action)
		}
		for k, may := range row.may {
			if (f[1+k] == "yes") != may {
				t.Errorf("%s: column %d prints %s, want %v", row.action, k+1, f[1+k], may)
			}
		}
	}
}
