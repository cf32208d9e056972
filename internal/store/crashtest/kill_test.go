//go:build linux

package crashtest

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
)

// loop kills drivers over one store, again and again.
type loop struct {
	t      *testing.T
	random *rand.Rand
	job    job

	mu       sync.Mutex
	promises *promises
	backups  map[string]*backup
	fault    error
	tally
}

// tally counts what loops did.
type tally struct {
	killed            map[string]int // how often at which point
	acts              int            // acknowledged, in earlier loops
	whole, unfinished int            // backups that were said to be done, and that were not
}

func newTally() tally { return tally{killed: map[string]int{}} }

// tell reports, and fails when no work was done.
func (c tally) tell(t *testing.T, entries int64) {
	t.Helper()
	kills := 0
	for _, n := range c.killed {
		kills += n
	}
	t.Logf("%d kills %v; %d acts acknowledged, 0 lost; %d backups whole, %d unfinished; the last store had %d entries", kills, c.killed, c.acts, c.whole, c.unfinished, entries)
	if c.acts < kills {
		t.Error("the loop did not do its work")
	}
}

// backup is a backup that was begun.
type backup struct {
	before map[int]int // the acts of each client that were acknowledged before
	done   bool
}

func newLoop(t *testing.T, seed uint64, sofar tally) *loop {
	t.Helper()
	private, public, err := ledger.NewKey(shop)
	if err != nil {
		t.Fatal(err)
	}
	return &loop{
		t: t, random: rand.New(rand.NewPCG(seed, 1)), promises: newPromises(), backups: map[string]*backup{},
		job: job{Private: private, Public: public, Folder: t.TempDir()}, tally: sofar,
	}
}

// seed differs from run to run, and is printed, unless WREATH_SEED sets it.
func seed(t *testing.T) uint64 {
	t.Helper()
	n := wanted(t, "WREATH_SEED", int(time.Now().UnixNano()%1e9))
	t.Logf("WREATH_SEED=%d", n)
	return uint64(n)
}

// process is a driver at work.
type process struct {
	command *exec.Cmd
	point   string
	ready   chan struct{}
	ended   chan struct{} // its last line was read
}

// start starts a driver with some clients, which kills itself at the point given, if any.
func (l *loop) start(clients []int, point string, pass int) *process {
	l.t.Helper()
	j := l.job
	j.Point, j.Pass, j.Next = point, int64(pass), map[int]int{}
	l.mu.Lock()
	for _, c := range clients {
		j.Next[c] = l.promises.next[c]
	}
	l.mu.Unlock()
	text, err := json.Marshal(j)
	if err != nil {
		l.t.Fatal(err)
	}
	p := &process{exec.Command(os.Args[0]), point, make(chan struct{}), make(chan struct{})}
	p.command.Env = append(os.Environ(), "WREATH_DRIVER="+string(text))
	p.command.Stderr = os.Stderr
	out, err := p.command.StdoutPipe()
	if err != nil {
		l.t.Fatal(err)
	}
	if err := p.command.Start(); err != nil {
		l.t.Fatal(err)
	}
	go func() {
		defer close(p.ended)
		l.listen(out, p.ready, clients)
	}()
	return p
}

// listen reads what a driver says. A line that the kill cut short says nothing.
func (l *loop) listen(out io.Reader, ready chan struct{}, clients []int) {
	lines := bufio.NewReader(out)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			return
		}
		if line == "ready\n" {
			close(ready)
			continue
		}
		if err := l.hear(strings.TrimSpace(line), clients); err != nil {
			l.mu.Lock()
			l.fault = errors.Join(l.fault, err)
			l.mu.Unlock()
		}
	}
}

