package batch

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strconv"
	"unicode/utf8"

	"wreath/internal/determination"
	"wreath/uncertainty"
)

// result is what one row comes to: an answer or an error.
type result struct {
	row    int
	id     string
	answer *determination.Answer
	err    error

	decimals int // to which densities are printed
}

// outColumn is one column of the answers, or one field with JSON Lines.
type outColumn struct {
	name  string
	doc   string
	text  bool // text, not a number
	value func(dst []byte, r *result) []byte
}

// outColumns lists the columns of the answers in their order. Names stay; new ones come before
// error.
var outColumns = []outColumn{
	{"row", "line of the input on which the row begins", false, func(dst []byte, r *result) []byte {
		return strconv.AppendInt(dst, int64(r.row), 10)
	}},
	{"id", "the row's own mark", true, func(dst []byte, r *result) []byte { return append(dst, r.id...) }},
	{"finding", "on the claim: met, not met or undecided; empty where nothing is claimed", true, func(dst []byte, r *result) []byte {
		if f := r.finding(); f != nil {
			return append(dst, f.Result...)
		}
		return dst
	}},
	{"would_be", "what the numbers alone say where the house rule holds the finding back", true, func(dst []byte, r *result) []byte {
		if f := r.finding(); f != nil {
			return append(dst, f.WouldBe...)
		}
		return dst
	}},
	{"probability", "that the fineness is nearer the claim than the next lower standard", false, func(dst []byte, r *result) []byte {
		if f := r.finding(); f != nil && f.Probability != nil {
			// Four decimals, and never certain.
			return strconv.AppendFloat(dst, min(max(*f.Probability, 0.0001), 0.9999), 'f', 4, 64)
		}
		return dst
	}},
	{"density_20c_kg_m3", "density at 20 °C", false, func(dst []byte, r *result) []byte {
		return r.density(dst, func(d *determination.Density) float64 { return d.KgM3 })
	}},
	{"U_kg_m3", "its expanded uncertainty, 95 %", false, func(dst []byte, r *result) []byte {
		return r.density(dst, func(d *determination.Density) float64 { return d.UExpanded })
	}},
	{"low_kg_m3", "lower end of the 95 % interval", false, func(dst []byte, r *result) []byte {
		return r.density(dst, func(d *determination.Density) float64 { return d.LowKgM3 })
	}},
	{"high_kg_m3", "upper end; empty where the weighing sets none", false, func(dst []byte, r *result) []byte {
		return r.density(dst, func(d *determination.Density) float64 {
			if d.HighKgM3 == nil {
				return math.Inf(1)
			}
			return *d.HighKgM3
		})
	}},
	{"family", "alloy family, or several joined by +", true, func(dst []byte, r *result) []byte {
		if f := r.fineness(); f != nil {
			return append(dst, f.Family...)
		}
		return dst
	}},
	{"fineness_median_ppt", "fineness: half of the probability lies below", false, func(dst []byte, r *result) []byte {
		return r.ppt(dst, func(f *determination.Fineness) float64 { return f.Median })
	}},
	{"fineness_low_ppt", "lower end of its 95 % interval", false, func(dst []byte, r *result) []byte {
		return r.ppt(dst, func(f *determination.Fineness) float64 { return f.Low })
	}},
	{"fineness_high_ppt", "upper end", false, func(dst []byte, r *result) []byte {
		return r.ppt(dst, func(f *determination.Fineness) float64 { return f.High })
	}},
	{"safe_ppt", "fineness exceeded with 95 % probability, rounded down; the figure to pay by, empty while the weighing or the metal is in doubt", false, func(dst []byte, r *result) []byte {
		if r.answer != nil && (len(r.answer.OtherMetals) > 0 || slices.ContainsFunc(r.answer.Doubts, func(d determination.Doubt) bool { return d.Suspends })) {
			return dst
		}
		return r.ppt(dst, func(f *determination.Fineness) float64 { return math.Floor(f.Safe*10) / 10 })
	}},
	{"candidates", "how many materials of the tables fit the density", false, func(dst []byte, r *result) []byte {
		if r.answer == nil {
			return dst
		}
		n := 0
		for i := range r.answer.Candidates {
			if r.answer.Candidates[i].Fits {
				n++
			}
		}
		return strconv.AppendInt(dst, int64(n), 10)
	}},
	{"look_alike", "the first look-alike among them", true, func(dst []byte, r *result) []byte {
		if r.answer == nil {
			return dst
		}
		for i := range r.answer.Candidates {
			if c := &r.answer.Candidates[i]; c.Fits && c.Kind == "look-alike" {
				return append(dst, c.Name...)
			}
		}
		return dst
	}},
	{"doubts", "how many signs say that the weighing itself is at fault", false, func(dst []byte, r *result) []byte {
		if r.answer == nil {
			return dst
		}
		return strconv.AppendInt(dst, int64(len(r.answer.Doubts)), 10)
	}},
	{"doubt", "the first of them", true, func(dst []byte, r *result) []byte {
		if r.answer == nil || len(r.answer.Doubts) == 0 {
			return dst
		}
		return append(dst, r.answer.Doubts[0].Cause...)
	}},
	{"assumed", "how many things were taken for granted because the row did not say", false, func(dst []byte, r *result) []byte {
		if r.answer == nil {
			return dst
		}
		return strconv.AppendInt(dst, int64(len(r.answer.Assumed)), 10)
	}},
	{"error", "why the row has no answer: field, reason, way out", true, func(dst []byte, r *result) []byte {
		if r.err == nil {
			return dst
		}
		return append(dst, explain(r.err)...)
	}},
}

