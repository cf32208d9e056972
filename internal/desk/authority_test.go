package desk

import (
	"reflect"
	"slices"
	"testing"

	"wreath/internal/people"
)

// elsewhere are the actions for which no method of the desk writes or reads, with why.
var elsewhere = map[people.Action]string{
	people.Restore:      "a restore makes the store in which people are known, so it needs the machine itself",
	people.SetHouseRule: "house rules come with the program or with a station",
	people.EndSession:   "sessions end with password, roles or device; see EndDevice and ChangeRoles",
}

// others are the methods that nobody's role decides, with why.
var others = map[string]string{
	"Refresh":  "computes the views anew after an upgrade; it shows what the log says",
	"OpenShop": "console: there is nobody yet", "SetUpCode": "console: there is nobody yet", "SetUp": "asks for the code of the console",
	"Known": "tells only whether there is a shop", "Shop": "the short name", "AboutShop": "what is printed on every slip",
	"Linked": "the program follows its instruments whoever is signed in", "Keys": "public keys are for everybody", "UnlockKey": "the program itself, when it starts",
	"PrintersAtWork": "the program prints what somebody asked for, whoever is signed in", "NextPrint": "as PrintersAtWork", "PrintBegun": "as PrintersAtWork",
	"StillPrinting": "as PrintersAtWork", "PrintEnded": "as PrintersAtWork", "PrintFailed": "as PrintersAtWork", "BreakOff": "as PrintersAtWork",
	"Asker": "lets in who asked for a print, as far as they may do it still",
	"Local": "lets in", "SignIn": "lets in", "HandOver": "lets in", "Enter": "lets in", "EnterProgram": "lets in", "Second": "lets in",
	"SignOut": "one's own session", "Unlock": "one's own session", "Confirm": "one's own session", "Lock": "one's own session", "NewPassword": "asks for a code",
	"Verify": "console, and changes nothing", "Rebuild": "console: the views follow from the log anyway", "Restore": "console",
	"ResetFromConsole": "console, and only for who administers", "RemovePasskeyFromConsole": "console", "PasskeysFromConsole": "console",
	"SignInWith": "lets in", "SignInByPasskey": "lets in", "AskPasskey": "gives nothing but a question",
	"AskNewPasskey": "asks for the password; AddPasskey keeps what comes of it", "UnlockByPasskey": "one's own session", "ConfirmByPasskey": "one's own session",
}

func TestEveryMethodIsClassified(t *testing.T) {
	known := map[string]int{}
	for _, a := range acts {
		known[a.method] |= 1
	}
	for _, l := range looks {
		known[l.method] |= 2
	}
	for name := range others {
		known[name] |= 4
	}
	methods := reflect.TypeFor[*Desk]()
	for m := range methods.Methods() {
		switch known[m.Name] {
		case 0:
			t.Errorf("%s is in none of the lists acts, looks and others: say who may do it, and what entry it makes", m.Name)
		case 1, 2, 4:
		default:
			t.Errorf("%s is in several lists", m.Name)
		}
		delete(known, m.Name)
	}
	for name := range known {
		t.Errorf("there is no method %s any more", name)
	}
}

func TestEveryActionStandsForAMethod(t *testing.T) {
	for _, rule := range people.Actions {
		stands := slices.ContainsFunc(acts, func(a act) bool { return a.action == rule.Action }) ||
			slices.ContainsFunc(looks, func(l looking) bool { return l.action == rule.Action })
		if _, away := elsewhere[rule.Action]; away == stands {
			t.Errorf("%s: a method stands for it: %t; a reason why none does: %t", rule.Action, stands, away)
		}
	}
}

// nobodies are those who may do nothing, whatever their roles were.
func nobodies(w *world) map[string]*Who {
	w.t.Helper()
	boss := w.who["boss"]
	_, out, err := w.SignIn(w.t.Context(), "boss", password, counterPlace)
	w.ok(err)
	w.ok(w.SignOut(w.t.Context(), out, false))
	return map[string]*Who{
		"nobody": nil, "who has left": w.who["gone"], "who signed out": out,
		"who did not sign in": {person: boss.person, session: people.BeginLocal(boss.person, w.clock.now())},
	}
}

// program is let in with the role measure of boss.
func program(w *world) *Who {
	w.t.Helper()
	shown, _, err := w.IssueToken(w.t.Context(), w.boss(), "label printer", []people.Role{people.Measure}, w.clock.now().Add(3600e9))
	w.ok(err)
	return must[*Who](w.t)(w.EnterProgram(w.t.Context(), shown))
}

