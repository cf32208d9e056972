package web

import (
	"regexp"
	"strings"

	"wreath/internal/determination"
)

// say marks a text of a program as one of the catalogue's, so that a test can ask for its translation.
func say(english string) string { return english }

// fieldWords are the fields of a draft in the words of the bench.
var fieldWords = map[string]string{
	"air_g": say("in air"), "liquid_g": say("in the liquid"), "gain_g": say("gain in the liquid"), "closing_air_g": say("in air again"), "closing_zero_g": say("empty hanger at the end"),
	"sinker_liquid_g": say("sinker in the liquid"), "coated_air_g": say("coated, in air"), "impregnated_air_g": say("impregnated, in air"),
	"empty_g": say("vessel empty"), "with_sample_g": say("vessel with the item"), "with_sample_and_liquid_g": say("vessel with item and liquid"), "liquid_only_g": say("vessel with liquid"),
	"liquid.proof": say("check piece"), "liquid.proof.air_g": say("check piece in air"), "liquid.proof.liquid_g": say("check piece in the liquid"), "liquid.proof.gain_g": say("check piece, gain"),
	"liquid.proof.density_u_kg_m3": say("check piece's density"), "liquid.proof.expansion_per_k": say("check piece's expansion"), "liquid.proof.volume_u_cm3": say("check piece's volume"),
	"second_liquid.liquid_g": say("in the second liquid"), "second_liquid.gain_g": say("gain in the second liquid"),
	"reference.air_g": say("reference in air"), "reference.liquid_g": say("reference in the liquid"), "reference.expansion_per_k": say("reference's expansion"),
	"liquid": say("liquid"), "liquid.kind": say("liquid"), "liquid.temperature_c": say("temperature of the liquid"), "liquid.temperature_u_c": say("thermometer"), "liquid.air_saturation": say("air in the liquid"),
	"liquid.density_u_kg_m3": say("purity of the liquid"), "liquid.density_kg_m3": say("density of the liquid"), "liquid.density_temperature_c": say("temperature of its density"),
	"liquid.ethanol_u_percent": say("strength of the ethanol"), "liquid.ethanol_volume_percent_20c": say("strength of the ethanol"), "liquid.ethanol_mass_percent": say("strength of the ethanol"), "liquid.expansion_per_k": say("liquid's expansion"),
	"air.temperature_c": say("temperature of the air"), "air.pressure_hpa": say("pressure of the air"), "air.humidity_percent": say("humidity of the air"), "air.density_u_kg_m3": say("density of the air"),
	"expansion_per_k": say("item's expansion"), "arrangement": say("how it hangs"), "balance.repeatability_g": say("balance's repeatability"), "balance.resolution_g": say("balance's last digit"),
	"hanger.wire_diameter_mm": say("wire"), "hanger.vessel_diameter_mm": say("vessel"), "hanger.surface_u_g": say("pull of the surface on the wire"), "hanger.wires": say("wires"),
	"claim": say("claim"), "claim.standards": say("legal finenesses"), "claim.fineness": say("claimed fineness"), "claim.carat": say("claimed carat"), "claim.metal": say("claimed metal"), "claim.family": say("alloy family"), "claim.made_by": say("who says so"),
	"item": say("item"), "item.description": say("description"), "item.colour": say("colour"), "item.stones": say("stones"), "item.hollow": say("hollow or filled"), "house_rule": say("house rule"),
}

var (
	inBrackets = regexp.MustCompile(`\s*\((?:[a-z]+\.)*[a-z]+(?:_[a-z0-9]+)*\)`)
	fieldName  = regexp.MustCompile(`[a-z]+(?:[._][a-z0-9]+)+(?:\[\d+\])?`)
	counted    = regexp.MustCompile(`\[\d+\]$`)
)

// plain says the fields of a draft that a sentence names in words.
func plain(sentence string) string { return plainly(sentence, say) }

// plainly is plain in another language.
func plainly(sentence string, in func(string) string) string {
	if words, found := fieldWords[sentence]; found {
		return in(words)
	}
	sentence = inBrackets.ReplaceAllStringFunc(sentence, func(s string) string {
		if strings.ContainsAny(s, "._") {
			return ""
		}
		return s
	})
	return fieldName.ReplaceAllStringFunc(sentence, func(name string) string {
		if words, found := fieldWords[counted.ReplaceAllString(name, "")]; found {
			return in(words)
		}
		return name
	})
}

// firstSentence is the head of a longer remark.
func firstSentence(text string) string {
	head, _, more := strings.Cut(text, ". ")
	if more {
		return head + "."
	}
	return text
}

// aboutSight are the cautions on what density can't see, those first that name what the item may be.
func cautions(a *determination.Answer) (first string, rest []string) {
	if a == nil || len(a.Cautions) == 0 {
		return "", nil
	}
	return firstSentence(a.Cautions[0]), a.Cautions
}
