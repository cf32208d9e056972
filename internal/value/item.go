package value

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"wreath/internal/determination"
	"wreath/internal/strictjson"
)

// The state of a finding, as it travels with every price.
const (
	Met       = "met"
	NotMet    = "not met"
	Undecided = "undecided"
	Suspended = "suspended" // a doubt about the weighing holds every finding back
	NoClaim   = "no claim"  // nothing was claimed, so nothing was found
)

// ErrMixedHeap is wrapped by the error for several pieces weighed as one that are not of one alloy.
var ErrMixedHeap = errors.New("mixed heap: no single fineness")

// Item is one determination to be valued: the draft for what the balance showed, the answer for
// what it means.
type Item struct {
	Draft  *determination.Draft
	Answer *determination.Answer

	// Declared non-metal that hung on the item when it was weighed in air, such as stones or
	// enamel: grams, and what it is. It is taken off the weight; nil: none.
	NonMetalG *Decimal
	NonMetal  string

	// Pieces weighed together; 0 and 1: one. Several pieces have one fineness only where they are
	// known to be of one melt.
	Pieces  int
	OneMelt bool

	// SharedWith marks what this item shares its liquid, thermometer and balance with, such as the
	// station and session. It matters in lots only, see Lot.
	SharedWith string
}

// State is the state of the finding of an answer.
func State(a *determination.Answer) string {
	for _, d := range a.Doubts {
		if d.Suspends {
			return Suspended
		}
	}
	if a.Finding == nil {
		return NoClaim
	}
	return a.Finding.Result
}

func fault(path, hint, reason string, args ...any) error {
	return &strictjson.FieldError{Path: path, Reason: fmt.Sprintf(reason, args...), Hint: hint}
}

// weighed is an item with what is paid by: everything up to the money.
type weighed struct {
	state  string
	metal  string
	metalG Decimal // weight in air less non-metal
	ppt    Decimal // fineness to pay by
	by     string  // SafeFigure or ClaimedFineness
	fineG  Decimal

	weightG, nonMetalG Decimal
	claimPpt           Decimal // 0: no fineness was claimed

	lines    []Line
	warnings []string
}

// weigh finds the mass and the fineness to pay by. The choice is what the terms make of the
// finding; NoPrice still describes the item by its safe figure.
func (t *Terms) weigh(item *Item, choice string) (*weighed, error) {
	if item.Draft == nil || item.Answer == nil {
		return nil, fault("", "Give the draft and its answer.", "the draft or the answer is missing")
	}
	a := item.Answer
	if item.Draft.ID != a.ID {
		return nil, fault("id", "Give the answer to this very draft.", "the draft is %q, the answer is to %q", item.Draft.ID, a.ID)
	}
	if item.Pieces < 0 {
		return nil, fault("pieces", "Count the pieces that were weighed together.", "is %d", item.Pieces)
	}
	if item.Pieces > 1 && !item.OneMelt {
		return nil, fmt.Errorf("%w: %w", ErrMixedHeap, fault("pieces",
			"Weigh each piece by itself and add them up as a lot, or sort by density first. Pieces of one melt may be weighed together: say so.",
			"%d pieces were weighed as one, and they are not said to be of one melt; their mean density is that of no piece", item.Pieces))
	}
	fineness := a.Fineness
	if fineness == nil || !(fineness.Safe >= 0 && fineness.Safe <= 1000) {
		return nil, fault("fineness", "Only an item of gold, silver, platinum or palladium within reach of the density can be valued.", "density gives no fineness of this item")
	}
	w := &weighed{state: State(a), metal: fineness.Metal}
	if err := w.mass(item); err != nil {
		return nil, err
	}
	w.claimPpt = claimed(item)
	w.fineness(fineness.Safe, choice, t.finenessDecimals())
	w.fineG = w.metalG.times(w.ppt).times(lastDigit(3)).plain()
	w.lines = append(w.lines, Line{"fine " + w.metal, fmt.Sprintf("%s g × %s ÷ 1000", w.metalG, w.ppt), w.fineG, "g"})
	if len(a.Assumed) > 0 {
		var fields []string
		for _, assumed := range a.Assumed {
			fields = append(fields, assumed.Field)
		}
		w.warnings = append(w.warnings, "taken for granted in the determination, because nobody said otherwise: "+strings.Join(fields, ", "))
	}
	return w, nil
}

