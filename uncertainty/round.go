package uncertainty

import (
	"math"
	"strconv"
	"strings"
)

// Round returns a value and its uncertainty u as they are printed: u to two significant
// digits, the value to the same decimal place (JCGM 100:2008 7.2.6). Each is rounded once,
// from all its digits. A value without uncertainty, or not finite, is printed with all its
// digits.
func Round(value, u float64) (string, string) {
	if u == 0 || !finite(u) || !finite(value) {
		return strconv.FormatFloat(value, 'f', -1, 64), strconv.FormatFloat(u, 'f', -1, 64)
	}
	place := Place(u)
	return RoundTo(value, place), RoundTo(u, place)
}

// Place returns the power of ten of the second significant digit of an uncertainty u after
// rounding: -3 for 0.0123, -2 for 0.0996, which is printed 0.10. u is finite and not zero.
func Place(u float64) int {
	digits, exponent := decimal(u)
	place := exponent + len(digits) - 2
	if round(digits, place-exponent) == "100" {
		place++
	}
	return place
}

// RoundTo prints x to the decimal place 10^place. A half is rounded to the even digit (ISO
// 80000-1:2009 Annex B, rule A), judged on the shortest decimal number that is x: 0.125 to
// 0.12, 2.675 to 2.68.
func RoundTo(x float64, place int) string {
	if !finite(x) {
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	digits, exponent := decimal(x)
	digits = round(digits, place-exponent)
	if digits == "0" {
		place = min(place, 0)
	}
	if place > 0 {
		digits += strings.Repeat("0", place)
	}
	if place < 0 {
		if missing := 1 - place - len(digits); missing > 0 {
			digits = strings.Repeat("0", missing) + digits
		}
		point := len(digits) + place
		digits = digits[:point] + "." + digits[point:]
	}
	if x < 0 && strings.Trim(digits, "0.") != "" {
		return "-" + digits
	}
	return digits
}

// decimal returns |x| as a whole number times a power of ten, with as few digits as identify
// it.
func decimal(x float64) (digits string, exponent int) {
	text := strconv.FormatFloat(math.Abs(x), 'e', -1, 64)
	mantissa, power, _ := strings.Cut(text, "e")
	exponent, _ = strconv.Atoi(power)
	digits = strings.Replace(mantissa, ".", "", 1)
	return digits, exponent - (len(digits) - 1)
}

// round drops the last n digits of a whole number and rounds what stays; for negative n it
// appends zeros.
func round(digits string, n int) string {
	if n <= 0 {
		if digits == "0" {
			return "0"
		}
		return digits + strings.Repeat("0", -n)
	}
	if n > len(digits) {
		return "0"
	}
	kept, dropped := "0"+digits[:len(digits)-n], digits[len(digits)-n:]
	odd := kept[len(kept)-1]%2 == 1
	if dropped > "5" || dropped == "5" && odd {
		kept = increment(kept)
	}
	kept = strings.TrimLeft(kept, "0")
	if kept == "" {
		return "0"
	}
	return kept
}

// increment adds one to a whole number that starts with a zero.
func increment(digits string) string {
	d := []byte(digits)
	for i := len(d) - 1; ; i-- {
		if d[i] < '9' {
			d[i]++
			return string(d)
		}
		d[i] = '0'
	}
}
