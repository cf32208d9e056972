package desk

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"time"

	"wreath/internal/people"
	"wreath/internal/spool"
	"wreath/internal/store"
)

// The queue of prints is made of entries alone: asked, begun, and then ended, failed or broken off. Between
// begun and its end nobody knows what is on paper; so a job that was begun is sent again only when it is
// known that nothing of it was sent.

// printJob is a job as the views keep it.
type printJob struct {
	spool.Job
	Roles []people.Role `json:"roles,omitempty"` // of the program that asked
}

// prints is what the views keep of one document.
type prints struct {
	Came int      `json:"came"` // prints that may have come out
	Jobs []string `json:"jobs"`
}

// Bodies of entries.
type (
	printBegun struct {
		Copy   int       `json:"copy"`
		Bytes  int64     `json:"bytes"`
		SHA256 string    `json:"sha256,omitempty"`
		Until  time.Time `json:"until"`
	}
	printEnded struct {
		Known spool.Known `json:"known"`
		Sent  int64       `json:"sent"`
		Said  string      `json:"said"`
	}
	printFailed struct {
		Kind  spool.Kind `json:"kind"`
		Sent  int64      `json:"sent"`
		Said  string     `json:"said"`
		Waits bool       `json:"waits,omitempty"` // nothing was sent, and it is tried again
	}
	printDropped struct {
		Reason string `json:"reason,omitempty"`
	}
)

// attempts is how often a job is begun without a byte sent before it counts as failed; chosen here.
const attempts = 5

// documentKey names a document in the views.
func documentKey(document, subject string) string { return document + " " + subject }

// SetPrinter makes a printer, or its next version. The version is given here.
func (d *Desk) SetPrinter(ctx context.Context, by By, p spool.Printer, reason string) (spool.Printer, error) {
	e, err := d.act(ctx, by, people.ManagePrinter, []any{p, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		if err := checkTexts(reason); err != nil {
			return draft{}, err
		}
		var before spool.Printer
		seq, err := tx.Get("printer", p.Name, &before)
		if ignoreMissing(err) != nil {
			return draft{}, err
		}
		if err := current("the printer", by.Seen, seq); err != nil {
			return draft{}, err
		}
		p.Format, p.Version = spool.Format, before.Version+1
		return draft{kind: "printer-set", subject: p.Name, body: reasoned[spool.Printer]{p, reason}}, p.Check()
	})
	if err != nil {
		return spool.Printer{}, err
	}
	set, err := read[reasoned[spool.Printer]](e.Body)
	return set.Is, err
}

// RemovePrinter takes a printer out of use. What waits for it is dropped first, by whoever knows that it
// need not be printed.
func (d *Desk) RemovePrinter(ctx context.Context, by By, name, reason string) error {
	_, err := d.act(ctx, by, people.ManagePrinter, []any{"remove", name, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		if err := checkTexts(reason); err != nil {
			return draft{}, err
		}
		p, seq, err := get[spool.Printer](tx, "printer", name)
		if err == nil {
			err = current("the printer", by.Seen, seq)
		}
		if err != nil {
			return draft{}, err
		}
		jobs, err := queued(tx)
		if err != nil {
			return draft{}, err
		}
		for _, j := range jobs {
			if j.Printer == name && (j.State == spool.Waiting || j.State == spool.Printing) {
				return draft{}, bad("Drop it first, or wait until it is printed: wreath queue drop "+j.Number+".", "the job %s is still meant for the printer %s", j.Number, name)
			}
		}
		return draft{kind: "printer-removed", subject: name, body: reasoned[spool.Printer]{p, reason}}, nil
	})
	return err
}

// Printers lists the printers.
func (d *Desk) Printers(ctx context.Context, who *Who) (out []spool.Printer, err error) {
	err = d.look(ctx, who, people.SeePrinters, func(tx *store.Tx) error {
		out, err = list[spool.Printer](tx, "printer")
		return err
	})
	return out, err
}

// PrintAsk is what somebody wants on paper.
type PrintAsk struct {
	Document  string   `json:"document"` // spool.Report, Slip, Label or Test
	Subject   string   `json:"subject"`  // the number of a record or report; of a label also the name of an item or instrument; of a test page nothing
	Printer   string   `json:"printer"`  // may be left out where there is only one that fits
	Languages []string `json:"languages,omitempty"`
}

// mayPrint is the action that printing a document stands for.
func mayPrint(document string) people.Action {
	if document == spool.Test {
		return people.ManagePrinter
	}
	return people.PrintSlip
}

