package determination

import "fmt"

// assume notes what was taken for granted for a field that the draft leaves open.
func (e *evaluation) assume(field, reason, taken string, args ...any) {
	e.answer.Assumed = append(e.answer.Assumed, Assumption{Field: field, Taken: fmt.Sprintf(taken, args...), Reason: reason})
}

// doubt notes a sign that the weighing is at fault.
func (e *evaluation) doubt(cause, settles, sign string, args ...any) {
	d := Doubt{Cause: cause, Settles: settles, Sign: fmt.Sprintf(sign, args...)}
	for _, other := range e.answer.Doubts {
		if other.Sign == d.Sign {
			return
		}
	}
	e.answer.Doubts = append(e.answer.Doubts, d)
}

// suspend notes a doubt that holds every finding back until it is settled.
func (e *evaluation) suspend(cause, settles, sign string, args ...any) {
	e.doubt(cause, settles, sign, args...)
	e.answer.Doubts[len(e.answer.Doubts)-1].Suspends = true
}

// or returns the value given, or the default.
func or(x *float64, otherwise float64) float64 {
	if x == nil {
		return otherwise
	}
	return *x
}
