package desk

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/spool"
	"wreath/internal/store"
)

var (
	slipPrinter  = spool.Printer{Format: 1, Name: "counter", Address: "tcp://192.0.2.20", Takes: spool.Text, Columns: 32, Encoding: spool.ASCII, FeedLines: 3}
	sheetPrinter = spool.Printer{Format: 1, Name: "office", Address: "ipp://localhost/printers/office", Takes: spool.PDF, Paper: spool.A4}
)

func (w *world) printer() string {
	w.t.Helper()
	return must[spool.Printer](w.t)(w.SetPrinter(w.t.Context(), w.boss(), slipPrinter, "")).Name
}

// sparePrinter is one that nothing waits for.
func (w *world) sparePrinter() string {
	w.t.Helper()
	p := slipPrinter
	p.Name = "spare"
	return must[spool.Printer](w.t)(w.SetPrinter(w.t.Context(), w.boss(), p, "")).Name
}

// slipAsked is a slip that waits.
func (w *world) slipAsked() spool.Job {
	w.t.Helper()
	return must[spool.Job](w.t)(w.AskPrint(w.t.Context(), w.boss(), PrintAsk{Document: spool.Slip, Subject: w.recorded(w.boss()), Printer: w.printer()}))
}

// begin begins the job that is next at a printer.
func (w *world) begin(printer string) spool.Job {
	w.t.Helper()
	job, found, err := w.NextPrint(w.t.Context(), printer)
	w.ok(err)
	if !found {
		w.t.Fatal("nothing waits")
	}
	w.ok(w.PrintBegun(w.t.Context(), job, 100, strings.Repeat("0", 64)))
	return job
}

// printedSlip is the number of a job that is printed.
func (w *world) printedSlip() string {
	w.t.Helper()
	w.slipAsked()
	job := w.begin("counter")
	w.ok(w.PrintEnded(w.t.Context(), job.Number, spool.Receipt{Known: spool.HandedOver, Sent: 100}))
	return job.Number
}

// printEnds lets a job end in each of the ways that the program itself notes.
func (w *world) printEnds() {
	w.t.Helper()
	ctx := w.t.Context()
	var jobs []spool.Job
	must[spool.Printer](w.t)(w.SetPrinter(ctx, w.boss(), slipPrinter, ""))
	for range 3 {
		w.slipAsked()
	}
	for {
		if job, found, err := w.NextPrint(ctx, "counter"); err != nil || !found {
			w.ok(err)
			break
		} else {
			w.ok(w.PrintBegun(ctx, job, 100, ""))
			jobs = append(jobs, job)
			switch len(jobs) {
			case 1:
				_, err = w.PrintFailed(ctx, job.Number, &spool.Trouble{Kind: spool.Broken, Printer: "counter", Reason: "went away", Sent: 7})
			case 2:
				w.clock.move(2 * spool.Lease)
				err = w.BreakOff(ctx)
			default:
				err = w.PrintEnded(ctx, job.Number, spool.Receipt{Known: spool.Done, Sent: 100})
			}
			w.ok(err)
		}
	}
}

func (w *world) job(number string) spool.Job {
	w.t.Helper()
	return must[spool.Job](w.t)(w.PrintJob(w.t.Context(), w.who["boss"], number))
}

// queue says the queue in one line: numbers and states.
func (w *world) queue() string {
	w.t.Helper()
	var out []string
	for _, j := range must[[]spool.Job](w.t)(w.PrintQueue(w.t.Context(), w.who["boss"])) {
		out = append(out, j.Number+" "+string(j.State))
	}
	return strings.Join(out, ", ")
}

