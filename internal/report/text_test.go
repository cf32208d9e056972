package report

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"wreath/internal/determination"
)

// answered reads a draft of the examples, changes it, and answers it.
func answered(t *testing.T, name string, change func(d *determination.Draft)) *determination.Answer {
	t.Helper()
	data, err := os.ReadFile("../../examples/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	d, err := determination.Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(d)
	}
	a, err := determination.Evaluate(d, determination.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func printed(t *testing.T, a *determination.Answer, details bool) []string {
	t.Helper()
	var out bytes.Buffer
	if err := Text(&out, a, details); err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
}

// TestShortAnswerFitsAScreen holds plain cases to 24 lines, everything to 80 columns, and the five
// questions to their order.
func TestShortAnswerFitsAScreen(t *testing.T) {
	files, err := filepath.Glob("../../examples/*.json")
	if err != nil || len(files) < 12 {
		t.Fatalf("%d examples: %v", len(files), err)
	}
	plain := map[string]bool{"ring": true, "first": true, "bar": true, "coin": true, "spoon": true, "stone": true, "standing-vessel": true, "platinum-band": true}
	seen := 0
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".json")
		if name == "station" {
			continue // no item
		}
		a := answered(t, name, nil)
		lines := printed(t, a, false)
		if plain[name] {
			seen++
			if len(lines) > 24 {
				t.Errorf("%s: %d lines:\n%s", name, len(lines), strings.Join(lines, "\n"))
			}
		}
		at := -1
		for _, label := range []string{"Density", "Can be", "Claim", "Trust", "Pay by", "Next", "Repeats", "Assumed", "Caution"} {
			for i, line := range lines {
				if utf8.RuneCountInString(line) > 80 {
					t.Errorf("%s: a line of %d columns: %s", name, utf8.RuneCountInString(line), line)
				}
				if strings.HasPrefix(line, label) {
					if i < at {
						t.Errorf("%s: %s stands too high", name, label)
					}
					at = i
				}
			}
		}
		text := strings.Join(strings.Fields(strings.Join(lines, " ")), " ")
		for _, c := range a.Cautions {
			if !strings.Contains(text, strings.Join(strings.Fields(c), " ")) {
				t.Errorf("%s: the caution %q is hidden", name, c)
			}
		}
		for i, d := range a.Doubts {
			if i < doubtsShown && !strings.Contains(text, d.Cause) {
				t.Errorf("%s: the doubt %q is hidden", name, d.Cause)
			}
		}
		for _, c := range a.Candidates {
			if c.Fits && c.Kind == "look-alike" && !strings.Contains(text, "not excluded, whatever it is marked") {
				t.Errorf("%s: that look-alikes fit is hidden", name)
			}
		}
		if a.Stop != nil && !strings.Contains(text, "Repeats "+a.Stop.Verdict) {
			t.Errorf("%s: the stop rule is hidden", name)
		}
		if long := printed(t, a, true); len(long) <= len(lines) {
			t.Errorf("%s: %d lines with details, %d without", name, len(long), len(lines))
		}
	}
	if seen != len(plain) {
		t.Errorf("%d of %d plain cases", seen, len(plain))
	}
}

// TestDoubtQualifiesWhatItCanBe: above a weighing that is in doubt no fineness stands without its condition.
func TestDoubtQualifiesWhatItCanBe(t *testing.T) {
	canBe := func(a *determination.Answer) string {
		for _, line := range printed(t, a, false) {
			if strings.HasPrefix(line, "Can be") {
				return line
			}
		}
		return ""
	}
	if line := canBe(answered(t, "ring", nil)); strings.Contains(line, "if the weighing") {
		t.Errorf("nothing is in doubt: %s", line)
	}
	if line := canBe(answered(t, "ring", func(d *determination.Draft) { d.LiquidG[0].Gram -= 0.03 })); !strings.Contains(line, "if the weighing is sound: ") {
		t.Errorf("the readings scatter: %s", line)
	}
	if line := canBe(answered(t, "gold-in-quartz", nil)); !strings.Contains(line, "were it one material: ") {
		t.Errorf("gold in quartz: %s", line)
	}
}

// TestPartsAreNeverCalledSound: of an item of parts the text says what can't be judged, and not that nothing
// is odd.
func TestPartsAreNeverCalledSound(t *testing.T) {
	for _, name := range []string{"ring-with-diamond", "gold-in-quartz", "gold-dust"} {
		text := strings.Join(strings.Fields(strings.Join(printed(t, answered(t, name, nil), false), " ")), " ")
		if strings.Contains(text, "nothing odd") || !strings.Contains(text, "faults that show in the density alone") {
			t.Errorf("%s: %s", name, text)
		}
	}
}
