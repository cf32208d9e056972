package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/proof"
	"wreath/internal/store"
)

// proofArgs are the flags of verify that proofs need.
type proofArgs struct {
	Status   string `placeholder:"FILE" help:"Status list of the shop, to know what became of a record that is proved; see wreath status-list."`
	Page     string `placeholder:"FILE" help:"Write a page with which anybody checks proofs in a browser, without a network: one file, with the public keys and the status list in it."`
	Language string `placeholder:"CODE" help:"Language in which the page opens: en, de or es; that of the browser unless said."`
}

// proved is what the check of a proof found, for programs.
type proved struct {
	What   string     `json:"what"`  // proof or status list
	Holds  bool       `json:"holds"` // the signature is that of a key that is trusted, and nothing was changed
	Fault  proof.Kind `json:"fault,omitempty"`
	Reason string     `json:"reason,omitempty"`

	Trusted bool         `json:"trusted"` // signed with a key that was given
	Key     string       `json:"public_key,omitempty"`
	Status  *statusOf    `json:"status,omitempty"`
	Said    *provedFacts `json:"statement,omitempty"`
	Listed  *listFacts   `json:"list,omitempty"`
}

// statusOf is what became of the record.
type statusOf struct {
	State string    `json:"state"` // standing, superseded, withdrawn, key given up or unknown
	By    string    `json:"by,omitempty"`
	AsOf  time.Time `json:"as_of"`
	Since time.Time `json:"since,omitzero"` // when the key was given up
}

// provedFacts are what a proof says.
type provedFacts struct {
	Shop         string    `json:"shop"`
	ShopName     string    `json:"shop_name,omitempty"`
	Number       string    `json:"number"`
	Report       string    `json:"report,omitempty"`
	Issued       time.Time `json:"issued"`
	Made         time.Time `json:"made"`
	Supersedes   string    `json:"supersedes,omitempty"`
	SupersededBy string    `json:"superseded_by,omitempty"`
	Hash         string    `json:"hash"`
	Entry        int64     `json:"entry"`
	Checkpoint   string    `json:"checkpoint"`
	Item         string    `json:"item,omitempty"`
	Claim        string    `json:"claim,omitempty"`
	Finding      string    `json:"finding"`
	Density      string    `json:"density_g_cm3"`
	DensityU     string    `json:"density_U_g_cm3,omitempty"`
	Low          string    `json:"fineness_low_ppt,omitempty"`
	High         string    `json:"fineness_high_ppt,omitempty"`
	Mass         string    `json:"mass_g"`
	Suspended    bool      `json:"suspended,omitempty"`
	Approved     bool      `json:"approved"`
	Demo         bool      `json:"invented,omitempty"`
	Cut          bool      `json:"cut,omitempty"`
}

// listFacts are what a status list says.
type listFacts struct {
	Shop       string    `json:"shop"`
	Issued     time.Time `json:"issued"`
	Checkpoint string    `json:"checkpoint"`
	Superseded int       `json:"superseded"`
	Withdrawn  int       `json:"withdrawn"`
	GivenUp    int       `json:"keys_given_up"`
}

// coseBegin is how the bytes of a proof begin.
var coseBegin = []byte{0xd2, 0x84}

// proofKind tells a proof or a status list by how it begins.
func proofKind(begin []byte) (kind string, is bool) {
	begin = bytes.TrimPrefix(begin, []byte("\xef\xbb\xbf"))
	text := strings.ToUpper(string(bytes.TrimSpace(begin)))
	switch {
	case strings.HasPrefix(text, "WREATHLIST"):
		return "status list", true
	case strings.HasPrefix(text, "WREATH"), strings.HasPrefix(text, "WREAT H"), bytes.HasPrefix(begin, coseBegin):
		return "proof", true
	}
	return "", false
}

// readStatus reads the file of a status list.
func readStatus(name string) (string, error) {
	f, err := os.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return "", &failure{exitMissing, "there is no " + name, "Check the name of the file."}
	}
	if err != nil {
		return "", openFailure(name, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, proof.MaxList+1))
	if err != nil {
		return "", openFailure(name, err)
	}
	return string(data), nil
}

// trusted are the keys to check proofs with: those that were given, else those of the store in use.
func (c *verifyCmd) trusted(ctx context.Context) (keys []proof.Key, name string, err error) {
	published := c.Trust
	if len(published) == 0 {
		if published, name, err = c.storeKeys(ctx); err != nil {
			return nil, "", err
		}
	}
	for _, text := range published {
		k, err := proof.ParseKey(text)
		if err != nil {
			return nil, "", err
		}
		keys = append(keys, k)
	}
	return keys, name, nil
}

