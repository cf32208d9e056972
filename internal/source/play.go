package source

import (
	"context"
	"fmt"
	"math"
	"os"
	"time"
)

// player plays a recording.
type player struct {
	path string
	pace float64 // how many times faster than real; +Inf does not wait
}

func (s *player) Run(ctx context.Context, sink Sink) error {
	f, err := os.Open(s.path)
	if err != nil {
		return fmt.Errorf("play %s: %w", s.path, err)
	}
	defer f.Close()
	start := time.Now()
	var seconds float64
	_, err = ReadRecording(f, func(e Event) bool {
		seconds = e.Seconds
		if !math.IsInf(s.pace, 1) {
			wait(ctx, time.Until(start.Add(time.Duration(e.Seconds/s.pace*float64(time.Second)))))
		}
		if ctx.Err() == nil && e.Link != Ended {
			sink(e)
		}
		return ctx.Err() == nil
	})
	if err != nil {
		err = fmt.Errorf("play %s: %w", s.path, err)
	}
	sink(Event{Kind: LinkChanged, Link: Ended, Seconds: seconds, Err: err})
	return err
}
