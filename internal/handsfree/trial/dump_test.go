package trial

import (
	"fmt"
	"testing"

	"wreath/internal/simulation"
	"wreath/settle"
)

func TestDump(t *testing.T) {
	q, _ := simulation.NewSequence(*probeSeed, simulation.SequenceOptions{Fault: "none"})
	b := q.Session.Bench
	fmt.Printf("%+v %+v\n", q.Live, b.Station)
	e := settle.New(settle.Options{Interval: b.Interval, Repeatability: max(b.Repeatability, b.RepeatabilityLiquid)})
	last := settle.Event{}
	q.Run(func(s simulation.LiveSample) {
		m := settle.MarkMoving
		if s.Settled {
			m = settle.MarkSettled
		}
		ev := e.Add(settle.Sample{Seconds: s.Seconds, Value: s.Grams, Mark: m})
		if ev.Phase != last.Phase || ev.Load != last.Load || int(ev.Seconds) != int(last.Seconds) {
			fmt.Printf("%.1f %s load %d raw %.5f val %.5f u %.6f n %d wait %.1f noise %.6f trouble %v\n", ev.Seconds, ev.Phase, ev.Load, s.Grams, ev.Value, ev.U, ev.N, ev.Wait, ev.Noise, ev.Troubles)
		}
		last = ev
	})
}
