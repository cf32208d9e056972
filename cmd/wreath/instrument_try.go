package main

import (
	"context"
	"errors"
	"os"
	"time"

	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/source"
)

type instrumentTestCmd struct {
	place
	heard
	formatted
	File   string        `arg:"" help:"File of the pattern, or the name of an instrument that is linked."`
	With   string        `placeholder:"FROM" help:"Recording, or address of live lines, to try it on; its own tests alone unless said. live stands for the line of the instrument."`
	Lines  int           `default:"50" placeholder:"N" help:"How many live lines; a recording is read to its end."`
	For    time.Duration `placeholder:"TIME" help:"End after so long, such as 30s."`
	Anyway int           `name:"may-fail" placeholder:"N" help:"How many lines may be unreadable, such as the first of a line that was joined."`
}

func (instrumentTestCmd) Help() string {
	return `Examples:

  wreath instrument test examples/instrument/columns.json
  wreath instrument test examples/instrument/columns.json --with examples/instrument/ring.txt
  wreath instrument test examples/instrument/columns.json --with 'simulated:coin?seed=6&speed=50' --lines 20

With B-1 --with live, say, the line of an instrument of the shop is tried. Exit code 0 when every line is
read, or known to carry no reading; 1 when one is not.`
}

// tried is what came of trying a pattern.
type tried struct {
	Pattern string     `json:"pattern"`
	Tests   int        `json:"tests"` // of its own, all passed
	Lines   int        `json:"lines"`
	Read    int        `json:"read"`
	Known   int        `json:"no_reading"` // known, and no reading
	Damaged int        `json:"damaged"`    // cut by the beginning of the line or an unplugging; not counted as failed
	Failed  int        `json:"failed"`
	Shown   []triedOne `json:"failures"` // the first of them
	Passed  bool       `json:"passed"`
}

type triedOne struct {
	Line string `json:"line"`
	Why  string `json:"why"`
}

// mostShown is how many lines that failed are shown; chosen here.
const mostShown = 5

// Run tries a pattern.
func (c *instrumentTestCmd) Run(s *streams) error {
	if c.Lines < 1 || c.Anyway < 0 {
		return wrong("Give a number of lines.", "--lines %d --may-fail %d can't be", c.Lines, c.Anyway)
	}
	p, config, err := c.pattern(s)
	if err != nil {
		return err
	}
	t := &tried{Pattern: p.Name, Tests: len(p.Tests), Shown: []triedOne{}}
	if c.With != "" {
		if err := c.against(p, config, t); err != nil {
			return err
		}
	}
	t.Passed = t.Failed <= c.Anyway && (c.With == "" || t.Read > 0)
	if err := c.print(s, t); err != nil {
		return err
	}
	switch {
	case c.With != "" && t.Read == 0:
		return &failure{exitFailed, "no line gave a reading", "Look at the lines: wreath instrument watch ADDRESS --raw; learn them: wreath instrument learn ADDRESS."}
	case !t.Passed:
		return &failure{exitFailed, plural(t.Failed, "line") + " can't be read by the pattern", "Look at the line: wrong settings, another unit or mode; or learn it again with wreath instrument learn."}
	}
	return nil
}

// pattern finds the pattern, and the line of the instrument it belongs to.
func (c *instrumentTestCmd) pattern(s *streams) (*line.Pattern, *live.Config, error) {
	_, missing := os.Stat(c.File)
	if c.File == "-" || missing == nil {
		p, err := readPattern(c.File, s.In)
		return p, nil, err
	}
	if isAddress(c.File) {
		return nil, nil, wrong("Give the pattern first, and the address with --with.", "%s is an address and no pattern", c.File)
	}
	if c.With == "" || c.With == "live" || !looksLikeFile(c.File) {
		p, config, err := c.ofShop()
		var none *failure
		if errors.As(err, &none) && none.Code == exitMissing {
			return nil, nil, notThere("Name the file of a pattern, or an instrument that is linked.", "there is no file and no instrument %s", c.File)
		}
		return p, config, err
	}
	return nil, nil, openFailure(c.File, missing)
}

