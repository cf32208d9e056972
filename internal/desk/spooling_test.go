package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	command "os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/internal/spool"
	"wreath/internal/store/sqlite"
)

// paperLength is the length of every paper of these tests; its last letters say that it is whole.
const paperLength = 3000

// papers renders jobs so that a test can read from a paper which one it is.
var papers = spool.RenderFunc(func(_ context.Context, job spool.Job, p spool.Printer) ([]byte, error) {
	head := fmt.Sprintf("%s|%s|%d|", job.Number, job.Title(), job.Copy)
	return []byte(head + strings.Repeat(".", paperLength-len(head)-1) + "#"), nil
})

// piece is a piece of paper that came out of a printer.
type piece struct {
	job, title string
	copied     int
	whole      bool
	earlier    int // papers of the same document that came out before, anywhere
}

// tray is a printer of the test on this machine, and what came out of it and its like.
type tray struct {
	net.Listener
	pile *pile
	mu   sync.Mutex
	most int    // bytes that it takes before it closes; 0 takes all
	then func() // called when it closed early
}

// pile is all paper that came out.
type pile struct {
	mu     sync.Mutex
	papers []piece
	fault  error
}

func (p *pile) add(data []byte) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(data) == 0 {
		return
	}
	var out piece
	fields := strings.SplitN(string(data), "|", 4)
	if len(fields) < 4 {
		p.fault = fmt.Errorf("a scrap of paper: %q", data)
		return
	}
	out.job, out.title = fields[0], fields[1]
	if _, err := fmt.Sscan(fields[2], &out.copied); err != nil {
		p.fault = err
	}
	out.whole = len(data) == paperLength && bytes.HasSuffix(data, []byte("#"))
	for _, before := range p.papers {
		if before.title == out.title {
			out.earlier++
		}
	}
	p.papers = append(p.papers, out)
}

func startTray(t testing.TB, p *pile) *tray {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	out := &tray{Listener: l, pile: p}
	go out.serve(l)
	t.Cleanup(func() { out.Close() })
	return out
}

func (p *tray) serve(l net.Listener) {
	for {
		c, err := l.Accept()
		if err != nil {
			return
		}
		p.mu.Lock()
		most, then := p.most, p.then
		p.most, p.then = 0, nil // one fault at a time
		p.mu.Unlock()
		var data []byte
		if most == 0 {
			data, _ = io.ReadAll(c)
		} else {
			data = make([]byte, most)
			n, _ := io.ReadFull(c, data)
			data = data[:n]
		}
		p.pile.add(data) // before it closes, so that who waits for the end sees it
		if then != nil {
			then()
		}
		c.Close()
	}
}

func (p *tray) fault(most int, then func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.most, p.then = most, then
}

// mortal is a queue whose program may die at any of its steps. What it does after that reaches nobody.
type mortal struct {
	*Desk
	mu   sync.Mutex
	dies string // the step at which it dies; "" lives
	dead context.CancelFunc
	gone bool
}

var errDead = errors.New("the program is dead")

// Each step can be the last, before it was done or after.
var steps = []string{"before begun", "after begun", "before ended", "after ended", "before failed", "after failed"}

func (m *mortal) die() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.gone = true
	m.dead()
}

// isDead tells whether what went wrong is the death itself, whatever it looks like from inside.
func (m *mortal) isDead() bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.gone
}

