package simulation

import (
	"errors"
	"strings"

	"wreath/internal/determination"
)

// refusal reads which causes a refused draft is told of: readings from which no density follows
// name them in the reason or the hint.
func refusal(err error) Verdict {
	v := Verdict{Refused: true, Clean: 0}
	var e *determination.InputError
	if !errors.As(err, &e) {
		return v
	}
	words := e.Reason + " " + e.Hint
	for _, w := range []struct{ word, key string }{
		{"swapped", "swapped"}, {"displace", "displaced"}, {"unit", "unit"}, {"digit", "digit"}, {"comma", "digit"}, {"liquid it was", "liquid"},
		{"rests on the bottom", "touching"}, {"hanger", "hanger"},
	} {
		if strings.Contains(words, w.word) {
			v.Lines = append(v.Lines, []string{w.key})
		}
	}
	return v
}
