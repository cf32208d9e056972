package people

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const houseRule = `{"format": 1, "from": "2026-03-01", "reason": "Insurance asks for it (invented).",
	"above_amount": "5000.00", "currency": "EUR",
	"findings": [{"outcome": "met", "metal": "gold", "above_g": "100"}, {"outcome": "undecided"}],
	"overrides": true}`

func readRule(t testing.TB, text string) FourEyes {
	t.Helper()
	f, err := ReadFourEyes([]byte(text))
	noError(t, err)
	return f
}

func TestReadFourEyes(t *testing.T) {
	f := readRule(t, houseRule)
	roundTrip(t, f)
	again, err := json.Marshal(f)
	noError(t, err)
	if back := readRule(t, string(again)); fmt.Sprint(back) != fmt.Sprint(f) {
		t.Errorf("%+v became %+v", f, back)
	}
	one := OnePersonRule(noon)
	noError(t, one.Check())
	if one.From != "2026-03-02" || !one.OnePerson {
		t.Errorf("%+v", one)
	}
	for _, c := range []struct{ name, text, path, words string }{
		{"unknown field", `{"format": 1, "above": "5"}`, "above", "above_amount"},
		{"format", `{"format": 2}`, "format", "newer"},
		{"no day", `{"format": 1}`, "from", "2026-03-01"},
		{"no such day", `{"format": 1, "from": "2026-02-30"}`, "from", "not a day"},
		{"no reason", `{"format": 1, "from": "2026-03-01", "one_person": true}`, "reason", "missing"},
		{"nothing", `{"format": 1, "from": "2026-03-01", "reason": "x"}`, "", "neither"},
		{"both", `{"format": 1, "from": "2026-03-01", "reason": "x", "one_person": true, "overrides": true}`, "one_person", "Leave out one"},
		{"no currency", `{"format": 1, "from": "2026-03-01", "reason": "x", "above_amount": "5"}`, "above_amount", "currency"},
		{"no amount", `{"format": 1, "from": "2026-03-01", "reason": "x", "currency": "EUR"}`, "above_amount", "Give both"},
		{"currency in words", `{"format": 1, "from": "2026-03-01", "reason": "x", "above_amount": "5", "currency": "euro"}`, "currency", "ISO 4217"},
		{"amount with comma", `{"format": 1, "from": "2026-03-01", "reason": "x", "above_amount": "5,00", "currency": "EUR"}`, "above_amount", "point"},
		{"negative", `{"format": 1, "from": "2026-03-01", "reason": "x", "above_amount": "-5", "currency": "EUR"}`, "above_amount", "not an amount"},
		{"huge exponent", `{"format": 1, "from": "2026-03-01", "reason": "x", "above_amount": "1e999999999", "currency": "EUR"}`, "above_amount", "not an amount"},
		{"fraction", `{"format": 1, "from": "2026-03-01", "reason": "x", "above_amount": "1/3", "currency": "EUR"}`, "above_amount", "not an amount"},
		{"outcome", `{"format": 1, "from": "2026-03-01", "reason": "x", "findings": [{"outcome": "pass"}]}`, "findings[0].outcome", "undecided"},
		{"metal", `{"format": 1, "from": "2026-03-01", "reason": "x", "findings": [{"outcome": "met", "metal": "tin"}]}`, "findings[0].metal", "palladium"},
		{"mass", `{"format": 1, "from": "2026-03-01", "reason": "x", "findings": [{"outcome": "met", "above_g": "heavy"}]}`, "findings[0].above_g", "not an amount"},
	} {
		_, err := ReadFourEyes([]byte(c.text))
		wantField(t, c.name, err, c.path, c.words)
	}
}

