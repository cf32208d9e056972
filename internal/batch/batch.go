package batch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"runtime"
	"sync"

	"wreath/internal/determination"
)

// Options say how a batch is run.
type Options struct {
	Base     *determination.Draft  // fields that hold for every row that does not give its own; nil for none
	Format   Format                // of the answers
	Details  bool                  // JSON Lines only: the whole answer of every row
	Workers  int                   // 0: one for each processor
	Evaluate determination.Options // of each row

	// Progress, where not nil, is told after each few rows how many there were and how many
	// bytes of the input are read.
	Progress func(rows int, bytes int64)
}

// Batch is an input that is found to be readable, with its first rows.
type Batch struct {
	options  Options
	rows     source
	lines    *lines
	first    *chunk
	evaluate func(*determination.Draft, determination.Options) (*determination.Answer, error)
}

// Open reads the beginning of an input: its encoding, its columns, its first row. An error is an
// *determination.InputError and means that nothing can be read; name is the input's in it.
func Open(in io.Reader, name string, o Options) (*Batch, error) {
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	rows, l, format, err := openSource(in)
	if err != nil {
		return nil, named(name, err)
	}
	if o.Format == SameAsInput {
		o.Format = format
	}
	b := &Batch{options: o, rows: rows, lines: l, first: newChunk(), evaluate: determination.Evaluate}
	b.read(b.first)
	if len(b.first.rows) == 0 {
		err := b.first.err
		if err == io.EOF {
			err = &determination.InputError{Reason: "it has column names but no rows", Hint: "Give at least one row below them."}
		}
		return nil, named(name, err)
	}
	return b, nil
}

// Format is how the answers are going to be written.
func (b *Batch) Format() Format { return b.options.Format }

func named(name string, err error) error {
	var field *determination.InputError
	if !errors.As(err, &field) {
		field = &determination.InputError{Reason: "it can't be read: " + plain(err).Error()}
	}
	return &determination.InputError{Path: name, Reason: field.Error(), Hint: field.Hint}
}

// plain takes the name of the file off an error.
func plain(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	return err
}

// StoppedError says that a batch ended before its last row. The rows before were written whole.
type StoppedError struct {
	After int // line of the last row written; 0 where there is none
	What  string
	Err   error
}

func (e *StoppedError) Error() string {
	where := "before the first row"
	if e.After > 0 {
		where = fmt.Sprintf("after row %d", e.After)
	}
	return fmt.Sprintf("%s %s: %v", e.What, where, plain(e.Err))
}

func (e *StoppedError) Unwrap() error { return e.Err }

// Run answers the rows: to out the answers, to messages one line for each row that fails. A row
// that fails is no error of the batch; a *StoppedError is. When ctx is done, the answers end after a
// whole row, and Run returns even where the input still keeps it waiting.
func (b *Batch) Run(ctx context.Context, out, messages io.Writer) (Summary, error) {
	ctx, cancel := context.WithCancel(ctx)
	var workers sync.WaitGroup
	defer workers.Wait()
	defer cancel()

	// Every chunk is in one of: free, being read, work, with a worker. ordered holds those
	// read in the order of the rows, which is the order they are written in.
	chunks := 4*b.options.Workers + 1
	free, work, ordered := make(chan *chunk, chunks), make(chan *chunk, chunks), make(chan *chunk, chunks)
	for range chunks - 1 {
		free <- newChunk()
	}
	go b.readAll(ctx, free, work, ordered)
	for range b.options.Workers {
		workers.Go(func() { b.work(ctx, work) })
	}
	return b.write(ctx, free, ordered, out, messages)
}

// readAll reads chunk after chunk. It ends at the end of the input or when the batch is stopped;
// in the latter case it may still wait for the input for a while.
func (b *Batch) readAll(ctx context.Context, free, work, ordered chan *chunk) {
	defer close(work)
	defer close(ordered)
	for c := b.first; ; {
		work <- c
		ordered <- c
		if c.err != nil {
			return
		}
		select {
		case c = <-free:
		case <-ctx.Done():
			return
		}
		c.reset()
		b.read(c)
	}
}

// read fills a chunk, and gives away what it has when the input would keep it waiting.
func (b *Batch) read(c *chunk) {
	for len(c.rows) < chunkRows && len(c.text) < chunkBytes && (len(c.rows) == 0 || b.lines.waiting()) {
		if c.err = b.rows.next(c); c.err != nil {
			break
		}
	}
	c.read = b.lines.bytes
}

// write hands on the chunks in order as they get ready.
func (b *Batch) write(ctx context.Context, free, ordered chan *chunk, out, messages io.Writer) (sum Summary, err error) {
	last := 0
	stopped := func(what string, err error) error { return &StoppedError{last, what, err} }
	w := answerWriter{format: b.options.Format}
	if header := w.header(nil); len(header) > 0 {
		if _, err := out.Write(header); err != nil {
			return sum, stopped("the answers can't be written", err)
		}
	}
	for {
		c := nextReady(ctx, ordered)
		if ctx.Err() != nil {
			return sum, stopped("stopped", context.Cause(ctx))
		}
		if c == nil {
			return sum, nil
		}
		if _, err := out.Write(c.out); err != nil {
			return sum, stopped("the answers can't be written", err)
		}
		if len(c.messages) > 0 {
			messages.Write(c.messages) // what is wrong stands in the answers too
		}
		sum.add(c.sum)
		if n := len(c.rows); n > 0 {
			last = c.rows[n-1].line
		}
		if b.options.Progress != nil {
			b.options.Progress(sum.Rows, c.read)
		}
		if c.err != nil && c.err != io.EOF {
			return sum, stopped("the input can't be read", c.err)
		}
		free <- c
	}
}

// nextReady waits for the next chunk and for its worker to be done with it; nil after the last, and
// when ctx is done.
func nextReady(ctx context.Context, ordered <-chan *chunk) *chunk {
	select {
	case c := <-ordered:
		if c == nil {
			return nil
		}
		select {
		case <-c.ready:
			return c
		case <-ctx.Done():
		}
	case <-ctx.Done():
	}
	return nil
}
