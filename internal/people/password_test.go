package people

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
	"pgregory.net/rapid"
)

func TestCheckPassword(t *testing.T) {
	for _, c := range []struct{ name, password, words string }{
		// Length: at least 15 characters when used alone, at least 64 accepted (3.1.1.2).
		{"empty", "", "has 0 characters, but at least 15"},
		{"14", "otters mend ke", "has 14 characters"},
		{"15", "otters mend ket", ""},
		{"64", "otters mend a kettle while the tide goes out and nobody is there", ""},
		{"200", strings.Repeat("otters mend a kettle ", 9) + "in the rain", ""},
		{"1024 bytes", strings.Repeat("otters mend a kettle ", 48) + "in the rain.1234", ""},
		{"1025 bytes", strings.Repeat("otters mend a kettle ", 48) + "in the rain.12345", "longer than 1024 bytes"},
		{"a megabyte", strings.Repeat("x", 1<<20), "longer than 1024 bytes"},
		// Characters: each code point counts once, spaces stay, any script (3.1.1.2).
		{"14 two-byte letters", "жжйцукенгшщзхъ", "has 14 characters"},
		{"15 letters of another script", "выдракотелчинит", ""},
		{"Han", "水獺修理水壺時潮水退去沒人在那裡", ""},
		{"spaces", "ot te rs me nd !", ""},
		{"spaces at the ends", " otters mend ke ", ""},
		{"pictures", "🦦🔧🫖🌊🐚🦀🪵⚓🧭🐙🦭🐠🪸🦑🐡", ""},
		{"accents composed by us", "cafe\u0301 cafe\u0301 otte", "has 14 characters"},
		{"all printing ASCII", asciiPrintable(), ""},
		{"control character", "otters mend\x00 kettle", "U+0000"},
		{"tab", "otters\tmend a kettle", "U+0009"},
		{"unassigned", "otters mend a kettle \U000E0FFF", "too new"},
		{"not UTF-8", "otters mend a kettle \xff", "UTF-8"},
		// No composition rules (3.1.1.2).
		{"small letters only", "ottersmendakettle", ""},
		{"digits only", "830194726501938475", ""},
		{"signs only", "#)%~&|{;/<+?=*:", ""},
		// Blocklist: common, expected, of this desk; the whole password counts (3.1.1.2).
		{"common", "passwordpassword", "repeats"},
		{"common and digits", "Password20242024!", "words and runs"},
		{"written with digits", "P4$$w0rd-Dr4g0n", "words and runs"},
		{"famous", "correct horse battery staple", "words and runs"},
		{"keyboard", "qwertyuiopasdfghjkl", "words and runs"},
		{"keyboard, upwards", "1qaz2wsx3edc4rfv", "words and runs"},
		{"month", "September-2026!!", "words and runs"},
		{"this program", "wreath wreath 2026", "words and runs"},
		{"this program and a word", "WreathShop2026!", "words and runs"},
		{"person", "ada.example.2026", "belongs to this desk"},
		{"person, changed", "Ad4-Ex4mple-1999", "belongs to this desk"},
		{"id", "adaex17 adaex17 1", "belongs to this desk"},
		{"shop", "Harbour Bench 2026", "belongs to this desk"},
		{"name with accent", "Zoë zoe ZOE 2026!", "belongs to this desk"},
		{"sequence", "abcdefghijklmnop", "runs"},
		{"backwards", "ponmlkjihgfedcba", "runs"},
		{"digits up", "12345678901234567", "runs"},
		{"one letter", "aaaaaaaaaaaaaaaa", "repeats"},
		{"one sign", "!!!!!!!!!!!!!!!!", "repeats"},
		{"pattern", "abcabcabcabcabcabc", "repeats"},
		{"long pattern", strings.Repeat("password", 100), "repeats"},
		{"date", "2026-2026-2026-2026", "repeats"},
		// A listed word within other words is no reason.
		{"word within", "the gold otter mends a kettle", ""},
		{"name within", "ada mends the old kettle", ""},
		{"listed and other words", "monkey dragon kettle sunshine", ""},
		{"three listed words", "monkey dragon sunshine", ""},
		{"word and a long number", "gold 8301947265019", ""},
	} {
		err := CheckPassword(c.password, "adaex17", "Ada Example", "Zoë", "Harbour Bench")
		if c.words == "" {
			if err != nil {
				t.Errorf("%s: %q: %v", c.name, c.password, err)
			}
			continue
		}
		wantField(t, c.name, err, "password", c.words)
	}
}

func asciiPrintable() string {
	var b strings.Builder
	for i := range 95 {
		b.WriteByte(' ' + byte(i*37%95)) // in the order of the code they would be one run
	}
	return b.String()
}

// A password that was let through is verified as typed on another keyboard: composed or not.
func TestKeyboardsAgree(t *testing.T) {
	h := cheap(t)
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.StringOfN(rapid.RuneFrom([]rune("aeoué\u0301\u0308ñÅ\u212b 가각ﬁ½")), 0, 40, -1).Draw(rt, "password")
		hash, err := h.HashPassword(t.Context(), p)
		if err != nil {
			rt.Fatal(err)
		}
		for _, f := range []norm.Form{norm.NFC, norm.NFD} {
			if ok, err := h.VerifyPassword(t.Context(), hash, f.String(p)); err != nil || !ok {
				rt.Fatalf("%q typed as %q is refused: %v", p, f.String(p), err)
			}
		}
	})
}

