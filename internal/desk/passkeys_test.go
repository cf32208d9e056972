package desk

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"wreath/internal/people"
	"wreath/internal/people/passkeytest"
	"wreath/internal/store"
)

// Sites, invented.
var (
	hereSite = people.Site{Domain: "localhost", Origin: "http://localhost:4917", Shop: "Invented Shop"}
	nameSite = people.Site{Domain: "bench.example", Origin: "https://bench.example:4917", Shop: "Invented Shop"}
)

func from(s people.Site) passkeytest.Answer { return passkeytest.Answer{Origin: s.Origin} }

// passkey makes a passkey for somebody in a session.
func (w *world) passkey(who *Who, site people.Site) (*passkeytest.Key, people.Passkey) {
	w.t.Helper()
	w.ok(w.Confirm(w.t.Context(), who, password, "", counterPlace))
	ticket, options, err := w.AskNewPasskey(w.t.Context(), who, site)
	w.ok(err)
	key, answer := passkeytest.Make(options, from(site))
	k, err := w.AddPasskey(w.t.Context(), By{Who: who}, ticket, "phone", answer)
	w.ok(err)
	return key, k
}

// byPasskey signs in with a passkey, from another machine.
func (w *world) byPasskey(key *passkeytest.Key, site people.Site, a passkeytest.Answer) (token string, who *Who, err error) {
	w.t.Helper()
	ticket, options, err := w.AskPasskey(w.t.Context(), nil, site, "")
	w.ok(err)
	return w.SignInByPasskey(w.t.Context(), ticket, key.Give(options, a), counterPlace)
}

// TestPasskeyDay makes a passkey, signs in, signs a record and unlocks with it, and removes it.
func TestPasskeyDay(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	sign := w.who["sign"]
	w.clock.move(3 * time.Minute)
	_, _, err := w.AskNewPasskey(ctx, sign, nameSite)
	saying(t, "without the password once more", err, "once more")
	key, k := w.passkey(sign, nameSite)
	if e := lastEntry(t, w.Desk); e.Kind != "passkey-added" || e.Subject != "sign" || e.Person != "sign" {
		t.Errorf("%+v", e.Head)
	}
	rows := must[[]PasskeyRow](t)(w.Passkeys(ctx, sign))
	if len(rows) != 1 || rows[0].Name != "phone" || rows[0].Last != nil || rows[0].Domain != "bench.example" {
		t.Errorf("%+v", rows)
	}
	w.clock.move(time.Hour / 2)
	token, who, err := w.byPasskey(key, nameSite, from(nameSite))
	w.ok(err)
	if e := lastEntry(t, w.Desk); e.Kind != "signed-in" || e.Person != "sign" || !strings.Contains(string(e.Body), `"passkey","passkey":"`+k.ID) {
		t.Errorf("%+v %s", e.Head, e.Body)
	}
	rows = must[[]PasskeyRow](t)(w.Passkeys(ctx, who))
	if rows[0].Last == nil || !rows[0].Last.Equal(w.clock.now()) {
		t.Errorf("last used %v", rows[0].Last)
	}
	if s := must[[]Sitting](t)(w.Sessions(ctx, who)); s[0].How != people.ByPasskey {
		t.Errorf("%+v", s[0])
	}

	// A signature needs it again.
	number := w.recorded(w.as("measure"))
	_, err = w.Sign(ctx, By{Who: who}, number, people.Approved)
	saying(t, "a signature without a proof", err, "once more")
	ticket, options, err := w.AskPasskey(ctx, who, nameSite, "")
	w.ok(err)
	w.ok(w.ConfirmByPasskey(ctx, who, ticket, key.Give(options, from(nameSite)), counterPlace))
	if s := must[Recorded](t)(w.Sign(ctx, By{Who: who}, number, people.Approved)).Signatures[0]; s.How != people.ByPasskey || strings.Contains(s.Line(), people.LocalMark) {
		t.Errorf("%+v: %s", s, s.Line())
	}

	// Locked and unlocked, under another token.
	w.ok(w.Lock(ctx, who))
	locked, err := w.Enter(ctx, token, counterPlace, true)
	if !errors.Is(err, people.ErrLocked) {
		t.Fatal(err)
	}
	ticket, options, err = w.AskPasskey(ctx, locked, nameSite, "")
	w.ok(err)
	anew := must[string](t)(w.UnlockByPasskey(ctx, locked, ticket, key.Give(options, from(nameSite)), counterPlace))
	_, err = w.Enter(ctx, token, counterPlace, true)
	refused(t, "the token of before", err)
	who = must[*Who](t)(w.Enter(ctx, anew, counterPlace, true))

	// It does not remove itself; the password or another one does.
	saying(t, "removed by itself", w.RemovePasskey(ctx, By{Who: who}, k.ID), "another passkey")
	_, _, err = w.AskPasskey(ctx, who, nameSite, k.ID)
	saying(t, "but for the only one", err, "no passkey")
	other, _ := w.passkey(who, nameSite)
	ticket, options, err = w.AskPasskey(ctx, who, nameSite, k.ID)
	w.ok(err)
	w.ok(w.ConfirmByPasskey(ctx, who, ticket, other.Give(options, from(nameSite)), counterPlace))
	refused(t, "somebody else's", w.RemovePasskey(ctx, By{Who: w.who["boss"]}, k.ID))
	w.ok(w.RemovePasskey(ctx, By{Who: who}, k.ID))
	_, _, err = w.byPasskey(key, nameSite, from(nameSite))
	saying(t, "removed", err, "not known")
	_, _, err = w.byPasskey(other, nameSite, from(nameSite))
	w.ok(err)
	verified(t, w.Desk)
	before := w.all()
	w.ok(w.Rebuild(ctx))
	if w.all() != before {
		t.Error("the views computed anew are others")
	}
}

