package settling

import (
	"bytes"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"wreath/settle"
)

// row is a line of doc/settling.md.
type row struct {
	label                                        string
	bias, biasError, rms, u, covered, took, rule float64
	ruleRMS, atRule, named                       float64
}

func rows(t *testing.T) map[string]row {
	t.Helper()
	text, err := os.ReadFile("../../doc/settling.md")
	if err != nil {
		t.Fatal(err)
	}
	number := func(s string) float64 {
		s = strings.TrimSpace(strings.TrimRight(strings.TrimSpace(s), " %s"))
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatalf("%q: %v", s, err)
		}
		return v
	}
	text, _, _ = bytes.Cut(text, []byte("## Balances that nobody chose"))
	out := map[string]row{}
	for line := range strings.Lines(string(text)) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		if len(cells) != 14 || !strings.Contains(cells[0], "time constant") {
			continue
		}
		bias, biasError, _ := strings.Cut(cells[5], "±")
		rule, ruleRMS, _ := strings.Cut(cells[10], ",")
		r := row{label: strings.TrimSpace(strings.Join(cells[:5], "|")), bias: number(bias), biasError: number(biasError), rms: number(cells[6]), u: number(cells[7]),
			covered: number(cells[8]) / 100, took: number(cells[9]), rule: number(rule), ruleRMS: number(ruleRMS), atRule: number(cells[11]), named: number(cells[13]) / 100}
		out[r.label] = r
	}
	return out
}

// The document says what the program does: other trials give the same within their statistical error.
func TestTableIsCurrent(t *testing.T) {
	table := rows(t)
	if len(table) != len(CasesAfter()) {
		t.Fatalf("doc/settling.md has %d rows, want %d; go run ./internal/settling/table", len(table), len(CasesAfter()))
	}
	const trials = 150
	for _, c := range CasesAfter() {
		r, ok := table[c.Label()]
		if !ok {
			t.Errorf("doc/settling.md has no row %q; go run ./internal/settling/table", c.Label())
			continue
		}
		s := Count(c, trials, 987654321)
		bound := 4*math.Hypot(s.BiasError, r.biasError) + 0.001
		if math.Abs(s.Bias-r.bias) > bound {
			t.Errorf("%s: bias %.3f, the document says %.3f", r.label, s.Bias, r.bias)
		}
		p := min(max(r.covered, 0.01), 0.985)
		if math.Abs(s.Covered-r.covered) > 4*math.Sqrt(p*(1-p)/trials)+0.005 {
			t.Errorf("%s: held in %.3f, the document says %.3f", r.label, s.Covered, r.covered)
		}
		if s.Took < r.took*0.88 || s.Took > r.took*1.12 {
			t.Errorf("%s: settled after %.2f s, the document says %.2f", r.label, s.Took, r.took)
		}
		if s.RMS > r.rms*1.35 || s.RMS < r.rms/1.35 {
			t.Errorf("%s: error %.3f, the document says %.3f", r.label, s.RMS, r.rms)
		}
	}
}

// What the document's figures must amount to.
func TestPromises(t *testing.T) {
	table := rows(t)
	for _, c := range CasesAfter() {
		r, ok := table[c.Label()]
		if !ok {
			t.Errorf("doc/settling.md has no row %q", c.Label())
			continue
		}
		if math.Abs(r.bias) > r.u/10+2*r.biasError {
			t.Errorf("%s: bias %.3f is more than a tenth of the stated %.3f", r.label, r.bias, r.u)
		}
		least, most := 0.91, 1.0
		if c.Scatters() && c.Before > 0 && c.Drift == 0 {
			least, most = 0.93, 0.99
		}
		// The table's thousand trials leave so much to chance: one standard deviation.
		chance := math.Sqrt(least * (1 - least) / 1000)
		if r.covered < least-chance || r.covered > most {
			t.Errorf("%s: the interval holds the truth in %.3f, want %.2f to %.2f", r.label, r.covered, least, most)
		}
		// At equal error: when the rule of five speaks, our value is no worse than its.
		if r.atRule > 1.03*r.ruleRMS {
			t.Errorf("%s: when five are equal our error is %.3f and theirs %.3f", r.label, r.atRule, r.ruleRMS)
		}
		if c.Drift == 0 && r.named > 0.01 {
			t.Errorf("%s: a trouble is named in %.3f of undisturbed streams", r.label, r.named)
		}
	}
}

// A staged trouble is named, alone or as one of two; undisturbed streams stay unnamed.
func TestTroublesAreNamed(t *testing.T) {
	const streams = 60
	for _, sc := range Scenes() {
		named, told := 0, 0
		for i := range streams {
			keys := Play(sc, 424243+uint64(i)*104729)
			if len(keys) > 0 {
				told++
			}
			for _, k := range keys {
				if strings.Contains(k, sc.Name) {
					named++
					break
				}
			}
		}
		switch {
		case sc.Name == "clean":
			if told > 1 {
				t.Errorf("%s: %d of %d undisturbed streams are told of a trouble", place(sc.Place), told, streams)
			}
		case sc.Name == settle.Frozen:
			// It shows only where the last digit flickers.
			if named < streams/10 {
				t.Errorf("frozen: named in %d of %d", named, streams)
			}
		case named < streams*85/100:
			t.Errorf("%s, %s: named in %d of %d", sc.Name, place(sc.Place), named, streams)
		}
	}
}

// The stand-in balance has the noise and the response that it is said to have.
func TestBalanceIsWhatItSays(t *testing.T) {
	for _, c := range Cases() {
		b := c.Balance
		b.Interval = 0
		if b.Noise == 0 {
			continue
		}
		s := NewStream(b, 7)
		var sum float64
		const n = 20000
		for range n {
			_, y := s.Next()
			sum += y * y
		}
		want := math.Hypot(b.Noise, b.White)
		if got := math.Sqrt(sum / n); got < 0.85*want || got > 1.15*want {
			t.Errorf("%s: scatter %g, want %g", c.Label(), got, want)
		}
	}
	s := NewStream(Balance{Rate: 100, Tau: 0.5}, 1)
	s.Place(1)
	for s.Now() < 0.4999 {
		s.Next()
	}
	if s.x < 0.62 || s.x > 0.645 {
		t.Errorf("after one time constant the response is %.3f, want 1-1/e", s.x)
	}
}
