package main

import (
	"context"
	"os"
	"time"

	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/source"
)

type instrumentRecordCmd struct {
	place
	heard
	Instrument string        `arg:"" help:"Address, such as serial:///dev/ttyUSB0, or the name of an instrument that is linked."`
	To         string        `arg:"" help:"File that the recording is written to; it must be new."`
	Note       string        `placeholder:"TEXT" help:"A line to be kept with it, such as what was on the pan."`
	For        time.Duration `placeholder:"TIME" help:"End after so long, such as 5m."`
	Lines      int           `placeholder:"N" help:"End after so many lines."`
}

func (instrumentRecordCmd) Help() string {
	return `Examples:

  wreath instrument record B-1 balance.txt --for 5m --note "50 g on and off"
  wreath instrument record serial:///dev/ttyUSB0?speed=2400 balance.txt
  wreath instrument record simulated:coin?seed=3 coin.txt --lines 20

Every byte with its time, in a file of text that a person can read before it is passed on. Ctrl-C ends it.
The commands play and test take the file, learn takes its address: play:///path.`
}

// Run records until it is ended.
func (c *instrumentRecordCmd) Run(s *streams) error {
	config, err := c.known(&c.place, c.Instrument, "", s.In)
	if err != nil {
		return err
	}
	if config.Pattern != nil && config.Request == nil && config.Pattern.Request != "" {
		config.Request, config.Every = []byte(config.Pattern.Request), time.Duration(config.Pattern.EveryS*float64(time.Second))
	}
	src, err := openLine(config)
	if err != nil {
		return err
	}
	file, err := os.OpenFile(c.To, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return openFailure(c.To, err)
	}
	var n amount
	err = c.record(config, src, file, &n)
	if closed := file.Close(); err == nil {
		err = closed
	}
	if err != nil && n.bytes == 0 {
		os.Remove(c.To) // nothing was heard
		return err
	}
	if err != nil {
		return err
	}
	word := ""
	if n.simulated {
		word = " A simulated instrument spoke."
	}
	say(s, "%d bytes in %d lines, %.1f s, are in %s.%s", n.bytes, n.lines, n.seconds, c.To, word)
	return nil
}

// amount is what was heard.
type amount struct {
	bytes, lines int
	seconds      float64
	simulated    bool
}

func (c *instrumentRecordCmd) record(config live.Config, src source.Source, file *os.File, n *amount) error {
	h := source.Header{Address: config.Address, Made: time.Now(), Simulated: config.Address.Kind == source.Simulated, Note: c.Note}
	n.simulated = h.Simulated
	recorder, err := source.NewRecorder(file, h, 0)
	if err != nil {
		return err
	}
	err = listen(config.Address, c.Wait, c.For, func(ctx context.Context, e *ear) error {
		full := false
		var cut *line.Framer
		write := recorder.Sink(nil)
		return src.Run(ctx, e.sink(func(event source.Event) {
			if full && event.Kind == source.Heard {
				return
			}
			write(event)
			n.seconds = event.Seconds
			if event.Kind != source.Heard {
				return
			}
			if n.bytes == 0 {
				cut = line.NewFramer(line.GuessFraming(event.Bytes))
			}
			n.bytes += len(event.Bytes)
			cut.Write(event.Bytes, event.Seconds, func(l line.Line) {
				n.lines++
				n.simulated = n.simulated || isBanner(l.Bytes)
			})
			if c.Lines > 0 && n.lines >= c.Lines || recorder.Err() != nil {
				full = true
				e.enough()
			}
		}))
	})
	if err == nil {
		err = recorder.Err()
	}
	return err
}
