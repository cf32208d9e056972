package desk

import (
	"path/filepath"
	"testing"
	"time"

	"wreath/internal/people"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
)

// TestRestoredTokensEnd ends a token after a backup, which must not bring it back.
func TestRestoredTokensEnd(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	shown, token, err := w.IssueToken(ctx, w.boss(), "label printer", []people.Role{people.Audit}, morning.Add(24*time.Hour))
	w.ok(err)
	must[*Who](t)(w.EnterProgram(ctx, shown))
	file := filepath.Join(t.TempDir(), "backup.wreath")
	must[BackupMade](t)(w.Backup(ctx, w.boss(), file))
	w.ok(w.EndToken(ctx, w.boss(), token.ID, "lost"))

	backup := must[*store.Store](t)(sqlite.Open(ctx, file, sqlite.Options{ReadOnly: true}))
	defer backup.Close()
	to := reopened(w, filepath.Join(t.TempDir(), "restored.wreath"))
	must[Restoration](t)(to.Restore(ctx, "boss", backup, nil, "disk died", false))
	_, err = to.EnterProgram(ctx, shown)
	refused(t, "a token that was ended after the backup", err)
	_, boss, err := to.SignIn(ctx, "boss", password, counterPlace)
	w.ok(err)
	for _, one := range must[Staff](t)(to.Staff(ctx, boss)).Tokens {
		if one.Ended == nil {
			t.Errorf("the token %q is shown as one that works", one.Name)
		}
	}
	verified(t, to.Desk)
}

// TestMoveToWhereItIs leaves everything as it was.
func TestMoveToWhereItIs(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	before := w.size()
	_, err := w.Move(ctx, w.boss(), openFile(t, w.path))
	saying(t, "to its own store", err, "in that store already")
	if w.size() != before {
		t.Error("an entry was made")
	}
	must[string](t)(w.EnterCustomer(ctx, w.boss(), somebody))
}
