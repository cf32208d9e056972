package picture

import (
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"wreath/internal/determination"
	"wreath/internal/sentence"
)

var written = regexp.MustCompile(`<(?:text[^>]*|title)>([^<]*)</(?:text|title)>`)

// wordsOf are the texts that pictures hold.
func wordsOf(pictures ...Picture) (out []string) {
	for _, p := range pictures {
		for _, m := range written.FindAllStringSubmatch(string(p.SVG), -1) {
			out = append(out, html.UnescapeString(m[1]))
		}
	}
	return out
}

// exampleAnswers are the answers to the examples, with their claims.
func exampleAnswers(t *testing.T) map[string]Subject {
	t.Helper()
	names, err := filepath.Glob("../../examples/*.json")
	if err != nil || len(names) < 10 {
		t.Fatalf("%d examples, %v", len(names), err)
	}
	out := map[string]Subject{"nothing weighed": {}, "nothing weighed, gold 750 claimed": {Claim: &determination.Claim{Metal: "gold", Fineness: new(750.0)}}}
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		draft, err := determination.Decode(data)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		answer, err := determination.Evaluate(draft, determination.Options{})
		if err != nil {
			continue // one that shows a mistake, or a base without readings
		}
		out[name] = Subject{Answer: answer, Claim: draft.Claim}
		out[name+", doubtful"] = Subject{Answer: answer, Claim: draft.Claim, Pairs: []Pair{{"1", answer.Density20C.KgM3, false}, {"2", 1.05 * answer.Density20C.KgM3, true}}}
	}
	return out
}

// drawn are all pictures of a subject, and those that there are without one.
func drawn(s Subject) []Picture {
	l := Language{s.In}
	out := []Picture{DayRow(s), l.Budget(s.Answer, 460), l.Density(s.Answer, 460), l.Fineness(s.Answer, 460),
		l.Proof(Path{Index: 2, Size: 5}, 460), l.Proof(Path{}, 460),
		l.Control(Control{Name: "check piece", Unit: "g", Points: []ControlPoint{{"", 1}, {"", 2}}, Centre: 1, Watch: 0.2, Stop: 0.3, Decimals: 2}, 460),
		l.Control(Control{Name: "check piece"}, 460),
		l.Plan(Plan{Stations: []PlanLine{{"S-1", func(m float64) float64 { return 0.1 / m }}}, MassG: 3}, 460)}
	for _, width := range []int{Narrow, Usual, Wide, Archive} {
		out = append(out, Scale(s, ScaleOptions{Width: width}))
	}
	for _, f := range []Finding{Met, NotMet, Undecided, InDoubt, Contradicts, Held, NoneYet} {
		out = append(out, l.Sign(f))
	}
	if s.Answer != nil {
		out = append(out, l.BudgetBar(s.Answer.Budget[0], 1))
	}
	return out
}

// TestEveryWordOfPicturesIsSaid asks for no English in the pictures of the examples.
func TestEveryWordOfPicturesIsSaid(t *testing.T) {
	names := regexp.MustCompile(`^S-\d|…|^‹|›$`) // what somebody named, and what was cut for want of room
	seen := map[string]bool{}
	for name, s := range exampleAnswers(t) {
		texts := append(wordsOf(drawn(s)...), Sentence(s))
		for _, row := range Table(s, 5) {
			texts = append(texts, row.Family, row.Band, row.Range, row.Distance)
		}
		for _, text := range texts {
			if seen[text] || names.MatchString(text) {
				continue
			}
			seen[text] = true
			for _, lang := range sentence.Languages {
				if said, known := sentence.In(lang).Knows(text); !known {
					t.Errorf("%s: %q of %s becomes %q", lang, text, name, said)
				}
			}
		}
	}
}

// TestNumbersInPicturesHaveTheMarkOfTheLanguage looks for decimal points in pictures with a comma.
func TestNumbersInPicturesHaveTheMarkOfTheLanguage(t *testing.T) {
	point := regexp.MustCompile(`\d\.\d`)
	commas := 0
	for name, s := range exampleAnswers(t) {
		s.In = sentence.In("de")
		for _, text := range wordsOf(drawn(s)...) {
			if point.MatchString(text) {
				t.Errorf("%s: %q", name, text)
			}
			if strings.Contains(text, ",") {
				commas++
			}
		}
	}
	if commas < 100 {
		t.Errorf("only %d texts with a comma", commas)
	}
}
