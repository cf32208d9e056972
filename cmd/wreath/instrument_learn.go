package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/term"

	"wreath/internal/desk"
	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/source"
	"wreath/internal/station"
)

type instrumentLearnCmd struct {
	place
	heard
	once
	Instrument string   `arg:"" help:"Address, such as serial:///dev/ttyUSB0, or the name of an instrument that is linked."`
	Known      []string `sep:"none" placeholder:"TEXT" help:"What the display shows at rest, one after the other: 0, 50.000, 12.3456 g, overload. Each is waited for. Without it you are asked; what is not typed at a terminal is read line by line."`
	Unit       string   `placeholder:"UNIT" help:"Unit of the lines, where they name none: g, kg, ct."`
	Tolerance  decimal  `name:"tolerance-g" placeholder:"G" help:"How far a reading may lie from what was said; five of its last digit unless said."`
	Further    int      `default:"20" placeholder:"N" help:"Further lines on which the pattern is tried before it counts."`
	Name       string   `placeholder:"TEXT" help:"What the instrument is called, kept with the pattern."`
	Out        string   `placeholder:"FILE" help:"Write the pattern to a new file."`
	Save       string   `placeholder:"NAME" help:"Link the instrument of the shop to the address, with the pattern."`
	Unsure     bool     `help:"Keep a pattern that is not sure as well, in the file and with the instrument."`
}

func (instrumentLearnCmd) Help() string {
	return `Examples:

  wreath instrument learn serial:///dev/ttyUSB0 --save B-1
  wreath instrument learn serial:///dev/ttyUSB0 --known 0 --known 50.000 --known 100.000 --out balance-line.json
  wreath instrument learn play:///home/ada/balance.txt?speed=most --known 0 --known 50 --out balance-line.json

Put known weights on, or type what the display shows; the program finds where sign, number, unit and the mark
of rest stand, says it in words, and tries itself on further lines. Three different values tell more than one,
and a negative one (take the pan's load off after setting to zero) shows where the sign stands. A pattern
that is not sure says why.`
}

// teacher gathers lines and what was said of them.
type teacher struct {
	options line.LearnOptions
	raw     []byte // of the beginning, to see how lines are cut
	framer  *line.Framer
	samples []line.Sample
	banner  bool // a simulated instrument spoke
	last    float64
}

// Bounds of a lesson; chosen here.
const (
	mostSamples = 2000
	agreeing    = 2.5 // s before a statement within which a like line is what the display showed
	firstBytes  = 64  // bytes by which the cutting of lines is guessed
	showEvery   = 1.0 // s between two lines that are shown while somebody types
)

// hear takes what came, and calls each for every whole line.
func (t *teacher) hear(e source.Event, each func()) {
	take := func(l line.Line) {
		if l.Damaged != "" {
			return
		}
		t.banner = t.banner || isBanner(l.Bytes)
		t.last = l.Seconds
		t.samples = append(t.samples, line.Sample{Line: bytes.Clone(l.Bytes), Seconds: l.Seconds})
		if len(t.samples) > mostSamples {
			t.samples = slices.DeleteFunc(t.samples, func(s line.Sample) bool { return s.Shown == "" && s.Seconds < t.last-60 })
		}
		each()
	}
	switch e.Kind {
	case source.LinkChanged:
		if t.framer != nil {
			t.framer.Broken()
		}
	case source.Heard:
		if t.framer == nil {
			// Some lines tell how they are cut.
			if t.raw = append(t.raw, e.Bytes...); len(t.raw) < firstBytes {
				return
			}
			t.options.Framing = line.GuessFraming(t.raw)
			t.framer = line.NewFramer(t.options.Framing)
			e.Bytes = t.raw
		}
		t.framer.Idle(e.Seconds, take)
		t.framer.Write(e.Bytes, e.Seconds, take)
	}
}

// say notes what the display showed with the last line, and gives how many lines that were.
func (t *teacher) say(shown string) int {
	n := len(t.samples)
	text, settled := statement(shown)
	marked := 0
	for i := n - 1; i >= 0 && t.last-t.samples[i].Seconds <= agreeing; i-- {
		if bytes.Equal(t.samples[i].Line, t.samples[n-1].Line) {
			t.samples[i].Shown, t.samples[i].Settled = text, settled
			marked++
		}
	}
	return marked
}

// statement parts what was typed: "12.3456 g, moving".
func statement(text string) (shown string, settled *bool) {
	shown, mark, _ := strings.Cut(text, ", ")
	switch strings.TrimSpace(mark) {
	case "settled":
		yes := true
		return shown, &yes
	case "moving":
		no := false
		return shown, &no
	}
	return text, nil
}

