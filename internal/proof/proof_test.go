package proof

import (
	"crypto/ed25519"
	"encoding/hex"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/veraison/go-cose"
	"golang.org/x/mod/sumdb/note"

	"wreath/internal/record"
)

func must[T any](t testing.TB) func(T, error) T {
	return func(x T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
}

// testKey is the key of RFC 8032, section 7.1, test 1.
var testKey = ed25519.NewKeyFromSeed(unhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"))

func unhex(text string) []byte {
	b, err := hex.DecodeString(text)
	if err != nil {
		panic(err)
	}
	return b
}

func public(shop string) Key { return NewKey(shop, testKey.Public().(ed25519.PublicKey)) }

// invented is a statement about nothing that exists.
func invented() Statement {
	s := Statement{
		Shop: "river-street", ShopName: "River Street Assay Counter", Number: "D-000123",
		Issued: time.Date(2026, 11, 27, 10, 0, 0, 0, time.UTC), Made: time.Date(2026, 11, 27, 9, 41, 7, 0, time.UTC),
		Entry: 1234, Size: 1240, Item: "plain yellow band, stamp 750", Metal: "Au", Claimed: Number{Value: 750},
		Low: Number{Value: 739}, High: Number{Value: 762}, Finding: Met, Density: Number{Digits: 3, Value: 15449, U: 14}, Mass: Number{Digits: 5, Value: 742131},
		Approved: true,
	}
	for i := range s.Hash {
		s.Hash[i] = byte(7*i + 1)
	}
	for i := range s.Root {
		s.Root[i] = byte(11*i + 3)
	}
	return s
}

// kind is the kind of an *Error, or what it is instead.
func kind(err error) Kind {
	var e *Error
	switch {
	case err == nil:
		return "no error"
	case errors.As(err, &e):
		if e.Reason == "" || e.Hint == "" {
			return "an error without words"
		}
		return e.Kind
	}
	return Kind(err.Error())
}

// TestBase45 holds the text against the examples of RFC 9285, sections 4.3 and 4.4.
func TestBase45(t *testing.T) {
	for plain, coded := range map[string]string{"AB": "BB8", "Hello!!": "%69 VD92EX0", "base-45": "UJCLQE7W581", "ietf!": "QED8WEX0"} {
		if got := base45([]byte(plain)); got != coded {
			t.Errorf("%q is written %q, and %q in RFC 9285", plain, got, coded)
		}
		if got, at := fromBase45(coded); string(got) != plain || at != -1 {
			t.Errorf("%q is read as %q (%d)", coded, got, at)
		}
	}
	// GGW would be 65536, more than two bytes hold, and :: more than one; then letters outside of the alphabet.
	for text, want := range map[string]int{"GGW": 0, "BB8GGW": 3, "::": 0, "bb8": 0, "BB8A": 4, "BB8\u00e4": 3} {
		if got, at := fromBase45(text); at != want {
			t.Errorf("%q is read as %q, at fault %d, want %d", text, got, at, want)
		}
	}
	if got, _ := fromBase45("FGW"); hex.EncodeToString(got) != "ffff" { // the largest group, 65535
		t.Errorf("FGW is %x", got)
	}
}

// TestPublishedMessage opens the message EdDSA-sig-01 of github.com/cose-wg/Examples, which RFC 9052
// names as its examples (appendix C): the library that signs and checks our messages reads it as published.
func TestPublishedMessage(t *testing.T) {
	var m cose.Sign1Message
	if err := m.UnmarshalCBOR(unhex("d28445a201270300a10442313154546869732069732074686520636f6e74656e742e58407142fd2ff96d56db85bee905a76ba1d0b7321a95c8c4d3607c5781932b7afb8711497dfa751bf40b58b3bcc32300b1487f3db34085eef013bf08f4a44d6fef0d")); err != nil {
		t.Fatal(err)
	}
	verifier := must[cose.Verifier](t)(cose.NewVerifier(cose.AlgorithmEdDSA, testKey.Public()))
	if err := m.Verify(nil, verifier); err != nil || string(m.Payload) != "This is the content." {
		t.Errorf("%q: %v", m.Payload, err)
	}
}

// TestOpenGivesWhatWasSigned signs statements of every shape and opens them.
func TestOpenGivesWhatWasSigned(t *testing.T) {
	with := func(change func(*Statement)) Statement { s := invented(); change(&s); return s }
	for name, s := range map[string]Statement{
		"met": invented(),
		"stone": with(func(s *Statement) {
			s.Metal, s.Claimed, s.Low, s.High = "", Number{}, Number{}, Number{}
			s.Claim = "corundum (ruby, sapphire)"
		}),
		"nothing": with(func(s *Statement) {
			s.Metal, s.Claimed, s.Low, s.High, s.Finding, s.Item = "", Number{}, Number{}, Number{}, NoFinding, ""
		}),
		"from nought": with(func(s *Statement) { s.Low = Number{}; s.High = Number{Value: 12} }),
		"unbounded":   with(func(s *Statement) { s.Density.U = 0; s.Finding = Undecided; s.Suspended = true }),
		"flags":       with(func(s *Statement) { s.Approved, s.Demo, s.Suspended = false, true, true; s.Finding = NotMet }),
		"superseded":  with(func(s *Statement) { s.Supersedes, s.SupersededBy, s.Report = "D-000122", "D-000124", "R-000017" }),
		"scripts": with(func(s *Statement) {
			s.Item, s.ShopName = "指輪 – кольцо – خاتم", "Münzstraße Žižkov"
		}),
	} {
		t.Run(name, func(t *testing.T) {
			message := must[[]byte](t)(Sign(s, testKey))
			if len(message) > MaxSize {
				t.Errorf("%d bytes", len(message))
			}
			text := Text(message)
			if strings.Trim(text, alphabet) != "" {
				t.Errorf("%q leaves the alphanumeric mode", text)
			}
			o := must[*Opened](t)(Open(text, NewKey("elsewhere", make([]byte, 32)), public("river-street")))
			if o.Statement != s {
				t.Errorf("signed %+v\nopened %+v", s, o.Statement)
			}
			if again := must[[]byte](t)(Sign(s, testKey)); string(again) != string(message) {
				t.Error("signed again it is another message")
			}
			if len(name) > 0 && o.Key.Mark != public("river-street").Mark {
				t.Errorf("signed with %x", o.Key.Mark)
			}
		})
	}
}

// TestEveryBit flips each bit of a message, and of its text, and each time the proof is refused.
func TestEveryBit(t *testing.T) {
	message := must[[]byte](t)(Sign(invented(), testKey))
	key := public("river-street")
	for bit := range 8 * len(message) {
		changed := []byte(string(message))
		changed[bit/8] ^= 1 << (bit % 8)
		o, err := OpenMessage(changed, key)
		if err == nil {
			t.Fatalf("bit %d is free: %+v", bit, o.Statement)
		}
		switch kind(err) {
		case Damaged, Forged, UnknownKey, OtherShop:
		default:
			t.Errorf("bit %d: %v (%s)", bit, err, kind(err))
		}
	}
	text := Text(message)
	for bit := range 8 * len(text) {
		changed := []byte(text)
		changed[bit/8] ^= 1 << (bit % 8)
		if o, err := Open(string(changed), key); err == nil {
			t.Fatalf("bit %d of the text is free: %+v", bit, o.Statement)
		}
	}
	for at := range text {
		if _, err := Open(text[:at], key); err == nil {
			t.Fatalf("the first %d letters open", at)
		}
	}
}

// TestTextsAsTheyCome opens what scanners and mails make of a text.
func TestTextsAsTheyCome(t *testing.T) {
	text, key := Text(must[[]byte](t)(Sign(invented(), testKey))), public("river-street")
	var groups strings.Builder
	for i, letter := range strings.ReplaceAll(text, " ", "_") {
		if i > 0 && i%25 == 0 {
			groups.WriteByte('\n')
		} else if i > 0 && i%5 == 0 {
			groups.WriteByte(' ')
		}
		groups.WriteRune(letter)
	}
	for _, as := range []string{"\ufeff" + text, text + "\r\n", "  " + text + "\t\n", text[:60] + "\r\n" + text[60:], strings.ToLower(text), groups.String(), strings.ToLower(groups.String())} {
		if _, err := Open(strings.TrimPrefix(as, "\ufeff"), key); err != nil {
			t.Errorf("%q: %v", as, err)
		}
	}
	for as, want := range map[string]Kind{
		"": NoProof, "https://example.org": NoProof, "WREATH": Damaged, "WREATH1": Damaged, "WREATH1Ö" + text[8:]: Damaged, "WREATH1:": Damaged, "WREATH2:" + text[8:]: Newer,
		"WREATH1:" + strings.ToLower(text[8:]): Damaged, text + "0": Damaged, text + "000": Damaged, text[:40] + text[41:]: Damaged, text[:40] + text[43:]: Damaged,
		"WREATH1:" + strings.Repeat("000", 400): Damaged, "WREATH1:BB8": Damaged,
	} {
		if _, err := Open(as, key); kind(err) != want {
			t.Errorf("%.60q: %s, want %s", as, kind(err), want)
		}
	}
}

// TestKeys: a proof holds with any of the shop's keys, and each other case is told apart.
func TestKeys(t *testing.T) {
	_, other, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	message := must[[]byte](t)(Sign(invented(), testKey))
	newer := NewKey("river-street", other.Public().(ed25519.PublicKey))
	elsewhere := NewKey("hill-road", other.Public().(ed25519.PublicKey))
	samePublic := NewKey("hill-road", testKey.Public().(ed25519.PublicKey))
	for _, row := range []struct {
		keys []Key
		want Kind
	}{
		{[]Key{newer, public("river-street")}, "no error"},
		{[]Key{public("river-street"), newer}, "no error"},
		{nil, UnknownKey},
		{[]Key{newer}, UnknownKey},
		{[]Key{elsewhere}, OtherShop},
		{[]Key{samePublic}, OtherShop},
		{[]Key{{Shop: "river-street", Mark: public("river-street").Mark, Public: other.Public().(ed25519.PublicKey)}}, Forged},
		{[]Key{{Shop: "hill-road", Mark: public("river-street").Mark, Public: testKey.Public().(ed25519.PublicKey)}}, Forged},
	} {
		if _, err := OpenMessage(message, row.keys...); kind(err) != row.want {
			t.Errorf("%v: %s (%v), want %s", row.keys, kind(err), err, row.want)
		}
	}
	text := public("river-street").String()
	if k := must[Key](t)(ParseKey(" " + text + "\n")); !reflect.DeepEqual(k, public("river-street")) {
		t.Errorf("%+v", k)
	}
	for _, bad := range []string{"", text[1:], text[:len(text)-1], strings.Replace(text, "river", "rivar", 1), strings.ToUpper(text), "wreath-log/+00000000+AQ=="} {
		if _, err := ParseKey(bad); kind(err) != NoKey {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

// TestKeysOfTheLog reads keys that the library of signed notes makes: the shop's log and its proofs have
// one key.
func TestKeysOfTheLog(t *testing.T) {
	private, published, err := note.GenerateKey(nil, "wreath-log/river-street")
	if err != nil {
		t.Fatal(err)
	}
	shop, key, err := ParsePrivate(private + "\n")
	if err != nil || shop != "river-street" || NewKey(shop, key.Public().(ed25519.PublicKey)).String() != published {
		t.Fatalf("%s: %v", shop, err)
	}
	message := must[[]byte](t)(Sign(invented(), key))
	must[*Opened](t)(OpenMessage(message, must[Key](t)(ParseKey(published))))
	for at := range private {
		changed := []byte(private)
		changed[at] ^= 1
		if _, _, err := ParsePrivate(string(changed)); err == nil {
			t.Errorf("letter %d is free", at)
		} else if strings.Contains(err.Error(), private[len(private)-20:len(private)-4]) {
			t.Errorf("the error shows the key: %v", err)
		}
	}
}

// TestNoProofOfAnything refuses statements that no log can make.
func TestNoProofOfAnything(t *testing.T) {
	for name, spoil := range map[string]func(*Statement){
		"no shop": func(s *Statement) { s.Shop = "" }, "no number": func(s *Statement) { s.Number = "" }, "long number": func(s *Statement) { s.Number = strings.Repeat("9", 17) },
		"entry outside": func(s *Statement) { s.Entry = s.Size }, "finding": func(s *Statement) { s.Finding = "genuine" }, "no time": func(s *Statement) { s.Issued = time.Time{} },
		"not letters": func(s *Statement) { s.Item = "\xff" }, "two lines": func(s *Statement) { s.Item = "a\nb" }, "digits": func(s *Statement) { s.Low.Digits = 1 },
		"negative": func(s *Statement) { s.Mass.Value = -1 }, "mass with U": func(s *Statement) { s.Mass.U = 1 },
	} {
		s := invented()
		spoil(&s)
		if message, err := Sign(s, testKey); err == nil {
			t.Errorf("%s: %x", name, message)
		}
		if jwt, err := Credential(s, testKey); err == nil {
			t.Errorf("%s: %s", name, jwt)
		}
	}
	if _, err := Sign(invented(), nil); err == nil {
		t.Error("signed without a key")
	}
}

// TestSizes signs the records of the kept set and statements as large as they can be.
func TestSizes(t *testing.T) {
	files, err := filepath.Glob("../record/testdata/records/format-1/*.json")
	if err != nil || len(files) < 15 {
		t.Fatalf("%d records: %v", len(files), err)
	}
	sum, most := 0, 0
	for _, name := range files {
		r := must[*record.Record](t)(record.Decode(must[[]byte](t)(os.ReadFile(name))))
		s := must[Statement](t)(Of(r))
		s.Number, s.Shop, s.ShopName, s.Issued, s.Size, s.Supersedes = "D-000001", "river-street", "River Street Assay Counter", s.Made, 1, ""
		message := must[[]byte](t)(Sign(s, testKey))
		o := must[*Opened](t)(OpenMessage(message, public("river-street")))
		sum, most = sum+len(message), max(most, len(message))
		if o.Statement.Number != s.Number || o.Statement.Density != s.Density {
			t.Errorf("%s: %+v", name, o.Statement)
		}
	}
	t.Logf("%d records: %d bytes on average, %d at most", len(files), sum/len(files), most)

	letters := []string{"W", "ß", "指", "💍", "ก็", "é", "👩‍👩‍👧", " "}
	random := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		long := func(n int) string {
			var b strings.Builder
			for b.Len() < n {
				b.WriteString(letters[random.IntN(len(letters))])
			}
			return strings.TrimSpace(b.String())
		}
		s := invented()
		s.Shop, s.Number, s.Report, s.Supersedes, s.SupersededBy = strings.Repeat("s", 40), strings.Repeat("9", 16), strings.Repeat("8", 16), strings.Repeat("7", 16), strings.Repeat("6", 16)
		s.ShopName, s.Item, s.Claim = long(random.IntN(300)), long(random.IntN(500)), long(random.IntN(200))
		s.Entry, s.Size = math.MaxUint32-1, math.MaxUint32
		s.Mass, s.Density = Number{Digits: 7, Value: math.MaxUint32}, Number{Digits: 6, Value: 22_600_000, U: 70_000}
		s.Claimed, s.Low, s.High = Number{Digits: 4, Value: 9_166_667}, Number{Value: 1000}, Number{Value: 1000}
		s.Suspended, s.Demo = true, true
		message := must[[]byte](t)(Sign(s, testKey))
		o := must[*Opened](t)(OpenMessage(message, public(s.Shop)))
		got := &o.Statement
		if len(message) > MaxSize || got.Number != s.Number || got.Report != s.Report || got.Hash != s.Hash {
			t.Fatalf("%d bytes: %+v", len(message), got)
		}
		for _, pair := range [][2]string{{got.ShopName, s.ShopName}, {got.Item, s.Item}, {got.Claim, s.Claim}} {
			short, whole := pair[0], pair[1]
			if short == whole {
				continue
			}
			begin, shown := strings.CutSuffix(short, "…")
			if !shown || !strings.HasPrefix(whole, begin) || !utf8.ValidString(short) || !got.Cut {
				t.Fatalf("%q was cut to %q (marked: %v)", whole, short, got.Cut)
			}
		}
	}
}

// TestWhatARecordGives reads statements out of kept records and compares with what the papers print.
func TestWhatARecordGives(t *testing.T) {
	read := func(name string) Statement {
		return must[Statement](t)(Of(must[*record.Record](t)(record.Decode(must[[]byte](t)(os.ReadFile("../record/testdata/records/format-1/" + name + ".json"))))))
	}
	// The digits were read off the stored answers and rounded by hand: density_20c.kg_m3 15449.1600 and
	// U 14.3445, true_mass_g 7.421306352 and its u 0.0000778.
	ring := read("immersion-hanging-met")
	if ring.Density.String() != "15.449" || ring.Density.Uncertainty() != "0.014" || ring.Mass.String() != "7.421306" || ring.Metal != "Au" || ring.Claimed.String() != "750" ||
		ring.Finding != Met || ring.Low.String() != "739" || ring.Claim != "" || ring.Item != "plain yellow band, stamp 750" {
		t.Errorf("%+v", ring)
	}
	stone := read("stone-in-carat")
	if stone.Metal != "" || stone.Claim != "corundum (ruby, sapphire)" || stone.Claimed != (Number{}) || stone.Low != (Number{}) || stone.Finding != Undecided {
		t.Errorf("%+v", stone)
	}
	if bead := read("sinker-aided"); bead.Finding != NoFinding || bead.Metal != "" || bead.Claim != "" || bead.Density.String() != "1.06508" || bead.Density.Uncertainty() != "0.00067" {
		t.Errorf("%+v", bead)
	}
	if wet := read("suspended-took-up-liquid"); !wet.Suspended || wet.Low != (Number{}) || wet.High != (Number{}) {
		t.Errorf("%+v", wet)
	}
	if of := read("station-corrected"); of.Supersedes != "F1-station-withdrawn-reading" {
		t.Errorf("%+v", of)
	}
}

// TestNumbers prints numbers as they are written down.
func TestNumbers(t *testing.T) {
	for want, n := range map[string]Number{"15.449": {Digits: 3, Value: 15449}, "0.007": {Digits: 3, Value: 7}, "0": {}, "0.00": {Digits: 2}, "12": {Value: 12}, "-0.5": {Digits: 1, Value: -5}} {
		if n.String() != want {
			t.Errorf("%+v is %s, want %s", n, n, want)
		}
		if got, err := number(want); got != n || err != nil {
			t.Errorf("%s is %+v: %v", want, got, err)
		}
	}
}

func BenchmarkSign(b *testing.B) {
	b.ReportAllocs()
	for s := invented(); b.Loop(); {
		if _, err := Sign(s, testKey); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOpen(b *testing.B) {
	message, err := Sign(invented(), testKey)
	if err != nil {
		b.Fatal(err)
	}
	text, key := Text(message), public("river-street")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Open(text, key); err != nil {
			b.Fatal(err)
		}
	}
}

// FuzzOpen: whatever is read, Open neither panics nor believes it, unless it is what was signed.
func FuzzOpen(f *testing.F) {
	message, err := Sign(invented(), testKey)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(Text(message))
	f.Add("WREATH1:")
	f.Add(Text(message[:90]))
	f.Add(Text([]byte("\xd2\x84\x40\xa0\x41\xa0\x40")))
	list, err := SignList(inventedList(), testKey)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(list)
	key := public("river-street")
	f.Fuzz(func(t *testing.T, text string) {
		if read, err := ParseText(text); err == nil {
			if back, err := ParseText(Text(read)); err != nil || string(back) != string(read) {
				t.Fatalf("%q reads as %x, which is written %q", text, read, Text(read))
			}
		}
		if o, err := Open(text, key); err == nil {
			if o.Statement.Number != "D-000123" {
				t.Fatalf("%q opens and was never signed: %+v", text, o.Statement)
			}
		} else if kind(err) == "an error without words" {
			t.Fatalf("%q: %v", text, err)
		}
		if l, err := OpenList(text, key); err == nil && len(l.Rows) != len(inventedList().Rows) {
			t.Fatalf("%q opens as a list and was never signed: %+v", text, l)
		}
	})
}

// TestExampleOfTheManual: the example in doc/proof.md is what is signed, to the byte.
func TestExampleOfTheManual(t *testing.T) {
	manual := string(must[[]byte](t)(os.ReadFile("../../doc/proof.md")))
	message := must[[]byte](t)(Sign(invented(), testKey))
	if !strings.Contains(manual, "\n"+Text(message)+"\n") || !strings.Contains(manual, "\n"+public("river-street").String()+"\n") {
		t.Error("the text or the key of the example is another")
	}
	if !strings.Contains(strings.ReplaceAll(manual, "\n", ""), hex.EncodeToString(message)) {
		t.Error("the message of the example is another")
	}
}
