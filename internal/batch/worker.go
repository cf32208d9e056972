package batch

import (
	"context"
	"fmt"

	"wreath/internal/determination"
)

// work answers the rows of one chunk after the other, until there is none left or ctx is done.
func (b *Batch) work(ctx context.Context, chunks <-chan *chunk) {
	decode := b.rows.newDecoder()
	w := &answerWriter{format: b.options.Format, details: b.options.Details}
	for {
		select {
		case c := <-chunks:
			if c == nil {
				return
			}
			for _, row := range c.rows {
				if ctx.Err() != nil {
					return
				}
				b.row(c, row, decode, w)
			}
			c.ready <- struct{}{}
		case <-ctx.Done():
			return
		}
	}
}

// row answers one row into the chunk.
func (b *Batch) row(c *chunk, row rawRow, decode decoder, w *answerWriter) {
	r := result{row: row.line, id: row.id, err: row.err}
	if r.err == nil {
		d := &determination.Draft{}
		r.err = decode(c.rowText(row), d)
		if r.err == errBlank {
			return
		}
		r.id = d.ID
		if r.err == nil {
			r.answer, r.err = b.answer(d)
		}
	}
	c.sum.count(&r)
	if r.err != nil {
		c.messages = fmt.Appendf(c.messages, "wreath: row %d: %s\n", r.row, printable(explain(r.err)))
	}
	before := len(c.out)
	var err error
	if c.out, err = w.append(c.out, &r); err != nil {
		c.out = c.out[:before]
		c.messages = fmt.Appendf(c.messages, "wreath: row %d: the answer can't be written: %v\n", r.row, err)
	}
}

// answer evaluates a draft. One row that the program itself fails on must not cost the others.
func (b *Batch) answer(d *determination.Draft) (a *determination.Answer, err error) {
	defer func() {
		if r := recover(); r != nil {
			a, err = nil, &determination.InputError{Reason: fmt.Sprintf("the program failed on this row (%v)", r), Hint: "Keep the row and report it."}
		}
	}()
	if b.options.Base != nil {
		fill(d, b.options.Base)
	}
	return b.evaluate(d, b.options.Evaluate)
}
