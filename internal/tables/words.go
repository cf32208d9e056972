package tables

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"wreath/quantity"
)

// headings are the names by which a column of a list is known, in English, German and Spanish, the first
// of them the usual one. They are plain: small letters without marks.
var headings = map[Field][]string{
	Serial: {"serial", "serial number", "serial no", "serial nr", "serial num", "bar number", "bar no", "bar serial", "coin number",
		"seriennummer", "serien nr", "seriennr", "serie nr", "barrennummer", "barren nr", "barrennr", "munznummer",
		"numero de serie", "num serie", "num de serie", "no serie", "no de serie", "n serie", "serie", "numero de lingote", "numero de barra", "no de lingote", "lingote"},
	Marks: {"marks", "mark", "stamp", "stamps", "brand", "refiner", "maker", "makers mark", "maker s mark", "manufacturer",
		"stempel", "punze", "punzen", "punzierung", "marke", "marken", "hersteller", "scheideanstalt", "pragung",
		"marca", "marcas", "punzon", "punzones", "contraste", "contrastes", "fabricante", "afinador", "refinador"},
	Description: {"description", "item", "article", "what", "product",
		"beschreibung", "bezeichnung", "artikel", "gegenstand", "stuck", "produkt",
		"descripcion", "articulo", "objeto", "pieza", "producto"},
	Condition: {"condition", "zustand", "estado", "condicion"},
	Metal:     {"metal", "precious metal", "metall", "edelmetall", "metal precioso"},
	Fineness: {"fineness", "purity", "claimed fineness", "declared fineness", "assay",
		"feingehalt", "feinheit", "reinheit", "angegebener feingehalt",
		"ley", "fineza", "pureza", "milesimas", "ley declarada"},
	Mass: {"mass", "weight", "gross weight", "gross mass", "gross", "claimed mass", "declared mass", "claimed weight", "declared weight",
		"masse", "gewicht", "bruttogewicht", "bruttomasse", "rohgewicht", "angegebene masse", "angegebenes gewicht",
		"masa", "peso", "peso bruto", "masa bruta", "masa declarada", "peso declarado"},
	MassUnit: {"mass unit", "unit", "unit of mass", "weight unit", "unit of weight",
		"einheit", "masseneinheit", "gewichtseinheit",
		"unidad", "unidad de masa", "unidad de peso"},
	Claim: {"claim", "claimed", "claimed to be", "said to be",
		"angabe", "angegeben", "angegeben als",
		"declaracion", "declarado", "declarado como"},
	ClaimBy: {"claimed by", "claim by", "said by", "angabe von", "angegeben von", "declarado por"},
	Barcode: {"barcode", "bar code", "tray", "strichcode", "schale", "tutennummer", "codigo de barras", "bandeja"},
	Reference: {"reference", "ref", "owners reference", "owner s reference", "owner reference", "customer reference", "your reference", "own number",
		"referenz", "eigene nummer", "ihr zeichen", "kundenreferenz", "eigentumerreferenz",
		"referencia", "su referencia", "referencia del propietario", "referencia del cliente"},
	PartOf: {"part of", "lot", "bag", "parcel", "batch", "belongs to",
		"teil von", "los", "posten", "partie", "beutel", "gehort zu",
		"parte de", "lote", "bolsa", "partida", "pertenece a"},
	Place: {"place", "location", "shelf", "safe", "ort", "platz", "lagerort", "fach", "lugar", "ubicacion", "sitio", "estante"},
}

// metals are the words for the metals of a claim, plain, in English, German and Spanish, and their
// symbols.
var metals = map[string]string{
	"gold": "gold", "oro": "gold", "au": "gold", "xau": "gold", "feingold": "gold",
	"silver": "silver", "silber": "silver", "plata": "silver", "ag": "silver", "xag": "silver", "feinsilber": "silver",
	"platinum": "platinum", "platin": "platinum", "platino": "platinum", "pt": "platinum", "xpt": "platinum",
	"palladium": "palladium", "paladio": "palladium", "pd": "palladium", "xpd": "palladium",
}

// units are further words for units of mass, plain; the symbols of quantity.MassUnits are known besides.
var units = map[string]string{
	"gram": "g", "grams": "g", "gramme": "g", "grammes": "g", "gramm": "g", "gramo": "g", "gramos": "g",
	"kilogram": "kg", "kilograms": "kg", "kilogramm": "kg", "kilogramo": "kg", "kilogramos": "kg", "kilo": "kg", "kilos": "kg",
	"milligram": "mg", "milligrams": "mg", "milligramm": "mg", "miligramo": "mg", "miligramos": "mg",
	"oz t": "ozt", "oz tr": "ozt", "oztr": "ozt", "t oz": "ozt", "toz": "ozt", "troy oz": "ozt", "oz troy": "ozt", "troy ounce": "ozt", "troy ounces": "ozt",
	"troyunze": "ozt", "troyunzen": "ozt", "unze troy": "ozt", "onza troy": "ozt", "onzas troy": "ozt",
	"pennyweight": "dwt", "pennyweights": "dwt", "grains": "grain", "tolas": "tola",
}

// thousandths are the words for parts per thousand behind a heading, plain.
var thousandths = []string{"parts per thousand", "per thousand", "per mille", "ppt", "promille", "tausendstel", "por mil", "milesimas"}

// plainWords takes a text apart: small letters without marks, parted by anything else.
func plainWords(text string) []string {
	var out strings.Builder
	for _, r := range norm.NFKD.String(strings.ToLower(strings.ReplaceAll(text, "‰", " ppt "))) {
		switch {
		case unicode.Is(unicode.Mn, r):
		case r == 'ß':
			out.WriteString("ss")
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			out.WriteRune(r)
		default:
			out.WriteByte(' ')
		}
	}
	return strings.Fields(out.String())
}

// unitOf is a unit of mass by its symbol or its name; "" for any other word.
func unitOf(text string) string {
	plain := strings.Join(plainWords(text), " ")
	if u, known := units[plain]; known {
		return u
	}
	i := slices.IndexFunc(quantity.MassUnits, func(u quantity.MassUnit) bool { return u.Symbol == plain })
	if i < 0 {
		return ""
	}
	return quantity.MassUnits[i].Symbol
}

// fieldOf is the field that a heading stands for, with the unit behind it: "Gewicht (kg)" is a mass in kg.
// The names of JSON Lines, such as fineness_ppt, are known too.
func fieldOf(heading string) (f Field, unit string) {
	words := plainWords(heading)
	if f := named(words); f != "" {
		return f, ""
	}
	for n := 1; n < len(words) && n <= 3; n++ {
		head, tail := words[:len(words)-n], strings.Join(words[len(words)-n:], " ")
		switch f := named(head); {
		case f == Mass && unitOf(tail) != "":
			return Mass, unitOf(tail)
		case f == Fineness && slices.Contains(thousandths, tail):
			return Fineness, ""
		}
	}
	return "", ""
}

func named(words []string) Field {
	name := strings.Join(words, " ")
	for f, names := range headings {
		if slices.Contains(names, name) {
			return f
		}
	}
	return ""
}
