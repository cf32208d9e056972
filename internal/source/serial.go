package source

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"go.bug.st/serial"
)

// serialLine opens a serial port again and again.
type serialLine struct {
	address  Address
	identity string // of the port when it was open last
}

func (s *serialLine) open(context.Context) (conn, error) {
	name := s.address.Where
	c, err := openSerial(name, s.address)
	// An adapter that was plugged in again may have got another number: ttyUSB1 in place of ttyUSB0.
	if errors.Is(err, fs.ErrNotExist) && strings.HasPrefix(s.identity, byID) {
		c, err = openSerial(s.identity, s.address)
	}
	if err != nil {
		return nil, err
	}
	s.identity = c.identity
	return c, nil
}

var parities = map[string]serial.Parity{"none": serial.NoParity, "odd": serial.OddParity, "even": serial.EvenParity,
	"mark": serial.MarkParity, "space": serial.SpaceParity}

var stops = map[string]serial.StopBits{"1": serial.OneStopBit, "1.5": serial.OnePointFiveStopBits, "2": serial.TwoStopBits}

// serialConn is an open serial port. Its port is closed by the goroutine that reads, and never while a
// read is under way: the number of a closed file is soon another file's.
type serialConn struct {
	port     serial.Port
	name     string
	identity string
	requests chan []byte
	busy     atomic.Bool   // a request waits to be taken
	written  chan struct{} // closed when the writing goroutine is gone
}

func openSerial(name string, a Address) (*serialConn, error) {
	port, err := serial.Open(name, &serial.Mode{BaudRate: a.Speed, DataBits: a.Data, Parity: parities[a.Parity], StopBits: stops[a.Stop]})
	if err != nil {
		return nil, explain(name, err)
	}
	for _, bit := range []struct {
		set  func(bool) error
		want string
	}{{port.SetRTS, a.RTS}, {port.SetDTR, a.DTR}} {
		if bit.want == "" {
			continue
		}
		// A pseudo-terminal has no such lines.
		if err := bit.set(bit.want == "on"); err != nil && !errors.Is(err, syscall.ENOTTY) {
			port.Close()
			return nil, fmt.Errorf("set RTS or DTR of %s: %w; leave rts and dtr out of the address", name, err)
		}
	}
	if err := port.SetReadTimeout(tick); err != nil {
		port.Close()
		return nil, fmt.Errorf("set the waiting time of %s: %w", name, err)
	}
	c := &serialConn{port: port, name: name, identity: identityOf(name, adapters(byID)), requests: make(chan []byte, 1), written: make(chan struct{})}
	go c.write()
	return c, nil
}

// write sends requests. It has a goroutine of its own because a port may take its time, or for ever.
func (c *serialConn) write() {
	defer close(c.written)
	for p := range c.requests {
		for len(p) > 0 {
			n, err := c.port.Write(p)
			if err != nil {
				break // the reading side meets the same error and says so
			}
			p = p[n:]
		}
		c.busy.Store(false)
	}
}

func (c *serialConn) Write(p []byte) (int, error) {
	if !c.busy.CompareAndSwap(false, true) {
		return 0, errNotTaken
	}
	c.requests <- p
	return len(p), nil
}

func (c *serialConn) Read(p []byte) (n int, err error) {
	// On Unix the port is waited for by select(2), which knows the first 1024 files of a program only.
	defer func() {
		if recover() != nil {
			n, err = 0, fmt.Errorf("read %s: too many files are open in this program", c.name)
		}
	}()
	n, err = c.port.Read(p)
	if err == nil {
		return n, nil
	}
	var perr *serial.PortError
	if errors.As(err, &perr) && perr.Code() == serial.PortClosed || errors.Is(err, syscall.EIO) || errors.Is(err, syscall.ENXIO) {
		err = errGone
	}
	return n, fmt.Errorf("read %s: %w", c.name, err)
}

func (c *serialConn) Close() error {
	close(c.requests)
	for {
		// What nobody takes is thrown away, or the writing goroutine would never end.
		c.port.ResetOutputBuffer()
		select {
		case <-c.written:
			return c.port.Close()
		case <-time.After(tick):
		}
	}
}

func (c *serialConn) Identity() string { return c.identity }
func (c *serialConn) Whole() bool      { return false }

// explain says what to do about a port that does not open.
func explain(name string, err error) error {
	var perr *serial.PortError
	code := serial.PortErrorCode(-1)
	if errors.As(err, &perr) {
		code = perr.Code()
	}
	switch {
	case code == serial.PortNotFound || errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("open %s: the port is not there; plug the cable in or name another port: %w", name, fs.ErrNotExist)
	case code == serial.PermissionDenied || errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("open %s: no permission; on Linux add the user to the group dialout and log in again: %w", name, fs.ErrPermission)
	case code == serial.PortBusy || errors.Is(err, syscall.EBUSY):
		return fmt.Errorf("open %s: another program holds the port; end that program", name)
	}
	return fmt.Errorf("open %s: %w", name, err)
}
