//go:build linux || darwin

package live

import (
	"context"
	"net"
	"sync"
	"testing"

	"wreath/internal/simulated"
	"wreath/internal/simulation"
	"wreath/settle"
)

// Every invented format of the simulated instruments is followed to a settled value, over the network and over
// a pseudo-terminal, and never passes for a real instrument.
func TestFollowsSimulatedInstruments(t *testing.T) {
	for n, format := range simulated.Formats() {
		session, err := simulation.NewSequence(3, simulation.SequenceOptions{Kind: "hanging", Fault: "none", Live: &simulation.LiveOptions{RateHz: 10, Average: 0.3}})
		if err != nil {
			t.Fatal(err)
		}
		station := simulated.NewStation(session.Live)
		instrument, err := station.NewInstrument("one", format.Key)
		if err != nil {
			t.Fatal(err)
		}
		p, err := instrument.Pattern()
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithCancel(t.Context())
		var all sync.WaitGroup
		where := make(chan string, 1)
		if n%2 == 0 {
			all.Go(func() {
				instrument.ServeTCP(ctx, "127.0.0.1:0", func(a net.Addr) { where <- "tcp://" + a.String() })
			})
		} else {
			all.Go(func() {
				instrument.ServePTY(ctx, "", func(path string) { where <- "serial://" + path })
			})
		}
		at := <-where
		all.Go(func() { station.Run(ctx, 20) })
		f, said, end := run(t, Config{ID: format.Key, Address: address(t, at), Pattern: p}, Options{})
		settled := await(t, said, format.Key+" at rest", func(e Event) bool {
			return e.Kind == PhaseChanged && (e.Settle.Phase == settle.Settled || format.Thermometer)
		})
		if settled.Origin != Simulated {
			t.Errorf("%s over %s passes for %s", format.Key, at, settled.Origin)
		}
		if s := f.Snapshot(); s.Balance == nil && s.Thermometer == nil {
			t.Errorf("%s gives no value: %+v", format.Key, s)
		}
		end()
		await(t, said, "the end", toState(Ended))
		stop()
		all.Wait()
	}
}
