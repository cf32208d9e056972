package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"wreath/internal/batch"
	"wreath/internal/determination"
)

// TestRowsAreSound answers the rows: none fails but the bad ones, and the interval of 95 % holds the
// density that each was made from as often as it must: 1000 trials of 0.95 lie within 0.92 to 0.98
// but for four in 100 000.
func TestRowsAreSound(t *testing.T) {
	base := station(t)
	for _, format := range []string{"csv", "jsonl"} {
		const rows, bad = 1010, 101
		var in, out, said bytes.Buffer
		if err := (tray{rows: rows, bad: bad, format: format, seed: 1}).write(&in); err != nil {
			t.Fatal(err)
		}
		b, err := batch.Open(&in, format, batch.Options{Base: base, Format: batch.JSONL, Evaluate: determination.Options{MonteCarlo: determination.WhereNeeded}})
		if err != nil {
			t.Fatal(err)
		}
		sum, err := b.Run(t.Context(), &out, &said)
		if err != nil {
			t.Fatal(err)
		}
		if sum.Rows != rows || sum.Failed != rows/bad {
			t.Errorf("%s: %v, want %d rows of which %d fail: %s", format, sum, rows, rows/bad, said.String())
		}
		inside := 0
		for line := range strings.Lines(out.String()) {
			var a struct {
				ID   string   `json:"id"`
				Low  *float64 `json:"low_kg_m3"`
				High *float64 `json:"high_kg_m3"`
			}
			if err := json.Unmarshal([]byte(line), &a); err != nil {
				t.Fatal(err)
			}
			var rho float64
			fmt.Sscan(a.ID[strings.LastIndex(a.ID, "-")+1:], &rho)
			if a.Low != nil && a.High != nil && *a.Low <= rho && rho <= *a.High {
				inside++
			}
		}
		if inside < 920 || inside > 980 {
			t.Errorf("%s: %d of 1000 intervals hold the stated density", format, inside)
		}
	}
}

func TestSameSeedSameRows(t *testing.T) {
	var a, b, c bytes.Buffer
	for _, w := range []struct {
		to   *bytes.Buffer
		seed uint64
	}{{&a, 1}, {&b, 1}, {&c, 2}} {
		if err := (tray{rows: 100, format: "csv", seed: w.seed}).write(w.to); err != nil {
			t.Fatal(err)
		}
	}
	if a.String() != b.String() || a.String() == c.String() {
		t.Error("the rows do not follow from the seed")
	}
}

// TestWorkersAgree: what is answered to a row does not depend on the rows before it, nor on those
// answered at the same time.
func TestWorkersAgree(t *testing.T) {
	base := station(t)
	var rows bytes.Buffer
	if err := (tray{rows: 1500, format: "csv", seed: 2}).write(&rows); err != nil {
		t.Fatal(err)
	}
	answers := func(input string, workers int) map[string]string {
		b, err := batch.Open(strings.NewReader(input), "rows", batch.Options{Base: base, Workers: workers, Evaluate: determination.Options{MonteCarlo: determination.WhereNeeded}})
		if err != nil {
			t.Fatal(err)
		}
		var out, said bytes.Buffer
		if _, err := b.Run(t.Context(), &out, &said); err != nil {
			t.Fatal(err)
		}
		byID := map[string]string{}
		for line := range strings.Lines(out.String()) {
			_, answer, _ := strings.Cut(line, ",")
			id, answer, _ := strings.Cut(answer, ",")
			byID[id] = answer
		}
		return byID
	}
	lines := strings.SplitAfter(strings.TrimSuffix(rows.String(), "\n"), "\n")
	lines[len(lines)-1] += "\n"
	slices.Reverse(lines[1:])
	want := answers(rows.String(), 1)
	for _, c := range []struct {
		name    string
		rows    string
		workers int
	}{{"one worker, rows reversed", strings.Join(lines, ""), 1}, {"two workers", rows.String(), 2}, {"eight workers", rows.String(), 8}} {
		differ, example := 0, ""
		for id, got := range answers(c.rows, c.workers) {
			if got != want[id] {
				differ, example = differ+1, fmt.Sprintf("%s: %q, want %q", id, got, want[id])
			}
		}
		if differ > 0 {
			t.Errorf("%s: %d of %d answers differ from those of one worker: %s", c.name, differ, len(want), example)
		}
	}
}

func station(t *testing.T) *determination.Draft {
	t.Helper()
	text, err := os.ReadFile("../../../examples/station.json")
	if err != nil {
		t.Fatal(err)
	}
	base, err := determination.Decode(text)
	if err != nil {
		t.Fatal(err)
	}
	return base
}