// TestCopies follows one slip through every end of a job: what may have come out makes the next one a copy,
// what certainly did not leaves it the first.
func TestCopies(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	first := w.slipAsked()
	ask := PrintAsk{Document: spool.Slip, Subject: first.Subject}
	asked := func() spool.Job { return must[spool.Job](t)(w.AskPrint(ctx, w.boss(), ask)) }
	began := func(copied int) spool.Job {
		t.Helper()
		job := w.begin("counter")
		if job.Copy != copied || w.job(job.Number).Copy != copied {
			t.Errorf("%s is begun as copy %d, want %d", job.Number, job.Copy, copied)
		}
		return job
	}
	fail := func(job spool.Job, kind spool.Kind, sent int64, wantWait bool) {
		t.Helper()
		waits := must[bool](t)(w.PrintFailed(ctx, job.Number, &spool.Trouble{Kind: kind, Printer: "counter", Reason: "was invented to fail", Sent: sent}))
		if waits != wantWait {
			t.Errorf("%s after %s with %d bytes sent: waits %t", job.Number, kind, sent, waits)
		}
	}
	// Refused: nothing came out, and it is over.
	fail(began(0), spool.Refused, 0, false)
	if got := w.queue(); got != "P-000001 failed" {
		t.Errorf("the queue: %s", got)
	}
	// Off before the first byte: the same job goes on waiting, four times, then it is over.
	second := asked()
	for n := range attempts {
		fail(began(0), spool.Off, 0, n < attempts-1)
	}
	if j := w.job(second.Number); j.State != spool.Failed || j.Attempts != attempts || j.MayHaveComeOut() {
		t.Errorf("after %d attempts: %+v", attempts, j)
	}
	// Printed.
	third := asked()
	began(0)
	w.ok(w.PrintEnded(ctx, third.Number, spool.Receipt{Known: spool.HandedOver, Sent: 100}))
	// Broken half-way: a part may have come out.
	asked()
	fail(began(1), spool.Broken, 60, false)
	// Broken off by a crash.
	asked()
	lost := began(2)
	other := asked()
	if _, found, err := w.NextPrint(ctx, "counter"); err != nil || found {
		t.Errorf("another job is next while one is being printed: %v", err)
	}
	w.ok(w.DropPrint(ctx, w.boss(), other.Number, ""))
	w.clock.move(spool.Lease + time.Second)
	if j := w.job(lost.Number); j.State != spool.BrokenOff {
		t.Errorf("past its time it is %s", j.State)
	}
	w.ok(w.BreakOff(ctx))
	if e := lastEntry(t, w.Desk); e.Kind != "print-broken-off" || e.Subject != lost.Number || e.Person != "boss" {
		t.Errorf("noted: %s %s by %s", e.Kind, e.Subject, e.Person)
	}
	size := w.size()
	w.ok(w.BreakOff(ctx))
	if w.size() != size {
		t.Error("it is noted twice")
	}
	if _, found, err := w.NextPrint(ctx, "counter"); err != nil || found {
		t.Errorf("what broke off is next again: %v", err)
	}
	// A person prints it again.
	again := must[spool.Job](t)(w.PrintAgain(ctx, w.boss(), lost.Number, ""))
	if again.Of != lost.Number || w.job(lost.Number).Again != again.Number {
		t.Errorf("%s again is %+v", lost.Number, again)
	}
	began(3)
	w.ok(w.PrintEnded(ctx, again.Number, spool.Receipt{Known: spool.Done, Sent: 100}))
	came, jobs, err := w.Prints(ctx, w.who["boss"], spool.Slip, first.Subject)
	w.ok(err)
	if came != 4 || len(jobs) != 7 {
		t.Errorf("%d of %d jobs may have come out, want 4 of 7", came, len(jobs))
	}
	// Another document of the same record counts for itself.
	must[spool.Job](t)(w.AskPrint(ctx, w.boss(), PrintAsk{Document: spool.Label, Subject: first.Subject}))
	began(0)
	same(t, t, w.Desk)
}

// TestAskPrintRefuses says why something can't be printed.
func TestAskPrintRefuses(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	number := w.recorded(w.boss())
	ask := func(a PrintAsk) error { _, err := w.AskPrint(ctx, w.boss(), a); return err }
	saying(t, "without a printer", ask(PrintAsk{Document: spool.Slip, Subject: number}), "no printer")
	w.printer()
	for _, c := range []struct {
		ask  PrintAsk
		says string
	}{
		{PrintAsk{Document: spool.Slip, Subject: number, Printer: "cuonter"}, "no printer"},
		{PrintAsk{Document: spool.Slip, Subject: "D-000999"}, "no record"},
		{PrintAsk{Document: spool.Report, Subject: number}, "needs a sheet"},
		{PrintAsk{Document: "poster", Subject: number}, "no document"},
		{PrintAsk{Document: spool.Label, Subject: "no such thing"}, "make a label of"},
		{PrintAsk{Document: spool.Slip, Subject: strings.Repeat("D", 200)}, "no number"},
		{PrintAsk{Document: spool.Slip, Subject: number, Languages: []string{"de", "en", "es"}}, "languages"},
		{PrintAsk{Document: spool.Slip, Subject: number, Languages: []string{"../x"}}, "languages"},
	} {
		saying(t, fmt.Sprint(c.ask), ask(c.ask), c.says)
	}
	must[spool.Printer](t)(w.SetPrinter(ctx, w.boss(), sheetPrinter, ""))
	saying(t, "two printers", ask(PrintAsk{Document: spool.Slip, Subject: number}), "2 printers")
	saying(t, "no report", ask(PrintAsk{Document: spool.Report, Subject: number}), "no report of")
	w.ok(ask(PrintAsk{Document: spool.Label, Subject: w.item().ID, Printer: "counter"}))
	w.ok(ask(PrintAsk{Document: spool.Label, Subject: "B-1", Printer: "counter"}))
	saying(t, "a printer that is waited for", w.RemovePrinter(ctx, w.boss(), "counter", ""), "P-000001")
	w.ok(w.DropPrint(ctx, w.boss(), "P-000001", ""))
	w.ok(w.DropPrint(ctx, w.boss(), "P-000002", "not wanted"))
	saying(t, "dropped twice", w.DropPrint(ctx, w.boss(), "P-000002", ""), "dropped")
	saying(t, "a job that is not there", w.DropPrint(ctx, w.boss(), "P-000009", ""), "no print job")
	w.ok(w.RemovePrinter(ctx, w.boss(), "counter", "given away"))
	if all := must[[]spool.Printer](t)(w.Printers(ctx, w.who["audit"])); len(all) != 1 || all[0].Name != "office" {
		t.Errorf("printers: %+v", all)
	}
}

