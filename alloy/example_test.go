package alloy_test

import (
	"fmt"

	"wreath/alloy"
)

// Yellow gold of 750 with equal silver and copper. Adding the volumes of the pure metals would
// make it half a percent denser.
func ExampleMix() {
	parts, err := alloy.ParseParts("Au=750,Ag=125,Cu=125")
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err := alloy.Mix(parts, alloy.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f g/cm³\n", m.Density.GramPerCm3())
	fmt.Printf("%.2f g/cm³ by ideal mixing\n", m.Ideal.GramPerCm3())
	// Output:
	// 15.37 g/cm³
	// 15.44 g/cm³ by ideal mixing
}

// What 15.44 g/cm³, measured to 0.1 %, says about the fineness of 2N to 3N yellow gold.
func ExampleFamily_Posterior() {
	family, _ := alloy.FamilyByKey("gold-2n-3n")
	measured := alloy.Observation{V: 1 / 15.44, U: 0.001 / 15.44}
	p, ok := family.Posterior(measured, nil)
	if !ok {
		fmt.Println("no fineness of this family is in reach")
		return
	}
	fmt.Printf("median %.0f ppt, 95 %% interval %.0f to %.0f ppt\n", 1000*p.Quantile(0.5), 1000*p.Quantile(0.025), 1000*p.Quantile(0.975))

	low, high, _ := family.Range(measured, 2, false)
	fmt.Printf("some usual recipe fits from %.0f to %.0f ppt\n", 1000*low, 1000*high)

	standards := alloy.Standards(alloy.TradeWide, "gold")
	sceptic, _ := p.Weighted(alloy.Sceptic(0.750, standards), 0.750)
	fmt.Printf("P(f ≥ 750 ppt) = %.2f flat, %.2f sceptic\n", p.AtLeast(0.750), sceptic)
	// Output:
	// median 750 ppt, 95 % interval 740 to 759 ppt
	// some usual recipe fits from 736 to 763 ppt
	// P(f ≥ 750 ppt) = 0.49 flat, 0.91 sceptic
}
