package simulated

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"sync"

	"wreath/internal/line"
	"wreath/internal/simulation"
)

// Misbehaviour is what an instrument does wrong.
type Misbehaviour string

// What an instrument can be asked to do.
const (
	Behaves   Misbehaviour = ""          // what it should
	Unplugged Misbehaviour = "unplugged" // the cable is out: connections end, and none is taken until it behaves again
	Silent    Misbehaviour = "silent"    // the cable is in and nothing comes
	Frozen    Misbehaviour = "frozen"    // the same line again and again, whatever happens on the pan
	Garbage   Misbehaviour = "garbage"   // bytes of noise between the lines and in their place
	Cut       Misbehaviour = "cut"       // lines lose characters in the middle
	Other     Misbehaviour = "other"     // another balance is at the cable, with a load of its own
)

// Misbehaviours are all of them.
func Misbehaviours() []Misbehaviour {
	return []Misbehaviour{Behaves, Unplugged, Silent, Frozen, Garbage, Cut, Other}
}

// Info says what an instrument is.
type Info struct {
	Simulated bool   // always true
	Name      string // on its station
	Words     string // for people; says that it is simulated
	Format    string // key of Formats
	Decimals  int    // of a gram, as it displays
	Request   string // what must be sent to get a line
}

// Instrument is one simulated instrument of a Station. Its methods may be called from several goroutines.
type Instrument struct {
	station  *Station
	name     string
	format   Format
	decimals int

	mu      sync.Mutex
	rand    *rand.Rand
	is      Misbehaviour
	changed chan struct{} // closed when Misbehave is called
	talks   []*talk
	last    []byte // the lines of the last change
	count   int    // lines said
	told    float64
	bannerS float64 // when the banner was last said
}

func newInstrument(s *Station, name string, f Format, decimals int) *Instrument {
	i := &Instrument{station: s, name: name, format: f, decimals: decimals, rand: rand.New(rand.NewPCG(uint64(len(name)), 0x696e)), changed: make(chan struct{}), told: -1}
	i.last = f.Bytes(s.live.Step(0), decimals, 0)
	return i
}

// Info says what the instrument is.
func (i *Instrument) Info() Info {
	return Info{Simulated: true, Name: i.name, Words: fmt.Sprintf("simulated instrument %q: %s; nothing is really weighed", i.name, i.format.Words),
		Format: i.format.Key, Decimals: i.decimals, Request: i.format.Request}
}

// Pattern says how its lines are read.
func (i *Instrument) Pattern() (*line.Pattern, error) { return i.format.Pattern(i.decimals) }

// Misbehave lets it do something wrong from now on, or behave again.
func (i *Instrument) Misbehave(m Misbehaviour) error {
	if !slices.Contains(Misbehaviours(), m) {
		return fmt.Errorf("a simulated instrument can't be %q; it can be one of %q", m, Misbehaviours())
	}
	i.mu.Lock()
	defer i.mu.Unlock()
	i.is = m
	close(i.changed)
	i.changed = make(chan struct{})
	if m == Unplugged {
		for _, t := range i.talks {
			t.end()
		}
		i.talks = nil
	}
	return nil
}

// plugged waits until the cable is in, or returns the error of ctx when that ends.
func (i *Instrument) plugged(ctx context.Context) error {
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		i.mu.Lock()
		is, changed := i.is, i.changed
		i.mu.Unlock()
		if is != Unplugged {
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-changed:
		}
	}
}

const (
	bannerEvery = 30.0 // s of the stream
	bathEvery   = 1.0  // s of the stream between two lines of a thermometer
)

// show says a change of the display to everybody who is connected.
func (i *Instrument) show(ctx context.Context, s simulation.LiveSample, wait bool) error {
	i.mu.Lock()
	if i.format.Thermometer && s.Seconds < i.told+bathEvery-1e-9 {
		i.mu.Unlock()
		return nil
	}
	i.told = s.Seconds
	says := i.says(s)
	if s.Seconds >= i.bannerS+bannerEvery {
		i.bannerS = s.Seconds
		says = append(i.format.BannerBytes(), says...)
	}
	if i.is == Silent || i.format.Request != "" {
		says = nil
	}
	talks := slices.Clone(i.talks)
	i.mu.Unlock()
	if len(says) == 0 {
		return nil
	}
	for _, t := range talks {
		if err := t.say(ctx, says, wait); err != nil {
			return err
		}
	}
	return nil
}

