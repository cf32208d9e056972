package alloy

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestParseParts(t *testing.T) {
	for text, want := range map[string]string{
		"Au=750,Ag=125,Cu=125":       "Au=750,Ag=125,Cu=125",
		" au = 3 ; copper=1 ":        "Au=750,Cu=250",
		"GOLD=18,silver=3,Cu=3,":     "Au=750,Ag=125,Cu=125",
		"Pt=0.95,Ru=.05":             "Pt=950,Ru=50",
		"Au=1e3":                     "Au=1000",
		"Au=1,Cu=-0":                 "Au=1000,Cu=0",
		"Ag=925,Cu=75,Zn=0":          "Ag=925,Cu=75,Zn=0",
		"Au=9,Ag=3;Cu=11,Zinc=1":     "Au=375,Ag=125,Cu=458.33333,Zn=41.66667",
		"Au=333,Ag=100.5,Cu=566.500": "Au=333,Ag=100.5,Cu=566.5",
	} {
		p, err := ParseParts(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
		} else if p.String() != want {
			t.Errorf("%q reads as %s, want %s", text, p, want)
		}
	}
}

func TestParsePartsErrors(t *testing.T) {
	for text, words := range map[string][]string{
		"":                           {"empty", "Au=750"},
		" , ":                        {"add up to nothing"},
		"Au":                         {`"Au" has no amount`, "Au=750"},
		"Ax=5":                       {`"Ax"`, "Did you mean Au (gold), Ag (silver), Al (aluminium)?"},
		"Xx=5":                       {`"Xx"`, "Au=750"},
		"é=5":                        {`"é"`, "Au=750"},
		"Gld=5":                      {`"Gld"`, "Did you mean Au (gold)?"},
		"palladuim=5":                {"Did you mean Pd (palladium)?"},
		"colour=5":                   {`"colour"`, "Au=750"},
		"goldgoldgoldgoldgoldgold=5": {"Au=750"},
		"sliver=3":                   {`"sliver"`, "Did you mean Ag (silver)?"},
		"Au=750,Au=3":                {"Au (gold) is named twice"},
		"Au=750,gold=3":              {"named twice", "Add the two amounts"},
		"Au=7x":                      {`"7x"`, "decimal point"},
		"Au=-1,Cu=2":                 {`"-1"`},
		"Au=NaN":                     {`"NaN"`},
		"Au=Inf":                     {`"Inf"`},
		"Au=1e300,Cu=1":              {`"1e300"`},
		"Au=0,Cu=0":                  {"add up to nothing"},
		"Au=62,5,Cu=100":             {`"5" has no amount`},
		"=5":                         {`""`},
	} {
		_, err := ParseParts(text)
		var partsError *PartsError
		if !errors.As(err, &partsError) {
			t.Errorf("%q: got %v, want a *PartsError", text, err)
			continue
		}
		said := partsError.Problem + " " + partsError.Hint
		for _, word := range words {
			if !strings.Contains(said, word) {
				t.Errorf("%q says %q, want %q in it", text, said, word)
			}
		}
	}
}

func FuzzParseParts(f *testing.F) {
	for _, seed := range []string{"Au=750,Ag=125,Cu=125", "gold=3;Cu=1", "Au", "=", "Au=1e9,Ag=1e-9", "Zn=0", "Añ=5", "\xff=1", "Au=1,,Cu=2", "Au=0x10"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := ParseParts(text)
		if err != nil {
			var partsError *PartsError
			if !errors.As(err, &partsError) || partsError.Problem == "" || partsError.Hint == "" {
				t.Fatalf("%q: error %v tells nothing", text, err)
			}
			return
		}
		total := 0.0
		seen := map[string]bool{}
		for _, part := range p {
			if !(part.Fraction >= 0 && part.Fraction <= 1) || seen[part.Symbol] {
				t.Fatalf("%q gives %v", text, p)
			}
			seen[part.Symbol] = true
			total += part.Fraction
		}
		if math.Abs(total-1) > 1e-12 {
			t.Fatalf("%q: fractions add up to %g", text, total)
		}
		if again, err := ParseParts(p.String()); err == nil {
			for i, part := range again {
				if part.Symbol != p[i].Symbol || math.Abs(part.Fraction-p[i].Fraction) > 1e-6 {
					t.Fatalf("%q prints as %s and reads back as %v", text, p, again)
				}
			}
		} else {
			t.Fatalf("%q prints as %s, which cannot be read: %v", text, p, err)
		}
	})
}
