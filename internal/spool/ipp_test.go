package spool

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// printSystem is a print system of the tests, with states that they set. It reads what RFC 8010 says with
// the decoder under test; TestCups asks a real one.
type printSystem struct {
	*httptest.Server
	mu sync.Mutex

	printerState int
	reasons      []string
	message      string
	accepting    bool
	formats      []string
	refuse       uint16 // status of every Print-Job
	breakAfter   int    // bytes of a request with a job, after which the connection is closed; 0 is never
	jobStates    []int  // one after the other, the last one for ever
	jobMessage   string

	documents [][]byte
	jobs      []*ippMessage
}

func startSystem(t testing.TB) *printSystem {
	s := &printSystem{printerState: 3, reasons: []string{"none"}, accepting: true, formats: []string{formatPDF, formatText}, jobStates: []int{jobCompleted}}
	s.Server = httptest.NewServer(s)
	t.Cleanup(s.Close)
	return s
}

func (s *printSystem) address() string {
	return "ipp://" + strings.TrimPrefix(s.URL, "http://") + "/printers/office"
}

func (s *printSystem) set(change func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	change()
}

func (s *printSystem) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if r.Method != http.MethodPost || r.Header.Get("Content-Type") != ippType || r.URL.Path != "/printers/office" {
		http.NotFound(w, r)
		return
	}
	if s.breakAfter > 0 && r.ContentLength > int64(s.breakAfter) {
		io.ReadFull(r.Body, make([]byte, s.breakAfter))
		c, _, err := w.(http.Hijacker).Hijack()
		if err == nil {
			c.Close()
		}
		return
	}
	data, err := io.ReadAll(r.Body)
	if err != nil {
		return
	}
	m, document, err := decodeIPP(data)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	answer := &ippMessage{major: 1, minor: 1, id: m.id, groups: []ippGroup{{groupOperation, []ippAttribute{
		ippTexts(tagCharset, "attributes-charset", "utf-8"), ippTexts(tagLanguage, "attributes-natural-language", "en")}}}}
	switch m.code {
	case opGetPrinter:
		attributes := []ippAttribute{
			ippNumber(tagEnum, "printer-state", s.printerState), ippTexts(tagKeyword, "printer-state-reasons", s.reasons...),
			{"printer-is-accepting-jobs", []ippValue{{tagBoolean, []byte{map[bool]byte{true: 1}[s.accepting]}}}},
			ippTexts(tagMediaType, "document-format-supported", s.formats...),
		}
		if s.message != "" {
			attributes = append(attributes, ippTexts(tagText, "printer-state-message", s.message))
		}
		answer.groups = append(answer.groups, ippGroup{groupPrinter, attributes})
	case opPrintJob:
		if answer.code = s.refuse; s.refuse == 0 {
			s.jobs, s.documents = append(s.jobs, m), append(s.documents, document)
			answer.groups = append(answer.groups, ippGroup{groupJob, []ippAttribute{ippNumber(tagInteger, "job-id", len(s.jobs)), ippNumber(tagEnum, "job-state", 3)}})
		}
	case opGetJob:
		attributes := []ippAttribute{ippNumber(tagEnum, "job-state", s.jobStates[0])}
		if s.jobMessage != "" {
			attributes = append(attributes, ippTexts(tagText, "job-printer-state-message", s.jobMessage))
		}
		answer.groups = append(answer.groups, ippGroup{groupJob, attributes})
		if len(s.jobStates) > 1 {
			s.jobStates = s.jobStates[1:]
		}
	default:
		answer.code = 0x0501
	}
	out, err := answer.encode()
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", ippType)
	w.Write(out)
}