// storeKeys are the public keys of the shop in the store in use, and its name on paper.
func (c *verifyCmd) storeKeys(ctx context.Context) (keys []string, name string, err error) {
	if err := c.resolve(); err != nil {
		return nil, "", err
	}
	none := wrong("Give the shop's public key with --public-key, as the shop published it.", "there is no key to check with, and no store at %s that holds one", c.Store)
	var st *store.Store
	if isPostgres(c.Store) {
		st, err = openStore(ctx, c.Store, false)
	} else {
		if _, err := os.Stat(c.Store); err != nil {
			return nil, "", none
		}
		st, err = openFile(ctx, c.Store, false)
	}
	if err != nil {
		return nil, "", err
	}
	defer st.Close()
	if err := c.choose(ctx, st); err != nil {
		return nil, "", err
	}
	err = st.Read(ctx, c.Shop, func(tx *store.Tx) error {
		all, err := tx.Keys()
		if err != nil {
			return err
		}
		keys = all.All()
		var shop struct{ Name string }
		if _, err := tx.Get("shop", "shop", &shop); err != nil && !errors.Is(err, store.ErrNotFound) {
			return err
		}
		name = shop.Name
		return nil
	})
	return keys, name, err
}

// proof checks a proof, or a status list by itself.
func (c *verifyCmd) proof(ctx context.Context, s *streams, kind string, data []byte) error {
	if len(c.Against) > 0 || c.Views {
		return wrong("Leave --against and --views out; --status tells what became of the record.", "a %s is held against keys and a status list only", kind)
	}
	keys, _, err := c.trusted(ctx)
	if err != nil {
		return err
	}
	var list *proof.List
	if c.Status != "" {
		text, err := readStatus(c.Status)
		if err == nil {
			list, err = proof.OpenList(text, keys...)
		}
		if err != nil {
			return c.refuse(s, proved{What: "status list"}, fmt.Errorf("%s: %w", c.Status, err))
		}
	}
	out := proved{What: kind, Trusted: len(c.Trust) > 0}
	if kind == "status list" {
		l, err := proof.OpenList(string(data), keys...)
		if err != nil {
			return c.refuse(s, out, err)
		}
		out.Holds, out.Listed = true, listSaid(l)
		return c.showProved(s, out)
	}
	var o *proof.Opened
	if bytes.HasPrefix(data, coseBegin) {
		o, err = proof.OpenMessage(data, keys...)
	} else {
		o, err = proof.Open(strings.TrimPrefix(string(data), "\ufeff"), keys...)
	}
	if err != nil {
		return c.refuse(s, out, err)
	}
	out.Key, out.Said = o.Key.String(), proofSaid(&o.Statement)
	status, err := proof.StatusOf(o, list)
	if err != nil {
		return c.refuse(s, out, err)
	}
	out.Holds, out.Status = true, &statusOf{status.State, status.By, status.AsOf, status.Since}
	if err := c.showProved(s, out); err != nil {
		return err
	}
	switch status.State {
	case proof.Superseded:
		return &failure{exitFailed, fmt.Sprintf("%s was superseded by %s", cmp.Or(o.Statement.Report, o.Statement.Number), status.By), "Ask for that one."}
	case proof.Withdrawn:
		return &failure{exitFailed, fmt.Sprintf("the shop no longer stands by %s", o.Statement.Number), "Ask the shop."}
	case proof.KeyGivenUp:
		return &failure{exitFailed, "the shop gave up the key of this proof: it was lost, or others may have signed with it", "Ask the shop whether the record is its own."}
	}
	return nil
}

// refuse says that something is not to be believed, to programs on standard output too.
func (c *verifyCmd) refuse(s *streams, out proved, err error) error {
	fault, is := errors.AsType[*proof.Error](err)
	if is && c.forPrograms() {
		out.Holds, out.Status, out.Fault, out.Reason = false, nil, fault.Kind, fault.Reason
		if err := writeJSON(s.Out, out); err != nil {
			return err
		}
	}
	return err
}

// proofFailure is the exit code of what is wrong with a proof, a list or a key.
func proofFailure(e *proof.Error, reason string) *failure {
	code := exitBroken
	switch e.Kind {
	case proof.NoProof, proof.NoKey:
		code = exitUsage
	case proof.Newer:
		code = exitFailed
	}
	return &failure{code, harmless(reason), e.Hint}
}

func listSaid(l *proof.List) *listFacts {
	out := &listFacts{Shop: l.Shop, Issued: l.Issued, Checkpoint: ledger.Short{Size: l.Size, Root: l.Root}.String(), GivenUp: len(l.Keys)}
	for _, r := range l.Rows {
		if r.State == proof.Superseded {
			out.Superseded++
		} else {
			out.Withdrawn++
		}
	}
	return out
}

// metalNames are the metals that a proof names by their symbols.
var metalNames = map[string]string{"Au": "gold", "Ag": "silver", "Pt": "platinum", "Pd": "palladium"}

