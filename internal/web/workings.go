package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"wreath/internal/determination"
	"wreath/internal/picture"
	"wreath/uncertainty"
)

// working says how one number of an answer comes about.
type working struct {
	Name    string // of the catalogue
	Value   string // with its uncertainty, where it has one, and its unit
	Formula string
	Inputs  string // of the catalogue: what the letters stand for
	Source  string // as doc/sources.md names it; "chosen here" where nobody has published it
}

// byMethod are the formulas of the density, by method and by how the item hangs.
var byMethod = map[string][2]string{
	"immersion, hanging":  {"ρ = A / ((A − B)(1 − κ)) · (ρL − ρa) + ρa", say("A: in air, B: in the liquid, ρL and ρa: density of liquid and air, κ: share of the wire that the rising liquid wets")},
	"immersion, standing": {"ρ = A / (G (1 − κ)) · (ρL − ρa) + ρa", say("A: in air, G: gain of the vessel, ρL and ρa: density of liquid and air, κ: share of the wire that the rising liquid wets")},
	"comparison, hanging": {"(ρ − ρa) / (ρR − ρa) = A/(A − B) / (AR/(AR − BR))", say("A: in air, B: in the liquid, R: the reference piece, ρa: density of the air; the liquid drops out")},
}

// densityWorkings says how density, volume and mass come about.
func densityWorkings(a *determination.Answer) []working {
	d, warm := a.Density20C, a.Density
	value, expanded := uncertainty.Round(d.KgM3/1000, d.UExpanded/1000)
	formula := byMethod[a.Method]
	if formula[0] == "" {
		formula = [2]string{"", say("mass by volume, each from its own weighings")}
	}
	dof := "∞"
	if d.Dof != nil {
		dof = strconv.FormatFloat(math.Floor(*d.Dof), 'f', 0, 64)
	}
	high := "∞"
	if d.HighKgM3 != nil {
		high = strconv.FormatFloat(*d.HighKgM3/1000, 'f', 4, 64)
	}
	volume, volumeU := uncertainty.Round(a.VolumeCm3, a.VolumeUCm3)
	mass, massU := uncertainty.Round(a.TrueMassG, a.TrueMassUG)
	liquid, liquidU := uncertainty.Round(a.LiquidDensityKgM3, a.LiquidDensityUKgM3)
	at := func(c float64) string { return strconv.FormatFloat(c, 'f', -1, 64) + " °C" }
	return []working{
		{say("density in the liquid"), strconv.FormatFloat(warm.KgM3/1000, 'f', 4, 64) + " g/cm³, " + at(math.Round(warm.TemperatureC*100)/100), formula[0], formula[1], "OIML R 111-1 B.7, ISO 1183-1"},
		{say("Density at 20 °C"), value + " g/cm³", "ρ20 = ρ (1 + γ (t − 20))", say("γ: expansion of the item by volume, t: temperature of the liquid"), "JCGM 100"},
		{say("uncertainty"), "± " + expanded + " g/cm³", fmt.Sprintf("U = k·u, k = %.2f, u = %.2g g/cm³, ν = %s", d.K, d.UKgM3/1000, dof), say("u: the contributions below, squared and added; k: Student's t for 95 % and ν degrees of freedom"), "JCGM 100 5.1, G.4"},
		{say("95 % interval"), strconv.FormatFloat(d.LowKgM3/1000, 'f', 4, 64) + " … " + high + " g/cm³", "1/ρ ± k·u(1/ρ)", say("even in specific volume, which is what a weighing gives; propagated where the two differ"), "JCGM 100, JCGM 101"},
		{say("density of the liquid"), liquid + " kg/m³, u = " + liquidU, "", say("formula or certificate of the liquid at its temperature"), "Tanaka 2001, OIML R 22"},
		{say("density of the air"), strconv.FormatFloat(a.AirDensityKgM3, 'f', 4, 64) + " kg/m³", "", say("from pressure, temperature and humidity, read or assumed"), "CIPM-2007"},
		{say("volume"), volume + " cm³, u = " + volumeU, "V = m / ρ", say("at the liquid's temperature"), "OIML D 28"},
		{say("mass free of the air's lift"), mass + " g, u = " + massU, "m = A (1 − ρa'/8000) + ρa·V", say("A: in air, ρa': air when the balance was adjusted; prices go by A itself"), "OIML D 28"},
	}
}

