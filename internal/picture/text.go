package picture

import (
	"math"
	"strconv"
	"strings"

	"wreath/uncertainty"
)

const (
	size   = 13.0 // px of all text but that of the strip
	ascent = 10.0 // above the baseline
	small  = 12.0 // px of the strip
)

// widthOf returns the width of words in px, as wide as the widest of the usual sans sets them: the
// advances of DejaVu Sans, rounded up by kinds of letters; bold adds a tenth.
func widthOf(words string, px float64, bold bool) float64 {
	w := 0.0
	for _, r := range words {
		switch {
		case strings.ContainsRune("ijlI|.,:;'", r):
			w += 0.32
		case strings.ContainsRune(" ft()/-–r‹›", r):
			w += 0.40
		case strings.ContainsRune("mwMW+×±%…", r):
			w += 0.96
		case r >= 'A' && r <= 'Z':
			w += 0.72
		default:
			w += 0.635
		}
	}
	if bold {
		w *= 1.1
	}
	return w * px
}

// ppt prints a fineness in parts per thousand: 750, 999.9.
func ppt(f float64) string { return strconv.FormatFloat(math.Round(f*10)/10, 'f', -1, 64) }

// printed returns a density and its expanded uncertainty in g/cm³ as they are shown.
func printed(value, expanded float64) (string, string) {
	return uncertainty.Round(value, expanded)
}

// places is the number of decimals at which a number with this uncertainty ends.
func places(expanded float64) int { return min(max(0, -uncertainty.Place(expanded)), 8) }

// fixed prints v with so many decimals, with a true minus sign.
func fixed(v float64, decimals int) string {
	return strings.Replace(strconv.FormatFloat(v, 'f', decimals, 64), "-", "−", 1)
}

// list joins words: "a, b and c".
func list(words []string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// tick is one division of an axis.
type tick struct {
	at    float64
	label string
}

// ticks divides an axis into about want steps of 1, 2 or 5.
func ticks(low, high, want float64) []tick {
	if !(high > low) || want < 1 {
		return nil
	}
	raw := (high - low) / want
	step := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5, 10} {
		if step*m >= raw*0.999 {
			step *= m
			break
		}
	}
	decimals := min(max(0, -int(math.Floor(math.Log10(step)+1e-9))), 9)
	var out []tick
	for n := math.Ceil(low/step - 1e-9); n*step <= high+step*1e-9 && len(out) < 100; n++ {
		out = append(out, tick{n * step, fixed(n*step, decimals)})
	}
	return out
}
