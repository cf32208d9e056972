package main

import (
	"strings"
	"testing"
)

func TestTally(t *testing.T) {
	const start = `{"Action":"start","Package":"p"}` + "\n"
	const end = `{"Action":"pass","Package":"p","Elapsed":0.1}` + "\n"
	const pass = `{"Action":"pass","Package":"p","Test":"TestA"}` + "\n"
	for _, row := range []struct {
		name, events, closing, complaint, shown string
	}{
		{"all well", start + pass + `{"Action":"pass","Package":"p","Test":"TestA/sub"}` + "\n" + end, "2 passed, 0 failed", "", "ok    p"},
		{"nothing at all", "", "0 passed, 0 failed", "no test ran", ""},
		{"a package without tests", start + `{"Action":"skip","Package":"p"}` + "\n", "0 passed, 0 failed", "no test ran", "has no tests"},
		{"a skip", start + pass + `{"Action":"output","Package":"p","Test":"TestB","Output":"no server\n"}` + "\n" +
			`{"Action":"skip","Package":"p","Test":"TestB"}` + "\n" + end, "1 passed, 0 failed", "1 skipped", "no server"},
		{"a failure", start + pass + `{"Action":"output","Package":"p","Test":"TestB","Output":"got 1, want 2\n"}` + "\n" +
			`{"Action":"fail","Package":"p","Test":"TestB"}` + "\n" + `{"Action":"fail","Package":"p"}` + "\n", "1 passed, 1 failed", "1 failed", "got 1, want 2"},
		{"does not build", `{"ImportPath":"p","Action":"build-output","Output":"p.go:1: syntax error\n"}` + "\n" + `{"ImportPath":"p","Action":"build-fail"}` + "\n" +
			start + `{"Action":"fail","Package":"p","FailedBuild":"p"}` + "\n", "0 passed, 1 failed", "1 failed", "syntax error"},
		{"ends early", start + pass + `{"Action":"output","Package":"p","Output":"panic: oh\n"}` + "\n" + `{"Action":"fail","Package":"p"}` + "\n",
			"1 passed, 1 failed", "1 failed", "panic: oh"},
		{"cut off", start + pass, "1 passed, 1 failed", "begun and never ended: p", ""},
		{"cut off in the middle of a line", start + `{"Action":"pa`, "0 passed, 0 failed", "not an event", ""},
		{"output that looks like an event", start + pass + `{"Action":"output","Package":"p","Test":"TestA","Output":"\"Action\":\"skip\"\n"}` + "\n" + end,
			"1 passed, 0 failed", "", "ok    p"},
	} {
		t.Run(row.name, func(t *testing.T) {
			var shown strings.Builder
			counts, err := tally(strings.NewReader(row.events), &shown)
			if counts.String() != row.closing {
				t.Errorf("closing line %q, want %q", counts, row.closing)
			}
			if complaint := errorText(err); row.complaint == "" && complaint != "" || !strings.Contains(complaint, row.complaint) {
				t.Errorf("complaint %q, want %q", complaint, row.complaint)
			}
			if !strings.Contains(shown.String(), row.shown) {
				t.Errorf("shown:\n%swant %q in it", &shown, row.shown)
			}
		})
	}
}

func errorText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}
