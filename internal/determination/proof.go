package determination

import (
	"math"

	"wreath/hydrostatic"
	"wreath/quantity"
	"wreath/uncertainty"
)

// proofState is what is known of the liquid in this session.
type proofState uint8

const (
	unproved proofState = iota
	proved
	disproved
)

// checked is what a check piece found in the liquid: densities in kg/m³, and the weight that the
// piece lost in grams. The zero value: there was none.
type checked struct{ found, u, stated, statedU, lost float64 }

// provingU is the largest relative standard uncertainty of the liquid's density with which a check
// piece still proves it; chosen here: a tenth of the error of a wrong liquid that matters.
const provingU = 1e-3

// proveLiquid compares the liquid with what a check piece weighed in it says. Where they agree,
// the better of the two is used; where they do not, the liquid is in doubt.
func (e *evaluation) proveLiquid() error {
	l := e.draft.Liquid
	if l == nil || e.method == "comparison" {
		if e.method == "comparison" {
			e.proof = proved // the reference solid in the same liquid is the proof
		}
		return nil
	}
	p := l.Proof
	if p == nil {
		return nil
	}
	immersedField, immersed := "liquid.proof.liquid_g", p.LiquidG
	if e.standing {
		immersedField, immersed = "liquid.proof.gain_g", p.GainG
	}
	if err := firstError(checkReadings("liquid.proof.air_g", p.AirG, e.balance.CapacityG, false),
		checkReadings(immersedField, immersed, e.balance.CapacityG, false),
		within("liquid.proof.volume_cm3", p.VolumeCm3, 1e-3, 1e5, "cm³"), within("liquid.proof.volume_u_cm3", p.VolumeUCm3, 0, 1e4, "cm³"),
		within("liquid.proof.density_kg_m3", p.DensityKgM3, 100, 23000, "kg/m³"), within("liquid.proof.density_u_kg_m3", p.DensityUKgM3, 0, 5000, "kg/m³"),
		within("liquid.proof.expansion_per_k", p.ExpansionK, 0, 0.001, "per K")); err != nil {
		return err
	}
	if (p.VolumeCm3 == nil) == (p.DensityKgM3 == nil) {
		return bad("liquid.proof.volume_cm3", "Give the check piece's volume_cm3 or its density_kg_m3, one of the two.", "is missing, or given together with the density")
	}
	airReading, sAir := mean(p.AirG)
	reading, sImmersed := mean(immersed)
	lost := reading
	if !e.standing {
		lost = airReading - reading
	}
	if lost <= 0 {
		return bad(immersedField, "Were the two readings of the check piece swapped?", "the check piece loses no weight in the liquid (%.10g g in air, %.10g g immersed)", airReading, reading)
	}
	expansion := or(p.ExpansionK, 48e-6)
	if p.ExpansionK == nil {
		e.assume("liquid.proof.expansion_per_k", "austenitic steel", "48e-6 per K")
	}
	rhoA := e.inputs[e.airRho].Value
	volume, relU := 0.0, 0.0
	if p.VolumeCm3 != nil {
		volume = *p.VolumeCm3 * (1 + expansion*(e.liquidC-20))
		relU = or(p.VolumeUCm3, 2e-4**p.VolumeCm3) / *p.VolumeCm3
		if p.VolumeUCm3 == nil {
			e.assume("liquid.proof.volume_u_cm3", "chosen here", "volume known to 0.02 %%")
		}
	} else {
		solid := quantity.KgPerM3(*p.DensityKgM3 / (1 + expansion*(e.liquidC-20)))
		mass, err := hydrostatic.TrueMass(quantity.Reading(airReading), solid, quantity.KgPerM3(rhoA), quantity.KgPerM3(e.adjustmentAir), hydrostatic.ReferenceWeights)
		if err != nil {
			return at("liquid.proof.density_kg_m3", err)
		}
		volume = mass.Gram() / solid.GramPerCm3()
		relU = or(p.DensityUKgM3, 2e-4**p.DensityKgM3) / *p.DensityKgM3
		if p.DensityUKgM3 == nil {
			e.assume("liquid.proof.density_u_kg_m3", "chosen here", "density of the check piece known to 0.02 %%")
		}
	}
	found := rhoA + 1000*(1-e.adjustmentAir/8000)*lost/volume
	uAir, _, _ := e.repeatability("check piece in air", len(p.AirG), sAir, false)
	uImmersed, _, _ := e.repeatability("check piece immersed", len(immersed), sImmersed, true)
	uLost := math.Sqrt(uAir*uAir + uImmersed*uImmersed + e.surfaceU*e.surfaceU + e.resolution*e.resolution/3)
	u := (found - rhoA) * math.Hypot(relU, uLost/lost)

	stated, statedU := e.rho0, 0.0
	for _, i := range e.liquidErrors[:e.nLiquidErrors] {
		statedU += e.inputs[i].U * e.inputs[i].U
	}
	statedU = math.Sqrt(statedU + math.Pow(e.rho1*e.inputs[e.liquidT].U, 2))
	e.check = checked{found: found, u: u, stated: stated, statedU: statedU, lost: lost}
	if u > provingU*found {
		e.doubt(causeWeak, "Take a larger check piece, or one whose volume is known better.",
			"the density of the liquid follows from it to %.2g %% only, %.2g %% is asked", 100*u/found, 100*provingU)
		return nil
	}
	if math.Abs(found-stated) > fitsWithin*math.Hypot(u, statedU) {
		e.proof = disproved
		e.suspend(causeLiquid, settleLiquid,
			"the check piece finds %.2f kg/m³ (u %.2g), the liquid as stated has %.2f kg/m³ (u %.2g)", found, u, stated, statedU)
		return nil
	}
	e.proof = proved
	if u < statedU && e.nLiquidErrors > 0 {
		e.inputs = e.inputs[:e.liquidErrors[0]]
		e.nLiquidErrors = 0
		e.rho0 = found
		// The temperature was the same for both weighings: what is left of it is the
		// difference between them, and that is in the check piece's scatter.
		e.inputs[e.liquidT].U = math.Min(e.inputs[e.liquidT].U, 0.05)
		e.input("liquid: density by the check piece", "kg/m³", 0, u, uncertainty.Normal, 0)
		e.addToLiquid()
	}
	return nil
}