func (l *loop) hear(line string, clients []int) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	word, rest, _ := strings.Cut(line, " ")
	switch word {
	case "ack":
		var a act
		var d done
		if _, err := fmt.Sscan(rest, &a.client, &a.n, &d.seq, &d.number); err != nil {
			return fmt.Errorf("%q: %w", line, err)
		}
		return l.promises.ack(a, d)
	case "begin":
		b := &backup{before: map[int]int{}}
		for _, client := range clients { // what other processes say may be heard too early
			b.before[client] = l.promises.next[client]
		}
		l.backups[rest] = b
	case "done":
		l.backups[rest].done = true
	default:
		return fmt.Errorf("the driver says: %s", line)
	}
	return nil
}

// kill ends a driver, unless it does so itself before, and waits for its last line.
func (l *loop) kill(p *process) {
	l.t.Helper()
	after := time.Second
	if p.point == "" {
		after = time.Duration(l.random.IntN(300)) * time.Millisecond
	}
	select {
	case <-p.ready:
	case <-p.ended:
	case <-time.After(time.Minute):
		l.t.Error("the driver did not begin within a minute")
	}
	select {
	case <-p.ended:
		l.killed[p.point]++
	case <-time.After(after):
		l.killed["at a random moment"]++
	}
	l.end(p)
}

// end kills a driver and waits for its last line.
func (l *loop) end(p *process) {
	l.t.Helper()
	p.command.Process.Kill()
	<-p.ended
	p.command.Wait()
	if status, ok := p.command.ProcessState.Sys().(syscall.WaitStatus); !ok || status.Signal() != syscall.SIGKILL {
		l.t.Errorf("the driver ended with %v", p.command.ProcessState)
	}
	if l.fault != nil {
		l.t.Fatal(l.fault)
	}
}

type point struct {
	name string
	pass int
}

// making are the points where drivers kill themselves while the store is made.
var making = []point{{"step", 12}, {"step", 80}, {"migration", 1}, {"migrated", 1}}

// points are where drivers kill themselves, and up to which passing. At "" the loop kills at a
// random moment.
var points = []point{
	{"", 1}, {"", 1}, {"", 1}, {"inside", 40}, {"after entry", 40}, {"before commit", 40}, {"after commit", 40},
	{"checkpoint", 8}, {"copy", 1}, {"copied entry", 1}, {"copied attachment", 1},
	{"step", 20}, {"step", 1000}, {"step", 1000}, {"step", 1000},
}

// round runs drivers, the clients shared among them, and kills them all.
func (l *loop) round(processes, age int) {
	l.t.Helper()
	const clients = 8
	var running []*process
	for p := range processes {
		var mine []int
		for c := p; c < clients; c += processes {
			mine = append(mine, c)
		}
		at := points[l.random.IntN(len(points))]
		if age < len(making) {
			at = making[age]
		}
		running = append(running, l.start(mine, at.name, 1+l.random.IntN(at.pass)))
	}
	for _, p := range running {
		l.kill(p)
	}
}

// check opens the store after a kill and holds it against what was acknowledged.
func (l *loop) check(s *store.Store) int64 {
	l.t.Helper()
	entries := l.promises.check(l.t, s)
	for path, b := range l.backups {
		l.checkBackup(path, b)
		if b.done {
			l.whole++
		} else {
			l.unfinished++
		}
		left, err := filepath.Glob(path + "*")
		if err != nil {
			l.t.Fatal(err)
		}
		for _, name := range left {
			os.Remove(name)
		}
	}
	clear(l.backups)
	return entries
}

