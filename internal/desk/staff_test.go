package desk

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
	"wreath/internal/value"
)

const otherPassword = "nine paper boats on a quiet lake"

var firstOpening = Opening{Shop: Shop{Name: "Invented Shop", TimeZone: "UTC"}, Person: people.Person{ID: "ada", Name: "Ada Invented"}}

// empty is a desk before the shop was opened.
func empty(t testing.TB) *world {
	t.Helper()
	w := &world{t: t, path: t.TempDir() + "/shop.wreath", clock: &clock{at: morning}}
	private, public, err := ledger.NewKey("river-street")
	w.ok(err)
	w.Desk = sitAt(t, openFile(t, w.path), w.path, private, public, w.clock.now)
	return w
}

func TestSetUpCode(t *testing.T) {
	ctx := t.Context()
	t.Run("works once", func(t *testing.T) {
		w := empty(t)
		code := must[string](t)(w.SetUpCode(ctx))
		refused(t, "without a password", w.SetUp(ctx, code, firstOpening, ""))
		refused(t, "an easy password", w.SetUp(ctx, must[string](t)(w.SetUpCode(ctx)), firstOpening, "password"))
		code = must[string](t)(w.SetUpCode(ctx))
		w.ok(w.SetUp(ctx, code, firstOpening, password))
		saying(t, "a second time", w.SetUp(ctx, code, firstOpening, password), "used")
		_, err := w.SetUpCode(ctx)
		saying(t, "a code for an open shop", err, "open already")
		_, _, err = w.SignIn(ctx, "ada", password, counterPlace)
		w.ok(err)
		if w.size() != 2 {
			t.Errorf("%d entries, want the opening and the sign-in", w.size())
		}
	})
	t.Run("a newer one counts", func(t *testing.T) {
		w := empty(t)
		old := must[string](t)(w.SetUpCode(ctx))
		must[string](t)(w.SetUpCode(ctx))
		refused(t, "the older code", w.SetUp(ctx, old, firstOpening, password))
	})
	t.Run("ends in time", func(t *testing.T) {
		w := empty(t)
		code := must[string](t)(w.SetUpCode(ctx))
		w.clock.move(25 * time.Hour)
		refused(t, "a day later", w.SetUp(ctx, code, firstOpening, password))
	})
	t.Run("ends after five wrong ones", func(t *testing.T) {
		w := empty(t)
		other := must[string](t)(w.SetUpCode(ctx))
		code := must[string](t)(w.SetUpCode(ctx))
		for range 5 {
			refused(t, "a wrong code", w.SetUp(ctx, other, firstOpening, password))
		}
		refused(t, "the right one after five wrong ones", w.SetUp(ctx, code, firstOpening, password))
		if known, err := w.Known(ctx); err != nil || known {
			t.Errorf("the shop is open: %t, %v", known, err)
		}
	})
	t.Run("none was made", func(t *testing.T) {
		refused(t, "no code", empty(t).SetUp(ctx, strings.Repeat("0", 25), firstOpening, password))
	})
}

