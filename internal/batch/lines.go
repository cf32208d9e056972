package batch

import (
	"bufio"
	"bytes"
	"io"

	"wreath/internal/determination"
)

// maxRow is the longest row that is read, in bytes.
const maxRow = determination.MaxDocument

// line is one line of the input without its end.
type line struct {
	text    []byte // good until the next line is read
	number  int    // counted from 1
	tooLong bool   // longer than maxRow; text is then only its beginning
}

// lines reads lines and counts them. Lines can be put back, to be read again.
type lines struct {
	in    *bufio.Reader
	long  []byte // a line longer than the buffer of in
	back  []line // put back, the next one last
	count int
	bytes int64 // read so far
}

func newLines(in io.Reader) *lines { return &lines{in: bufio.NewReaderSize(in, 1<<16)} }

// waiting is false when reading the next line may have to wait for the input.
func (l *lines) waiting() bool { return len(l.back) > 0 || l.in.Buffered() > 0 }

// putBack takes back lines that were read, given in their order. Their text must be the
// caller's own.
func (l *lines) putBack(read []line) {
	for i := len(read) - 1; i >= 0; i-- {
		l.back = append(l.back, read[i])
	}
}

// next reads a line; io.EOF after the last.
func (l *lines) next() (line, error) {
	if n := len(l.back); n > 0 {
		again := l.back[n-1]
		l.back = l.back[:n-1]
		return again, nil
	}
	text, err := l.in.ReadSlice('\n')
	l.bytes += int64(len(text))
	tooLong := false
	if err == bufio.ErrBufferFull {
		l.long = append(l.long[:0], text...)
		for err == bufio.ErrBufferFull {
			text, err = l.in.ReadSlice('\n')
			l.bytes += int64(len(text))
			tooLong = tooLong || len(l.long)+len(text) > maxRow
			if !tooLong {
				l.long = append(l.long, text...)
			}
		}
		text = l.long
	}
	if err != nil && (err != io.EOF || len(text) == 0) {
		return line{}, err
	}
	l.count++
	text = bytes.TrimSuffix(bytes.TrimSuffix(text, []byte("\n")), []byte("\r"))
	return line{text: text, number: l.count, tooLong: tooLong}, nil
}