// Run learns a line.
func (c *instrumentLearnCmd) Run(s *streams) error {
	if c.Out != "" {
		if _, err := os.Stat(c.Out); err == nil {
			return wrong("Name a new file.", "%s is there already", c.Out)
		}
	}
	if c.Tolerance.given() && !(c.Tolerance.value > 0) {
		return wrong("Give grams, such as 0.001.", "--tolerance-g %s is not more than zero", c.Tolerance.text)
	}
	if c.Further < 1 {
		return wrong("Give 20, say.", "--further %d is no number of lines", c.Further)
	}
	config, err := c.known(&c.place, c.Instrument, "", s.In)
	if err != nil {
		return err
	}
	if c.Save != "" {
		if err := c.mayLink(config.Address, false); err != nil {
			return err
		}
	}
	asks := len(c.Known) == 0
	if file, isFile := s.In.(*os.File); asks && (!isFile || !term.IsTerminal(int(file.Fd()))) {
		asks = false
		for {
			text, err := s.line()
			if err != nil {
				return err
			}
			if text == "" {
				break
			}
			c.Known = append(c.Known, text)
		}
	}
	if !asks && len(c.Known) == 0 {
		return wrong("Give --known 0 --known 50.000, or the same line by line on standard input.", "nothing is known of the lines")
	}
	for _, text := range c.Known {
		if err := checkKnown(text); err != nil {
			return err
		}
	}
	src, err := openLine(config)
	if err != nil {
		return err
	}
	l := &lesson{c: c, s: s, t: &teacher{options: line.LearnOptions{Name: c.Name, Request: string(config.Request), EveryS: config.Every.Seconds(), Unit: c.Unit, ToleranceG: c.Tolerance.value}}}
	if asks {
		err = l.ask(config.Address, src)
	} else {
		err = l.wait(config.Address, src)
	}
	if err != nil {
		return err
	}
	return c.finish(s, l, config)
}

// numberIn finds numbers in a line, with their decimal mark.
var numberIn = regexp.MustCompile(`[+-]? *[0-9]+(?:[.,][0-9]+)?`)

// checkKnown refuses what is neither a number nor a state.
func checkKnown(text string) error {
	shown, _ := statement(text)
	if slices.Contains([]string{"overload", "underload", "fault"}, shown) {
		return nil
	}
	if _, err := knownNumber(shown); err != nil {
		return wrong("Write what the display shows: 0, 50.000, 12.3456 g, overload; with \", moving\" behind it where it was not at rest.", "%q is no number and no state of a display", text)
	}
	return nil
}

func knownNumber(shown string) (float64, error) {
	number, _, _ := strings.Cut(strings.TrimSpace(shown), " ")
	return strconv.ParseFloat(strings.Replace(number, ",", ".", 1), 64)
}

// lesson is one run of learning.
type lesson struct {
	c *instrumentLearnCmd
	s *streams
	t *teacher

	next    int // of c.Known
	learned *line.Learned
	read    int // further lines that were read
	unread  []string
	shapes  map[string]bool
	done    bool
	err     error
}

// What is waited for is seen when so many lines in a row show it and lie so few digits apart. Chosen here.
const (
	steadyLines  = 4
	steadyDigits = 5
)

// wait learns from what is known beforehand: it looks for each value in turn.
func (l *lesson) wait(a source.Address, src source.Source) error {
	l.shapes = map[string]bool{}
	say(l.s, "Put %s on.", l.c.Known[0])
	err := listen(a, l.c.Wait, 0, func(ctx context.Context, e *ear) error {
		return src.Run(ctx, e.sink(func(event source.Event) {
			l.t.hear(event, func() {
				if l.done {
					return
				}
				l.look()
				if l.done {
					e.enough()
				}
			})
		}))
	})
	switch {
	case err != nil:
		return err
	case l.err != nil:
		return l.err
	case l.next < len(l.c.Known):
		hint := "Give what the display shows, not the nominal weight; --tolerance-g says how far it may lie from it."
		if n := len(l.t.samples); n > 0 {
			hint += " The last line was: " + source.Escape(l.t.samples[n-1].Line)
		}
		return &failure{exitFailed, fmt.Sprintf("the line ended before %s was seen at rest", l.c.Known[l.next]), hint}
	case l.learned == nil:
		l.learn()
	}
	return l.err
}

