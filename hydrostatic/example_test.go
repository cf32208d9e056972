package hydrostatic_test

import (
	"errors"
	"fmt"

	"wreath/hydrostatic"
	"wreath/quantity"
)

// The example "Is the Coin Authentic?" of OpenStax College Physics 11.7: 8.630 g in air, 7.800 g
// in water of 1.000 g/cm3, air left out. The book prints 10.4 g/cm3.
func ExampleHanging() {
	water := hydrostatic.Media{Liquid: quantity.GramsPerCm3(1.000)}
	rho, err := hydrostatic.Hanging(8.630, 7.800, water, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f g/cm³\n", rho.GramPerCm3())
	// Output: 10.4 g/cm³
}

// Two readings in the wrong order say so, with what to do.
func ExampleWeighingError() {
	water := hydrostatic.Media{Liquid: quantity.KgPerM3(998.2), Air: quantity.KgPerM3(1.2)}
	_, err := hydrostatic.Hanging(7.800, 8.630, water, 0)
	var weighing *hydrostatic.WeighingError
	if errors.As(err, &weighing) {
		fmt.Println(weighing)
		fmt.Println(weighing.Hint)
	}
	// Output:
	// the item reads 8.63 g in liquid, more than the 7.8 g in air (liquid_g)
	// The two readings may be swapped. If they are not, check the tare and weigh again.
}
