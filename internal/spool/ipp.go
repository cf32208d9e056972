package spool

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os/user"
	"slices"
	"strings"
	"sync/atomic"
	"time"
	"unicode/utf8"
)

// States of a printer and of a job (RFC 8011, sections 5.4.11 and 5.3.7).
const (
	printerStopped = 5
	jobCanceled    = 7
	jobAborted     = 8
	jobCompleted   = 9
)

// Status codes of an answer (RFC 8011, appendix B).
const (
	statusLastFine        = 0x00ff
	statusForbidden       = 0x0401
	statusNoSignIn        = 0x0402
	statusNotAuthorised   = 0x0403
	statusNotFound        = 0x0406
	statusTooLarge        = 0x0408
	statusFormat          = 0x040a
	statusUnavailable     = 0x0502
	statusDeviceError     = 0x0504
	statusTemporary       = 0x0505
	statusNotAccepting    = 0x0506
	statusBusy            = 0x0507
	statusServerErrors    = 0x0500
	maxAnswer             = 1 << 20 // bytes
	longestName           = 255     // bytes of a name (RFC 8011, section 5.1.3)
	ippType               = "application/ipp"
	anyBytes              = "application/octet-stream"
	formatPDF, formatText = "application/pdf", "text/plain"
)

// ippLink is a queue of a print system, or a printer that speaks its language itself.
type ippLink struct {
	name   string
	queue  string // its address for the protocol
	post   string // and for HTTP
	format string
	client *http.Client
	t      Timing
	id     uint32
}