// TestFirstRun walks from a bench of one without a password to a shop where everybody signs in.
func TestFirstRun(t *testing.T) {
	ctx, w := t.Context(), empty(t)
	w.ok(w.OpenShop(ctx, firstOpening, ""))
	refused(t, "opened again", w.OpenShop(ctx, firstOpening, ""))
	_, err := w.Local(ctx, "198.51.100.4:3000")
	refused(t, "from another machine", err)
	ada := By{Who: must[*Who](t)(w.Local(ctx, people.Console))}
	r := must[*record.Record](t)(w.Record(ctx, ada, ringGiven(t)))
	if !slices.Contains(r.Marks, people.LocalMark) {
		t.Errorf("marks %v, want the one of local use", r.Marks)
	}
	shown := must[Recorded](t)(w.Sign(ctx, ada, r.Number, people.Approved))
	if !strings.Contains(shown.Signatures[0].Line(), people.LocalMark) || shown.Statement != people.OnePersonStatement || !shown.State.Complete {
		t.Errorf("%s; %q; %+v", shown.Signatures[0].Line(), shown.Statement, shown.State)
	}
	ben := people.Person{ID: "ben", Name: "Ben Invented", Roles: []people.Role{people.Measure, people.Sign}}
	_, err = w.AddPerson(ctx, ada, ben)
	saying(t, "a second person without a password", err, "password")
	w.ok(w.SetPassword(ctx, ada, "", password, counterPlace))
	ada = By{Who: must[*Who](t)(w.Local(ctx, people.Console))}
	code := must[string](t)(w.AddPerson(ctx, ada, ben))

	// From here on everybody signs in.
	_, err = w.EnterItem(ctx, ada, Item{Description: "plain band"})
	saying(t, "the session of before", err, "signs in")
	_, err = w.Local(ctx, people.Console)
	saying(t, "without signing in", err, "signs in")
	if about := must[Shop](t)(w.AboutShop(ctx)); !about.SignIn {
		t.Error("the shop does not say that everybody signs in")
	}
	w.ok(w.NewPassword(ctx, "ben", code, otherPassword, counterPlace))
	refused(t, "the code a second time", w.NewPassword(ctx, "ben", code, otherPassword, counterPlace))
	_, who, err := w.SignIn(ctx, "ben", otherPassword, counterPlace)
	w.ok(err)
	must[Item](t)(w.EnterItem(ctx, By{Who: who}, Item{Description: "plain band"}))
	_, who, err = w.SignIn(ctx, "ada", password, counterPlace)
	w.ok(err)
	w.ok(w.Confirm(ctx, who, password, "", counterPlace))
	r = must[*record.Record](t)(w.Record(ctx, By{Who: who}, ringGiven(t)))
	w.ok(w.EndPerson(ctx, By{Who: who}, "ben", "left"))
	if len(r.Marks) != 0 {
		t.Errorf("marks %v of who signed in", r.Marks)
	}
	// It never goes back, though one person is left.
	_, err = w.Local(ctx, people.Console)
	saying(t, "alone again", err, "signs in")
	verified(t, w.Desk)
}

func TestWrongTriesWait(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	try := func(id, secret string) error {
		_, _, err := w.SignIn(ctx, id, secret, counterPlace)
		return err
	}
	before := w.size()
	for range 5 {
		saying(t, "a wrong password", try("measure", otherPassword), "don't belong together")
	}
	if got := w.size() - before; got != 5 {
		t.Errorf("%d entries of refused sign-ins, want 5", got)
	}
	var wait *people.WaitError
	if err := try("measure", password); !errors.As(err, &wait) || wait.Wait != people.FirstWait {
		t.Fatalf("the right password after five wrong ones: %v, want a wait of %s", err, people.FirstWait)
	}
	if got := w.size() - before; got != 5 {
		t.Errorf("a try that must wait made an entry")
	}
	w.clock.move(people.FirstWait - time.Second)
	if err := try("measure", password); !errors.As(err, &wait) {
		t.Errorf("a second too early: %v", err)
	}
	w.clock.move(time.Second)
	w.ok(try("measure", password))
	// A name that is nobody's waits as well, and leaves no entry that could hold a mistyped password.
	before = w.size()
	saying(t, "a stranger", try("nobody-here", otherPassword), "don't belong together")
	if w.size() != before {
		t.Error("a name that is nobody's stands in the log")
	}
	refused(t, "who left", try("gone", password))
	// Somebody outside can't keep a person waiting at the till.
	w.clock.move(time.Hour)
	for range 6 {
		_, _, err := w.SignIn(ctx, "price", otherPassword, Place{Source: "203.0.113.9"})
		refused(t, "from outside", err)
	}
	_, _, err := w.SignIn(ctx, "price", password, Place{Source: "192.0.2.7", Device: w.device})
	w.ok(err)
}

