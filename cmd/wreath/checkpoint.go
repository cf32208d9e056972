package main

import (
	"context"
	"fmt"
	"io"
	"strconv"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/desk"
)

type checkpointCmd struct {
	Make checkpointMakeCmd `cmd:"" default:"withargs" help:"Sign a checkpoint that is to leave the house."`
	List checkpointListCmd `cmd:"" help:"The checkpoints that are kept."`
}

type checkpointMakeCmd struct {
	place
	Reason string `help:"What it is for, in a few words."`
}

func (checkpointMakeCmd) Help() string {
	return `Examples:

  wreath checkpoint > today.note
  wreath checkpoint make --reason "for the branch in River Street"

A checkpoint is the size and the root of the log, signed. It protects only outside of the house: hand
it to a branch, send it to a customer, or write the short form on paper. The signed note goes to
standard output, the short form to standard error.`
}

// Run signs a checkpoint.
func (c *checkpointMakeCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		signed, cp, err := r.Checkpoint(ctx, who, c.Reason)
		if err != nil {
			return err
		}
		if _, err := io.WriteString(s.Out, signed); err != nil {
			return err
		}
		_, err = fmt.Fprintf(s.Err, "on paper: %s\n", cp.Short())
		return err
	})
}

type checkpointListCmd struct {
	place
	formatted
}

func (checkpointListCmd) Help() string {
	return `Examples:

  wreath checkpoint list
  wreath checkpoint list --format json`
}

// Run lists checkpoints.
func (c *checkpointListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		kept, err := r.Checkpoints(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, append([]desk.KeptCheckpoint{}, kept...))
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		if len(kept) == 0 {
			say(s, "No checkpoint was made yet.")
			return nil
		}
		var rows [][]string
		for _, k := range kept {
			rows = append(rows, []string{fmt.Sprint(k.Entries), moment(k.Time, zone), k.Reason, k.Short})
		}
		return safeGrid(s.Out, "entries|made|why|on paper", rows)
	})
}

// grown proves that a log begins with what it was before.
type grown struct {
	Older int64    `json:"older"`
	Newer int64    `json:"newer"`
	Proof []string `json:"proof"` // hashes by RFC 6962, section 2.1.2, base64
}

func (g grown) hashes() (out tlog.TreeProof, err error) {
	for _, text := range g.Proof {
		h, err := tlog.ParseHash(text)
		if err != nil {
			return nil, err
		}
		out = append(out, h)
	}
	return out, nil
}

type proveCmd struct {
	place
	Older string `arg:"" help:"Entries of the older checkpoint."`
	Newer string `arg:"" help:"Entries of the newer checkpoint."`
}

func (proveCmd) Help() string {
	return `Examples:

  wreath prove 1 2 > grown.json

Whoever keeps two checkpoints of this shop can hold the proof against them and knows that the newer
log begins with the older one, without seeing an entry: wreath witness FILE --proof grown.json.`
}

// Run proves that the log only grew.
func (c *proveCmd) Run(s *streams) error {
	older, err := strconv.ParseInt(c.Older, 10, 64)
	newer, err2 := strconv.ParseInt(c.Newer, 10, 64)
	if err != nil || err2 != nil {
		return wrong("The number before the slash of a checkpoint's short form.", "%q and %q are not two numbers of entries", c.Older, c.Newer)
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		proof, err := r.ProveExtends(ctx, who, older, newer)
		if err != nil {
			return err
		}
		g := grown{Older: older, Newer: newer, Proof: []string{}}
		for _, h := range proof {
			g.Proof = append(g.Proof, h.String())
		}
		return writeJSON(s.Out, g)
	})
}