func (m *mortal) at(step string) error {
	m.mu.Lock()
	dies := m.dies == step
	m.mu.Unlock()
	if dies {
		m.die()
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.gone {
		return errDead
	}
	return nil
}

func (m *mortal) step(name string, do func() error) error {
	if err := m.at("before " + name); err != nil {
		return err
	}
	if err := do(); err != nil {
		return err
	}
	return m.at("after " + name)
}

func (m *mortal) PrintBegun(ctx context.Context, job spool.Job, bytes int64, sum string) error {
	return m.step("begun", func() error { return m.Desk.PrintBegun(ctx, job, bytes, sum) })
}

func (m *mortal) PrintEnded(ctx context.Context, number string, r spool.Receipt) error {
	return m.step("ended", func() error { return m.Desk.PrintEnded(ctx, number, r) })
}

func (m *mortal) PrintFailed(ctx context.Context, number string, t *spool.Trouble) (waits bool, err error) {
	err = m.step("failed", func() error { waits, err = m.Desk.PrintFailed(ctx, number, t); return err })
	return waits, err
}

func (m *mortal) BreakOff(ctx context.Context) error {
	if err := m.at("BreakOff"); err != nil {
		return err
	}
	return m.Desk.BreakOff(ctx)
}

var swift = spool.Timing{Dial: 5 * time.Second, Stall: 5 * time.Second, Farewell: 5 * time.Second}

// TestQueueOutlivesEverything asks for labels, prints them with two printers that go off and break, kills the
// program at every step, prints again by hand and drops, in random order. Whatever happens: no job is sent
// twice, no two papers of a document have one number, each paper says at least how many came before it, and
// no job is lost.
func TestQueueOutlivesEverything(t *testing.T) {
	runs := 0
	rapid.Check(t, func(r *rapid.T) {
		runs++
		w := openWorld(t)
		defer w.o.Store.Close()
		ctx := t.Context()
		pile := &pile{}
		subjects := []string{w.item().ID, w.item().ID}
		names := []string{"left", "right"}
		trays := map[string]*tray{}
		off := map[string]bool{}
		place := func(name string, address string) {
			p := slipPrinter
			p.Name, p.Address = name, "tcp://"+address
			must[spool.Printer](t)(w.SetPrinter(ctx, w.boss(), p, ""))
		}
		for _, name := range names {
			trays[name] = startTray(t, pile)
			place(name, trays[name].Addr().String())
		}
		dead := startTray(t, pile) // an address where nobody is
		dead.Close()
		var asked []string
		work := func(name, dies string) {
			own, cancel := context.WithCancel(ctx)
			defer cancel()
			m := &mortal{Desk: w.Desk, dies: dies, dead: cancel}
			if strings.HasPrefix(dies, "sending") {
				var most int
				fmt.Sscanf(dies, "sending %d", &most)
				trays[name].fault(most, m.die)
			}
			s := &spool.Spooler{Queue: m, Render: papers, Timing: swift}
			if err := m.BreakOff(own); err != nil && !m.isDead() {
				r.Fatalf("break off: %v", err)
			}
			_, err := s.One(own, name, "")
			var trouble *spool.Trouble
			var taken *spool.TakenError
			if err != nil && !m.isDead() && !errors.As(err, &trouble) && !errors.As(err, &taken) {
				r.Fatalf("print: %v", err)
			}
			trays[name].fault(0, nil)
		}
		r.Repeat(map[string]func(*rapid.T){
			"ask": func(r *rapid.T) {
				job := must[spool.Job](t)(w.AskPrint(ctx, w.boss(), PrintAsk{Document: spool.Label, Subject: rapid.SampledFrom(subjects).Draw(r, "subject"), Printer: rapid.SampledFrom(names).Draw(r, "printer")}))
				asked = append(asked, job.Number)
			},
			"print": func(r *rapid.T) { work(rapid.SampledFrom(names).Draw(r, "printer"), "") },
			"break": func(r *rapid.T) {
				name := rapid.SampledFrom(names).Draw(r, "printer")
				trays[name].fault(rapid.IntRange(40, paperLength-1).Draw(r, "bytes"), nil)
				work(name, "")
			},
			"die": func(r *rapid.T) {
				work(rapid.SampledFrom(names).Draw(r, "printer"), rapid.SampledFrom(steps).Draw(r, "step"))
			},
			"die while sending": func(r *rapid.T) {
				work(rapid.SampledFrom(names).Draw(r, "printer"), fmt.Sprintf("sending %d", rapid.IntRange(40, paperLength-1).Draw(r, "bytes")))
			},
			"switch": func(r *rapid.T) {
				name := rapid.SampledFrom(names).Draw(r, "printer")
				if off[name] = !off[name]; off[name] {
					place(name, dead.Addr().String())
				} else {
					place(name, trays[name].Addr().String())
				}
			},
			"time": func(*rapid.T) { w.clock.move(2 * spool.Lease) },
			"again": func(r *rapid.T) {
				if len(asked) == 0 {
					r.Skip()
				}
				number := rapid.SampledFrom(asked).Draw(r, "job")
				job, err := w.PrintAgain(ctx, w.boss(), number, "")
				if err == nil {
					asked = append(asked, job.Number)
				} else if !errors.As(err, new(*UserError)) {
					r.Fatalf("%v", err)
				}
			},
			"drop": func(r *rapid.T) {
				if len(asked) == 0 {
					r.Skip()
				}
				if err := w.DropPrint(ctx, w.boss(), rapid.SampledFrom(asked).Draw(r, "job"), ""); err != nil && !errors.As(err, new(*UserError)) {
					r.Fatalf("%v", err)
				}
			},
			"rebuild": func(r *rapid.T) {
				if err := w.Rebuild(ctx); err != nil {
					r.Fatalf("%v", err)
				}
			},
			"": func(r *rapid.T) { pile.check(r) },
		})
		// Everything is put right, and the queue is worked off.
		for _, name := range names {
			place(name, trays[name].Addr().String())
		}
		w.clock.move(2 * spool.Lease)
		for range 2 * len(asked) {
			for _, name := range names {
				work(name, "")
			}
		}
		pile.check(r)
		whole := map[string]bool{}
		for _, p := range pile.papers {
			if p.whole {
				whole[p.job] = true
			}
		}
		queue := w.queue()
		for _, number := range asked {
			job := w.job(number)
			switch job.State {
			case spool.Printed:
				if !whole[number] {
					r.Fatalf("%s is said to be printed, and no whole paper came out", number)
				}
			case spool.Dropped, spool.Failed, spool.BrokenOff:
				if job.Again == "" && !strings.Contains(queue, number) && !w.putAway(number) {
					r.Fatalf("%s is %s and nobody is told: %s", number, job.State, queue)
				}
			default:
				r.Fatalf("%s is still %s", number, job.State)
			}
		}
		same(r, t, w.Desk)
	})
	t.Logf("%d runs", runs)
}

// putAway tells whether somebody dropped a job.
func (w *world) putAway(number string) bool {
	w.t.Helper()
	for _, h := range must[[]Happening](w.t)(w.History(w.t.Context(), w.who["boss"], number)) {
		if h.Kind == "print-dropped" {
			return true
		}
	}
	return false
}

// check holds the paper against what was promised.
func (p *pile) check(r *rapid.T) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.fault != nil {
		r.Fatalf("%v", p.fault)
	}
	jobs, numbers := map[string]bool{}, map[string]bool{}
	for _, one := range p.papers {
		if jobs[one.job] {
			r.Fatalf("%s was sent twice", one.job)
		}
		jobs[one.job] = true
		number := fmt.Sprintf("%s copy %d", one.title, one.copied)
		if numbers[number] {
			r.Fatalf("two papers are %s", number)
		}
		numbers[number] = true
		if one.copied < one.earlier {
			r.Fatalf("%s says COPY %d after %d others", one.job, one.copied, one.earlier)
		}
	}
}

