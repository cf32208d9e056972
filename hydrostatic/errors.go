package hydrostatic

import (
	"fmt"
	"math"

	"wreath/quantity"
)

// WeighingError says that readings cannot come from a sound weighing.
type WeighingError struct {
	Field  string // the reading at fault, with its unit: "liquid_g"
	Reason string // what is wrong, with the numbers
	Hint   string // what to do, a whole sentence
}

// Error says what was wrong and where, for people.
func (e *WeighingError) Error() string { return e.Reason + " (" + e.Field + ")" }

// finite is false for NaN and for the infinities.
func finite(x float64) bool { return math.Abs(x) <= math.MaxFloat64 }

// The readings taken, in grams, run from a nanogram to a thousand tonnes; chosen here.
const lightest, heaviest = 1e-9, 1e9

// checkReading returns a *WeighingError unless r is a number from lightest to heaviest.
func checkReading(field, what string, r quantity.Reading) error {
	if r >= lightest && r <= heaviest {
		return nil
	}
	return badReading(field, what, r)
}

func badReading(field, what string, r quantity.Reading) error {
	if !finite(float64(r)) {
		return &WeighingError{field, fmt.Sprintf("the %s is not a number", what), "Enter the reading in grams as the balance shows it."}
	}
	if r > heaviest {
		return &WeighingError{field, fmt.Sprintf("the %s is %g g, more than a thousand tonnes", what, float64(r)), "Check the unit; readings are in grams."}
	}
	if r > 0 {
		return &WeighingError{field, fmt.Sprintf("the %s is %g g, less than a nanogram", what, float64(r)), "Check the unit; readings are in grams."}
	}
	return &WeighingError{field,
		fmt.Sprintf("the %s is %g g, but must be more than zero", what, float64(r)),
		"Check that the item was on the balance and that the tare was taken without it."}
}

// checkDifference returns a *WeighingError unless r is a number of either sign up to heaviest.
func checkDifference(field, what string, r quantity.Reading) error {
	if r >= -heaviest && r <= heaviest {
		return nil
	}
	return badReading(field, what, r)
}

// lostWeight returns air - liquid for an item that hangs in the liquid, or a *WeighingError.
func lostWeight(airField string, air quantity.Reading, liquidField string, liquid quantity.Reading) (float64, error) {
	if err := checkReading(airField, "reading in air", air); err != nil {
		return 0, err
	}
	if !(liquid > 0) || !finite(float64(liquid)) {
		if !finite(float64(liquid)) {
			return 0, badReading(liquidField, "reading in liquid", liquid)
		}
		return 0, &WeighingError{liquidField,
			fmt.Sprintf("the reading in liquid is %g g: the item does not pull on the hanger", float64(liquid)),
			"Check the tare with the hanger immersed. An item lighter than the liquid needs a sinker."}
	}
	if liquid > air {
		return 0, &WeighingError{liquidField,
			fmt.Sprintf("the item reads %g g in liquid, more than the %g g in air", float64(liquid), float64(air)),
			"The two readings may be swapped. If they are not, check the tare and weigh again."}
	}
	lost := float64(air) - float64(liquid)
	if lost <= 0 {
		return 0, &WeighingError{liquidField,
			fmt.Sprintf("the item reads %g g both in air and in liquid: it has lost no weight", float64(air)),
			"Check that the item was under the liquid and that both readings were taken anew."}
	}
	return lost, nil
}
