package main

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"wreath/internal/desk"
	"wreath/internal/simulated"
	"wreath/internal/source"
)

// inventedInstruments opens simulated addresses for the pages, where the shop that is open is itself invented
// or who serves it asked for them.
type inventedInstruments struct {
	always   bool
	stations simulated.Stations

	mu   sync.Mutex
	desk *desk.Desk // nil until a shop is open
}

// use tells which shop is open.
func (i *inventedInstruments) use(d *desk.Desk) {
	i.mu.Lock()
	defer i.mu.Unlock()
	i.desk = d
}

// open serves as the hub's way to simulated instruments.
func (i *inventedInstruments) open(a source.Address) (source.Source, error) {
	if err := i.allowed(); err != nil {
		return nil, fmt.Errorf("open %s: %w", a, err)
	}
	return i.stations.Open(a)
}

// errInvented refuses an invented instrument in a real shop.
var errInvented = errors.New("a simulated instrument has no place in a shop whose records are real")

func (i *inventedInstruments) allowed() error {
	if i.always {
		return nil
	}
	i.mu.Lock()
	d := i.desk
	i.mu.Unlock()
	if d == nil {
		return errInvented
	}
	shop, err := d.AboutShop(context.Background())
	if err != nil {
		return err
	}
	if !shop.Demo {
		return errInvented
	}
	return nil
}