func TestRuleOn(t *testing.T) {
	rule := func(from, reason string) FourEyes { return FourEyes{From: from, Reason: reason} }
	rules := []FourEyes{rule("2026-03-01", "b"), rule("2025-01-01", "a"), rule("2026-06-01", "c"), rule("2026-06-01", "d")}
	for day, want := range map[string]string{"2025-01-01": "a", "2026-02-28": "a", "2026-03-01": "b", "2026-05-31": "b", "2026-06-01": "d", "2030-01-01": "d"} {
		if got, err := RuleOn(rules, day); err != nil || got.Reason != want {
			t.Errorf("%s: %s, %v, want %s", day, got.Reason, err, want)
		}
	}
	if _, err := RuleOn(rules, "2024-12-31"); !errors.Is(err, ErrNoRule) {
		t.Errorf("before the first: %v", err)
	}
	_, err := RuleOn(rules, "1 March 2026")
	wantField(t, "bad day", err, "day", "2026-03-01")
}

func TestNeed(t *testing.T) {
	f := readRule(t, houseRule)
	for _, c := range []struct {
		name    string
		facts   Facts
		because string // "" when no witness is needed
	}{
		{"nothing special", Facts{Amount: "4999.99", Currency: "EUR", Outcome: "met", Metal: "gold", MassG: "12.4"}, ""},
		{"at the limits", Facts{Amount: "5000.000", Currency: "EUR", Outcome: "met", Metal: "gold", MassG: "100.000"}, ""},
		{"a hair above", Facts{Amount: "5000.000000001", Currency: "EUR"}, "the value 5000.000000001 EUR is above 5000.00 EUR"},
		{"above", Facts{Amount: "7200.00", Currency: "EUR"}, "is above 5000.00 EUR"},
		{"other currency", Facts{Amount: "10.00", Currency: "CHF"}, "the value is in CHF and the limit in EUR"},
		{"not valued", Facts{Outcome: "met", Metal: "silver", MassG: "900"}, ""},
		{"heavy gold", Facts{Outcome: "met", Metal: "gold", MassG: "100.001"}, "the finding is met on gold of 100.001 g, which is above 100 g"},
		{"heavy silver", Facts{Outcome: "met", Metal: "silver", MassG: "100.001"}, ""},
		{"heavy gold, not met", Facts{Outcome: "not met", Metal: "gold", MassG: "500"}, ""},
		{"mass not known", Facts{Outcome: "met", Metal: "gold"}, "the mass is not known"},
		{"metal not known", Facts{Outcome: "met", MassG: "500"}, "on a metal that is not known of 500 g"},
		{"undecided", Facts{Outcome: "undecided"}, "the finding is undecided"},
		{"override", Facts{Overrides: []string{"hold ended early"}}, "it was overridden: hold ended early"},
		{"two reasons", Facts{Amount: "7200.00", Currency: "EUR", Outcome: "undecided"}, "5000.00 EUR; the finding is undecided"},
	} {
		n, err := f.Need(c.facts)
		if err != nil || n.Witness != (c.because != "") || !strings.Contains(strings.Join(n.Because, "; "), c.because) || n.OnePerson {
			t.Errorf("%s: %+v, %v, want …%s…", c.name, n, err, c.because)
		}
	}
	_, err := f.Need(Facts{Amount: "lots", Currency: "EUR"})
	wantField(t, "bad amount", err, "amount", "not an amount")
	_, err = f.Need(Facts{Outcome: "met", Metal: "gold", MassG: "1e3"})
	wantField(t, "bad mass", err, "mass_g", "not an amount")
	if _, err := (FourEyes{}).Need(Facts{}); err == nil {
		t.Error("an empty rule needs nobody")
	}
	if n, err := OnePersonRule(noon).Need(Facts{Amount: "9999999", Currency: "EUR", Outcome: "undecided"}); err != nil || n.Witness || !n.OnePerson {
		t.Errorf("bench of one: %+v, %v", n, err)
	}
}

var (
	ada  = person("ada", Measure, Sign)
	ben  = person("ben", Sign)
	cleo = person("cleo", Sign)
	dora = person("dora", Measure)
	all4 = []Person{ada, ben, cleo, dora}
)

