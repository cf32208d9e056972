package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/mod/sumdb/note"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/proof"
	"wreath/internal/store"
)

type verifyCmd struct {
	place
	formatted
	proofArgs
	Target  string   `arg:"" optional:"" help:"Store, backup, bundle of evidence (JSON), exported log (JSON Lines), status list, or a proof: its text, a file of it, or - for standard input. The store in use unless said."`
	Against []string `sep:"none" placeholder:"FILE" help:"File with a checkpoint that left the house, or its short form typed from a slip. May be repeated."`
	Trust   []string `name:"public-key" aliases:"key" sep:"none" placeholder:"KEY" help:"Public key of the shop, as it was published. May be repeated. Without it the key in the store is taken, which proves less."`
	Views   bool     `help:"Compute what is shown anew from the log, in a scratch store, and compare. For stores only."`
}

func (verifyCmd) Help() string {
	return `Examples:

  wreath verify
  wreath verify --views
  wreath verify evidence.json
  wreath verify log.jsonl --format json
  wreath verify 'WREATH1:...' --public-key KEY --status status.txt
  wreath verify --page check.html --status status.txt

Every entry is read and held against its hash, its place and the tree above it, and every checkpoint
against the tree. Anybody may verify who has the file: it needs no sign-in, no signing key and no
network, and changes nothing. The first fault is named, and the exit code is then 6.

Who holds both store and signing key could write a whole log anew. What contradicts them is a
checkpoint that left the house: give it with --against.

A proof from the QR code of a slip or a report is checked with the shop's public keys. Exit code 6: it is
not to be believed. Exit code 1: it is the shop's, and was superseded or withdrawn. Without a status list
what became of the record since is unknown.`
}

// verified is what a verification found, for programs.
type verified struct {
	What        string    `json:"what"` // store, evidence or log
	Shop        string    `json:"shop"`
	Entries     int64     `json:"entries"`
	Root        string    `json:"root"`
	Short       string    `json:"short"` // size and root as a checkpoint on paper would read
	Last        time.Time `json:"last,omitzero"`
	Checkpoints int       `json:"checkpoints"` // that were compared, of those in the store and those given
	Attachments int       `json:"attachments,omitempty"`
	Trusted     bool      `json:"trusted"` // signed with a key that was given
	PublicKey   string    `json:"public_key,omitempty"`
	Views       bool      `json:"views,omitempty"`     // what is shown follows from the log
	ClockSet    []int64   `json:"clock_set,omitempty"` // entries at which the clock had been set back
	Subjects    []string  `json:"subjects,omitempty"`  // of a bundle
}

// Run verifies.
func (c *verifyCmd) Run(s *streams) error {
	ctx := context.Background()
	for _, key := range c.Trust {
		if err := checkKey(key); err != nil {
			return err
		}
	}
	if c.Page != "" {
		return c.writePage(ctx, s)
	}
	kind, data, err := c.kind(s)
	if err != nil {
		return err
	}
	if kind == "proof" || kind == "status list" {
		return c.proof(ctx, s, kind, data)
	}
	if c.Status != "" || c.Language != "" {
		return wrong("Leave it out; to check a proof, give its text.", "--status belongs to a proof or a page, and --language to a page")
	}
	if c.Views && kind != "store" {
		return wrong("Leave --views out.", "only a store has views; %s is none", c.Target)
	}
	var v verified
	switch kind {
	case "evidence":
		v, err = c.bundle(data)
	case "log":
		v, err = c.log(s)
	default:
		v, err = c.stored(ctx, s)
	}
	if err != nil {
		return err
	}
	v.What, v.Trusted = kind, len(c.Trust) > 0
	if c.forPrograms() {
		return writeJSON(s.Out, v)
	}
	return c.print(s, v)
}

// checkKey refuses a text that is no public key, before anything is blamed on what it signed.
func checkKey(key string) error {
	if _, err := note.NewVerifier(strings.TrimSpace(key)); err != nil {
		return wrong("Copy it whole, as wreath shop open printed it.", "%q is no public key of a shop", key)
	}
	return nil
}

