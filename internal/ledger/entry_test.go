package ledger

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// entries draws any entry.
var entries = rapid.Custom(func(t *rapid.T) Entry {
	body, err := json.MarshalIndent(rapid.MapOf(rapid.String(), rapid.String()).Draw(t, "body"), rapid.SampledFrom([]string{"", " ", "\t"}).Draw(t, "prefix"), " ")
	if err != nil {
		t.Fatal(err)
	}
	text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", `,"body":{`, "\\\",\"body\":", "<&>\u2028", "Zürich", "\x00"}))
	return Entry{
		Head: Head{
			Format: Format, Shop: "demo", Seq: rapid.Int64Min(0).Draw(t, "seq"),
			Time: time.UnixMicro(rapid.Int64Range(-2e15, 2e17).Draw(t, "time")).UTC(),
			Kind: text.Draw(t, "kind"), Subject: text.Draw(t, "subject"), Person: text.Draw(t, "person"),
			Station: text.Draw(t, "station"), Key: text.Draw(t, "key"), Request: text.Draw(t, "request"),
			Clock: rapid.SampledFrom([]string{"", SetBack}).Draw(t, "clock"),
		},
		Body: body,
	}
})

func TestOneFormForOneEntry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := entries.Draw(t, "entry")
		raw, err := e.Encode()
		if err != nil {
			t.Fatal(err)
		}
		got, err := Decode(raw)
		if err != nil {
			t.Fatalf("Decode(%q): %v", raw, err)
		}
		var compact bytes.Buffer
		if err := json.Compact(&compact, e.Body); err != nil {
			t.Fatal(err)
		}
		want := e
		want.Body = compact.Bytes()
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("decoded %+v, want %+v", got, want)
		}
		if again, err := got.Encode(); err != nil || !bytes.Equal(again, raw) {
			t.Fatalf("encoded again %q, %v, want %q", again, err, raw)
		}
		if !json.Valid(raw) || bytes.ContainsAny(raw, "\n\r") {
			t.Fatalf("%q is not one line of JSON", raw)
		}
	})
}

// TestBytesOfAnEntry pins the layout that is kept for ever.
func TestBytesOfAnEntry(t *testing.T) {
	e := Entry{
		Head: Head{Shop: "demo", Seq: 7, Time: time.Date(2026, 11, 2, 10, 4, 5, 250_000_000, time.FixedZone("", 3600)), Clock: SetBack, Kind: "weighed", Subject: "item <1>", Person: "p-1", Station: "s-1", Key: "k", Request: "ab"},
		Body: Document("{ \"mass_g\": \"1.50\",\n \"list\": [ ] }"),
	}
	const want = `{"wreath":1,"shop":"demo","seq":7,"time":"2026-11-02T09:04:05.25Z","clock":"set back","kind":"weighed","subject":"item <1>","person":"p-1","station":"s-1","key":"k","request":"ab","body":{"mass_g":"1.50","list":[]}}`
	raw, err := e.Encode()
	if err != nil || string(raw) != want {
		t.Errorf("got  %s, %v\nwant %s", raw, err, want)
	}
}

func TestEncodeRefuses(t *testing.T) {
	for _, row := range []struct {
		name, body, words string
	}{
		{"no body", "", "no JSON object"},
		{"a list", `[1]`, "no JSON object"},
		{"a number", `1`, "no JSON object"},
		{"null", `null`, "no JSON object"},
		{"half an object", `{"a":`, "body of entry 3"},
		{"two objects", `{}{}`, "body of entry 3"},
		{"not UTF-8", "{\"a\":\"\xff\"}", "UTF-8"},
		{"too large", `{"a":"` + strings.Repeat("x", MaxEntry) + `"}`, "at most"},
	} {
		e := Entry{Head: Head{Shop: "demo", Seq: 3, Time: start, Kind: "x"}, Body: Document(row.body)}
		if raw, err := e.Encode(); err == nil || !strings.Contains(err.Error(), row.words) {
			t.Errorf("%s: %.40q, %v, want an error with %q", row.name, raw, err, row.words)
		}
	}
	e := Entry{Head: Head{Time: time.Date(12026, 1, 1, 0, 0, 0, 0, time.UTC)}, Body: Document(`{}`)}
	if _, err := e.Encode(); err == nil {
		t.Error("a year of five digits is taken, which no reader takes back")
	}
}

func TestDecodeRefusesOtherForms(t *testing.T) {
	const good = `{"wreath":1,"shop":"demo","seq":0,"time":"2026-11-02T09:00:00Z","kind":"x","body":{"a":1}}`
	if _, err := Decode([]byte(good)); err != nil {
		t.Fatal(err)
	}
	for name, raw := range map[string]string{
		"empty":                "",
		"space":                strings.Replace(good, `:`, `: `, 1),
		"line feed":            good + "\n",
		"space in the body":    strings.Replace(good, `{"a"`, `{ "a"`, 1),
		"capital letter":       strings.Replace(good, `"shop"`, `"Shop"`, 1),
		"other order":          strings.Replace(good, `"shop":"demo","seq":0`, `"seq":0,"shop":"demo"`, 1),
		"field twice":          strings.Replace(good, `"seq":0`, `"seq":1,"seq":0`, 1),
		"empty field":          strings.Replace(good, `"kind":"x"`, `"kind":"x","subject":""`, 1),
		"unknown field":        strings.Replace(good, `"kind":"x"`, `"kind":"x","colour":"red"`, 1),
		"escaped letter":       strings.Replace(good, `demo`, `d\u0065mo`, 1),
		"number with fraction": strings.Replace(good, `"seq":0`, `"seq":0.0`, 1),
		"other zone":           strings.Replace(good, `09:00:00Z`, `10:00:00+01:00`, 1),
		"zeros in the time":    strings.Replace(good, `00Z`, `00.000Z`, 1),
		"newer layout":         strings.Replace(good, `"wreath":1`, `"wreath":2`, 1),
		"body a list":          strings.Replace(good, `{"a":1}`, `[1]`, 1),
		"behind the body":      strings.Replace(good, `{"a":1}`, `{"a":1},"b":{}`, 1),
		"no body":              strings.Replace(good, `,"body":{"a":1}`, ``, 1),
	} {
		if e, err := Decode([]byte(raw)); err == nil {
			t.Errorf("%s: taken as %+v", name, e)
		}
	}
}

func FuzzDecode(f *testing.F) {
	l := newLog(f, "demo", 3)
	for _, raw := range l.raws {
		f.Add(raw)
	}
	f.Add([]byte(`{"wreath":1,"shop":"","seq":0,"time":"0000-01-01T00:00:00Z","kind":"","body":{}}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		e, err := Decode(raw)
		if err != nil {
			return
		}
		again, err := e.Encode()
		if err != nil || !bytes.Equal(again, raw) {
			t.Errorf("%q is taken, but encoded again it is %q, %v", raw, again, err)
		}
	})
}
