package spool

import (
	"context"
	"time"
)

// What is printed.
const (
	Report = "report"
	Slip   = "slip"
	Label  = "label"
	Test   = "test" // a page that shows what the printer takes; its subject is the printer
)

// Documents lists them.
var Documents = []string{Report, Slip, Label, Test}

// State is how a job stands.
type State string

// The states of a job.
const (
	Waiting   State = "waiting"    // nothing of it was sent
	Printing  State = "printing"   // it may be coming out
	Printed   State = "printed"    // it was handed over whole; Known says what is known of the paper
	Failed    State = "failed"     // it was not handed over whole; Sent says how much may have come out
	BrokenOff State = "broken off" // the program ended while it was printing; nobody knows what came out
	Dropped   State = "dropped"    // somebody took it out of the queue before it was sent
)

// Job is one document that somebody wants on one printer. The log holds it.
type Job struct {
	Number   string `json:"number"`   // P-000001
	Document string `json:"document"` // Report, Slip, Label or Test
	Subject  string `json:"subject"`  // what it is about: the number of a record or report, the name of an item or instrument
	Printer  string `json:"printer"`
	// Languages are the languages of the paper, such as ["de", "en"]; none is English.
	Languages []string `json:"languages,omitempty"`
	Of        string   `json:"of,omitempty"` // the earlier job that it prints again

	Asked   time.Time `json:"asked"`
	AskedBy string    `json:"asked_by"`

	State    State     `json:"state"`
	Copy     int       `json:"copy"`               // 0 is the first paper of its document; else it says COPY and this number, see desk.AskPrint
	Attempts int       `json:"attempts,omitempty"` // how often sending was begun
	Begun    time.Time `json:"begun,omitzero"`     // last
	Until    time.Time `json:"until,omitzero"`     // while it is printing: past this without a word it counts as broken off
	Bytes    int64     `json:"bytes,omitempty"`    // length of what was to be sent
	SHA256   string    `json:"sha256,omitempty"`   // of those bytes, in hex
	Sent     int64     `json:"sent,omitempty"`     // how much of it left the program
	Ended    time.Time `json:"ended,omitzero"`
	Said     string    `json:"said,omitempty"`  // one sentence about how it went, or why it waits
	Again    string    `json:"again,omitempty"` // the later job that prints it again
}

// MayHaveComeOut tells whether a paper of this job may exist.
func (j *Job) MayHaveComeOut() bool {
	switch j.State {
	case Printing, Printed, BrokenOff:
		return true
	case Failed:
		return j.Sent > 0
	}
	return false
}

// Title names the job for a print system, such as "slip D-000001".
func (j *Job) Title() string {
	if j.Document == Test {
		return "test page of " + j.Subject
	}
	return j.Document + " " + j.Subject
}

// Renderer makes the bytes that a printer takes from a job. Job.Copy says which copy it is: a paper with
// a copy number says COPY.
type Renderer interface {
	Render(ctx context.Context, job Job, p Printer) ([]byte, error)
}

// RenderFunc is a function as a Renderer.
type RenderFunc func(ctx context.Context, job Job, p Printer) ([]byte, error)

// Render calls the function.
func (f RenderFunc) Render(ctx context.Context, job Job, p Printer) ([]byte, error) {
	return f(ctx, job, p)
}

// Queue is what a Spooler needs of the desk. Every change is an entry of the log.
type Queue interface {
	// PrintersAtWork lists the printers.
	PrintersAtWork(ctx context.Context) ([]Printer, error)
	// NextPrint is the oldest job that waits for a printer, with the copy number that it would have now.
	// There is none while another job of the printer is under way.
	NextPrint(ctx context.Context, printer string) (Job, bool, error)
	// PrintBegun notes that sending begins now. It refuses with a *TakenError when somebody else took the
	// job, dropped it, prints on the same printer, or when the copy number is another by now.
	PrintBegun(ctx context.Context, job Job, bytes int64, sha256 string) error
	// StillPrinting puts off the time from which the job counts as broken off.
	StillPrinting(ctx context.Context, number string) error
	// PrintEnded notes that the job was handed over whole.
	PrintEnded(ctx context.Context, number string, r Receipt) error
	// PrintFailed notes what went wrong, and tells whether the job waits again because nothing was sent.
	PrintFailed(ctx context.Context, number string, t *Trouble) (waits bool, err error)
	// BreakOff notes which jobs broke off because their program ended.
	BreakOff(ctx context.Context) error
}

// TakenError says that a job can't be begun as it was seen.
type TakenError struct{ Number, Reason string }

func (e *TakenError) Error() string { return "the job " + e.Number + " " + e.Reason }

// Hint says what to do.
func (e *TakenError) Hint() string { return "Look at the queue again: wreath queue list." }
