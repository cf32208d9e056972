package web

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

func sourcesOf(t *testing.T, patterns ...string) string {
	t.Helper()
	var all strings.Builder
	for _, pattern := range patterns {
		names, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			all.Write(text)
		}
	}
	return all.String()
}

// TestKindsOfProblemsAreInTheManual asks that doc/http.md lists every kind.
func TestKindsOfProblemsAreInTheManual(t *testing.T) {
	manual := sourcesOf(t, "../../doc/http.md")
	kinds := regexp.MustCompile(`Type: +"([a-z-]+)"`).FindAllStringSubmatch(sourcesOf(t, "[a-z]*[a-su-z].go"), -1)
	if len(kinds) < 15 {
		t.Fatalf("only %d problems in the sources", len(kinds))
	}
	for _, k := range kinds {
		if !strings.Contains(manual, "`/problems/"+k[1]+"`") {
			t.Errorf("doc/http.md does not list %s", k[1])
		}
	}
}

// TestNamedTestsExist asks that every test that doc/security.md names is there.
func TestNamedTestsExist(t *testing.T) {
	named := regexp.MustCompile(`Test[A-Z]\w+`).FindAllString(sourcesOf(t, "../../doc/security.md"), -1)
	if len(named) < 30 {
		t.Fatalf("only %d tests are named", len(named))
	}
	tests := sourcesOf(t, "*_test.go", "../desk/*_test.go", "../people/*_test.go", "../keyring/*_test.go", "../proof/*_test.go", "../../cmd/wreath/*_test.go")
	for _, name := range named {
		if !strings.Contains(tests, "func "+name+"(") {
			t.Errorf("there is no %s", name)
		}
	}
}
