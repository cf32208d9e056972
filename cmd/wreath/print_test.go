package main

import (
	"bytes"
	"encoding/json"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wreath/internal/spool"
)

// paperTray is a printer on the network, and what came out of it.
type paperTray struct {
	at  string
	got chan []byte
}

func startTray(t *testing.T, at string) *paperTray {
	t.Helper()
	l, err := net.Listen("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	p := &paperTray{l.Addr().String(), make(chan []byte, 100)}
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			data, _ := io.ReadAll(c)
			c.Close()
			p.got <- data
		}
	}()
	return p
}

// next is the next paper.
func (p *paperTray) next(t *testing.T) []byte {
	t.Helper()
	select {
	case data := <-p.got:
		return data
	case <-time.After(time.Minute):
		t.Fatal("no paper comes")
		return nil
	}
}

// command runs the program, and gives its exit code and what it printed.
func command(t *testing.T, args ...string) (code int, said string) {
	t.Helper()
	var out bytes.Buffer
	code = run(args, streams{In: strings.NewReader(""), Out: &out, Err: &out})
	return code, out.String()
}

// does runs a command that must work.
func does(t *testing.T, args ...string) string {
	t.Helper()
	code, said := command(t, args...)
	if code != exitFine {
		t.Fatalf("wreath %s: exit %d: %s", strings.Join(args, " "), code, said)
	}
	return said
}

// benchWithARecord is a shop with the record D-000001.
func benchWithARecord(t *testing.T) {
	t.Helper()
	folder := t.TempDir()
	t.Setenv("HOME", folder)
	t.Setenv("XDG_DATA_HOME", folder)
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(folder, "config"))
	t.Setenv("WREATH_STORE", filepath.Join(folder, "shop.wreath"))
	does(t, "shop", "open", "--name", "Invented Shop", "--time-zone", "UTC")
	does(t, "record", "../../examples/ring.json")
}

func jobsIn(t *testing.T) (jobs []spool.Job) {
	t.Helper()
	if err := json.Unmarshal([]byte(does(t, "queue", "list", "--format", "json")), &jobs); err != nil {
		t.Fatal(err)
	}
	return jobs
}

// TestPrint prints every paper without a server: the bytes fit the printer, and from the second time on they
// say COPY.
func TestPrint(t *testing.T) {
	benchWithARecord(t)
	tray := startTray(t, "127.0.0.1:0")
	does(t, "printer", "add", "counter", "tcp://"+tray.at, "--takes", "text", "--columns", "32", "--feed", "5")
	does(t, "printer", "add", "pages", "tcp://"+tray.at, "--takes", "pdf", "--paper", "80 mm")
	does(t, "printer", "add", "labels", "tcp://"+tray.at, "--takes", "pdf", "--paper", "57x32 mm")
	does(t, "printer", "add", "office", "tcp://"+tray.at, "--takes", "pdf")

	for n, copied := range []string{"", "COPY 1", "COPY 2"} {
		said := does(t, "print", "D-000001", "--as", "slip", "--printer", "counter")
		if !strings.Contains(said, "handed over") || copied != "" && !strings.Contains(said, copied) {
			t.Errorf("print %d says %s", n, said)
		}
		slip := string(tray.next(t))
		for line := range strings.SplitSeq(strings.TrimSuffix(slip, "\r\n"), "\r\n") {
			if len(line) > 32 || strings.ContainsFunc(line, func(r rune) bool { return r < ' ' || r > '~' }) {
				t.Errorf("print %d has the line %q", n, line)
			}
		}
		if !strings.HasSuffix(slip, strings.Repeat("\r\n", 6)) || strings.HasSuffix(slip, strings.Repeat("\r\n", 8)) {
			t.Errorf("print %d ends with %q", n, slip[len(slip)-20:])
		}
		if !strings.Contains(slip, "Invented Shop") || strings.Contains(slip, "COPY") != (copied != "") || !strings.Contains(slip, copied) {
			t.Errorf("print %d, %q:\n%s", n, copied, slip)
		}
	}
	for _, row := range [][]string{
		{"print", "D-000001", "--as", "slip", "--printer", "pages", "--language", "de", "--language", "es"},
		{"print", "D-000001", "--as", "label", "--printer", "labels"},
		{"print", "D-000001", "--as", "label", "--printer", "pages"},
		{"print", "D-000001", "--as", "label", "--printer", "office"},
		{"printer", "test", "office"}, {"printer", "test", "labels"}, {"printer", "test", "pages"},
	} {
		does(t, row...)
		if got := tray.next(t); !bytes.HasPrefix(got, []byte("%PDF-")) || !bytes.HasSuffix(bytes.TrimSpace(got), []byte("%%EOF")) {
			t.Errorf("%v: %.50q", row, got)
		}
	}
	if does(t, "printer", "test", "counter"); !strings.Contains(string(tray.next(t)), "12345678901234567890123456789012\r\n") {
		t.Error("the test page has no full line")
	}
	if does(t, "print", "D-000001", "--as", "label", "--printer", "counter"); !strings.Contains(string(tray.next(t)), "COPY 3") {
		t.Error("the fourth label is no copy")
	}
	if jobs := jobsIn(t); len(jobs) != 0 {
		t.Errorf("the queue: %+v", jobs)
	}
	code, said := command(t, "print", "D-000001", "--as", "report", "--printer", "office")
	if code != exitUsage || !strings.Contains(said, "Issue it first") {
		t.Errorf("a report that was not issued: exit %d, %s", code, said)
	}
	code, said = command(t, "print", "D-000009", "--as", "slip", "--printer", "counter")
	if code != exitMissing {
		t.Errorf("a record that is not there: exit %d, %s", code, said)
	}
}

