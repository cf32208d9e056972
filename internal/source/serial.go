package source

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"syscall"
	"time"

	"go.bug.st/serial"
)

// serialLine opens a serial port again and again.
type serialLine struct {
	address  Address
	asks     bool   // requests are sent
	identity string // of the port when it was open last
}

func (s *serialLine) open(context.Context) (conn, error) {
	name := s.address.Where
	c, err := openSerial(name, s.address, s.asks)
	// An adapter that was plugged in again may have got another number: ttyUSB1 in place of ttyUSB0.
	if errors.Is(err, fs.ErrNotExist) && strings.HasPrefix(s.identity, byID) {
		c, err = openSerial(s.identity, s.address, s.asks)
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
	out      io.WriteCloser // for requests; nil where there are none, or where they go to port
	name     string
	identity string
}

func openSerial(name string, a Address, asks bool) (_ *serialConn, err error) {
	c := &serialConn{name: name}
	defer func() {
		if err != nil {
			c.Close()
		}
	}()
	if asks {
		// Before the port itself, which lets nobody else in.
		if c.out, err = openRequests(name); err != nil {
			return nil, explain(name, err)
		}
	}
	port, err := serial.Open(name, &serial.Mode{BaudRate: a.Speed, DataBits: a.Data, Parity: parities[a.Parity], StopBits: stops[a.Stop]})
	if err != nil {
		return nil, explain(name, err)
	}
	c.port = port
	for _, bit := range []struct {
		set  func(bool) error
		want string
	}{{port.SetRTS, a.RTS}, {port.SetDTR, a.DTR}} {
		if bit.want == "" {
			continue
		}
		// A pseudo-terminal has no such lines.
		if err := bit.set(bit.want == "on"); err != nil && !errors.Is(err, syscall.ENOTTY) {
			return nil, fmt.Errorf("set RTS or DTR of %s: %w; leave rts and dtr out of the address", name, err)
		}
	}
	if err := port.SetReadTimeout(tick); err != nil {
		return nil, fmt.Errorf("set the waiting time of %s: %w", name, err)
	}
	c.identity = identityOf(name, adapters(byID))
	return c, nil
}

func (c *serialConn) Write(p []byte) (int, error) {
	var out io.Writer = c.port
	if c.out != nil {
		out = c.out
	}
	if d, ok := out.(interface{ SetWriteDeadline(time.Time) error }); ok {
		d.SetWriteDeadline(time.Now().Add(tick)) // one that knows no deadline does not wait
	}
	n, err := out.Write(p)
	if errors.Is(err, os.ErrDeadlineExceeded) || errors.Is(err, syscall.EAGAIN) {
		// Nobody takes it. Half a request must not stand before the next one.
		c.port.ResetOutputBuffer()
		return n, errNotTaken
	}
	return n, c.gone("write", err)
}

func (c *serialConn) Read(p []byte) (n int, err error) {
	// On Unix the port is waited for by select(2), which knows the first 1024 files of a program only.
	defer func() {
		if recover() != nil {
			n, err = 0, fmt.Errorf("read %s: too many files are open in this program", c.name)
		}
	}()
	n, err = c.port.Read(p)
	return n, c.gone("read", err)
}

// gone says of what a port gives when its plug was pulled that it was.
func (c *serialConn) gone(doing string, err error) error {
	if err == nil {
		return nil
	}
	var perr *serial.PortError
	if errors.As(err, &perr) && perr.Code() == serial.PortClosed || errors.Is(err, syscall.EIO) || errors.Is(err, syscall.ENXIO) {
		err = errGone
	}
	return fmt.Errorf("%s %s: %w", doing, c.name, err)
}

// Close closes what is open.
func (c *serialConn) Close() error {
	if c.out != nil {
		c.out.Close()
	}
	if c.port == nil {
		return nil
	}
	return c.port.Close()
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
