package main

import (
	"context"
	"log/slog"
	"sync"

	"wreath/internal/desk"
	"wreath/internal/spool"
)

// printRoom prints for the shop that is open, which the pages may open later than the program began.
type printRoom struct {
	*spool.Spooler

	mu   sync.Mutex
	halt context.CancelFunc // ends the work; nil while no shop is open
	done chan struct{}
}

func newPrintRoom(log *slog.Logger) *printRoom { return &printRoom{Spooler: &spool.Spooler{Log: log}} }

// use tells which shop is open: its queue is worked off from now on.
func (p *printRoom) use(d *desk.Desk) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.end()
	ctx, halt := context.WithCancel(context.Background())
	done := make(chan struct{})
	p.halt, p.done = halt, done
	p.Queue, p.Render = d, papers{d}
	go func() {
		defer close(done)
		p.Run(ctx)
	}()
}

// close ends the work; a paper that is being sent is noted as broken off half-way.
func (p *printRoom) close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.end()
}

func (p *printRoom) end() {
	if p.halt != nil {
		p.halt()
		<-p.done
		p.halt = nil
	}
}