// checkBackup: a backup that is there holds at least what was acknowledged before it was begun.
func (l *loop) checkBackup(path string, b *backup) {
	l.t.Helper()
	ctx := context.Background()
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) && !b.done {
		return
	}
	s, err := sqlite.Open(ctx, path, sqlite.Options{MustBe: true})
	if err != nil {
		l.t.Fatalf("backup: %v", err)
	}
	defer s.Close()
	isCopy := strings.Contains(path, "-copy")
	if there, err := s.Exists(ctx, shop); err != nil || !there {
		if err != nil || b.done || !isCopy {
			l.t.Fatalf("the backup %s (done: %t) holds no log: %v", path, b.done, err)
		}
		return // a copy is there as a whole or not at all
	}
	if _, err := s.Verify(ctx, shop, nil, nil, nil); err != nil {
		l.t.Fatalf("backup: %v", err)
	}
	for client, next := range b.before {
		for n := range next {
			if _, err := s.Lookup(ctx, shop, act{client, n}.key()); err != nil {
				l.t.Fatalf("LOST: the backup %s does not hold %s: %v", path, act{client, n}.key(), err)
			}
		}
	}
}

// crash kills so many drivers over SQLite files, a new file after each fifty.
func crash(t *testing.T, kills, processes int) {
	t.Parallel()
	ctx := context.Background()
	random := rand.New(rand.NewPCG(seed(t), 0))
	sum, entries := newTally(), int64(0)
	for kills > 0 {
		l := newLoop(t, random.Uint64(), sum)
		l.job.SQLite = filepath.Join(l.job.Folder, "crash.wreath")
		for age := 0; age < 50 && kills > 0; age += processes {
			kills -= processes
			l.round(processes, age)
			s, err := sqlite.Open(ctx, l.job.SQLite, sqlite.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if err := sqlite.Sound(ctx, l.job.SQLite); err != nil {
				t.Fatal(err)
			}
			entries = l.check(s)
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
		}
		sum = l.tally
		sum.acts += len(l.promises.acked)
	}
	sum.tell(t, entries)
}

func TestKilledProcess(t *testing.T) {
	kills := wanted(t, "WREATH_KILLS", 60)
	crash(t, kills-kills/3, 1)
}

func TestKilledProcessesOnOneFile(t *testing.T) { crash(t, wanted(t, "WREATH_KILLS", 60)/3, 3) }

// The check that the loops rely on finds what it is there to find.
func TestCheckFinds(t *testing.T) {
	ctx := context.Background()
	private, public, err := ledger.NewKey(shop)
	if err != nil {
		t.Fatal(err)
	}
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "a.wreath"), sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := openLog(ctx, s, public); err != nil {
		t.Fatal(err)
	}
	told := func() *promises {
		p := newPromises()
		for n := range 12 {
			d, err := act{1, n}.write(ctx, s, private)
			if err == nil {
				err = p.ack(act{1, n}, d)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		return p
	}
	finds := func(p *promises, fault string) {
		t.Helper()
		err := s.Read(ctx, shop, p.compare)
		if fault == "" && err != nil || fault != "" && (err == nil || !strings.Contains(err.Error(), fault)) {
			t.Errorf("it finds %v, want %q", err, fault)
		}
	}
	change := func(do func(tx *store.Tx) error) {
		t.Helper()
		if err := s.Write(ctx, shop, do); err != nil {
			t.Fatal(err)
		}
	}
	p := told()
	finds(p, "")
	if err := p.ack(act{1, 3}, done{999, 1}); err == nil {
		t.Error("another answer to the same act is taken")
	}
	p.acked[act{1, 12}] = done{12, 1}
	finds(p, "LOST: c1-12")
	p = told()
	p.next[1] = 10
	finds(p, "c1-11 is there, and 10 before it")
	change(func(tx *store.Tx) error { return tx.Put("counter", "number", 1, 99) })
	finds(told(), "a counter at 99")
	_, err = act{2, 0}.write(ctx, s, private) // it draws number 100
	for n := 0; err == nil && !(act{2, n}).content().numbered; n++ {
		_, err = act{2, n + 1}.write(ctx, s, private)
	}
	if err != nil {
		t.Fatal(err)
	}
	p = told()
	p.next[2] = 12
	finds(p, "has the number 100 where")
	change(func(tx *store.Tx) error { return tx.Remove("act", act{1, 5}.key()) })
	finds(p, "c1-5: its thing")
}
