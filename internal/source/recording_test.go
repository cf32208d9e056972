package source

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

var talkTest = []Event{
	{Kind: LinkChanged, Link: Connecting},
	{Kind: LinkChanged, Link: Connecting, Err: errors.New("whole \\ day\nbusy")},
	{Kind: LinkChanged, Link: Connected, Identity: "/dev/serial/by-id/usb-A", Seconds: 0.5},
	{Kind: Sent, Bytes: []byte("Q\r\n"), Seconds: 0.5},
	{Kind: Heard, Bytes: []byte(" 12.3456 g \\ \r\n\t\x00\x1b\xff \xc3\xbc"), Seconds: 2.25},
	{Kind: Heard, Bytes: []byte{}, Seconds: 2.25},
	{Kind: LinkChanged, Link: Quiet, Identity: "port", Seconds: 12.25},
	{Kind: LinkChanged, Link: Connected, Whole: true, Identity: "a port", Seconds: 20},
	{Kind: LinkChanged, Link: Connecting, Identity: "127.0.0.1:4001", Seconds: 20},
	{Kind: LinkChanged, Link: Connecting, Identity: "127.0.0.1:4001", Err: errors.New("gone away"), Seconds: 20},
	{Kind: LinkChanged, Link: Connected, Whole: true, Seconds: 21},
}

var headTest = Header{Address: Address{Kind: TCP, Where: "192.0.2.7:4001"}, Made: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC), Simulated: true, Note: "invented,\nfor a test"}

func recorded(t *testing.T, events []Event, limit int64) (string, error) {
	t.Helper()
	var file bytes.Buffer
	r, err := NewRecorder(&file, headTest, limit)
	if err != nil {
		t.Fatal(err)
	}
	heard := 0
	sink := r.Sink(func(Event) { heard++ })
	for _, e := range events {
		sink(e)
	}
	if heard != len(events) {
		t.Errorf("%d of %d events were handed on", heard, len(events))
	}
	return file.String(), r.Err()
}

// same compares events; the text of an error is all of it that is kept.
func same(a, b Event) bool {
	ea, eb := text(a.Err), text(b.Err)
	a.Err, b.Err = nil, nil
	return ea == eb && bytes.Equal(a.Bytes, b.Bytes) && func() bool { a.Bytes, b.Bytes = nil, nil; return reflect.DeepEqual(a, b) }()
}

func TestRecordingRoundTrip(t *testing.T) {
	text, err := recorded(t, talkTest, 0)
	if err != nil {
		t.Fatal(err)
	}
	var got []Event
	h, err := ReadRecording(strings.NewReader(text), func(e Event) bool { got = append(got, e); return true })
	if err != nil || h != headTest {
		t.Fatalf("header %+v, %v, want %+v", h, err, headTest)
	}
	if !slices.EqualFunc(got, talkTest, same) {
		t.Errorf("read\n%+v, want\n%+v of\n%s", got, talkTest, text)
	}
	for i, b := range []byte(text) {
		if b != '\n' && (b < ' ' || b > '~') {
			t.Fatalf("byte %d of the file is %#x", i, b)
		}
	}
}

func TestRecordingIsBounded(t *testing.T) {
	var many []Event
	for i := range 1000 {
		many = append(many, Event{Kind: Heard, Bytes: []byte("0123456789"), Seconds: float64(i)})
	}
	text, err := recorded(t, many, 2000)
	if err == nil || len(text) > 2000 || len(text) < 1900 {
		t.Errorf("%d bytes for a bound of 2000, %v", len(text), err)
	}
	n := 0
	_, err = ReadRecording(strings.NewReader(text), func(Event) bool { n++; return true })
	if err == nil || !strings.Contains(err.Error(), "what follows is missing") || n < 50 {
		t.Errorf("%d events and then %v", n, err)
	}
	if _, err := NewRecorder(io.Discard, headTest, 10); err == nil {
		t.Error("a bound of 10 bytes is taken")
	}
}

type fullDisk struct{ n int }

func (d *fullDisk) Write(p []byte) (int, error) {
	if d.n--; d.n < 0 {
		return 0, errors.New("no space")
	}
	return len(p), nil
}

func TestRecordingOnAFullDisk(t *testing.T) {
	r, err := NewRecorder(&fullDisk{n: 3}, headTest, 0)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	sink := r.Sink(func(Event) { n++ })
	for _, e := range talkTest {
		sink(e)
	}
	if n != len(talkTest) || r.Err() == nil || !strings.Contains(r.Err().Error(), "no space") {
		t.Errorf("%d of %d events handed on, %v", n, len(talkTest), r.Err())
	}
}

