package simulated

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"sync"
	"testing"

	"wreath/internal/source"
)

func TestOpensAsASource(t *testing.T) {
	var stations Stations
	s, _ := instrument(t, "columns")
	if err := stations.Add("bench", s); err != nil {
		t.Fatal(err)
	}
	if stations.Add("bench", s) == nil || stations.Add("ring", s) == nil {
		t.Error("a name is given twice")
	}
	for _, row := range []struct {
		address string
		own     bool
	}{
		{"simulated:bench", false},
		{"simulated:bench?instrument=balance", false},
		{"simulated:coin?format=checked&seed=3&speed=200&fault=bubble", true},
		{"simulated:bar?format=asked&speed=20", true},
	} {
		a, err := source.ParseAddress(row.address)
		if err != nil {
			t.Fatal(err)
		}
		src, err := source.Open(a, source.Options{Simulated: stations.Open})
		if err != nil {
			t.Errorf("%s: %v", row.address, err)
			continue
		}
		var heard []byte
		lines, words, ended, done := 0, "", 0, make(chan struct{})
		during(t, func(ctx context.Context) error {
			defer close(done)
			ctx, stop := context.WithCancel(ctx)
			defer stop()
			var running sync.WaitGroup
			defer running.Wait()
			if !row.own {
				running.Go(func() { _ = s.Run(ctx, 100) })
			}
			return src.Run(ctx, func(e source.Event) {
				switch {
				case e.Kind == source.LinkChanged && e.Link == source.Connected:
					words = e.Identity
				case e.Kind == source.LinkChanged && e.Link == source.Ended:
					ended++
				case e.Kind == source.Heard:
					heard = append(heard, e.Bytes...)
				}
				if lines = bytes.Count(heard, []byte(" g")); lines > 5 {
					stop()
				}
			})
		}, func(context.Context) { <-done })
		if !bytes.HasPrefix(bytes.TrimPrefix(heard, []byte{2}), []byte(Banner)) || lines < 5 || !strings.Contains(words, "simulated") || ended != 1 {
			t.Errorf("%s: %d lines, ended %d times, called %q, first %.60q", row.address, lines, ended, words, heard)
		}
	}
	stations.Remove("bench")
	for _, bad := range []string{"simulated:bench", "simulated:ring?format=none", "simulated:ring?seed=x", "simulated:ring?speed=0", "simulated:ring?fault=digit", "simulated:ring?what=x"} {
		a, err := source.ParseAddress(bad)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := source.Open(a, source.Options{Simulated: stations.Open}); err == nil {
			t.Errorf("%s was opened", bad)
		}
	}
	if _, err := source.Open(source.Address{Kind: source.Simulated, Where: "ring"}, source.Options{}); err == nil || errors.Is(err, ErrUnplugged) {
		t.Errorf("without leave: %v", err)
	}
}
