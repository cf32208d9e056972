package line

import (
	"fmt"
	"unicode/utf8"
)

// Control characters that may begin or end a line.
const (
	soh, stx, etx, eot = 1, 2, 3, 4
	lf, cr, esc, del   = '\n', '\r', 0x1b, 0x7f
)

const (
	usualLongest = 256
	mostLongest  = 4096
	mostAfter    = 4
)

// What a Framer says of a line that it does not trust.
const (
	joinedLate  = "the line may have begun before it was listened to"
	cutShort    = "the line stopped before its end"
	startTwice  = "another line began before this one ended"
	notText     = "the line is not text in the code that the pattern names; check the speed, data bits and parity of the connection"
	highBit     = "a byte has its eighth bit set; check the data bits and the parity of the connection, or name the code of the text"
	controlSeq  = "the line holds a control sequence for a screen"
	controlChar = "the line holds a control character"
	strayEnd    = "the line holds half of its line end"
)

// Line is one line as it came, without its start and its end.
type Line struct {
	Bytes   []byte  // valid until the function that got the line returns
	Seconds float64 // when its last byte came
	Damaged string  // why it can't be trusted, in words; "" when it is whole. A damaged line must not be read
}

// Framer cuts a stream of bytes into lines. It holds one line and never more than its longest.
// Empty lines are dropped. The zero Framer is not usable; NewFramer makes one.
type Framer struct {
	f       Framing
	longest int
	buf     []byte // the line so far, as UTF-8
	count   int    // bytes of the line so far, as they came
	damaged string // the first thing that was wrong with it
	check   []byte // the bytes after the end
	last    float64
	started bool // a line's start was seen, or none is needed
	joined  bool // the line may have begun earlier
	skip    bool // the line was given up; its end is waited for
	halfEnd bool // a CR came and its LF is waited for
	ended   bool // the end came, the bytes after it are waited for
}

// NewFramer returns a framer. It assumes to have joined a stream that was already running, so its
// first line is given as damaged; call Whole first when the stream begins with a line. A framing
// that does not pass Check is read as lines that end in CR, LF or both.
func NewFramer(f Framing) *Framer {
	if f.Check() != nil {
		f = Framing{End: "any"}
	}
	longest := f.Longest
	if longest == 0 {
		longest = usualLongest
	}
	fr := &Framer{f: f, longest: longest, buf: make([]byte, 0, 2*longest+2*mostAfter), check: make([]byte, 0, mostAfter)}
	fr.Broken()
	return fr
}

// Whole says that the next byte begins a line: a file from its start, an answer to a request, a
// message that was pushed. What was held is dropped.
func (fr *Framer) Whole() {
	fr.next()
	fr.joined = false
}

// Broken says that bytes were or may have been lost here (unplugged, connected again). What was
// held is dropped and the next line is given as damaged.
func (fr *Framer) Broken() {
	fr.next()
	fr.joined = fr.f.Start == ""
}

// next makes ready for another line.
func (fr *Framer) next() {
	fr.buf, fr.check, fr.count = fr.buf[:0], fr.check[:0], 0
	fr.damaged = ""
	fr.started = fr.f.Start == ""
	fr.joined, fr.skip, fr.halfEnd, fr.ended = false, false, false, false
}

// Write takes bytes in packets of any size and calls yield for each line that is complete.
// Seconds is when the packet came; it must not run backwards.
func (fr *Framer) Write(p []byte, seconds float64, yield func(Line)) {
	fr.Idle(seconds, yield)
	for _, b := range p {
		fr.take(b, seconds, yield)
	}
	if len(p) > 0 {
		fr.last = seconds
	}
}

// Idle tells that nothing came until now. It ends a line where the framing says that a pause does.
func (fr *Framer) Idle(seconds float64, yield func(Line)) {
	if fr.f.IdleS == 0 || !(seconds-fr.last > fr.f.IdleS) {
		return
	}
	pauseEnds := fr.f.End == "" && fr.f.Length == 0
	switch {
	case fr.count == 0 && !fr.skip && !fr.ended:
	case !pauseEnds && !fr.skip:
		fr.damage(cutShort)
		fr.give(fr.last, yield)
	case !fr.skip:
		fr.give(fr.last, yield)
	}
	fr.next() // what comes after a pause begins a line
}

func (fr *Framer) damage(why string) {
	if fr.damaged == "" {
		fr.damaged = why
	}
}

// give hands out the line and makes ready for another.
func (fr *Framer) give(seconds float64, yield func(Line)) {
	if fr.joined {
		fr.damaged = joinedLate
	}
	if fr.f.Text == "utf-8" && !utf8.Valid(fr.buf) {
		fr.damage(notText)
	}
	for _, b := range fr.check {
		const digits = "0123456789ABCDEF"
		fr.buf = append(fr.buf, digits[b>>4], digits[b&15])
	}
	if len(fr.buf) > 0 {
		yield(Line{fr.buf, seconds, fr.damaged})
	}
	fr.next()
}

func (fr *Framer) take(b byte, seconds float64, yield func(Line)) {
	if fr.ended { // any byte may be part of a check
		fr.check = append(fr.check, b)
		if len(fr.check) == fr.f.After {
			fr.give(seconds, yield)
		}
		return
	}
	if fr.f.Start != "" && b == controls[fr.f.Start] {
		if fr.count > 0 && !fr.skip {
			fr.damage(startTwice)
			fr.give(seconds, yield)
		}
		fr.next()
		fr.started = true
		return
	}
	if !fr.started {
		return
	}
	if fr.isEnd(b) {
		switch {
		case fr.skip:
			fr.next()
		case fr.f.After > 0 && fr.count > 0:
			fr.ended = true
		default:
			fr.give(seconds, yield)
		}
		return
	}
	if fr.skip {
		return
	}
	if fr.count > fr.longest || fr.count == fr.longest && !fr.halfEnd {
		fr.damage(fmt.Sprintf("the line is longer than %d bytes", fr.longest))
		fr.give(seconds, yield)
		fr.skip, fr.started = true, true
		return
	}
	fr.count++
	fr.keep(b)
	if fr.f.End == "" && fr.count == fr.f.Length {
		fr.give(seconds, yield)
	}
}

// isEnd is true of the byte that ends a line.
func (fr *Framer) isEnd(b byte) bool {
	switch fr.f.End {
	case "":
		return false
	case "any":
		return b == cr || b == lf
	case "CRLF":
		half := fr.halfEnd
		fr.halfEnd = b == cr
		if half && b == lf {
			if fr.skip {
				return true
			}
			fr.count--
			fr.buf = fr.buf[:len(fr.buf)-1] // the CR
			return true
		}
		if half {
			fr.damage(strayEnd)
		}
		return false
	}
	return b == controls[fr.f.End]
}

// keep adds one byte to the line and notes what is wrong with it.
func (fr *Framer) keep(b byte) {
	switch {
	case b == cr && fr.halfEnd: // the LF of the end may follow
	case b == esc:
		fr.damage(controlSeq)
	case b < ' ' && b != '\t', b == del:
		fr.damage(controlChar)
	case b < 0x80:
	case fr.f.Text == "latin-1":
		if b < 0xa0 {
			fr.damage(controlChar)
		}
		fr.buf = utf8.AppendRune(fr.buf, rune(b))
		return
	case fr.f.Text != "utf-8":
		fr.damage(highBit)
	}
	fr.buf = append(fr.buf, b)
}