// TestPrintWhatCantBeMade asks for a paper that can't be made: nothing is sent, the job fails with the reason.
func TestPrintWhatCantBeMade(t *testing.T) {
	benchWithARecord(t)
	tray := startTray(t, "127.0.0.1:0")
	does(t, "printer", "add", "counter", "tcp://"+tray.at, "--takes", "text")
	code, said := command(t, "print", "D-000001", "--as", "slip", "--language", "tlh")
	if code != exitFailed || !strings.Contains(said, "can't be made") || !strings.Contains(said, "Nothing came out") {
		t.Errorf("exit %d: %s", code, said)
	}
	if jobs := jobsIn(t); len(jobs) != 1 || jobs[0].State != spool.Failed || jobs[0].MayHaveComeOut() {
		t.Errorf("the queue: %+v", jobs)
	}
	does(t, "print", "D-000001", "--as", "slip")
	if strings.Contains(string(tray.next(t)), "COPY") {
		t.Error("the first paper says COPY")
	}
}

// TestPrintBesideTheServer lets a slip wait while the printer is off; the served pages print it when it is on,
// once. Printed at the same time from both sides no slip is lost or printed twice.
func TestPrintBesideTheServer(t *testing.T) {
	benchWithARecord(t)
	off, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := off.Addr().String()
	off.Close()
	does(t, "printer", "add", "counter", "tcp://"+at, "--takes", "text")
	_, _, stop := serving(t, serveCmd{place: place{Store: os.Getenv("WREATH_STORE")}, Listen: "127.0.0.1:0"})
	code, said := command(t, "print", "D-000001", "--as", "slip")
	if code != exitLater || !strings.Contains(said, "refuses the connection") || !strings.Contains(said, "wreath queue again P-000001") {
		t.Errorf("off: exit %d, %s", code, said)
	}
	if jobs := jobsIn(t); len(jobs) != 1 || jobs[0].State != spool.Waiting {
		t.Errorf("the queue: %+v", jobs)
	}
	tray := startTray(t, at)
	if slip := string(tray.next(t)); strings.Contains(slip, "COPY") {
		t.Errorf("the first slip:\n%s", slip)
	}
	const more = 5
	for range more {
		does(t, "print", "D-000001", "--as", "slip")
	}
	seen := map[string]bool{}
	for range more {
		slip := string(tray.next(t))
		at := strings.Index(slip, "COPY ")
		if at < 0 || seen[slip[at:at+6]] {
			t.Fatalf("a slip without a number of its own:\n%s", slip)
		}
		seen[slip[at:at+6]] = true
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
	select {
	case extra := <-tray.got:
		t.Errorf("a slip too many:\n%s", extra)
	default:
	}
	if jobs := jobsIn(t); len(jobs) != 0 {
		t.Errorf("the queue: %+v", jobs)
	}
}
