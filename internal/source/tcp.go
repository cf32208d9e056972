package source

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"time"
)

// keepAlive notices within half a minute that the other side vanished without a word.
var keepAlive = net.KeepAliveConfig{Enable: true, Idle: 10 * time.Second, Interval: 5 * time.Second, Count: 3}

// dial calls whoever waits at where.
func dial(ctx context.Context, where string) (conn, error) {
	d := net.Dialer{Timeout: 5 * time.Second, KeepAliveConfig: keepAlive}
	c, err := d.DialContext(ctx, "tcp", where)
	if err != nil {
		return nil, fmt.Errorf("call %s: %w", where, err)
	}
	return &tcpConn{Conn: c, identity: where}, nil
}

// tcpConn is a connection over the network.
type tcpConn struct {
	net.Conn
	identity string
}

func (c *tcpConn) Read(p []byte) (int, error) {
	if err := c.SetReadDeadline(time.Now().Add(tick)); err != nil {
		return 0, err
	}
	n, err := c.Conn.Read(p)
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded):
		return n, nil
	case errors.Is(err, io.EOF):
		return n, fmt.Errorf("%s ended the connection", c.identity)
	}
	return n, err
}

func (c *tcpConn) Write(p []byte) (int, error) {
	if err := c.SetWriteDeadline(time.Now().Add(time.Second)); err != nil {
		return 0, err
	}
	return c.Conn.Write(p)
}

func (c *tcpConn) Identity() string { return c.identity }
func (c *tcpConn) Whole() bool      { return false } // a converter in between may connect at any time

// listener waits to be called, and hears one speaker at a time.
type listener struct {
	where   string
	options Options
}

func (l *listener) Run(ctx context.Context, sink Sink) error {
	t := newTalk(sink, l.options)
	pause := l.options.FirstWait
	for ctx.Err() == nil {
		err := l.serve(ctx, t)
		if ctx.Err() != nil {
			break
		}
		t.change(Event{Link: Connecting, Err: err})
		wait(ctx, pause)
		pause = min(2*pause, l.options.LongestWait)
	}
	t.change(Event{Link: Ended})
	return nil
}

// serve returns when ctx ends or when it can't wait at its address.
func (l *listener) serve(ctx context.Context, t *talk) error {
	config := net.ListenConfig{KeepAliveConfig: keepAlive}
	door, err := config.Listen(ctx, "tcp", l.where)
	if err != nil {
		return fmt.Errorf("wait at %s: %w; choose another port", l.where, err)
	}
	at := door.Addr().String()
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var (
		free    = make(chan struct{}, 1) // holds a token while no speaker is heard
		callers = make(chan net.Conn, 1)
		closed  = make(chan struct{})
	)
	free <- struct{}{}
	go func() {
		defer close(closed)
		for {
			c, err := door.Accept()
			if err != nil {
				cancel(fmt.Errorf("wait at %s: %w", l.where, err))
				return
			}
			select {
			case <-free:
				callers <- c
			default:
				c.SetWriteDeadline(time.Now().Add(time.Second))
				io.WriteString(c, "another instrument is connected here; one speaks at a time\r\n")
				c.Close()
			}
		}
	}()
	defer func() {
		door.Close()
		<-closed
		select {
		case c := <-callers:
			c.Close()
		default:
		}
	}()
	var last error
	for {
		t.change(Event{Link: Connecting, Identity: at, Err: last})
		select {
		case <-ctx.Done():
			return context.Cause(ctx)
		case c := <-callers:
			host, _, err := net.SplitHostPort(c.RemoteAddr().String())
			if err != nil {
				host = c.RemoteAddr().String()
			}
			last = t.listen(ctx, &tcpConn{Conn: c, identity: host})
			free <- struct{}{}
		}
	}
}