// look takes a line to what is waited for.
func (l *lesson) look() {
	last := l.t.samples[len(l.t.samples)-1]
	if l.learned != nil {
		l.try(last.Line)
		return
	}
	known := l.c.Known[l.next]
	if !l.steady(known) {
		if l.next == 0 {
			l.shapes[letters(last.Line)] = true // seen before anything else: no state of its own
		}
		return
	}
	n := len(l.t.samples)
	shown, settled := statement(known)
	for i := n - steadyLines; i < n; i++ {
		l.t.samples[i].Shown, l.t.samples[i].Settled = shown, settled
	}
	l.shapes[letters(last.Line)] = true
	say(l.s, "Seen: %s", source.Escape(last.Line))
	if l.next++; l.next < len(l.c.Known) {
		say(l.s, "Put %s on.", l.c.Known[l.next])
		return
	}
	l.learn()
	if l.learned == nil || l.learned.Pattern == nil {
		l.done = true
	}
}

// steady says whether the last lines show what is known, at rest.
func (l *lesson) steady(known string) bool {
	n := len(l.t.samples)
	if n < steadyLines {
		return false
	}
	low, high, digit := math.Inf(1), math.Inf(-1), 0.0
	for _, s := range l.t.samples[n-steadyLines:] {
		x, of, found := l.shows(s.Line, known)
		if !found || s.Shown != "" {
			return false
		}
		low, high, digit = min(low, x), max(high, x), of
	}
	return high-low <= max(steadyDigits*digit, l.c.Tolerance.value)*(1+1e-9)
}

// factors between a unit and the one of what is known; chosen here.
var factors = []float64{1, 1000, 0.001, 5, 0.2}

// shows finds the number in a line that may be what is known, and one unit of its last digit, both in the
// unit of what is known.
func (l *lesson) shows(text []byte, known string) (x, digit float64, found bool) {
	shown, _ := statement(known)
	want, err := knownNumber(shown)
	if err != nil {
		return 0, 0, !l.shapes[letters(text)] // a state is a line of another kind
	}
	nearest := math.Inf(1)
	for _, part := range numberIn.FindAll(text, -1) {
		number := strings.Replace(strings.ReplaceAll(string(part), " ", ""), ",", ".", 1)
		v, err := strconv.ParseFloat(number, 64)
		_, decimals, _ := strings.Cut(number, ".")
		if err != nil || decimals == "" && want != math.Trunc(want) {
			continue
		}
		for _, factor := range factors {
			d := factor * math.Pow10(-len(decimals))
			if off := math.Abs(v*factor - want); off <= max(5*d, l.c.Tolerance.value) && off < nearest {
				nearest, x, digit, found = off, v*factor, d, true
			}
		}
	}
	return x, digit, found
}

// letters is a line without what changes with the number.
func letters(text []byte) string {
	return strings.Join(strings.Fields(string(bytes.Map(func(r rune) rune {
		if strings.ContainsRune("0123456789.,+-", r) {
			return ' '
		}
		return r
	}, text))), " ")
}

func (l *lesson) learn() {
	l.learned, l.err = line.Learn(l.samples(), l.t.options)
	l.read, l.unread = 0, nil
	if l.err != nil {
		l.err = wrong("Type what the display shows, or name the weight that is on.", "nothing can be learned: %v", l.err)
	}
}

// mostLearned is how many lines are learned from; chosen here.
const mostLearned = 600

// samples are those of which something was said, and the newest of the rest.
func (l *lesson) samples() []line.Sample {
	spare := mostLearned
	var out []line.Sample
	for _, s := range slices.Backward(l.t.samples) {
		if s.Shown != "" || spare > 0 {
			out = append(out, s)
		}
		spare--
	}
	slices.Reverse(out)
	return out
}

// try reads a further line.
func (l *lesson) try(text []byte) {
	_, err := l.learned.Pattern.Read(text)
	if err == nil || errors.Is(err, line.ErrNoReading) {
		l.read++
	} else {
		l.unread = append(l.unread, source.Escape(text)+": "+err.Error())
	}
	l.done = l.read+len(l.unread) >= l.c.Further
}

