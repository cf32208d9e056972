package simulated

import (
	"context"
	"fmt"
	"net"
	"os"
	"sync"

	"github.com/creack/pty"
	"golang.org/x/term"
)

// ServeTCP listens on an address such as 127.0.0.1:0 and speaks to everybody who calls, until ctx ends.
// Opened, unless nil, is told the address each time it begins to listen. While the instrument is unplugged
// nobody listens; the port stays the same. It returns nil when ctx ends, or why it can't listen.
func (i *Instrument) ServeTCP(ctx context.Context, address string, opened func(net.Addr)) error {
	for i.plugged(ctx) == nil {
		var config net.ListenConfig
		l, err := config.Listen(ctx, "tcp", address)
		if err != nil {
			if ctx.Err() != nil {
				return nil
			}
			return fmt.Errorf("simulated instrument %q: %w", i.name, err)
		}
		address = l.Addr().String()
		if opened != nil {
			opened(l.Addr())
		}
		i.accept(ctx, l)
	}
	return nil
}

// accept takes calls until ctx ends or the cable is out, and leaves no connection behind.
func (i *Instrument) accept(ctx context.Context, l net.Listener) {
	ctx, stop := context.WithCancel(ctx)
	var talks sync.WaitGroup
	talks.Go(func() {
		i.unplugged(ctx)
		stop()
		l.Close()
	})
	for {
		c, err := l.Accept()
		if err != nil {
			break
		}
		talks.Go(func() { _ = i.Serve(ctx, c) }) // how it ended changes nothing here
	}
	stop()
	talks.Wait()
}

// unplugged waits until the cable is out, or ctx ends.
func (i *Instrument) unplugged(ctx context.Context) {
	for {
		i.mu.Lock()
		is, changed := i.is, i.changed
		i.mu.Unlock()
		if is == Unplugged {
			return
		}
		select {
		case <-ctx.Done():
			return
		case <-changed:
		}
	}
}

// ServePTY opens a pseudo-terminal and speaks over it until ctx ends. Opened, unless nil, is told the path of the
// side that others open. With a link, a symbolic link of that name leads to it, and goes and comes as
// the instrument is unplugged and plugged in; something else of that name is left alone and is an error.
// What nobody reads stays in the system's buffer, some kilobytes, as with a real serial port; later lines are
// lost. It returns nil when ctx ends.
func (i *Instrument) ServePTY(ctx context.Context, link string, opened func(path string)) error {
	for i.plugged(ctx) == nil {
		if err := i.onePTY(ctx, link, opened); err != nil {
			return fmt.Errorf("simulated instrument %q: %w", i.name, err)
		}
	}
	return nil
}

func (i *Instrument) onePTY(ctx context.Context, link string, opened func(path string)) error {
	master, tty, err := pty.Open()
	if err != nil {
		return fmt.Errorf("open a pseudo-terminal: %w", err)
	}
	defer tty.Close()
	// Raw: no echo, no change of line ends.
	if _, err := term.MakeRaw(int(tty.Fd())); err != nil {
		master.Close()
		return fmt.Errorf("set the pseudo-terminal: %w", err)
	}
	if master, err = interruptible(master); err != nil {
		return err
	}
	path := tty.Name()
	if link != "" {
		if err := point(link, path); err != nil {
			master.Close()
			return err
		}
		defer os.Remove(link)
	}
	if opened != nil {
		opened(path)
	}
	_ = i.Serve(ctx, master) // how it ended, plugged says
	return nil
}

// point makes a symbolic link, over one that was left behind.
func point(link, path string) error {
	if found, err := os.Lstat(link); err == nil {
		if found.Mode()&os.ModeSymlink == 0 {
			return fmt.Errorf("%s is there and is no symbolic link; give another name", link)
		}
		if err := os.Remove(link); err != nil {
			return err
		}
	}
	return os.Symlink(path, link)
}
