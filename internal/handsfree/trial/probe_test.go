package trial

import (
	"flag"
	"fmt"
	"testing"
)

var (
	probeN    = flag.Int("n", 200, "")
	probeSeed = flag.Uint64("s", 0, "")
	probeKind = flag.String("kind", "", "")
	probeFlt  = flag.String("fault", "", "")
	plainRule = flag.Bool("plain", false, "")
	verbose   = flag.Bool("vv", false, "")
)

func TestProbe(t *testing.T) {
	var sum Result
	whole, n := 0, 0
	for seed := *probeSeed; seed < *probeSeed+uint64(*probeN); seed++ {
		o := Options{Known: seed%2 == 0}
		o.Sequence.Kind, o.Sequence.Fault = *probeKind, *probeFlt
		o.Plain = *plainRule
		if *probeN == 1 {
			o.Trace = func(s string) { fmt.Println(s) }
		}
		r, err := Run(seed, o)
		if err != nil {
			t.Fatal(seed, err)
		}
		n++
		sum.Readings += r.Readings
		sum.Right += r.Right
		sum.Wrong += r.Wrong
		sum.Silent += r.Silent
		sum.SilentThen += r.SilentThen
		sum.Doubted += r.Doubted
		sum.DoubtThen += r.DoubtThen
		sum.Asked += r.Asked
		if *verbose {
			for _, w := range r.Why {
				fmt.Println("DOUBT", w)
			}
		}
		if r.Right == r.Readings && r.Silent == 0 {
			whole++
		}
		if *verbose && (r.Right < r.Readings || r.Wrong > 0) {
			fmt.Println(seed, r.Kind, r.Fault, r.FalseMoves, "missed", r.Missed, "told", r.Told)
		}
	}
	sum.Missed, sum.Told = nil, nil
	fmt.Printf("n %d whole %d readings %d right %d (%.2f %%) wrong %d silent %d silentThen %d doubted %d doubtThen %d asked %d\n", n, whole, sum.Readings, sum.Right, 100*float64(sum.Right)/float64(sum.Readings), sum.Wrong, sum.Silent, sum.SilentThen, sum.Doubted, sum.DoubtThen, sum.Asked)
}