// TestTwoProgramsOneJob lets many begin the same job at once: one does.
func TestTwoProgramsOneJob(t *testing.T) {
	w := openWorld(t)
	w.slipAsked()
	job, _, err := w.NextPrint(t.Context(), "counter")
	w.ok(err)
	var wg sync.WaitGroup
	var mu sync.Mutex
	began := 0
	for range 8 {
		wg.Go(func() {
			err := w.PrintBegun(t.Context(), job, 100, "")
			mu.Lock()
			defer mu.Unlock()
			var taken *spool.TakenError
			switch {
			case err == nil:
				began++
			case !errors.As(err, &taken):
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if began != 1 {
		t.Errorf("%d began it", began)
	}
	if e := lastEntry(t, w.Desk); e.Kind != "print-begun" {
		t.Errorf("the last entry is %s", e.Kind)
	}
}

// TestBegunAsItWasSeen refuses to begin a job that was dropped or printed since it was looked at.
func TestBegunAsItWasSeen(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	dropped := w.slipAsked()
	seen, _, err := w.NextPrint(ctx, "counter")
	w.ok(err)
	w.ok(w.DropPrint(ctx, w.boss(), dropped.Number, ""))
	saying(t, "a dropped job", w.PrintBegun(ctx, seen, 100, ""), "is dropped")
	must[spool.Job](t)(w.AskPrint(ctx, w.boss(), PrintAsk{Document: spool.Test, Printer: "counter"}))
	seen = w.begin("counter")
	w.ok(w.PrintEnded(ctx, seen.Number, spool.Receipt{Known: spool.Done}))
	saying(t, "a printed test page", w.PrintBegun(ctx, seen, 100, ""), "is printed")
	saying(t, "ended twice", w.PrintEnded(ctx, seen.Number, spool.Receipt{Known: spool.Done}), "can't end")
}

// TestNoTwoCopiesAlike lets the first of two copies fail without a byte sent: the number of the second is not
// given again.
func TestNoTwoCopiesAlike(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	number := w.recorded(w.boss())
	w.printer()
	must[spool.Printer](t)(w.SetPrinter(ctx, w.boss(), sheetPrinter, ""))
	ask := func(printer string) {
		must[spool.Job](t)(w.AskPrint(ctx, w.boss(), PrintAsk{Document: spool.Slip, Subject: number, Printer: printer}))
	}
	ask("counter")
	w.ok(w.PrintEnded(ctx, w.begin("counter").Number, spool.Receipt{Known: spool.Done}))
	ask("counter")
	ask("office")
	fails, prints := w.begin("counter"), w.begin("office")
	if fails.Copy != 1 || prints.Copy != 2 {
		t.Errorf("copies %d and %d, want 1 and 2", fails.Copy, prints.Copy)
	}
	must[bool](t)(w.PrintFailed(ctx, fails.Number, &spool.Trouble{Kind: spool.Refused, Printer: "counter", Reason: "was invented to fail"}))
	ask("office")
	w.ok(w.PrintEnded(ctx, prints.Number, spool.Receipt{Known: spool.Done}))
	if third := w.begin("office"); third.Copy != 3 {
		t.Errorf("copy %d, want 3", third.Copy)
	}
	same(t, t, w.Desk)
}

// TestCopyNumberIsChecked lets two slips of one record wait: the second can't be begun with the copy number
// that it would have had before the first.
func TestCopyNumberIsChecked(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	first := w.slipAsked()
	must[spool.Printer](t)(w.SetPrinter(ctx, w.boss(), sheetPrinter, ""))
	second := must[spool.Job](t)(w.AskPrint(ctx, w.boss(), PrintAsk{Document: spool.Slip, Subject: first.Subject, Printer: "office"}))
	seen, _, err := w.NextPrint(ctx, "office")
	w.ok(err)
	w.begin("counter")
	saying(t, second.Number, w.PrintBegun(ctx, seen, 100, ""), "copy 1 by now")
	if job := w.begin("office"); job.Copy != 1 {
		t.Errorf("it is copy %d", job.Copy)
	}
}

// TestAskerHasNoMoreRights renders for who asked, with the rights of now and of then.
func TestAskerHasNoMoreRights(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	number, printer := w.recorded(w.boss()), w.printer()
	asked := func(who *Who) string {
		return must[spool.Job](t)(w.AskPrint(ctx, By{Who: who}, PrintAsk{Document: spool.Slip, Subject: number, Printer: printer})).Number
	}
	byProgram := asked(program(w)) // of boss, with the role measure alone
	byMeasure := asked(w.who["second"])
	who := must[*Who](t)(w.Asker(ctx, byProgram))
	if who.Person().ID != "boss" || who.May(people.SeePrices) || who.May(people.OwnCredentials) && w.SetPassword(ctx, By{Who: who}, password, "nine paper boats on a quiet lake", counterPlace) == nil {
		t.Error("a program's print may do more than the program")
	}
	w.ok(w.EndPerson(ctx, w.boss(), "second", "left"))
	_, err := w.Asker(ctx, byMeasure)
	refused(t, "who has left", err)
}

// TestRestoredQueueIsHeldBack restores a backup that was made while a slip waited: it may have been printed
// since, so it is not printed by itself.
func TestRestoredQueueIsHeldBack(t *testing.T) {
	w := openWorld(t)
	job := w.slipAsked()
	second := must[spool.Job](t)(w.AskPrint(t.Context(), w.boss(), PrintAsk{Document: spool.Slip, Subject: job.Subject}))
	err := w.o.Store.Write(t.Context(), w.Shop(), func(tx *store.Tx) error {
		e, err := tx.Append(ledger.Entry{Head: ledger.Head{Time: w.clock.now(), Kind: "restored"}, Body: []byte(`{}`)})
		if err == nil {
			err = view(tx, e)
		}
		return err
	})
	w.ok(err)
	if _, found, err := w.NextPrint(t.Context(), "counter"); err != nil || found {
		t.Errorf("it is printed by itself: %v", err)
	}
	if got := w.queue(); got != job.Number+" broken off, "+second.Number+" broken off" {
		t.Errorf("the queue: %s", got)
	}
	must[spool.Job](t)(w.PrintAgain(t.Context(), w.boss(), job.Number, ""))
	if again := w.begin("counter"); again.Copy != 2 {
		t.Errorf("printed again it is copy %d, want 2: two may have come out", again.Copy)
	}
	same(t, t, w.Desk)
}

// TestStillPrinting puts off the time from which a job counts as broken off, by signs of life that leave no
// entry.
func TestStillPrinting(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	job := w.slipAsked()
	w.begin("counter")
	size := w.size()
	for range 5 {
		w.clock.move(2 * spool.Lease / 3)
		w.ok(w.BreakOff(ctx))
		w.ok(w.StillPrinting(ctx, job.Number))
	}
	if j := w.job(job.Number); j.State != spool.Printing || w.size() != size {
		t.Errorf("%+v, %d new entries", j, w.size()-size)
	}
	w.clock.move(spool.Lease + time.Second)
	w.ok(w.BreakOff(ctx))
	if j := w.job(job.Number); j.State != spool.BrokenOff {
		t.Errorf("past its time it is %s", j.State)
	}
	saying(t, "a sign of life of what broke off", w.StillPrinting(ctx, job.Number), "broken off")
	// It was not dead after all: what it says late is true.
	w.ok(w.PrintEnded(ctx, job.Number, spool.Receipt{Known: spool.HandedOver, Sent: 100}))
	if j := w.job(job.Number); j.State != spool.Printed || w.queue() != "" {
		t.Errorf("%+v; %s", j, w.queue())
	}
	same(t, t, w.Desk)
}