// printChild is the variable that makes the test program a program that prints until it is killed.
const printChild = "WREATH_PRINT_CHILD"

type childPlace struct{ Path, Private, Public, Printer string }

// printUntilKilled prints one job of the store, and waits for its death.
func printUntilKilled(given string) {
	var at childPlace
	err := json.Unmarshal([]byte(given), &at)
	if err == nil {
		var d *Desk
		ctx := context.Background()
		s, failed := sqlite.Open(ctx, at.Path, sqlite.Options{})
		if err = failed; err == nil {
			d, err = New(Options{Store: s, Shop: "river-street", Private: at.Private, Public: at.Public, Version: "test", Cost: weak, Now: func() time.Time { return morning }})
		}
		if err == nil {
			_, err = (&spool.Spooler{Queue: d, Render: papers}).One(ctx, at.Printer, "")
		}
	}
	fmt.Fprintln(os.Stderr, "the child was not killed:", err)
	os.Exit(1)
}

// TestKilledWhilePrinting kills a real program with SIGKILL after the printer took every number of bytes of a
// sample: the job is never sent again by itself, and printed again by hand it is a COPY.
func TestKilledWhilePrinting(t *testing.T) {
	self := must[string](t)(os.Executable())
	for _, most := range []int{1, 100, 1500, paperLength} {
		w := openWorld(t)
		ctx := t.Context()
		pile := &pile{}
		l := must[net.Listener](t)(net.Listen("tcp", "127.0.0.1:0"))
		defer l.Close()
		p := slipPrinter
		p.Address = "tcp://" + l.Addr().String()
		must[spool.Printer](t)(w.SetPrinter(ctx, w.boss(), p, ""))
		asked := must[spool.Job](t)(w.AskPrint(ctx, w.boss(), PrintAsk{Document: spool.Label, Subject: w.item().ID}))
		given := must[[]byte](t)(json.Marshal(childPlace{w.path, w.o.Private, w.o.Public, p.Name}))
		child := command.Command(self, "-test.run=^$")
		child.Env = append(os.Environ(), printChild+"="+string(given))
		var said bytes.Buffer
		child.Stderr = &said
		w.ok(child.Start())
		c := must[net.Conn](t)(l.Accept())
		data := make([]byte, most)
		if _, err := io.ReadFull(c, data); err != nil {
			t.Fatalf("%v: %s", err, said.String())
		}
		// The connection stays open, so the child waits: for the printer to take more, or to close.
		w.ok(child.Process.Kill())
		if err := child.Wait(); err == nil || said.Len() > 0 {
			t.Fatalf("the child was not killed: %v, %s", err, said.String())
		}
		c.Close()
		l.Close()
		if most > 50 {
			pile.add(data)
			if got := pile.papers[0]; got.job != asked.Number || got.copied != 0 {
				t.Errorf("after %d bytes: %+v", most, got)
			}
		}

		// A new program, at once and after a while: nothing is sent by itself.
		again := startTray(t, pile)
		p.Address = "tcp://" + again.Addr().String()
		must[spool.Printer](t)(w.SetPrinter(ctx, w.boss(), p, ""))
		s := &spool.Spooler{Queue: w.Desk, Render: papers, Timing: swift}
		for range 3 {
			w.ok(w.BreakOff(ctx))
			if o, err := s.One(ctx, p.Name, ""); err != nil || o.Job.Number != "" {
				t.Errorf("after %d bytes it was sent again by itself: %+v, %v", most, o, err)
			}
			w.clock.move(2 * spool.Lease)
		}
		if got := w.queue(); got != asked.Number+" broken off" {
			t.Errorf("the queue: %s", got)
		}
		copied := must[spool.Job](t)(w.PrintAgain(ctx, w.boss(), asked.Number, ""))
		o, err := s.One(ctx, p.Name, "")
		if err != nil || o.State != spool.Printed || o.Job.Number != copied.Number || o.Job.Copy != 1 {
			t.Errorf("printed again: %+v, %v", o, err)
		}
		last := pile.papers[len(pile.papers)-1]
		if last.job != copied.Number || last.copied != 1 || !last.whole {
			t.Errorf("printed again: %+v", last)
		}
		if got := w.queue(); got != "" {
			t.Errorf("the queue: %s", got)
		}
		same(t, t, w.Desk)
	}
}

