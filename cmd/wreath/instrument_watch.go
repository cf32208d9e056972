package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/source"
	"wreath/settle"
)

// shown says how lines are shown.
type shown struct {
	Raw     bool          `xor:"how" help:"Only the lines as they came, with what can't be printed as escapes."`
	JSON    bool          `xor:"how" name:"json" help:"JSON Lines for programs: one value a line of the instrument, and one a change of its state."`
	Pattern string        `placeholder:"FILE" help:"Pattern by which the lines are read; that of the instrument unless said."`
	Lines   int           `placeholder:"N" help:"End after so many lines."`
	For     time.Duration `placeholder:"TIME" help:"End after so long, such as 30s."`
}

type instrumentWatchCmd struct {
	place
	heard
	shown
	Instrument string `arg:"" help:"Address, such as serial:///dev/ttyUSB0, or the name of an instrument that is linked."`
}

func (instrumentWatchCmd) Help() string {
	return `Examples:

  wreath instrument watch B-1
  wreath instrument watch serial:///dev/ttyUSB0?speed=2400 --raw
  wreath instrument watch tcp://192.0.2.7:4001 --pattern balance-line.json --json
  wreath instrument watch simulated:ring?seed=3 --lines 5

Each line as it came, what it was read as, and how the reading stands; when it rests, its value with the
standard uncertainty u. Ctrl-C ends it. Nothing is recorded.`
}

// Run watches until it is ended.
func (c *instrumentWatchCmd) Run(s *streams) error {
	config, err := c.known(&c.place, c.Instrument, c.Pattern, s.In)
	if err != nil {
		return err
	}
	return c.watch(s, config, c.Wait)
}

type instrumentPlayCmd struct {
	shown
	File  string `arg:"" help:"Recording of a conversation."`
	Speed string `default:"1" placeholder:"N" help:"How many times faster than real, or most for as fast as it goes."`
}

func (instrumentPlayCmd) Help() string {
	return `Examples:

  wreath instrument play examples/instrument/ring.txt --speed most
  wreath instrument play examples/instrument/ring.txt --speed most --pattern examples/instrument/columns.json --json

It shows what an instrument said as if it spoke now. Nothing is recorded.`
}

// Run plays a recording.
func (c *instrumentPlayCmd) Run(s *streams) error {
	config := live.Config{ID: "recording"}
	var err error
	if config.Address, err = recordingAddress(c.File, c.Speed); err != nil {
		return err
	}
	if c.Pattern != "" {
		if config.Pattern, err = readPattern(c.Pattern, s.In); err != nil {
			return err
		}
	}
	return c.watch(s, config, 0)
}

// watch shows what comes until it ends.
func (c *shown) watch(s *streams, config live.Config, wait time.Duration) error {
	w := &watcher{out: s.Out, how: c, pattern: config.Pattern}
	return listen(config.Address, wait, c.For, func(ctx context.Context, e *ear) error {
		w.enough = e.enough
		if config.Pattern == nil {
			src, err := openLine(config)
			if err != nil {
				return err
			}
			return src.Run(ctx, e.sink(w.hear))
		}
		feed, err := live.NewFeed(config, live.Options{
			Simulated: invented.Open,
			Record: func(_ live.Config, next source.Sink) source.Sink {
				return e.sink(func(event source.Event) { next(event); w.hear(event) })
			},
		})
		if err != nil {
			return wrong(lineHint(config.Address), "%v", err)
		}
		w.feed = feed
		return feed.Run(ctx)
	})
}

// watcher shows lines as they come.
type watcher struct {
	out     io.Writer
	how     *shown
	pattern *line.Pattern // nil: lines are not read
	feed    *live.Feed    // nil: lines are not followed
	enough  func()

	framer   *line.Framer
	done     bool
	lines    int
	state    string
	load     int
	rests    bool
	troubles string
}