func TestSystemPrints(t *testing.T) {
	s := startSystem(t)
	s.set(func() { s.jobStates = []int{3, 5, 5, jobCompleted} })
	receipt, err := Send(t.Context(), pdfAt(s.address()), Document{"report R-000001", sample(10_000)}, quick)
	if err != nil || receipt.Known != Done || receipt.Sent != 10_000 {
		t.Fatalf("%+v, %v", receipt, err)
	}
	if len(s.documents) != 1 || !bytes.Equal(s.documents[0], sample(10_000)) {
		t.Error("other bytes came")
	}
	job := s.jobs[0]
	for name, want := range map[string]string{"document-format": formatPDF, "job-name": "report R-000001", "attributes-charset": "utf-8", "printer-uri": s.address()} {
		if got := job.texts(groupOperation, name); len(got) != 1 || got[0] != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if n, ok := job.number(groupJob, "copies"); !ok || n != 1 {
		t.Errorf("%d copies are asked for", n)
	}
	// A printer that takes text gets it as text, and as plain bytes where that is all it knows.
	for _, formats := range [][]string{{formatText}, {anyBytes, formatPDF}} {
		s.set(func() { s.formats = formats })
		if _, err := Send(t.Context(), textAt(s.address()), Document{"slip", sample(10)}, quick); err != nil {
			t.Error(err)
		}
		if got := s.jobs[len(s.jobs)-1].texts(groupOperation, "document-format"); got[0] != formats[0] {
			t.Errorf("sent as %s, want %s", got, formats[0])
		}
	}
}

// TestSystemSaysWhy turns what a print system says of a printer into words, before a byte of the document is
// sent.
func TestSystemSaysWhy(t *testing.T) {
	for _, c := range []struct {
		name    string
		state   int
		reasons []string
		message string
		kind    Kind // "" prints
		says    string
	}{
		{"ready", 3, []string{"none"}, "", "", ""},
		{"busy", 4, []string{"none"}, "", "", ""},
		{"low on paper", 3, []string{"media-low-warning"}, "", "", ""},
		{"one of two trays empty", 3, []string{"media-empty-warning", "media-empty-report"}, "", "", ""},
		{"out of paper", 5, []string{"media-empty-error"}, "", NoPaper, "out of paper"},
		{"out of paper, severity left out", 5, []string{"toner-low", "media-empty"}, "", NoPaper, "out of paper"},
		{"paper of another size", 5, []string{"media-needed"}, "", NoPaper, "out of paper"},
		{"jam", 5, []string{"media-jam-error"}, "", Attention, "paper jam"},
		{"open", 5, []string{"cover-open-error"}, "", Attention, "open cover"},
		{"offline, mildly said", 3, []string{"offline-report"}, "", Off, "offline"},
		{"unplugged", 5, []string{"offline-error"}, "", Off, "offline"},
		{"paused", 5, []string{"paused"}, "", Off, "paused"},
		{"stopped", 5, []string{"none"}, "the filter failed", Off, "which says: the filter failed"},
	} {
		s := startSystem(t)
		s.set(func() { s.printerState, s.reasons, s.message = c.state, c.reasons, c.message })
		_, err := Send(t.Context(), pdfAt(s.address()), Document{"report", sample(100)}, quick)
		if c.kind == "" {
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		if found := troubleOf(t, err); found.Kind != c.kind || !strings.Contains(found.Reason, c.says) || found.Sent != 0 || !found.Later() {
			t.Errorf("%s: %+v", c.name, found)
		}
		if len(s.documents) != 0 {
			t.Errorf("%s: a document was sent", c.name)
		}
	}
}

func TestSystemRefuses(t *testing.T) {
	for status, want := range map[uint16]Kind{statusFormat: Refused, statusNotAuthorised: Refused, statusNotFound: Refused, 0x040b: Refused, statusBusy: Off, statusNotAccepting: Off, statusDeviceError: Attention, 0x0500: Refused} {
		s := startSystem(t)
		s.set(func() { s.refuse = status })
		_, err := Send(t.Context(), pdfAt(s.address()), Document{"report", sample(100)}, quick)
		if found := troubleOf(t, err); found.Kind != want || found.Sent != 0 {
			t.Errorf("status %#04x: %+v", status, found)
		}
	}
	s := startSystem(t)
	s.set(func() { s.accepting = false })
	_, err := Send(t.Context(), pdfAt(s.address()), Document{"report", sample(100)}, quick)
	if found := troubleOf(t, err); found.Kind != Off || !strings.Contains(found.Reason, "closed") {
		t.Errorf("a closed queue: %+v", found)
	}
	s.set(func() { s.accepting, s.formats = true, []string{"image/urf"} })
	_, err = Send(t.Context(), pdfAt(s.address()), Document{"report", sample(100)}, quick)
	if found := troubleOf(t, err); found.Kind != Refused || !strings.Contains(found.Hint(), "image/urf") {
		t.Errorf("another format: %+v", found)
	}
	_, err = Send(t.Context(), pdfAt(strings.Replace(s.address(), "office", "offcie", 1)), Document{"report", sample(100)}, quick)
	if found := troubleOf(t, err); found.Kind != Refused || !strings.Contains(found.Hint(), "name of the queue") {
		t.Errorf("another queue: %+v", found)
	}
	_, err = Send(t.Context(), pdfAt("ipp://"+closedPort(t)+"/printers/x"), Document{"report", sample(100)}, quick)
	if found := troubleOf(t, err); found.Kind != Off || !found.Later() {
		t.Errorf("no print system: %+v", found)
	}
	chatter := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "hello") }))
	defer chatter.Close()
	_, err = Send(t.Context(), pdfAt("ipp://"+strings.TrimPrefix(chatter.URL, "http://")+"/printers/x"), Document{"report", sample(100)}, quick)
	if found := troubleOf(t, err); found.Kind != Refused || !errors.Is(err, errForm) {
		t.Errorf("another server: %+v", found)
	}
}

