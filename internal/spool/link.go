package spool

import (
	"context"
	"fmt"
	"time"
)

// Kind is what kind of trouble a printer has.
type Kind string

// The kinds of trouble.
const (
	Off       Kind = "off"          // it can't be reached, or takes nothing at the moment
	NoPaper   Kind = "out of paper" // and says so
	Attention Kind = "attention"    // it waits for a hand: a door is open, paper is jammed
	Refused   Kind = "refused"      // it will not take this document, now or later
	Broken    Kind = "broken off"   // it was reached, and went away half-way
	Stuck     Kind = "stuck"        // it takes nothing any more, half-way
)

// Trouble says why a document is not on paper, or may not be.
type Trouble struct {
	Kind    Kind
	Printer string
	Reason  string // what was found, without the name of the printer
	Mend    string // what a person can do
	Sent    int64  // bytes that left the program; more than none may have come out
	Err     error  // what the system said, if it did
}

func (t *Trouble) Error() string {
	text := "the printer " + t.Printer + " " + t.Reason
	if t.Sent > 0 {
		text += fmt.Sprintf("; %d bytes had been sent, so a part of it may have come out", t.Sent)
	}
	return text
}

// Unwrap gives what the system said.
func (t *Trouble) Unwrap() error { return t.Err }

// Hint says what a person can do.
func (t *Trouble) Hint() string { return t.Mend }

// Later tells whether it makes sense to try again by itself: nothing was sent, and it may pass.
func (t *Trouble) Later() bool { return t.Sent == 0 && t.Kind != Refused }

// Known is what is known of a document that was handed over whole.
type Known string

// What can be known.
const (
	// HandedOver: every byte left for the printer. A device or a raw connection gives no proof of paper.
	HandedOver Known = "handed over"
	// Done: the print system says that the job is completed.
	Done Known = "completed"
	// Taken: the print system has the job whole, and has not said that it is completed.
	Taken Known = "taken"
)

// Receipt says what is known after a document was handed over whole.
type Receipt struct {
	Known Known
	Sent  int64  // bytes
	Note  string // what the print system said beside, such as that it waits for paper
}

// Words says it in one sentence.
func (r Receipt) Words() string {
	text := map[Known]string{
		HandedOver: "Every byte was handed over. Whether it is on paper, this way to a printer can't say: look.",
		Done:       "The print system says that it is completed.",
		Taken:      "The print system has taken it, and has not said yet that it is completed.",
	}[r.Known]
	if r.Note != "" {
		text += " It says: " + r.Note + "."
	}
	return text
}

// Timing is how long a printer is waited for. The zero value takes the usual times, all chosen here.
type Timing struct {
	Dial     time.Duration // until a printer is reached; 5 s
	Stall    time.Duration // without a byte taken, half-way; 2 min, so that somebody can put in paper
	Farewell time.Duration // for the other end to close after the last byte; 3 s
	Follow   time.Duration // for the print system to complete a job; 20 s
	Poll     time.Duration // between two questions to it; 250 ms
}

func (t Timing) usual() Timing {
	or := func(d *time.Duration, usual time.Duration) {
		if *d == 0 {
			*d = usual
		}
	}
	or(&t.Dial, 5*time.Second)
	or(&t.Stall, 2*time.Minute)
	or(&t.Farewell, 3*time.Second)
	or(&t.Follow, 20*time.Second)
	or(&t.Poll, 250*time.Millisecond)
	return t
}

// Document is a rendered document on its way.
type Document struct {
	Title string // for the print system
	Data  []byte
}

// Link is a printer that was reached and said nothing against printing. Nothing was sent yet.
type Link interface {
	// Send sends one document. The error is a *Trouble.
	Send(ctx context.Context, doc Document) (Receipt, error)
	Close() error
}

// Reach finds out whether a printer takes documents now, as far as it can be known without sending any.
// The error is a *Trouble, with nothing sent.
func Reach(ctx context.Context, p Printer, t Timing) (Link, error) {
	t = t.usual()
	u, err := parseAddress(p.Address)
	if err != nil {
		return nil, &Trouble{Kind: Refused, Printer: p.Name, Reason: "has no usable address: " + err.Error(), Mend: "Set its address anew: wreath printer add.", Err: err}
	}
	switch u.Scheme {
	case "device":
		return reachDevice(ctx, p.Name, u.Path, t)
	case "tcp":
		return reachTCP(ctx, p.Name, u.Host, t)
	}
	return reachIPP(ctx, p, u, t)
}

// Send reaches a printer and sends one document.
func Send(ctx context.Context, p Printer, doc Document, t Timing) (Receipt, error) {
	link, err := Reach(ctx, p, t)
	if err != nil {
		return Receipt{}, err
	}
	defer link.Close()
	return link.Send(ctx, doc)
}

// lookAtPaper is what to do after a break half-way.
const lookAtPaper = "Look at the paper. Print it again if it is not whole: the new paper says COPY."
