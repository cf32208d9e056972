package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"

	"wreath/internal/desk"
	"wreath/internal/press"
	"wreath/internal/proof"
)

type proofCmd struct {
	place
	paperOut
	Number string `arg:"" help:"Number of the record, such as D-000123, or of a report, such as R-000007."`
	Format string `enum:"text,cose,vc,svg,png" default:"text" help:"text as in the QR code, cose for its bytes, vc for a W3C Verifiable Credential (JWT), svg or png for the QR code."`
}

func (proofCmd) Help() string {
	return `Examples:

  wreath proof D-000001
  wreath proof D-000001 --format png --out code.png
  wreath proof R-000001 --format vc --out credential.jwt

The proof is a statement of at most 350 bytes, signed with the shop's key: the record, its finding, and the
hash and checkpoint by which it stands in the log. Anybody checks it without the store and without a
network: wreath verify TEXT --public-key KEY, or the page that wreath verify --page FILE writes. It proves
that the shop said so, not that an item is genuine. doc/proof.md describes the form.`
}

// Run makes a proof.
func (c *proofCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if c.Format == "vc" {
			jwt, err := r.Credential(ctx, who, c.Number)
			if err != nil {
				return err
			}
			return c.deliver(s, false, []byte(jwt+"\n"))
		}
		text, err := r.Prove(ctx, who, c.Number)
		if err != nil {
			return err
		}
		switch c.Format {
		case "cose":
			message, err := proof.ParseText(text)
			if err != nil {
				return err
			}
			return c.deliver(s, true, message)
		case "svg", "png":
			return c.code(s, text)
		}
		return c.deliver(s, false, []byte(text+"\n"))
	})
}

// dots of a module of the code, of which eight make a millimetre.
const dots = 4

// code draws the QR code.
func (c *proofCmd) code(s *streams, text string) error {
	code, err := press.QR(text, press.CorrectM)
	if err != nil {
		return err
	}
	if c.Format == "svg" {
		return c.deliver(s, false, []byte(code.SVG(dots, 0, "proof of "+c.Number)+"\n"))
	}
	side := (code.Wide + 2*code.Quiet) * dots
	drawn := image.NewPaletted(image.Rect(0, 0, side, side), color.Palette{color.White, color.Black})
	for y := range side {
		for x := range side {
			if code.Dark(x/dots-code.Quiet, y/dots-code.Quiet) {
				drawn.SetColorIndex(x, y, 1)
			}
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, drawn); err != nil {
		return fmt.Errorf("draw the code: %w", err)
	}
	return c.deliver(s, true, out.Bytes())
}

type statusListCmd struct {
	place
	paperOut
}

func (statusListCmd) Help() string {
	return `Examples:

  wreath status-list --out status.txt
  wreath verify --page check.html --status status.txt

The list says, signed, which records and reports were superseded and by which, which were refused, and which
of the shop's keys were given up. It names numbers only, no item and no person. Give it to whoever checks
your proofs, and a new one now and then: it is as good as its date.`
}

// Run makes a status list.
func (c *statusListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		text, err := r.StatusList(ctx, who)
		if err != nil {
			return err
		}
		return c.deliver(s, false, []byte(text+"\n"))
	})
}
