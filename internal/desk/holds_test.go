package desk

import (
	"errors"
	"testing"
	"time"

	"wreath/internal/register"
)

// TestAHoldStaysAsItWasTold buys under a hold of ten days and takes the hold out of the rules: what was
// bought before stays held.
func TestAHoldStaysAsItWasTold(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	w.ok(w.SetRegisterRules(ctx, w.boss(), rulesOf(t), "invented"))
	i := w.item()
	deal := must[Deal](t)(w.Register(ctx, w.boss(), Deal{Kind: "buy", Items: []string{i.ID}, Amount: "50", Currency: "EUR"}))
	if len(deal.Holds) == 0 {
		t.Fatal("the deal was told no hold")
	}
	rules := must[register.Rules](t)(w.RegisterRules(ctx, w.who["boss"]))
	for n := range rules.Editions {
		rules.Editions[n].Holds = nil
	}
	w.ok(w.SetRegisterRules(ctx, w.boss(), rules, "no holds any more"))
	_, err := w.MoveItem(ctx, w.boss(), i.ID, "", "sold", "", nil)
	var held *HeldError
	if !errors.As(err, &held) {
		t.Fatalf("sold within the hold that it was told: %v", err)
	}
	w.clock.move(12 * 24 * time.Hour)
	_, boss, err := w.SignIn(ctx, "boss", password, counterPlace)
	w.ok(err)
	must[Item](t)(w.MoveItem(ctx, By{Who: boss}, i.ID, "", "sold", "", nil))
	verified(t, w.Desk)
}

// TestAVoidPurchaseIsTheCustomers can't be sold; it goes back, or comes by a new deal.
func TestAVoidPurchaseIsTheCustomers(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	w.ok(w.SetRegisterRules(ctx, w.boss(), rulesOf(t), "invented"))
	i := w.item()
	buy := func() Deal {
		return must[Deal](t)(w.Register(ctx, w.boss(), Deal{Kind: "buy", Items: []string{i.ID}, Amount: "50", Currency: "EUR"}))
	}
	w.ok(w.VoidDeal(ctx, w.boss(), buy().Number, "the customer thought better of it"))
	for _, gone := range []string{"sold", "melted", "altered"} {
		_, err := w.MoveItem(ctx, w.boss(), i.ID, "", gone, "tried", nil)
		refused(t, gone, err)
	}
	_, err := w.Register(ctx, w.boss(), Deal{Kind: "sell", Items: []string{i.ID}, Amount: "60", Currency: "EUR"})
	refused(t, "a sale of it", err)
	buy()
	var held *HeldError
	if _, err := w.MoveItem(ctx, w.boss(), i.ID, "", "sold", "", nil); !errors.As(err, &held) {
		t.Errorf("bought anew, and then: %v", err)
	}
}