// reachIPP asks how the queue stands.
func reachIPP(ctx context.Context, p Printer, u *url.URL, t Timing) (Link, error) {
	scheme := map[string]string{"ipp": "http", "ipps": "https"}[u.Scheme]
	l := &ippLink{name: p.Name, queue: u.String(), post: scheme + "://" + u.Host + u.EscapedPath(), t: t, client: &http.Client{
		// A document goes to where it was addressed, on one connection, and nowhere else.
		Transport:     &http.Transport{DisableKeepAlives: true, DisableCompression: true},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
	asked, cancel := context.WithTimeout(ctx, t.Dial)
	defer cancel()
	m, err := l.printer(asked)
	if err != nil {
		return nil, l.unanswered(u.Host, err)
	}
	if found := l.refusal(m.code); found != nil {
		return nil, found
	}
	if accepting := m.find(groupPrinter, "printer-is-accepting-jobs"); len(accepting) > 0 && accepting[0].tag == tagBoolean && bytes.Equal(accepting[0].data, []byte{0}) {
		return nil, &Trouble{Kind: Off, Printer: l.name, Reason: "takes no jobs at the moment: its queue was closed", Mend: "Open the queue in the print system; on CUPS: cupsaccept NAME."}
	}
	state, _ := m.number(groupPrinter, "printer-state")
	if found := judge(l.name, state, m.texts(groupPrinter, "printer-state-reasons"), first(m.texts(groupPrinter, "printer-state-message"))); found != nil {
		return nil, found
	}
	l.format = map[string]string{PDF: formatPDF, Text: formatText}[p.Takes]
	if known := m.texts(groupPrinter, "document-format-supported"); len(known) > 0 && !slices.Contains(known, l.format) {
		if p.Takes != Text || !slices.Contains(known, anyBytes) {
			return nil, &Trouble{Kind: Refused, Printer: l.name, Reason: "doesn't take " + l.format, Mend: "It takes " + strings.Join(known[:min(len(known), 8)], ", ") + "; set up the printer for what it takes."}
		}
		l.format = anyBytes
	}
	return l, nil
}

func (l *ippLink) Close() error {
	l.client.CloseIdleConnections()
	return nil
}

// request begins a request of an operation.
func (l *ippLink) request(operation uint16, more ...ippAttribute) *ippMessage {
	l.id++
	name := "wreath"
	if u, err := user.Current(); err == nil && u.Username != "" {
		name = u.Username
	}
	group := ippGroup{groupOperation, append([]ippAttribute{
		ippTexts(tagCharset, "attributes-charset", "utf-8"), // these two come first (RFC 8011, section 4.1.4)
		ippTexts(tagLanguage, "attributes-natural-language", "en"),
		ippTexts(tagURI, "printer-uri", l.queue),
		ippTexts(tagName, "requesting-user-name", cut(name, longestName)),
	}, more...)}
	return &ippMessage{major: 1, minor: 1, code: operation, id: l.id, groups: []ippGroup{group}}
}

// call sends a request with what stands behind it, and reads the answer.
func (l *ippLink) call(ctx context.Context, m *ippMessage, doc io.Reader, length int) (*ippMessage, error) {
	head, err := m.encode()
	if err != nil {
		return nil, err
	}
	body := io.Reader(bytes.NewReader(head))
	if doc != nil {
		body = io.MultiReader(body, doc)
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, l.post, body)
	if err != nil {
		return nil, err
	}
	r.ContentLength = int64(len(head) + length)
	r.Header.Set("Content-Type", ippType)
	answer, err := l.client.Do(r)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return nil, &httpError{answer.StatusCode}
	}
	data, err := io.ReadAll(io.LimitReader(answer.Body, maxAnswer))
	if err != nil {
		return nil, err
	}
	got, _, err := decodeIPP(data)
	if err != nil {
		return nil, err
	}
	if got.major < 1 || got.major > 2 || got.id != m.id {
		return nil, errForm
	}
	return got, nil
}

// httpError is an answer of the web server before the print system.
type httpError struct{ code int }

func (e *httpError) Error() string {
	return fmt.Sprintf("it answers %d %s", e.code, http.StatusText(e.code))
}

func (l *ippLink) printer(ctx context.Context) (*ippMessage, error) {
	return l.call(ctx, l.request(opGetPrinter, ippTexts(tagKeyword, "requested-attributes",
		"printer-state", "printer-state-reasons", "printer-state-message", "printer-is-accepting-jobs", "document-format-supported")), nil, 0)
}

// unanswered says why the print system gave no usable answer before anything was sent.
func (l *ippLink) unanswered(host string, err error) *Trouble {
	var http *httpError
	switch {
	case errors.As(err, &http) && (http.code == 401 || http.code == 403):
		return &Trouble{Kind: Refused, Printer: l.name, Reason: "lets this program not in: " + http.Error(), Mend: "Let this machine print there without a password.", Err: err}
	case errors.As(err, &http) && http.code == 404:
		return &Trouble{Kind: Refused, Printer: l.name, Reason: "is not known to the print system", Mend: "Check the name of the queue; lpstat -v lists them.", Err: err}
	case errors.As(err, &http), errors.Is(err, errForm):
		return &Trouble{Kind: Refused, Printer: l.name, Reason: "can't be asked at " + host + ": " + err.Error(), Mend: "Check host, port and queue.", Err: err}
	}
	found := unreached(l.name, host, err)
	found.Mend = "Check that the print system runs and that the address is right; then it is tried again."
	return found
}

// refusal turns the status of an answer into words; nil when it is fine.
func (l *ippLink) refusal(status uint16) *Trouble {
	t := &Trouble{Kind: Refused, Printer: l.name, Mend: "Check the queue in the print system."}
	switch {
	case status <= statusLastFine:
		return nil
	case status == statusForbidden, status == statusNoSignIn, status == statusNotAuthorised:
		t.Reason, t.Mend = "lets this account not print", "Let this machine print there without a password."
	case status == statusNotFound:
		t.Reason, t.Mend = "is not known to the print system", "Check the name of the queue; lpstat -v lists them."
	case status == statusFormat:
		t.Reason, t.Mend = "doesn't take this kind of document", "Set up the printer for what it takes: text or PDF."
	case status == statusTooLarge:
		t.Reason = "finds the document too large"
	case status == statusNotAccepting:
		t.Kind, t.Reason, t.Mend = Off, "takes no jobs at the moment: its queue was closed", "Open the queue in the print system; on CUPS: cupsaccept NAME."
	case status == statusUnavailable, status == statusTemporary, status == statusBusy:
		t.Kind, t.Reason, t.Mend = Off, "takes nothing at the moment", "It is tried again."
	case status == statusDeviceError:
		t.Kind, t.Reason, t.Mend = Attention, "reports a fault of the device", "Look at the printer."
	case status >= statusServerErrors:
		t.Reason = fmt.Sprintf("failed inside the print system (status %#04x)", status)
	default:
		t.Reason = fmt.Sprintf("refuses the job (status %#04x)", status)
	}
	return t
}

// reasons are keywords of printer-state-reasons (RFC 8011, section 5.4.12) in words, worst first. Offline is
// the keyword of CUPS and of PWG 5100.9.
var reasons = []struct {
	keyword, words, mend string
	kind                 Kind
}{
	{"media-empty", "is out of paper", "Put in paper.", NoPaper},
	{"media-needed", "is out of paper", "Put in paper.", NoPaper},
	{"media-jam", "has a paper jam", "Take the paper out.", Attention},
	{"cover-open", "has an open cover", "Close it.", Attention},
	{"door-open", "has an open door", "Close it.", Attention},
	{"interlock-open", "has an open door", "Close it.", Attention},
	{"input-tray-missing", "lacks its paper tray", "Put it in.", Attention},
	{"output-tray-missing", "lacks its output tray", "Put it in.", Attention},
	{"output-area-full", "has a full output tray", "Take the paper out.", Attention},
	{"toner-empty", "is out of toner", "Put in toner.", Attention},
	{"marker-supply-empty", "is out of ink or toner", "Put in a new one.", Attention},
	{"spool-area-full", "has no room left for jobs", "Wait until it has printed some, or remove jobs.", Off},
	{"offline", "is offline", "Switch it on and check its cable.", Off},
	{"timed-out", "does not answer the print system", "Switch it on and check its cable.", Off},
	{"shutdown", "is shut down", "Switch it on.", Off},
	{"paused", "is paused in the print system", "Let it go on; on CUPS: cupsenable NAME.", Off},
	{"moving-to-paused", "is about to be paused in the print system", "Let it go on; on CUPS: cupsenable NAME.", Off},
}

// judge says why a printer won't print now; nil when it may. A reason without a severity is an error, and
// a warning or a report prevents nothing (RFC 8011, section 5.4.12); but who is offline prints nothing,
// however mildly it is said.
func judge(name string, state int, keywords []string, message string) *Trouble {
	for _, r := range reasons {
		for _, k := range keywords {
			bare := strings.TrimSuffix(k, "-error")
			if r.keyword == "offline" {
				bare = strings.TrimSuffix(strings.TrimSuffix(bare, "-report"), "-warning")
			}
			if bare == r.keyword {
				return &Trouble{Kind: r.kind, Printer: name, Reason: r.words, Mend: r.mend}
			}
		}
	}
	if state != printerStopped {
		return nil
	}
	t := &Trouble{Kind: Off, Printer: name, Reason: "was stopped by the print system", Mend: "Look at the printer, then let it go on; on CUPS: cupsenable NAME."}
	if message != "" {
		t.Reason += ", which says: " + cut(message, 200)
	}
	return t
}

func first(texts []string) string {
	if len(texts) == 0 {
		return ""
	}
	return texts[0]
}

// cut shortens a text to a number of bytes, at the end of a letter.
func cut(text string, most int) string {
	text = strings.ToValidUTF8(text, "")
	for len(text) > most {
		_, n := utf8.DecodeLastRuneInString(text)
		text = text[:len(text)-n]
	}
	return text
}

// counted counts what was read of a document, and feels when nothing is taken any more.
type counted struct {
	from  io.Reader
	n     atomic.Int64
	moved func()
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.from.Read(p[:min(len(p), chunk)])
	c.n.Add(int64(n))
	c.moved()
	return n, err
}

// Send hands the document to the print system and follows it for a while.
func (l *ippLink) Send(ctx context.Context, doc Document) (Receipt, error) {
	sending, cancel := context.WithCancel(ctx)
	defer cancel()
	stall := time.AfterFunc(l.t.Stall, cancel)
	defer stall.Stop()
	body := &counted{from: bytes.NewReader(doc.Data), moved: func() { stall.Reset(l.t.Stall) }}
	m := l.request(opPrintJob, ippTexts(tagName, "job-name", cut(doc.Title, longestName)), ippTexts(tagMediaType, "document-format", l.format))
	m.groups = append(m.groups, ippGroup{groupJob, []ippAttribute{ippNumber(tagInteger, "copies", 1)}}) // whatever the queue is used to
	answer, err := l.call(sending, m, body, len(doc.Data))
	sent := body.n.Load()
	if err != nil {
		t := &Trouble{Kind: Broken, Printer: l.name, Reason: "broke off while the print system took the document: " + err.Error(), Mend: lookAtPaper, Sent: sent, Err: err}
		switch {
		case ctx.Err() != nil:
			t.Reason = "was left half-way, because this program was told to end"
		case sending.Err() != nil:
			t.Kind, t.Reason = Stuck, "took nothing more: the print system stalls"
		}
		if sent == 0 {
			t.Kind, t.Mend = Off, "It is tried again: nothing had been sent."
		}
		return Receipt{}, t
	}
	// What the print system refuses, it does not print, whatever was sent.
	if refused := l.refusal(answer.code); refused != nil {
		return Receipt{}, refused
	}
	job, ok := answer.number(groupJob, "job-id")
	if !ok {
		return Receipt{Known: Taken, Sent: sent}, nil
	}
	return l.follow(ctx, job, sent)
}

// follow asks how a job goes on until it is over or time is up.
func (l *ippLink) follow(ctx context.Context, job int, sent int64) (Receipt, error) {
	ctx, cancel := context.WithTimeout(ctx, l.t.Follow)
	defer cancel()
	taken := Receipt{Known: Taken, Sent: sent}
	poll := time.NewTicker(l.t.Poll)
	defer poll.Stop()
	for {
		m, err := l.call(ctx, l.request(opGetJob, ippNumber(tagInteger, "job-id", job), ippTexts(tagKeyword, "requested-attributes",
			"job-state", "job-state-reasons", "job-state-message", "job-printer-state-message")), nil, 0)
		if err == nil && m.code <= statusLastFine {
			state, _ := m.number(groupJob, "job-state")
			switch state {
			case jobCompleted:
				return Receipt{Known: Done, Sent: sent}, nil
			case jobCanceled, jobAborted:
				return Receipt{}, l.gaveUp(state, m, sent)
			}
		}
		select {
		case <-ctx.Done():
			return taken, nil
		case <-poll.C:
		}
		// Why it takes long is worth a word.
		if m, err := l.printer(ctx); err == nil && m.code <= statusLastFine {
			state, _ := m.number(groupPrinter, "printer-state")
			taken.Note = ""
			if found := judge(l.name, state, m.texts(groupPrinter, "printer-state-reasons"), first(m.texts(groupPrinter, "printer-state-message"))); found != nil {
				taken.Note = "the printer " + found.Reason + ", and the job waits there"
			}
		}
	}
}

func (l *ippLink) gaveUp(state int, m *ippMessage, sent int64) *Trouble {
	t := &Trouble{Kind: Broken, Printer: l.name, Reason: "gave the job up", Mend: lookAtPaper, Sent: sent}
	if state == jobCanceled {
		t.Reason = "did not print the job to its end: somebody cancelled it in the print system"
	}
	said := first(m.texts(groupJob, "job-printer-state-message"))
	if said == "" {
		said = first(m.texts(groupJob, "job-state-message"))
	}
	if said != "" {
		t.Reason += ". The print system says: " + cut(said, 200)
	}
	return t
}
