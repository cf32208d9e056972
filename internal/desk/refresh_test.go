package desk

import (
	"testing"

	"wreath/internal/store"
)

// TestRefresh computes views anew that another edition of the program made, and leaves its own alone.
func TestRefresh(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	if must[bool](t)(w.Refresh(ctx)) {
		t.Error("views of this edition were computed anew")
	}
	w.ok(w.o.Store.Write(ctx, w.Shop(), func(tx *store.Tx) error {
		if err := putSecret(tx, secretViews, theOne, viewsEdition-1); err != nil {
			return err
		}
		return tx.Put("item", "of an older edition", 1, Item{ID: "of an older edition"})
	}))
	if !must[bool](t)(w.Refresh(ctx)) {
		t.Error("views of an older edition were taken as they are")
	}
	same(t, t, w.Desk)
	if must[bool](t)(w.Refresh(ctx)) {
		t.Error("they were computed anew twice")
	}
}
