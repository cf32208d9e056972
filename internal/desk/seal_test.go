package desk

import (
	"testing"

	"wreath/internal/people"
)

// TestWithoutTheSigningKey refuses what is to be sealed before anything is kept of it.
func TestWithoutTheSigningKey(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	number := w.recorded(w.boss())
	w.ok(w.Confirm(ctx, w.who["boss"], password, "", counterPlace))
	keyless := sitAt(t, openFile(t, w.path), w.path, "", w.o.Public, w.clock.now)
	before := w.all()
	_, err := keyless.Sign(ctx, w.boss(), number, people.Approved)
	saying(t, "a signature", err, "can't be sealed")
	_, _, err = keyless.Checkpoint(ctx, w.who["boss"], "")
	saying(t, "a checkpoint", err, "can't be sealed")
	_, err = keyless.Evidence(ctx, w.who["boss"], []string{number})
	saying(t, "evidence", err, "can't be sealed")
	_, err = keyless.Prove(ctx, w.who["boss"], number)
	saying(t, "a proof", err, "can't be sealed")
	_, err = keyless.StatusList(ctx, w.who["boss"])
	saying(t, "a status list", err, "can't be sealed")
	if w.all() != before {
		t.Error("something was kept")
	}
	must[Recorded](t)(w.Sign(ctx, w.boss(), number, people.Approved))
}
