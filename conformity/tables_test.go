package conformity_test

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// rows reads a table of testdata: columns between bars, # begins a comment line.
func rows(t *testing.T, name string, columns int) [][]string {
	t.Helper()
	text, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	var table [][]string
	for _, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		fields := strings.Split(line, "|")
		if len(fields) != columns {
			t.Fatalf("%s: %q has %d columns, want %d", name, line, len(fields), columns)
		}
		for i := range fields {
			fields[i] = strings.TrimSpace(fields[i])
		}
		table = append(table, fields)
	}
	if len(table) == 0 {
		t.Fatalf("%s has no rows", name)
	}
	return table
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// near fails unless got lies within tol of want.
func near(t *testing.T, what string, got, want, tol float64, source string) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.9g, want %.9g ± %g (%s)", what, got, want, tol, source)
	}
}
