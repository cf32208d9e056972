package desk

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
)

// reopened is a desk at a store in another file.
func reopened(w *world, path string) *world {
	w.t.Helper()
	other := &world{t: w.t, path: path, clock: w.clock, who: w.who, token: w.token, device: w.device}
	other.Desk = sitAt(w.t, openFile(w.t, path), path, w.o.Private, w.o.Public, w.clock.now)
	return other
}

func TestBackupWhileWriting(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	var done atomic.Bool
	var written atomic.Int64
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			for !done.Load() {
				if _, err := w.EnterItem(context.Background(), w.as("second"), Item{Description: "plain band"}); err != nil {
					t.Error(err)
					return
				}
				written.Add(1)
			}
		})
	}
	folder := t.TempDir()
	for _, name := range []string{"one", "two", "three"} {
		at := written.Load()
		for written.Load() < at+5 && !t.Failed() {
			time.Sleep(time.Millisecond)
		}
		made, err := w.Backup(ctx, w.boss(), filepath.Join(folder, name))
		if err != nil {
			done.Store(true)
			group.Wait()
			t.Fatal(err)
		}
		data, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil || int64(len(data)) != made.Bytes || made.Entries < at {
			t.Errorf("%s: %+v, %d bytes, %v", name, made, len(data), err)
		}
	}
	done.Store(true)
	group.Wait()
	verified(t, w.Desk)
	if _, err := w.Backup(ctx, w.boss(), filepath.Join(folder, "one")); err == nil || !strings.Contains(err.Error(), "never goes over a file") {
		t.Errorf("over a file: %v", err)
	}
	if left, err := filepath.Glob(filepath.Join(folder, "*")); err != nil || len(left) != 3 {
		t.Errorf("left in the folder: %v, %v", left, err)
	}
	// Each is a beginning of the log.
	for _, name := range []string{"one", "two", "three"} {
		copied := reopened(w, filepath.Join(folder, name))
		report := verified(t, copied.Desk)
		cp := ledger.Checkpoint{Shop: w.Shop(), Size: report.Entries, Root: report.Root}
		must[store.Report](t)(w.Verify(ctx, nil, []store.Expectation{{Name: name, Checkpoint: &cp}}, nil, nil))
	}
}

// TestDamagedBackup flips bytes of a backup as it is written. It is refused and taken away.
func TestDamagedBackup(t *testing.T) {
	ctx, w := t.Context(), stocked(t)
	refusals := 0
	whole := w.o.Snapshot
	probe := filepath.Join(t.TempDir(), "probe")
	w.ok(whole(ctx, probe))
	data := must[[]byte](t)(os.ReadFile(probe))
	places := []int{0, 40, len(data) / 2, len(data) - 100}
	for _, text := range []string{`"kind":"determination-recorded"`, `"fineness":750`, "plain yellow band", "D-000001"} {
		at := bytes.Index(data, []byte(text))
		if at < 0 {
			t.Fatalf("the backup doesn't hold %s", text)
		}
		places = append(places, at+len(text)/2)
	}
	for _, at := range places {
		w.o.Snapshot = func(ctx context.Context, to string) error {
			if err := whole(ctx, to); err != nil {
				return err
			}
			data, err := os.ReadFile(to)
			if err != nil {
				return err
			}
			data[at] ^= 0x20
			return os.WriteFile(to, data, 0o600)
		}
		to := filepath.Join(t.TempDir(), "backup.wreath")
		before := w.size()
		_, err := w.Backup(ctx, w.boss(), to)
		if err == nil { // the byte lies in no row
			if at >= 100 && at != len(data)/2 && at != len(data)-100 {
				t.Errorf("byte %d flipped in an entry, and the backup counts", at)
			}
			continue
		}
		refusals++
		if !strings.Contains(err.Error(), "is no good and was taken away") {
			t.Errorf("byte %d: %v", at, err)
		}
		if left, _ := os.ReadDir(filepath.Dir(to)); len(left) != 0 {
			t.Errorf("byte %d: %d files are left", at, len(left))
		}
		if w.size() != before {
			t.Errorf("byte %d: a bad backup has an entry", at)
		}
	}
	if refusals < 5 {
		t.Errorf("only %d of %d damaged backups were refused", refusals, len(places))
	}
	// A backup that lost its last entries, though it is whole by itself, is refused as well.
	early := filepath.Join(t.TempDir(), "early")
	w.o.Snapshot = whole
	w.ok(whole(ctx, early))
	w.item()
	w.o.Snapshot = func(_ context.Context, to string) error { return os.Rename(early, to) }
	if _, err := w.Backup(ctx, w.boss(), filepath.Join(t.TempDir(), "b")); err == nil || !strings.Contains(err.Error(), "the store had") {
		t.Errorf("an old copy: %v", err)
	}
}