// mass is the weight that the balance showed in air less declared non-metal. It is not the true
// mass: trade is by the conventional weight in air, and a buyer can see it on the display.
func (w *weighed) mass(item *Item) error {
	weight, lines, err := AirWeight(item.Draft)
	if err != nil {
		return err
	}
	// In the densest air and for the lightest item, weight and mass differ by a thousandth.
	if off := math.Abs(weight.Float() - item.Answer.TrueMassG); off > 0.002*item.Answer.TrueMassG+lastDigit(weight.decimals()).Float() {
		return fault("air_g", "Give the answer to this very draft.", "the draft's weight in air (%s g) is not that of the answer (%.6g g)", weight, item.Answer.TrueMassG)
	}
	w.weightG, w.metalG, w.lines = weight, weight, lines
	if item.NonMetalG == nil {
		return nil
	}
	w.nonMetalG = *item.NonMetalG
	switch {
	case w.nonMetalG.Sign() < 0:
		return fault("non_metal_g", "Write it without a sign; it is taken off.", "is %s g", w.nonMetalG)
	case w.nonMetalG.Cmp(weight) >= 0:
		return fault("non_metal_g", "Check the two weights.", "%s g of non-metal leave nothing of %s g", w.nonMetalG, weight)
	case w.nonMetalG.Sign() > 0 && strings.TrimSpace(item.NonMetal) == "":
		return fault("non_metal", "Say what it is, such as enamel.", "is missing")
	case w.nonMetalG.Sign() == 0:
		return nil
	}
	w.metalG = weight.minus(w.nonMetalG)
	w.lines = append(w.lines, Line{"metal", fmt.Sprintf("%s g less %s g of %s", weight, w.nonMetalG, item.NonMetal), w.metalG, "g"})
	w.warnings = append(w.warnings, "the non-metal was declared, not weighed apart, and the density is that of the whole: the safe figure holds only if the non-metal makes the item lighter than its metal alone")
	return nil
}

// AirWeight is the weight of the item as the balance showed it in air: one reading as it stands, or
// the mean of several, cut to their finest digit. Lines say how it was made. For a pycnometer it
// is the filling: with the sample less empty.
func AirWeight(d *determination.Draft) (Decimal, []Line, error) {
	if d.Method != "pycnometer" {
		weight, line, err := mean("weight in air", "air_g", d.AirG)
		if err == nil && weight.Sign() <= 0 {
			err = fault("air_g", "Check the readings.", "the weight in air is %s g", weight)
		}
		return weight, []Line{line}, err
	}
	empty, line1, err := mean("pycnometer empty", "empty_g", d.EmptyG)
	if err != nil {
		return Decimal{}, nil, err
	}
	full, line2, err := mean("pycnometer with the sample", "with_sample_g", d.WithSampleG)
	if err != nil {
		return Decimal{}, nil, err
	}
	weight := full.minus(empty)
	if weight.Sign() <= 0 {
		return Decimal{}, nil, fault("with_sample_g", "Were empty_g and with_sample_g swapped?", "the pycnometer is not heavier with the sample")
	}
	return weight, []Line{line1, line2, {"weight in air", fmt.Sprintf("%s g less %s g", full, empty), weight, "g"}}, nil
}

func mean(what, field string, readings []determination.Reading) (Decimal, Line, error) {
	if len(readings) == 0 {
		return Decimal{}, Line{}, fault(field, "Weigh the item in air.", "is missing")
	}
	var sum Decimal
	var texts []string
	decimals := 0
	for i, r := range readings {
		grams, err := ofReading(r)
		if err != nil {
			return Decimal{}, Line{}, fault(fmt.Sprintf("%s[%d]", field, i), "Read the draft again from its text.", "%v", err)
		}
		if grams.Sign() < 0 {
			return Decimal{}, Line{}, fault(fmt.Sprintf("%s[%d]", field, i), "Set the balance to zero and weigh again.", "is %s g, less than nothing", grams)
		}
		sum = sum.plus(grams)
		decimals = max(decimals, grams.decimals())
		texts = append(texts, grams.String()+" g")
	}
	if len(readings) == 1 {
		return sum, Line{what, "as shown: " + cmp.Or(readings[0].Text, sum.String()), sum, "g"}, nil
	}
	weight := sum.per(fromInt(len(readings)), decimals)
	return weight, Line{what, fmt.Sprintf("mean of %s, cut after %s", strings.Join(texts, ", "), counted(decimals, "decimal")), weight, "g"}, nil
}