// TestPasskeysRefused is about what the desk itself holds: questions, people and counts.
func TestPasskeysRefused(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	key, k := w.passkey(w.who["measure"], nameSite)
	give := func(options []byte) []byte { return key.Give(options, from(nameSite)) }
	size := w.size()

	ticket, options, err := w.AskPasskey(ctx, nil, nameSite, "")
	w.ok(err)
	answer := give(options)
	_, _, err = w.SignInByPasskey(ctx, "another ticket", answer, counterPlace)
	saying(t, "another ticket", err, "not asked for here")
	_, _, err = w.SignInByPasskey(ctx, ticket, answer, counterPlace)
	w.ok(err)
	size++
	_, _, err = w.SignInByPasskey(ctx, ticket, answer, counterPlace)
	saying(t, "the answer once more", err, "used already")
	ticket, _, err = w.AskPasskey(ctx, nil, nameSite, "")
	w.ok(err)
	_, _, err = w.SignInByPasskey(ctx, ticket, answer, counterPlace)
	saying(t, "an answer to an earlier question", err, "not accepted")
	ticket, options, err = w.AskPasskey(ctx, nil, nameSite, "")
	w.ok(err)
	w.clock.move(people.PasskeyWait)
	_, _, err = w.SignInByPasskey(ctx, ticket, give(options), counterPlace)
	saying(t, "too late", err, "too late")
	_, _, err = w.byPasskey(key, nameSite, passkeytest.Answer{Origin: "https://false.example"})
	saying(t, "another site", err, "not accepted")
	_, _, err = w.byPasskey(key, nameSite, passkeytest.Answer{Origin: nameSite.Origin, Unverified: true})
	saying(t, "not verified", err, "not accepted")

	// A question of one session is of no use in another, nor to sign in.
	measure, boss := w.who["measure"], w.who["boss"]
	ticket, options, err = w.AskPasskey(ctx, measure, nameSite, "")
	w.ok(err)
	_, _, err = w.SignInByPasskey(ctx, ticket, give(options), counterPlace)
	saying(t, "asked in a session, to sign in", err, "not asked for here")
	saying(t, "asked in another session", w.ConfirmByPasskey(ctx, boss, ticket, give(options), counterPlace), "not asked for here")
	w.passkey(boss, nameSite)
	size++
	ticket, options, err = w.AskPasskey(ctx, boss, nameSite, "")
	w.ok(err)
	saying(t, "somebody else's passkey", w.ConfirmByPasskey(ctx, boss, ticket, give(options), counterPlace), "not accepted")
	ticket, options, err = w.AskPasskey(ctx, nil, nameSite, "")
	w.ok(err)
	saying(t, "asked without a session", w.ConfirmByPasskey(ctx, measure, ticket, give(options), counterPlace), "not asked for here")
	_, _, err = w.AskNewPasskey(ctx, program(w), nameSite)
	refused(t, "a program", err)
	size++ // of the token
	if got := w.size(); got != size {
		t.Errorf("%d entries, want %d: refusals without a proof make none", got, size)
	}

	// The same credential can't be enrolled twice, whoever does it.
	w.ok(w.Confirm(ctx, boss, password, "", counterPlace))
	ticket, options, err = w.AskNewPasskey(ctx, boss, nameSite)
	w.ok(err)
	made, answer := passkeytest.Make(options, from(nameSite))
	must[people.Passkey](t)(w.AddPasskey(ctx, By{Who: boss}, ticket, "key ring", answer))
	_, err = w.AddPasskey(ctx, By{Who: boss}, ticket, "key ring", answer)
	saying(t, "made twice", err, "used already")
	_ = made

	// A copy counts from where it was taken.
	copied := *key
	_, _, err = w.byPasskey(key, nameSite, from(nameSite))
	w.ok(err)
	_, _, err = w.byPasskey(key, nameSite, from(nameSite))
	w.ok(err)
	_, _, err = w.byPasskey(&copied, nameSite, from(nameSite))
	saying(t, "a copy", err, "copy")
	if e := lastEntry(t, w.Desk); e.Kind != "sign-in-refused" || e.Subject != "measure" || !strings.Contains(string(e.Body), k.ID) {
		t.Errorf("the log tells nothing of the copy: %+v %s", e.Head, e.Body)
	}

	w.ok(w.EndPerson(ctx, w.boss(), "measure", "left"))
	_, _, err = w.byPasskey(key, nameSite, from(nameSite))
	refused(t, "who left", err)
	if rows := must[[]PasskeyRow](t)(w.PasskeysFromConsole(ctx, "measure")); len(rows) != 0 {
		t.Errorf("passkeys of who left: %+v", rows)
	}
	verified(t, w.Desk)
}