func sign(p Person, m Meaning) Signature {
	return Signature{Person: p.ID, Name: p.Name, Roles: p.Roles, Meaning: m, At: noon, How: ByPassword}
}

func TestJudge(t *testing.T) {
	measuredByAda := Facts{MeasuredBy: []Signer{{"ada", ada.Name}}}
	witness := Need{Witness: true, Because: []string{"the value 7200.00 EUR is above 5000.00 EUR"}}
	unsigned := sign(ada, Approved)
	unsigned.How = ByNone
	program := sign(ben, Approved)
	program.How = ByToken
	for _, c := range []struct {
		name      string
		need      Need
		given     []Signature
		complete  bool
		words     string // in what is missing
		statement bool
	}{
		{"none", Need{}, nil, false, "must approve", false},
		{"one is enough", Need{}, []Signature{sign(ben, Approved)}, true, "", false},
		{"who measured approves", Need{}, []Signature{sign(ada, Measured), sign(ada, Approved)}, true, "", true},
		{"measured only", Need{}, []Signature{sign(ada, Measured)}, false, "must approve", true},
		{"reviewed only", Need{}, []Signature{sign(ben, Reviewed)}, false, "must approve", false},
		{"approved without the role", Need{}, []Signature{sign(dora, Approved)}, false, "the role sign is needed", false},
		{"needs a witness", witness, []Signature{sign(ada, Approved)}, false, "who neither measured nor approved, must witness, because the value 7200.00 EUR is above", true},
		{"has a witness", witness, []Signature{sign(ada, Approved), sign(ben, Witnessed)}, true, "", false},
		{"three people", witness, []Signature{sign(ben, Approved), sign(cleo, Witnessed)}, true, "", false},
		{"witness alone", witness, []Signature{sign(ben, Witnessed)}, false, "must approve", false},
		{"both by one", witness, []Signature{sign(ben, Approved), sign(ben, Witnessed)}, false, "who approved cannot witness", false},
		{"both by one, the other way", witness, []Signature{sign(ben, Witnessed), sign(ben, Approved)}, false, "who approved cannot witness", false},
		{"who measured witnesses", witness, []Signature{sign(ben, Approved), sign(ada, Witnessed)}, false, "who measured cannot witness", false},
		{"witness without the role", witness, []Signature{sign(ben, Approved), sign(dora, Witnessed)}, false, "the role sign is needed", false},
		{"refused", Need{}, []Signature{sign(ada, Approved), sign(ben, Declined)}, false, "Ben Example refused", false},
		{"refused without the role", Need{}, []Signature{sign(ada, Approved), sign(dora, Declined)}, true, "does not count", false},
		{"without signing in", Need{}, []Signature{unsigned}, false, "without signing in", true},
		{"without signing in at a bench of one", Need{OnePerson: true}, []Signature{unsigned}, true, "", true},
		{"by a program", Need{OnePerson: true}, []Signature{program}, false, "a program cannot sign", false},
	} {
		st := c.need.Judge(measuredByAda, c.given)
		if st.Complete != c.complete || !strings.Contains(strings.Join(st.Missing, " "), c.words) || c.words == "" && len(st.Missing) > 0 {
			t.Errorf("%s: %+v, want complete %v and …%s…", c.name, st, c.complete, c.words)
		}
		if (st.Statement == "One person measured and signed.") != c.statement {
			t.Errorf("%s: statement %q, want %v", c.name, st.Statement, c.statement)
		}
	}
}

