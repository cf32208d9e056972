package spool

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// cups is a real print server of the test's own, in a temporary folder, that listens on this machine only.
type cups struct {
	folder, at string
}

// startCups starts it. A machine without CUPS fails the test; nothing is skipped.
func startCups(t *testing.T) *cups {
	t.Helper()
	server, err := exec.LookPath("cupsd")
	if err != nil {
		if server = "/usr/sbin/cupsd"; !isFile(server) {
			t.Fatal("this test needs the print server CUPS, and none is here: on Debian, apt-get install cups cups-client")
		}
	}
	folder, err := os.MkdirTemp("", "wreath-cups-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(folder) })
	// Its helpers run as another user, who has to reach the folder.
	if err := os.Chmod(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"root", "spool", "spool/tmp", "cache", "state"} {
		if err := os.Mkdir(filepath.Join(folder, name), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	c := &cups{folder: folder, at: closedPort(t)}
	owner, group := "lp", "lp"
	if os.Geteuid() != 0 {
		u, err := user.Current()
		if err != nil {
			t.Fatal(err)
		}
		g, err := user.LookupGroupId(u.Gid)
		if err != nil {
			t.Fatal(err)
		}
		owner, group = u.Username, g.Name
	}
	c.write(t, "cups-files.conf", `
ServerRoot %[1]s/root
RequestRoot %[1]s/spool
TempDir %[1]s/spool/tmp
CacheDir %[1]s/cache
StateDir %[1]s/state
DataDir /usr/share/cups
ServerBin /usr/lib/cups
ErrorLog %[1]s/error_log
AccessLog %[1]s/access_log
PageLog %[1]s/page_log
User %[2]s
Group %[3]s
SystemGroup root
`, folder, owner, group)
	c.write(t, "cupsd.conf", `
Listen %s
Browsing Off
WebInterface No
DefaultAuthType None
LogLevel debug
<Location />
  Order allow,deny
  Allow from 127.0.0.1
</Location>
<Policy default>
  <Limit All>
    Order allow,deny
    Allow from 127.0.0.1
  </Limit>
</Policy>
`, c.at)
	process := exec.Command(server, "-f", "-c", filepath.Join(folder, "cupsd.conf"), "-s", filepath.Join(folder, "cups-files.conf"))
	process.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGTERM}
	var said bytes.Buffer
	process.Stdout, process.Stderr = &said, &said
	if err := process.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- process.Wait() }()
	t.Cleanup(func() {
		process.Process.Signal(syscall.SIGTERM)
		<-ended
		if t.Failed() {
			log, _ := os.ReadFile(filepath.Join(folder, "error_log"))
			t.Logf("the print server says:\n%s\n%s", said.Bytes(), log[max(0, len(log)-6000):])
		}
	})
	deadline := time.Now().Add(time.Minute)
	for {
		conn, err := net.Dial("tcp", c.at)
		if err == nil {
			conn.Close()
			return c
		}
		select {
		case err := <-ended:
			ended <- err
			t.Fatalf("the print server ended: %v\n%s", err, said.Bytes())
		case <-time.After(20 * time.Millisecond): // as long as it says nothing
		}
		if time.Now().After(deadline) {
			t.Fatalf("the print server did not come up: %v\n%s", err, said.Bytes())
		}
	}
}

func isFile(name string) bool {
	info, err := os.Stat(name)
	return err == nil && info.Mode().IsRegular()
}

func (c *cups) write(t *testing.T, name, format string, args ...any) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(c.folder, name), fmt.Appendf(nil, format, args...), 0o644); err != nil {
		t.Fatal(err)
	}
}