func (r *result) finding() *determination.Finding {
	if r.answer == nil {
		return nil
	}
	return r.answer.Finding
}

func (r *result) fineness() *determination.Fineness {
	if r.answer == nil {
		return nil
	}
	return r.answer.Fineness
}

// density appends a density to the place of the second digit of U, and to whole kg/m³ where U is
// larger than that.
func (r *result) density(dst []byte, of func(*determination.Density) float64) []byte {
	if r.answer == nil {
		return dst
	}
	rho := of(&r.answer.Density20C)
	if math.IsInf(rho, 0) || math.IsNaN(rho) {
		return dst
	}
	return strconv.AppendFloat(dst, rho, 'f', r.decimals, 64)
}

// ppt appends a fineness to a tenth, as legal finenesses are written.
func (r *result) ppt(dst []byte, of func(*determination.Fineness) float64) []byte {
	if f := r.fineness(); f != nil {
		return strconv.AppendFloat(dst, of(f), 'f', 1, 64)
	}
	return dst
}

// longestError is how many bytes of one reason are written: a cell may hold a whole book.
const longestError = 1000

// explain writes an error as one text: field, reason, way out.
func explain(err error) string {
	var field *determination.InputError
	if !errors.As(err, &field) {
		return shorten(err.Error(), longestError)
	}
	reason := shorten(field.Error(), longestError)
	if field.Hint == "" {
		return reason
	}
	return reason + "; " + shorten(field.Hint, longestError)
}

// shorten cuts a text at a whole rune.
func shorten(text string, most int) string {
	if len(text) <= most {
		return text
	}
	for most > 0 && !utf8.RuneStart(text[most]) {
		most--
	}
	return text[:most] + "…"
}

// answerWriter writes results in one format for one worker.
type answerWriter struct {
	format  Format
	details bool
	value   []byte       // of one column
	whole   bytes.Buffer // an answer with all details
}

func (w *answerWriter) header(dst []byte) []byte {
	if w.format != CSV {
		return dst
	}
	for i, c := range outColumns {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = append(dst, c.name...)
	}
	return append(dst, "\r\n"...)
}

// append writes one result as one row.
func (w *answerWriter) append(dst []byte, r *result) ([]byte, error) {
	if w.details && r.answer != nil {
		return w.wholeAnswer(dst, r)
	}
	if r.answer != nil {
		r.decimals = decimals20(r.answer.Density20C.UExpanded)
	}
	if w.format == CSV {
		for i := range outColumns {
			c := &outColumns[i]
			if i > 0 {
				dst = append(dst, ',')
			}
			if !c.text {
				dst = c.value(dst, r)
				continue
			}
			w.value = c.value(w.value[:0], r)
			dst = appendCSVText(dst, string(w.value))
		}
		return append(dst, "\r\n"...), nil
	}
	for i := range outColumns {
		c := &outColumns[i]
		if i > 0 {
			dst = append(dst, ',')
		} else {
			dst = append(dst, '{')
		}
		dst = append(append(append(dst, '"'), c.name...), '"', ':')
		w.value = c.value(w.value[:0], r)
		switch {
		case len(w.value) == 0:
			dst = append(dst, "null"...)
		case c.text:
			dst = appendJSONText(dst, string(w.value))
		default:
			dst = append(dst, w.value...)
		}
	}
	return append(dst, '}', '\n'), nil
}

// wholeAnswer writes the answer as wreath determine does, with the row in front.
func (w *answerWriter) wholeAnswer(dst []byte, r *result) ([]byte, error) {
	w.whole.Reset()
	e := json.NewEncoder(&w.whole)
	e.SetEscapeHTML(false)
	if err := e.Encode(struct {
		Row int `json:"row"`
		*determination.Answer
	}{r.row, r.answer}); err != nil {
		return dst, err
	}
	dst = appendJSON(dst, bytes.TrimSuffix(w.whole.Bytes(), []byte("\n")))
	return append(dst, '\n'), nil
}

// decimals20 is the number of decimals that shows two significant digits of U.
func decimals20(u float64) int {
	if !(u > 0) || math.IsInf(u, 0) {
		return 3
	}
	return min(max(-uncertainty.Place(u), 0), 6)
}