// Whatever signatures are given in whatever order: where a witness is needed and the record is
// complete, two people with the role sign stand behind it, and the second neither measured nor
// approved; and what CheckSignature lets through one by one always counts.
func TestFourEyesAreFour(t *testing.T) {
	meanings := []Meaning{Measured, Reviewed, Approved, Witnessed, Declined}
	rapid.Check(t, func(t *rapid.T) {
		facts := Facts{}
		for _, p := range rapid.SliceOfNDistinct(rapid.SampledFrom(all4), 1, 3, func(p Person) string { return p.ID }).Draw(t, "measured by") {
			facts.MeasuredBy = append(facts.MeasuredBy, Signer{p.ID, p.Name})
		}
		n := Need{Witness: rapid.Bool().Draw(t, "witness"), Because: []string{"it is drawn"}}
		checked := rapid.Bool().Draw(t, "checked")
		var given []Signature
		for range rapid.IntRange(0, 8).Draw(t, "signatures") {
			s := sign(rapid.SampledFrom(all4).Draw(t, "person"), rapid.SampledFrom(meanings).Draw(t, "meaning"))
			if err := n.CheckSignature(s, facts, given); checked && err != nil {
				continue
			}
			given = append(given, s)
		}
		st := n.Judge(facts, given)
		by := func(m Meaning) (ids []string) {
			for _, s := range given {
				if s.Meaning == m && slices.Contains(s.Roles, Sign) {
					ids = append(ids, s.Person)
				}
			}
			return ids
		}
		if st.Complete {
			if len(by(Approved)) == 0 || len(by(Declined)) > 0 {
				t.Fatalf("complete with %v", given)
			}
			if n.Witness && !slices.ContainsFunc(by(Witnessed), func(id string) bool {
				return !slices.Contains(by(Approved), id) && !measured(facts, id)
			}) {
				t.Fatalf("complete without a second person: %v", given)
			}
		} else if len(st.Missing) == 0 {
			t.Fatal("incomplete, and nothing is missing")
		}
		if checked && strings.Contains(strings.Join(st.Missing, " "), "does not count") {
			t.Fatalf("let through, and then does not count: %v", st.Missing)
		}
	})
}