// ofReading is a reading as an exact decimal in grams, from its text where it has one that is plain.
func ofReading(r determination.Reading) (Decimal, error) {
	if math.IsNaN(r.Gram) || math.Abs(r.Gram) > determination.MaxReadingG {
		return Decimal{}, fmt.Errorf("%g g is not a reading", r.Gram)
	}
	text := strings.TrimSpace(r.Text)
	end := strings.LastIndexAny(text, "0123456789") + 1
	grams, err := ParseDecimal(strings.Replace(text[:end], ",", ".", 1))
	if unit := strings.TrimSpace(text[end:]); err == nil && unit != "" {
		size, _, ok := gramsPer(unit)
		if !ok {
			return Decimal{}, fmt.Errorf("the reading %q has an unknown unit", r.Text)
		}
		grams = grams.times(size)
	}
	if err != nil { // made by a program, or with an exponent
		return fromFloat(r.Gram), nil
	}
	if math.Abs(grams.Float()-r.Gram) > 1e-9*math.Abs(r.Gram) {
		return Decimal{}, fmt.Errorf("the text %q is %s g, its number is %s g", r.Text, grams, strconv.FormatFloat(r.Gram, 'g', -1, 64))
	}
	return grams, nil
}

// claimed is the fineness claimed in parts per thousand, 0 where none is. The answer gives the limit
// of the law: the claim less its tolerance. Binary fractions leave noise far behind the fourth digit.
func claimed(item *Item) Decimal {
	limit := item.Answer.LegalLimit
	if limit == nil || !(limit.LimitPpt > 0 && limit.LimitPpt <= 1000) {
		return Decimal{}
	}
	ppt := limit.LimitPpt
	if c := item.Draft.Claim; c != nil && c.TolerancePpt != nil {
		ppt += *c.TolerancePpt
	}
	return fromFloat(ppt).inSteps(lastDigit(4), HalfEven).plain()
}

// fineness chooses the fineness to pay by: the safe figure, cut, and never above the claim, or the
// claim itself where it is met and the house pays by it.
func (w *weighed) fineness(safe float64, choice string, decimals int) {
	w.ppt, w.by = fromFloat(safe).cut(decimals), SafeFigure
	working := fmt.Sprintf("exceeded with 95 %% probability; cut after %s", counted(decimals, "decimal"))
	switch {
	case choice == ClaimedFineness && w.state == Met && w.claimPpt.Sign() > 0:
		if w.claimPpt.Cmp(w.ppt) > 0 {
			w.warnings = append(w.warnings, fmt.Sprintf("paid by the claimed fineness of %s, which is above the safe figure of %s", w.claimPpt, w.ppt))
		}
		w.ppt, w.by = w.claimPpt, ClaimedFineness
		working = "claimed and met"
	case w.claimPpt.Sign() > 0 && w.ppt.Cmp(w.claimPpt) > 0:
		working = fmt.Sprintf("safe figure %s, held down to the fineness claimed", w.ppt)
		w.ppt = w.claimPpt
	}
	w.lines = append(w.lines, Line{w.by, working, w.ppt, "parts per thousand"})
}

// unpriced says why an item has no price under the terms; "" where it has one.
func (t *Terms) unpriced(item *Item, state string) string {
	a := item.Answer
	switch {
	case state == Suspended:
		var causes []string
		for _, d := range a.Doubts {
			if d.Suspends {
				causes = append(causes, d.Cause)
			}
		}
		return "the finding is suspended: " + strings.Join(causes, "; ") + ". Settle it and weigh again"
	case a.Composite != nil && a.Composite.Kind == "stones" && item.NonMetalG == nil:
		return "stones are in the weight in air: give what is not metal (non_metal_g), or weigh the metal without them"
	case len(a.OtherMetals) > 0:
		return "density does not tell the metal: it may be " + strings.Join(slices.Concat([]string{a.Fineness.Metal}, a.OtherMetals), " or ")
	case t.OnFinding.leadsTo(state) == NoPrice:
		why := "the finding is " + state
		if state == NoClaim {
			why = "nothing was claimed, so there is no finding"
		} else if f := a.Finding; f != nil && len(f.Missing) > 0 {
			why += " (still missing: " + strings.Join(f.Missing, "; ") + ")"
		}
		return why + ", and these terms give no price then"
	}
	return ""
}
