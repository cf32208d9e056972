package main

import (
	"context"
	"encoding/json"
	"fmt"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/vault"
)

type evidenceCmd struct {
	place
	Names []string `arg:"" optional:"" help:"Numbers of records, or names of items, stations or instruments."`
	From  string   `placeholder:"DAY" help:"Instead of names: the first day of a period, or a moment."`
	To    string   `placeholder:"DAY" help:"Its last day, which counts whole; or the moment before which."`
}

func (evidenceCmd) Help() string {
	return `Examples:

  wreath evidence D-000001 > evidence.json
  wreath evidence --from 2026-11-01 --to 2026-11-30 > november.json

The bundle holds every entry on these records, or of the period, each with the proof that it is in the
log, and a signed checkpoint. Anybody can check it without the store: wreath verify evidence.json
--public-key KEY, or doc/verify.py with nothing but Python. A period leaves out who signed in, who looked
at personal data, and what you may not see; the places of the entries show that something is left out.`
}

// Run writes a bundle.
func (c *evidenceCmd) Run(s *streams) error {
	period := c.From != "" || c.To != ""
	switch {
	case period && len(c.Names) > 0:
		return wrong("Give names, or a period with --from and --to.", "names and a period are given")
	case period && (c.From == "" || c.To == ""):
		return wrong("Give both --from and --to.", "a period has a first day and a last")
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if !period {
			b, err := r.Evidence(ctx, who, c.Names)
			if err != nil {
				return err
			}
			return writeJSON(s.Out, b)
		}
		from, until, err := between(ctx, r, "from", c.From, "to", c.To)
		if err != nil {
			return err
		}
		b, left, err := r.EvidenceOf(ctx, who, from, until)
		if err != nil {
			return err
		}
		if err := writeJSON(s.Out, b); err != nil {
			return err
		}
		_, err = fmt.Fprintf(s.Err, "%s, %s left out\n", entriesIn(int64(len(b.Entries))), entriesIn(int64(left)))
		return err
	})
}

type exportCmd struct {
	place
	Erasures bool `help:"Instead of the log, the list of customers whose data were erased, for the restore of an older backup."`
}

func (exportCmd) Help() string {
	return `Examples:

  wreath export > log.jsonl
  wreath export --erasures > erasures.json

The whole log, one entry a line, in their order and byte for byte. Personal data are not in it. It can be
checked without the store: wreath verify log.jsonl --against CHECKPOINT.`
}

// Run writes the log.
func (c *exportCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if c.Erasures {
			all, err := r.Erasures(ctx, who)
			if err != nil {
				return err
			}
			return writeJSON(s.Out, append([]vault.Erasure{}, all...))
		}
		n, err := r.Export(ctx, who, s.Out)
		if err == nil {
			_, err = fmt.Fprintf(s.Err, "%s exported\n", entriesIn(n))
		}
		return err
	})
}

type witnessCmd struct {
	place
	once
	File   string `arg:"" help:"Signed checkpoint of the branch, or - for standard input."`
	Public string `name:"public-key" required:"" placeholder:"KEY" help:"Public key of the branch, known from the branch itself."`
	Proof  string `placeholder:"FILE" help:"What the branch proved with wreath prove: that its log begins with the one kept here."`
}

func (witnessCmd) Help() string {
	return `Examples:

  wreath witness branch.note --public-key "$KEY"

A checkpoint that is kept here can't be taken back there. One that contradicts an earlier one is
refused with exit code 6: keep both, they prove that the branch's log was rewritten.`
}

// Run keeps a branch's checkpoint.
func (c *witnessCmd) Run(s *streams) error {
	data, err := readUpTo(c.File, s.In, 1<<16)
	if err != nil {
		return err
	}
	if err := checkKey(c.Public); err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		cp, err := ledger.OpenCheckpoint(string(data), c.Public)
		if err != nil {
			return err
		}
		before, err := r.Witnessed(ctx, who, cp.Shop)
		if err != nil {
			return err
		}
		proved, err := c.proved(s, before, cp)
		if err != nil {
			return err
		}
		if _, err := r.Witness(ctx, c.by(who), string(data), c.Public); err != nil {
			return err
		}
		say(s, "Kept: %s had %s on %s", cp.Shop, entriesIn(cp.Size), cp.Time.Format("2006-01-02"))
		switch {
		case before.Size == 0:
			say(s, "It is the first one of this branch.")
		case proved:
			say(s, "Its log begins with the %s kept before.", entriesIn(before.Size))
		default:
			say(s, "Whether its log begins with the %s kept before is not proved: ask the branch for wreath prove %d %d", entriesIn(before.Size), before.Size, cp.Size)
		}
		return nil
	})
}

// proved holds a branch's proof against the checkpoint kept before and the new one.
func (c *witnessCmd) proved(s *streams, before, now ledger.Checkpoint) (bool, error) {
	if c.Proof == "" || before.Size == 0 {
		return false, nil
	}
	data, err := readUpTo(c.Proof, s.In, 1<<20)
	if err != nil {
		return false, err
	}
	const hint = "Give the file that wreath prove wrote at the branch."
	var g grown
	if err := json.Unmarshal(data, &g); err != nil {
		return false, wrong(hint, "%s is no proof: %v", c.Proof, err)
	}
	proof, err := g.hashes()
	if err != nil {
		return false, wrong(hint, "%s is no proof: %v", c.Proof, err)
	}
	if g.Older != before.Size || g.Newer != now.Size {
		return false, wrong(fmt.Sprintf("Ask the branch for wreath prove %d %d.", before.Size, now.Size), "the proof is of %d and %d entries", g.Older, g.Newer)
	}
	if err := ledger.Extends(before, now, proof); err != nil {
		return false, err
	}
	return true, nil
}
