package station

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
)

const linkDoc = `"link": {"address": "serial:///dev/ttyUSB0?speed=9600", "pattern": {"format": 1, "invented": ["a", {"b": 2}]},
 "request": "SEND\\r\\n", "request_every_s": 0.25, "binding": {"check_g": 100, "tolerance_g": 0.001, "port": "usb-1", "read_g": 100.0002, "on": "2026-11-26"}}, `

func linked(t testing.TB) string { return changed(t, balanceDoc, `"serial"`, linkDoc+`"serial"`) }

func TestLinkIsKept(t *testing.T) {
	i := instrument(t, linked(t))
	if i.Link == nil || i.Link.Address != "serial:///dev/ttyUSB0?speed=9600" || string(i.Link.Pattern) != `{"format": 1, "invented": ["a", {"b": 2}]}` {
		t.Fatalf("link: %+v", i.Link)
	}
	sent, err := i.Link.RequestBytes()
	if err != nil || string(sent) != "SEND\r\n" {
		t.Errorf("sent: %q, %v", sent, err)
	}
	if b := i.Link.Binding; !b.Fits(100.001) || b.Fits(100.0011) || b.Fits(99.9) || b.Fits(-100) {
		t.Error("the check weight fits what it should not, or does not fit itself")
	}
	kept, err := i.Encode()
	if err != nil {
		t.Fatal(err)
	}
	again := instrument(t, string(kept))
	kept2, err := again.Encode()
	if err != nil || !bytes.Equal(kept, kept2) {
		t.Errorf("%s becomes %s (%v)", kept, kept2, err)
	}
	var through Instrument // as a store reads it
	if err := json.Unmarshal(kept, &through); err != nil || through.Check() != nil || string(through.Link.Pattern) != string(again.Link.Pattern) {
		t.Errorf("%+v, %v", through.Link, err)
	}
}

// TestWithoutLink: an instrument written before there were links reads and writes as it did.
func TestWithoutLink(t *testing.T) {
	kept, err := instrument(t, balanceDoc).Encode()
	if err != nil || strings.Contains(string(kept), "link") {
		t.Errorf("%s, %v", kept, err)
	}
	before, after := instrument(t, balanceDoc), instrument(t, linked(t))
	changes, err := ChangesOf(before, after)
	if err != nil || len(changes) != 1 || changes[0].Path != "link" || changes[0].Old != "" {
		t.Errorf("%+v, %v", changes, err)
	}
	other := instrument(t, changed(t, linked(t), `"b": 2`, `"b": 3`))
	changes, err = ChangesOf(after, other)
	if err != nil || len(changes) != 1 || changes[0] != (Change{"link.pattern.invented[1].b", "2", "3"}) {
		t.Errorf("%+v, %v", changes, err)
	}
}

func TestLinksAreChecked(t *testing.T) {
	for _, c := range []struct{ from, to, path, says string }{
		{`"address": "serial:///dev/ttyUSB0?speed=9600", `, ``, "link.address", "missing"},
		{`serial:///dev/ttyUSB0?speed=9600`, `somewhere`, "link.address", "no address"},
		{`serial:///dev/ttyUSB0?speed=9600`, `push:\u0007`, "link.address", "no address"},
		{`{"format": 1, "invented": ["a", {"b": 2}]}`, `"text"`, "link.pattern", "braces"},
		{`{"format": 1, "invented": ["a", {"b": 2}]}`, `{"format": 1`, "", "more follows"},
		{`SEND\\r\\n`, `SEND\\q`, "link.request", "can't be read"},
		{`SEND\\r\\n`, `SEND\\x1`, "link.request", "can't be read"},
		{`SEND\\r\\n`, `SEND\r`, "link.request", "printed"},
		{`"request": "SEND\\r\\n", `, ``, "link.request_every_s", "nothing is asked"},
		{`, "request_every_s": 0.25`, ``, "link.request_every_s", "missing"},
		{`"request_every_s": 0.25`, `"request_every_s": 0.001`, "link.request_every_s", "cannot be right"},
		{`"check_g": 100, `, ``, "link.binding.check_g", "missing"},
		{`"tolerance_g": 0.001, `, ``, "link.binding.tolerance_g", "missing"},
		{`"tolerance_g": 0.001`, `"tolerance_g": 20`, "link.binding.tolerance_g", "cannot be right"},
		{`"on": "2026-11-26"`, `"on": "26.11."`, "link.binding.on", "no date"},
	} {
		_, err := DecodeInstrument([]byte(changed(t, linked(t), c.from, c.to)))
		if err == nil {
			t.Errorf("%s: no error", c.to)
			continue
		}
		if c.path != "" {
			refused(t, err, c.path, c.says)
		}
	}
	_, err := DecodeInstrument([]byte(changed(t, checkPieceDoc, `"solid"`, `"link": {"address": "push:k"}, "solid"`)))
	refused(t, err, "link", "does not belong")
	_, err = DecodeInstrument([]byte(changed(t, thermometerDoc, `"serial"`, `"link": {"address": "push:t", "binding": {"check_g": 1, "tolerance_g": 0.1}}, "serial"`)))
	refused(t, err, "link.binding", "check weight")
}

func FuzzRequestBytes(f *testing.F) {
	for _, s := range []string{`SEND\r\n`, `\x1b`, `\`, `\x`, `\\`, `\xZZ`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l := Link{Request: s}
		out, err := l.RequestBytes()
		if err == nil && !strings.Contains(s, `\`) && string(out) != s {
			t.Errorf("%q becomes %q", s, out)
		}
	})
}
