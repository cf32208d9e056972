package batch

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"

	"wreath/internal/determination"
	"wreath/quantity"
)

// set reads a cell that is not empty into the field of the draft d. With comma, a decimal comma
// is read as well as a point.
func (f *field) set(d reflect.Value, cell string, comma bool) error {
	for _, i := range f.index {
		if d.Kind() == reflect.Pointer {
			if d.IsNil() {
				d.Set(reflect.New(d.Type().Elem()))
			}
			d = d.Elem()
		}
		d = d.Field(i)
	}
	switch p := d.Addr().Interface().(type) {
	case *string:
		*p = cell
	case **float64:
		x, err := quantity.ParseNumber(cell, comma)
		if err != nil {
			return f.numberError(err)
		}
		*p = &x
	case **int:
		n, err := strconv.Atoi(cell)
		if err != nil {
			return f.error("Write it without a decimal mark: 2.", "%q is not a whole number", cell)
		}
		*p = &n
	case **bool:
		b, err := strconv.ParseBool(strings.ToLower(cell))
		if err != nil {
			return f.error("Write true or false, or leave the cell empty.", "%q is neither true nor false", cell)
		}
		*p = &b
	case *[]float64:
		for _, word := range words(cell) {
			x, err := quantity.ParseNumber(word, comma)
			if err != nil {
				return f.numberError(err)
			}
			*p = append(*p, x)
		}
	case *[]string:
		*p = append(*p, words(cell)...)
	case *[]determination.Reading:
		return f.setReadings(p, cell, comma)
	default:
		panic("batch: no rule for " + d.Type().String())
	}
	return nil
}

// setReadings appends the readings of a cell: numbers in grams or with a unit each, parted by
// blanks.
func (f *field) setReadings(readings *[]determination.Reading, cell string, comma bool) error {
	list := words(cell)
	if thousands(list) {
		return f.error("Write the number without blanks; blanks part one reading from the next.",
			"%q looks like one number with a blank for the thousands", cell)
	}
	units := 0
	before := len(*readings)
	for i := 0; i < len(list); i++ {
		text, unit := list[i], ""
		if n := strings.TrimRight(text, letters); n != text && n != "" {
			text, unit = n, text[len(n):]
		} else if i+1 < len(list) && strings.Trim(list[i+1], letters) == "" {
			unit = list[i+1]
			i++
		}
		x, err := quantity.ParseNumber(text, comma)
		if err != nil {
			return f.numberError(err)
		}
		r := determination.Reading{Gram: x, Text: text, Interval: quantity.Interval(text)}
		if unit != "" {
			units++
			if err := r.FromText(strings.Replace(text, ",", ".", 1) + " " + unit); err != nil {
				return f.numberError(err)
			}
		}
		*readings = append(*readings, r)
	}
	if units != 0 && units != len(*readings)-before {
		return f.error("Write the unit after each reading: 37.1 ct 37.2 ct.",
			"%q has readings with a unit and readings without", cell)
	}
	return nil
}

const letters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"

// words parts a cell at its blanks. Other kinds of blank, such as the narrow one that is used for
// thousands, stay and make the number at fault.
func words(cell string) []string {
	return strings.FieldsFunc(cell, func(r rune) bool { return r == ' ' || r == '\t' || r == '\n' })
}

// thousands is true when two words look like one number: "1 234.5". Readings of one item are
// nearly alike, so the second must be far from the first.
func thousands(list []string) bool {
	if len(list) < 2 {
		return false
	}
	whole, _, _ := strings.Cut(strings.Replace(list[1], ",", ".", 1), ".")
	first, err := strconv.ParseUint(list[0], 10, 64)
	if err != nil || len(list[0]) > 3 || len(whole) != 3 {
		return false
	}
	second, err := strconv.ParseUint(whole, 10, 64)
	return err == nil && math.Abs(float64(first)-float64(second)) > float64(max(first, second))/2
}

func (f *field) error(hint, reason string, args ...any) error {
	return &determination.InputError{Path: f.path, Reason: fmt.Sprintf(reason, args...), Hint: hint}
}

func (f *field) numberError(err error) error {
	var number *quantity.NumberError
	if errors.As(err, &number) {
		return f.error(number.Hint, "%q %s", number.Text, number.Reason)
	}
	var field *determination.InputError
	if errors.As(err, &field) {
		field.Path = f.path
	}
	return err
}
