package spool

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"syscall"
	"time"
)

// chunk is how much is handed to the system at once, so that a stall is noticed and counted finely.
const chunk = 4096

// tcpLink is a printer that takes bytes over a connection, and says nothing of paper.
type tcpLink struct {
	name string
	conn *net.TCPConn
	t    Timing
}

func reachTCP(ctx context.Context, name, host string, t Timing) (Link, error) {
	d := net.Dialer{Timeout: t.Dial, KeepAliveConfig: net.KeepAliveConfig{Enable: true, Idle: 10 * time.Second, Interval: 5 * time.Second, Count: 3}}
	c, err := d.DialContext(ctx, "tcp", host)
	if err != nil {
		return nil, unreached(name, host, err)
	}
	return &tcpLink{name: name, conn: c.(*net.TCPConn), t: t}, nil
}

// unreached says why nothing answers at an address.
func unreached(name, host string, err error) *Trouble {
	t := &Trouble{Kind: Off, Printer: name, Err: err, Mend: "Switch the printer on and check its cable and address; then it is tried again."}
	var dns *net.DNSError
	var network net.Error
	switch {
	case errors.Is(err, syscall.ECONNREFUSED):
		t.Reason = "refuses the connection at " + host + ": it is off, starting, or busy with another computer"
	case errors.As(err, &dns):
		t.Reason = "has a name that the network doesn't know: " + dns.Name
		t.Mend = "Check the name, or give the address in numbers."
	case errors.As(err, &network) && network.Timeout():
		t.Reason = "does not answer at " + host + ": it is off, or another address is meant"
	default:
		t.Reason = fmt.Sprintf("can't be reached at %s: %v", host, err)
	}
	return t
}

func (l *tcpLink) Close() error { return l.conn.Close() }

// Send writes everything, ends its own side, and waits a moment for the other side to end. A side that
// ends early, resets the connection or stops taking bytes is noticed. That everything was taken is no
// proof that it was printed.
func (l *tcpLink) Send(ctx context.Context, doc Document) (Receipt, error) {
	// What the printer says is read so that its ending is noticed; it means something to its maker only.
	ended := make(chan error, 1)
	go func() {
		_, err := io.Copy(io.Discard, l.conn)
		ended <- err
	}()
	stop := context.AfterFunc(ctx, func() { l.conn.SetDeadline(time.Unix(1, 0)) })
	defer stop()
	var sent int64
	for left := doc.Data; len(left) > 0; {
		select {
		case err := <-ended:
			return Receipt{}, l.broken(ctx, sent, err)
		default:
		}
		if ctx.Err() == nil {
			l.conn.SetWriteDeadline(time.Now().Add(l.t.Stall))
		}
		n, err := l.conn.Write(left[:min(chunk, len(left))])
		sent += int64(n)
		left = left[n:]
		if err != nil {
			return Receipt{}, l.broken(ctx, sent, err)
		}
	}
	if err := l.conn.CloseWrite(); err != nil {
		return Receipt{}, l.broken(ctx, sent, err)
	}
	if err := l.farewell(ctx, ended); err != nil {
		return Receipt{}, l.broken(ctx, sent, err)
	}
	return Receipt{Known: HandedOver, Sent: sent}, nil
}

// farewell waits until the other side has acknowledged every byte, as far as the system tells, and for
// it to close. Many printers keep the connection open; so after a moment that counts as well.
func (l *tcpLink) farewell(ctx context.Context, ended <-chan error) error {
	look := time.NewTicker(10 * time.Millisecond)
	defer look.Stop()
	least, moved := -1, time.Now()
	closed, until := false, time.Now().Add(l.t.Farewell)
	for {
		left := unacknowledged(l.conn) // before the error: a reset empties what is left
		if err := pendingError(l.conn); err != nil {
			return err
		}
		now := time.Now()
		if least < 0 || left < least {
			least, moved = left, now
		}
		switch {
		case left <= 0 && (closed || now.After(until)):
			return nil
		case left > 0 && now.Sub(moved) > l.t.Stall:
			return os.ErrDeadlineExceeded
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case err := <-ended:
			if err != nil {
				return err
			}
			closed = true
		case <-look.C:
		}
	}
}

func (l *tcpLink) broken(ctx context.Context, sent int64, err error) *Trouble {
	t := &Trouble{Kind: Broken, Printer: l.name, Reason: "ended the connection half-way", Mend: lookAtPaper, Sent: sent, Err: err}
	switch {
	case ctx.Err() != nil:
		t.Reason = "was left half-way, because this program was told to end"
	case errors.Is(err, os.ErrDeadlineExceeded):
		t.Kind, t.Reason = Stuck, "stopped taking bytes: it may be out of paper, jammed or switched off"
	case errors.Is(err, syscall.ECONNRESET), errors.Is(err, syscall.EPIPE), err == nil:
	default:
		t.Reason += ": " + err.Error()
	}
	if sent == 0 {
		t.Kind, t.Mend = Off, "It is tried again: nothing had been sent."
	}
	return t
}
