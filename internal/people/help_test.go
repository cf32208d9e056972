package people

import (
	"encoding/json"
	"errors"
	"io"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"wreath/internal/strictjson"
)

// People, shops and devices in these tests are invented.

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.FixedZone("", 3600))

// dice gives the same randomness at each run.
func dice() io.Reader { return rand.NewChaCha8([32]byte{1, 2, 3}) }

func person(id string, roles ...Role) Person {
	return Person{Format: 1, ID: id, Name: strings.ToUpper(id[:1]) + id[1:] + " Example", Roles: roles, Since: noon.AddDate(-1, 0, 0), Generation: 1}
}

// cheap makes hashes that are quick; only the tests that say so use the standard cost.
func cheap(t testing.TB) *Hasher {
	t.Helper()
	h, err := NewHasher(Cost{MemoryKiB: 64, Passes: 1, Lanes: 1}, dice())
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func newDevice(t testing.TB, shared bool) (string, Device) {
	t.Helper()
	secret, d, err := NewDevice(dice(), "front counter", shared, "ada", noon)
	if err != nil {
		t.Fatal(err)
	}
	return secret, d
}

// wantField fails unless err is about the field, with the words in reason or hint.
func wantField(t *testing.T, name string, err error, path, words string) {
	t.Helper()
	var f *strictjson.FieldError
	if !errors.As(err, &f) {
		t.Errorf("%s: error %v, want one about %s", name, err, path)
		return
	}
	if f.Path != path || !strings.Contains(f.Reason+" "+f.Hint, words) || f.Hint == "" {
		t.Errorf("%s: path %q, reason %q, hint %q; want %q and …%s…", name, f.Path, f.Reason, f.Hint, path, words)
	}
}

// wantSignIn fails unless err is a SignInError with the words.
func wantSignIn(t *testing.T, name string, err error, words string) {
	t.Helper()
	var s *SignInError
	if !errors.As(err, &s) {
		t.Errorf("%s: error %v, want a refusal with …%s…", name, err, words)
		return
	}
	if !strings.Contains(s.Reason, words) || s.Hint == "" {
		t.Errorf("%s: reason %q, hint %q; want …%s…", name, s.Reason, s.Hint, words)
	}
}

func noError(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// roundTrip fails when a document loses something on the way through JSON.
func roundTrip[T any](t *testing.T, v T) {
	t.Helper()
	text, err := json.Marshal(v)
	noError(t, err)
	var back T
	noError(t, json.Unmarshal(text, &back))
	again, err := json.Marshal(back)
	noError(t, err)
	if string(text) != string(again) {
		t.Errorf("JSON changed on the way:\n%s\n%s", text, again)
	}
	if reflect.DeepEqual(v, *new(T)) {
		t.Errorf("an empty %T proves nothing", v)
	}
	for i := range reflect.TypeFor[T]().NumField() {
		if f := reflect.TypeFor[T]().Field(i); f.Tag.Get("json") == "" {
			t.Errorf("%T.%s has no name in JSON", v, f.Name)
		}
	}
}
