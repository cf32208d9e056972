package people

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"
)

// Limits on guessing at sign-in. After the fifth failure in a row each further try has to wait:
// 30 s, then twice as long each time, at most 15 min. Waiting is counted apart for every enrolled
// device and for everywhere else together, so that someone outside cannot keep a person waiting at
// the till. After 100 failures in a row the account's password is off, as SP 800-63B-4 3.2.2
// demands, until it is set anew from the console; failures from elsewhere end at 50 of them.
const (
	FreeTries     = 4
	FirstWait     = 30 * time.Second
	LongestWait   = 15 * time.Minute
	MaxFailures   = 100
	MaxElsewhere  = 50
	forgetAfter   = 24 * time.Hour // sources, and names that belong to nobody
	mostStrangers = 10000          // of either that are remembered
)

// Origin says where a try comes from.
type Origin struct {
	Source string // network address, or "console"
	Device string // id of the enrolled device whose secret was shown, or ""
}

// Tried is a run of failures.
type Tried struct {
	Failures int       `json:"failures"` // in a row
	Last     time.Time `json:"last"`     // the latest
}

// Account is what was tried on one account.
type Account struct {
	Elsewhere Tried            `json:"elsewhere"`         // from anything but enrolled devices
	Devices   map[string]Tried `json:"devices,omitempty"` // by the device's id
}

func (a Account) failures() int {
	n := a.Elsewhere.Failures
	for _, t := range a.Devices {
		n += t.Failures
	}
	return n
}

func (a Account) last() time.Time {
	last := a.Elsewhere.Last
	for _, t := range a.Devices {
		if t.Last.After(last) {
			last = t.Last
		}
	}
	return last
}

// Tries holds the failures in a row, for accounts (whether or not they exist) and for sources. An
// account is kept as a digest of what was typed, since some people type their password where the
// name belongs. The caller keeps Tries and guards it: from Check to Failed or Succeeded no other
// try on the same account may run.
type Tries struct {
	Accounts map[string]Account `json:"accounts"` // by accountKey
	Sources  map[string]Tried   `json:"sources"`
}

// WaitError tells that a try comes too early. The password is then not looked at, and the try does
// not count, so that hammering does not make the wait longer.
type WaitError struct {
	Wait time.Duration
	Hint string
}

func (e *WaitError) Error() string {
	return fmt.Sprintf("too many wrong tries; the next one is possible in %s", max(time.Second, e.Wait.Round(time.Second)))
}

// OffError tells that too many tries in a row failed.
type OffError struct {
	Account  string
	Failures int
	Hint     string
}

func (e *OffError) Error() string {
	return fmt.Sprintf("signing in as %s here is off after %d wrong tries in a row", e.Account, e.Failures)
}

func accountKey(typed string) string { return hashSecret([]byte("wreath account " + typed))[:32] }

// waitAfter is how long to wait after so many failures in a row.
func waitAfter(failures int) time.Duration {
	if failures <= FreeTries {
		return 0
	}
	wait := FirstWait
	for range failures - FreeTries - 1 {
		if wait *= 2; wait >= LongestWait {
			return LongestWait
		}
	}
	return wait
}

// left is how long the wait still is, never longer than the whole wait.
func (t Tried) left(now time.Time) time.Duration {
	wait := waitAfter(t.Failures)
	return max(0, min(wait, t.Last.Add(wait).Sub(now)))
}

// Check says whether a try is possible now. It returns nil, *WaitError or *OffError.
func (t *Tries) Check(account string, from Origin, now time.Time) error {
	t.rebase(account, from, now)
	if wait := t.Sources[from.Source].left(now); from.Device == "" && wait > 0 {
		return &WaitError{wait, "Wait, or sign in at an enrolled device."}
	}
	a := t.Accounts[accountKey(account)]
	if n := a.failures(); n >= MaxFailures {
		return &OffError{account, n, "Set a new password from the console of the machine that holds the records."}
	}
	if from.Device == "" && a.Elsewhere.Failures >= MaxElsewhere {
		return &OffError{account, a.Elsewhere.Failures, "Sign in at an enrolled device, or set a new password from the console."}
	}
	at := a.Elsewhere
	if from.Device != "" {
		at = a.Devices[from.Device]
	}
	if wait := at.left(now); wait > 0 {
		return &WaitError{wait, "Wait, then type the password with care. An administrator can give a code for a new one."}
	}
	return nil
}

