package web

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"wreath/internal/line"
	"wreath/internal/source"
)

// lesson is one instrument whose line is being learned: what it says, and what a person says of it. It holds
// the port alone while it lasts.
type lesson struct {
	address source.Address
	request string // as typed
	sent    []byte
	everyS  float64
	source  source.Source
	cancel  context.CancelFunc
	ended   chan struct{}

	mu       sync.Mutex
	looked   time.Time // when somebody looked at its page last
	chunks   []chunk
	size     int     // bytes in chunks
	seconds  float64 // of the last byte
	link     source.Link
	why      string // the port is not open
	identity string
	said     []statement
	learned  *line.Learned
	broken   string // why nothing could be learned
	framing  line.Framing
	framer   *line.Framer // for the lines that came after learning
	read     int          // lines that the pattern read since
	unread   int          // and those that it did not
	latest   []triedLine
}

// chunk is some bytes as they came.
type chunk struct {
	bytes   []byte
	seconds float64
	whole   bool // a line begins here
	broken  bool // bytes were lost before it
}

// statement is what a person said of the lines at a time.
type statement struct {
	seconds float64
	shown   string
	settled *bool
}

// triedLine is a line with what the pattern makes of it.
type triedLine struct {
	Line  string
	Reads string
	Why   string
}

// Bounds of a lesson; chosen here.
const (
	mostHeard  = 256 << 10 // bytes; a lesson of some minutes
	mostSaid   = 60
	mostLatest = 8
	mostLines  = 600 // that are learned from
	agreeS     = 2.5 // how long before a statement a line may have come, s
)

type lessons struct {
	mu   sync.Mutex
	open map[string]*lesson // by the instrument
}

func (s *Server) lesson(id string) *lesson {
	s.lessons.mu.Lock()
	defer s.lessons.mu.Unlock()
	return s.lessons.open[id]
}

// taught says that the line of an instrument is being learned, so that nothing else may hold its port.
func (s *Server) taught(id string) bool { return s.lesson(id) != nil }

// beginLesson listens to a line. A lesson of the same instrument is ended first.
func (s *Server) beginLesson(ctx context.Context, id, address, request string, sent []byte, everyS float64) error {
	a, err := source.ParseAddress(address)
	if err != nil {
		return err
	}
	src, err := source.Open(a, source.Options{Request: sent, Every: time.Duration(everyS * float64(time.Second)), Silent: 5 * time.Second, Simulated: s.o.Simulated})
	if err != nil {
		return err
	}
	running, cancel := context.WithCancel(context.Background())
	l := &lesson{address: a, request: request, sent: sent, everyS: everyS, source: src, cancel: cancel, ended: make(chan struct{}), looked: time.Now()}
	s.lessons.mu.Lock()
	if s.lessons.open == nil {
		s.lessons.open = map[string]*lesson{}
	}
	before := s.lessons.open[id]
	s.lessons.open[id] = l
	s.lessons.mu.Unlock()
	if before != nil {
		before.cancel()
		<-before.ended
	}
	s.relink(ctx) // lets go of the port
	go func() {
		defer close(l.ended)
		go func() {
			select {
			case <-s.over:
				cancel()
			case <-running.Done():
			}
		}()
		if err := src.Run(running, l.hear); err != nil {
			l.mu.Lock()
			l.why = err.Error()
			l.mu.Unlock()
		}
	}()
	return nil
}

// endLesson ends the lesson of an instrument and waits until the port is free.
func (s *Server) endLesson(id string) {
	s.lessons.mu.Lock()
	l := s.lessons.open[id]
	delete(s.lessons.open, id)
	s.lessons.mu.Unlock()
	if l != nil {
		l.cancel()
		<-l.ended
	}
}

// forgotten is how long a lesson goes on that nobody looks at; chosen here.
const forgotten = 15 * time.Minute

// endForgotten ends lessons that nobody looks at any more, so that the port is free for the readings.
func (s *Server) endForgotten(now time.Time) {
	s.lessons.mu.Lock()
	var old []string
	for id, l := range s.lessons.open {
		l.mu.Lock()
		if now.Sub(l.looked) > forgotten {
			old = append(old, id)
		}
		l.mu.Unlock()
	}
	s.lessons.mu.Unlock()
	for _, id := range old {
		s.endLesson(id)
	}
}

