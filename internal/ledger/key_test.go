package ledger

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// TestFollow follows hand-overs from key to key, and none that proves nothing.
func TestFollow(t *testing.T) {
	at := time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC)
	type pair struct{ private, public string }
	key := func(number byte, shop string) pair {
		private, public := testKey(t, shop, number)
		return pair{private, public}
	}
	a, b, c, other := key(1, "here"), key(2, "here"), key(3, "here"), key(4, "there")
	hand := func(from, to pair) string {
		t.Helper()
		signed, err := HandOver("here", to.public, at, from.private)
		if err != nil {
			t.Fatal(err)
		}
		return signed
	}
	ab, bc := hand(a, b), hand(b, c)
	for name, row := range map[string]struct {
		trusted, notes, want []string
	}{
		"two steps":           {[]string{a.public}, []string{ab, bc}, []string{a.public, b.public, c.public}},
		"from the middle":     {[]string{b.public}, []string{ab, bc}, []string{b.public, c.public}},
		"a step is missing":   {[]string{a.public}, []string{bc}, []string{a.public}},
		"in the wrong order":  {[]string{a.public}, []string{bc, ab}, []string{a.public, b.public}},
		"a changed note":      {[]string{a.public}, []string{strings.Replace(ab, b.public, c.public, 1)}, []string{a.public}},
		"not a hand-over":     {[]string{a.public}, []string{checkpointOf(t, a.private)}, []string{a.public}},
		"nothing is trusted":  {nil, []string{ab, bc}, nil},
		"blanks round a key":  {[]string{" " + a.public + "\n"}, []string{ab}, []string{a.public, b.public}},
		"a note out of words": {[]string{a.public}, []string{"", "x", strings.Repeat("\n", 9)}, []string{a.public}},
	} {
		if got := Follow("here", row.trusted, row.notes); !slices.Equal(got, row.want) {
			t.Errorf("%s: %q, want %q", name, got, row.want)
		}
	}
	if _, err := HandOver("here", other.public, at, a.private); err == nil {
		t.Error("a key hands over to that of another shop")
	}
	if _, err := HandOver("here", b.public, at, other.private); err == nil {
		t.Error("the key of another shop hands over")
	}
	if got := Follow("there", []string{a.public}, []string{ab}); slices.Contains(got, b.public) {
		t.Error("a hand-over counts in another shop")
	}
}

// checkpointOf is something else that the key signed.
func checkpointOf(t *testing.T, private string) string {
	t.Helper()
	signed, err := Checkpoint{Shop: "here", Time: time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC)}.Sign(private)
	if err != nil {
		t.Fatal(err)
	}
	return signed
}

// TestBundleAfterAChange verifies a bundle of the new key for somebody who knows the old one.
func TestBundleAfterAChange(t *testing.T) {
	old, oldPublic := testKey(t, "here", 1)
	private, public := testKey(t, "here", 2)
	at := time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC)
	signed, err := Checkpoint{Shop: "here", Time: at}.Sign(private)
	if err != nil {
		t.Fatal(err)
	}
	b, err := NewBundle(signed, public, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := b.Verify(oldPublic); err == nil {
		t.Error("the old key is enough without a hand-over")
	}
	note, err := HandOver("here", public, at, old)
	if err != nil {
		t.Fatal(err)
	}
	b.HandOvers = []string{note}
	if _, _, err := b.Verify(oldPublic); err != nil {
		t.Errorf("the old key with its hand-over: %v", err)
	}
}
