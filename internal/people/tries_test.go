package people

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var (
	outside = Origin{Source: "192.0.2.7"} // RFC 5737, for documentation
	till    = Origin{Source: "127.0.0.1", Device: "d-till"}
)

func TestWaitAfter(t *testing.T) {
	for failures, want := range map[int]time.Duration{
		0: 0, 1: 0, 4: 0, 5: 30 * time.Second, 6: time.Minute, 7: 2 * time.Minute, 8: 4 * time.Minute, 9: 8 * time.Minute,
		10: 15 * time.Minute, 11: 15 * time.Minute, 99: 15 * time.Minute, 1 << 30: 15 * time.Minute,
	} {
		if got := waitAfter(failures); got != want {
			t.Errorf("after %d failures %s, want %s", failures, got, want)
		}
	}
}

// attack tries wrong passwords as fast as is allowed and says how many were looked at.
func attack(t *testing.T, tries *Tries, account func(i int) string, from Origin, start time.Time, long time.Duration) int {
	t.Helper()
	looked, now := 0, start
	for i := 0; now.Before(start.Add(long)); i++ {
		err := tries.Check(account(i), from, now)
		var wait *WaitError
		var off *OffError
		switch {
		case err == nil:
			looked++
			tries.Failed(account(i), from, now)
			now = now.Add(time.Second)
		case errors.As(err, &wait):
			if wait.Wait <= 0 || wait.Wait > LongestWait || wait.Hint == "" {
				t.Fatalf("wait %s, hint %q", wait.Wait, wait.Hint)
			}
			now = now.Add(max(wait.Wait, time.Second))
		case errors.As(err, &off):
			if off.Hint == "" {
				t.Fatal("no hint")
			}
			return looked
		default:
			t.Fatal(err)
		}
	}
	return looked
}

// Guessing for a month from one place at one account.
func TestAttackOnOneAccount(t *testing.T) {
	var tries Tries
	ada := func(int) string { return "ada" }
	day := attack(t, &tries, ada, outside, noon, 12*time.Hour)
	if day > 60 || day < 40 {
		t.Errorf("%d guesses in half a day", day)
	}
	rest := attack(t, &tries, ada, outside, noon.Add(12*time.Hour), 30*24*time.Hour)
	if total := day + rest; total != MaxElsewhere {
		t.Errorf("%d guesses in a month, want %d", total, MaxElsewhere)
	}
	// Ada still gets in at the till, and that opens the rest again.
	later := noon.AddDate(0, 2, 0)
	if err := tries.Check("ada", till, later); err != nil {
		t.Errorf("at the till: %v", err)
	}
	tries.Succeeded("ada", till)
	if err := tries.Check("ada", Origin{Source: "192.0.2.8"}, later); err != nil {
		t.Errorf("from outside after that: %v", err)
	}
}

// A source that goes through many names is slowed too.
func TestAttackOnManyAccounts(t *testing.T) {
	var tries Tries
	n := attack(t, &tries, func(i int) string { return fmt.Sprint("person-", i) }, outside, noon, 24*time.Hour)
	if n > 110 {
		t.Errorf("%d guesses in a day at different names", n)
	}
	// The till is not held up, nor is somebody else.
	if err := tries.Check("ada", Origin{Source: outside.Source, Device: "d-till"}, noon); err != nil {
		t.Error(err)
	}
	if err := tries.Check("ada", Origin{Source: "192.0.2.9"}, noon); err != nil {
		t.Error(err)
	}
}

// From many sources at once the account is what counts, and in all never more than 100.
func TestAttackFromManySources(t *testing.T) {
	var tries Tries
	looked, now := 0, noon
	for i := range 100000 {
		from := Origin{Source: fmt.Sprint("source-", i)}
		if i%2 == 0 {
			from.Device = fmt.Sprint("d-", i%10)
		}
		if tries.Check("ada", from, now) == nil {
			looked++
			tries.Failed("ada", from, now)
		}
		now = now.Add(time.Minute)
	}
	if looked != MaxFailures {
		t.Errorf("%d guesses, want %d", looked, MaxFailures)
	}
	var off *OffError
	if err := tries.Check("ada", till, now.AddDate(1, 0, 0)); !errors.As(err, &off) || err.Error() != "signing in as ada here is off after 100 wrong tries in a row" {
		t.Errorf("error %v, want the password to be off", err)
	}
	tries.Reset("ada")
	noError(t, tries.Check("ada", till, now))
}