// rebase brings failures that lie in the future to now: the clock was wrong then, and a wait must
// not last until that day.
func (t *Tries) rebase(account string, from Origin, now time.Time) {
	earlier := func(v Tried) Tried {
		if v.Last.After(now) {
			v.Last = now
		}
		return v
	}
	if s, known := t.Sources[from.Source]; known {
		t.Sources[from.Source] = earlier(s)
	}
	key := accountKey(account)
	if a, known := t.Accounts[key]; known {
		a.Elsewhere = earlier(a.Elsewhere)
		for id, v := range a.Devices {
			a.Devices[id] = earlier(v)
		}
		t.Accounts[key] = a
	}
}

// Failed counts a failure for the account and the source.
func (t *Tries) Failed(account string, from Origin, now time.Time) {
	if t.Accounts == nil {
		t.Accounts = map[string]Account{}
	}
	if t.Sources == nil {
		t.Sources = map[string]Tried{}
	}
	key := accountKey(account)
	a := t.Accounts[key]
	if from.Device == "" {
		a.Elsewhere = Tried{a.Elsewhere.Failures + 1, now}
	} else {
		a.Devices = maps.Clone(a.Devices)
		if a.Devices == nil {
			a.Devices = map[string]Tried{}
		}
		a.Devices[from.Device] = Tried{a.Devices[from.Device].Failures + 1, now}
	}
	t.Accounts[key] = a
	s := t.Sources[from.Source]
	if now.Sub(s.Last) > forgetAfter {
		s.Failures = 0
	}
	t.Sources[from.Source] = Tried{s.Failures + 1, now}
}

// Succeeded clears the account. The source loses only as many failures as the account had, so
// that someone who guesses at others cannot clear the count with a sign-in of their own.
func (t *Tries) Succeeded(account string, from Origin) {
	own := t.Accounts[accountKey(account)].failures()
	t.Reset(account)
	s, known := t.Sources[from.Source]
	if !known {
		return
	}
	if s.Failures -= own; s.Failures <= 0 {
		delete(t.Sources, from.Source)
		return
	}
	t.Sources[from.Source] = s
}

// Reset clears an account whose password was set anew from the console.
func (t *Tries) Reset(account string) { delete(t.Accounts, accountKey(account)) }

// Prune forgets sources, and names that belong to nobody, that were quiet for a day, and of the
// rest the longest quiet when there are too many. Failures of people who exist are kept, since
// they count in a row however long that takes.
func (t *Tries) Prune(now time.Time, all []Person) {
	exists := map[string]bool{}
	for _, p := range all {
		exists[accountKey(p.ID)] = true
	}
	strangers := map[string]time.Time{}
	for account, a := range t.Accounts {
		if !exists[account] {
			strangers[account] = a.last()
		}
	}
	for _, account := range stale(strangers, now) {
		delete(t.Accounts, account)
	}
	sources := map[string]time.Time{}
	for source, v := range t.Sources {
		sources[source] = v.Last
	}
	for _, source := range stale(sources, now) {
		delete(t.Sources, source)
	}
}

// stale lists what may be forgotten.
func stale(last map[string]time.Time, now time.Time) []string {
	oldest := slices.SortedFunc(maps.Keys(last), func(a, b string) int {
		return cmp.Or(last[a].Compare(last[b]), cmp.Compare(a, b))
	})
	n := 0
	for n < len(oldest) && (len(oldest)-n > mostStrangers || now.Sub(last[oldest[n]]) > forgetAfter) {
		n++
	}
	return oldest[:n]
}