// TestSystemBreaksHalfWay closes the connection while a document comes in: that is never tried again by itself.
func TestSystemBreaksHalfWay(t *testing.T) {
	for _, n := range []int{600, 5000, 100_000, 900_000} {
		s := startSystem(t)
		s.set(func() { s.breakAfter = n })
		_, err := Send(t.Context(), pdfAt(s.address()), Document{"report", sample(1 << 20)}, quick)
		if found := troubleOf(t, err); found.Kind != Broken || found.Sent == 0 || found.Later() {
			t.Errorf("closed after %d bytes: %+v", n, found)
		}
		if len(s.documents) != 0 {
			t.Error("the print system has a document")
		}
	}
}

// TestSystemGivesUp cancels and aborts a job that was taken: a part of it may be on paper.
func TestSystemGivesUp(t *testing.T) {
	for state, says := range map[int]string{jobCanceled: "cancelled", jobAborted: "gave the job up"} {
		s := startSystem(t)
		s.set(func() { s.jobStates, s.jobMessage = []int{5, state}, "the drum is worn" })
		_, err := Send(t.Context(), pdfAt(s.address()), Document{"report", sample(100)}, quick)
		if found := troubleOf(t, err); found.Kind != Broken || found.Sent != 100 || !strings.Contains(found.Reason, says) || !strings.Contains(found.Reason, "the drum is worn") {
			t.Errorf("%+v", found)
		}
	}
}

// TestSystemWaits runs out of paper after it took the job: the job is in its hands, and it says what it waits
// for.
func TestSystemWaits(t *testing.T) {
	s := startSystem(t)
	s.set(func() { s.jobStates = []int{5} })
	timing := quick
	timing.Follow = 300 * time.Millisecond
	link, err := Reach(t.Context(), pdfAt(s.address()), timing)
	if err != nil {
		t.Fatal(err)
	}
	defer link.Close()
	s.set(func() { s.printerState, s.reasons = 5, []string{"media-empty"} })
	receipt, err := link.Send(t.Context(), Document{"report", sample(100)})
	if err != nil || receipt.Known != Taken || !strings.Contains(receipt.Words(), "out of paper") {
		t.Errorf("%+v, %v", receipt, err)
	}
}