// ask learns at a terminal.
func (l *lesson) ask(a source.Address, src source.Source) error {
	say(l.s, "Listening to %s. Type what the display shows, such as 12.3456 g, then Enter; with \", moving\" while it moves.", a)
	say(l.s, "An empty line ends the lesson.")
	return listen(a, l.c.Wait, 0, func(ctx context.Context, e *ear) error {
		heard := make(chan source.Event)
		typed := make(chan string)
		ctx, stop := context.WithCancel(ctx)
		ended := make(chan error, 1)
		go func() {
			ended <- src.Run(ctx, e.sink(func(event source.Event) {
				event.Bytes = bytes.Clone(event.Bytes)
				select {
				case heard <- event:
				case <-ctx.Done():
				}
			}))
		}()
		defer func() { stop(); <-ended }()
		go func() { // ends with the program: a read of a terminal can't be broken off
			for {
				text, err := l.s.line()
				if err != nil {
					text = ""
				}
				select {
				case typed <- strings.TrimSpace(text):
				case <-ctx.Done():
					return
				}
				if text == "" {
					return
				}
			}
		}()
		shownLine, shownAt := "", 0.0
		for {
			select {
			case <-ctx.Done():
				return nil
			case event := <-heard:
				l.t.hear(event, func() {
					if l.learned != nil && l.learned.Pattern != nil {
						l.try(l.t.samples[len(l.t.samples)-1].Line)
					}
				})
				if n := len(l.t.samples); n > 0 {
					now := source.Escape(l.t.samples[n-1].Line)
					if now != shownLine && (shownLine == "" || l.t.last-shownAt >= showEvery) {
						shownLine, shownAt = now, l.t.last
						say(l.s, "heard: %s", now)
					}
				}
			case text := <-typed:
				if text == "" {
					if l.learned == nil {
						l.learn()
					}
					return l.err
				}
				l.told(text)
			}
		}
	})
}

// told takes what was typed, and says what came of it.
func (l *lesson) told(text string) {
	if err := checkKnown(text); err != nil {
		var f *failure
		errors.As(err, &f)
		say(l.s, "%s. %s", f.Reason, f.Hint)
		return
	}
	if len(l.t.samples) == 0 {
		say(l.s, "No line was heard yet.")
		return
	}
	n := l.t.say(text)
	say(l.s, "%s: %s", source.Escape(l.t.samples[len(l.t.samples)-1].Line), plural(n, "line"))
	l.learn()
	switch {
	case l.err != nil:
		say(l.s, "%v", l.err)
		l.err = nil
	case l.learned.Pattern == nil:
		say(l.s, "Nothing yet: %s", strings.Join(l.learned.Doubts, " "))
	default:
		say(l.s, "Sure: %.0f %%. %s", 100*l.learned.Certainty, firstOf(l.learned.Doubts))
	}
}

func firstOf(all []string) string {
	if len(all) == 0 {
		return ""
	}
	return all[0]
}

// finish says what was learned, and keeps it.
func (c *instrumentLearnCmd) finish(s *streams, l *lesson, config live.Config) error {
	learned := l.learned
	if learned.Pattern == nil {
		return &failure{exitFailed, "no number could be found in the lines with reason", strings.Join(learned.Doubts, " ")}
	}
	say(s, "")
	for _, sentence := range patternInWords(learned.Pattern) {
		say(s, "%s", sentence)
	}
	say(s, "")
	say(s, "Learned from %s, of which %d give a reading; %d of them were held back and read the same.", plural(learned.Used, "line"), learned.Read, learned.HeldOut)
	tried := l.read + len(l.unread)
	say(s, "Tried on %s: %d read, %d not.", plural(tried, "further line"), l.read, len(l.unread))
	for _, text := range l.unread[:min(3, len(l.unread))] {
		say(s, "  not read: %s", text)
	}
	say(s, "Sure: %.1f %% that a line is read as it is meant.", 100*learned.Certainty)
	for _, doubt := range learned.Doubts {
		say(s, "Doubt: %s", doubt)
	}
	for _, blind := range learned.Blind {
		say(s, "Can't be noticed: %s", blind)
	}
	if l.t.banner {
		say(s, "The instrument is simulated; it belongs in a demonstration.")
	}
	why := ""
	switch {
	case tried == 0:
		why = "the pattern was not tried on a further line"
	case len(l.unread) > 0:
		why = fmt.Sprintf("the pattern does not read %d of %d further lines", len(l.unread), tried)
	case !learned.Sure():
		why = fmt.Sprintf("the pattern is not sure: %.1f %%, and %.0f %% are asked for", 100*learned.Certainty, 100*line.SureAt)
	}
	document, err := learned.Pattern.Encode()
	if err != nil {
		return err
	}
	keeps := why == "" || c.Unsure
	if c.Out != "" && keeps {
		if err := os.WriteFile(c.Out, append(bytes.TrimRight(document, "\n"), '\n'), 0o644); err != nil {
			return openFailure(c.Out, err)
		}
		say(s, "The pattern is in %s.", c.Out)
	}
	if c.Save != "" && keeps {
		if err := c.link(s, config, document, l.t.banner); err != nil {
			return err
		}
	}
	if c.Out == "" && c.Save == "" {
		say(s, "It is not kept: --out FILE writes it, --save NAME links the instrument.")
	}
	if why != "" {
		hint := "Show more: another weight, a reading in motion, a negative one."
		if !keeps && (c.Out != "" || c.Save != "") {
			hint += " Nothing is kept; --unsure keeps it all the same."
		}
		return &failure{exitFailed, why, hint}
	}
	return nil
}

