package spool

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"sync"
	"time"
)

// Lease is how long a job counts as being printed after the program that prints it was last heard of.
const Lease = 30 * time.Second

// Spooler works off a queue: one worker for each printer.
type Spooler struct {
	Queue  Queue
	Render Renderer
	Timing Timing
	Log    *slog.Logger // nil is silent

	// Look is how often the queue is looked at, Rest the longest pause after a trouble, and Beat how often the
	// queue is told that a job is still being sent; 1 s, 1 min and a third of Lease unless set.
	Look, Rest, Beat time.Duration

	mu       sync.Mutex
	troubles map[string]*Trouble
	wake     map[string]chan struct{}
}

// Wake lets the workers look at once, after a job was asked for.
func (s *Spooler) Wake() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, w := range s.wake {
		select {
		case w <- struct{}{}:
		default:
		}
	}
}

// Troubles says why printers take nothing, by their names; a printer without trouble is not in it.
func (s *Spooler) Troubles() map[string]*Trouble {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := map[string]*Trouble{}
	for name, t := range s.troubles {
		out[name] = t
	}
	return out
}

// note keeps the trouble of a printer, and says a new one once in the program's own log.
func (s *Spooler) note(printer string, t *Trouble) {
	s.mu.Lock()
	defer s.mu.Unlock()
	before := s.troubles[printer]
	if t == nil {
		delete(s.troubles, printer)
		return
	}
	if s.troubles == nil {
		s.troubles = map[string]*Trouble{}
	}
	s.troubles[printer] = t
	if s.Log != nil && (before == nil || before.Error() != t.Error()) {
		s.Log.Warn("printing", "printer", printer, "trouble", t.Error(), "hint", t.Hint())
	}
}

// forget drops the troubles of printers that are gone.
func (s *Spooler) forget(there map[string]bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	maps.DeleteFunc(s.troubles, func(name string, _ *Trouble) bool { return !there[name] })
}

