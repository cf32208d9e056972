package proof

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"

	"wreath/internal/determination"
	"wreath/internal/record"
	"wreath/uncertainty"
)

// symbols of the metals that can be claimed.
var symbols = map[string]string{"gold": "Au", "silver": "Ag", "platinum": "Pt", "palladium": "Pd"}

// Of is what a record gives to a statement. Shop, log, times of issue and what became of the record
// are added by who keeps the log. The numbers have the digits that every other paper shows.
func Of(r *record.Record) (Statement, error) {
	sum, err := r.Summary()
	if err != nil {
		return Statement{}, err
	}
	var a determination.Answer
	if err := json.Unmarshal(r.Answer, &a); err != nil {
		return Statement{}, fmt.Errorf("read the answer of %s: %w", r.Number, err)
	}
	s := Statement{
		Number: r.Number, Made: whole(r.Made.Time), Supersedes: sum.Supersedes, Item: plain(sum.Description),
		Metal: symbols[sum.Metal], Finding: sum.Finding, Suspended: sum.Suspended,
	}
	if sum.Metal == "" || symbols[sum.Metal] == "" {
		s.Claim = plain(sum.Claim)
	}
	if s.Density, err = density(a.Density20C); err != nil {
		return s, fmt.Errorf("the density of %s: %w", r.Number, err)
	}
	if s.Mass, err = mass(a.TrueMassG, a.TrueMassUG); err != nil {
		return s, fmt.Errorf("the mass of %s: %w", r.Number, err)
	}
	if sum.FinenessPpt != nil && s.Metal != "" {
		if s.Claimed, err = number(strconv.FormatFloat(*sum.FinenessPpt, 'f', -1, 64)); err != nil {
			return s, fmt.Errorf("the fineness claimed of %s: %w", r.Number, err)
		}
	}
	// Where the weighing or the metal is in doubt, an interval would say more than is known.
	if sum.LowPpt != nil && sum.HighPpt != nil && s.Metal != "" && !s.Suspended && len(a.OtherMetals) == 0 {
		s.Low, s.High = Number{Value: int64(math.Round(*sum.LowPpt))}, Number{Value: int64(math.Round(*sum.HighPpt))}
	}
	return s, nil
}

// density is as printed: the expanded uncertainty to two digits. Where the weighing sets no upper end,
// no uncertainty is told, and four digits of the value.
func density(d determination.Density) (Number, error) {
	if d.HighKgM3 == nil {
		return number(uncertainty.RoundTo(d.KgM3/1000, min(0, int(math.Floor(math.Log10(d.KgM3/1000)))-3)))
	}
	value, u := uncertainty.Round(d.KgM3/1000, d.UExpanded/1000)
	n, err := number(value)
	if err != nil {
		return n, err
	}
	expanded, err := number(u)
	n.U = expanded.Value
	return n, err
}

// mostDigits of a mass are told, after the point: 0.1 µg, more than any balance at a counter shows.
const mostDigits = 7

// mass is rounded to the second digit of its standard uncertainty.
func mass(g, u float64) (Number, error) {
	place := -mostDigits
	if u > 0 {
		place = max(place, uncertainty.Place(u))
	}
	return number(uncertainty.RoundTo(g, min(0, place)))
}

// plain makes one line of a text.
func plain(text string) string { return strings.Join(strings.Fields(text), " ") }