// TestQuestionsTakeNoMemory asks for ever.
func TestQuestionsTakeNoMemory(t *testing.T) {
	var q unanswered
	for i := range mostQuestions + 50 {
		q.keep(fmt.Sprint(i), people.Question{Until: morning.Add(time.Duration(i) * time.Hour)}, morning.Add(10*time.Hour))
	}
	if len(q.open) > mostQuestions {
		t.Errorf("%d questions are kept", len(q.open))
	}
	if _, err := q.take(fmt.Sprint(mostQuestions+49), ""); err != nil {
		t.Errorf("the latest is gone: %v", err)
	}
}

// TestTwoFactors signs in from elsewhere, at the machine itself and at a counter.
func TestTwoFactors(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	in := func(id, code string, at Place) error {
		_, _, err := w.SignInWith(ctx, id, password, code, at)
		return err
	}
	here := Place{Source: "127.0.0.1"}
	w.ok(in("sign", "", counterPlace))
	_, k := w.passkey(w.who["sign"], nameSite)
	saying(t, "the password alone", in("sign", "", counterPlace), "not enough")
	w.ok(in("sign", "", here))
	w.ok(in("sign", "", Place{Source: "192.0.2.7", Device: w.device}))
	w.ok(w.Confirm(ctx, w.who["sign"], password, "", counterPlace))
	codes := must[[]string](t)(w.RecoveryCodes(ctx, By{Who: w.who["sign"]}))
	saying(t, "another's code", in("sign", codes[0][:len(codes[0])-1]+"?", counterPlace), "not used in codes")
	w.ok(in("sign", codes[0], counterPlace))
	saying(t, "a code twice", in("sign", codes[0], counterPlace), "used or has expired")
	one := must[string](t)(w.ResetPassword(ctx, w.boss(), "sign"))
	w.ok(in("sign", one, counterPlace))
	saying(t, "a one-time code twice", in("sign", one, counterPlace), "used or has expired")
	// A wrong password uses up no code.
	_, _, err := w.SignInWith(ctx, "sign", otherPassword, codes[1], counterPlace)
	refused(t, "a wrong password with a code", err)
	w.ok(in("sign", codes[1], counterPlace))
	w.ok(w.RemovePasskeyFromConsole(ctx, "sign", k.ID, "phone lost"))
	if e := lastEntry(t, w.Desk); e.Kind != "passkey-removed" || e.Person != people.Console {
		t.Errorf("%+v", e.Head)
	}
	w.ok(in("sign", "", counterPlace))

	// The strict rule of a shop.
	w.ok(w.SetTwoFactors(ctx, w.boss(), true, "invented"))
	saying(t, "who signs", in("sign", "", counterPlace), "not enough")
	saying(t, "who administers", in("administer", "", counterPlace), "not enough")
	w.ok(in("measure", "", counterPlace))
	w.ok(in("administer", "", here))
	w.ok(w.SetTwoFactors(ctx, w.boss(), false, ""))
	w.ok(in("administer", "", counterPlace))
	verified(t, w.Desk)
}

