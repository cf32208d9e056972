package live

import (
	"fmt"
	"math"
	"slices"

	"wreath/internal/line"
	"wreath/internal/source"
	"wreath/settle"
)

const (
	// tooSoon is the time in seconds within which no balance can come to rest anew. Chosen here.
	tooSoon = 0.25
	// mostSame bounds how many readings of an item are remembered.
	mostSame = 64
)

// watch remembers what a value is held against.
type watch struct {
	unit      string    // that the instrument uses
	intervals []float64 // amounts that its last digit stood for
	before    struct {  // the value before, if it was marked settled
		marked         bool
		number, second float64
	}
	item, previous []string // readings at rest of this item and of the one before, with their unit
}

// accept takes what the instrument shows now as its usual way.
func (w *watch) accept(v line.Value) {
	w.unit = v.Unit
	if !slices.Contains(w.intervals, v.Interval) && len(w.intervals) < 8 {
		w.intervals = append(w.intervals, v.Interval)
	}
}

// suspect says what speaks against a value of the balance.
func (f *Feed) suspect(v line.Value, seconds float64) []Suspicion {
	var out []Suspicion
	say := func(key, text string, args ...any) {
		out = append(out, Suspicion{Key: key, Sentence: fmt.Sprintf(text, args...)})
	}
	w := &f.watch
	if f.snapshot.Proof.Key == Unproved {
		say(SuspectUnproved, "The instrument was connected anew, and no check weight was seen since: it may be another one.")
	}
	if w.unit == "" {
		w.unit = v.Unit
	}
	if v.Unit != w.unit {
		say(SuspectUnit, "The unit is %s and was %s.", v.Unit, w.unit)
	}
	if len(w.intervals) == 0 {
		w.intervals = append(w.intervals, v.Interval)
	}
	if v.Unit == w.unit && !slices.ContainsFunc(w.intervals, func(d float64) bool { return math.Abs(d-v.Interval) < d/1000 }) {
		say(SuspectDigits, "The last digit stands for %g g and stood for %g g: this may be another balance, or another range of this one.", v.Interval, w.intervals[0])
	}
	if f.config.Capacity > 0 && math.Abs(v.Number) > 1.05*f.config.Capacity {
		say(SuspectCapacity, "%s %s is more than the balance can carry.", v.Text, v.Unit)
	}
	marked := v.Mark == line.Settled
	step := math.Abs(v.Number - w.before.number)
	if marked && w.before.marked && seconds-w.before.second < tooSoon && step > max(20*v.Interval, 6*f.config.Settle.Repeatability) {
		say(SuspectJump, "Two readings marked as settled lie %.4g g apart within %.2g s; no balance is that quick.", step, max(seconds-w.before.second, 0.01))
	}
	w.before.marked, w.before.number, w.before.second = marked, v.Number, seconds
	if math.Abs(v.Number) > 20*v.Interval && (marked || f.balance.event.Phase == settle.Settled) {
		shown := v.Text + " " + v.Unit
		if slices.Contains(w.previous, shown) {
			say(SuspectSame, "The balance shows what it showed for the item before, to the last digit.")
		}
		if !slices.Contains(w.item, shown) && len(w.item) < mostSame {
			w.item = append(w.item, shown)
		}
	}
	return out
}

// NextItem says that the item was changed, so that a reading that repeats one of the item before to
// its last digit is noticed.
func (f *Feed) NextItem() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.watch.previous, f.watch.item = f.watch.item, nil
}

// unprove takes the proof away after a connection. What comes without a cable keeps it while it has its name.
func (f *Feed) unprove() {
	first := !f.connected
	f.connected = true
	if f.config.Binding == nil {
		return
	}
	p := Proof{Key: Unproved, Why: WhyReconnected}
	switch kind := f.config.Address.Kind; {
	case f.snapshot.Identity != f.config.Binding.Identity && f.config.Binding.Identity != "":
		p.Why = WhyIdentity
	case first:
		p.Why = WhyNew
	case kind != source.Serial && kind != source.TCP && kind != source.Listen:
		return
	}
	f.setProof(p)
}

// prove looks for the check weight.
func (f *Feed) prove(v line.Value) {
	b := f.config.Binding
	if b == nil || f.snapshot.Proof.Key != Unproved || b.MassG <= 0 || f.balance.event.Phase != settle.Settled {
		return
	}
	if b.Unit != "" && v.Unit != b.Unit || math.Abs(f.balance.event.Value-b.MassG) > b.ToleranceG {
		return
	}
	f.watch.accept(v)
	f.setProof(Proof{Key: Proved, By: ByCheckWeight, At: f.at})
}

// Confirm notes that a person has looked and vouches that the instrument stands behind the port and
// is as it should be, with the unit and the digits that it shows now.
func (f *Feed) Confirm(by string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if r := f.snapshot.Balance; r != nil {
		f.watch.accept(r.Value)
	}
	if f.config.Binding != nil {
		f.setProof(Proof{Key: Proved, By: by, At: f.options.Now()})
	}
}

func (f *Feed) setProof(p Proof) {
	if p == f.snapshot.Proof {
		return
	}
	f.snapshot.Proof = p
	f.publish(Event{Kind: ProofChanged, Proof: p, At: p.At})
}
