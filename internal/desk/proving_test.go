package desk

import (
	"encoding/hex"
	"strings"
	"testing"
	"time"

	"wreath/internal/paper"
	"wreath/internal/people"
	"wreath/internal/proof"
	"wreath/internal/record"
)

// opened checks the proof of a record with the shop's keys, and holds it against a status list where one
// is given.
func (w *world) opened(text, list string) (*proof.Opened, proof.Status) {
	w.t.Helper()
	o, err := proof.Open(text, w.proofKeys()...)
	w.ok(err)
	var l *proof.List
	if list != "" {
		l, err = proof.OpenList(list, w.proofKeys()...)
		w.ok(err)
	}
	status, err := proof.StatusOf(o, l)
	w.ok(err)
	return o, status
}

func (w *world) proofKeys() (keys []proof.Key) {
	w.t.Helper()
	all, err := w.Keys(w.t.Context())
	w.ok(err)
	for _, k := range all {
		keys = append(keys, must[proof.Key](w.t)(proof.ParseKey(k.Public)))
	}
	return keys
}

// TestProofSaysWhatTheRecordSays proves a record and compares with the record, its place in the log and the
// checkpoint that its papers show.
func TestProofSaysWhatTheRecordSays(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	number := w.recorded(w.boss())
	text := must[string](t)(w.Prove(ctx, w.who["measure"], number))
	r := must[Recorded](t)(w.Show(ctx, w.who["boss"], number))
	shop := must[Shop](t)(w.AboutShop(ctx))
	o, status := w.opened(text, "")
	s := o.Statement
	sum := must[*record.Summary](t)(r.Record.Summary())
	if s.Number != number || s.Shop != w.Shop() || s.ShopName != shop.Name || s.Entry != r.Entry || s.Finding != sum.Finding || s.Item != sum.Description || s.Approved || s.Demo != shop.Demo {
		t.Errorf("the proof says %+v", s)
	}
	if got := hex.EncodeToString(s.Hash[:]); got != r.Hash {
		t.Errorf("hash %s, want %s", got, r.Hash)
	}
	if !s.Issued.Equal(w.clock.now().UTC().Truncate(time.Second)) || !s.Made.Equal(r.Record.Made.Time.UTC().Truncate(time.Second)) || status.State != proof.Unknown {
		t.Errorf("issued %s, made %s, %+v", s.Issued, s.Made, status)
	}
	f := must[*paper.Facts](t)(w.Paper(ctx, w.who["boss"], number))
	kept := must[[]KeptCheckpoint](t)(w.Checkpoints(ctx, w.who["boss"]))
	if f.Checkpoint == "" || f.Checkpoint != kept[len(kept)-1].Short || s.Size != kept[len(kept)-1].Entries {
		t.Errorf("the paper shows the checkpoint %s, the proof that of %d entries; kept is %+v", f.Checkpoint, s.Size, kept)
	}
	// Asked again, the log is not sealed again.
	must[string](t)(w.Prove(ctx, w.who["measure"], number))
	if again := must[[]KeptCheckpoint](t)(w.Checkpoints(ctx, w.who["boss"])); len(again) != len(kept) {
		t.Errorf("%d checkpoints after %d", len(again), len(kept))
	}
	w.sign("boss", number, people.Approved)
	if o, _ := w.opened(must[string](t)(w.Prove(ctx, w.who["measure"], number)), ""); !o.Statement.Approved {
		t.Error("the proof of a record that was approved does not say so")
	}
	_, err := w.Prove(ctx, w.who["boss"], "D-999999")
	saying(t, "a proof of nothing", err, "no record")
}

