package live

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"time"

	"wreath/internal/source"
)

const (
	// keptBytes bounds what a feed remembers of what it heard, keptPieces in how many pieces.
	keptBytes  = 64 << 10
	keptPieces = 4096
	// MaxEvidence is the most bytes that are kept beside a reading.
	MaxEvidence = 4096
	// longestBefore is how far back the start of a line is looked for.
	longestBefore = 512
)

// memory keeps the last bytes and when they came.
type memory struct {
	ring   [keptBytes]byte
	total  int64 // bytes ever heard; byte i is at ring[i%keptBytes]
	pieces []piece
	first  int // index in pieces of the oldest
}

// piece is what came at one time.
type piece struct {
	start   int64 // number of its first byte
	seconds float64
}

func (m *memory) add(p []byte, seconds float64) {
	if len(p) == 0 {
		return
	}
	at := piece{start: m.total, seconds: seconds}
	if len(m.pieces) < keptPieces {
		m.pieces = append(m.pieces, at)
	} else {
		m.pieces[m.first] = at
		m.first = (m.first + 1) % keptPieces
	}
	for len(p) > 0 {
		n := copy(m.ring[m.total%keptBytes:], p)
		p = p[n:]
		m.total += int64(n)
	}
}

// bytes copies the bytes from number start to number end, as far as they are kept.
func (m *memory) bytes(start, end int64) []byte {
	start = max(start, m.total-keptBytes, 0)
	out := make([]byte, 0, max(end-start, 0))
	for i := start; i < end; {
		run := m.ring[i%keptBytes:]
		run = run[:min(int64(len(run)), end-i)]
		out = append(out, run...)
		i += int64(len(run))
	}
	return out
}

// piece returns the n-th oldest piece and the number of the byte behind it.
func (m *memory) piece(n int) (piece, int64) {
	at := m.pieces[(m.first+n)%len(m.pieces)]
	if n == len(m.pieces)-1 {
		return at, m.total
	}
	return at, m.pieces[(m.first+n+1)%len(m.pieces)].start
}

// cut returns what came from one time to another.
func (m *memory) cut(from, to float64) Evidence {
	var e Evidence
	start, end := int64(-1), int64(-1)
	for n := range m.pieces {
		p, behind := m.piece(n)
		if p.seconds < from || behind <= m.total-keptBytes {
			continue
		}
		if p.seconds > to {
			break
		}
		if start < 0 {
			start, e.From = p.start, p.seconds
		}
		end, e.To = behind, p.seconds
	}
	if start < 0 {
		e.SHA256 = sum(nil)
		return e
	}
	// The first line may have begun before the time asked for.
	before := m.bytes(start-longestBefore, start)
	if i := bytes.LastIndexAny(before, "\r\n"); i >= 0 {
		before = before[i+1:]
	}
	start -= int64(len(before))
	if end-start > MaxEvidence {
		start, e.Cut = end-MaxEvidence, true
		for n := range m.pieces {
			if p, behind := m.piece(n); behind > start {
				e.From = p.seconds
				break
			}
		}
	}
	e.Bytes, e.lines = m.bytes(start, end), m.lines(start, end)
	e.SHA256 = sum(e.Bytes)
	return e
}

// timed is a line, or what came of it, and when its last byte came.
type timed struct {
	bytes   []byte
	seconds float64
}

// lines returns the bytes from number start to number end line by line.
func (m *memory) lines(start, end int64) (out []timed) {
	var now timed
	for n := range m.pieces {
		p, behind := m.piece(n)
		if behind <= start || p.start >= end {
			continue
		}
		for _, b := range m.bytes(max(p.start, start), min(behind, end)) {
			if k := len(now.bytes); k > 0 && isEnd(now.bytes[k-1]) && !isEnd(b) || k == longestBefore {
				out, now = append(out, now), timed{}
			}
			now.bytes, now.seconds = append(now.bytes, b), p.seconds
		}
	}
	if len(now.bytes) > 0 {
		out = append(out, now)
	}
	return out
}

// isEnd is true of what ends lines; where something else does, they are only told apart less finely.
func isEnd(b byte) bool { return b == '\r' || b == '\n' || b == 3 || b == 4 }

// headRoom is more than the header of a recording takes, eventRoom more than an event beside its bytes.
const headRoom, eventRoom = 150, 16

// recording writes lines as a recording; began is the time of the stream's second 0. What does not fit is left
// out at the beginning.
func recording(lines []timed, began time.Time, simulated bool) []byte {
	first, room := len(lines), MaxEvidence-headRoom
	for first > 0 {
		room -= len(source.Escape(lines[first-1].bytes)) + eventRoom
		if room < 0 {
			break
		}
		first--
	}
	lines = lines[first:]
	if len(lines) == 0 {
		return nil
	}
	after := func(seconds float64) time.Time { return began.Add(time.Duration(seconds * float64(time.Second))) }
	made := after(lines[0].seconds).Truncate(time.Second) // a header holds whole seconds
	var out bytes.Buffer
	r, err := source.NewRecorder(&out, source.Header{Made: made, Simulated: simulated}, MaxEvidence)
	if err != nil {
		return nil // not reached: the header fits
	}
	write := r.Sink(nil)
	at := after(lines[0].seconds).Sub(made).Seconds()
	write(source.Event{Kind: source.LinkChanged, Link: source.Connected, Whole: true, Seconds: at})
	for _, l := range lines {
		at = max(at, after(l.seconds).Sub(made).Seconds())
		write(source.Event{Kind: source.Heard, Seconds: at, Bytes: l.bytes})
	}
	return out.Bytes()
}

func sum(p []byte) string {
	h := sha256.Sum256(p)
	return hex.EncodeToString(h[:])
}
