package sqlite_test

import (
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"wreath/internal/store"
	"wreath/internal/store/sqlite"
	"wreath/internal/store/storetest"
)

// TestEveryBitOfTheFile flips random bits of the file itself. Either the flip is found, or the log
// reads as before: it hit what is not in use, or views and secrets, which are not the log.
func TestEveryBitOfTheFile(t *testing.T) {
	ctx := context.Background()
	good := home(filepath.Join(t.TempDir(), "good.wreath"))
	s, err := sqlite.Open(ctx, string(good), sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	public := storetest.Demo(t, s)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	want := storetest.Dump(t, good.Raw(t), "demo")
	data, err := os.ReadFile(string(good))
	if err != nil {
		t.Fatal(err)
	}
	flips := 1000
	if testing.Short() {
		flips = 200
	}
	random := rand.New(rand.NewPCG(20261102, 2))
	path := home(filepath.Join(t.TempDir(), "flipped.wreath"))
	found := 0
	for range flips {
		bit := random.IntN(len(data) * 8)
		flipped := slices.Clone(data)
		flipped[bit/8] ^= 1 << (bit % 8)
		if err := os.WriteFile(string(path), flipped, 0o600); err != nil {
			t.Fatal(err)
		}
		if !reads(ctx, string(path), public) {
			found++
			continue
		}
		got := storetest.Dump(t, path.Raw(t), "demo")
		for _, table := range []string{"shop", "entry", "node"} {
			if !reflect.DeepEqual(got[table], want[table]) {
				t.Errorf("bit %d of byte %d: %s changed unseen", bit%8, bit/8, table)
			}
		}
		for _, line := range got["attachment"] {
			if !slices.Contains(want["attachment"], line) {
				t.Errorf("bit %d of byte %d: an attachment changed unseen", bit%8, bit/8)
			}
		}
	}
	t.Logf("%d of %d flips in %d bytes found", found, flips, len(data))
	if found < flips/20 {
		t.Error("hardly any flip was found; the test tells too little")
	}
}

// reads says whether the file opens, is sound and verifies.
func reads(ctx context.Context, path, public string) bool {
	if sqlite.Sound(ctx, path) != nil {
		return false
	}
	s, err := sqlite.Open(ctx, path, sqlite.Options{ReadOnly: true})
	if err != nil {
		return false
	}
	defer s.Close()
	_, err = s.Verify(ctx, "demo", []string{public}, nil, nil)
	return err == nil
}

// TestOlderCopyOfTheFile puts a backup back as if nothing had happened since.
func TestOlderCopyOfTheFile(t *testing.T) {
	ctx := context.Background()
	now := home(filepath.Join(t.TempDir(), "now.wreath"))
	s := now.Open(t)
	public := storetest.Demo(t, s)
	old := home(filepath.Join(t.TempDir(), "old.wreath"))
	if err := sqlite.Snapshot(ctx, string(now), string(old)); err != nil {
		t.Fatal(err)
	}
	outside := storetest.More(t, s, public)
	if _, err := s.Verify(ctx, "demo", []string{public}, []store.Expectation{{Name: "the slip", Short: &outside}}, nil); err != nil {
		t.Errorf("the file in use: %v", err)
	}
	_, err := old.Open(t).Verify(ctx, "demo", []string{public}, []store.Expectation{{Name: "the slip", Short: &outside}}, nil)
	storetest.WantBroken(t, err, -1, "the log ends after 22 entries, but the slip was made of 27")
}
