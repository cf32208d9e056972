package ledger

import (
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/note"
	"pgregory.net/rapid"
)

func TestCheckpointComesBack(t *testing.T) {
	for _, n := range []int{0, 1, 9} {
		l := newLog(t, "river-street", n)
		private, public := testKey(t, l.shop, 1)
		_, old := testKey(t, l.shop, 2)
		got, err := OpenCheckpoint(l.signed(t, private), old, public+"\n")
		if err != nil || got != l.checkpoint() {
			t.Errorf("%d entries: %+v, %v, want %+v", n, got, err, l.checkpoint())
		}
	}
}

func TestCheckpointOfSomebodyElse(t *testing.T) {
	l := newLog(t, "river-street", 5)
	private, public := testKey(t, l.shop, 1)
	otherPrivate, otherPublic := testKey(t, l.shop, 2)
	shopPrivate, shopPublic := testKey(t, "hill-road", 3)

	_, err := OpenCheckpoint(l.signed(t, otherPrivate), public)
	wantBroken(t, err, -1, "isn't signed with the shop's key")
	_, err = OpenCheckpoint(l.signed(t, private), otherPublic)
	wantBroken(t, err, -1, "isn't signed with the shop's key")
	if _, err := OpenCheckpoint(l.signed(t, private)); err == nil {
		t.Error("a checkpoint is taken without any key")
	}
	if _, err := OpenCheckpoint(l.signed(t, private), "river-street"); err == nil || !strings.Contains(err.Error(), "public key") {
		t.Errorf("a key that is none: %v", err)
	}
	if _, err := l.checkpoint().Sign(shopPrivate); err == nil || !strings.Contains(err.Error(), "wreath-log/hill-road") {
		t.Errorf("signed with the key of another shop: %v", err)
	}
	if _, err := l.checkpoint().Sign("nonsense"); err == nil || strings.Contains(err.Error(), "nonsense") {
		t.Errorf("signed with nonsense, or the key is in the message: %v", err)
	}

	// The other shop's own key under a text that names this shop.
	signer, err := note.NewSigner(shopPrivate)
	if err != nil {
		t.Fatal(err)
	}
	forged, err := note.Sign(&note.Note{Text: l.checkpoint().text()}, signer)
	if err != nil {
		t.Fatal(err)
	}
	_, err = OpenCheckpoint(string(forged), public, shopPublic)
	wantBroken(t, err, -1, "key of another shop")
}

// TestEveryBitOfACheckpoint: a signature has one form, so no bit may be flipped unseen.
func TestEveryBitOfACheckpoint(t *testing.T) {
	l := newLog(t, "river-street", 5)
	private, public := testKey(t, l.shop, 1)
	signed := l.signed(t, private)
	for i := range len(signed) * 8 {
		if got, err := OpenCheckpoint(flip(signed, i), public); err == nil {
			t.Errorf("bit %d of byte %d (%q) flipped unseen: %+v", i%8, i/8, signed[i/8], got)
		}
	}
}

// flip turns one bit of a text over.
func flip(text string, bit int) string {
	b := []byte(text)
	b[bit/8] ^= 1 << (bit % 8)
	return string(b)
}

// TestOtherTextsAreNoCheckpoint signs them with the right key.
func TestOtherTextsAreNoCheckpoint(t *testing.T) {
	l := newLog(t, "river-street", 5)
	private, public := testKey(t, l.shop, 1)
	signer, err := note.NewSigner(private)
	if err != nil {
		t.Fatal(err)
	}
	good := l.checkpoint().text()
	for name, text := range map[string]string{
		"another origin":   strings.Replace(good, "wreath-log/", "other-log/", 1),
		"no shop":          strings.Replace(good, "river-street", "", 1),
		"capital letters":  strings.Replace(good, "river-street", "River-Street", 1),
		"negative size":    strings.Replace(good, "\n5\n", "\n-5\n", 1),
		"size with a zero": strings.Replace(good, "\n5\n", "\n05\n", 1),
		"size with a plus": strings.Replace(good, "\n5\n", "\n+5\n", 1),
		"short root":       strings.Replace(good, "=\n", "\n", 1),
		"time of a zone":   strings.Replace(good, "Z\n", "+00:00\n", 1),
		"no time":          good[:strings.Index(good, "time")],
		"one line more":    good + "more\n",
	} {
		signed, err := note.Sign(&note.Note{Text: text}, signer)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := OpenCheckpoint(string(signed), public); err == nil {
			t.Errorf("%s: taken as %+v", name, got)
		}
	}
}

func TestShopNames(t *testing.T) {
	for _, good := range []string{"a", "river-street", "42", strings.Repeat("a", 40)} {
		if err := CheckShop(good); err != nil {
			t.Errorf("%q: %v", good, err)
		}
		if _, _, err := NewKey(good); err != nil {
			t.Errorf("key of %q: %v", good, err)
		}
	}
	for _, bad := range []string{"", "-a", "a-", "A", "a b", "ä", "a/b", "a\n", strings.Repeat("a", 41)} {
		if err := CheckShop(bad); err == nil {
			t.Errorf("%q can name a shop", bad)
		}
		if _, _, err := NewKey(bad); err == nil {
			t.Errorf("%q gets a key", bad)
		}
	}
}