// TestWhoMayWrite tries every act as everybody. Who may not leaves nothing behind; who may adds one
// entry of the right kind in their name.
func TestWhoMayWrite(t *testing.T) {
	for _, a := range acts {
		t.Run(a.method+" "+string(a.action), func(t *testing.T) {
			w := openWorld(t)
			do := a.prepare(w, w.who["boss"])
			tryToo := func(name string, who *Who) {
				t.Helper()
				before := w.all()
				_, err := do(By{Who: who})
				refused(t, name, err)
				if after := w.all(); after != before {
					t.Errorf("%s was refused and changed the store", name)
				}
			}
			for name, who := range nobodies(w) {
				tryToo(name, who)
			}
			machine := program(w)
			machineMay := people.May([]people.Role{people.Measure}, a.action) && a.action != people.SignAsMeasurer && a.action != people.OwnCredentials
			if !machineMay {
				tryToo("a program", machine)
			}
			var may []string
			for _, role := range people.Roles {
				if people.May([]people.Role{role}, a.action) {
					may = append(may, string(role))
				} else {
					tryToo(string(role), w.who[string(role)])
				}
			}
			if len(may) == 0 {
				t.Fatal("nobody may")
			}
			for _, role := range may {
				w := openWorld(t)
				who := w.who[role]
				do := a.prepare(w, who)
				grows(t, w, a, role, who.person.ID, func() error { _, err := do(By{Who: who}); return err })
			}
			if machineMay {
				w := openWorld(t)
				do, machine := a.prepare(w, nil), program(w)
				grows(t, w, a, "a program", "boss", func() error { _, err := do(By{Who: machine}); return err })
			}
		})
	}
}

// grows asks that an act adds its one entry.
func grows(t *testing.T, w *world, a act, name, person string, do func() error) {
	t.Helper()
	before := w.size()
	if err := do(); err != nil {
		t.Errorf("%s may %s: %v: %s", name, a.action, err, hintOf(err))
		return
	}
	want := 1 + further[a.method]
	if a.kind == "" {
		want = 0
	}
	if got := w.size() - before; got != want {
		t.Errorf("%s: %d entries, want %d", name, got, want)
	}
	if e := lastEntry(t, w.Desk); want > 0 && (e.Kind != a.kind || e.Person != person) {
		t.Errorf("%s: the entry is %s by %q, want %s by %s", name, e.Kind, e.Person, a.kind, person)
	}
	verified(t, w.Desk)
}

// TestWhoMayLook tries every look as everybody; none changes anything.
func TestWhoMayLook(t *testing.T) {
	w := stocked(t)
	none, machine := nobodies(w), program(w)
	before := w.all()
	for _, l := range looks {
		t.Run(l.method+" "+string(l.action), func(t *testing.T) {
			for name, who := range none {
				refused(t, name, l.do(w, who))
			}
			for _, role := range people.Roles {
				err := l.do(w, w.who[string(role)])
				if may := people.May([]people.Role{role}, l.action); may && err != nil {
					t.Errorf("%s may: %v", role, err)
				} else if !may {
					refused(t, string(role), err)
				}
			}
			err := l.do(w, machine)
			if may := people.May([]people.Role{people.Measure}, l.action) && l.action != people.OwnCredentials; may && err != nil {
				t.Errorf("a program may: %v", err)
			} else if !may {
				refused(t, "a program", err)
			}
		})
	}
	if w.all() != before {
		t.Error("a look changed the store")
	}
}

// TestValuesAreForPrices holds that what a record is worth is shown only to who sees prices.
func TestValuesAreForPrices(t *testing.T) {
	w := openWorld(t)
	number := w.recorded(w.boss())
	must[any](t)(one(w.Value(t.Context(), w.boss(), Valuing{Records: []string{number}})))
	for _, role := range people.Roles {
		who := w.who[string(role)]
		if !people.May([]people.Role{role}, people.SeeRecords) {
			continue
		}
		sees := people.May([]people.Role{role}, people.SeePrices)
		shown := must[Recorded](t)(w.Show(t.Context(), who, number))
		if (shown.Worth != nil) != sees {
			t.Errorf("%s: the worth is shown: %t, want %t", role, shown.Worth != nil, sees)
		}
		history := must[[]Happening](t)(w.History(t.Context(), who, number))
		if got := slices.ContainsFunc(history, func(h Happening) bool { return h.Kind == "item-valued" }); got != sees {
			t.Errorf("%s: the history tells the worth: %t, want %t", role, got, sees)
		}
	}
}