// hear keeps what comes, up to a bound: the oldest goes first.
func (l *lesson) hear(e source.Event) {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch e.Kind {
	case source.LinkChanged:
		l.link, l.why = e.Link, ""
		if e.Err != nil {
			l.why = e.Err.Error()
		}
		if e.Link == source.Connected {
			l.identity = e.Identity
			l.chunks = append(l.chunks, chunk{seconds: e.Seconds, whole: e.Whole, broken: !e.Whole})
		}
	case source.Heard:
		c := chunk{bytes: bytes.Clone(e.Bytes), seconds: e.Seconds}
		l.chunks, l.size, l.seconds = append(l.chunks, c), l.size+len(c.bytes), e.Seconds
		for l.size > mostHeard {
			l.size -= len(l.chunks[0].bytes)
			l.chunks = l.chunks[1:]
		}
		if l.framer != nil {
			l.framer.Write(c.bytes, c.seconds, l.try)
		}
	}
}

// try reads a line that came after the pattern was learned. The caller holds the lock.
func (l *lesson) try(one line.Line) {
	if one.Damaged != "" || l.learned == nil || l.learned.Pattern == nil {
		return
	}
	t := triedLine{Line: source.Escape(one.Bytes)}
	v, err := l.learned.Pattern.Read(one.Bytes)
	switch {
	case errors.Is(err, line.ErrNoReading):
		t.Why = say("known, and no reading")
		l.read++
	case err != nil:
		t.Why = err.Error()
		l.unread++
	default:
		t.Reads = v.Words()
		l.read++
	}
	l.latest = append(l.latest, t)
	if len(l.latest) > mostLatest {
		l.latest = l.latest[1:]
	}
}

// say notes what a person says of what the display shows now, and learns from all that was said so far.
func (l *lesson) say(shown string, settled *bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.said) == mostSaid {
		l.said = l.said[1:]
	}
	l.said = append(l.said, statement{l.seconds, shown, settled})
	l.learn()
}

// forget takes the last statement back.
func (l *lesson) forget() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.said) > 0 {
		l.said = l.said[:len(l.said)-1]
	}
	l.learn()
}

// learn infers the pattern anew. The caller holds the lock.
func (l *lesson) learn() {
	l.learned, l.broken, l.framer, l.read, l.unread, l.latest = nil, "", nil, 0, 0, nil
	samples := l.samples()
	if len(samples) == 0 || len(l.said) == 0 {
		return
	}
	learned, err := line.Learn(samples, line.LearnOptions{Framing: l.framing, Request: string(l.sent), EveryS: l.everyS})
	if err != nil {
		l.broken = err.Error()
		return
	}
	l.learned = learned
	if learned.Pattern != nil {
		l.framer = line.NewFramer(learned.Pattern.Framing)
	}
}

// samples cuts what was heard into lines, with what was said of them.
func (l *lesson) samples() []line.Sample {
	l.framing = line.GuessFraming(l.raw(mostHeard))
	var out []line.Sample
	f := line.NewFramer(l.framing)
	take := func(one line.Line) {
		if one.Damaged == "" {
			out = append(out, line.Sample{Line: bytes.Clone(one.Bytes), Seconds: one.Seconds})
		}
	}
	for _, c := range l.chunks {
		switch {
		case c.whole:
			f.Whole()
		case c.broken:
			f.Broken()
		default:
			f.Idle(c.seconds, take)
			f.Write(c.bytes, c.seconds, take)
		}
	}
	f.Idle(l.seconds+1, take)
	marked := map[int]bool{}
	for _, said := range l.said {
		last := -1
		for i := range out {
			if out[i].Seconds <= said.seconds {
				last = i
			}
		}
		// All lines of the last moments that say the same are what the display showed.
		for i := last; i >= 0 && said.seconds-out[i].Seconds <= agreeS; i-- {
			if bytes.Equal(out[i].Line, out[last].Line) {
				out[i].Shown, out[i].Settled = said.shown, said.settled
				marked[i] = true
			}
		}
	}
	if len(out) <= mostLines {
		return out
	}
	// Those of which something was said, and the newest of the rest.
	var kept []line.Sample
	spare := mostLines - len(marked)
	for i := len(out) - 1; i >= 0; i-- {
		if marked[i] || spare > 0 {
			kept = append(kept, out[i])
			if !marked[i] {
				spare--
			}
		}
	}
	slices.Reverse(kept)
	return kept
}

// raw is the last of what was heard. The caller holds the lock.
func (l *lesson) raw(most int) []byte {
	var out []byte
	for i := len(l.chunks) - 1; i >= 0 && len(out) < most; i-- {
		out = append(bytes.Clone(l.chunks[i].bytes), out...)
	}
	return out[max(0, len(out)-most):]
}

// heardLines are the last lines as they came, with what can't be printed as escapes. The caller holds the lock.
func (l *lesson) heardLines(most int) []string {
	var out []string
	for part := range bytes.FieldsFuncSeq(l.raw(2048), func(r rune) bool { return r == '\n' || r == '\r' }) {
		out = append(out, source.Escape(part))
	}
	return out[max(0, len(out)-most):]
}