func TestRestore(t *testing.T) {
	ctx, w := t.Context(), stocked(t)
	file := filepath.Join(t.TempDir(), "backup.wreath")
	made := must[BackupMade](t)(w.Backup(ctx, w.boss(), file))
	open := func(path string) *store.Store {
		s := must[*store.Store](t)(sqlite.Open(ctx, path, sqlite.Options{ReadOnly: true}))
		t.Cleanup(func() { s.Close() })
		return s
	}
	to := reopened(w, filepath.Join(t.TempDir(), "restored.wreath"))
	before := to.all()
	r := must[Restoration](t)(to.Restore(ctx, "boss", open(file), nil, "disk died", true))
	if r.Entries != made.Entries || r.Root != made.Root || to.all() != before {
		t.Errorf("a dry run: %+v of %+v; something was written: %t", r, made, to.all() != before)
	}
	r = must[Restoration](t)(to.Restore(ctx, "boss", open(file), nil, "disk died", false))
	if to.size() != made.Entries+1 || r.Root != made.Root {
		t.Errorf("restored %+v of %+v, %d entries", r, made, to.size())
	}
	verified(t, to.Desk)
	_, boss, err := to.SignIn(ctx, "boss", password, counterPlace)
	w.ok(err)
	if again := must[*record.Repeat](t)(to.Again(ctx, boss, "D-000001")); !again.Same {
		t.Errorf("a restored record: %s", again.Sentence)
	}
	if next := must[*record.Record](t)(to.Record(ctx, By{Who: boss}, ringGiven(t))); next.Number != "D-000004" {
		t.Errorf("the next number is %s", next.Number)
	}

	data := must[[]byte](t)(os.ReadFile(file))
	at := bytes.Index(data, []byte(`"fineness":750`))
	data[at+11] = '6'
	bad := filepath.Join(t.TempDir(), "bad.wreath")
	w.ok(os.WriteFile(bad, data, 0o600))
	fresh := reopened(w, filepath.Join(t.TempDir(), "fresh.wreath"))
	before = fresh.all()
	if _, err := fresh.Restore(ctx, "boss", open(bad), nil, "disk died", false); !errors.As(err, new(*ledger.Broken)) || !strings.Contains(err.Error(), "nothing was changed") || fresh.all() != before {
		t.Errorf("a damaged backup: %v; something was written: %t", err, fresh.all() != before)
	}
}