// kind tells what is to be verified by what stands at its beginning.
func (c *verifyCmd) kind(s *streams) (kind string, data []byte, err error) {
	if c.Target == "" || isPostgres(c.Target) {
		return "store", nil, nil
	}
	if c.Target == "-" {
		if data, err = io.ReadAll(io.LimitReader(s.In, proof.MaxList+1)); err != nil {
			return "", nil, err
		}
		if kind, is := proofKind(data); is {
			return kind, data, nil
		}
		return "", nil, wrong("Give a proof or a status list; everything else by its file.", "standard input holds no proof")
	}
	if kind, is := proofKind([]byte(c.Target)); is && strings.Contains(c.Target, ":") {
		return kind, []byte(c.Target), nil
	}
	f, err := os.Open(c.Target)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil, &failure{exitMissing, "there is no " + c.Target, "Check the name of the file."}
	}
	if err != nil {
		return "", nil, openFailure(c.Target, err)
	}
	defer f.Close()
	begin := make([]byte, 4096)
	n, err := io.ReadFull(f, begin)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return "", nil, openFailure(c.Target, err)
	}
	begin = begin[:n]
	proved, isProof := proofKind(begin)
	switch {
	case bytes.HasPrefix(begin, []byte("SQLite format 3\x00")):
		return "store", nil, nil
	case bytes.HasPrefix(begin, []byte(`{"wreath":`)):
		return "log", nil, nil
	case isProof:
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return "", nil, err
		}
		data, err = io.ReadAll(io.LimitReader(f, proof.MaxList+1))
		return proved, data, err
	case bytes.HasPrefix(bytes.TrimSpace(begin), []byte("{")):
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return "", nil, err
		}
		data, err = io.ReadAll(io.LimitReader(f, ledger.MaxBundle+1))
		return "evidence", data, err
	}
	return "", nil, wrong("Give a store, a backup, a bundle of evidence, an exported log, a status list or a proof.", "%s is nothing that can be verified", c.Target)
}

// expectations reads what is given with --against. Signed checkpoints need one of the keys.
func (c *verifyCmd) expectations(keys []string) (out []store.Expectation, err error) {
	for _, given := range c.Against {
		data, err := os.ReadFile(given)
		if errors.Is(err, fs.ErrNotExist) || err != nil && strings.Contains(given, "/") && !filepath.IsAbs(given) {
			s, err := ledger.ParseShort(given)
			if err != nil {
				return nil, wrong("Give the file of a checkpoint, or its short form as printed: the number, a slash, and the groups of letters.", "--against %s: %v", given, err)
			}
			out = append(out, store.Expectation{Name: "the checkpoint " + s.String(), Short: &s})
			continue
		}
		if err != nil {
			return nil, openFailure(given, err)
		}
		cp, err := ledger.OpenCheckpoint(string(data), keys...)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", given, err)
		}
		out = append(out, store.Expectation{Name: "the checkpoint in " + given, Checkpoint: &cp})
	}
	return out, nil
}

