package conformity_test

import (
	"fmt"

	"wreath/conformity"
)

// An invented fineness, held against a claim of 750 parts per thousand.
func ExampleExplain() {
	perMille := func(x float64) string { return fmt.Sprintf("%.1f ‰", x) }
	e := conformity.Estimate{Value: 751.2, U: 1.1}
	claim := conformity.AtLeast(750)
	for _, key := range []string{"guarded", "non-binary"} {
		rule, _ := conformity.ByKey(key)
		d, err := rule.Decide(e, claim)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Println(conformity.Explain("fineness", e, claim, rule, d, perMille))
	}
	// Output:
	// The fineness is 751.2 ‰ with an expanded uncertainty of 2.2 ‰ (k = 2). Required: at least 750.0 ‰. Result: undecided. Whether the requirement is met cannot be decided: the measured value lies too near to a limit for its uncertainty. The probability that it is met is 86.2 %. This rule accepts measured values of at least 752.2 ‰. Rule: guarded acceptance and rejection, w = U.
	// The fineness is 751.2 ‰ with an expanded uncertainty of 2.2 ‰ (k = 2). Required: at least 750.0 ‰. Result: conditional pass (undecided). Whether the requirement is met cannot be decided: the measured value lies within the limits, but nearer to one than the guard band. The probability that it is met is 86.2 %. This rule accepts measured values of at least 752.2 ‰. Rule: non-binary with guard band, w = U.
}
