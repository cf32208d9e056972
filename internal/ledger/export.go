package ledger

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"iter"
)

// WriteLog writes a log to a file that can be checked without the store: the bytes of each entry, in
// their order, each on a line of its own. The bytes of an entry hold no line break. It gives the
// number of entries.
func WriteLog(w io.Writer, entries iter.Seq2[Entry, error]) (n int64, err error) {
	out := bufio.NewWriter(w)
	for e, err := range entries {
		if err != nil {
			return n, err
		}
		raw, err := e.Encode()
		if err != nil {
			return n, err
		}
		out.Write(raw)
		if err := out.WriteByte('\n'); err != nil {
			return n, fmt.Errorf("write entry %d: %w", e.Seq, err)
		}
		n++
	}
	return n, out.Flush()
}

// CheckLog reads such a file and follows it with a checker, to its end. It gives the number of
// entries that were in order.
func CheckLog(r io.Reader, c *Checker) (n int64, err error) {
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, 0, 1<<16), MaxEntry+1)
	lines.Split(wholeLines)
	for lines.Scan() {
		if _, _, err := c.Add(lines.Bytes()); err != nil {
			return c.Size(), err
		}
	}
	if err := lines.Err(); err != nil {
		return c.Size(), fmt.Errorf("read the line of entry %d: %w", c.Size(), err)
	}
	return c.Size(), c.End()
}

// wholeLines splits at line feeds and, unlike bufio.ScanLines, takes nothing else away.
func wholeLines(data []byte, atEOF bool) (int, []byte, error) {
	if line, _, found := bytes.Cut(data, []byte("\n")); found {
		return len(line) + 1, line, nil
	}
	if atEOF && len(data) > 0 {
		return len(data), data, nil
	}
	return 0, nil, nil
}
