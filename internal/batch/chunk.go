package batch

// chunkRows is how many rows go through a worker together: enough that handing them on costs
// nothing, few enough that all workers end at about the same time.
const chunkRows = 64

// chunkBytes is how much text a chunk holds before it takes no further row, so that long rows fill
// no memory.
const chunkBytes = 1 << 18

// chunk is a run of rows on its way from the reader through a worker to the writer. Chunks are
// used again, with all that they have allocated.
type chunk struct {
	text []byte // of the rows, one after the other
	rows []rawRow
	err  error // why reading ended after these rows, nil when there are more
	read int64 // bytes of the input read when the chunk was full

	out      []byte // the answers as they are written
	messages []byte // for people, one line for each row that failed
	sum      Summary
	ready    chan struct{} // gets a signal when the worker is done
}

// rawRow is one row as read.
type rawRow struct {
	line       int
	start, end int    // its text in the chunk
	err        error  // why it can't be read at all
	id         string // its own mark, where it can't be read but for this
}

func newChunk() *chunk { return &chunk{ready: make(chan struct{}, 1)} }

func (c *chunk) reset() {
	c.text, c.rows, c.err, c.read = c.text[:0], c.rows[:0], nil, 0
	c.out, c.messages, c.sum = c.out[:0], c.messages[:0], Summary{}
}

// add appends a row whose text ends the chunk's text.
func (c *chunk) add(line, start int, err error) {
	c.rows = append(c.rows, rawRow{line: line, start: start, end: len(c.text), err: err})
}

func (c *chunk) rowText(r rawRow) []byte { return c.text[r.start:r.end] }