// TestStatusOfWhatWasProved corrects, refuses and amends what was proved, and holds the old proofs against the
// lists.
func TestStatusOfWhatWasProved(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	number, refused, good := w.recorded(w.boss()), w.recorded(w.as("measure")), w.recorded(w.boss())
	proved := map[string]string{}
	for _, n := range []string{number, refused, good} {
		proved[n] = must[string](t)(w.Prove(ctx, w.who["boss"], n))
	}
	list := must[string](t)(w.StatusList(ctx, w.who["audit"]))
	for n, text := range proved {
		if _, status := w.opened(text, list); status.State != proof.Standing {
			t.Errorf("%s at first: %+v", n, status)
		}
	}
	newer := must[*record.Record](t)(w.Correct(ctx, w.boss(), number, ringGiven(t), "misread")).Number
	w.sign("boss", refused, people.Declined)
	list = must[string](t)(w.StatusList(ctx, w.who["audit"]))
	for n, want := range map[string]proof.Status{number: {State: proof.Superseded, By: newer}, refused: {State: proof.Withdrawn}, good: {State: proof.Standing}} {
		_, status := w.opened(proved[n], list)
		if status.State != want.State || status.By != want.By {
			t.Errorf("%s: %+v, want %+v", n, status, want)
		}
	}
	o, status := w.opened(must[string](t)(w.Prove(ctx, w.who["boss"], number)), "")
	if status.State != proof.Superseded || o.Statement.SupersededBy != newer {
		t.Errorf("a proof of what was superseded already: %+v", status)
	}
	if o, _ := w.opened(must[string](t)(w.Prove(ctx, w.who["boss"], newer)), list); o.Statement.Supersedes != number {
		t.Errorf("the correction does not say what it corrects: %+v", o.Statement)
	}
}

// TestProofOfAReport names the report, and an amended report takes its place.
func TestProofOfAReport(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	number := w.reportable()
	first := must[*paper.Facts](t)(w.IssueReport(ctx, w.boss(), Issue{Record: number})).Number()
	text := must[string](t)(w.Prove(ctx, w.who["boss"], first))
	o, _ := w.opened(text, "")
	if o.Statement.Report != first || o.Statement.Number != number || !o.Statement.Approved {
		t.Errorf("%+v", o.Statement)
	}
	second := must[*paper.Facts](t)(w.IssueReport(ctx, w.boss(), Issue{Record: number, Reason: "condition was wrong"})).Number()
	if _, status := w.opened(text, must[string](t)(w.StatusList(ctx, w.who["boss"]))); status.State != proof.Superseded || status.By != second {
		t.Errorf("%+v", status)
	}
}

// TestProofsAfterTheKeyChanged: an old proof holds with the old key. Where that was lost, the list says so.
func TestProofsAfterTheKeyChanged(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	number := w.recorded(w.boss())
	first := must[string](t)(w.Prove(ctx, w.who["boss"], number))
	second := newKeyPair(t, w.Shop())
	w.ok(w.ChangeKey(ctx, w.boss(), second.private, second.public, false, "yearly"))
	text := must[string](t)(w.Prove(ctx, w.who["boss"], number))
	if o, _ := w.opened(text, ""); o.Key.String() != second.public {
		t.Errorf("signed with %s", o.Key)
	}
	list := must[string](t)(w.StatusList(ctx, w.who["boss"]))
	for _, p := range []string{first, text} {
		if _, status := w.opened(p, list); status.State != proof.Standing {
			t.Errorf("%+v", status)
		}
	}
	third := newKeyPair(t, w.Shop())
	w.ok(w.ChangeKey(ctx, w.boss(), third.private, third.public, true, "the invented laptop was stolen"))
	list = must[string](t)(w.StatusList(ctx, w.who["boss"]))
	if _, status := w.opened(text, list); status.State != proof.KeyGivenUp {
		t.Errorf("of the key that was lost: %+v", status)
	}
	if _, status := w.opened(first, list); status.State != proof.Standing {
		t.Errorf("of the key before it: %+v", status)
	}
}

// TestCredentialIsSigned makes a credential of the same record.
func TestCredentialIsSigned(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	jwt := must[string](t)(w.Credential(ctx, w.who["boss"], w.recorded(w.boss())))
	if strings.Count(jwt, ".") != 2 || !strings.HasPrefix(jwt, "eyJ") {
		t.Errorf("%.40s is no JWT", jwt)
	}
}