// says are the bytes for a sample, as it misbehaves. The mutex is held.
func (i *Instrument) says(s simulation.LiveSample) []byte {
	if i.is == Frozen {
		return slices.Clone(i.last)
	}
	decimals := i.decimals
	if i.is == Other {
		if decimals++; decimals > 4 {
			decimals = 2
		}
		s.Grams, s.Overload, s.Underload, s.Settled = 52.5+float64(i.rand.IntN(3))/1000, false, false, true
	}
	says := i.format.Bytes(s, decimals, i.count)
	i.count++
	i.last = slices.Clone(says)
	switch i.is {
	case Garbage:
		noise := make([]byte, 1+i.rand.IntN(30))
		for n := range noise {
			noise[n] = byte(i.rand.Uint32())
		}
		if i.rand.IntN(2) == 0 {
			return noise
		}
		return append(noise, says...)
	case Cut:
		if len(says) > 4 {
			from := 1 + i.rand.IntN(len(says)-3)
			says = slices.Delete(says, from, from+1+i.rand.IntN(len(says)-2-from))
		}
	}
	return says
}

// answer are the bytes that a request gets.
func (i *Instrument) answer() []byte {
	s := i.station.State().Shown
	i.mu.Lock()
	defer i.mu.Unlock()
	if i.is == Silent {
		return nil
	}
	return i.says(s)
}

// talk is one connection.
type talk struct {
	out  chan []byte
	done chan struct{}
	once sync.Once
}

func (t *talk) end() { t.once.Do(func() { close(t.done) }) }

// say hands bytes over. Without waiting, what is not taken makes room for what is newer.
func (t *talk) say(ctx context.Context, p []byte, wait bool) error {
	if wait {
		select {
		case t.out <- p:
		case <-t.done:
		case <-ctx.Done():
			return ctx.Err()
		}
		return nil
	}
	for {
		select {
		case t.out <- p:
			return nil
		case <-t.done:
			return nil
		default:
		}
		select {
		case <-t.out:
		default:
		}
	}
}

// ErrUnplugged is returned by Serve when the cable is out.
var ErrUnplugged = errors.New("the simulated instrument is unplugged")

// Serve speaks over a connection until ctx ends, the other side closes it, or the instrument is unplugged, and
// closes it then. The banner comes first. It returns nil, or ErrUnplugged.
func (i *Instrument) Serve(ctx context.Context, rw io.ReadWriteCloser) error {
	t := &talk{out: make(chan []byte, 16), done: make(chan struct{})}
	t.out <- i.format.BannerBytes()
	i.mu.Lock()
	if i.is == Unplugged {
		i.mu.Unlock()
		rw.Close()
		return ErrUnplugged
	}
	i.talks = append(i.talks, t)
	i.mu.Unlock()

	var others sync.WaitGroup
	others.Go(func() {
		select {
		case <-ctx.Done():
			t.end()
		case <-t.done:
		}
		rw.Close() // read and write return
	})
	others.Go(func() {
		defer t.end()
		i.listen(ctx, t, rw)
	})
	for open := true; open; {
		select {
		case <-t.done:
			open = false
		case p := <-t.out:
			if _, err := rw.Write(p); err != nil {
				t.end()
			}
		}
	}
	others.Wait()
	i.mu.Lock()
	defer i.mu.Unlock()
	i.talks = slices.DeleteFunc(i.talks, func(other *talk) bool { return other == t })
	if i.is == Unplugged {
		return ErrUnplugged
	}
	return nil
}

// listen answers requests until the connection ends.
func (i *Instrument) listen(ctx context.Context, t *talk, r io.Reader) {
	var heard []byte
	room := make([]byte, 256)
	for {
		n, err := r.Read(room)
		heard = append(heard, room[:n]...)
		for request := []byte(i.format.Request); len(request) > 0; {
			at := bytes.Index(heard, request)
			if at < 0 {
				heard = heard[max(0, len(heard)-len(request)):]
				break
			}
			heard = heard[at+len(request):]
			if says := i.answer(); says != nil && t.say(ctx, says, false) != nil {
				return
			}
		}
		if len(i.format.Request) == 0 {
			heard = heard[:0]
		}
		if err != nil {
			return
		}
	}
}
