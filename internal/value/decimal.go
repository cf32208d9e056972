package value

import (
	"encoding/json"
	"errors"
	"strconv"
	"strings"

	"github.com/cockroachdb/apd/v3"

	"wreath/internal/strictjson"
	"wreath/quantity"
)

// Decimal is an exact decimal number that keeps its digits as written: 1.50 stays 1.50. The zero
// value is 0. A Decimal is never changed once made.
type Decimal struct{ v apd.Decimal }

// MaxDigits is how many digits a decimal that is read may have on either side of the point.
const MaxDigits = 18

// exactly adds and multiplies without rounding. whole divides to a whole number; the digits it
// allows are more than bounded input can lead to.
var (
	exactly = apd.BaseContext
	whole   = apd.BaseContext.WithPrecision(1000)
)

// ParseDecimal reads digits with at most one point, such as 12.50 or -3. It refuses exponents,
// commas and spaces; the error is a *quantity.NumberError.
func ParseDecimal(text string) (Decimal, error) {
	digits, hasSign := strings.CutPrefix(text, "-")
	before, after, hasPoint := strings.Cut(digits, ".")
	refuse := func(reason, hint string) (Decimal, error) {
		return Decimal{}, &quantity.NumberError{Text: text, Reason: reason, Hint: hint}
	}
	switch {
	case text == "":
		return refuse("is empty", "Give a number such as 12.50.")
	case strings.Contains(text, ","):
		return refuse("has a comma", "Write it with a decimal point and no thousands marks, such as 1234.50.")
	case !onlyDigits(before) || hasPoint && !onlyDigits(after):
		return refuse("is not a plain decimal number", "Write digits with at most one point, such as 12.50; no exponent, sign of currency or space.")
	case len(before) > MaxDigits || len(after) > MaxDigits:
		return refuse("has too many digits", "Give at most "+strconv.Itoa(MaxDigits)+" digits on either side of the point.")
	}
	var d Decimal
	if _, _, err := d.v.SetString(digits); err != nil {
		return refuse("is not a plain decimal number", "Write it such as 12.50.")
	}
	d.v.Negative = hasSign && !d.v.IsZero()
	return d, nil
}

func onlyDigits(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// fromFloat is the shortest decimal that stands for a binary fraction, which must be finite. It is
// the only way from the measurement into decimals.
func fromFloat(x float64) Decimal {
	var d Decimal
	if _, _, err := d.v.SetString(strconv.FormatFloat(x, 'f', -1, 64)); err != nil {
		panic("value: not a finite number: " + err.Error())
	}
	return d
}

func fromInt(n int) Decimal { return Decimal{*apd.New(int64(n), 0)} }

// lastDigit is the size of the last of so many digits after the point: 10 to the power of -decimals.
func lastDigit(decimals int) Decimal { return Decimal{*apd.New(1, int32(-decimals))} }

// String writes the number with its digits as they were written, without an exponent.
func (d Decimal) String() string { return d.v.Text('f') }

// Float is the nearest binary fraction.
func (d Decimal) Float() float64 {
	x, err := d.v.Float64()
	if err != nil {
		panic("value: " + err.Error()) // beyond bounded input
	}
	return x
}

// Cmp is -1, 0 or 1 as d is less than, equal to or greater than e.
func (d Decimal) Cmp(e Decimal) int { return d.v.Cmp(&e.v) }

// Sign is -1, 0 or 1.
func (d Decimal) Sign() int { return d.v.Sign() }

// decimals is how many digits stand after the point.
func (d Decimal) decimals() int { return max(0, int(-d.v.Exponent)) }

func (d Decimal) plus(e Decimal) (sum Decimal) {
	must(exactly.Add(&sum.v, &d.v, &e.v))
	return sum
}

func (d Decimal) minus(e Decimal) (difference Decimal) {
	must(exactly.Sub(&difference.v, &d.v, &e.v))
	if difference.v.IsZero() {
		difference.v.Negative = false
	}
	return difference
}

func (d Decimal) times(e Decimal) (product Decimal) {
	must(exactly.Mul(&product.v, &d.v, &e.v))
	if product.v.IsZero() {
		product.v.Negative = false
	}
	return product
}

// per divides two numbers of which neither is negative and cuts the quotient after so many digits.
func (d Decimal) per(e Decimal, decimals int) (quotient Decimal) {
	scaled := d
	scaled.v.Exponent += int32(decimals)
	must(whole.QuoInteger(&quotient.v, &scaled.v, &e.v))
	return quotient.times(lastDigit(decimals))
}

// percent is so many hundredths of d.
func (d Decimal) percent(p Decimal) Decimal { return d.times(p).times(lastDigit(2)) }

// plain is the number without zeros at its end.
func (d Decimal) plain() (short Decimal) {
	short.v.Reduce(&d.v)
	return short
}

// cut drops the digits after so many decimals; a number with fewer stays as it is.
func (d Decimal) cut(decimals int) Decimal {
	if d.decimals() <= decimals {
		return d
	}
	return d.inSteps(lastDigit(decimals), Down)
}

// inSteps rounds a number that is not negative to a whole number of steps.
func (d Decimal) inSteps(step Decimal, direction string) Decimal {
	var n apd.Decimal
	must(whole.QuoInteger(&n, &d.v, &step.v))
	down := Decimal{n}.times(step)
	rest := d.minus(down)
	up := false
	switch half := rest.plus(rest).Cmp(step); direction {
	case Up:
		up = rest.Sign() > 0
	case HalfUp:
		up = half >= 0
	case HalfEven:
		up = half > 0 || half == 0 && n.Coeff.Bit(0) == 1
	}
	if up {
		return down.plus(step)
	}
	return down
}

// must panics where exact arithmetic fails, which bounded input can't bring about.
func must(_ apd.Condition, err error) {
	if err != nil {
		panic("value: " + err.Error())
	}
}

// FromNumber takes a JSON number as it was written.
func (d *Decimal) FromNumber(text string) error { return d.FromText(text) }

// FromText takes a number in quotes, which is how decimals are written.
func (d *Decimal) FromText(text string) error {
	parsed, err := ParseDecimal(text)
	var n *quantity.NumberError
	if errors.As(err, &n) {
		return &strictjson.FieldError{Reason: strconv.Quote(n.Text) + " " + n.Reason, Hint: n.Hint}
	}
	*d = parsed
	return err
}

// MarshalJSON writes the number in quotes: most readers of JSON would make a binary fraction of a
// bare one.
func (d Decimal) MarshalJSON() ([]byte, error) { return []byte(strconv.Quote(d.String())), nil }

// UnmarshalJSON reads a number with or without quotes.
func (d *Decimal) UnmarshalJSON(data []byte) error {
	text := string(data)
	if len(data) > 0 && data[0] == '"' {
		if err := json.Unmarshal(data, &text); err != nil {
			return err
		}
	}
	parsed, err := ParseDecimal(text)
	if err == nil {
		*d = parsed
	}
	return err
}
