package desk

import (
	"errors"
	"testing"
	"time"
)

// TestNothingLeavesAHeldBag takes a ring out of a bag that is held, or has left: the hold would end
// with it, and what was sold would be here again.
func TestNothingLeavesAHeldBag(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	w.ok(w.SetRegisterRules(ctx, w.boss(), rulesOf(t), ""))
	bag, other := w.item(), w.item()
	ring := must[Item](t)(w.EnterItem(ctx, w.boss(), Item{Description: "ring", PartOf: bag.ID}))
	w.bought(bag.ID)
	into := func(whole string) error {
		to := ring
		to.PartOf = whole
		changed, err := w.ChangeItem(ctx, w.boss(), to, "sorted")
		if err == nil {
			ring = changed
		}
		return err
	}
	before := w.size()
	for _, whole := range []string{"", other.ID} {
		if err := into(whole); !errors.As(err, new(*HeldError)) {
			t.Errorf("out of a held bag, into %q: %v", whole, err)
		}
	}
	if w.size() != before {
		t.Error("a refusal left an entry")
	}

	// A box within the bag is no way out of it.
	box := must[Item](t)(w.EnterItem(ctx, w.boss(), Item{Description: "box", PartOf: bag.ID}))
	w.ok(into(box.ID))
	if err := into(""); !errors.As(err, new(*HeldError)) {
		t.Errorf("out of a box in a held bag: %v", err)
	}

	w.clock.move(11 * 24 * time.Hour)
	_, boss, err := w.SignIn(ctx, "boss", password, counterPlace)
	w.ok(err)
	w.who["boss"] = boss
	w.ok(into(other.ID))
	w.ok(into(bag.ID))
	must[Deal](t)(w.Register(ctx, w.boss(), Deal{Kind: "sell", Items: []string{bag.ID}}))
	saying(t, "out of a bag that was sold", into(""), "is sold")
}
