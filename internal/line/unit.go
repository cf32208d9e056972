package line

import (
	"slices"
	"strings"

	"wreath/quantity"
)

// unit is what a unit word stands for.
type unit struct {
	symbol string
	kind   Kind
	scale  float64 // grams or kelvins in one unit
	offset float64 // added after scaling
}

// units are those a pattern may name: the masses of package quantity and temperatures.
var units = func() []unit {
	list := []unit{
		{"°C", Temperature, 1, 0},
		{"°F", Temperature, 5. / 9, -32 * 5. / 9}, // definition; BIPM SI brochure and NIST SP 811
	}
	for _, u := range quantity.MassUnits {
		list = append(list, unit{u.Symbol, Mass, u.Gram, 0})
	}
	return list
}()

// usualWords are unit words that mean one thing only, as they are commonly printed (common practice).
// Words are compared as they are written.
var usualWords = map[string]string{
	"g": "g", "G": "g", "kg": "kg", "KG": "kg", "Kg": "kg", "mg": "mg",
	"ct": "ct", "CT": "ct", "ozt": "ozt", "OZT": "ozt", "dwt": "dwt", "DWT": "dwt",
	"grain": "grain", "tola": "tola", "momme": "momme",
	"C": "°C", "°C": "°C", "ºC": "°C", "degC": "°C", "deg C": "°C", "F": "°F", "°F": "°F", "degF": "°F",
}

// otherWords are unit words that are known and not usable unless a person says what they mean, with the reason.
var otherWords = map[string]string{
	"gr": "is read as gram and as grain", "GR": "is read as gram and as grain", "Gr": "is read as gram and as grain",
	"gn": "is read as grain and as gram net", "GN": "is read as grain and as gram net", "gN": "is read as grain and as gram net",
	"MG": "is read as milligram and as megagram", "Mg": "is megagram, or milligram written carelessly",
	"oz": "is the ordinary ounce or the troy ounce", "OZ": "is the ordinary ounce or the troy ounce",
	"t": "is tonne, tola or tael", "T": "is tonne, tola or tael", "tl": "is tael or tola; taels differ by place", "TL": "is tael or tola; taels differ by place",
	"baht": "is the baht of bullion or that of jewellery",
	"mom":  "is most likely momme", "mo": "is most likely momme",
	"lb": "is the pound, which is not read here", "N": "is newton or net",
	"pcs": "is a count of pieces", "PCS": "is a count of pieces", "%": "is a percentage",
	"c": "is carat or degree", "K": "is kelvin or karat", "kt": "is kilotonne or karat",
}

// unitNamed returns the unit with a symbol.
func unitNamed(symbol string) (unit, bool) {
	i := slices.IndexFunc(units, func(u unit) bool { return u.symbol == symbol })
	if i < 0 {
		return unit{}, false
	}
	return units[i], true
}

// unitSaid returns the unit that a person means by a word.
func unitSaid(word string) (unit, bool) {
	word = strings.TrimSpace(word)
	if u, ok := unitNamed(word); ok {
		return u, true
	}
	if symbol, ok := usualWords[word]; ok {
		return unitNamed(symbol)
	}
	return unit{}, false
}

// looksLikeUnit is true of a word that is a unit, usable or not.
func looksLikeUnit(word string) bool {
	_, usual := usualWords[word]
	_, other := otherWords[word]
	return usual || other
}

func unitSymbols() string {
	var all []string
	for _, u := range units {
		all = append(all, u.symbol)
	}
	return strings.Join(all, ", ")
}
