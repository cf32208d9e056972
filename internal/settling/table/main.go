// Command table prints how well package settle reads invented balances.
package main

import (
	"flag"
	"fmt"

	"wreath/internal/settling"
)

func main() {
	n := flag.Int("n", 500, "trials a case")
	flag.Parse()
	for _, before := range []int{4, 0} {
		for _, c := range settling.Cases() {
			c.Before = before
			s := settling.Count(c, *n, 1)
			b := c.Balance
			fmt.Printf("%-15s %3.0fHz tau%4.2f f%3.1f n%.2f+%.2f | found %5.1f%% bias %+.3f±%.3f u %.3f rms %.3f cov %5.1f%% took %5.2f | five %5.2f %3.0f%% rms %.3f ours then %.3f | equal n%d %5.2f %3.0f%% | tr %.1f%% %v\n",
				c.Name, b.Rate, b.Tau, b.Filter, b.Noise/b.Interval, b.White/b.Interval,
				100*float64(s.Found)/float64(s.Trials), s.Bias, s.BiasError, s.U, s.RMS, 100*s.Covered, s.Took, s.Rule, 100*s.RuleFired, s.RuleRMS, s.AtRule, s.Equal, s.EqualTook, 100*s.EqualFired, 100*s.Troubled, s.TroubledByName)
		}
	}
}