var languageTag = regexp.MustCompile(`^[a-z]{2,3}(-[A-Za-z0-9]{2,8})?$`)

// AskPrint puts a document into the queue of a printer.
func (d *Desk) AskPrint(ctx context.Context, by By, ask PrintAsk) (spool.Job, error) {
	e, err := d.act(ctx, by, mayPrint(ask.Document), ask, func(tx *store.Tx, at time.Time) (draft, error) {
		return d.askedPrint(tx, by, at, ask, "")
	})
	if err != nil {
		return spool.Job{}, err
	}
	job, err := read[printJob](e.Body)
	return job.Job, err
}

// PrintAgain asks for the document of an earlier job once more, as a job of its own. What may have come out
// before makes it a COPY. A printer may be named in the place of the first one.
func (d *Desk) PrintAgain(ctx context.Context, by By, number, printer string) (spool.Job, error) {
	document, err := d.documentOf(ctx, number)
	if err != nil {
		return spool.Job{}, err
	}
	e, err := d.act(ctx, by, mayPrint(document), []any{"again", number, printer}, func(tx *store.Tx, at time.Time) (draft, error) {
		old, _, err := get[printJob](tx, "print-job", number)
		if err != nil {
			return draft{}, err
		}
		switch d.stateOf(tx, old.Job) {
		case spool.Waiting:
			return draft{}, bad("It is sent as soon as the printer takes it. Drop it if it is not wanted any more: wreath queue drop "+number+".", "the job %s waits still, and nothing of it was sent", number)
		case spool.Printing:
			return draft{}, bad("Wait until it is over; it counts as broken off when its program has not been heard of for half a minute.", "the job %s is being printed", number)
		}
		if printer == "" {
			printer = old.Printer
		}
		return d.askedPrint(tx, by, at, PrintAsk{old.Document, old.Subject, printer, old.Languages}, number)
	})
	if err != nil {
		return spool.Job{}, err
	}
	job, err := read[printJob](e.Body)
	return job.Job, err
}

// documentOf tells what a job prints.
func (d *Desk) documentOf(ctx context.Context, number string) (document string, err error) {
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		var job printJob
		_, err := tx.Get("print-job", number, &job)
		document = job.Document
		return ignoreMissing(err) // whoever may act is told that it is missing
	})
	return document, err
}

func (d *Desk) askedPrint(tx *store.Tx, by By, at time.Time, ask PrintAsk, of string) (draft, error) {
	p, err := d.printerFor(tx, ask)
	if err != nil {
		return draft{}, err
	}
	if err := checkLanguages(ask.Languages); err != nil {
		return draft{}, err
	}
	subject, err := d.onPaper(tx, ask, p.Name)
	if err != nil {
		return draft{}, err
	}
	var counter int64
	if _, err := tx.Get("counter", "print", &counter); ignoreMissing(err) != nil {
		return draft{}, err
	}
	job := printJob{Job: spool.Job{
		Number: fmt.Sprintf("P-%06d", counter+1), Document: ask.Document, Subject: subject, Printer: p.Name, Languages: ask.Languages,
		Of: of, Asked: at.UTC(), AskedBy: by.Who.person.ID, State: spool.Waiting,
	}, Roles: by.Who.roles}
	return draft{kind: "print-asked", subject: job.Number, body: job}, nil
}

func checkLanguages(languages []string) error {
	if len(languages) > 2 || slices.ContainsFunc(languages, func(l string) bool { return !languageTag.MatchString(l) }) {
		return bad("Give one or two languages, such as de or en.", "the languages of a paper can't be %.80q", languages)
	}
	return nil
}

// printerFor finds the printer that is meant and asks whether it can take the document.
func (d *Desk) printerFor(tx *store.Tx, ask PrintAsk) (spool.Printer, error) {
	if ask.Printer != "" || ask.Document == spool.Test {
		p, _, err := get[spool.Printer](tx, "printer", ask.Printer)
		if err == nil {
			err = p.Fits(ask.Document)
		}
		return p, err
	}
	all, err := list[spool.Printer](tx, "printer")
	if err != nil {
		return spool.Printer{}, err
	}
	var why error
	fit := slices.DeleteFunc(slices.Clone(all), func(p spool.Printer) bool {
		err := p.Fits(ask.Document)
		if err != nil {
			why = err
		}
		return err != nil
	})
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(all) == 0:
		return spool.Printer{}, bad("Who administers adds one: wreath printer add NAME ADDRESS.", "there is no printer")
	case len(fit) == 0:
		return spool.Printer{}, why
	}
	return spool.Printer{}, bad("Name one: wreath printer list shows them.", "%d printers could take the %s", len(fit), ask.Document)
}