func TestReadRecordingRefuses(t *testing.T) {
	head := "wreath recording 1\naddress push:\n\n"
	for text, part := range map[string]string{
		"":                                 "line 1: it is not",
		"12.5 g\n":                         "line 1: it is not",
		"wreath recording 1\n":             "line 2: the empty line",
		"wreath recording 1\naddress x\n":  "line 2: address",
		"wreath recording 1\nmade x\n":     "line 2: parsing time",
		"wreath recording 1\nsimulated\n":  "line 2: simulated",
		"wreath recording 1\nwho me\n":     `line 2: "who"`,
		"wreath recording 1\nnote \\q\n\n": `\q has no meaning`,
		head + "x < a\n":                   "line 4: the seconds are no number",
		head + "NaN < a\n":                 "line 4: the seconds are no number",
		head + "2 < a\n1 < b\n":            "line 5: the seconds run backwards",
		head + "1 ? a\n":                   "line 4: the sign",
		head + "1\n":                       "line 4: it is not seconds",
		head + "1 = away\n":                `line 4: the state "away"`,
		head + "1 < a\\":                   "ends in a backslash",
		head + "1 < \\x1":                  "two digits",
		head + "1 < \\xzz":                 "hexadecimal",
		head + "1 < \x80":                  "not printable",
		head + "1 < " + strings.Repeat("a", longestRecorded): "token too long",
	} {
		_, err := ReadRecording(strings.NewReader(text), func(Event) bool { return true })
		if err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("ReadRecording(%.60q): %v, want %q", text, err, part)
		}
	}
}

func FuzzReadRecording(f *testing.F) {
	head := "wreath recording 1\naddress push:\n\n"
	f.Add(head + "0.5 = joined x\n1 < 12.5 g\\r\\n\n2 > Q\n3 = full: x\n")
	f.Add(head + "0.5 = waiting a b\n0.5 < \\x00\\\\\n")
	f.Fuzz(func(t *testing.T, file string) {
		var events []Event
		h, err := ReadRecording(strings.NewReader(file), func(e Event) bool { events = append(events, e); return true })
		if err != nil {
			return
		}
		var again bytes.Buffer
		r, err := NewRecorder(&again, h, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range events {
			r.Sink(nil)(e)
		}
		i := 0
		if _, err := ReadRecording(&again, func(e Event) bool {
			want := events[i]
			if math.Abs(e.Seconds-want.Seconds) > 1e-6 {
				t.Fatalf("event %d at %v, want %v", i, e.Seconds, want.Seconds)
			}
			e.Seconds = want.Seconds
			if i++; !same(e, want) && linkText(e) != linkText(want) {
				t.Fatalf("event %d = %+v, want %+v", i-1, e, want)
			}
			return true
		}); err != nil || i != len(events) {
			t.Fatalf("%d of %d events, %v", i, len(events), err)
		}
	})
}

func TestPlay(t *testing.T) {
	path := filepath.Join(t.TempDir(), "talk")
	text, err := recorded(t, talkTest, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	for settings, want := range map[string]time.Duration{"": 21 * time.Second, "?speed=4": 5250 * time.Millisecond, "?speed=0.5": 42 * time.Second, "?speed=most": 0} {
		synctest.Test(t, func(t *testing.T) {
			start := time.Now()
			var got []Event
			if err := open(t, "play://"+path+settings, Options{}).Run(t.Context(), func(e Event) { got = append(got, e) }); err != nil {
				t.Fatal(err)
			}
			if took := time.Since(start); took != want {
				t.Errorf("%q takes %s, want %s", settings, took, want)
			}
			if len(got) != len(talkTest)+1 || got[len(got)-1].Link != Ended || !slices.EqualFunc(got[:len(talkTest)], talkTest, same) {
				t.Errorf("%q plays %+v", settings, got)
			}
		})
	}
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		heard := 0
		err := open(t, "play://"+path, Options{}).Run(ctx, func(e Event) {
			if e.Kind == Heard {
				heard++
			}
		})
		if err != nil || heard != 0 {
			t.Errorf("a playback that is ended after a second gives %v and %d pieces of what came later", err, heard)
		}
	})
	err = open(t, "play://"+path+".gone", Options{}).Run(t.Context(), func(Event) {})
	if !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a recording that is not there gives %v", err)
	}
}