// TestServedQueue runs the spooler as the pages do: what is asked is printed at once, what a printer does not
// take waits until it does, and a new program goes on where the old one ended.
func TestServedQueue(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	pile := &pile{}
	on := startTray(t, pile)
	p := slipPrinter
	p.Address = "tcp://" + on.Addr().String()
	must[spool.Printer](t)(w.SetPrinter(ctx, w.boss(), p, ""))
	run := func() (s *spool.Spooler, end func()) {
		own, cancel := context.WithCancel(ctx)
		s = &spool.Spooler{Queue: w.Desk, Render: papers, Timing: swift, Look: 10 * time.Millisecond, Rest: 20 * time.Millisecond}
		done := make(chan struct{})
		go func() { defer close(done); s.Run(own) }()
		return s, func() { cancel(); <-done }
	}
	s, end := run()
	defer func() { end() }()
	subject := w.item().ID
	ask := func() spool.Job {
		job := must[spool.Job](t)(w.AskPrint(ctx, w.boss(), PrintAsk{Document: spool.Label, Subject: subject}))
		s.Wake()
		return job
	}
	until := func(what string, is func() bool) {
		t.Helper()
		for deadline := time.Now().Add(30 * time.Second); !is(); {
			if time.Now().After(deadline) {
				t.Fatalf("%s does not come: %s; %v", what, w.queue(), s.Troubles())
			}
		}
	}
	printed := func(number string) func() bool {
		return func() bool { return w.job(number).State == spool.Printed }
	}
	first := ask()
	until("the first paper", printed(first.Number))
	// Off: the job waits without a trace in the log.
	on.Close()
	second := ask()
	until("the trouble", func() bool { return s.Troubles()[p.Name] != nil })
	size := w.size()
	if j := w.job(second.Number); j.State != spool.Waiting || j.Attempts != 0 {
		t.Errorf("off: %+v", j)
	}
	if w.size() != size {
		t.Error("a printer that is off fills the log")
	}
	// The program ends and another one begins; then the printer is on.
	end()
	back := startTray(t, pile)
	p.Address = "tcp://" + back.Addr().String()
	must[spool.Printer](t)(w.SetPrinter(ctx, w.boss(), p, "another address"))
	s, end = run()
	until("the second paper", printed(second.Number))
	if len(s.Troubles()) > 0 {
		t.Errorf("troubles that are over: %v", s.Troubles())
	}
	if j := w.job(second.Number); j.Copy != 1 {
		t.Errorf("the second is copy %d", j.Copy)
	}
	// A printer that was removed has no worker any more.
	w.ok(w.RemovePrinter(ctx, w.boss(), p.Name, ""))
	end()
	same(t, t, w.Desk)
}