// stored verifies a store, which is opened for reading only.
func (c *verifyCmd) stored(ctx context.Context, s *streams) (v verified, err error) {
	if c.Target != "" {
		c.Store = c.Target
	}
	if err := c.resolve(); err != nil {
		return v, err
	}
	if _, err := os.Stat(c.Store); !isPostgres(c.Store) && errors.Is(err, fs.ErrNotExist) {
		return v, &failure{exitMissing, "there is no store " + c.Store, "Name it, or a backup of it: wreath verify FILE."}
	}
	var st *store.Store
	if isPostgres(c.Store) {
		st, err = openStore(ctx, c.Store, false)
	} else {
		st, err = openFile(ctx, c.Store, false)
	}
	if err != nil {
		return v, err
	}
	defer st.Close()
	if err := c.choose(ctx, st); err != nil {
		return v, err
	}
	var public string
	if err := st.Read(ctx, c.Shop, func(tx *store.Tx) error { public, err = tx.PublicKey(); return err }); err != nil {
		return v, err
	}
	keys := c.Trust
	if len(keys) == 0 {
		keys = []string{public}
	}
	expected, err := c.expectations(keys)
	if err != nil {
		return v, err
	}
	o := c.options(st, "", public)
	d, err := desk.New(o)
	if err != nil {
		return v, err
	}
	p := startProgress(s, "entries")
	report, err := d.Verify(ctx, c.Trust, expected, nil, p.show)
	p.stop()
	if err != nil {
		return v, err
	}
	if c.Views {
		if _, err := desk.Try(ctx, st, o, os.TempDir()); err != nil {
			return v, err
		}
	}
	return verified{
		Shop: report.Shop, Entries: report.Entries, Root: report.Root.String(), Short: ledger.Checkpoint{Size: report.Entries, Root: report.Root}.Short().String(),
		Last: report.Last, Checkpoints: report.Checkpoints + len(expected), Attachments: report.Attachments, PublicKey: public, Views: c.Views, ClockSet: report.ClockSet,
	}, nil
}

// bundle verifies evidence.
func (c *verifyCmd) bundle(data []byte) (v verified, err error) {
	b, err := ledger.ReadBundle(data)
	if err != nil {
		var unfit *ledger.Broken
		if errors.As(err, &unfit) {
			return v, err
		}
		return v, wrong("Give a bundle as wreath evidence writes it.", "%s is no bundle of evidence: %v", c.Target, err)
	}
	cp, entries, err := b.Verify(c.Trust...)
	if err != nil {
		return v, err
	}
	v = verified{Shop: cp.Shop, Entries: int64(len(entries)), Root: cp.Root.String(), Short: cp.Short().String(), Last: cp.Time, Checkpoints: 1, PublicKey: b.PublicKey}
	for _, e := range entries {
		v.Subjects = append(v.Subjects, fmt.Sprintf("entry %d: %s %s by %s, %s", e.Seq, strings.ReplaceAll(e.Kind, "-", " "), e.Subject, e.Person, e.Time.Format(time.RFC3339)))
	}
	keys := c.Trust
	if len(keys) == 0 {
		keys = []string{b.PublicKey}
	}
	expected, err := c.expectations(keys)
	if err != nil {
		return v, err
	}
	for _, e := range expected {
		want := e.Short
		if want == nil {
			s := e.Checkpoint.Short()
			want = &s
		}
		if want.Size != cp.Size {
			return v, wrong("Verify the store or an exported log against it.", "%s was made of %d entries, that of the bundle of %d; a bundle alone can't compare them", e.Name, want.Size, cp.Size)
		}
		if *want != cp.Short() {
			return v, &ledger.Broken{Seq: -1, Reason: e.Name + " contradicts that of the bundle: they are of two different logs"}
		}
		v.Checkpoints++
	}
	return v, nil
}

// log verifies an exported log.
func (c *verifyCmd) log(s *streams) (v verified, err error) {
	f, err := os.Open(c.Target)
	if err != nil {
		return v, openFailure(c.Target, err)
	}
	defer f.Close()
	first, err := bufio.NewReaderSize(f, ledger.MaxEntry+1).ReadSlice('\n')
	if err != nil {
		return v, &ledger.Broken{Seq: 0, Reason: "its line does not end"}
	}
	e, err := ledger.Decode(bytes.TrimSuffix(first, []byte("\n")))
	if err != nil {
		return v, &ledger.Broken{Seq: 0, Reason: err.Error()}
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return v, err
	}
	check := ledger.NewChecker(e.Shop)
	expected, err := c.expectations(c.Trust)
	if err != nil {
		if len(c.Trust) == 0 {
			err = wrong("Give the shop's public key with --public-key, or the short form of the checkpoint.", "a signed checkpoint can't be held against a log without the key that signed it")
		}
		return v, err
	}
	for _, x := range expected {
		if x.Short != nil {
			check.ExpectShort(x.Name, *x.Short)
		} else if err := check.Expect(x.Name, *x.Checkpoint); err != nil {
			return v, err
		}
	}
	info, err := f.Stat()
	if err != nil {
		return v, err
	}
	p := startProgress(s, "bytes")
	n, err := ledger.CheckLog(&counted{f, p, 0, info.Size()}, check)
	p.stop()
	if err != nil {
		return v, err
	}
	return verified{Shop: e.Shop, Entries: n, Root: check.Root().String(), Short: ledger.Checkpoint{Size: n, Root: check.Root()}.Short().String(), Checkpoints: len(expected)}, nil
}

