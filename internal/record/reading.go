package record

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"wreath/internal/determination"
	"wreath/internal/nearest"
	"wreath/internal/station"
	"wreath/internal/strictjson"
	"wreath/quantity"
)

// FieldError says what is wrong with one field and how to mend it.
type FieldError = strictjson.FieldError

func bad(path, hint, reason string, args ...any) error {
	return &FieldError{Path: path, Reason: fmt.Sprintf(reason, args...), Hint: hint}
}

// Act is that a person did something at a time.
type Act struct {
	Time   time.Time `json:"time" doc:"when, with the offset of the place"`
	Person string    `json:"person" doc:"who"`
}

func (a Act) check(path string) error {
	switch {
	case strings.TrimSpace(a.Person) == "":
		return bad(strictjson.Join(path, "person"), "Say who did it.", "is missing")
	case a.Time.IsZero():
		return bad(strictjson.Join(path, "time"), "Say when it was done.", "is missing")
	}
	return checkTime(strictjson.Join(path, "time"), a.Time)
}

func checkTime(path string, t time.Time) error {
	if _, offset := t.Zone(); t.Year() < 1900 || t.Year() > 2999 || offset%60 != 0 || offset <= -24*3600 || offset >= 24*3600 {
		return bad(path, "Check the clock.", "%s cannot be right", t.Format(time.RFC3339))
	}
	return nil
}

// plain takes the clock's inner count off, which no document keeps.
func plain(t time.Time) time.Time { return t.Round(0) }

// Where a reading comes from.
const (
	Typed    = "typed"    // by a person
	Received = "received" // from the instrument
	Imported = "imported" // from a file
)

// Reading is one reading, exactly as it was typed or received.
type Reading struct {
	No         int          `json:"no" doc:"number on the sheet, counted from 1; never used twice"`
	Slot       string       `json:"slot" doc:"what was read, by the draft's field: air_g, liquid.proof.air_g, liquid.temperature_c"`
	Text       string       `json:"text" doc:"as typed or received, a decimal comma too"`
	Unit       string       `json:"unit,omitempty" doc:"unit of the text where it has none of its own; grams, °C, hPa or percent unless said"`
	Time       time.Time    `json:"time" doc:"when"`
	Instrument *station.Ref `json:"instrument,omitempty" doc:"the instrument read, where it was not the station's"`
	Person     string       `json:"person" doc:"who read it"`
	Source     string       `json:"source" doc:"typed, received or imported"`
	Settled    bool         `json:"settled,omitempty" doc:"true when the instrument said that it stood still"`
	Rested     bool         `json:"rested,omitempty" doc:"true when the program found that it stood still, by its own statistics of what the instrument said before"`
	Evidence   string       `json:"evidence,omitempty" doc:"SHA-256 of what is kept beside it, such as the stream before it; hexadecimal"`
	Withdrawn  *Withdrawal  `json:"withdrawn,omitempty" doc:"that it is set aside; it then stays and is not evaluated"`
	Restored   []Restored   `json:"restored,omitempty" doc:"every time that it was set aside and taken back"`
}

// Withdrawal sets a reading aside.
type Withdrawal struct {
	Time   time.Time `json:"time" doc:"when"`
	Person string    `json:"person" doc:"who"`
	Reason string    `json:"reason" doc:"why"`
}

// Restored is that a reading that was set aside counts again.
type Restored struct {
	Withdrawal Withdrawal `json:"withdrawal" doc:"that it had been set aside"`
	Time       time.Time  `json:"time" doc:"when it was restored"`
	Person     string     `json:"person" doc:"who restored it"`
	Reason     string     `json:"reason" doc:"why"`
}

// Slots are the readings of a balance that a draft can hold, in its order.
var Slots = []string{
	"air_g", "liquid_g", "gain_g", "closing_air_g", "closing_zero_g", "sinker_liquid_g", "coated_air_g", "impregnated_air_g",
	"empty_g", "with_sample_g", "with_sample_and_liquid_g", "liquid_only_g",
	"liquid.proof.air_g", "liquid.proof.liquid_g", "liquid.proof.gain_g", "second_liquid.liquid_g", "second_liquid.gain_g",
	"reference.air_g", "reference.liquid_g",
}

