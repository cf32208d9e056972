//go:build linux || darwin

package source

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
)

// speaker is the name of the variable that makes this test program an instrument behind a pseudo-terminal.
const speaker = "WREATH_TEST_SPEAKER"

func TestMain(m *testing.M) {
	if os.Getenv(speaker) != "" {
		speak()
		return
	}
	os.Exit(m.Run())
}

// speak says the name of its port and then repeats to the port what it is told on its input.
func speak() {
	master, port, err := pty.Open()
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	fmt.Println(port.Name())
	io.Copy(master, os.Stdin)
}

// instrument is a program of its own that can be killed, as a cable is pulled.
type instrument struct {
	io.Writer // to the port
	name      string
	kill      func()
}

func plugIn(t *testing.T) instrument {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), speaker+"=1")
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	killed := false
	kill := func() {
		if !killed {
			killed = true
			cmd.Process.Kill()
			cmd.Wait()
		}
	}
	t.Cleanup(kill)
	name, err := bufio.NewReader(out).ReadString('\n')
	if err != nil || !strings.HasPrefix(name, "/dev/") {
		t.Fatalf("the other program says %q, %v", name, err)
	}
	return instrument{in, strings.TrimSpace(name), kill}
}

func TestSerialUnplugAndReplug(t *testing.T) {
	link := filepath.Join(t.TempDir(), "port")
	e := follow(t, open(t, "serial://"+link+"?speed=19200&data=7&parity=even&stop=2&rts=on&dtr=off", Options{}))
	e.failure("the port is not there")
	for round := range 3 {
		i := plugIn(t)
		if err := os.Symlink(i.name, link); err != nil {
			t.Fatal(err)
		}
		up := e.link(Connected)
		if up.Identity != PseudoTerminal || up.Whole {
			t.Errorf("connected to %q, whole %v", up.Identity, up.Whole)
		}
		said := fmt.Sprintf("round %d: 12.3456 g\r\nand a half li", round)
		io.WriteString(i, said)
		e.hears(said)
		i.kill()
		e.failure("")
		if err := os.Remove(link); err != nil {
			t.Fatal(err)
		}
	}
}

func TestSerialAsks(t *testing.T) {
	master, port, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer master.Close()
	defer port.Close()
	e := follow(t, open(t, "serial://"+port.Name(), Options{Request: []byte("Q\r\n"), Every: 50 * time.Millisecond}))
	asked := bufio.NewReader(master)
	for n := range 5 {
		question, err := asked.ReadString('\n')
		if err != nil || question != "Q\r\n" {
			t.Fatalf("asked %q, %v", question, err)
		}
		fmt.Fprintf(master, "%d g\r\n", n)
		e.hears(fmt.Sprintf("%d g\r\n", n))
	}
}

// Nobody reads what is sent: the port fills up, and Run ends all the same.
func TestSerialNobodyListens(t *testing.T) {
	master, port, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { master.Close(); port.Close() }) // only when the source has ended
	e := follow(t, open(t, "serial://"+port.Name(), Options{Request: make([]byte, 60_000), Every: 50 * time.Millisecond, Silent: 300 * time.Millisecond}))
	e.link(Quiet)
	io.WriteString(master, "still there\r\n")
	e.link(Connected)
	e.hears("still there\r\n")
}

func TestSerialRefusals(t *testing.T) {
	file := filepath.Join(t.TempDir(), "no port")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	e := follow(t, open(t, "serial://"+strings.ReplaceAll(file, " ", "%20"), Options{}))
	e.failure(file)
}

func TestPortIdentity(t *testing.T) {
	folder := t.TempDir()
	device := filepath.Join(folder, "ttyUSB7")
	if err := os.WriteFile(device, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	ids := filepath.Join(folder, "by-id")
	if err := os.Mkdir(ids, 0o700); err != nil {
		t.Fatal(err)
	}
	lasting := filepath.Join(ids, "usb-Adapter_0001-if00")
	if err := os.Symlink("../ttyUSB7", lasting); err != nil {
		t.Fatal(err)
	}
	known := adapters(ids)
	for _, name := range []string{device, lasting} {
		if got := identityOf(name, known); got != lasting {
			t.Errorf("identity of %s = %s, want %s", name, got, lasting)
		}
	}
	if got := identityOf(filepath.Join(folder, "gone"), known); got != filepath.Join(folder, "gone") {
		t.Errorf("identity of a port that is gone = %s", got)
	}
	if _, err := Ports(); err != nil {
		t.Error(err)
	}
}
