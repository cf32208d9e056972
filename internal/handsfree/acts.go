package handsfree

import "slices"

// NoNumber tells that the balance shows no number: overload, underload, a fault. The next event with a
// number ends it.
func (r *Recogniser) NoNumber(seconds float64, overload bool) Outcome {
	r.stream.gap, r.stream.taken, r.armed = true, false, false
	words := "the balance shows no number: take everything off and look at it"
	if overload {
		words = "too heavy for this balance, or something rests on the hook: take it off"
	}
	var sounds []Sound
	if !r.stopped {
		sounds = []Sound{SoundStop}
	}
	r.stopped = true
	r.phase = Phase{Key: PhaseStop, Words: words, Wait: -1, Next: r.next()}
	return r.outcome(nil, sounds)
}

// Take takes what rests on the balance now, at once if it is settled, else as soon as it is: the foot
// switch, the space bar, the card "take". What was taken already is not taken twice; Again does that.
func (r *Recogniser) Take() Outcome {
	if !r.stream.begun {
		return r.outcome(nil, nil)
	}
	if r.stream.taken && len(r.rests) > 0 {
		last := &r.rests[len(r.rests)-1]
		if q := r.readingOf(len(r.rests) - 1); q != nil && !q.gone && q.capture.IsReading() || last.take {
			r.describe()
			return r.outcome(nil, nil)
		}
		last.take = true
		return r.anew()
	}
	r.armed = true
	if r.stream.last.Phase == settled {
		return r.Add(r.stream.last)
	}
	r.describe()
	return r.outcome(nil, nil)
}

// Again makes the load that rests now count as a further weighing of the same: it is taken once more
// when it is settled. The card "again".
func (r *Recogniser) Again() Outcome {
	r.stream.taken, r.again = false, true
	r.describe()
	return r.outcome(nil, nil)
}

// SetAside tells that the reading with this number was set aside by a person; 0 means the last one. It
// stays set aside whatever comes. The card "set aside". The Outcome holds the capture as Aside; it is
// empty where there is no such reading.
func (r *Recogniser) SetAside(no int) Outcome {
	for i := len(r.readings) - 1; i >= 0; i-- {
		q := &r.readings[i]
		if q.gone || q.away || !q.capture.IsReading() || no != 0 && q.no != no {
			continue
		}
		q.away, q.gone = true, true
		c := q.capture
		c.Change, c.Was, c.Why = Aside, c.Slot, "A person set it aside."
		if i := slices.Index(r.know.wanted, c.Slot); i < 0 && r.know.slot(c.Load, false) == c.Slot {
			r.know.wanted = slices.Insert(slices.Clone(r.know.wanted), 0, c.Slot)
		}
		if r.question != nil && r.question.No == q.no {
			r.question = nil
		}
		r.describe()
		return r.outcome([]Capture{c}, nil)
	}
	return r.outcome(nil, nil)
}

// Next gives up the slot that is wanted next: it will not come, and the words go on to the one after.
func (r *Recogniser) Next() Outcome {
	if len(r.know.wanted) > 0 {
		if r.know.wanted[0] == r.know.slot(ItemLiquid, false) && r.know.immersions > 0 {
			r.know.immersions--
		}
		r.know.wanted = slices.Clone(r.know.wanted[1:])
	}
	r.describe()
	return r.outcome(nil, nil)
}

// Say tells what the reading with this number was; 0 means what the open question is about, or else
// what rested last. What a person says is certain: every story that says otherwise is dropped. A load
// that is not one of the named ones changes nothing.
func (r *Recogniser) Say(no int, l Load) Outcome {
	if !isLoad(l) && !isEmpty(l) && l != Same && l != Other {
		return r.outcome(nil, nil)
	}
	rest := len(r.rests) - 1
	if no == 0 && r.question != nil {
		no = r.question.No
	}
	if no != 0 {
		i := slices.IndexFunc(r.readings, func(q reading) bool { return q.no == no })
		if i < 0 || r.readings[i].rest < 0 {
			return r.outcome(nil, nil)
		}
		rest = r.readings[i].rest
	}
	if rest < 0 {
		return r.outcome(nil, nil)
	}
	r.rests[rest].forced = l
	return r.anew()
}

// anew tells all stories again and returns what changed.
func (r *Recogniser) anew() Outcome {
	r.replay()
	captures := r.decide()
	r.describe()
	return r.outcome(captures, r.sounds(captures))
}

func (r *Recogniser) readingOf(rest int) *reading {
	for i := range r.readings {
		if r.readings[i].rest == rest {
			return &r.readings[i]
		}
	}
	return nil
}

// next is the slot wanted next.
func (r *Recogniser) next() string {
	if len(r.know.wanted) == 0 {
		return ""
	}
	return r.know.wanted[0]
}