// readingsOf is the list of a draft that a slot names.
func readingsOf(d *determination.Draft, slot string) *[]determination.Reading {
	group, name, inGroup := strings.Cut(slot, ".")
	switch {
	case inGroup && group == "reference":
		if d.Reference == nil {
			d.Reference = &determination.Reference{}
		}
		return map[string]*[]determination.Reading{"air_g": &d.Reference.AirG, "liquid_g": &d.Reference.LiquidG}[name]
	case inGroup && group == "second_liquid":
		if d.SecondLiquid == nil {
			d.SecondLiquid = &determination.SecondLiquid{}
		}
		return map[string]*[]determination.Reading{"liquid_g": &d.SecondLiquid.LiquidG, "gain_g": &d.SecondLiquid.GainG}[name]
	case inGroup:
		if d.Liquid == nil {
			d.Liquid = &determination.Liquid{}
		}
		if d.Liquid.Proof == nil {
			d.Liquid.Proof = &determination.Proof{}
		}
		p := d.Liquid.Proof
		return map[string]*[]determination.Reading{"proof.air_g": &p.AirG, "proof.liquid_g": &p.LiquidG, "proof.gain_g": &p.GainG}[name]
	}
	return map[string]*[]determination.Reading{
		"air_g": &d.AirG, "liquid_g": &d.LiquidG, "gain_g": &d.GainG, "closing_air_g": &d.ClosingAirG, "closing_zero_g": &d.ClosingZeroG,
		"sinker_liquid_g": &d.SinkerLiquidG, "coated_air_g": &d.CoatedAirG, "impregnated_air_g": &d.ImpregnatedAirG,
		"empty_g": &d.EmptyG, "with_sample_g": &d.WithSampleG, "with_sample_and_liquid_g": &d.WithSampleAndLiquidG, "liquid_only_g": &d.LiquidOnlyG,
	}[slot]
}

// ofItem is true of slots that are readings of the item itself. The check piece, the reference
// and the room may be read before a claim is fixed.
func ofItem(slot string) bool {
	return slices.Contains(Slots, slot) && (!strings.Contains(slot, ".") || strings.HasPrefix(slot, "second_liquid."))
}

// checkSlot refuses what no draft can hold.
func checkSlot(slot string) error {
	known := slices.Concat(Slots, station.ShownFields)
	if slices.Contains(known, slot) {
		return nil
	}
	hint := "Known: " + strings.Join(known, ", ") + "."
	if n := nearest.Word(slot, known); n != "" {
		hint = "Did you mean " + n + "?"
	}
	return bad("slot", hint, "there is no reading %q", slot)
}

// MaxText is the longest reading that is taken, in bytes.
const MaxText = 100

// check refuses a reading that can't be kept or can't be evaluated.
func (r *Reading) check() error {
	if err := checkSlot(r.Slot); err != nil {
		return err
	}
	if len(r.Text) > MaxText || !utf8.ValidString(r.Text) || !utf8.ValidString(r.Unit) || len(r.Unit) > MaxText {
		return bad("text", "Give the number and its unit only.", "is too long, or no text, to be a reading")
	}
	if err := (Act{r.Time, r.Person}).check(""); err != nil {
		return err
	}
	if !slices.Contains([]string{Typed, Received, Imported}, r.Source) {
		return bad("source", "Known: typed, received, imported.", "there is no %q", r.Source)
	}
	if e := r.Evidence; e != "" && (len(e) != 64 || strings.Trim(e, "0123456789abcdef") != "") {
		return bad("evidence", "Give the SHA-256 as 64 hexadecimal digits in small letters.", "%q is no SHA-256", e)
	}
	if r.Instrument != nil && (r.Instrument.ID == "" || r.Instrument.Version < 1) {
		return bad("instrument", "Name the instrument by id and version.", "%s names none", r.Instrument)
	}
	if isCondition(r.Slot) {
		_, err := r.condition()
		return err
	}
	d, err := r.draft()
	if err == nil && math.Abs(d.Gram) > heaviestG {
		return bad("text", "Look at the display again: was a point lost, or a number typed twice?", "%s is more than any item weighs", r.Text)
	}
	return err
}

// heaviestG is more than any bar that is weighed in a liquid, g; chosen here.
const heaviestG = 1e6

func isCondition(slot string) bool { return slices.Contains(station.ShownFields, slot) }

// Value is the reading as a number: grams for a balance, the unit of the slot for the rest.
func (r *Reading) Value() (float64, error) {
	if isCondition(r.Slot) {
		return r.condition()
	}
	d, err := r.draft()
	return d.Gram, err
}