func proofSaid(p *proof.Statement) *provedFacts {
	out := &provedFacts{
		Shop: p.Shop, ShopName: p.ShopName, Number: p.Number, Report: p.Report, Issued: p.Issued, Made: p.Made, Supersedes: p.Supersedes, SupersededBy: p.SupersededBy,
		Hash: fmt.Sprintf("%x", p.Hash), Entry: p.Entry, Checkpoint: ledger.Short{Size: p.Size, Root: p.Root}.String(), Item: p.Item, Claim: p.Claim, Finding: p.Finding,
		Density: p.Density.String(), Mass: p.Mass.String(), Suspended: p.Suspended, Approved: p.Approved, Demo: p.Demo, Cut: p.Cut,
	}
	if p.Density.U != 0 {
		out.DensityU = p.Density.Uncertainty()
	}
	switch {
	case p.Claimed != proof.Number{}:
		out.Claim = metalNames[p.Metal] + " " + p.Claimed.String()
	case p.Finding != proof.NoFinding && p.Claim == "":
		out.Claim = metalNames[p.Metal]
	}
	if p.Low != (proof.Number{}) || p.High != (proof.Number{}) {
		out.Low, out.High = p.Low.String(), p.High.String()
	}
	return out
}

func (c *verifyCmd) showProved(s *streams, v proved) error {
	if c.forPrograms() {
		return writeJSON(s.Out, v)
	}
	page := newPage()
	at := func(t time.Time) string { return t.Format("2006-01-02 15:04:05 UTC") }
	if l := v.Listed; l != nil {
		page.say("Holds", "the status list of shop %s as of %s, of the log %s", harmless(l.Shop), at(l.Issued), l.Checkpoint)
		page.say("", "superseded: %d; withdrawn: %d; keys given up: %d", l.Superseded, l.Withdrawn, l.GivenUp)
		return page.print(s.Out)
	}
	p := v.Said
	page.say("Holds", "the proof of record %s is signed by shop %s", harmless(p.Number), harmless(p.Shop))
	switch v.Status.State {
	case proof.Superseded:
		page.say("Status", "SUPERSEDED by %s, as of %s", harmless(v.Status.By), at(v.Status.AsOf))
	case proof.Withdrawn:
		page.say("Status", "WITHDRAWN: the shop no longer stands by it, as of %s", at(v.Status.AsOf))
	case proof.KeyGivenUp:
		page.say("Status", "the KEY was GIVEN UP on %s: it was lost, or others may have signed with it", at(v.Status.Since))
	case proof.Standing:
		page.say("Status", "neither superseded nor withdrawn as of %s", at(v.Status.AsOf))
	default:
		page.say("Status", "unknown since %s: no status list that knows this record is at hand; give it with --status", at(v.Status.AsOf))
	}
	if p.Demo {
		page.say("", "invented: nothing of this exists")
	}
	page.say("Shop", "%s", harmless(cmp.Or(p.ShopName, p.Shop)))
	if p.Report != "" {
		page.say("Report", "%s", harmless(p.Report))
	}
	if p.Supersedes != "" {
		page.say("Corrects", "%s", harmless(p.Supersedes))
	}
	page.say("Recorded", "%s; the proof was made %s", at(p.Made), at(p.Issued))
	if p.Item != "" {
		page.say("Item", "%s", harmless(p.Item))
	}
	page.say("Claim", "%s", harmless(cmp.Or(p.Claim, "none")))
	page.say("Finding", "%s", p.Finding)
	if p.Suspended {
		page.say("", "a doubt about the weighing holds the finding back")
	}
	if p.DensityU != "" {
		page.say("Density", "%s ± %s g/cm³ at 20 °C (95 %%)", p.Density, p.DensityU)
	} else {
		page.say("Density", "%s g/cm³ at 20 °C; no upper limit", p.Density)
	}
	if p.Low != "" {
		page.say("Fineness", "%s to %s ppt by density (95 %%)", p.Low, p.High)
	}
	page.say("Mass", "%s g, free of the buoyancy of the air", p.Mass)
	if p.Approved {
		page.say("Approved", "by those whom the house asks")
	} else {
		page.say("Approved", "not yet when the proof was made")
	}
	page.say("Log", "entry %d; checkpoint %s", p.Entry, p.Checkpoint)
	page.say("", "hash of the record %s", p.Hash)
	if p.Cut {
		page.say("", "a text was too long for the code; where it was cut it ends in …")
	}
	if v.Trusted {
		page.say("Key", "signed with a key that was given")
	} else {
		page.say("Key", "%s: compare it with the one that the shop published", v.Key)
	}
	page.say("Mind", "this shows that the shop said so, not that the item at hand is that one, nor that it is genuine. Density can't see tungsten in gold")
	return page.print(s.Out)
}

// writePage writes the page with which anybody checks proofs.
func (c *verifyCmd) writePage(ctx context.Context, s *streams) error {
	if c.Target != "" || len(c.Against) > 0 || c.Views {
		return wrong("Give --page with --public-key, --status and --language only.", "--page writes a page and verifies nothing")
	}
	keys, name, err := c.trusted(ctx)
	if err != nil {
		return err
	}
	if c.Language != "" {
		if err := oneOf("--language", c.Language, proof.PageLanguages); err != nil {
			return err
		}
	}
	o := proof.PageOptions{ShopName: name, Language: c.Language}
	for _, k := range keys {
		o.Keys = append(o.Keys, k.String())
	}
	if c.Status != "" {
		if o.List, err = readStatus(c.Status); err != nil {
			return err
		}
	}
	page, err := proof.Page(o)
	if err != nil {
		return err
	}
	return paperOut{Out: c.Page}.deliver(s, false, page)
}
