package tables

import (
	"fmt"
	"slices"
	"strings"

	"wreath/internal/nearest"
	"wreath/quantity"
)

// reader reads one row of a list.
type reader struct {
	list  *List
	sheet *Sheet
	no    int
	cells map[Field]string
}

func (r *reader) find(h Heading, mend, wrong string, args ...any) {
	r.list.Findings = append(r.list.Findings, Finding{Row: r.no, Column: h.Text, Wrong: fmt.Sprintf(wrong, args...), Mend: mend})
}

// read takes the cells of the row. Free texts stay as they are; what is looked up or counted loses the
// spaces around it.
func (r *reader) read(cells []string) {
	heads := map[Field]Heading{}
	for i, h := range r.list.Headings {
		if h.As == "" {
			continue
		}
		heads[h.As] = h
		cell := cells[i]
		if !slices.Contains([]Field{Description, Marks, Condition, Claim, ClaimBy, Place}, h.As) {
			cell = strings.TrimSpace(cell)
		}
		if cell != "" {
			r.cells[h.As] = cell
		}
	}
	r.metal(heads[Metal])
	r.fineness(heads[Fineness])
	r.mass(heads[Mass], heads[MassUnit])
	if r.cells[Fineness] != "" && r.cells[Metal] == "" && heads[Metal].Text == "" {
		r.find(heads[Fineness], "Add a column metal: gold, silver, platinum or palladium.", "a fineness of what metal is not said")
	} else if r.cells[Fineness] != "" && r.cells[Metal] == "" && !r.found(heads[Metal]) {
		r.find(heads[Metal], "Write gold, silver, platinum or palladium.", "a fineness of what metal is not said")
	}
}

// found tells whether something was found already in a column of the row.
func (r *reader) found(h Heading) bool {
	return slices.ContainsFunc(r.list.Findings, func(f Finding) bool { return f.Row == r.no && f.Column == h.Text })
}

func (r *reader) metal(h Heading) {
	text := r.cells[Metal]
	if text == "" {
		return
	}
	word := strings.Join(plainWords(text), " ")
	if metal, known := metals[word]; known {
		r.cells[Metal] = metal
		return
	}
	delete(r.cells, Metal)
	hint := "Write gold, silver, platinum or palladium. Anything else that it is said to be stands in the column claim."
	var words []string
	for w := range metals {
		if len(w) > 3 {
			words = append(words, w)
		}
	}
	slices.Sort(words)
	if near := nearest.Word(word, words); near != "" {
		hint = "Did you mean " + near + "?"
	}
	r.find(h, hint, "%q is no metal that is known here", short(text))
}

// lowest is the least fineness that is taken for one: below it stand carats, percents and fractions.
// Chosen here.
const lowest = 100

func (r *reader) fineness(h Heading) {
	text := r.cells[Fineness]
	if text == "" {
		return
	}
	delete(r.cells, Fineness)
	number, ok := r.number(h, strings.TrimSpace(strings.TrimSuffix(text, "‰")))
	if !ok {
		return
	}
	x, err := quantity.ParseNumber(number, false)
	switch {
	case err != nil:
		r.find(h, "Write it in parts per thousand, such as 999.9.", "%q is no fineness", short(text))
	case x > 1000:
		r.find(h, "Write it in parts per thousand, such as 999.9; fine metal has 1000.", "a fineness of %s is more than all", number)
	case x < lowest:
		r.find(h, "Write it in parts per thousand: 999.9 for 0.9999 or 99.99 %, and as stamped for carats, 585 for 14 and 750 for 18.", "a fineness of %s is none in parts per thousand", number)
	default:
		r.cells[Fineness] = number
	}
}

func (r *reader) mass(h, unitHead Heading) {
	text, said := r.cells[Mass], r.cells[MassUnit]
	delete(r.cells, Mass)
	delete(r.cells, MassUnit)
	if text == "" {
		if said != "" {
			r.find(unitHead, "Write the mass, or take its unit out.", "a unit stands here and no mass")
		}
		return
	}
	end := strings.LastIndexAny(text, "0123456789") + 1
	digits, behind := text[:end], strings.TrimSpace(text[end:])
	unit := h.Unit
	for _, u := range []struct {
		head Heading
		text string
	}{{unitHead, said}, {h, behind}} {
		if u.text == "" {
			continue
		}
		known := unitOf(u.text)
		switch {
		case known == "":
			r.noUnit(u.head, u.text)
			return
		case unit != "" && unit != known:
			r.find(u.head, "Name the unit once.", "the mass is said to be in %s and in %s", unit, known)
			return
		}
		unit = known
	}
	number, ok := r.number(h, digits)
	if !ok {
		return
	}
	if unit == "" {
		r.find(h, "Put the unit into the heading, such as mass (g), or into a column mass unit.", "the mass %s has no unit", number)
		return
	}
	if strings.Trim(number, "0.") == "" {
		r.find(h, "Leave the cell empty where the list says no mass.", "a mass of %s is none", number)
		return
	}
	r.cells[Mass], r.cells[MassUnit] = number, unit
}

// noUnit says that a word is no unit of mass.
func (r *reader) noUnit(h Heading, text string) {
	var symbols []string
	for _, u := range quantity.MassUnits {
		symbols = append(symbols, u.Symbol)
	}
	switch strings.Join(plainWords(text), " ") {
	case "gr":
		r.find(h, "Write g for gram, or grain.", `"gr" is read as gram and as grain`)
	case "oz", "ounce", "ounces", "unze", "unzen", "onza", "onzas":
		r.find(h, "Write ozt for the troy ounce (31.1034768 g), or grams.", "%q may be the troy ounce or the other one", short(text))
	default:
		r.find(h, "Units known: "+strings.Join(symbols, ", ")+".", "%q is no unit of mass that is known here", short(text))
	}
}

// number reads a decimal and gives it with a point. A comma that could part thousands is refused, and so
// is any sign or exponent.
func (r *reader) number(h Heading, text string) (string, bool) {
	const hint = "Write digits with one decimal mark and no marks between thousands, such as 12441.03."
	point := text
	if strings.Contains(text, ",") {
		_, part, _ := strings.Cut(text, ",")
		switch {
		case strings.Count(text, ",") > 1 || strings.Contains(text, "."):
			r.find(h, hint, "%q has several marks", short(text))
			return "", false
		case len(part) == 3 && !r.sheet.Comma:
			r.find(h, "Write it with a point, or without a mark.", "%q may be %s or %s", short(text), strings.ReplaceAll(text, ",", "."), strings.ReplaceAll(text, ",", ""))
			return "", false
		}
		point = strings.ReplaceAll(text, ",", ".")
	}
	if !plain(point) || strings.HasPrefix(point, "-") || len(point) > 30 {
		r.find(h, hint, "%q is no number", short(text))
		return "", false
	}
	return point, true
}