// TestMove moves the log to PostgreSQL and back. The root stays, and the store that was left takes
// nothing more.
func TestMove(t *testing.T) {
	ctx, w := t.Context(), stocked(t)
	w.customer()
	first := verified(t, w.Desk)
	server := onPostgres(t)
	by := w.boss()
	by.Key = "the move"
	m := must[Moved](t)(w.Move(ctx, by, server))
	if m.Root != first.Root || m.Entries != first.Entries || m.To != "postgres" {
		t.Errorf("moved %+v, want root %v of %d", m, first.Root, first.Entries)
	}
	if again := must[Moved](t)(w.Move(ctx, by, server)); again != m {
		t.Errorf("sent again: %+v", again)
	}
	there := &world{t: t, clock: w.clock, who: w.who, token: w.token}
	there.Desk = sitAt(t, server, "", w.o.Private, w.o.Public, w.clock.now)
	if e := lastEntry(t, there.Desk); e.Kind != "arrived" || e.Seq != first.Entries {
		t.Errorf("the last entry there is %d, %s", e.Seq, e.Kind)
	}
	verified(t, there.Desk)

	w.ok(w.o.Store.Read(ctx, w.Shop(), func(tx *store.Tx) error {
		for _, kind := range []string{secretKey, secretSealed} {
			left, err := tx.Secrets(kind)
			if err != nil {
				return err
			}
			if len(left) > 0 {
				t.Errorf("%s of %v is still at the old store", kind, left)
			}
		}
		return nil
	}))
	before := w.all()
	for what, act := range map[string]func() error{
		"item":         func() error { _, err := w.EnterItem(ctx, w.boss(), Item{Description: "plain band"}); return err },
		"record":       func() error { _, err := w.Record(ctx, w.boss(), ringGiven(t)); return err },
		"password":     func() error { return w.NewPassword(ctx, "measure", "", otherPassword, counterPlace) },
		"backup":       func() error { _, err := w.Backup(ctx, w.boss(), filepath.Join(t.TempDir(), "b")); return err },
		"another move": func() error { _, err := w.Move(ctx, w.boss(), onPostgres(t)); return err },
	} {
		if err := act(); err == nil {
			t.Errorf("%s at the old store", what)
		} else {
			refused(t, what, err)
		}
	}
	if w.all() != before {
		t.Error("the old store was changed")
	}
	if _, _, err := w.SignIn(ctx, "boss", password, counterPlace); err == nil || !strings.Contains(err.Error(), "was moved") {
		t.Errorf("a sign-in at the old store: %v", err)
	}
	// It can still be read.
	must[Recorded](t)(w.Show(ctx, w.who["boss"], "D-000001"))

	must[*record.Record](t)(there.Record(ctx, there.boss(), ringGiven(t)))
	second := verified(t, there.Desk)
	path := filepath.Join(t.TempDir(), "back.wreath")
	back := reopened(w, path)
	m = must[Moved](t)(there.Move(ctx, there.boss(), back.o.Store))
	if m.Root != second.Root || m.To != "sqlite" {
		t.Errorf("moved back %+v, want root %v", m, second.Root)
	}
	verified(t, back.Desk)
	back.sign("sign", "D-000003", people.Approved)
	_, err := there.EnterItem(ctx, there.boss(), Item{Description: "plain band"})
	saying(t, "an act at the server that was left", err, "was moved")
	_, err = w.Move(ctx, w.boss(), back.o.Store)
	refused(t, "a move over a log", err)
	must[store.Report](t)(back.Verify(ctx, nil, []store.Expectation{
		{Name: "before the first move", Checkpoint: &ledger.Checkpoint{Shop: w.Shop(), Size: first.Entries, Root: first.Root}},
		{Name: "before the second", Checkpoint: &ledger.Checkpoint{Shop: w.Shop(), Size: second.Entries, Root: second.Root}},
	}, nil, nil))
}

// TestEvidence hands out a record that was corrected: whoever reads it sees that something took its
// place.
func TestEvidence(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	first := w.recorded(w.as("measure"))
	w.sign("sign", first, people.Approved)
	second := must[*record.Record](t)(w.Correct(ctx, w.as("sign"), first, ringGiven(t), "wrong item"))
	third := must[*record.Record](t)(w.Correct(ctx, w.as("sign"), second.Number, ringGiven(t), "wrong again"))
	w.recorded(w.as("measure"))
	before := w.size()
	bundle := must[*ledger.Bundle](t)(w.Evidence(ctx, w.who["audit"], []string{first}))
	if w.size() != before {
		t.Error("evidence made an entry")
	}
	bundle = must[*ledger.Bundle](t)(ledger.ReadBundle([]byte(replayed(t, bundle))))
	cp, entries, err := bundle.Verify(w.o.Public)
	w.ok(err)
	if cp.Size != before {
		t.Errorf("the checkpoint covers %d of %d entries", cp.Size, before)
	}
	numbers, kinds := "", ""
	for _, e := range entries {
		kinds += " " + e.Kind
		if e.Kind == "determination-recorded" {
			numbers += " " + must[*record.Record](t)(record.Decode(e.Body)).Number
		}
	}
	if numbers != " "+first+" "+second.Number+" "+third.Number || strings.Count(kinds, "signed") != 1 {
		t.Errorf("the bundle holds %s:%s", numbers, kinds)
	}
	_, other, err := ledger.NewKey("river-street")
	w.ok(err)
	if _, _, err := bundle.Verify(other); err == nil {
		t.Error("the bundle verifies by another key")
	}
	_, err = w.Evidence(ctx, w.who["audit"], []string{first, "D-999999"})
	refused(t, "evidence of what nobody knows", err)
}