// TestPasswords walks through changing, resetting and recovering one.
func TestPasswords(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	refused(t, "the wrong old one", w.SetPassword(ctx, w.as("measure"), otherPassword, otherPassword, counterPlace))
	refused(t, "one's own name", w.SetPassword(ctx, w.as("measure"), password, "measure measure measure", counterPlace))
	w.clock.move(time.Hour / 2)
	w.ok(w.SetPassword(ctx, w.as("measure"), password, otherPassword, counterPlace))
	_, err := w.Enter(ctx, w.token["measure"], counterPlace, true)
	refused(t, "the session of before", err)
	_, _, err = w.SignIn(ctx, "measure", password, counterPlace)
	refused(t, "the old password", err)
	_, who, err := w.SignIn(ctx, "measure", otherPassword, counterPlace)
	w.ok(err)

	codes := must[[]string](t)(w.RecoveryCodes(ctx, By{Who: who}))
	refused(t, "an invented code", w.NewPassword(ctx, "measure", "7K2M9-Q4XHT-00000-00000-00000", password, counterPlace))
	refused(t, "a code of somebody else", w.NewPassword(ctx, "sign", codes[0], password, counterPlace))
	w.ok(w.NewPassword(ctx, "measure", codes[0], password, counterPlace))
	refused(t, "the code a second time", w.NewPassword(ctx, "measure", codes[0], otherPassword, counterPlace))
	w.ok(w.NewPassword(ctx, "measure", codes[1], otherPassword, counterPlace))

	code := must[string](t)(w.ResetPassword(ctx, w.boss(), "measure"))
	w.ok(w.NewPassword(ctx, "measure", code, password, counterPlace))
	_, _, err = w.SignIn(ctx, "measure", password, counterPlace)
	w.ok(err)
	code = must[string](t)(w.ResetPassword(ctx, w.boss(), "measure"))
	w.clock.move(8 * 24 * time.Hour)
	refused(t, "a code of last week", w.NewPassword(ctx, "measure", code, otherPassword, counterPlace))
	_, who, err = w.SignIn(ctx, "boss", password, counterPlace)
	w.ok(err)
	_, err = w.ResetPassword(ctx, By{Who: who}, "gone")
	saying(t, "for who left", err, "has left")
	verified(t, w.Desk)
}

// counter is a device with two people who have PINs there.
func counter(t *testing.T) (w *world, at Place) {
	t.Helper()
	w = openWorld(t)
	at = Place{Source: "192.0.2.7", Device: w.device}
	for id, pin := range map[string]string{"second": "830274", "measure": "514907"} {
		_, who, err := w.SignIn(t.Context(), id, password, at)
		w.ok(err)
		w.ok(w.SetPIN(t.Context(), By{Who: who}, pin, at))
	}
	return w, at
}