// NFC keeps apart what NFKC would join: the standard asks for NFC.
func TestNormalFormIsNFC(t *testing.T) {
	a, err := normalize("ﬁfteen otters mend ½ a kettle")
	noError(t, err)
	if a != "ﬁfteen otters mend ½ a kettle" {
		t.Errorf("became %q", a)
	}
	if b, _ := normalize("  two  spaces  "); b != "  two  spaces  " {
		t.Errorf("spaces became %q", b)
	}
}

// Adding length never makes a random password worse, and no kind of character is needed.
func TestRandomPasswordsPass(t *testing.T) {
	for _, letters := range []string{"abcdefghijklmnopqrstuvwxyz", "ABCDEFGHJKLMNPQRSTUVWXYZ23456789", "0123456789", "!#%&()*+,-./:;<=>?[]^_{|}~", "абвгдежзийклмнопрстуфхцчшщъыьэюя"} {
		rapid.Check(t, func(t *rapid.T) {
			p := []rune{}
			for len(p) < 20 {
				p = append(p, rapid.SampledFrom([]rune(letters)).Draw(t, "character"))
			}
			// The generator likes small values; what it makes of one or two characters is a pattern.
			different := map[rune]bool{}
			for _, r := range p {
				different[r] = true
			}
			if len(different) < 9 {
				return
			}
			if err := CheckPassword(string(p), "ada", "Ada Example"); err != nil && !strings.Contains(err.Error(), "runs") {
				t.Fatalf("%q: %v", string(p), err)
			}
		})
	}
}

// What a guesser makes of two words, in any order and dress, is refused.
func TestDerivativesAreRefused(t *testing.T) {
	seps := []string{"", " ", "-", "_", ".", "!", "1", "2026", "99", "#"}
	dress := []func(string) string{strings.ToUpper, strings.ToLower, func(s string) string { return strings.ToUpper(s[:1]) + s[1:] },
		func(s string) string {
			return strings.NewReplacer("a", "@", "e", "3", "i", "1", "o", "0", "s", "$", "t", "7").Replace(s)
		}}
	rapid.Check(t, func(t *rapid.T) {
		word := func(label string) string {
			return rapid.SampledFrom(dress).Draw(t, "dress")(rapid.SampledFrom(common).Draw(t, label))
		}
		one, two := word("one"), word("two")
		sep := func() string { return rapid.SampledFrom(seps).Draw(t, "sep") }
		p := one + sep() + two + sep()
		for utf8.RuneCountInString(p) < MinPassword {
			p += one
		}
		digits := 0
		for _, r := range p {
			if !unicode.IsLetter(r) {
				digits++
			}
		}
		if digits > mostDigits {
			return
		}
		if err := CheckPassword(p); err == nil {
			t.Fatalf("%q passes", p)
		}
	})
}

func TestCommonListIsInOrder(t *testing.T) {
	if len(common) < 300 {
		t.Errorf("%d words", len(common))
	}
	seen := map[string]bool{}
	for _, w := range common {
		if seen[w] {
			t.Errorf("%s stands twice", w)
		}
		seen[w] = true
		if string(fold(w)) != w || len(w) < 3 {
			t.Errorf("%q is not as it is compared: %q", w, string(fold(w)))
		}
	}
}

// The check looks at everything within a bounded time, also at what is made to be slow.
func TestSlowPasswords(t *testing.T) {
	for _, p := range []string{strings.Repeat("iamia", 25) + "x", strings.Repeat("a1", 60) + "b", strings.Repeat("pass", 31) + "x", strings.Repeat("e\u0301", 500)} {
		_ = CheckPassword(p, strings.Repeat("a ", 2000)) // ends; the test's own time limit says so
	}
}

func FuzzCheckPassword(f *testing.F) {
	for _, s := range []string{"otters mend a kettle", "P4ssw0rd P4ssw0rd", "\xff", "e\u0301e\u0301", "aaaaaaaaaaaaaaaaaa", "🦦🦦🦦🦦🦦🦦🦦🦦"} {
		f.Add(s, "Ada Example")
	}
	f.Fuzz(func(t *testing.T, password, context string) {
		err := CheckPassword(password, context)
		if err != nil {
			wantField(t, "refused", err, "password", "")
			return
		}
		normal, err := normalize(password)
		if err != nil {
			t.Fatal(err)
		}
		if n := utf8.RuneCountInString(normal); n < MinPassword || len(normal) > MaxPasswordBytes {
			t.Errorf("%q has %d characters", normal, n)
		}
		if again, err := normalize(normal); err != nil || again != normal {
			t.Errorf("normalized again: %q, %v", again, err)
		}
		if !bytes.Equal(norm.NFC.Bytes([]byte(password)), []byte(normal)) {
			t.Errorf("%q became %q", password, normal)
		}
	})
}

func ExampleCheckPassword() {
	fmt.Println(CheckPassword("Wreath2026", "ada", "Ada Example"))
	fmt.Println(CheckPassword("Wreath Shop 2026!", "ada", "Ada Example"))
	fmt.Println(CheckPassword("four otters mend a kettle", "ada", "Ada Example"))
	// Output:
	// password: has 10 characters, but at least 15 are needed
	// password: is made of words and runs that guessers try first
	// <nil>
}