// onPaper finds what a document is about, and gives its one name, under which prints are counted.
func (d *Desk) onPaper(tx *store.Tx, ask PrintAsk, printer string) (string, error) {
	if len(ask.Subject) > 100 {
		return "", bad("Give the number of a record or report.", "%.40q... is no number", ask.Subject)
	}
	switch ask.Document {
	case spool.Test:
		return printer, nil
	case spool.Report:
		var row reportRow
		if _, err := tx.Get("report", ask.Subject, &row); err == nil {
			return row.Number, nil
		} else if ignoreMissing(err) != nil {
			return "", err
		}
		s, _, err := d.standing(tx, ask.Subject)
		if err != nil {
			return "", missing("Give the number of a report, or of its record.", "there is no report or record %q", ask.Subject)
		}
		var numbers []string
		if _, err := tx.Get("reports", s.ID, &numbers); ignoreMissing(err) != nil {
			return "", err
		}
		if len(numbers) == 0 {
			return "", bad("Issue it first; a report has a number of its own.", "no report of %s was issued", s.Number)
		}
		return numbers[len(numbers)-1], nil
	}
	s, _, err := d.standing(tx, ask.Subject)
	if err == nil {
		return s.Number, nil
	}
	if ask.Document != spool.Label || !errors.As(err, new(*UserError)) && ignoreMissing(err) != nil {
		return "", err
	}
	for _, kind := range []string{"item", "instrument"} {
		var is struct{}
		if _, err := tx.Get(kind, ask.Subject, &is); err == nil {
			return ask.Subject, nil
		} else if ignoreMissing(err) != nil {
			return "", err
		}
	}
	return "", missing("Give the number of a record, or the name of an item or instrument.", "there is nothing %q to make a label of", ask.Subject)
}

// DropPrint takes a job out of the queue: one that waits is never sent; one that failed or broke off is put
// away, and stays in the log as what it is.
func (d *Desk) DropPrint(ctx context.Context, by By, number, reason string) error {
	document, err := d.documentOf(ctx, number)
	if err != nil {
		return err
	}
	_, err = d.act(ctx, by, mayPrint(document), []any{"drop", number, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		if err := checkTexts(reason); err != nil {
			return draft{}, err
		}
		job, _, err := get[printJob](tx, "print-job", number)
		if err != nil {
			return draft{}, err
		}
		switch d.stateOf(tx, job.Job) {
		case spool.Waiting, spool.Failed, spool.BrokenOff:
		case spool.Printing:
			return draft{}, bad("Switch the printer off if it must stop; the job then fails by itself.", "the job %s is being printed", number)
		default:
			return draft{}, bad("Nothing is left to do.", "the job %s is %s", number, job.State)
		}
		return draft{kind: "print-dropped", subject: number, body: printDropped{reason}}, nil
	})
	return err
}

// PrintQueue lists the jobs that wait, that are being printed, and that failed or broke off and were neither
// printed again nor put away; oldest first.
func (d *Desk) PrintQueue(ctx context.Context, who *Who) (out []spool.Job, err error) {
	err = d.look(ctx, who, people.SeePrinters, func(tx *store.Tx) error {
		out = []spool.Job{}
		jobs, err := queued(tx)
		for _, j := range jobs {
			j.State = d.stateOf(tx, j.Job)
			out = append(out, j.Job)
		}
		return err
	})
	return out, err
}

// PrintJob is one job by its number, whatever became of it.
func (d *Desk) PrintJob(ctx context.Context, who *Who, number string) (out spool.Job, err error) {
	err = d.look(ctx, who, people.SeePrinters, func(tx *store.Tx) error {
		job, _, err := get[printJob](tx, "print-job", number)
		out = job.Job
		out.State = d.stateOf(tx, out)
		return err
	})
	return out, err
}

// Prints lists the jobs of one document, oldest first, and how many of them may have come out.
func (d *Desk) Prints(ctx context.Context, who *Who, document, subject string) (came int, out []spool.Job, err error) {
	err = d.look(ctx, who, people.SeePrinters, func(tx *store.Tx) error {
		var of prints
		out = []spool.Job{}
		if _, err := tx.Get("prints", documentKey(document, subject), &of); err != nil {
			return ignoreMissing(err)
		}
		came = of.Came
		for _, number := range of.Jobs {
			job, _, err := get[printJob](tx, "print-job", number)
			if err != nil {
				return err
			}
			job.State = d.stateOf(tx, job.Job)
			out = append(out, job.Job)
		}
		return nil
	})
	return came, out, err
}

