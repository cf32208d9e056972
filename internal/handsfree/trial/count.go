package trial

import (
	"fmt"
	"slices"
	"strings"
	"sync"
)

// Tally counts the results of many sessions.
type Tally struct {
	Sessions, Whole       int // Whole: every reading right, nothing wrong without a doubt
	Readings, Right, Open int
	Wrong, Silent         int
	SilentThen            int
	Doubted, DoubtThen    int
	Asked                 int
	WithSilent            int // sessions with a silent wrong one
	Seconds               float64
}

func (t *Tally) add(r Result) {
	t.Sessions++
	if r.Right == r.Readings && r.Silent == 0 {
		t.Whole++
	}
	t.Readings += r.Readings
	t.Right += r.Right
	t.Open += r.Open
	t.Wrong += r.Wrong
	t.Silent += r.Silent
	t.SilentThen += r.SilentThen
	t.Doubted += r.Doubted
	t.DoubtThen += r.DoubtThen
	t.Asked += r.Asked
	if r.Silent > 0 {
		t.WithSilent++
	}
	t.Seconds += r.Ends
}

// RightShare is the share of readings that were captured right, in per cent.
func (t Tally) RightShare() float64 { return 100 * float64(t.Right) / float64(max(1, t.Readings)) }

// Count weighs n sessions from a seed on, with every kind, fault and habit that is drawn. Every second
// recogniser knows mass and claim. plain lets the plainest rule decide when the reading rests, in place
// of package settle. It returns the tallies by group, and the seeds of sessions that are
// not whole, each with what happened.
func Count(seed uint64, n, workers int, plain bool) (map[string]Tally, []string, error) {
	results := make([]Result, n)
	errs := make([]error, n)
	var wait sync.WaitGroup
	next := make(chan int)
	for range max(1, workers) {
		wait.Go(func() {
			for i := range next {
				results[i], errs[i] = Run(seed+uint64(i), Options{Known: i%2 == 0, Plain: plain})
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wait.Wait()
	tallies := map[string]Tally{}
	var odd []string
	for i, r := range results {
		if errs[i] != nil {
			return nil, nil, fmt.Errorf("session %d: %w", seed+uint64(i), errs[i])
		}
		for _, group := range groups(r, i%2 == 0) {
			t := tallies[group]
			t.add(r)
			tallies[group] = t
		}
		if r.Right < r.Readings || r.Silent > 0 {
			odd = append(odd, fmt.Sprintf("%d: %s, fault %q, false moves %v: missed %v, wrong %v", seed+uint64(i), r.Kind, r.Fault, r.FalseMoves, r.Missed, r.Told))
		}
	}
	return tallies, odd, nil
}

func groups(r Result, known bool) []string {
	kind, liquidFirst, _ := strings.Cut(r.Kind, ", ")
	out := []string{All, "kind: " + kind}
	if liquidFirst != "" {
		out = append(out, "order: liquid first")
	} else {
		out = append(out, "order: air first")
	}
	if known {
		out = append(out, "told: mass, claim and hanger")
	} else {
		out = append(out, "told: nothing but the balance")
	}
	if r.Fault == "" {
		out = append(out, "fault: none")
	} else {
		out = append(out, "fault: "+r.Fault)
	}
	if len(r.FalseMoves) == 0 {
		out = append(out, "false moves: none")
	}
	for i, m := range r.FalseMoves {
		if !slices.Contains(r.FalseMoves[:i], m) {
			out = append(out, "false moves: "+m)
		}
	}
	return out
}

// All is the group of all sessions.
const All = "all"

// Markdown prints the tallies as a table.
func Markdown(tallies map[string]Tally) string {
	var b strings.Builder
	b.WriteString("| sessions | number | readings | right, % | asked in place of it, % | whole sessions, % | wrong and doubted | wrong without a doubt | in sessions | wrong for a while without a doubt | right ones doubted at the end, % | questions a session |\n")
	b.WriteString("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n")
	names := make([]string, 0, len(tallies))
	for name := range tallies {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		t := tallies[name]
		fmt.Fprintf(&b, "| %s | %d | %d | %.2f | %.2f | %.1f | %d | %d | %d | %d | %.1f | %.1f |\n", name, t.Sessions, t.Readings, t.RightShare(), 100*float64(t.Open)/float64(max(1, t.Readings)),
			100*float64(t.Whole)/float64(t.Sessions), t.Wrong-t.Silent, t.Silent, t.WithSilent, t.SilentThen, 100*float64(t.Doubted)/float64(max(1, t.Right)), float64(t.Asked)/float64(t.Sessions))
	}
	return b.String()
}