func TestCheckSignature(t *testing.T) {
	facts := Facts{MeasuredBy: []Signer{{"ada", ada.Name}, {"dora", dora.Name}}}
	with := func(s Signature, how How) Signature { s.How = how; return s }
	for _, c := range []struct {
		name  string
		need  Need
		given []Signature
		s     Signature
		words string
	}{
		{"measured", Need{}, nil, sign(dora, Measured), ""},
		{"approved by who measured", Need{}, nil, sign(ada, Approved), ""},
		{"witnessed after", Need{}, []Signature{sign(ada, Approved)}, sign(ben, Witnessed), ""},
		{"refused after approval", Need{}, []Signature{sign(ada, Approved)}, sign(ben, Declined), ""},
		{"released", Need{}, nil, sign(ben, Released), ""},
		{"local at a bench of one", Need{OnePerson: true}, nil, with(sign(ada, Approved), ByNone), ""},
		{"without the role", Need{}, nil, sign(dora, Approved), "not open to measure"},
		{"measured by who did not", Need{}, nil, with(Signature{Person: "eve", Name: "Eve Example", Roles: []Role{Measure}, Meaning: Measured}, ByPIN), "took no reading"},
		{"twice", Need{}, []Signature{sign(ada, Approved)}, sign(ada, Approved), "already"},
		{"program", Need{OnePerson: true}, nil, with(sign(ada, Approved), ByToken), "program"},
		{"no proof", Need{OnePerson: true}, nil, with(sign(ada, Approved), ""), "program"},
		{"local elsewhere", Need{}, nil, with(sign(ada, Approved), ByNone), "signing in"},
		{"witness first", Need{}, nil, sign(ben, Witnessed), "nobody has approved"},
		{"witness measured", Need{}, []Signature{sign(ben, Approved)}, sign(ada, Witnessed), "measured cannot witness"},
		{"witness approved", Need{}, []Signature{sign(ben, Approved)}, sign(ben, Witnessed), "approved cannot witness"},
		{"approves what was witnessed", Need{}, []Signature{sign(ben, Approved), sign(cleo, Witnessed)}, sign(cleo, Approved), "cannot approve too"},
		{"approves what was refused", Need{}, []Signature{sign(ben, Declined)}, sign(ada, Approved), "was refused"},
	} {
		err := c.need.CheckSignature(c.s, facts, c.given)
		if c.words == "" {
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		var r *Refused
		if !errors.As(err, &r) || !strings.Contains(r.Reason, c.words) || r.Hint == "" {
			t.Errorf("%s: %v, want …%s…", c.name, err, c.words)
		}
	}
	wantField(t, "no such meaning", Need{}.CheckSignature(sign(ada, "seen"), facts, nil), "meaning", "witnessed")
}

func TestMeanings(t *testing.T) {
	// 21 CFR 11.50(a)(3) asks for the meaning; which meanings there are is chosen here.
	want := []Meaning{"measured", "reviewed", "approved", "witnessed", "released", "refused"}
	for i, row := range Meanings {
		if row.Meaning != want[i] || row.Sentence == "" {
			t.Errorf("%+v, want %s", row, want[i])
		}
		if a, err := ActionOf(row.Meaning); err != nil || a != row.Action {
			t.Errorf("%s leads to %s, %v", row.Meaning, a, err)
		}
	}
	if len(Meanings) != len(want) {
		t.Errorf("%d meanings", len(Meanings))
	}
}

func TestSignatureLine(t *testing.T) {
	s := sign(ada, Approved)
	roundTrip(t, s)
	if got, want := s.Line(), "Ada Example, 2026-03-02 12:00:00 +01:00, approved"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	s.How = ByNone
	s.At = s.At.In(time.UTC)
	if got, want := s.Line(), "Ada Example, 2026-03-02 11:00:00 +00:00, approved (unauthenticated local use)"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// FuzzReadFourEyes: a rule that is accepted can be written and read again, and can be asked.
func FuzzReadFourEyes(f *testing.F) {
	for _, s := range []string{houseRule, `{"format": 1, "from": "2026-03-01", "reason": "x", "one_person": true}`, `{}`, `{"format": 1, "from": "2026-03-01", "reason": "x", "findings": {"outcome": "met"}}`} {
		f.Add([]byte(s))
	}
	facts := Facts{MeasuredBy: []Signer{{"ada", "Ada Example"}}, Amount: "5000.01", Currency: "EUR", Outcome: "met", Metal: "gold", MassG: "31.1", Overrides: []string{"x"}}
	f.Fuzz(func(t *testing.T, data []byte) {
		rule, err := ReadFourEyes(data)
		if err != nil {
			return
		}
		text, err := json.Marshal(rule)
		noError(t, err)
		again, err := ReadFourEyes(text)
		if err != nil || fmt.Sprint(again) != fmt.Sprint(rule) {
			t.Errorf("%+v became %+v, %v", rule, again, err)
		}
		n, err := rule.Need(facts)
		noError(t, err)
		if n.Witness != (len(n.Because) > 0) {
			t.Errorf("%+v", n)
		}
	})
}

func ExampleNeed_Judge() {
	rule := FourEyes{Format: 1, From: "2026-03-01", Reason: "House rule (invented).", AboveAmount: "5000.00", Currency: "EUR"}
	facts := Facts{MeasuredBy: []Signer{{"ada", "Ada Example"}}, Amount: "7200.00", Currency: "EUR"}
	need, _ := rule.Need(facts)
	given := []Signature{sign(ada, Approved)}
	for _, line := range need.Judge(facts, given).Missing {
		fmt.Println(line)
	}
	given = append(given, sign(ben, Witnessed))
	fmt.Println(need.Judge(facts, given).Complete)
	// Output:
	// A second person with the role sign, who neither measured nor approved, must witness, because the value 7200.00 EUR is above 5000.00 EUR.
	// true
}
