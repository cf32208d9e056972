package live

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
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
	e.Bytes = m.bytes(start, end)
	e.SHA256 = sum(e.Bytes)
	return e
}

func sum(p []byte) string {
	h := sha256.Sum256(p)
	return hex.EncodeToString(h[:])
}
