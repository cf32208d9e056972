package desk

import (
	"errors"
	"strings"
	"testing"

	"wreath/internal/people"
)

// TestResetFromConsole locks out who administers and lets them back in without a session.
func TestResetFromConsole(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	stranger := Place{Source: "198.51.100.4"}
	for range people.MaxElsewhere {
		_, _, err := w.SignIn(ctx, "administer", otherPassword, stranger)
		refused(t, "a wrong password", err)
		w.clock.move(people.LongestWait)
	}
	_, _, err := w.SignIn(ctx, "administer", password, Place{Source: people.Console})
	var off *people.OffError
	if !errors.As(err, &off) || !strings.Contains(off.Hint, "from the console") {
		t.Fatalf("the right password after %d wrong ones: %v", people.MaxElsewhere, err)
	}

	before := w.all()
	for id, want := range map[string]string{"nobody-here": "nobody-here", "gone": "left", "measure": "administer"} {
		code, err := w.ResetFromConsole(ctx, id)
		saying(t, id, err, want)
		if code != "" || hintOf(err) == "" {
			t.Errorf("%s: code %q, hint %q", id, code, hintOf(err))
		}
	}
	if w.all() != before {
		t.Error("a refused reset changed the store")
	}

	size := w.size()
	code := must[string](t)(w.ResetFromConsole(ctx, "administer"))
	if e := lastEntry(t, w.Desk); w.size() != size+1 || e.Kind != "password-reset" || e.Person != people.Console || e.Subject != "administer" || !strings.Contains(string(e.Body), `{"from":"console"}`) {
		t.Errorf("%d entries, the last %s of %s by %q: %s", w.size()-size, e.Kind, e.Subject, e.Person, e.Body)
	}
	// The tries are forgotten at once, so a password that is remembered after all works.
	_, _, err = w.SignIn(ctx, "administer", password, Place{Source: people.Console})
	w.ok(err)
	w.ok(w.NewPassword(ctx, "administer", code, otherPassword, counterPlace))
	_, _, err = w.SignIn(ctx, "administer", password, counterPlace)
	refused(t, "the old password", err)
	_, _, err = w.SignIn(ctx, "administer", otherPassword, counterPlace)
	w.ok(err)
	refused(t, "the code a second time", w.NewPassword(ctx, "administer", code, password, counterPlace))
	verified(t, w.Desk)
}