// TestMessageForm holds the encoding against bytes that were written out by hand by RFC 8010, section 3, in the
// manner of its appendix A, and reads an answer with a language and a collection in it.
func TestMessageForm(t *testing.T) {
	m := &ippMessage{major: 1, minor: 1, code: 0x000a, id: 0x7b, groups: []ippGroup{{groupOperation, []ippAttribute{
		ippTexts(tagCharset, "attributes-charset", "utf-8"), ippTexts(tagLanguage, "attributes-natural-language", "en-us"),
		ippNumber(tagInteger, "limit", 50), ippTexts(tagKeyword, "requested-attributes", "job-id", "job-name"),
	}}}}
	got, err := m.encode()
	want := "\x01\x01\x00\x0a\x00\x00\x00\x7b\x01" +
		"\x47\x00\x12attributes-charset\x00\x05utf-8" +
		"\x48\x00\x1battributes-natural-language\x00\x05en-us" +
		"\x21\x00\x05limit\x00\x04\x00\x00\x00\x32" +
		"\x44\x00\x14requested-attributes\x00\x06job-id" +
		"\x44\x00\x00\x00\x08job-name\x03"
	if err != nil || string(got) != want {
		t.Errorf("%q, %v\nwant %q", got, err, want)
	}
	answer := "\x02\x00\x00\x00\x00\x00\x00\x7b\x04" +
		"\x35\x00\x15printer-state-message\x00\x0b\x00\x02de\x00\x05Leer." + // text with its language
		"\x34\x00\x0dmedia-default\x00\x00\x4a\x00\x00\x00\x05x-dim\x21\x00\x00\x00\x04\x00\x00\x52\x08\x37\x00\x00\x00\x00" + // a collection
		"\x23\x00\x0dprinter-state\x00\x04\x00\x00\x00\x05\x03document"
	read, rest, err := decodeIPP([]byte(answer))
	if err != nil || string(rest) != "document" {
		t.Fatalf("%q behind it: %v", rest, err)
	}
	if s := read.texts(groupPrinter, "printer-state-message"); !slices.Equal(s, []string{"Leer."}) {
		t.Errorf("the message is %q", s)
	}
	if n, ok := read.number(groupPrinter, "printer-state"); !ok || n != printerStopped {
		t.Errorf("the state is %d", n)
	}
	for n := range len(answer) - len("document") {
		if _, _, err := decodeIPP([]byte(answer[:n])); err == nil {
			t.Errorf("the first %d bytes are taken for a whole message", n)
		}
	}
}

// FuzzIPP feeds the reader of answers. What it reads comes out of the writer as a message that reads the same.
func FuzzIPP(f *testing.F) {
	f.Add([]byte("\x02\x00\x00\x00\x00\x00\x00\x7b\x04\x23\x00\x0dprinter-state\x00\x04\x00\x00\x00\x05\x03"))
	f.Add([]byte("\x01\x01\x04\x06\x00\x00\x00\x01\x01\x47\x00\x12attributes-charset\x00\x05utf-8\x44\x00\x01a\x00\x01b\x44\x00\x00\x00\x01c\x03rest"))
	f.Add([]byte("\x02\x00\x00\x00\x00\x00\x00\x01\x02\x35\x00\x01m\x00\x0b\x00\x02de\x00\x05Leer.\x34\x00\x01c\x00\x00\x37\x00\x00\x00\x00\x03"))
	f.Fuzz(func(t *testing.T, data []byte) {
		m, rest, err := decodeIPP(data)
		if err != nil {
			if !errors.Is(err, errForm) {
				t.Fatalf("%v", err)
			}
			return
		}
		if !bytes.HasSuffix(data, rest) {
			t.Fatal("what stands behind the message is not its end")
		}
		for _, g := range m.groups {
			for _, a := range g.attributes {
				m.texts(g.tag, a.name)
				m.number(g.tag, a.name)
			}
		}
		out, err := m.encode()
		if err != nil {
			t.Fatal(err)
		}
		again, left, err := decodeIPP(out)
		if err != nil || len(left) != 0 {
			t.Fatalf("written again it does not read: %v", err)
		}
		if once, _ := again.encode(); !bytes.Equal(once, out) {
			t.Fatal("written again it is another message")
		}
	})
}
