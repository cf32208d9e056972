package demo

import (
	"context"
	"time"

	"wreath/internal/desk"
	"wreath/internal/register"
)

// visitorsItem came with the customer who asks to be forgotten.
const visitorsItem = "fork"

// events are what happens beside the weighing, by days before today.
var events = map[int]func(*story, context.Context) error{
	8: (*story).dropScale,
	7: (*story).police,
	6: (*story).forget,
	4: (*story).changeOfMind,
	3: (*story).voidDeal,
	2: (*story).sell,
	1: (*story).redeem,
	0: (*story).lot,
}

func (s *story) dropScale(ctx context.Context) error {
	_, err := s.desk.TakeOutOfService(ctx, s.by, "B-4", "fell off the counter; to be calibrated again")
	return err
}

func (s *story) police(ctx context.Context) error {
	order := register.Order{Authority: "Invented Town Police", Reference: "INVENTED-77"}
	_, err := s.desk.HoldItem(ctx, s.by, s.started["bracelet"].item, order)
	return err
}

// forget erases a customer whom no duty keeps.
func (s *story) forget(ctx context.Context) error {
	return s.desk.EraseCustomer(ctx, s.by, s.visitor, "the customer asked; the item was measured only")
}

// changeOfMind gives up a sheet before anything was weighed.
func (s *story) changeOfMind(ctx context.Context) error {
	sheet, err := s.desk.OpenSheet(ctx, s.by, desk.Begin{Station: counter.station, Document: []byte(`{"item": {"description": "brooch, pin missing"}, "note": "Invented item."}`)})
	if err != nil {
		return err
	}
	s.clock.wait(3 * time.Minute)
	return s.desk.Drop(ctx, s.by, sheet.Sheet.ID, "the customer took the brooch home")
}

// voidDeal is a purchase that came to nothing.
func (s *story) voidDeal(ctx context.Context) error {
	bought := s.started["silver-bar"]
	if err := s.home(ctx, bought.item); err != nil {
		return err
	}
	s.clock.wait(time.Minute)
	return s.desk.VoidDeal(ctx, s.by, bought.deal, "the customer gave the money back the next day and kept the bar")
}

// sell sells a ring whose hold is over.
func (s *story) sell(ctx context.Context) error {
	_, err := s.desk.Register(ctx, s.by, desk.Deal{Kind: "sell", Items: []string{s.started["band"].item}, Amount: "560", Currency: "EUR", Note: "invented"})
	return err
}

// redeem gives a pledge back to its owner.
func (s *story) redeem(ctx context.Context) error {
	pledge := s.started["coin-900"]
	if _, err := s.desk.MoveItem(ctx, s.by, pledge.item, "", "returned", "pledge redeemed", nil); err != nil {
		return err
	}
	s.clock.wait(time.Minute)
	return s.desk.CloseDeal(ctx, s.by, pledge.deal, "redeemed")
}

// lot values what is to be melted together.
func (s *story) lot(ctx context.Context) error {
	v := desk.Valuing{Name: "14 carat for the melt (invented)"}
	for _, key := range []string{"chain", "bubble-seen", "touched"} {
		v.Records = append(v.Records, s.started[key].record)
	}
	_, _, err := s.desk.Lot(ctx, s.by, v)
	return err
}
