package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/term"

	"wreath/internal/desk"
	"wreath/internal/paper"
	"wreath/internal/press"
)

// paperOut is where a paper goes.
type paperOut struct {
	Out string `short:"o" placeholder:"FILE" help:"File to write, which must not exist yet; - for standard output, which is used unless said."`
}

// free refuses a place where a paper can't go, before anything is done that stays.
func (o paperOut) free(s *streams, binary bool) error {
	if o.Out == "" || o.Out == "-" {
		if file, ok := s.Out.(*os.File); binary && o.Out == "" && ok && term.IsTerminal(int(file.Fd())) {
			return wrong("Name a file with --out FILE, or send it on with --out -.", "a PDF would fill the screen with signs")
		}
		return nil
	}
	if _, err := os.Lstat(o.Out); err == nil {
		return wrong("Name another file, or move that one away.", "%s is there already", o.Out)
	}
	if info, err := os.Stat(filepath.Dir(o.Out)); err != nil || !info.IsDir() {
		return wrong("Make the folder first, or name another file.", "there is no folder %s", filepath.Dir(o.Out))
	}
	return nil
}

// deliver writes a paper whole, or not at all.
func (o paperOut) deliver(s *streams, binary bool, data []byte) error {
	if err := o.free(s, binary); err != nil {
		return err
	}
	if o.Out == "" || o.Out == "-" {
		_, err := s.Out.Write(data)
		return err
	}
	file, err := os.OpenFile(o.Out, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return wrong("Name another file, or move that one away.", "%s is there already", o.Out)
	}
	if err != nil {
		return err
	}
	if _, err := file.Write(data); err != nil {
		file.Close()
		return errors.Join(err, os.Remove(o.Out))
	}
	return file.Close()
}

type slipCmd struct {
	place
	paperOut
	Number   string   `arg:"" help:"Number of the record, such as D-000123."`
	Width    int      `enum:"58,80" default:"58" help:"Width of the paper in mm: 58 or 80."`
	As       string   `enum:"text,pdf,html" default:"text" help:"text for any printer, pdf, or html for a browser's print dialog."`
	Columns  int      `help:"text: letters on a line, 24 to 80; 32 on 58 mm and 48 on 80 mm unless said, and 42 is usual too."`
	Encoding string   `enum:"utf-8,ascii" default:"utf-8" help:"text: utf-8, or ascii with readable likenesses (± becomes +-, ä becomes ae)."`
	Feed     int      `help:"text: empty lines at the end, so that the last line passes the edge where paper is torn."`
	Proof    bool     `help:"text: the signed proof too, in letters that can be typed."`
	Language []string `placeholder:"CODE" help:"Language, such as de; a second one stands below. English unless said."`
}

func (slipCmd) Help() string {
	return `Examples:

  wreath slip D-000001
  wreath slip D-000001 --encoding ascii --columns 42 --feed 5
  wreath slip D-000001 --width 80 --as pdf --language de --language en --out slip.pdf

The slip says what the record says, in the same order, with the signed proof as a QR code where the form can
hold one. A text steers no printer: cutting is the printer's own. With wreath print the
copies are counted.`
}

// Run writes a slip.
func (c *slipCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		f, err := factsFor(ctx, s, r, who, "slip", c.Number)
		if err != nil {
			return err
		}
		write := map[string]func(io.Writer, *paper.Facts, press.SlipOptions) error{"text": press.SlipText, "pdf": press.SlipPDF, "html": press.SlipHTML}[c.As]
		var out bytes.Buffer
		if err := write(&out, f, press.SlipOptions{
			Roll: press.Roll(c.Width), Languages: c.Language,
			Columns: c.Columns, ASCII: c.Encoding == "ascii", Feed: c.Feed, Typed: c.Proof,
		}); err != nil {
			return wrong("See wreath slip --help.", "%v", err)
		}
		return c.deliver(s, c.As == "pdf", out.Bytes())
	})
}

// factsFor gathers what a paper can say: with the proof, and with the number of the copy that it is beside those
// that were printed. Where no proof can be made, such as while the signing key is not at hand, the paper goes
// without one, and that is said.
func factsFor(ctx context.Context, s *streams, r *room, who *desk.Who, document, number string) (*paper.Facts, error) {
	// The proof comes first: it seals the log where that was not done since the record, and the paper names the
	// checkpoint.
	text, unproven := r.Prove(ctx, who, number)
	f, err := r.Paper(ctx, who, number)
	if err != nil {
		return nil, err
	}
	if unproven != nil {
		fmt.Fprintf(s.Err, "wreath: note: without a signed proof: %v\n", unproven)
	}
	f.Proof = text
	f.Copy, _, err = r.Prints(ctx, who, document, f.Record.Number)
	return f, err
}

// today is the present day at the shop.
func today(ctx context.Context, r *room) (time.Time, error) {
	zone, err := shopZone(ctx, r)
	return time.Now().In(zone), err
}
