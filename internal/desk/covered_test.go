package desk

import (
	"testing"

	"golang.org/x/mod/sumdb/tlog"
)

func TestCoveredByTheFirstHead(t *testing.T) {
	w := openWorld(t)
	ctx, by := t.Context(), w.boss()
	shown := must[Recorded](t)(w.Show(ctx, by.Who, w.recorded(by)))
	if c := must[*Covered](t)(w.CoveredBy(ctx, by.Who, shown.Entry)); c != nil && c.Head.Entries <= shown.Entry {
		t.Errorf("a head of %d entries covers entry %d", c.Head.Entries, shown.Entry)
	}
	seal := func() {
		t.Helper()
		if _, _, err := w.Checkpoint(ctx, by.Who, "asked for"); err != nil {
			t.Fatal(err)
		}
	}
	seal()
	first := must[*Covered](t)(w.CoveredBy(ctx, by.Who, shown.Entry))
	w.recorded(by)
	seal()
	again := must[*Covered](t)(w.CoveredBy(ctx, by.Who, shown.Entry))
	if first == nil || again == nil || first.Head.Signed != again.Head.Signed {
		t.Fatalf("a later head took the place of the first: %v, %v", first, again)
	}
	// As many neighbours as the tree asks for: those of a proof of its size.
	want, err := tlog.ProveRecord(first.Head.Entries, shown.Entry, tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) { return make([]tlog.Hash, len(indexes)), nil }))
	if err != nil || len(first.Hashes) != len(want) || len(want) == 0 {
		t.Errorf("%d hashes, want %d (%v)", len(first.Hashes), len(want), err)
	}
}