func looksLikeFile(name string) bool { return len(name) > 5 && name[len(name)-5:] == ".json" }

func (c *instrumentTestCmd) ofShop() (*line.Pattern, *live.Config, error) {
	config, err := c.known(&c.place, c.File, "", nil)
	if err != nil {
		return nil, nil, err
	}
	if config.Pattern == nil {
		return nil, nil, wrong("Learn its lines: wreath instrument learn "+c.File+" --save "+c.File+".", "%s has no pattern of its lines yet", c.File)
	}
	return config.Pattern, &config, nil
}

// against tries the pattern on lines from somewhere.
func (c *instrumentTestCmd) against(p *line.Pattern, of *live.Config, t *tried) error {
	config := live.Config{}
	var err error
	switch {
	case c.With == "live" && of == nil:
		return wrong("Name the instrument in the place of the pattern, or the address with --with.", "the pattern alone does not say where its lines come from")
	case c.With == "live":
		config = *of
	case isAddress(c.With):
		config.Address, err = readAddress(c.With)
	default:
		config.Address, err = recordingAddress(c.With, "most")
	}
	if err != nil {
		return err
	}
	request, every, err := c.asked()
	switch {
	case err != nil:
		return err
	case request != nil:
		config.Request, config.Every = request, every
	case config.Request == nil && p.Request != "": // nobody said otherwise
		config.Request, config.Every = []byte(p.Request), time.Duration(p.EveryS*float64(time.Second))
	}
	src, err := openLine(config)
	if err != nil {
		return err
	}
	framer := line.NewFramer(p.Framing)
	return listen(config.Address, c.Wait, c.For, func(ctx context.Context, e *ear) error {
		done := false
		one := func(l line.Line) {
			if done {
				return
			}
			t.line(p, l)
			if config.Address.Kind != source.Play && t.Lines >= c.Lines {
				done = true
				e.enough()
			}
		}
		var last float64
		err := src.Run(ctx, e.sink(func(event source.Event) {
			last = event.Seconds
			switch event.Kind {
			case source.LinkChanged:
				if event.Link == source.Ended {
					return
				}
				framer.Broken()
				if event.Whole {
					framer.Whole()
				}
			case source.Heard:
				framer.Idle(event.Seconds, one)
				framer.Write(event.Bytes, event.Seconds, one)
			}
		}))
		if p.Framing.IdleS > 0 {
			framer.Idle(last+2*p.Framing.IdleS, one) // the pause after the last line of a recording
		}
		return err
	})
}

// line counts one line.
func (t *tried) line(p *line.Pattern, l line.Line) {
	if l.Damaged != "" {
		t.Damaged++
		return
	}
	t.Lines++
	_, err := p.Read(l.Bytes)
	switch {
	case err == nil:
		t.Read++
	case errors.Is(err, line.ErrNoReading), isBanner(l.Bytes):
		t.Known++
	default:
		t.Failed++
		if len(t.Shown) < mostShown {
			t.Shown = append(t.Shown, triedOne{source.Escape(l.Bytes), err.Error()})
		}
	}
}

func (c *instrumentTestCmd) print(s *streams, t *tried) error {
	if c.forPrograms() {
		return writeJSON(s.Out, t)
	}
	name := ""
	if t.Pattern != "" {
		name = " of " + harmless(t.Pattern)
	}
	say(s, "The pattern%s passes %s of its own.", name, plural(t.Tests, "test"))
	if c.With == "" {
		return nil
	}
	say(s, "%s: %d read, %d known and without a reading, %d not read; %d more were cut and not tried.", plural(t.Lines, "line"), t.Read, t.Known, t.Failed, t.Damaged)
	for _, f := range t.Shown {
		say(s, "  not read: %s: %s", f.Line, f.Why)
	}
	return nil
}