// run runs one of the programs of CUPS against the test's own server.
func (c *cups) run(t *testing.T, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		path = "/usr/sbin/" + name
	}
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	out, err := exec.CommandContext(ctx, path, append([]string{"-h", c.at}, args...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

// queue makes a queue that hands bytes as they are to a raw printer.
func (c *cups) queue(t *testing.T, name, address string) string {
	t.Helper()
	c.run(t, "lpadmin", "-p", name, "-E", "-v", "socket://"+strings.TrimPrefix(address, "tcp://"), "-m", "raw")
	return "ipp://" + c.at + "/printers/" + name
}

// TestCups prints through a real print server to a printer of the test, which gets exactly the bytes.
func TestCups(t *testing.T) {
	c := startCups(t)
	paper := startRaw(t, -1)
	queue := c.queue(t, "counter", paper.address())
	timing := quick
	timing.Follow = time.Minute

	slip := Lines(textAt(queue), "D-000001\nGold 750 ±0,3 ‰\n")
	for _, c := range []struct {
		name string
		p    Printer
		data []byte
	}{
		{"a slip as text", textAt(queue), slip},
		{"bytes of every value", textAt(queue), sample(50_000)},
		{"a report as PDF", pdfAt(queue), append([]byte("%PDF-1.7\n"), sample(200_000)...)},
	} {
		receipt, err := Send(t.Context(), c.p, Document{"slip D-000001", c.data}, timing)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if got := <-paper.got; !bytes.Equal(got, c.data) {
			t.Errorf("%s: %d bytes came, not the %d that were sent: %.200q", c.name, len(got), len(c.data), got)
		}
		if receipt.Known != Done {
			t.Errorf("%s: %+v", c.name, receipt)
		}
	}

	// A queue that is not there, and one that was stopped.
	_, err := Send(t.Context(), textAt(strings.Replace(queue, "counter", "cuonter", 1)), Document{"slip", slip}, timing)
	if found := troubleOf(t, err); found.Kind != Refused || !strings.Contains(found.Reason, "not known") {
		t.Errorf("%+v", found)
	}
	c.run(t, "cupsdisable", "counter")
	_, err = Send(t.Context(), textAt(queue), Document{"slip", slip}, timing)
	if found := troubleOf(t, err); found.Kind != Off || !strings.Contains(found.Reason, "paused") || found.Sent != 0 {
		t.Errorf("a stopped queue: %+v", found)
	}
	c.run(t, "cupsenable", "counter")
	c.run(t, "cupsreject", "counter")
	_, err = Send(t.Context(), textAt(queue), Document{"slip", slip}, timing)
	if found := troubleOf(t, err); found.Kind != Off || !strings.Contains(found.Reason, "closed") {
		t.Errorf("a closed queue: %+v", found)
	}
	c.run(t, "cupsaccept", "counter")
	if _, err = Send(t.Context(), textAt(queue), Document{"slip", slip}, timing); err != nil {
		t.Error(err)
	}
	if got := <-paper.got; !bytes.Equal(got, slip) {
		t.Errorf("%.200q came", got)
	}
	select {
	case extra := <-paper.got:
		t.Errorf("the printer got something nobody sent: %.200q", extra)
	default:
	}
}

// TestCupsCancelled cancels a job in the print server whose printer is off: it counts as broken off, since the
// print server had it.
func TestCupsCancelled(t *testing.T) {
	c := startCups(t)
	queue := c.queue(t, "counter", "tcp://"+closedPort(t))
	timing := quick
	timing.Follow = time.Minute
	link, err := Reach(t.Context(), textAt(queue), timing)
	if err != nil {
		t.Fatal(err)
	}
	defer link.Close()
	done := make(chan error, 1)
	go func() {
		_, err := link.Send(t.Context(), Document{"slip D-000001", []byte("a slip\r\n")})
		done <- err
	}()
	deadline := time.Now().Add(30 * time.Second)
	for !strings.Contains(c.run(t, "lpstat", "-o"), "counter-1") {
		if time.Now().After(deadline) {
			t.Fatal("the print server never got the job")
		}
	}
	c.run(t, "cancel", "counter-1")
	if found := troubleOf(t, <-done); found.Kind != Broken || found.Sent == 0 || !strings.Contains(found.Reason, "cancelled") {
		t.Errorf("%+v", found)
	}
}
