package main

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"wreath/internal/demo"
	"wreath/internal/desk"
	"wreath/internal/simulated"
	"wreath/internal/source"
	"wreath/internal/web"
)

// inventedInstruments opens simulated addresses for the pages, where the shop that is open is itself invented
// or who serves it asked for them.
type inventedInstruments struct {
	always   bool
	stations simulated.Stations

	mu   sync.Mutex
	desk *desk.Desk // nil until a shop is open

	bench *simulated.Station // of the invented shop; nil until it is asked for
	halt  context.CancelFunc // ends its time
}

// close ends what runs.
func (i *inventedInstruments) close() {
	i.mu.Lock()
	defer i.mu.Unlock()
	if i.halt != nil {
		i.halt()
	}
}

// benchOfShop is the simulated bench of the invented shop, whose time runs from when it is first asked for. It is
// nil where the records are real.
func (i *inventedInstruments) benchOfShop() *web.ShopBench {
	if i.allowed() != nil {
		return nil
	}
	station, err := i.invent()
	if err != nil {
		return nil
	}
	return &web.ShopBench{Station: station, Balance: demo.BenchBalance, Weigh: demo.Weighing()}
}

func (i *inventedInstruments) invent() (*simulated.Station, error) {
	i.mu.Lock()
	defer i.mu.Unlock()
	if i.bench != nil {
		return i.bench, nil
	}
	station, err := demo.Bench()
	if err != nil {
		return nil, err
	}
	if err := i.stations.Add(demo.BenchName, station); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	i.bench, i.halt = station, cancel
	go func() { _ = station.Run(ctx, 1) }() // it fails at a wrong speed only
	return station, nil
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
	if a.Where == demo.BenchName {
		if _, err := i.invent(); err != nil {
			return nil, fmt.Errorf("open %s: %w", a, err)
		}
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
	if !shop.TakesInvented() {
		return errInvented
	}
	return nil
}