func (c *verifyCmd) print(s *streams, v verified) error {
	page := newPage()
	switch v.What {
	case "evidence":
		page.say("Holds", "%s of shop %s, each proved to be in the log of checkpoint %s of %s", entriesIn(v.Entries), v.Shop, v.Short, v.Last.Format(time.RFC3339))
		for _, line := range v.Subjects {
			page.say("", "%s", harmless(line))
		}
	default:
		page.say("Holds", "the log of shop %s: %s, %s", v.Shop, entriesIn(v.Entries), v.Short)
		page.say("", "root %s", v.Root)
	}
	if v.What == "store" {
		page.say("", "last entry %s", v.Last.Format(time.RFC3339))
		page.say("", "checkpoints compared: %d; attachments: %d", v.Checkpoints, v.Attachments)
	} else {
		page.say("", "checkpoints compared: %d", v.Checkpoints)
	}
	if v.Views {
		page.say("", "what is shown follows from the log")
	}
	for _, seq := range v.ClockSet {
		page.say("Clock", "had been set back at entry %d", seq)
	}
	switch {
	case v.Trusted:
		page.say("Key", "signed with the key that was given")
	case v.PublicKey != "":
		page.say("Key", "%s: compare it with the one that the shop published, or give that with --public-key", v.PublicKey)
	}
	switch {
	case v.What == "log" && len(c.Against) == 0:
		page.say("Mind", "NOTHING was compared: a log by itself shows only that its entries have their form and order. Hold it against a checkpoint: --against")
	case len(c.Against) == 0:
		page.say("Mind", "this shows that it agrees with itself; that it was not written anew as a whole shows a checkpoint from outside: --against")
	}
	return page.print(s.Out)
}

func entriesIn(n int64) string {
	if n == 1 {
		return "1 entry"
	}
	return fmt.Sprintf("%d entries", n)
}

// counted tells how much was read.
type counted struct {
	io.Reader
	to       *progress
	done, of int64
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.done += int64(n)
	c.to.show(c.done, c.of)
	return n, err
}

// progress shows on a terminal how far a long job is; anywhere else it does nothing.
type progress struct {
	pool *mpb.Progress
	bar  *mpb.Bar
	done atomic.Int64
}

func startProgress(s *streams, what string) *progress {
	p := &progress{}
	if !isTerminal(s.Err) {
		return p
	}
	p.pool = mpb.New(mpb.WithOutput(s.Err), mpb.WithWidth(60), mpb.WithRefreshRate(200*time.Millisecond))
	count := decor.Any(func(decor.Statistics) string { return fmt.Sprintf("%d %s ", p.done.Load(), what) })
	p.bar = p.pool.AddBar(0, mpb.BarRemoveOnComplete(), mpb.PrependDecorators(count), mpb.AppendDecorators(decor.Percentage(), decor.Name("  "), decor.AverageETA(decor.ET_STYLE_GO)))
	return p
}

func (p *progress) show(done, of int64) {
	if p.bar != nil {
		p.done.Store(done)
		p.bar.SetTotal(of, false)
		p.bar.SetCurrent(done)
	}
}

func (p *progress) stop() {
	if p.bar != nil {
		p.bar.Abort(true)
		p.pool.Wait()
	}
}