func TestHandOver(t *testing.T) {
	ctx := t.Context()
	w, at := counter(t)
	token, who, err := w.HandOver(ctx, "second", "830274", at)
	w.ok(err)
	if e := lastEntry(t, w.Desk); e.Kind != "signed-in" || e.Person != "second" || !strings.Contains(string(e.Body), `"pin"`) {
		t.Errorf("entry %s by %s: %s", e.Kind, e.Person, e.Body)
	}
	must[Sheet](t)(w.OpenSheet(ctx, By{Who: who}, Begin{Document: []byte(claimDoc)}))
	_, _, err = w.HandOver(ctx, "second", "830274", counterPlace)
	refused(t, "away from the counter", err)
	_, _, err = w.HandOver(ctx, "sign", "830274", at)
	refused(t, "who has no PIN here", err)
	_, _, err = w.HandOver(ctx, "second", "514907", at)
	refused(t, "somebody else's PIN", err)
	_, _, err = w.HandOver(ctx, "second", "830274", Place{Source: "192.0.2.7", Device: "invented"})
	refused(t, "with an invented device", err)

	// The counter locks by itself; only its person opens it.
	w.clock.move(5*time.Minute + time.Second)
	locked, err := w.Enter(ctx, token, at, true)
	if !errors.Is(err, people.ErrLocked) {
		t.Fatalf("after five minutes: %v, want locked", err)
	}
	_, err = w.EnterItem(ctx, By{Who: locked}, Item{Description: "plain band"})
	if !errors.Is(err, people.ErrLocked) {
		t.Errorf("an act in a locked session: %v", err)
	}
	refused(t, "unlocked by another's PIN", unlocked(w.Unlock(ctx, locked, "", "514907", at)))
	anew := must[string](t)(w.Unlock(ctx, locked, "", "830274", at))
	_, err = w.Enter(ctx, token, at, true)
	refused(t, "the token that lay at the counter", err)
	token = anew
	back := must[*Who](t)(w.Enter(ctx, token, at, true))
	must[Sheet](t)(w.OpenSheet(ctx, By{Who: back}, Begin{Document: []byte(claimDoc)}))

	// Five wrong PINs, then the password is needed.
	for range people.PINTries {
		_, _, err = w.HandOver(ctx, "measure", "204857", at)
		refused(t, "a wrong PIN", err)
	}
	_, _, err = w.HandOver(ctx, "measure", "514907", at)
	saying(t, "the right one after five wrong ones", err, "off")
	_, _, err = w.SignIn(ctx, "measure", password, at)
	w.ok(err)
	_, _, err = w.HandOver(ctx, "measure", "514907", at)
	w.ok(err)

	// Who signs out for the day closes the PIN.
	w.ok(w.SignOut(ctx, back, true))
	_, _, err = w.HandOver(ctx, "second", "830274", at)
	saying(t, "after signing out for the day", err, "closed")
	_, err = w.Enter(ctx, token, at, true)
	refused(t, "the session of before", err)

	// A lost device opens nothing.
	staff := must[Staff](t)(w.Staff(ctx, w.who["boss"]))
	w.ok(w.EndDevice(ctx, w.boss(), staff.Devices[0].ID, "lost"))
	_, _, err = w.HandOver(ctx, "measure", "514907", at)
	refused(t, "at a lost device", err)
}

// TestColleaguesSession stands before a colleague's open session at the counter: nothing that speaks
// for the colleague later comes of it (S-51).
func TestColleaguesSession(t *testing.T) {
	ctx := t.Context()
	w, at := counter(t)
	number := w.recorded(w.as("measure"))
	token, _, err := w.SignIn(ctx, "second", password, at)
	w.ok(err)
	w.clock.move(3 * time.Minute)
	open := By{Who: must[*Who](t)(w.Enter(ctx, token, at, true))}
	_, err = w.Sign(ctx, open, number, people.Approved)
	saying(t, "a signature", err, "once more")
	refused(t, "proof by one's own PIN", w.Confirm(ctx, open.Who, "", "514907", at))
	_, err = w.Sign(ctx, open, number, people.Approved)
	saying(t, "a signature after it", err, "once more")
	refused(t, "a new PIN", w.SetPIN(ctx, open, "926153", at))
	_, err = w.RecoveryCodes(ctx, open)
	refused(t, "recovery codes", err)
	refused(t, "another password", w.SetPassword(ctx, open, "", otherPassword, at))
	if shown := must[Recorded](t)(w.Show(ctx, open.Who, number)); len(shown.Signatures) != 0 {
		t.Errorf("%d signatures", len(shown.Signatures))
	}
	// The person's own PIN signs, once, for two minutes.
	w.ok(w.Confirm(ctx, open.Who, "", "830274", at))
	w.clock.move(121 * time.Second)
	_, err = w.Sign(ctx, open, number, people.Approved)
	saying(t, "too late", err, "ago")
	w.ok(w.Confirm(ctx, open.Who, "", "830274", at))
	shown := must[Recorded](t)(w.Sign(ctx, open, number, people.Approved))
	if s := shown.Signatures[0]; s.Person != "second" || s.How != people.ByPIN {
		t.Errorf("signed by %s with %s", s.Person, s.How)
	}
	_, err = w.Sign(ctx, open, number, people.Reviewed)
	saying(t, "a second signature on one proof", err, "once more")
}

