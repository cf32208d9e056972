package web

import (
	"testing"

	"wreath/internal/determination"
	"wreath/internal/record"
)

func TestShiftedMark(t *testing.T) {
	for _, c := range []struct {
		text string
		k    int
		want string
	}{
		{"0.52", 1, "5.2"}, {"5,21", -1, "0,521"}, {"468.01", -2, "4.6801"}, {"1.234", 3, "1234"}, {"1,20 g", 3, "1200 g"}, {"5.10", 1, "51.0"}, {"0.0052", 3, "5.2"}, {"12", -1, "1.2"},
	} {
		if got := shifted(c.text, c.k); got != c.want {
			t.Errorf("%q by %d digits is %q, want %q", c.text, c.k, got, c.want)
		}
	}
}

// TestOddNumbers asks about numbers that look misread and leaves the others alone.
func TestOddNumbers(t *testing.T) {
	coarse, fine := 0.1, 0.0001
	gold := &determination.Claim{Metal: "gold"}
	for name, c := range map[string]struct {
		readings [][2]string
		claim    *determination.Claim
		balance  *float64
		about    int // numbers it is about; 0 is no question
		first    string
	}{
		"a tenth":                     {[][2]string{{"air_g", "5.21"}, {"air_g", "0.52"}}, nil, nil, 2, "5.2"},
		"a thousandfold":              {[][2]string{{"air_g", "5.210"}, {"closing_air_g", "5210"}}, nil, nil, 2, "5.210"},
		"exchanged digits":            {[][2]string{{"air_g", "5.1200"}, {"air_g", "5.2100"}}, nil, nil, 2, "5.1200"},
		"exchanged across the mark":   {[][2]string{{"air_g", "15.200"}, {"air_g", "12.500"}}, nil, nil, 2, "15.200"},
		"scatter in the last digits":  {[][2]string{{"liquid_g", "4.6812"}, {"liquid_g", "4.6821"}}, nil, nil, 0, ""},
		"repeats that agree":          {[][2]string{{"air_g", "5.0000"}, {"air_g", "5.0001"}, {"liquid_g", "4.6801"}}, gold, &fine, 0, ""},
		"air and liquid exchanged":    {[][2]string{{"air_g", "4.6801"}, {"liquid_g", "5.0000"}}, gold, nil, 2, ""},
		"a metal ten times too light": {[][2]string{{"air_g", "5.0000"}, {"liquid_g", "0.46801"}}, gold, nil, 2, "4.6801"},
		"amber":                       {[][2]string{{"air_g", "3.0000"}, {"liquid_g", "0.2800"}}, nil, nil, 0, ""},
		"three decimals of tenths":    {[][2]string{{"air_g", "1.234"}}, gold, &coarse, 1, "1234"},
		"three decimals that it has":  {[][2]string{{"air_g", "1,234"}}, gold, &fine, 0, ""},
	} {
		d := &determination.Draft{Claim: c.claim}
		if c.balance != nil {
			d.Balance = &determination.Balance{ResolutionG: c.balance}
		}
		var s record.Sheet
		for i, r := range c.readings {
			s.Readings = append(s.Readings, record.Reading{No: i + 1, Slot: r[0], Text: r[1]})
		}
		rows := slots(s, d, false)
		o := odd(rows, d, nil)
		if (o == nil) != (c.about == 0) || o != nil && (len(o.Readings) != c.about || o.Candidates[0].Text != c.first) {
			t.Errorf("%s: asked %+v, want %d numbers and first %q", name, o, c.about, c.first)
			continue
		}
		if o == nil {
			continue
		}
		if again := odd(rows, d, []record.Note{{Text: o.About()}}); again != nil {
			t.Errorf("%s: it is asked again after it was said to stand: %+v", name, again)
		}
	}
}

func TestReadingInTheWordsOfTheLanguage(t *testing.T) {
	if de, en := (words{Decimal: ","}).R("1.234"), (words{Decimal: "."}).R("1,234"); de != "1,234" || en != "1.234" {
		t.Errorf("1.234 is %q in German, 1,234 is %q in English", de, en)
	}
	for text, want := range map[string]string{"12.44": "", "12,44 g": "", "3.2 dwt": "4.976556", "62.2155 ct": "12.4431"} {
		if got := inGrams(record.Reading{Slot: "air_g", Text: text}); got != want {
			t.Errorf("%q is %q in grams, want %q", text, got, want)
		}
	}
}