// queued lists the jobs in the queue, oldest first.
func queued(tx *store.Tx) (out []printJob, err error) {
	numbers, err := list[string](tx, "print-queue")
	for _, number := range numbers {
		job, _, err := get[printJob](tx, "print-job", number)
		if err != nil {
			return nil, err
		}
		out = append(out, job)
	}
	return out, err
}

// stateOf is how a job stands now: one whose program was not heard of in time broke off, also before that is
// noted.
func (d *Desk) stateOf(tx *store.Tx, job spool.Job) spool.State {
	if job.State == spool.Printing && d.o.Now().After(leaseOf(tx, job)) {
		return spool.BrokenOff
	}
	return job.State
}

// leaseOf is until when a job counts as being printed. The entry says it; who prints puts it off beside the
// log, since a sign of life is nothing to keep.
func leaseOf(tx *store.Tx, job spool.Job) time.Time {
	if later, err := secret[time.Time](tx, secretPrinting, job.Number); err == nil && later.After(job.Until) {
		return later
	}
	return job.Until
}

// PrintersAtWork lists the printers for the program itself, which prints whoever is signed in.
func (d *Desk) PrintersAtWork(ctx context.Context) (out []spool.Printer, err error) {
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		out, err = list[spool.Printer](tx, "printer")
		return err
	})
	return out, err
}

// NextPrint is the oldest job that waits for a printer, with the copy number that it would have now. There is
// none while another one is being printed there.
func (d *Desk) NextPrint(ctx context.Context, printer string) (next spool.Job, found bool, err error) {
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		next, found = spool.Job{}, false
		jobs, err := queued(tx)
		if err != nil {
			return err
		}
		for _, j := range jobs {
			if j.Printer == printer && d.stateOf(tx, j.Job) == spool.Printing {
				found = false
				return nil
			}
			if j.Printer == printer && j.State == spool.Waiting && !found {
				next, found = j.Job, true
			}
		}
		if found {
			next.Copy, err = copyOf(tx, next)
		}
		return err
	})
	return next, found, err
}

// copyOf is the copy number of the next print of a document: the number of earlier ones that may have come
// out, or one more than the highest of theirs, so that no two papers say the same. A test page is no document.
func copyOf(tx *store.Tx, job spool.Job) (int, error) {
	var of prints
	if _, err := tx.Get("prints", documentKey(job.Document, job.Subject), &of); err != nil || job.Document == spool.Test {
		return 0, ignoreMissing(err)
	}
	next := of.Came
	for _, number := range of.Jobs {
		earlier, _, err := get[printJob](tx, "print-job", number)
		if err != nil {
			return 0, err
		}
		if earlier.MayHaveComeOut() {
			next = max(next, earlier.Copy+1)
		}
	}
	return next, nil
}

// Asker lets in whoever asked for a job, so that its paper shows what they may see and no more. The rights
// are those of now; who has left gets nothing printed.
func (d *Desk) Asker(ctx context.Context, number string) (who *Who, err error) {
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		job, _, err := get[printJob](tx, "print-job", number)
		if err != nil {
			return err
		}
		p, _, err := get[people.Person](tx, "person", job.AskedBy)
		if err != nil {
			return err
		}
		roles := job.Roles
		if roles == nil {
			roles = p.Roles
		}
		who = &Who{person: p, session: people.Session{How: people.ByPassword}, roles: roles}
		return who.allow(tx, mayPrint(job.Document), d.o.Now())
	})
	return who, err
}

// onJob appends what happened to a job, in the name of who asked for it.
func (d *Desk) onJob(ctx context.Context, number string, do func(tx *store.Tx, at time.Time, job printJob) (draft, error)) error {
	var asker string
	err := d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		job, _, err := get[printJob](tx, "print-job", number)
		asker = job.AskedBy
		return err
	})
	if err != nil {
		return err
	}
	_, err = d.append(ctx, "", asker, []any{"print", number}, func(tx *store.Tx, at time.Time) (draft, error) {
		job, _, err := get[printJob](tx, "print-job", number)
		if err != nil {
			return draft{}, err
		}
		made, err := do(tx, at, job)
		made.subject = number
		return made, err
	})
	return err
}

