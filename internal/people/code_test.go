package people

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestCodeForm(t *testing.T) {
	zero := encodeCode(make([]byte, codeBytes))
	if zero != "00000-00000-00000-00000-00000" {
		t.Errorf("zero is %s", zero)
	}
	if codeBytes*8 < 112 {
		t.Errorf("%d bits need a salted hash", codeBytes*8)
	}
	if strings.ContainsAny(alphabet, "ILOU") || len(alphabet) != 32 {
		t.Errorf("alphabet %s", alphabet)
	}
}

func TestCodeRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := rapid.SliceOfN(rapid.Byte(), codeBytes, codeBytes).Draw(t, "bytes")
		text := encodeCode(b)
		for _, typed := range []string{text, strings.ToLower(text), strings.ReplaceAll(text, "-", ""), strings.ReplaceAll(text, "-", " "),
			strings.NewReplacer("0", "O", "1", "l").Replace(text), strings.NewReplacer("0", "o", "1", "I").Replace(text), " " + text + "\n"} {
			got, err := decodeCode(typed)
			if err != nil || !bytes.Equal(got, b) {
				t.Fatalf("%q is read as %x, %v, want %x", typed, got, err, b)
			}
		}
	})
}

// Every single wrong character and every swap of two unlike ones is found, wherever it is.
func TestCodeFindsSlips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := strings.ReplaceAll(encodeCode(rapid.SliceOfN(rapid.Byte(), codeBytes, codeBytes).Draw(t, "bytes")), "-", "")
		for i := range text {
			for _, c := range []byte(alphabet) {
				wrong := text[:i] + string(c) + text[i+1:]
				if _, err := decodeCode(wrong); (err == nil) != (wrong == text) {
					t.Fatalf("%s for %s: %v", wrong, text, err)
				}
			}
			for k := i + 1; k < len(text); k++ {
				swapped := []byte(text)
				swapped[i], swapped[k] = swapped[k], swapped[i]
				if _, err := decodeCode(string(swapped)); (err == nil) != (string(swapped) == text) {
					t.Fatalf("%s for %s: %v", swapped, text, err)
				}
			}
		}
	})
}

func TestDecodeCodeSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct{ text, words string }{
		{"", "has 0 characters, but 25"},
		{"00000-00000-00000-00000-0000", "has 24 characters"},
		{"00000-00000-00000-00000-000000", "has 26 characters"},
		{"U0000-00000-00000-00000-00000", `'U' is not used`},
		{"Ä0000-00000-00000-00000-00000", `'Ä' is not used`},
		{"00000-00000-00000-00000-00001", "mistyped"},
		{strings.Repeat("0", 101), "too long"},
	} {
		_, err := decodeCode(c.text)
		var ce *CodeError
		if !errors.As(err, &ce) || !strings.Contains(ce.Reason, c.words) || ce.Hint == "" || !Mistyped(err) {
			t.Errorf("%q: %v, want …%s…", c.text, err, c.words)
		}
	}
}

func TestOneTimeCode(t *testing.T) {
	make := func() (string, OneTimeCode) {
		shown, c, err := NewOneTimeCode(dice(), ForSetup, "", noon)
		noError(t, err)
		return shown, c
	}
	shown, c := make()
	if strings.Contains(c.Hash, strings.ReplaceAll(shown, "-", "")) || !c.Expires.Equal(noon.Add(time.Hour)) {
		t.Errorf("%+v", c)
	}
	roundTrip(t, c)
	noError(t, c.Use(strings.ToLower(shown), noon.Add(59*time.Minute)))
	roundTrip(t, c)
	wantSignIn(t, "used", c.Use(shown, noon.Add(59*time.Minute)), "used already")

	_, c = make()
	wantSignIn(t, "expired", c.Use(shown, noon.Add(time.Hour)), "expired")
	wantSignIn(t, "expired and the clock set back", c.Use(shown, noon.Add(time.Minute)), "clock")
	wantSignIn(t, "expired and set back a little", c.Use(shown, noon.Add(time.Hour-time.Minute)), "expired")

	_, c = make()
	wantSignIn(t, "before it was made", c.Use(shown, noon.Add(-time.Hour)), "clock")

	_, c = make()
	wrong := encodeCode(bytes.Repeat([]byte{7}, codeBytes))
	for i := range OneTimeTries {
		if err := c.Use("00000", noon); !Mistyped(err) {
			t.Errorf("a slip: %v", err)
		}
		if c.Wrong != i {
			t.Errorf("%d wrong tries counted, want %d", c.Wrong, i)
		}
		wantSignIn(t, "wrong", c.Use(wrong, noon), "not the code")
	}
	wantSignIn(t, "right after five wrong ones", c.Use(shown, noon), "off")

	if _, _, err := NewOneTimeCode(dice(), ForPassword, "", noon); err == nil {
		t.Error("a code for nobody's password")
	}
	if _, _, err := NewOneTimeCode(dice(), ForSetup, "ada", noon); err == nil {
		t.Error("a set-up code for someone")
	}
	if _, _, err := NewOneTimeCode(strings.NewReader(""), ForSetup, "", noon); err == nil {
		t.Error("a code without randomness")
	}
}

func TestRecoveryCodes(t *testing.T) {
	random := dice()
	shown, r, err := NewRecoveryCodes(random, noon)
	noError(t, err)
	if len(shown) != 10 || r.Left() != 10 {
		t.Fatalf("%d codes, %d left", len(shown), r.Left())
	}
	for i, code := range shown {
		noError(t, r.Use(code, noon))
		wantSignIn(t, "twice", r.Use(code, noon), "used already")
		if r.Left() != 9-i {
			t.Errorf("%d left", r.Left())
		}
	}
	roundTrip(t, r)
	_, later, err := NewRecoveryCodes(random, noon)
	noError(t, err)
	wantSignIn(t, "of an older sheet", later.Use(shown[0], noon), "none of your")
	if err := later.Use("x", noon); !Mistyped(err) {
		t.Errorf("a slip: %v", err)
	}
	if _, _, err := NewRecoveryCodes(strings.NewReader("a few bytes only"), noon); err == nil {
		t.Error("codes without randomness")
	}
}

// Ten thousand wrong codes do not find one of ten.
func TestGuessingRecoveryCodes(t *testing.T) {
	random := dice()
	_, r, err := NewRecoveryCodes(random, noon)
	noError(t, err)
	for range 10000 {
		guess, _, err := newCode(random)
		noError(t, err)
		if r.Use(guess, noon) == nil {
			t.Fatal("guessed")
		}
	}
}

func TestNewID(t *testing.T) {
	id, err := newID(dice(), "d-")
	noError(t, err)
	if len(id) != 10 || id != strings.ToLower(id) {
		t.Errorf("id %q", id)
	}
	if _, err := newID(strings.NewReader(""), "d-"); err == nil {
		t.Error("an id without randomness")
	}
}

// FuzzDecodeCode: what is accepted is one of the codes, and is written in one way.
func FuzzDecodeCode(f *testing.F) {
	for _, s := range []string{encodeCode(make([]byte, codeBytes)), encodeCode(bytes.Repeat([]byte{255}, codeBytes)), "o0il-", "—", "\xff", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		b, err := decodeCode(text)
		if err != nil {
			if !Mistyped(err) {
				t.Errorf("error %v", err)
			}
			return
		}
		if len(b) != codeBytes {
			t.Fatalf("%d bytes", len(b))
		}
		again, err := decodeCode(encodeCode(b))
		if err != nil || !bytes.Equal(again, b) {
			t.Errorf("%q: %x, then %x, %v", text, b, again, err)
		}
	})
}
