package source

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"
)

const (
	// fileTail is how much of what was read is compared, to tell a file that grew from another one.
	fileTail = 4096
	// filePoll is the time between two looks at a file.
	filePoll = 200 * time.Millisecond
)

// watched follows a file that another program writes. Between looks the file is closed, so that a
// memory stick can be taken out. What was read stays read: the stick may be gone for a while, and
// the file may be written anew with the old lines at its start.
type watched struct {
	path string
	skip bool // what is there at the first look is old

	looked bool
	offset int64
	tail   []byte // the bytes before offset
}

func (w *watched) open(ctx context.Context) (conn, error) {
	f, size, err := w.look()
	if err != nil {
		w.looked = true // a file that comes only later is new
		return nil, err
	}
	defer f.Close()
	if w.skip && !w.looked {
		if err := w.skipLines(f, size); err != nil {
			return nil, err
		}
	}
	w.looked = true
	if err := w.sameFile(f, size); err != nil {
		w.offset, w.tail = 0, nil
	}
	return &fileConn{ctx: ctx, watched: w}, nil
}

// look opens the file, if it is one.
func (w *watched) look() (*os.File, int64, error) {
	// Opening a pipe would wait for its other end, so ask first.
	info, err := os.Stat(w.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, 0, fmt.Errorf("read %s: the file is not there; put the memory stick in", w.path)
	case err != nil:
		return nil, 0, fmt.Errorf("read %s: %w", w.path, err)
	case !info.Mode().IsRegular():
		return nil, 0, fmt.Errorf("read %s: it is a folder or a device and not a file; name a file", w.path)
	}
	f, err := os.Open(w.path)
	if err != nil {
		return nil, 0, fmt.Errorf("read %s: %w", w.path, err)
	}
	return f, info.Size(), nil
}

// skipLines goes to the end of the last line that is whole.
func (w *watched) skipLines(f *os.File, size int64) error {
	from := max(0, size-fileTail)
	last := make([]byte, size-from)
	n, err := f.ReadAt(last, from)
	if err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("read %s: %w", w.path, err)
	}
	last = last[:n]
	end := bytes.LastIndexAny(last, "\r\n") + 1
	if end == 0 && from > 0 {
		end = n // no line ends here; what follows is of no use before the next end
	}
	w.offset, w.tail = from+int64(end), last[:end]
	return nil
}

// sameFile says whether the file still starts with what was read.
func (w *watched) sameFile(f *os.File, size int64) error {
	if size < w.offset {
		return fmt.Errorf("read %s: the file became shorter: %w", w.path, errAnew)
	}
	now := make([]byte, len(w.tail))
	if _, err := f.ReadAt(now, w.offset-int64(len(now))); err != nil || !bytes.Equal(now, w.tail) {
		return fmt.Errorf("read %s: the file was replaced: %w", w.path, errAnew)
	}
	return nil
}

// fileConn reads a watched file until it vanishes or becomes another.
type fileConn struct {
	ctx     context.Context
	watched *watched
	next    time.Time // of the next look
}

func (c *fileConn) Read(p []byte) (int, error) {
	if rest := time.Until(c.next); rest > 0 {
		wait(c.ctx, min(rest, tick))
		return 0, nil
	}
	w := c.watched
	f, size, err := w.look()
	if err != nil {
		return 0, err
	}
	defer f.Close()
	if err := w.sameFile(f, size); err != nil {
		return 0, err
	}
	n, err := f.ReadAt(p, w.offset)
	if err != nil && !errors.Is(err, io.EOF) {
		return 0, fmt.Errorf("read %s: %w", w.path, err)
	}
	if n == 0 {
		c.next = time.Now().Add(filePoll)
		return 0, nil
	}
	w.offset += int64(n)
	w.tail = append(w.tail, p[:n]...)
	w.tail = bytes.Clone(w.tail[max(0, len(w.tail)-fileTail):])
	return n, nil
}

func (c *fileConn) Write([]byte) (int, error) { return 0, errNotTaken }
func (c *fileConn) Close() error              { return nil }
func (c *fileConn) Identity() string          { return c.watched.path }
func (c *fileConn) Whole() bool               { return true }