func TestEveryBitOfAPublicKey(t *testing.T) {
	_, public := testKey(t, "river-street", 1)
	if err := CheckKey("river-street", public); err != nil {
		t.Error(err)
	}
	if err := CheckKey("hill-road", public); err == nil || !strings.Contains(err.Error(), "wreath-log/river-street") {
		t.Errorf("the key of another shop: %v", err)
	}
	for bit := range len(public) * 8 {
		if err := CheckKey("river-street", flip(public, bit)); err == nil {
			t.Errorf("bit %d of byte %d (%q) flipped unseen", bit%8, bit/8, public[bit/8])
		}
	}
}

func TestShortAsPeopleTypeIt(t *testing.T) {
	s := newLog(t, "demo", 1234).checkpoint().Short()
	printed := s.String()
	if !strings.HasPrefix(printed, "1234/") || len(printed) != len("1234/")+8*4+7 {
		t.Fatalf("printed as %q", printed)
	}
	for _, typed := range []string{
		printed,
		strings.ToLower(printed),
		" " + printed + " \n",
		strings.ReplaceAll(printed, "-", " "),
		strings.ReplaceAll(printed, "-", ""),
		strings.ReplaceAll(printed, "-", "\r\n"),
		strings.Replace(printed, "/", " / ", 1),
		"1234/" + strings.ReplaceAll(printed[5:], "0", "O"),
		"1234/" + strings.ReplaceAll(printed[5:], "0", "o"),
		"1234/" + strings.ReplaceAll(printed[5:], "1", "I"),
		"1234/" + strings.ReplaceAll(printed[5:], "1", "l"),
	} {
		if got, err := ParseShort(typed); err != nil || got != s {
			t.Errorf("%q: %v, %v, want %v", typed, got, err, s)
		}
	}
	// Every letter that stands for a digit, in one.
	zeros := Short{Size: 10}
	if got, err := ParseShort("10/0000-oOoO-0000-0000-0000-0000-0000-OOOO"); err != nil || got != zeros {
		t.Errorf("zeros: %v, %v", got, err)
	}
	ones, err := ParseShort("7/1111-IIII-iiii-LLLL-llll-1IiL-l111-1111")
	if err != nil || ones.String() != "7/1111-1111-1111-1111-1111-1111-1111-1111" {
		t.Errorf("ones: %v, %v", ones, err)
	}
	for _, bad := range []string{
		"", "1234", "/", printed[5:], "-1/" + printed[5:], "x/" + printed[5:], printed[:len(printed)-1], printed + "0",
		"1234/" + strings.Repeat("U", 32), "99999999999999999999/" + printed[5:],
		"1234/" + printed[5:len(printed)-1] + "\n", "1234/" + printed[5:20] + "\n" + printed[21:],
	} {
		if got, err := ParseShort(bad); err == nil {
			t.Errorf("%q is taken as %v", bad, got)
		} else if !strings.Contains(err.Error(), "eight groups of four") {
			t.Errorf("%q: %v does not say what it looks like", bad, err)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := Short{Size: rapid.Int64Min(0).Draw(t, "size"), Root: [20]byte(rapid.SliceOfN(rapid.Byte(), 20, 20).Draw(t, "root"))}
		if got, err := ParseShort(s.String()); err != nil || got != s {
			t.Fatalf("%v comes back as %v, %v", s, got, err)
		}
	})
}

func FuzzParseShort(f *testing.F) {
	f.Add(newLog(f, "demo", 12).checkpoint().Short().String())
	f.Add("0/oooo-iiii llll 0000-1111-2222-ZZZZ-zzzz")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseShort(text)
		if err != nil {
			return
		}
		if again, err := ParseShort(s.String()); err != nil || again != s {
			t.Errorf("%q is read as %v, but that as %v, %v", text, s, again, err)
		}
	})
}

func FuzzOpenCheckpoint(f *testing.F) {
	l := newLog(f, "demo", 12)
	private, public := testKey(f, "demo", 1)
	signed := l.signed(f, private)
	f.Add(signed)
	f.Add(strings.Replace(signed, "\n12\n", "\n13\n", 1))
	f.Fuzz(func(t *testing.T, text string) {
		got, err := OpenCheckpoint(text, public)
		if err == nil && got != l.checkpoint() {
			t.Errorf("a forged checkpoint: %+v", got)
		}
		// The text below the signature, as if it had been signed.
		if c, err := parseCheckpoint(text); err == nil && c.text() != text {
			t.Errorf("%q has a second form %q", text, c.text())
		}
	})
}

func TestSignRoundsNothing(t *testing.T) {
	c := Checkpoint{Shop: "demo", Size: 1, Time: time.Date(2026, 1, 2, 3, 4, 5, 0, time.FixedZone("", -7200))}
	if want := "wreath-log/demo\n1\nAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\ntime 2026-01-02T05:04:05Z\n"; c.text() != want {
		t.Errorf("text %q, want %q", c.text(), want)
	}
}