// finenessWorkings says how the figures of the fineness come about.
func finenessWorkings(a *determination.Answer) (out []working) {
	ppt := func(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }
	if f := a.Fineness; f != nil {
		out = append(out,
			working{say("safe figure"), safePpt(f.Safe), "P(F > " + ppt(f.Safe) + ") = 95 %", say("F: the fineness, every one of the usual recipes as likely as the next; the claim does not move it"), "chosen here"},
			working{say("95 % interval"), ppt(f.Low) + " … " + ppt(f.High), "2.5 % … 97.5 %", say("of the same distribution"), "JCGM 101"},
			working{say("every usual recipe"), ppt(f.RangeLow) + " … " + ppt(f.RangeHigh), "k = 2", say("finenesses that some recipe of the family reaches at this density, without any weighting"), "chosen here"})
	}
	if f := a.Finding; f != nil && f.Probability != nil {
		against := ""
		if f.Against != nil {
			against = " " + strconv.FormatFloat(*f.Against, 'f', -1, 64)
		}
		out = append(out, working{say("probability of the standard"), decided(*f.Probability), "P(" + f.Claim + " :" + against + ")", say("that the fineness is nearer the claim than the next lower legal standard, without weighting"), "JCGM 106"})
	}
	if l := a.LegalLimit; l != nil {
		out = append(out, working{say("probability of the legal limit"), decided(l.Probability), "P(F ≥ " + ppt(l.LimitPpt) + "), " + l.Weighting, say("under the weighting that is named"), "JCGM 106 8"})
	}
	return out
}

// safePpt prints the figure to pay by, rounded down: rounded up it would promise more than was found.
func safePpt(ppt float64) string { return strconv.FormatFloat(math.Floor(ppt*10)/10, 'f', 1, 64) }

// decided prints a probability that a finding goes by as the finding does, rounded towards 50 %: no
// threshold looks reached that is not.
func decided(p float64) string {
	switch {
	case p > 0.999:
		return "> 99.9 %"
	case p < 0.001:
		return "< 0.1 %"
	case p > 0.5:
		return percent(math.Floor(1000*p+1e-9) / 1000)
	}
	return percent(math.Ceil(1000*p-1e-9) / 1000)
}

// chance prints a probability; none is printed as certain.
func chance(p float64) string {
	switch {
	case p > 0.9995:
		return "> 99.9 %"
	case p < 0.0005:
		return "< 0.1 %"
	}
	return percent(p)
}

func percent(share float64) string { return strconv.FormatFloat(100*share, 'f', 1, 64) + " %" }

// smaller are the units that a small number of another is printed in.
var smaller = map[string][]struct {
	unit  string
	times float64
}{
	"g":   {{"mg", 1e3}, {"µg", 1e6}},
	"1/K": {{"ppm/K", 1e6}},
	"":    {{"ppm", 1e6}},
	"1":   {{"ppm", 1e6}},
}

// amount prints an uncertainty with two digits and without a power of ten.
func amount(v float64, unit string) string {
	v, unit = inSmaller(v, unit)
	return strings.TrimSpace(twoDigits(v) + " " + unit)
}

// estimate prints the value of an input with six digits, likewise.
func estimate(v float64, unit string) string {
	v, unit = inSmaller(v, unit)
	return strings.TrimSpace(strconv.FormatFloat(v, 'g', 6, 64) + " " + unit)
}

// inSmaller turns a small number into the largest smaller unit that it has digits in.
func inSmaller(v float64, unit string) (float64, string) {
	for _, step := range smaller[unit] {
		if v == 0 || math.Abs(v) >= 0.01 {
			break
		}
		if x := v * step.times; math.Abs(x) >= 0.01 {
			return x, step.unit
		}
	}
	if unit == "1" {
		unit = "" // a plain ratio
	}
	return v, unit
}

// twoDigits rounds to two significant digits, written out.
func twoDigits(x float64) string {
	if x == 0 {
		return "0"
	}
	digits := 1 - int(math.Floor(math.Log10(math.Abs(x))))
	return strconv.FormatFloat(x, 'f', min(max(digits, 0), 9), 64)
}

// Workings says how every number of a record comes about.
func (v recordView) Workings() []working {
	return append(densityWorkings(v.Answer), finenessWorkings(v.Answer)...)
}

// Caution says in short what density can't see.
func (v recordView) Caution() string {
	short, _ := cautions(v.Answer)
	return short
}

// Held says that a doubt holds the finding back.
func (v recordView) Held() bool { return picture.Doubtful(v.Answer) }
