package simulation

import (
	"math/rand/v2"
	"strconv"
	"strings"
)

// Slip returns a number as a hand mistypes it: the point moved, two digits transposed, one missing,
// doubled, or misread: for one that looks like it, or for any other. It never returns the number itself, nor nothing.
func Slip(r *rand.Rand, text string) string {
	for range 100 {
		wrong := slip(r, text)
		if wrong != text && number(wrong) != number(text) && number(wrong) > 0 {
			return wrong
		}
	}
	return text + "0" // a reading like 1: nothing else is left
}

var lookAlikes = map[byte]string{'0': "6", '1': "7", '3': "8", '4': "9", '5': "6", '6': "90", '7': "1", '8': "3", '9': "64"}

func slip(r *rand.Rand, text string) string {
	point := strings.IndexByte(text, '.')
	if point < 0 {
		point = len(text)
	}
	digits := strings.Replace(text, ".", "", 1)
	i := r.IntN(len(digits))
	join := func(digits string, point int) string {
		for point > len(digits) {
			digits += "0"
		}
		for point <= 0 {
			digits = "0" + digits
			point++
		}
		if point == len(digits) {
			return digits
		}
		return digits[:point] + "." + digits[point:]
	}
	switch r.IntN(5) {
	case 0: // the point, or the comma
		return join(digits, point+1-2*r.IntN(2))
	case 1: // two neighbours transposed
		if i+1 == len(digits) {
			return text
		}
		return join(digits[:i]+string(digits[i+1])+string(digits[i])+digits[i+2:], point)
	case 2: // one missing
		if i < point {
			point--
		}
		return join(digits[:i]+digits[i+1:], point)
	case 3: // one doubled
		if i < point {
			point++
		}
		return join(digits[:i+1]+digits[i:], point)
	}
	like := lookAlikes[digits[i]]
	if like == "" || r.IntN(2) == 0 { // not what it looks like: any other digit
		like = strings.Replace("0123456789", digits[i:i+1], "", 1)
	}
	return join(digits[:i]+string(like[r.IntN(len(like))])+digits[i+1:], point)
}

// number reads a text that this package wrote.
func number(text string) float64 {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return 0
	}
	return x
}
