package spool

import (
	"bytes"
	"errors"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
)

// pipe is a named pipe, which stands for a device.
func pipe(t testing.TB) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "lp0")
	if err := syscall.Mkfifo(name, 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

func TestDeviceGetsTheBytes(t *testing.T) {
	name := pipe(t)
	_, err := Send(t.Context(), textAt("device://"+name), Document{"slip", sample(10)}, quick)
	if found := troubleOf(t, err); found.Kind != Off || !found.Later() {
		t.Errorf("a pipe that nobody reads: %+v", found)
	}
	reader, err := os.OpenFile(name, os.O_RDWR|syscall.O_NONBLOCK, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	got := make(chan []byte, 1)
	go func() {
		data := make([]byte, 200_000)
		n, _ := io.ReadFull(reader, data)
		got <- data[:n]
	}()
	receipt, err := Send(t.Context(), textAt("device://"+name), Document{"slip", sample(200_000)}, quick)
	if err != nil || receipt.Sent != 200_000 || receipt.Known != HandedOver {
		t.Fatalf("%+v, %v", receipt, err)
	}
	if !bytes.Equal(<-got, sample(200_000)) {
		t.Error("other bytes came")
	}
}

// TestDeviceOutOfPaper writes to the device of Linux that is always full: printers on USB answer in the same
// way when they are out of paper.
func TestDeviceOutOfPaper(t *testing.T) {
	_, err := Send(t.Context(), textAt("device:///dev/full"), Document{"slip", sample(10)}, quick)
	if found := troubleOf(t, err); found.Kind != NoPaper || found.Sent != 0 || !found.Later() || !strings.Contains(found.Hint(), "Put in paper") {
		t.Errorf("%+v", found)
	}
}

// TestDeviceFails reads from a line whose other end is gone, which gives the error of a fault.
func TestDeviceFails(t *testing.T) {
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	name := slave.Name()
	link, err := Reach(t.Context(), textAt("device://"+name), quick)
	if err != nil {
		t.Fatal(err)
	}
	defer link.Close()
	master.Close()
	slave.Close()
	_, err = link.Send(t.Context(), Document{"slip", sample(10)})
	if found := troubleOf(t, err); found.Sent != 0 || !found.Later() || !strings.Contains(found.Reason, "fault") {
		t.Errorf("%+v", found)
	}
}

func TestDeviceBreaksHalfWay(t *testing.T) {
	for _, n := range []int{1, chunk, 100_000} {
		name := pipe(t)
		reader, err := os.OpenFile(name, os.O_RDWR|syscall.O_NONBLOCK, 0)
		if err != nil {
			t.Fatal(err)
		}
		go func() {
			io.ReadFull(reader, make([]byte, n))
			reader.Close()
		}()
		_, err = Send(t.Context(), textAt("device://"+name), Document{"slip", sample(1 << 20)}, quick)
		if found := troubleOf(t, err); found.Kind != Broken || found.Sent < int64(n) || found.Later() || !strings.Contains(found.Reason, "went away") {
			t.Errorf("%+v", found)
		}
	}
}

func TestDeviceStalls(t *testing.T) {
	name := pipe(t)
	reader, err := os.OpenFile(name, os.O_RDWR|syscall.O_NONBLOCK, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	timing := quick
	timing.Stall = 100 * time.Millisecond
	_, err = Send(t.Context(), textAt("device://"+name), Document{"slip", sample(1 << 20)}, timing)
	if found := troubleOf(t, err); found.Kind != Stuck || found.Sent == 0 || found.Later() {
		t.Errorf("%+v", found)
	}
}

// TestResetAfterTheEnd has a printer that ended its side before the last bytes came: its reset comes after its
// end, so who reads sees an end like any other, and only the state of the connection tells.
func TestResetAfterTheEnd(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	c, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	printer, err := l.Accept()
	if err != nil {
		t.Fatal(err)
	}
	printer.Close()
	if _, err := io.Copy(io.Discard, c); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Write([]byte("the last line\r\n")); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	ended <- nil
	if err := (&tcpLink{"counter", c.(*net.TCPConn), quick}).farewell(t.Context(), ended); !errors.Is(err, syscall.EPIPE) && !errors.Is(err, syscall.ECONNRESET) {
		t.Errorf("lost bytes: %v, want the reset", err)
	}
}
