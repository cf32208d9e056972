package source

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// The manual's addresses and its recording are read as they stand there.
func TestManual(t *testing.T) {
	manual, err := os.ReadFile("../../doc/instruments.md")
	if err != nil {
		t.Fatal(err)
	}
	text := string(manual)
	seen := map[Kind]bool{}
	for _, found := range regexp.MustCompile("`((?:serial|tcp|listen|file|push|wedge|play):[^`]+)`").FindAllStringSubmatch(text, -1) {
		a, err := ParseAddress(found[1])
		if err != nil {
			t.Errorf("%s: %v", found[1], err)
		}
		seen[a.Kind] = true
	}
	for _, k := range kinds {
		if k != Simulated && !seen[k] {
			t.Errorf("no example of %s", k)
		}
	}
	_, rest, found := strings.Cut(text, "    "+recordingFormat+"\n")
	if !found {
		t.Fatal("no example of a recording")
	}
	recording := recordingFormat + "\n"
	for line := range strings.Lines(rest) {
		line, indented := strings.CutPrefix(line, "    ")
		if !indented && line != "\n" {
			break
		}
		recording += line
	}
	var told []string
	h, err := ReadRecording(strings.NewReader(strings.TrimRight(recording, "\n")+"\n"), func(e Event) bool {
		told = append(told, e.Kind.String())
		return true
	})
	if err != nil || h.Note != "invented, for this page" || strings.Join(told, " ") != "link link sent heard link" {
		t.Errorf("the recording reads as %+v, %v, %v", h, told, err)
	}
}