// PrintBegun notes that sending begins now. It refuses what is not as the sender saw it, so two programs
// never print one job, and nothing is printed with a copy number that is wrong by now.
func (d *Desk) PrintBegun(ctx context.Context, seen spool.Job, bytes int64, sha256 string) error {
	return d.onJob(ctx, seen.Number, func(tx *store.Tx, at time.Time, job printJob) (draft, error) {
		taken := func(reason string, args ...any) error {
			return &spool.TakenError{Number: seen.Number, Reason: fmt.Sprintf(reason, args...)}
		}
		if job.State != spool.Waiting || job.Attempts != seen.Attempts {
			return draft{}, taken("is %s: somebody else took it meanwhile", job.State)
		}
		jobs, err := queued(tx)
		if err != nil {
			return draft{}, err
		}
		for _, j := range jobs {
			if j.Printer == job.Printer && d.stateOf(tx, j.Job) == spool.Printing {
				return draft{}, taken("waits until %s is printed", j.Number)
			}
		}
		copied, err := copyOf(tx, job.Job)
		if err != nil {
			return draft{}, err
		}
		if copied != seen.Copy {
			return draft{}, taken("is copy %d by now, not %d", copied, seen.Copy)
		}
		return draft{kind: "print-begun", body: printBegun{copied, bytes, sha256, at.Add(spool.Lease).UTC()}}, nil
	})
}

// StillPrinting puts off the time from which a job counts as broken off.
func (d *Desk) StillPrinting(ctx context.Context, number string) error {
	return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		job, _, err := get[printJob](tx, "print-job", number)
		if err != nil {
			return err
		}
		if job.State != spool.Printing {
			return &spool.TakenError{Number: number, Reason: "is " + string(job.State)}
		}
		return putSecret(tx, secretPrinting, number, d.o.Now().Add(spool.Lease).UTC())
	})
}

// underWay refuses to end what was not begun, or is over. What was noted as broken off may still turn out
// otherwise.
func underWay(job printJob) error {
	if job.State != spool.Printing && job.State != spool.BrokenOff {
		return &spool.TakenError{Number: job.Number, Reason: "is " + string(job.State) + ", so it can't end"}
	}
	return nil
}

// PrintEnded notes that a job was handed over whole.
func (d *Desk) PrintEnded(ctx context.Context, number string, r spool.Receipt) error {
	return d.onJob(ctx, number, func(tx *store.Tx, at time.Time, job printJob) (draft, error) {
		return draft{kind: "print-ended", body: printEnded{r.Known, r.Sent, r.Words()}}, errors.Join(underWay(job), tx.DropSecret(secretPrinting, number))
	})
}

// PrintFailed notes what went wrong, and tells whether the job waits again because nothing of it was sent.
func (d *Desk) PrintFailed(ctx context.Context, number string, t *spool.Trouble) (waits bool, err error) {
	err = d.onJob(ctx, number, func(tx *store.Tx, at time.Time, job printJob) (draft, error) {
		// What counted as broken off is not sent again by itself: somebody may have seen to it.
		waits = t.Later() && job.Attempts < attempts && job.State == spool.Printing
		return draft{kind: "print-failed", body: printFailed{t.Kind, t.Sent, t.Error() + ".", waits}}, errors.Join(underWay(job), tx.DropSecret(secretPrinting, number))
	})
	return waits && err == nil, err
}

// BreakOff notes which jobs broke off because the program that printed them was not heard of any more.
func (d *Desk) BreakOff(ctx context.Context) error {
	var lost []string
	err := d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		lost = nil
		jobs, err := queued(tx)
		for _, j := range jobs {
			if j.State == spool.Printing && d.stateOf(tx, j.Job) == spool.BrokenOff {
				lost = append(lost, j.Number)
			}
		}
		return err
	})
	for _, number := range lost {
		if err != nil {
			return err
		}
		err = d.onJob(ctx, number, func(tx *store.Tx, at time.Time, job printJob) (draft, error) {
			if job.State != spool.Printing || d.stateOf(tx, job.Job) != spool.BrokenOff {
				return draft{}, &spool.TakenError{Number: number, Reason: "is " + string(job.State)}
			}
			return draft{kind: "print-broken-off", body: struct{}{}}, tx.DropSecret(secretPrinting, number)
		})
		if errors.As(err, new(*spool.TakenError)) {
			err = nil // another program noted it, or it goes on
		}
	}
	return err
}