// TestWitness keeps the checkpoints of a branch and finds out one whose log was rewritten.
func TestWitness(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	private, public, err := ledger.NewKey("hill-street")
	w.ok(err)
	note := func(size int64, root byte) string {
		cp := ledger.Checkpoint{Shop: "hill-street", Size: size, Time: morning}
		cp.Root[0] = root
		return must[string](t)(cp.Sign(private))
	}
	for size := range int64(3) {
		must[ledger.Checkpoint](t)(w.Witness(ctx, w.boss(), note(size+5, 1), public))
	}
	if cp := must[ledger.Checkpoint](t)(w.Witnessed(ctx, w.who["audit"], "hill-street")); cp.Size != 7 {
		t.Errorf("the newest has %d entries, want 7", cp.Size)
	}
	var broken *ledger.Broken
	if _, err := w.Witness(ctx, w.boss(), note(6, 2), public); !errors.As(err, &broken) || !strings.Contains(err.Error(), "rewritten") {
		t.Errorf("a log that was rewritten: %v", err)
	}
	signed, _, err := w.Checkpoint(ctx, w.who["boss"], "printed")
	w.ok(err)
	_, err = w.Witness(ctx, w.boss(), signed, w.o.Public)
	saying(t, "one's own", err, "this shop itself")
	otherPrivate, otherPublic, err := ledger.NewKey("hill-street")
	w.ok(err)
	forged := must[string](t)(ledger.Checkpoint{Shop: "hill-street", Size: 9, Time: morning}.Sign(otherPrivate))
	_, err = w.Witness(ctx, w.boss(), forged, otherPublic)
	saying(t, "another key", err, "another key")
	if _, err := w.Witness(ctx, w.boss(), forged, public); err == nil {
		t.Error("a forged one was kept")
	}
}

// TestMoveGoesOn cuts a move off at its two weak points. Meanwhile neither store takes acts that the other
// would not know, and the second try ends it.
func TestMoveGoesOn(t *testing.T) {
	ctx, w := t.Context(), stocked(t)
	before := verified(t, w.Desk)
	path := filepath.Join(t.TempDir(), "there.wreath")
	there := reopened(w, path)
	must[store.Report](t)(w.copyTo(ctx, there.Desk, false)) // and then the power failed
	_, err := there.EnterItem(ctx, there.boss(), Item{Description: "plain band"})
	saying(t, "an act before the log is closed where it comes from", err, "was not finished")

	e := must[ledger.Entry](t)(w.closeFor(ctx, w.boss(), there.Desk)) // and again
	_, err = w.EnterItem(ctx, w.boss(), Item{Description: "plain band"})
	saying(t, "an act at the store that was closed", err, "was moved")
	_, err = there.EnterItem(ctx, there.boss(), Item{Description: "plain band"})
	saying(t, "an act before it arrived", err, "was not finished")

	m := must[Moved](t)(w.Move(ctx, w.boss(), there.o.Store))
	if m.Root != before.Root || lastEntry(t, w.Desk).Seq != e.Seq || lastEntry(t, there.Desk).Kind != "arrived" {
		t.Errorf("moved %+v; the last entry there is %s", m, lastEntry(t, there.Desk).Kind)
	}
	must[Item](t)(there.EnterItem(ctx, there.boss(), Item{Description: "plain band"}))
	verified(t, there.Desk)
}