// TestLeaver holds that one act ends all that a person could come in by.
func TestLeaver(t *testing.T) {
	ctx := t.Context()
	w, at := counter(t)
	_, who, err := w.SignIn(ctx, "second", password, at)
	w.ok(err)
	codes := must[[]string](t)(w.RecoveryCodes(ctx, By{Who: who}))
	w.ok(w.ChangePerson(ctx, w.boss(), "measure", func(p people.Person) people.Person {
		return p.WithRoles([]people.Role{people.Measure, people.Administer})
	}, ""))
	token, who, err := w.SignIn(ctx, "measure", password, at)
	w.ok(err)
	w.ok(w.SetPIN(ctx, By{Who: who}, "514907", at))
	shown, _, err := w.IssueToken(ctx, By{Who: who}, "label printer", []people.Role{people.Measure}, w.clock.now().Add(time.Hour))
	w.ok(err)
	machine := must[*Who](t)(w.EnterProgram(ctx, shown))
	number := w.recorded(By{Who: who})
	reset := must[string](t)(w.ResetPassword(ctx, w.boss(), "second"))

	w.ok(w.EndPerson(ctx, w.boss(), "measure", "left"))
	w.ok(w.EndPerson(ctx, w.boss(), "second", "left"))
	_, err = w.Enter(ctx, token, at, true)
	refused(t, "the session", err)
	_, err = w.EnterItem(ctx, By{Who: who}, Item{Description: "plain band"})
	refused(t, "an act that was begun", err)
	_, err = w.EnterItem(ctx, By{Who: machine}, Item{Description: "plain band"})
	refused(t, "a program that is in", err)
	_, err = w.EnterProgram(ctx, shown)
	refused(t, "the token", err)
	_, _, err = w.SignIn(ctx, "measure", password, at)
	refused(t, "the password", err)
	_, _, err = w.HandOver(ctx, "measure", "514907", at)
	refused(t, "the PIN", err)
	refused(t, "a recovery code", w.NewPassword(ctx, "second", codes[0], otherPassword, counterPlace))
	refused(t, "a code for a new password", w.NewPassword(ctx, "second", reset, otherPassword, counterPlace))
	_, err = w.Second(ctx, "second", password, counterPlace)
	refused(t, "as a second person", err)
	_, err = w.AddPerson(ctx, w.boss(), people.Person{ID: "measure", Name: "Somebody Else", Roles: []people.Role{people.Measure}})
	saying(t, "the name for somebody else", err, "never given again")
	refused(t, "the last who administers", w.EndPerson(ctx, By{Who: w.who["administer"]}, "nobody-here", "left"))
	// What they did stays theirs.
	if r := must[Recorded](t)(w.Show(ctx, w.who["boss"], number)); r.Record.Made.Person != "measure" {
		t.Errorf("recorded by %s", r.Record.Made.Person)
	}
	w.ok(w.EndPerson(ctx, w.boss(), "administer", "left"))
	saying(t, "the last who administers", w.EndPerson(ctx, w.boss(), "boss", "left"), "nobody would be left")
	verified(t, w.Desk)
}

// TestRolesChangeAtOnce holds that a session does not keep roles that were taken away.
func TestRolesChangeAtOnce(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	// A change that forgets to end what was begun ends it all the same.
	w.ok(w.ChangePerson(ctx, w.boss(), "price", func(p people.Person) people.Person {
		p.Roles = []people.Role{people.Audit}
		return p
	}, "other work"))
	refused(t, "the session of before", w.SetPrices(ctx, w.as("price"), []value.Price{goldPrice("1")}))
	_, who, err := w.SignIn(ctx, "price", password, counterPlace)
	w.ok(err)
	refused(t, "the role of before", w.SetPrices(ctx, By{Who: who}, []value.Price{goldPrice("1")}))
}