// Run prints what is asked until the context ends. A job that is being sent then is noted as broken off
// half-way; what waits goes on waiting.
func (s *Spooler) Run(ctx context.Context) {
	look := s.Look
	if look == 0 {
		look = time.Second
	}
	type worker struct {
		end  context.CancelFunc
		done chan struct{}
	}
	workers := map[string]worker{}
	defer func() {
		for _, w := range workers {
			w.end()
			<-w.done
		}
	}()
	tick := time.NewTicker(look)
	defer tick.Stop()
	for {
		if err := s.Queue.BreakOff(ctx); err != nil && ctx.Err() == nil {
			s.complain("", err)
		}
		printers, err := s.Queue.PrintersAtWork(ctx)
		if err != nil && ctx.Err() == nil {
			s.complain("", err)
		}
		if err == nil {
			there := map[string]bool{}
			for _, p := range printers {
				there[p.Name] = true
				if _, running := workers[p.Name]; running {
					continue
				}
				own, end := context.WithCancel(ctx)
				w := worker{end, make(chan struct{})}
				workers[p.Name] = w
				wake := s.waker(p.Name)
				go func() {
					defer close(w.done)
					s.work(own, p.Name, look, wake)
				}()
			}
			for name, w := range workers {
				if !there[name] {
					w.end()
					<-w.done
					delete(workers, name)
				}
			}
			s.forget(there)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

func (s *Spooler) waker(name string) chan struct{} {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.wake == nil {
		s.wake = map[string]chan struct{}{}
	}
	if s.wake[name] == nil {
		s.wake[name] = make(chan struct{}, 1)
	}
	return s.wake[name]
}

func (s *Spooler) complain(printer string, err error) {
	if s.Log != nil {
		s.Log.Error("printing", "printer", printer, "error", err)
	}
}

// work serves one printer.
func (s *Spooler) work(ctx context.Context, printer string, look time.Duration, wake <-chan struct{}) {
	longest := s.Rest
	if longest == 0 {
		longest = time.Minute
	}
	pause := look
	for ctx.Err() == nil {
		outcome, err := s.One(ctx, printer, "")
		var trouble *Trouble
		switch {
		case err == nil && outcome.Job.Number != "":
			if outcome.State != Waiting {
				pause = look
				continue // look for the next one at once
			}
			pause = min(2*pause, longest)
		case errors.As(err, &trouble):
			pause = min(2*pause, longest)
		case errors.As(err, new(*TakenError)):
			pause = look // another program was quicker
		case err != nil && ctx.Err() == nil:
			s.complain(printer, err)
			pause = min(2*pause, longest)
		default:
			pause = look
		}
		select {
		case <-ctx.Done():
		case <-wake:
		case <-time.After(pause):
		}
	}
}

// Outcome is what became of a job.
type Outcome struct {
	Job     Job
	State   State    // Printed, Failed, or Waiting when nothing was sent
	Receipt Receipt  // of one that is printed
	Trouble *Trouble // of one that is not
}

// One prints the oldest job that waits for a printer; with a number it prints that one only, and only when
// it is the oldest. An outcome without a job says that nothing waits. The error is a *Trouble when the
// printer takes nothing, and then nothing was noted in the log: the job just waits.
func (s *Spooler) One(ctx context.Context, printer, number string) (Outcome, error) {
	job, found, err := s.Queue.NextPrint(ctx, printer)
	if err != nil || !found || number != "" && job.Number != number {
		return Outcome{}, err
	}
	printers, err := s.Queue.PrintersAtWork(ctx)
	if err != nil {
		return Outcome{}, err
	}
	for _, p := range printers {
		if p.Name == printer {
			return s.print(ctx, job, p)
		}
	}
	return Outcome{}, fmt.Errorf("there is no printer %s any more", printer)
}

// print takes one job through. The order matters: the printer is reached first, so that one that is off costs
// nothing and leaves no trace; the job is begun in the log before the first byte is sent, so that a crash
// leaves one.
func (s *Spooler) print(ctx context.Context, job Job, p Printer) (Outcome, error) {
	link, err := Reach(ctx, p, s.Timing)
	if err != nil {
		return s.unreached(ctx, job, err)
	}
	defer link.Close()
	data, err := s.Render.Render(ctx, job, p)
	if ctx.Err() != nil {
		return Outcome{}, ctx.Err()
	}
	if err != nil {
		return s.unrendered(ctx, job, err)
	}
	sum := sha256.Sum256(data)
	if err := s.Queue.PrintBegun(ctx, job, int64(len(data)), hex.EncodeToString(sum[:])); err != nil {
		return Outcome{}, err
	}
	sending, cancel := context.WithCancel(ctx)
	defer cancel()
	beating := make(chan struct{})
	go func() {
		defer close(beating)
		s.beat(sending, cancel, job.Number)
	}()
	receipt, err := link.Send(sending, Document{Title: job.Title(), Data: data})
	cancel()
	<-beating
	// What happened is noted even when the program is told to end.
	noting, done := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
	defer done()
	var trouble *Trouble
	if err != nil {
		if !errors.As(err, &trouble) {
			trouble = &Trouble{Kind: Broken, Printer: p.Name, Reason: "broke off: " + err.Error(), Mend: lookAtPaper, Sent: int64(len(data)), Err: err}
		}
		s.note(p.Name, trouble)
		return s.failed(noting, job, trouble)
	}
	s.note(p.Name, nil)
	return Outcome{Job: job, State: Printed, Receipt: receipt}, s.Queue.PrintEnded(noting, job.Number, receipt)
}

// beat tells the queue that the job is still being sent. When that can't be told in time, sending ends: the
// job may count as broken off by then.
func (s *Spooler) beat(ctx context.Context, stop context.CancelFunc, number string) {
	every := s.Beat
	if every == 0 {
		every = Lease / 3
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for missed := 0; ; {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if s.Queue.StillPrinting(ctx, number) == nil {
			missed = 0
		} else if missed++; missed == 2 {
			stop()
			return
		}
	}
}

// unreached leaves a job waiting; one that this printer will never take is ended.
func (s *Spooler) unreached(ctx context.Context, job Job, err error) (Outcome, error) {
	if ctx.Err() != nil {
		return Outcome{}, ctx.Err()
	}
	var trouble *Trouble
	if !errors.As(err, &trouble) {
		return Outcome{}, err
	}
	s.note(job.Printer, trouble)
	if trouble.Later() {
		return Outcome{Job: job, State: Waiting, Trouble: trouble}, trouble
	}
	return s.refused(ctx, job, trouble)
}

// unrendered ends a job whose paper can't be made, such as that of a record that misses something.
func (s *Spooler) unrendered(ctx context.Context, job Job, err error) (Outcome, error) {
	mend := "Put it right, then print again."
	if hinted, ok := errors.AsType[interface {
		error
		Hint() string
	}](err); ok && hinted.Hint() != "" {
		mend = hinted.Hint()
	}
	return s.refused(ctx, job, &Trouble{Kind: Refused, Printer: job.Printer, Reason: "got nothing, because the " + job.Document + " can't be made: " + err.Error(), Mend: mend, Err: err})
}

// refused begins and fails a job of which nothing was sent nor will be, so that the log says why.
func (s *Spooler) refused(ctx context.Context, job Job, trouble *Trouble) (Outcome, error) {
	if err := s.Queue.PrintBegun(ctx, job, 0, ""); err != nil {
		return Outcome{}, err
	}
	return s.failed(ctx, job, trouble)
}

func (s *Spooler) failed(ctx context.Context, job Job, trouble *Trouble) (Outcome, error) {
	waits, err := s.Queue.PrintFailed(ctx, job.Number, trouble)
	o := Outcome{Job: job, State: Failed, Trouble: trouble}
	if waits {
		o.State = Waiting
	}
	return o, err
}
