package simulation

import (
	"math/rand/v2"
	"slices"
	"sync"

	"wreath/internal/determination"
)

// Stage is one step of evidence that the confusion table has a column for.
type Stage struct {
	Name string
	Plan Plan
}

// Stages are in the order in which a careful person goes on.
var Stages = []Stage{
	{"1 immersion", Plan{Immersions: 1, Intake: true}},
	{"2 immersions", Plan{Immersions: 2, Intake: true}},
	{"2 + closing air", Plan{Immersions: 2, Intake: true, ClosingAir: true}},
	{"2 + closing + check piece", Plan{Immersions: 2, Intake: true, ClosingAir: true, CheckPiece: true, EmptyZero: true}},
	{"settled one by one + look-over", Plan{Immersions: MostReadings, Intake: true, ClosingAir: true, CheckPiece: true, EmptyZero: true, LookOver: true, Settlers: true}},
}

// Places of Stages that tests name.
const (
	OneImmersion = 0
	ClosedProved = 3
	Settled      = 4
)

// Verdict is what the program says of a session, as far as a table counts it.
type Verdict struct {
	Refused bool       // no density follows; other readings of what was typed are tried
	Clean   float64    // probability that nothing is wrong; 1 where it is not judged
	Lines   [][]string // causes in order, each line with the causes it can't be told from
	Favours string     // the cause that is likelier than all else together
	Met     bool
}

// Shown is true when a person sees a doubt with a name, or a refusal.
func (v Verdict) Shown() bool { return v.Refused || len(v.Lines) > 0 }

// First is true when a cause is the first that is named.
func (v Verdict) First(key string) bool { return len(v.Lines) > 0 && v.Lines[0][0] == key }

// Line is the line that names a cause, alone or within its group, from 1; 0 when none does.
func (v Verdict) Line(key string) int {
	return slices.IndexFunc(v.Lines, func(line []string) bool { return slices.Contains(line, key) }) + 1
}

// Judge lets the program judge a session under a plan.
func Judge(s *Session, p Plan) Verdict {
	a, err := determination.Evaluate(s.Draft(p), determination.Options{MonteCarlo: determination.WhereNeeded})
	if err != nil {
		v := Verdict{Refused: true}
		v.take(determination.Reread(s.Draft(p)))
		return v
	}
	v := Verdict{Clean: 1, Met: a.Finding != nil && a.Finding.Result == "met"}
	if a.Clean != nil {
		v.Clean = *a.Clean
	}
	v.take(a.Doubts)
	return v
}

func (v *Verdict) take(doubts []determination.Doubt) {
	for _, d := range doubts {
		if d.Key == "" {
			continue
		}
		line := []string{d.Key}
		for _, k := range d.Group {
			if k != d.Key {
				line = append(line, k)
			}
		}
		v.Lines = append(v.Lines, line)
		if d.Verdict == "favoured" && len(v.Lines) == 1 {
			v.Favours = d.Key
		}
	}
}

// Count is how one fault fares at one stage, among the sessions in which it is visible.
type Count struct {
	Sessions, Visible   int
	First, Three, Group int            // of the visible ones: named first, in the first three lines, in the first line
	Refused             int            // of the visible ones: no density follows and the program says so
	Silent              int            // of the visible ones: nothing is said
	Favoured, Shown     int            // of all: some cause is favoured, P(clean) is below one half
	Met                 int            // of all: the claim is met
	Instead             map[string]int // what is named first in place of the fault
}

func (c *Count) add(other Count) {
	c.Sessions += other.Sessions
	c.Visible += other.Visible
	c.First += other.First
	c.Three += other.Three
	c.Group += other.Group
	c.Refused += other.Refused
	c.Silent += other.Silent
	c.Favoured += other.Favoured
	c.Shown += other.Shown
	c.Met += other.Met
	for k, n := range other.Instead {
		if c.Instead == nil {
			c.Instead = map[string]int{}
		}
		c.Instead[k] += n
	}
}

// partedBy is how many standard uncertainties an item must lie off the claim before its weighing is
// asked to part the two: nearer, a sound weighing errs by chance.
const partedBy = 6

// Share of a count.
func Share(n, of int) float64 {
	if of == 0 {
		return 0
	}
	return float64(n) / float64(of)
}

// Study says what to simulate.
type Study struct {
	Seed    uint64
	Fault   string // empty: clean sessions
	Law     Law
	False   bool // of items of the next lower standard that this weighing can part from the claim
	N       int  // sessions, half hanging and half standing
	Workers int
}

// Run simulates the sessions of a study and counts, by stage. The counts do not depend on the
// number of workers.
func (y Study) Run() ([]Count, error) {
	claims := Claims()
	workers := max(1, y.Workers)
	parts := make([][]Count, workers)
	errs := make([]error, workers)
	var wait sync.WaitGroup
	for w := range workers {
		wait.Go(func() {
			counts := make([]Count, len(Stages))
			parts[w] = counts
			for i := w; i < y.N; i += workers {
				r := rand.New(rand.NewPCG(y.Seed, uint64(i)<<8|uint64(y.Law)<<1))
				c := Case{Claim: claims[i/2%len(claims)], Fault: y.Fault, Law: y.Law, Standing: i%2 == 1, False: y.False}
				s, err := New(r, c)
				if err != nil {
					errs[w] = err
					return
				}
				if y.False && s.Apart() < partedBy {
					continue
				}
				// The same item and fault, when a person does one thing after the other to settle it.
				c.Settling = true
				settling, err := New(rand.New(rand.NewPCG(y.Seed, uint64(i)<<8|uint64(y.Law)<<1)), c)
				if err != nil {
					errs[w] = err
					return
				}
				for k, stage := range Stages {
					if y.False && k < ClosedProved {
						continue // the default house rule asks for more
					}
					if stage.Plan.Settlers {
						s = settling
					}
					counts[k].take(y.Fault, s.See(stage.Plan), Judge(s, stage.Plan))
				}
			}
		})
	}
	wait.Wait()
	total := make([]Count, len(Stages))
	for w := range parts {
		if errs[w] != nil {
			return nil, errs[w]
		}
		for k := range total {
			total[k].add(parts[w][k])
		}
	}
	return total, nil
}

func (c *Count) take(fault string, signs Signs, v Verdict) {
	one := Count{Sessions: 1, Favoured: count(v.Favours != ""), Shown: count(v.Clean < 0.5), Met: count(v.Met)}
	if fault != "" && signs.Any() {
		one.Visible = 1
		line := v.Line(fault)
		one.First, one.Three, one.Group = count(v.First(fault)), count(line >= 1 && line <= 3), count(line == 1)
		one.Refused, one.Silent = count(v.Refused), count(!v.Shown())
		if !v.First(fault) {
			instead := "nothing"
			if len(v.Lines) > 0 {
				instead = v.Lines[0][0]
			} else if v.Refused {
				instead = "refusal"
			}
			one.Instead = map[string]int{instead: 1}
		}
	}
	c.add(one)
}

func count(yes bool) int {
	if yes {
		return 1
	}
	return 0
}
