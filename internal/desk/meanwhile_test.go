package desk

import (
	"testing"
	"time"

	"wreath/internal/people"
)

// between is a second program at the store of a world, in which something happens between reading a
// session and writing it: just where the clock is asked.
func between(w *world, happens func()) *Desk {
	once := false
	return sitAt(w.t, openFile(w.t, w.path), w.path, w.o.Private, w.o.Public, func() time.Time {
		if !once {
			once = true
			happens()
		}
		return w.clock.now()
	})
}

func TestSessionEndsMeanwhile(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	w.clock.move(time.Minute) // so that the use of the session is written down
	other := between(w, func() { w.ok(w.SignOut(ctx, w.who["boss"], false)) })
	_, err := other.Enter(ctx, w.token["boss"], counterPlace, true)
	refused(t, "a session that ended meanwhile", err)
	_, err = w.Enter(ctx, w.token["boss"], counterPlace, true)
	refused(t, "a session that ended", err)
}

func TestProofIsUsedUpMeanwhile(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	first, second := w.recorded(w.boss()), w.recorded(w.boss())
	w.ok(w.Confirm(ctx, w.who["boss"], password, "", counterPlace))
	w.clock.move(time.Minute)
	other := between(w, func() { must[Recorded](t)(w.Sign(ctx, w.boss(), first, people.Approved)) })
	_, err := other.Enter(ctx, w.token["boss"], counterPlace, true)
	w.ok(err)
	_, err = w.Sign(ctx, w.boss(), second, people.Approved)
	refused(t, "a second signature by one proof", err)
}

// TestRecoveryWhenThePasswordIsOff lets the only one who administers back in after somebody from
// outside has tried too many passwords.
func TestRecoveryWhenThePasswordIsOff(t *testing.T) {
	ctx, w := t.Context(), empty(t)
	w.ok(w.OpenShop(ctx, Opening{Shop: Shop{Name: "Invented Shop", TimeZone: "UTC"}, Person: people.Person{ID: "ada", Name: "Ada Invented"}}, password))
	at := Place{Source: people.Console}
	_, ada, err := w.SignIn(ctx, "ada", password, at)
	w.ok(err)
	codes := must[[]string](t)(w.RecoveryCodes(ctx, By{Who: ada}))
	for range people.MaxElsewhere {
		_, _, err := w.SignIn(ctx, "ada", "not the password of anybody", Place{Source: "192.0.2.66"})
		refused(t, "a wrong password", err)
		w.clock.move(people.LongestWait)
	}
	_, _, err = w.SignIn(ctx, "ada", password, at)
	refused(t, "a password that is off", err)
	const fresh = "nine amber kettles on the shelf"
	refused(t, "a wrong code", w.NewPassword(ctx, "ada", "00000-00000-00000-00000-00000", fresh, at))
	w.ok(w.NewPassword(ctx, "ada", codes[0], fresh, at))
	_, _, err = w.SignIn(ctx, "ada", fresh, at)
	w.ok(err)
}