// TestNewPasswordTellsNobody asks with every kind of name and code; the answers differ in nothing.
func TestNewPasswordTellsNobody(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	stray := must[string](t)(w.ResetPassword(ctx, w.boss(), "measure"))
	w.ok(w.NewPassword(ctx, "measure", stray, otherPassword, counterPlace)) // a real code, used up
	must[string](t)(w.ResetPassword(ctx, w.boss(), "price"))
	w.ok(w.Confirm(ctx, w.who["audit"], password, "", counterPlace))
	must[[]string](t)(w.RecoveryCodes(ctx, By{Who: w.who["audit"]}))
	answers, sources := map[string][]string{}, 0
	for _, id := range []string{"measure", "price", "audit", "sign", "gone", "nobody-here", "", "set-up"} {
		for range 8 {
			err := w.NewPassword(ctx, id, stray, "nine paper boats on a quiet lake", Place{Source: fmt.Sprintf("203.0.113.%d", sources)})
			sources++
			text := fmt.Sprintf("%T %v", err, err)
			answers[text] = append(answers[text], id)
		}
		weak := w.NewPassword(ctx, id, stray, "price invented price", Place{Source: "203.0.113.77"})
		if id == "price" && weak == nil {
			t.Error("a weak password is taken")
		}
	}
	const names, free = 8, people.FreeTries + 1 // the wait begins after the fifth
	var wrong, wait int
	for text, ids := range answers {
		switch {
		case strings.Contains(text, "don't belong together"):
			wrong = len(ids)
		case strings.Contains(text, "too many wrong tries"):
			wait += len(ids)
		default:
			t.Errorf("%s: %v", text, ids)
		}
	}
	if wrong != names*free || wrong+wait != names*8 {
		t.Errorf("%d times wrong, %d times to wait: %v", wrong, wait, answers)
	}
}

// TestTokensEndWithTheirOwner looks at the list after the password, the roles and the person ended them.
func TestTokensEndWithTheirOwner(t *testing.T) {
	ctx := t.Context()
	for name, end := range map[string]func(w *world) error{
		"password": func(w *world) error { return w.SetPassword(ctx, w.as("second"), password, otherPassword, counterPlace) },
		"roles": func(w *world) error {
			return w.ChangePerson(ctx, w.boss(), "second", func(p people.Person) people.Person { return p.WithRoles([]people.Role{people.Sign}) }, "less")
		},
		"leaving": func(w *world) error { return w.EndPerson(ctx, w.boss(), "second", "left") },
	} {
		w := openWorld(t)
		w.ok(w.ChangePerson(ctx, w.boss(), "second", func(p people.Person) people.Person {
			return p.WithRoles([]people.Role{people.Measure, people.Administer})
		}, "more"))
		_, who, err := w.SignIn(ctx, "second", password, counterPlace)
		w.ok(err)
		w.who["second"] = who
		_, token, err := w.IssueToken(ctx, w.as("second"), "label printer", []people.Role{people.Measure}, w.clock.now().Add(time.Hour))
		w.ok(err)
		w.clock.move(time.Minute)
		w.ok(end(w))
		for _, listed := range must[Staff](t)(w.Staff(ctx, w.who["boss"])).Tokens {
			if listed.ID == token.ID && (listed.Ended == nil || !listed.Ended.Equal(w.clock.now())) {
				t.Errorf("%s: the token is listed as ended %v", name, listed.Ended)
			}
		}
		before := viewsOf(t, w)
		w.ok(w.Rebuild(ctx))
		if !bytes.Equal(before, viewsOf(t, w)) {
			t.Errorf("%s: the views computed anew are others", name)
		}
	}
}

func viewsOf(t *testing.T, w *world) (digest []byte) {
	t.Helper()
	w.ok(w.o.Store.Read(t.Context(), w.o.Shop, func(tx *store.Tx) error {
		text, err := tx.ViewsDigest()
		digest = []byte(text)
		return err
	}))
	return digest
}

// TestANewTokenIsKeptOrNotGivenOut begins to renew a session in a transaction that is tried again: the second
// try finds the session that the first one found.
func TestANewTokenIsKeptOrNotGivenOut(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	sign := w.who["sign"]
	stopped := errors.New("stopped before it was kept")
	for range 2 {
		err := w.o.Store.Write(ctx, w.o.Shop, func(tx *store.Tx) error {
			if _, _, err := w.noted(tx, sign, people.ByPassword, "", (*people.Session).Unlock, true); err != nil {
				return err
			}
			return stopped
		})
		if !errors.Is(err, stopped) {
			t.Fatal(err)
		}
	}
	w.ok(w.Confirm(ctx, sign, password, "", counterPlace))
}