// Whatever happens in whatever order, no more than 100 guesses in a row are looked at, a wait is
// never longer than 15 minutes, and a refusal never counts.
func TestTriesProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var tries Tries
		now, inRow := noon, 0
		for range rapid.IntRange(1, 400).Draw(t, "steps") {
			from := rapid.SampledFrom([]Origin{outside, till, {Source: "192.0.2.8"}, {Source: "127.0.0.1", Device: "d-two"}}).Draw(t, "from")
			now = now.Add(time.Duration(rapid.SampledFrom([]int{0, 1, 30, 1000, -100, 90000}).Draw(t, "seconds")) * time.Second)
			err := tries.Check("ada", from, now)
			var wait *WaitError
			if errors.As(err, &wait) && (wait.Wait <= 0 || wait.Wait > LongestWait) {
				t.Fatalf("wait %s", wait.Wait)
			}
			if err != nil {
				if got := tries.Accounts[accountKey("ada")].failures(); got != inRow {
					t.Fatalf("%d failures, want %d", got, inRow)
				}
				continue
			}
			if inRow++; inRow > MaxFailures {
				t.Fatalf("%d guesses in a row", inRow)
			}
			if rapid.IntRange(0, 60).Draw(t, "right") == 0 {
				tries.Succeeded("ada", from)
				inRow = 0
				continue
			}
			tries.Failed("ada", from, now)
		}
	})
}

// Who has an account of their own cannot use it to clear the traces of guessing at others.
func TestOwnSignInDoesNotClearTheSource(t *testing.T) {
	var tries Tries
	for range 6 {
		tries.Failed("ada", outside, noon)
	}
	tries.Failed("eve", outside, noon)
	tries.Succeeded("eve", outside)
	if got := tries.Sources[outside.Source].Failures; got != 6 {
		t.Errorf("%d failures of the source, want 6", got)
	}
	tries.Succeeded("ada", outside)
	if len(tries.Sources)+len(tries.Accounts) != 0 {
		t.Errorf("left: %+v", tries)
	}
	tries.Succeeded("ada", outside) // nothing there
}

// A clock that was a year ahead does not make anyone wait a year, and one set back does not help.
func TestTriesAndTheClock(t *testing.T) {
	var tries Tries
	ahead := noon.AddDate(1, 0, 0)
	for range 5 {
		tries.Failed("ada", till, ahead)
	}
	var wait *WaitError
	if err := tries.Check("ada", till, noon); !errors.As(err, &wait) || wait.Wait != FirstWait || err.Error() != "too many wrong tries; the next one is possible in 30s" {
		t.Errorf("clock set back: %v", err)
	}
	if err := tries.Check("ada", till, noon.Add(FirstWait-1)); !errors.As(err, &wait) {
		t.Errorf("before the wait is over: %v", err)
	}
	if err := tries.Check("ada", till, noon.Add(FirstWait)); err != nil {
		t.Errorf("after the wait: %v", err)
	}
}

func TestPrune(t *testing.T) {
	var tries Tries
	tries.Failed("ada", outside, noon)
	tries.Failed("nobody", outside, noon)
	tries.Failed("recent", Origin{Source: "192.0.2.8"}, noon.Add(20*time.Hour))
	all := []Person{person("ada", Sign)}
	tries.Prune(noon.Add(25*time.Hour), all)
	if _, kept := tries.Accounts[accountKey("ada")]; !kept || len(tries.Accounts) != 2 || len(tries.Sources) != 1 {
		t.Errorf("after a day: %+v", tries)
	}
	for i := range mostStrangers + 50 {
		at := noon.Add(25*time.Hour + time.Duration(i)*time.Millisecond)
		tries.Failed(fmt.Sprint("x", i), Origin{Source: fmt.Sprint("s", i)}, at)
	}
	tries.Prune(noon.Add(26*time.Hour), all)
	if len(tries.Accounts) != mostStrangers+1 || len(tries.Sources) != mostStrangers {
		t.Errorf("%d accounts, %d sources", len(tries.Accounts), len(tries.Sources))
	}
	if _, kept := tries.Accounts[accountKey("x0")]; kept {
		t.Error("the oldest was kept")
	}
	if _, kept := tries.Accounts[accountKey("ada")]; !kept {
		t.Error("ada, who exists, was forgotten")
	}
	roundTrip(t, tries)
}

// A source that was quiet for a day starts anew; an account does not.
func TestOnlySourcesForget(t *testing.T) {
	var tries Tries
	for i := range 5 {
		tries.Failed("ada", outside, noon.Add(time.Duration(i)*25*time.Hour))
	}
	if got := tries.Sources[outside.Source].Failures; got != 1 {
		t.Errorf("source: %d failures", got)
	}
	if got := tries.Accounts[accountKey("ada")].failures(); got != 5 {
		t.Errorf("account: %d failures", got)
	}
}

// What somebody typed where the name belongs is not kept in clear.
func TestTypedNamesAreNotKept(t *testing.T) {
	var tries Tries
	tries.Failed("otters mend a kettle", outside, noon)
	text, err := json.Marshal(tries)
	noError(t, err)
	if strings.Contains(string(text), "otters") || !strings.Contains(string(text), outside.Source) {
		t.Errorf("kept: %s", text)
	}
}