// mayLink refuses to link an invented instrument in a real shop.
func (c *instrumentLearnCmd) mayLink(a source.Address, banner bool) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if _, err := instrumentOf(ctx, r, who, c.Save); err != nil {
			return err
		}
		shop, err := r.AboutShop(ctx)
		if err != nil {
			return err
		}
		if !shop.TakesInvented() && (banner || a.Kind == source.Simulated || a.Kind == source.Play) {
			return &failure{exitRefused, "what speaks at " + a.String() + " is no real instrument, and the records of this shop are real", "Link a real instrument, or keep the pattern with --out FILE."}
		}
		return nil
	})
}

// link saves the pattern with the instrument.
func (c *instrumentLearnCmd) link(s *streams, config live.Config, document []byte, banner bool) error {
	if err := c.mayLink(config.Address, banner); err != nil {
		return err
	}
	var compact bytes.Buffer
	if err := json.Compact(&compact, document); err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		i, err := instrumentOf(ctx, r, who, c.Save)
		if err != nil {
			return err
		}
		link := station.Link{}
		if i.Link != nil {
			link.Binding, link.Channel = i.Link.Binding, i.Link.Channel
		}
		link.Address, link.Pattern = config.Address.String(), compact.Bytes()
		if c.Request != nil && *c.Request != "" {
			every := c.Every.Seconds()
			link.Request, link.RequestEveryS = *c.Request, &every
		}
		ref, err := r.LinkInstrument(ctx, c.by(who), c.Save, &link, "line learned")
		if err != nil {
			return err
		}
		say(s, "%s is linked to %s.", ref, link.Address)
		return nil
	})
}

// patternInWords says what was learned.
func patternInWords(p *line.Pattern) []string {
	f := p.Framing
	cut := "Lines end in CR, LF or both."
	switch {
	case f.Start != "" && f.End != "":
		cut = "Lines stand between " + f.Start + " and " + f.End + "."
	case f.End != "" && f.End != "any":
		cut = "Lines end in " + f.End + "."
	case f.IdleS > 0:
		cut = fmt.Sprintf("A pause of %g s ends a line.", f.IdleS)
	}
	out := []string{cut}
	for n := range p.Lines {
		shape := &p.Lines[n]
		var parts []string
		for i := range shape.Parts {
			parts = append(parts, partInWords(&shape.Parts[i]))
		}
		text := fmt.Sprintf("%s: %s.", cmp.Or(shape.Means, shape.Name), strings.Join(parts, ", then "))
		if shape.Unit != "" {
			text += " The unit is " + shape.Unit + "; a person said so."
		}
		out = append(out, text)
	}
	if p.Checksum != nil {
		out = append(out, "Every line ends in a check ("+p.Checksum.Kind+").")
	}
	return out
}

func partInWords(p *line.Part) string {
	column := ""
	if p.Width > 0 {
		column = fmt.Sprintf(" in %d columns", p.Width)
	}
	switch p.Is {
	case "text":
		return strconv.Quote(p.Text)
	case "blank":
		if p.Min == p.Max {
			return plural(p.Max, "space")
		}
		return fmt.Sprintf("%d to %d spaces", p.Min, p.Max)
	case "word":
		var words []string
		for _, w := range p.Words {
			text := strconv.Quote(w.Word)
			if says := cmp.Or(w.Mark, w.State, w.Channel); says != "" {
				text += " (" + says + ")"
			}
			words = append(words, text)
		}
		return "the word " + strings.Join(words, " or ") + column
	case "number", "other":
		text := "the reading"
		if p.Is == "other" {
			text = "a number that is passed over"
		}
		if p.Channel != "" {
			text += " of " + p.Channel
		}
		text += column
		if p.Decimals > 0 {
			mark := "a point"
			if p.Comma {
				mark = "a comma"
			}
			text += fmt.Sprintf(" with %s and %s", mark, plural(p.Decimals, "decimal"))
		}
		if p.Sign != "" {
			text += map[string]string{"beside": ", its sign beside the digits", "first": ", its sign first in the column", "after": ", its sign after the digits"}[p.Sign]
		}
		return text
	case "unit":
		return "the unit" + column
	}
	return "digits that are passed over"
}
