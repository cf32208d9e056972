package handsfree

import "wreath/settle"

// Recogniser follows the balance through one determination. It is not safe for use by several
// goroutines at once.
type Recogniser struct {
	o     Options
	phase Phase
}

// New makes a recogniser. Options that are negative or no number count as not known.
func New(o Options) *Recogniser { return &Recogniser{o: o} }

// Add takes the next event of the balance's stream. Events that were refused change nothing.
func (r *Recogniser) Add(e settle.Event) Outcome { return Outcome{Phase: r.phase} }

// NoNumber tells that the balance shows no number: overload, underload, a fault. The next event with a
// number ends it.
func (r *Recogniser) NoNumber(seconds float64, overload bool) Outcome {
	return Outcome{Phase: r.phase}
}

// SetInterval tells that the display now counts in another interval, g: another unit or range.
func (r *Recogniser) SetInterval(g float64) {}

// SetWanted tells which slots the sheet wants now, as Options.Wanted.
func (r *Recogniser) SetWanted(slots []string) {}

// Take takes what rests on the balance now, at once if it is settled, else as soon as it is: the foot
// switch, the space bar, the card "take".
func (r *Recogniser) Take() Outcome { return Outcome{Phase: r.phase} }

// Again makes the load that rests now count as a further weighing of the same: it is taken once more
// when it is settled. The card "again".
func (r *Recogniser) Again() Outcome { return Outcome{Phase: r.phase} }

// SetAside tells that the reading with this number was set aside by a person; 0 means the last one. The
// stories that need it are dropped. The card "set aside". The Outcome holds the capture as Aside.
func (r *Recogniser) SetAside(no int) Outcome { return Outcome{Phase: r.phase} }

// Next gives up the slot that is wanted next: it will not come, and the words go on to the one after.
func (r *Recogniser) Next() Outcome { return Outcome{Phase: r.phase} }

// Say tells what the reading with this number was; 0 means what rests now, or the open question. What a
// person says is certain: every story that says otherwise is dropped.
func (r *Recogniser) Say(no int, l Load) Outcome { return Outcome{Phase: r.phase} }

// Phase is the state now.
func (r *Recogniser) Phase() Phase { return r.phase }