func TestClockSetBack(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	for range 3 {
		w.clock.move(50 * time.Minute)
		must[*Who](t)(w.Enter(ctx, w.token["boss"], counterPlace, true))
		must[*Who](t)(w.Enter(ctx, w.token["measure"], counterPlace, true))
	}
	must[Item](t)(w.EnterItem(ctx, w.boss(), Item{Description: "plain band"}))
	first := w.size()
	w.clock.move(-people.ClockSlack + time.Second)
	must[*Who](t)(w.Enter(ctx, w.token["boss"], counterPlace, true)) // time servers correct by seconds
	w.clock.move(-time.Hour)
	_, err := w.Enter(ctx, w.token["boss"], counterPlace, true)
	saying(t, "a clock an hour back", err, "set back")
	for _, id := range []string{"boss", "measure"} {
		_, err = w.Enter(ctx, w.token[id], counterPlace, true)
		refused(t, "the session of "+id, err)
	}
	e := lastEntry(t, w.Desk)
	if e.Kind != "clock-set-back" || e.Clock != ledger.SetBack || w.size() != first+1 {
		t.Errorf("%d entries, the last %s, clock %q", w.size()-first, e.Kind, e.Clock)
	}
	_, who, err := w.SignIn(ctx, "boss", password, counterPlace)
	w.ok(err)
	must[Item](t)(w.EnterItem(ctx, By{Who: who}, Item{Description: "plain band"}))
	if e := lastEntry(t, w.Desk); e.Seq != w.size()-1 || e.Clock != "" || !e.Time.Equal(w.clock.now()) {
		t.Errorf("the order of the entries: %d of %d, clock %q at %s", e.Seq, w.size(), e.Clock, e.Time)
	}
	report := verified(t, w.Desk)
	if !slices.Equal(report.ClockSet, []int64{first}) {
		t.Errorf("clock set back at %v, want %d", report.ClockSet, first)
	}
}

func TestFourEyes(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	rule := people.FourEyes{Format: 1, From: "2026-11-26", Reason: "invented", AboveAmount: "100", Currency: "EUR", Findings: []people.FindingRule{{Outcome: "not met"}}}
	w.ok(w.SetFourEyes(ctx, w.boss(), rule))

	t.Run("below the amount one is enough", func(t *testing.T) {
		number := w.recorded(w.as("measure"))
		if shown := w.sign("sign", number, people.Approved); !shown.State.Complete || shown.Statement != "" {
			t.Errorf("%+v %q", shown.State, shown.Statement)
		}
	})
	t.Run("above it a second is needed", func(t *testing.T) {
		number := w.recorded(w.as("second"))
		must[*value.Worth](t)(w.Value(ctx, w.as("price"), Valuing{Records: []string{number}}))
		shown := w.sign("sign", number, people.Approved)
		if shown.State.Complete || len(shown.Missing) != 1 || !strings.Contains(shown.Missing[0], "above 100 EUR") {
			t.Fatalf("%+v %v", shown.State, shown.Missing)
		}
		for _, id := range []string{"sign", "second"} { // who approved, who measured
			w.ok(w.Confirm(ctx, w.who[id], password, "", counterPlace))
			_, err := w.Sign(ctx, w.as(id), number, people.Witnessed)
			refused(t, id+" as the second person", err)
		}
		if shown = w.sign("boss", number, people.Witnessed); !shown.State.Complete || len(shown.Missing) != 0 {
			t.Errorf("%+v %v", shown.State, shown.Missing)
		}
	})
	t.Run("a finding needs a second", func(t *testing.T) {
		given := ringGiven(t)
		given.Document = []byte(strings.Replace(string(given.Document), `"fineness": 750`, `"fineness": 916`, 1))
		r := must[*record.Record](t)(w.Record(ctx, w.as("measure"), given))
		if sum := must[*record.Summary](t)(r.Summary()); sum.Finding != "not met" {
			t.Fatalf("the finding is %s", sum.Finding)
		}
		found := must[[]store.Determination](t)(w.Find(ctx, w.who["audit"], store.Query{Finding: "not met"}))
		if len(found) != 1 || found[0].Number != r.Number {
			t.Errorf("found with the finding not met: %+v", found)
		}
		if shown := w.sign("sign", r.Number, people.Approved); shown.State.Complete || len(shown.Missing) != 1 {
			t.Errorf("%+v %v", shown.State, shown.Missing)
		}
	})
	t.Run("one person alone is said", func(t *testing.T) {
		number := w.recorded(w.as("second"))
		if shown := w.sign("second", number, people.Approved); shown.Statement != people.OnePersonStatement {
			t.Errorf("statement %q", shown.Statement)
		}
	})
	t.Run("a refused record can't be approved or valued", func(t *testing.T) {
		number := w.recorded(w.as("measure"))
		w.sign("sign", number, people.Declined)
		w.ok(w.Confirm(ctx, w.who["boss"], password, "", counterPlace))
		_, err := w.Sign(ctx, w.boss(), number, people.Approved)
		saying(t, "approved", err, "refused")
		_, err = w.Value(ctx, w.boss(), Valuing{Records: []string{number}})
		saying(t, "valued", err, "refused")
	})
	t.Run("the rule of the day counts", func(t *testing.T) {
		before := w.recorded(w.as("measure"))
		later := rule
		later.From, later.AboveAmount, later.Findings = "2026-11-27", "", []people.FindingRule{{Outcome: "met"}, {Outcome: "undecided"}, {Outcome: "not met"}}
		later.Currency = ""
		w.ok(w.SetFourEyes(ctx, w.boss(), later))
		w.clock.move(24 * time.Hour)
		for _, id := range []string{"measure", "sign"} {
			var err error
			_, w.who[id], err = w.SignIn(ctx, id, password, counterPlace)
			w.ok(err)
		}
		if shown := w.sign("sign", before, people.Approved); !shown.State.Complete {
			t.Errorf("yesterday's record by today's rule: %v", shown.Missing)
		}
		if shown := w.sign("sign", w.recorded(w.as("measure")), people.Approved); shown.State.Complete {
			t.Error("today's record by yesterday's rule")
		}
	})
	verified(t, w.Desk)
}

