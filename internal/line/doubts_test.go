package line

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

// TestDamagedLines cuts lines that sure patterns read. What still gives another value must have been
// said to be invisible; a line that no framing lets through must give nothing.
func TestDamagedLines(t *testing.T) {
	cut, unnoticed := 0, 0
	for seed := range uint64(80) {
		g := newGrammar(seed)
		learned, err := Learn(g.taught(g.session(240)), LearnOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if !learned.Sure() {
			continue
		}
		p, blind := learned.Pattern, strings.Join(learned.Blind, "\n")
		for _, w := range g.session(60) {
			v, err := p.Read([]byte(w.line))
			if err != nil || v.State != Reading {
				continue
			}
			try := func(damaged, says string) {
				cut++
				got, err := p.Read([]byte(damaged))
				if err != nil || got.State != Reading || got.Number == v.Number && got.Kind == v.Kind {
					return
				}
				unnoticed++
				if p.Checksum == nil && !strings.Contains(blind, says) {
					t.Errorf("grammar %d: %q, damaged from %q, reads as %v and nobody was told: %q", seed, damaged, w.line, got.Number, learned.Blind)
				}
			}
			for n := 1; n < len(w.line); n++ {
				try(w.line[n:], "lost its beginning")
				try(w.line[:n], "lost its end")
				try(w.line[:n]+w.line[n+1:], "lost a character")
				for _, noise := range []string{"\x00", "\x1b", "\xff", "\xc2"} {
					bad := w.line[:n] + noise + w.line[n+1:]
					if got, err := p.Read([]byte(bad)); err == nil && got.State == Reading {
						t.Errorf("grammar %d: %q reads as %+v", seed, bad, got)
					}
				}
			}
		}
	}
	t.Logf("%d damaged lines, %d read as another value, each of a kind that had been said", cut, unnoticed)
}

func TestCutLineIsRefused(t *testing.T) {
	p := example(t)
	whole := "ok    12.3456 g"
	for n := range len(whole) {
		for _, damaged := range []string{whole[:n], whole[n+1:], whole[:n] + whole[n+1:]} {
			if v, err := p.Read([]byte(damaged)); err == nil && damaged != "ok    12.3456 g" {
				t.Errorf("%q reads as %+v", damaged, v)
			}
		}
	}
}

// taught makes samples from lines of the form "shown|line"; before the bar stands what was shown.
func taught(rows ...string) []Sample {
	var samples []Sample
	for i, row := range rows {
		shown, line, _ := strings.Cut(row, "|")
		samples = append(samples, Sample{Line: []byte(line), Seconds: float64(i), Shown: shown})
	}
	return samples
}

// repeated makes many lines from a few values, so that the number of lines is no doubt.
func repeated(form string, shown bool, values ...float64) []Sample {
	var rows []string
	for range 10 {
		for _, v := range values {
			text := fmt.Sprintf(form, v)
			said := ""
			if shown {
				said = fmt.Sprintf("%.3f g", v)
			}
			rows = append(rows, said+"|"+text)
		}
	}
	return taught(rows...)
}

func TestDoubts(t *testing.T) {
	for _, row := range []struct {
		name    string
		samples []Sample
		says    string
		none    bool // no pattern at all
	}{
		{"only positive values", repeated("%9.3f g", true, 0, 1.5, 22.75, 130.125), "minus sign's place is not known", false},
		{"nothing moved", repeated("%9.3f g", true, 0, 0, 1.5, 1.5, -22.75, -22.75), "No moving line was seen", false},
		{"nothing shown", repeated("%9.3f g", false, 0, 1.5, -22.75), "Nothing that was shown", false},
		{"one value shown", repeated("%9.3f g", true, 100, 100), "Only one value was shown", false},
		{"two columns agree", func() []Sample {
			var rows []string
			for range 10 {
				for _, v := range []float64{0, 1.5, -22.75, 130.125} {
					rows = append(rows, fmt.Sprintf("%.3f g|%9.3f;%9.3f g", v, v, v))
				}
			}
			return taught(rows...)
		}(), "always equal", false},
		{"a mark of thousands or a decimal point", taught("|1.250 g", "|2.250 g", "|12.250 g", "|112.250 g", "|1.500 g", "|-3.125 g"), "may part thousands", false},
		{"no unit and nobody said it", taught("10.5|  10.5", "20.5|  20.5", "0.0|   0.0", "-3.5|  -3.5"), "name no unit", true},
		{"gr", taught("|  10.5 gr", "|  20.5 gr", "|   0.0 gr", "|  -3.5 gr"), "gram and as grain", true},
		{"nothing but words", taught("|hello", "|world"), "No number", true},
		{"shown is something else", taught("5 g|  10.50 g", "6 g|  20.50 g", "7 g|   0.00 g"), "shown other values", true},
		{"a minus in every line", taught("|A-10.5 g", "|A-20.5 g", "|A-30.5 g", "|A-31.5 g"), "may be a separator", false},
		{"few lines", taught("10.5 g|  10.5 g", "-3.5 g|  -3.5 g"), "Give more lines", false},
		{"both marks in one number", taught("1234.5 g|1,234.5 g", "2345.5 g|2,345.5 g", "10.5 g|10.5 g"), "points and commas", false},
	} {
		learned, err := Learn(row.samples, LearnOptions{})
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		if learned.Sure() {
			t.Errorf("%s: sure (%.3f)", row.name, learned.Certainty)
		}
		if all := strings.Join(learned.Doubts, "\n"); !strings.Contains(all, row.says) {
			t.Errorf("%s: the doubts are %q, want one that says %q", row.name, learned.Doubts, row.says)
		}
		if row.none != (learned.Pattern == nil) {
			t.Errorf("%s: pattern %v", row.name, learned.Pattern)
		}
	}
}

// TestNoUnitIsAssumed: without a unit in the line there is a value only after a person said the unit.
func TestNoUnitIsAssumed(t *testing.T) {
	samples := taught("10.5|  10.5", "20.5|  20.5", "0.0|   0.0", "-3.5|  -3.5")
	learned, err := Learn(samples, LearnOptions{Unit: "ct"})
	if err != nil || learned.Pattern == nil {
		t.Fatal(learned, err)
	}
	v, err := learned.Pattern.Read([]byte("  12.5"))
	if err != nil || v.Number != 2.5 || v.Unit != "ct" {
		t.Errorf("%+v, %v", v, err)
	}
	if v, err := learned.Pattern.Read([]byte("  12.5 g")); err == nil {
		t.Errorf("a line with a unit reads as %+v", v)
	}
}

func TestLearnErrors(t *testing.T) {
	for name, f := range map[string]func() (*Learned, error){
		"none":    func() (*Learned, error) { return Learn(nil, LearnOptions{}) },
		"binary":  func() (*Learned, error) { return Learn([]Sample{{Line: []byte{0, 1, 0xff}}}, LearnOptions{}) },
		"shown":   func() (*Learned, error) { return Learn(taught("1.234,5|12.5 g"), LearnOptions{}) },
		"unit":    func() (*Learned, error) { return Learn(taught("|12.5 g"), LearnOptions{Unit: "stone"}) },
		"framing": func() (*Learned, error) { return Learn(taught("|12.5 g"), LearnOptions{Framing: Framing{End: "FF"}}) },
		"many":    func() (*Learned, error) { return Learn(make([]Sample, mostSamples+1), LearnOptions{}) },
	} {
		if learned, err := f(); err == nil || learned != nil {
			t.Errorf("%s: %v, %v", name, learned, err)
		}
	}
}

// TestLearnedIsStored: the document of a learned pattern reads as the pattern does.
func TestLearnedIsStored(t *testing.T) {
	for seed := range uint64(40) {
		g := newGrammar(seed)
		samples := g.taught(g.session(150))
		learned, err := Learn(samples, LearnOptions{Name: "invented", Request: "send\r\n", EveryS: 0.5})
		if err != nil {
			t.Fatal(err)
		}
		again, err := Learn(samples, LearnOptions{Name: "invented", Request: "send\r\n", EveryS: 0.5})
		if err != nil {
			t.Fatal(err)
		}
		if learned.Pattern == nil {
			continue
		}
		data, err := learned.Pattern.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if other, _ := again.Pattern.Encode(); string(other) != string(data) {
			t.Errorf("grammar %d: the same samples give another pattern", seed)
		}
		p, err := DecodePattern(data)
		if err != nil {
			t.Fatalf("grammar %d: %v\n%s", seed, err, data)
		}
		for _, w := range g.session(50) {
			v, err1 := learned.Pattern.Read([]byte(w.line))
			u, err2 := p.Read([]byte(w.line))
			if v != u || (err1 == nil) != (err2 == nil) {
				t.Errorf("grammar %d: %q reads as %+v and, stored, as %+v", seed, w.line, v, u)
			}
		}
	}
}

// FuzzLearn: any lines end in a pattern that passes its own check, or in reasons.
func FuzzLearn(f *testing.F) {
	for seed := range uint64(12) {
		g := newGrammar(seed)
		var all []string
		for _, w := range g.session(30) {
			all = append(all, w.line)
		}
		f.Add(strings.Join(all, "\n"), seed)
	}
	f.Add("1-1\n--1\n1,1,1.1\n+ - 1\n-\n°", uint64(3))
	f.Fuzz(func(t *testing.T, text string, seed uint64) {
		r := rand.New(rand.NewPCG(seed, 2))
		var samples []Sample
		for i, l := range strings.Split(text, "\n") {
			if i == 60 {
				break
			}
			s := Sample{Line: []byte(l), Seconds: float64(i)}
			if at := strings.IndexAny(l, "0123456789"); at >= 0 && r.IntN(2) == 0 {
				if told, err := parseSaid(l[at : at+1]); err == nil && told.number {
					s.Shown = l[at:at+1] + " g"
				}
			}
			if r.IntN(3) == 0 {
				settled := r.IntN(2) == 0
				s.Settled = &settled
			}
			samples = append(samples, s)
		}
		learned, err := Learn(samples, LearnOptions{})
		if err != nil {
			return
		}
		if learned.Certainty < 0 || learned.Certainty > 1 || !learned.Sure() && len(learned.Doubts) == 0 {
			t.Errorf("certainty %v without a doubt", learned.Certainty)
		}
		if learned.Pattern != nil {
			if err := learned.Pattern.Check(); err != nil {
				t.Error(err)
			}
		}
	})
}
