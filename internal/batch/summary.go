package batch

import "fmt"

// Summary counts the rows of a batch.
type Summary struct {
	Rows      int // read, blank ones not counted
	Failed    int
	Met       int
	NotMet    int
	Undecided int
	NoClaim   int
}

func (s *Summary) add(o Summary) {
	s.Rows += o.Rows
	s.Failed += o.Failed
	s.Met += o.Met
	s.NotMet += o.NotMet
	s.Undecided += o.Undecided
	s.NoClaim += o.NoClaim
}

// count adds one result.
func (s *Summary) count(r *result) {
	s.Rows++
	switch f := r.finding(); {
	case r.answer == nil:
		s.Failed++
	case f == nil:
		s.NoClaim++
	case f.Result == "met":
		s.Met++
	case f.Result == "not met":
		s.NotMet++
	default:
		s.Undecided++
	}
}

func (s Summary) String() string {
	return fmt.Sprintf("%d of %d rows answered (%d met, %d not met, %d undecided, %d without a claim), %d failed",
		s.Rows-s.Failed, s.Rows, s.Met, s.NotMet, s.Undecided, s.NoClaim, s.Failed)
}