func TestPrograms(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	for _, r := range []people.Role{people.Sign, people.Administer} {
		_, _, err := w.IssueToken(ctx, w.boss(), "x", []people.Role{r}, w.clock.now().Add(time.Hour))
		saying(t, string(r), err, "a program cannot have")
	}
	shown, token, err := w.IssueToken(ctx, w.boss(), "bench", []people.Role{people.Measure, people.Price}, w.clock.now().Add(time.Hour))
	w.ok(err)
	machine := By{Who: must[*Who](t)(w.EnterProgram(ctx, shown))}
	number := w.recorded(machine)
	_, err = w.Sign(ctx, machine, number, people.Measured)
	saying(t, "a signature", err, "program")
	_, err = w.RecoveryCodes(ctx, machine)
	refused(t, "recovery codes of its owner", err)
	refused(t, "the password of its owner", w.SetPassword(ctx, machine, password, otherPassword, counterPlace))
	refused(t, "proof by its owner's password", w.Confirm(ctx, machine.Who, password, "", counterPlace))
	_, err = w.Backup(ctx, machine, t.TempDir()+"/b")
	refused(t, "a backup", err)
	_, err = w.EnterProgram(ctx, shown[:len(shown)-1]+"x")
	refused(t, "another token", err)

	w.ok(w.EndToken(ctx, w.boss(), token.ID, "no longer used"))
	_, err = w.EnterItem(ctx, machine, Item{Description: "plain band"})
	refused(t, "after it was ended", err)
	_, err = w.EnterProgram(ctx, shown)
	refused(t, "entering after it was ended", err)

	shown, _, err = w.IssueToken(ctx, w.boss(), "bench", []people.Role{people.Measure}, w.clock.now().Add(time.Hour))
	w.ok(err)
	w.clock.move(time.Hour)
	_, err = w.EnterProgram(ctx, shown)
	refused(t, "when it has expired", err)
	w.clock.move(-time.Minute)
	_, err = w.EnterProgram(ctx, shown)
	refused(t, "when the clock is set back then", err)

	// No secret stands in the log, nor in the store as it was shown.
	err = w.o.Store.Read(ctx, w.Shop(), func(tx *store.Tx) error {
		for e, err := range tx.Entries(0) {
			if err != nil {
				return err
			}
			if strings.Contains(string(e.Body), shown) || strings.Contains(string(e.Body), password) || strings.Contains(string(e.Body), "argon2") {
				t.Errorf("entry %d, %s, holds a secret", e.Seq, e.Kind)
			}
		}
		return nil
	})
	w.ok(err)
}

// unlocked is the error of an unlocking.
func unlocked(_ string, err error) error { return err }