// hear is the sink of the source, after the feed has taken the event.
func (w *watcher) hear(e source.Event) {
	if w.framer == nil {
		w.framer = line.NewFramer(w.framing(nil))
	}
	switch e.Kind {
	case source.LinkChanged:
		w.framer.Broken()
		if e.Whole {
			w.framer.Whole()
		}
		w.link(e)
	case source.Heard:
		if w.pattern == nil && w.lines == 0 {
			if guessed := w.framing(e.Bytes); guessed != w.framing(nil) {
				w.framer = line.NewFramer(guessed)
			}
		}
		w.framer.Idle(e.Seconds, w.line)
		w.framer.Write(e.Bytes, e.Seconds, w.line)
		w.follow(e.Seconds)
	}
}

// framing says how lines are cut: as the pattern says, or as what was heard looks.
func (w *watcher) framing(raw []byte) line.Framing {
	if w.pattern != nil {
		return w.pattern.Framing
	}
	if raw == nil {
		return line.Framing{}
	}
	f := line.GuessFraming(raw)
	if f.IdleS > 0 {
		return line.Framing{} // a packet without an end is too little to say that there is none
	}
	return f
}

// said is a line or a change as programs read it.
type said struct {
	Seconds  float64     `json:"seconds"`
	Line     *string     `json:"line,omitempty"`
	Reads    []saidValue `json:"reads,omitempty"`
	Why      string      `json:"not_read,omitempty"`
	State    string      `json:"state,omitempty"`
	Sentence string      `json:"sentence,omitempty"`
	Origin   string      `json:"origin,omitempty"`
	Settled  *saidRest   `json:"settled,omitempty"`
	Troubles []string    `json:"troubles,omitempty"`
}

type saidValue struct {
	Channel string   `json:"channel,omitempty"`
	Text    string   `json:"text,omitempty"`
	Unit    string   `json:"unit,omitempty"`
	Grams   *float64 `json:"g,omitempty"`
	Celsius *float64 `json:"c,omitempty"`
	Mark    string   `json:"mark"`
	State   string   `json:"state"`
}

type saidRest struct {
	Grams float64 `json:"g"`
	U     float64 `json:"u_g"`
	Took  float64 `json:"took_s"`
	N     int     `json:"readings"`
}

func (w *watcher) json(x said) {
	x.Seconds = rounded(x.Seconds, 3)
	text, err := json.Marshal(x)
	if err != nil {
		panic(err) // it holds numbers and texts alone
	}
	fmt.Fprintf(w.out, "%s\n", text)
}

// link tells how the link stands.
func (w *watcher) link(e source.Event) {
	words := e.Link.String()
	if e.Identity != "" {
		words += ", " + e.Identity
	}
	if e.Err != nil {
		words += ": " + e.Err.Error()
	}
	switch {
	case w.done, w.how.Raw:
	case w.how.JSON:
		w.json(said{Seconds: e.Seconds, State: e.Link.String(), Sentence: words})
	default:
		fmt.Fprintf(w.out, "%10.3f  %s\n", e.Seconds, harmless(words))
	}
}

// line shows one line.
func (w *watcher) line(l line.Line) {
	if w.done {
		return
	}
	w.lines++
	raw := source.Escape(l.Bytes)
	x := said{Seconds: l.Seconds, Line: &raw}
	var values []line.Value
	var err error
	switch {
	case l.Damaged != "":
		x.Why = l.Damaged
	case w.pattern != nil:
		values, err = w.pattern.ReadAll(nil, l.Bytes)
		if err != nil {
			x.Why = err.Error()
		}
	}
	switch {
	case w.how.Raw:
		fmt.Fprintf(w.out, "%10.3f  %s\n", l.Seconds, raw)
	case w.how.JSON:
		for _, v := range values {
			x.Reads = append(x.Reads, valueSaid(v))
		}
		w.json(x)
	default:
		reads := "-"
		switch {
		case errors.Is(err, line.ErrNoReading):
			reads = "known, no reading"
		case x.Why != "":
			reads = "not read: " + x.Why
		case len(values) > 0:
			var all []string
			for _, v := range values {
				all = append(all, v.Words())
			}
			reads = strings.Join(all, "; ")
		}
		fmt.Fprintf(w.out, "%10.3f  %-28s  %s\n", l.Seconds, raw, reads)
	}
	if w.how.Lines > 0 && w.lines >= w.how.Lines {
		w.done = true
		w.enough()
	}
}

