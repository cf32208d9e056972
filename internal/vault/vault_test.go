package vault

import (
	"bytes"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/internal/strictjson"
)

// invented is nobody.
func invented() Person {
	return Person{
		Format: Format, Name: "Quirinia Beispielfrau-Ødegård", Address: "Musterweg 17\n9999 Nirgendwo",
		BornOn:   "1984-02-29",
		Identity: &Identity{Kind: "invented pass", Number: "ZZ-0001234", Issuer: "Office of Nowhere", ValidUntil: "2031-12-31"},
		Contact:  "quirinia@nowhere.example", Note: "speaks softly",
	}
}

func newKey(t testing.TB) Key {
	t.Helper()
	k, err := NewKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func seal(t testing.TB, k Key, customer string, version int, p Person) Sealed {
	t.Helper()
	s, err := Seal(rand.Reader, k, customer, version, p)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestSealAndOpen(t *testing.T) {
	k := newKey(t)
	for _, p := range []Person{{Format: Format}, {Format: Format, Name: "A"}, invented()} {
		got, err := Open(k, seal(t, k, "C-1", 1, p))
		if err != nil || !reflect.DeepEqual(got, p) {
			t.Errorf("got %#v, %v, want the person that was sealed", got, err)
		}
	}
}

func TestEveryFlippedBitIsNoticed(t *testing.T) {
	k := newKey(t)
	s := seal(t, k, "C-1", 1, Person{Name: "A"})
	for i := range s.Blob {
		for bit := range 8 {
			flipped := s
			flipped.Blob = bytes.Clone(s.Blob)
			flipped.Blob[i] ^= 1 << bit
			if _, err := Open(k, flipped); !errors.Is(err, ErrSealed) {
				t.Fatalf("bit %d of byte %d flipped: error %v, want ErrSealed", bit, i, err)
			}
		}
	}
	for n := range len(s.Blob) {
		short := s
		short.Blob = s.Blob[:n]
		if _, err := Open(k, short); !errors.Is(err, ErrSealed) {
			t.Fatalf("cut to %d bytes: error %v, want ErrSealed", n, err)
		}
	}
	longer := s
	longer.Blob = append(bytes.Clone(s.Blob), 0)
	if _, err := Open(k, longer); !errors.Is(err, ErrSealed) {
		t.Errorf("a byte appended: error %v, want ErrSealed", err)
	}
}

func TestSwappedAndWrong(t *testing.T) {
	k := newKey(t)
	a1 := seal(t, k, "C-1", 1, Person{Name: "A"})
	a2 := seal(t, k, "C-1", 2, Person{Name: "B"})
	b1 := seal(t, k, "C-2", 1, Person{Name: "C"}) // the same key on purpose: the place alone must tell
	swap := func(s, from Sealed) Sealed {
		s.Blob, s.Commitment = from.Blob, from.Commitment
		return s
	}
	for name, s := range map[string]Sealed{
		"older version put back": swap(a2, a1),
		"another customer's":     swap(a1, b1),
	} {
		if _, err := Open(k, s); !errors.Is(err, ErrSealed) {
			t.Errorf("%s: error %v, want ErrSealed", name, err)
		}
	}
	if _, err := Open(newKey(t), a1); !errors.Is(err, ErrSealed) {
		t.Errorf("wrong key: error %v, want ErrSealed", err)
	}
	// Sealed again under the right key and place, as somebody could who holds the key.
	again := a1
	again.Blob = seal(t, k, "C-1", 1, Person{Name: "Somebody else"}).Blob
	if _, err := Open(k, again); !errors.Is(err, ErrCommitment) {
		t.Errorf("another person under the commitment: error %v, want ErrCommitment", err)
	}
	if _, err := Open(Key{}, a1); err == nil {
		t.Error("no key: opened")
	}
}

func TestSealRefuses(t *testing.T) {
	k := newKey(t)
	for name, try := range map[string]func() error{
		"no key":           func() error { _, err := Seal(rand.Reader, Key{}, "C-1", 1, Person{}); return err },
		"no customer":      func() error { _, err := Seal(rand.Reader, k, "", 1, Person{}); return err },
		"name as customer": func() error { _, err := Seal(rand.Reader, k, "Anna Muster", 1, Person{}); return err },
		"version 0":        func() error { _, err := Seal(rand.Reader, k, "C-1", 0, Person{}); return err },
		"no randomness":    func() error { _, err := Seal(strings.NewReader("short"), k, "C-1", 1, Person{}); return err },
		"bad person":       func() error { _, err := Seal(rand.Reader, k, "C-1", 1, Person{BornOn: "2025-02-29"}); return err },
		"key from nothing": func() error { _, err := NewKey(strings.NewReader("")); return err },
		"key of zeros":     func() error { _, err := NewKey(bytes.NewReader(make([]byte, KeySize))); return err },
		"short key":        func() error { _, err := KeyFromBytes([]byte("short")); return err },
		"stored zeros":     func() error { _, err := KeyFromBytes(make([]byte, KeySize)); return err },
		"key in JSON":      func() error { _, err := json.Marshal(k); return err },
	} {
		if try() == nil {
			t.Errorf("%s: no error", name)
		}
	}
	back, err := KeyFromBytes(k.Bytes())
	if err != nil || !bytes.Equal(back.Bytes(), k.Bytes()) {
		t.Errorf("key from its own bytes: %v", err)
	}
}

// Two equal documents give commitments and sealed bytes that have nothing in common, and the
// commitment cannot be rebuilt from the document without the salt.
func TestCommitmentHides(t *testing.T) {
	k := newKey(t)
	p := Person{Format: Format, Name: "A"}
	a, b := seal(t, k, "C-1", 1, p), seal(t, k, "C-1", 1, p)
	if a.Commitment == b.Commitment {
		t.Error("equal documents give equal commitments")
	}
	equal := 0
	for i := range a.Commitment {
		for bit := range 8 {
			if (a.Commitment[i]^b.Commitment[i])>>bit&1 == 0 {
				equal++
			}
		}
	}
	// 256 fair coins: outside 64 to 192 heads lie 8 standard deviations.
	if equal < 64 || equal > 192 {
		t.Errorf("%d of 256 bits are equal, want about half", equal)
	}
	document, err := p.Encode()
	if err != nil {
		t.Fatal(err)
	}
	for name, salt := range map[string][]byte{"none": nil, "zeros": make([]byte, saltSize)} {
		if commit(salt, document) == a.Commitment {
			t.Errorf("salt %s gives the commitment", name)
		}
	}
	if bytes.Contains(a.Blob, a.Commitment[:]) {
		t.Error("the commitment stands in the sealed bytes")
	}
	if len(a.Blob) != len(seal(t, k, "C-1", 1, Person{Name: strings.Repeat("a", 150)}).Blob) {
		t.Error("the length of the sealed bytes tells the length of the name")
	}
}

// Whatever leaves the package, but for Access and Encode, holds nothing of the person.
func TestNothingShowsThePerson(t *testing.T) {
	word := rapid.StringMatching(`[A-Z][a-z]{7,20}`)
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(word, 7, 7).Draw(t, "words")
		p := Person{Name: words[0], Address: words[1], Contact: words[2], Note: words[3],
			Identity: &Identity{Kind: words[4], Number: words[5], Issuer: words[6]}}
		k, err := NewKey(rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		s, err := Seal(rand.Reader, k, "C-1", 1, p)
		if err != nil {
			t.Fatal(err)
		}
		c, err := Keep("C-1", k)
		if err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		stored, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		out.Write(stored)
		out.Write(s.Blob)
		for _, verb := range []string{"%v", "%+v", "%#v", "%s"} {
			fmt.Fprintf(&out, verb+verb+verb, p, &p, *p.Identity)
		}
		for _, verb := range []string{"%v", "%+v", "%#v", "%s", "%x", "%q", "%d"} {
			fmt.Fprintf(&out, verb+verb+verb, k, c, &c)
		}
		wrong := s
		wrong.Version = 2
		_, err = Open(k, wrong)
		fmt.Fprint(&out, err)
		fmt.Fprintf(&out, "%v%+v", struct{ p Custody }{c}, []any{&c, k})
		for _, w := range append(words, string(k.Bytes()), fmt.Sprintf("%x", k.Bytes())) {
			if bytes.Contains(out.Bytes(), []byte(w)) {
				t.Fatalf("%q shows in the output", w)
			}
		}
	})
}

func TestErrorsOfDecodeDoNotQuote(t *testing.T) {
	for _, in := range []string{
		`{"name": ["Zebedee"]}`, `{"contact": 790001234}`, `{"identity_document": "Zebedee 790001234"}`,
		`{"born_on": "Zebedee, but 790001234"}`, `{"identity_document": "Zebedee, but 790001234"}`, `{"name": {"first": "Zebedee"}}`,
	} {
		_, err := Decode([]byte(in))
		var field *strictjson.FieldError
		if !errors.As(err, &field) {
			t.Errorf("%s: error %v, want a FieldError", in, err)
			continue
		}
		if all := field.Error() + field.Hint; strings.Contains(all, "Zebedee") || strings.Contains(all, "790001234") {
			t.Errorf("%s: %q quotes the document", in, all)
		}
	}
}

func TestDecodeRefuses(t *testing.T) {
	long := strings.Repeat("ä", 201)
	for _, c := range []struct{ name, in, path, reason string }{
		{"unknown field", `{"nmae": "A"}`, "nmae", "no such field"},
		{"newer", `{"format": 2}`, "format", "knows 1"},
		{"too long", `{"name": "` + long + `"}`, "name", "201 characters, at most 200"},
		{"control", `{"name": "A\u0007B"}`, "name", "control character (U+0007) as character 2"},
		{"zero", `{"name": "A\u0000"}`, "name", "control character (U+0000)"},
		{"two lines", `{"name": "A\nB"}`, "name", "line break"},
		{"carriage return", `{"note": "A\r\nB"}`, "note", "line break"},
		{"tab", `{"contact": "A\tB"}`, "contact", "a tab"},
		{"override", `{"address": "ab\u202ecd"}`, "address", "direction of writing (U+202E) as character 3"},
		{"isolate", `{"identity_document": {"number": "\u2066"}}`, "identity_document.number", "direction of writing"},
		{"mark", `{"identity_document": {"issuer": "\u200f"}}`, "identity_document.issuer", "direction of writing"},
		{"zero width", `{"identity_document": {"kind": "a\u200bb"}}`, "identity_document.kind", "invisible"},
		{"soft hyphen", `{"name": "a\u00adb"}`, "name", "invisible"},
		{"half a pair", `{"name": "\ud800"}`, "name", "unreadable"},
		{"private use", `{"name": "\ue000"}`, "name", "without a meaning"},
		{"no such day", `{"born_on": "2025-02-29"}`, "born_on", "not a day"},
		{"other order", `{"born_on": "29.02.1984"}`, "born_on", "not a day"},
		{"valid until", `{"identity_document": {"valid_until": "2031-13-01"}}`, "identity_document.valid_until", "not a day"},
		{"large", `{"note": "` + strings.Repeat("a", MaxDocument) + `"}`, "", "larger than"},
	} {
		_, err := Decode([]byte(c.in))
		var field *strictjson.FieldError
		if !errors.As(err, &field) {
			t.Errorf("%s: error %v, want a FieldError", c.name, err)
			continue
		}
		if field.Path != c.path || !strings.Contains(field.Reason, c.reason) || field.Hint == "" {
			t.Errorf("%s: got path %q, reason %q, hint %q; want %q, …%s…", c.name, field.Path, field.Reason, field.Hint, c.path, c.reason)
		}
	}
	if err := (Person{Name: "\xff"}).Check(); err == nil {
		t.Error("a name that is not UTF-8 passes")
	}
}

func TestDecodeTakesEveryScript(t *testing.T) {
	for _, name := range []string{"Þórdís Ævarsdóttir", "Nguyễn Văn A", "محمد", "می\u200cخواهم", "क्\u200dष", "山田", "O'Neill", "=HYPERLINK(\"x\")", "<b>Ann & Co</b>", "👩\u200d🔧"} {
		in, err := json.Marshal(Person{Name: name})
		if err != nil {
			t.Fatal(err)
		}
		if p, err := Decode(in); err != nil || p.Name != name {
			t.Errorf("%s: got %q, %v", name, p.Name, err)
		}
	}
}

func TestMissing(t *testing.T) {
	if got := invented().Missing(Fields); len(got) != 0 {
		t.Errorf("%v are missing, want none", got)
	}
	p := Person{Name: "  ", Contact: "x", Identity: &Identity{Kind: "pass"}}
	if got, want := p.Missing(Fields), []string{"name", "address", "born_on", "identity_document"}; !reflect.DeepEqual(got, want) {
		t.Errorf("missing %v, want %v", got, want)
	}
	if got := p.Missing([]string{"shoe_size"}); len(got) != 1 {
		t.Error("an unknown field counts as given")
	}
}

func TestErasure(t *testing.T) {
	k := newKey(t)
	s := seal(t, k, "C-1", 1, invented())
	c, err := Keep("C-1", k)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Open(s); err != nil {
		t.Fatal(err)
	}
	at := time.Date(2027, 1, 2, 3, 4, 5, 0, time.UTC)
	e := Erasure{Format, "C-1", at, "U-7", "the time of keeping is over"}
	stored, err := KeyFromBytes(k.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	backup, err := Keep("C-1", stored)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Apply(e); err != nil {
		t.Fatal(err)
	}
	gone := func(c Custody) {
		t.Helper()
		_, err := c.Open(s)
		var erased *ErasedError
		if !errors.As(err, &erased) || erased.Erasure != e || !strings.Contains(err.Error(), "2027-01-02") {
			t.Errorf("after the erasure: %v, want an ErasedError with its record", err)
		}
		if _, err := c.Key(); err == nil {
			t.Error("the key is still there")
		}
		if got, ok := c.Erased(); !ok || got != e {
			t.Errorf("record %v, %v", got, ok)
		}
	}
	gone(c)
	if !k.IsZero() || k.Bytes() != nil {
		t.Error("a copy of the key outlives it")
	}
	later := e
	later.Reason = "again"
	if err := c.Apply(later); err != nil {
		t.Fatal(err)
	}
	gone(c)

	// A backup from before the erasure still has the key, until the log's erasures are applied.
	if _, err := backup.Open(s); err != nil {
		t.Fatal(err)
	}
	if err := backup.Apply(e); err != nil {
		t.Fatal(err)
	}
	gone(backup)

	text, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	var back Erasure
	if err := json.Unmarshal(text, &back); err != nil {
		t.Fatal(err)
	}
	reopened, err := Gone(back)
	if err != nil {
		t.Fatal(err)
	}
	gone(reopened)
}

func TestErasureRefuses(t *testing.T) {
	good := Erasure{Format, "C-1", time.Unix(1, 0), "U-7", "over"}
	for name, change := range map[string]func(*Erasure){
		"format":   func(e *Erasure) { e.Format = 2 },
		"customer": func(e *Erasure) { e.Customer = "" },
		"time":     func(e *Erasure) { e.At = time.Time{} },
		"by":       func(e *Erasure) { e.By = " " },
		"reason":   func(e *Erasure) { e.Reason = "" },
		"control":  func(e *Erasure) { e.Reason = "a\x1bb" },
	} {
		e := good
		change(&e)
		if _, err := Gone(e); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	c, err := Keep("C-2", newKey(t))
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Apply(good); err == nil {
		t.Error("the erasure of another customer was applied")
	}
	if _, err := c.Key(); err != nil {
		t.Error("and it took the key")
	}
	if _, err := Keep("C-2", Key{}); err == nil {
		t.Error("a customer without a key is kept")
	}
}

func TestAccess(t *testing.T) {
	k := newKey(t)
	c, err := Keep("C-1", k)
	if err != nil {
		t.Fatal(err)
	}
	day := func(d int) time.Time { return time.Date(2026, 5, d, 10, 0, 0, 0, time.UTC) }
	older := invented()
	older.Address = "Altgasse 1"
	versions := []Dated{{day(1), seal(t, k, "C-1", 1, older)}, {day(2), seal(t, k, "C-1", 2, invented())}}
	facts := AccessFacts{Keeper: "Invented Metals, Nowhere", Purposes: []string{"register of purchases"},
		Deals: []AccessDeal{{Number: "A-2026-00001", At: day(1), Kind: "buy", Amount: "120.00", Currency: "EUR"}}}
	a, err := NewAccess(c, versions, facts, day(3))
	if err != nil {
		t.Fatal(err)
	}
	text, err := a.Encode()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Quirinia", "Altgasse 1", "Musterweg 17", "ZZ-0001234", "A-2026-00001", "register of purchases"} {
		if !bytes.Contains(text, []byte(want)) {
			t.Errorf("the answer lacks %s", want)
		}
	}
	var back Access
	if err := json.Unmarshal(text, &back); err != nil || !reflect.DeepEqual(a, back) {
		t.Errorf("the answer does not read back: %v", err)
	}

	if _, err := NewAccess(c, []Dated{{day(1), seal(t, k, "C-2", 1, invented())}}, facts, day(3)); err == nil {
		t.Error("another customer's data got into the answer")
	}
	if _, err := NewAccess(c, []Dated{versions[1], versions[0]}, facts, day(3)); err == nil {
		t.Error("versions out of order are accepted")
	}
	if _, err := NewAccess(c, []Dated{versions[0], versions[0]}, facts, day(3)); err == nil {
		t.Error("a version given twice is accepted")
	}
	if _, err := NewAccess(c, versions, AccessFacts{}, day(3)); err == nil {
		t.Error("an answer without the keeper is made")
	}

	if err := c.Apply(Erasure{Format, "C-1", day(4), "U-7", "asked for by the customer"}); err != nil {
		t.Fatal(err)
	}
	a, err = NewAccess(c, versions, facts, day(5))
	if err != nil || a.Erased == nil || len(a.Versions) != 0 {
		t.Errorf("after the erasure: %d versions, erased %v, %v", len(a.Versions), a.Erased, err)
	}
}

func TestCommitmentText(t *testing.T) {
	s := seal(t, newKey(t), "C-1", 1, Person{})
	stored, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	var back Sealed
	if err := json.Unmarshal(stored, &back); err != nil || !reflect.DeepEqual(s, back) {
		t.Errorf("got %+v, %v, want %+v", back, err, s)
	}
	for _, text := range []string{"", "00", strings.Repeat("g", 64), strings.Repeat("0", 66)} {
		if new(Commitment).UnmarshalText([]byte(text)) == nil {
			t.Errorf("%q is taken for a commitment", text)
		}
	}
}

// TestVector pins the form of sealed bytes: they are kept for years.
func TestVector(t *testing.T) {
	key, err := NewKey(strings.NewReader(strings.Repeat("k", KeySize)))
	if err != nil {
		t.Fatal(err)
	}
	s, err := Seal(strings.NewReader(strings.Repeat("n", nonceSize)+strings.Repeat("s", saltSize)), key, "C-1", 3, Person{Name: "A"})
	if err != nil {
		t.Fatal(err)
	}
	const form = "\x01nnnnnnnnnnnn"
	if !bytes.HasPrefix(s.Blob, []byte(form)) || len(s.Blob) != len(form)+block+16 {
		t.Errorf("sealed bytes start %x and are %d long", s.Blob[:13], len(s.Blob))
	}
	if want := "e0bf27eef6230cfdbf2322f21dbc9738e92ae632c169b8aac04eae2ef46605ed"; s.Commitment.String() != want {
		t.Errorf("commitment %s, want %s (Python's hashlib)", s.Commitment, want)
	}
}

// FuzzDecode: what is accepted is written and read back to the same person.
func FuzzDecode(f *testing.F) {
	text, err := invented().Encode()
	if err != nil {
		f.Fatal(err)
	}
	for _, s := range []string{string(text), `{}`, `{"name": "\u202e"}`, `{"identity_document": {}}`, `{"name": null}`, "", "["} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Decode(data)
		if err != nil {
			var field *strictjson.FieldError
			if !errors.As(err, &field) || field.Hint == "" || field.Reason == "" {
				t.Fatalf("error %v has no reason or hint", err)
			}
			return
		}
		text, err := p.Encode()
		if err != nil {
			t.Fatal(err)
		}
		back, err := Decode(text)
		if err != nil || !reflect.DeepEqual(p, back) {
			t.Fatalf("reads back otherwise: %v", err)
		}
	})
}

// FuzzOpen: no bytes but the sealed ones open, and none crash.
func FuzzOpen(f *testing.F) {
	key, err := KeyFromBytes(bytes.Repeat([]byte{7}, KeySize))
	if err != nil {
		f.Fatal(err)
	}
	good := seal(f, key, "C-1", 1, invented())
	f.Add(good.Blob)
	f.Add(good.Blob[:20])
	f.Add([]byte{})
	f.Add([]byte{form})
	f.Fuzz(func(t *testing.T, blob []byte) {
		s := good
		s.Blob = blob
		if _, err := Open(key, s); (err == nil) != bytes.Equal(blob, good.Blob) {
			t.Fatalf("error %v", err)
		}
	})
}
