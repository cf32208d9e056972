package spool

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"syscall"
	"time"
)

// deviceLink is a printer behind a device file.
type deviceLink struct {
	name string
	file *os.File
	t    Timing
}

// reachDevice opens a device. A regular file is no printer: what stands in one is never written over.
func reachDevice(_ context.Context, name, path string, t Timing) (Link, error) {
	trouble := func(kind Kind, mend, reason string, args ...any) *Trouble {
		return &Trouble{Kind: kind, Printer: name, Reason: fmt.Sprintf(reason, args...), Mend: mend}
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, trouble(Off, "Switch the printer on and check its cable; the device comes with it.", "is not there: there is no %s", path)
	case err == nil && info.Mode()&(fs.ModeCharDevice|fs.ModeNamedPipe) == 0:
		return nil, trouble(Refused, "Give the printer's device, such as /dev/usb/lp0.", "can't be %s: that is no device that takes letters", path)
	}
	// Without waiting: a pipe that nobody reads and a line without a partner would hold the program.
	file, err := os.OpenFile(path, os.O_WRONLY|openAtOnce, 0)
	if err != nil {
		found := trouble(Off, "Switch the printer on and check its cable.", "can't be opened: %v", err)
		switch {
		case errors.Is(err, fs.ErrPermission):
			found.Kind, found.Reason = Off, "may not be written to by this account"
			found.Mend = "Give the account the right to " + path + "; on Debian: adduser ACCOUNT lp."
		case errors.Is(err, syscall.EBUSY):
			found.Reason, found.Mend = "is in use by another program", "End the other program, or print through it."
		}
		found.Err = err
		return nil, found
	}
	return &deviceLink{name: name, file: file, t: t}, nil
}

func (l *deviceLink) Close() error {
	if err := l.file.Close(); err != nil && !errors.Is(err, os.ErrClosed) {
		return err
	}
	return nil
}

// Send writes everything and closes the device.
func (l *deviceLink) Send(ctx context.Context, doc Document) (Receipt, error) {
	stop := context.AfterFunc(ctx, func() { l.file.SetWriteDeadline(time.Unix(1, 0)) })
	defer stop()
	var sent int64
	for left := doc.Data; len(left) > 0; {
		n, err := l.write(ctx, left[:min(chunk, len(left))])
		sent += int64(n)
		left = left[n:]
		if err != nil {
			return Receipt{}, l.failed(ctx, sent, err)
		}
	}
	if err := l.Close(); err != nil { // some devices say only now what went wrong
		return Receipt{}, l.failed(ctx, sent, err)
	}
	return Receipt{Known: HandedOver, Sent: sent}, nil
}

// write writes with patience: a device that takes nothing is asked again until it has stalled too long.
func (l *deviceLink) write(ctx context.Context, data []byte) (sent int, err error) {
	until := time.Now().Add(l.t.Stall)
	if ctx.Err() == nil {
		l.file.SetWriteDeadline(until) // some devices know no deadline; they say that they are busy instead
	}
	for {
		n, err := l.file.Write(data[sent:])
		sent += n
		if !errors.Is(err, syscall.EAGAIN) {
			return sent, err
		}
		if n > 0 {
			until = time.Now().Add(l.t.Stall)
		}
		select {
		case <-ctx.Done():
			return sent, ctx.Err()
		case <-time.After(20 * time.Millisecond):
		}
		if time.Now().After(until) {
			return sent, os.ErrDeadlineExceeded
		}
	}
}

func (l *deviceLink) failed(ctx context.Context, sent int64, err error) *Trouble {
	t := &Trouble{Kind: Broken, Printer: l.name, Mend: lookAtPaper, Sent: sent, Err: err}
	switch {
	case ctx.Err() != nil:
		t.Reason = "was left half-way, because this program was told to end"
	case errors.Is(err, syscall.ENOSPC): // printers on USB and parallel lines say so on Linux
		t.Kind, t.Reason = NoPaper, "is out of paper"
	case errors.Is(err, syscall.EIO):
		t.Reason = "reports a fault"
	case errors.Is(err, syscall.ENODEV), errors.Is(err, syscall.ENXIO), errors.Is(err, syscall.EPIPE):
		t.Reason = "went away: it was switched off or unplugged"
	case errors.Is(err, os.ErrDeadlineExceeded):
		t.Kind, t.Reason = Stuck, "stopped taking bytes: it may be out of paper, jammed or switched off"
	default:
		t.Reason = "took no more: " + err.Error()
	}
	if sent == 0 {
		if t.Kind != NoPaper {
			t.Kind = Off
		}
		t.Mend = "Put it right; it is tried again, because nothing had been sent."
		if t.Kind == NoPaper {
			t.Mend = "Put in paper; it is tried again, because nothing had been sent."
		}
	}
	return t
}