// draft is the reading as a draft gives it. A plain number and a number with a unit pass as they
// stand; a decimal comma becomes a point, and a unit said apart is put behind the number.
func (r *Reading) draft() (determination.Reading, error) {
	var d determination.Reading
	if r.Unit == "" && !isNumber(r.Text) && d.FromText(r.Text) == nil {
		return d, nil
	}
	number, symbol := split(r.Text)
	if number == "" {
		return d, bad("text", "Give the digits and the unit, such as 12.4431 g.", "%q is no number", r.Text)
	}
	if symbol != "" && r.Unit != "" && !strings.EqualFold(symbol, r.Unit) {
		return d, bad("text", "Keep one of the two units.", "%q has a unit of its own, and the unit is said to be %s", r.Text, r.Unit)
	}
	var err error
	if symbol = cmp.Or(symbol, r.Unit, "g"); strings.EqualFold(symbol, "g") && isNumber(number) {
		err = d.FromNumber(number)
	} else {
		err = d.FromText(number + " " + symbol)
	}
	if field, ok := err.(*FieldError); ok {
		field.Path = "text"
	}
	return d, err
}

// condition is the reading of a thermometer, a barometer or a hygrometer.
func (r *Reading) condition() (float64, error) {
	number, symbol := split(r.Text)
	if number == "" {
		return 0, bad("text", "Give a number such as 21.4.", "%q is no number", r.Text)
	}
	symbol = cmp.Or(symbol, r.Unit)
	units := map[string][]string{
		"liquid.temperature_c": {"", "°C", "C"}, "air.temperature_c": {"", "°C", "C"},
		"air.pressure_hpa": {"", "hPa", "mbar"}, "air.humidity_percent": {"", "%", "% RH"},
	}[r.Slot]
	if !slices.ContainsFunc(units, func(u string) bool { return strings.EqualFold(u, symbol) }) {
		return 0, bad("text", "Read it in "+units[1]+".", "%q has the unit %q", r.Text, symbol)
	}
	x, err := quantity.ParseNumber(number, true)
	if err != nil {
		return 0, bad("text", "Give a number such as 21.4.", "%q is no number", r.Text)
	}
	return x, nil
}

// groupMarks set thousands apart where they can mean nothing else; points and commas are decimal marks.
const groupMarks = "'\u2019\u2009\u202f\u00a0"

var grouped = regexp.MustCompile(`^[+-]?\s*\d{1,3}(['\x{2019}\x{2009}\x{202f}\x{00a0}]\d{3})+([.,]\d*)?$`)

// plainDigit is a digit of another script as one that a number is written with (Unicode, general
// category Nd), and the marks that go with it.
func plainDigit(r rune) rune {
	for _, zero := range []rune{'\u0660', '\u06f0', '\u0966', '\uff10'} { // Arabic-Indic, its eastern form, Devanagari, full width
		if r >= zero && r < zero+10 {
			return '0' + r - zero
		}
	}
	switch r {
	case '\u066b': // Arabic decimal separator
		return '.'
	case '\u2212': // minus sign
		return '-'
	}
	return r
}

// split parts a text into its number, with a point, and what follows.
func split(text string) (number, symbol string) {
	s := strings.TrimSpace(strings.Map(plainDigit, text))
	i := strings.LastIndexAny(s, "0123456789.,") + 1
	number, symbol = strings.TrimSpace(s[:i]), strings.TrimSpace(s[i:])
	if grouped.MatchString(number) {
		number = strings.Map(func(r rune) rune {
			if strings.ContainsRune(groupMarks, r) {
				return -1
			}
			return r
		}, number)
	}
	if number != "" && (number[0] == '+' || number[0] == '-') {
		// Balances write the sign in a column of its own.
		number = strings.TrimPrefix(number[:1], "+") + strings.TrimSpace(number[1:])
	}
	if strings.Count(number, ",") == 1 && !strings.Contains(number, ".") {
		number = strings.Replace(number, ",", ".", 1)
	}
	return number, symbol
}

// isNumber is true of a text that is a JSON number by itself.
func isNumber(text string) bool {
	return text != "" && (text[0] == '-' || text[0] >= '0' && text[0] <= '9') && json.Valid([]byte(text)) &&
		strings.Trim(text, " \t\r\n") == text
}