func valueSaid(v line.Value) saidValue {
	x := saidValue{Channel: v.Channel, Mark: v.Mark.String(), State: v.State.String()}
	if v.State != line.Reading {
		return x
	}
	x.Text, x.Unit = v.Text, v.Unit
	number := significant(v.Number, 12)
	switch v.Kind {
	case line.Mass:
		x.Grams = &number
	case line.Temperature:
		x.Celsius = &number
	}
	return x
}

// follow shows what the feed made of the lines.
func (w *watcher) follow(seconds float64) {
	if w.feed == nil || w.how.Raw || w.done {
		return
	}
	now := w.feed.Snapshot()
	if key := now.State.Key; key != w.state {
		w.state = key
		if w.how.JSON {
			w.json(said{Seconds: seconds, State: key, Sentence: now.State.Sentence, Origin: string(now.Origin)})
		} else if key != live.Still {
			fmt.Fprintf(w.out, "%10s  %s%s\n", "", now.State.Sentence, originWords(now.Origin))
		}
	}
	e := now.Settle
	if rests := e.Phase == settle.Settled && now.Balance != nil; rests && (!w.rests || e.Load != w.load) {
		decimals := restDecimals(now.Balance.Value.Interval, e.U)
		if w.how.JSON {
			w.json(said{Seconds: seconds, State: live.Still, Settled: &saidRest{significant(e.Value, 12), significant(e.U, 3), rounded(e.Took, 2), e.N}})
		} else {
			fmt.Fprintf(w.out, "%10s  Still: %s g, u = %s g, after %.1f s, from %d readings%s.\n", "",
				strconv.FormatFloat(rounded(e.Value, decimals)+0, 'f', decimals, 64), strconv.FormatFloat(significant(e.U, 2), 'f', -1, 64), e.Took, e.N, originWords(now.Origin))
		}
		w.rests, w.load = true, e.Load
	} else if !rests {
		w.rests = false
	}
	var troubles []string
	for _, t := range e.Troubles {
		troubles = append(troubles, t.Sentence)
	}
	for _, q := range now.Suspicions {
		troubles = append(troubles, q.Sentence)
	}
	keys := troubleKeys(e.Troubles, now.Suspicions)
	if keys == w.troubles {
		return
	}
	w.troubles = keys
	for _, sentence := range troubles {
		if !w.how.JSON {
			fmt.Fprintf(w.out, "%10s  %s\n", "", sentence)
		}
	}
	if w.how.JSON {
		w.json(said{Seconds: seconds, State: w.state, Troubles: troubles})
	}
}

// troubleKeys names troubles without their sizes, which change all the time.
func troubleKeys(troubles []settle.Trouble, suspicions []live.Suspicion) string {
	var out bytes.Buffer
	for _, t := range troubles {
		out.WriteString(t.Key + " ")
	}
	for _, q := range suspicions {
		out.WriteString(q.Key + " ")
	}
	return out.String()
}

// originWords marks what is no real instrument.
func originWords(o live.Origin) string {
	switch o {
	case live.Simulated:
		return " (simulated, nothing is really weighed)"
	case live.Playback:
		return " (a recording)"
	case live.Pseudo:
		return " (a program speaks, through a pseudo-terminal)"
	}
	return ""
}

// restDecimals shows one digit more than the balance where the uncertainty lets it be of use.
func restDecimals(interval, u float64) int {
	if !(interval > 0) {
		return 4
	}
	n := max(0, int(math.Ceil(-math.Log10(interval)-1e-9)))
	if u < interval {
		n++
	}
	return n
}
