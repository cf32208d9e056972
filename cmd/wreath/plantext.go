package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"wreath/internal/plan"
	"wreath/uncertainty"
)

// planWidth is the width of a plan on a terminal.
const planWidth = 80

// printPlan prints a plan for people, plain characters only.
func printPlan(w io.Writer, p *plan.Plan) error {
	page := &sheet{label: 11, width: planWidth}
	where := "this balance"
	if p.Station != "" {
		where = "station " + harmless(p.Station)
	}
	page.say("Plan", "%s g said to be %s, on %s: weighed %d times in air and %d times in the liquid.", plainly(p.MassG), p.Claim, where, p.Repeats, p.Repeats)
	page.say("", "%s", p.Sentence)
	if !p.TooSmall {
		density, u := uncertainty.Round(p.Density, p.Expanded)
		if p.Expanded < p.Density {
			page.say("Expect", "%s ± %s g/cm³ (95 %%). No number of repeats passes ± %.2g.", density, u, p.Floor)
		} else {
			page.say("Expect", "%.4g g/cm³ give or take %.2g: next to nothing.", p.Density, p.Expanded)
		}
		var by []string
		for _, r := range p.ByRepeats {
			if r.N <= 5 || r.N == 10 {
				by = append(by, fmt.Sprintf("%d: ± %.2g", r.N, r.Expanded))
			}
		}
		page.say("Repeats", "%s.", strings.Join(by, ", "))
		var taken []string
		for _, x := range p.Assumed {
			taken = append(taken, x.Field+": "+x.Taken)
		}
		if len(taken) > 0 {
			page.say("Assumed", "%s.", strings.Join(taken, "; "))
		}
	}
	page.line("")
	page.table("to tell it from|here|needs ±|times|from|wrong, best", toldRows(p))
	page.line("")
	page.label = 2
	page.say("*", "needs ±: an interval that answers whatever the recipe; -: the recipes overlap. times: repeats it takes; from: the smallest item. wrong, best: share of wrong decisions here, and where a perfect balance weighs.")
	if len(p.Findings) > 0 {
		page.line("")
		var rows [][]string
		for _, c := range p.Findings {
			rows = append(rows, []string{c.If, share(c.Met), share(c.NotMet), share(c.Undecided)})
		}
		page.table("the finding, if it is|met|not met|undecided", rows)
	}
	if len(p.Improve) > 0 {
		page.line("")
		var rows [][]string
		for i, x := range p.Improve {
			if i < 5 && x.Share >= 0.0005 {
				rows = append(rows, []string{x.Cause, share(x.Share), fmt.Sprintf("± %.2g", x.Halved), fmt.Sprintf("± %.2g", x.Gone)})
			}
		}
		page.table("what to improve first|share|halved|gone", rows)
		page.say("*", "First: %s.", p.Improve[0].Act)
	}
	if len(p.Finer) > 0 {
		page.line("")
		var rows [][]string
		for _, f := range p.Finer {
			for i, a := range f.Answers {
				row := []string{"", "", p.Questions[i].Against, a}
				if i == 0 {
					row[0], row[1] = plainly(f.ResolutionG)+" g", fmt.Sprintf("± %.2g", f.Expanded)
					if f.Expanded == 0 {
						row[1] = "-"
					}
				}
				rows = append(rows, row)
			}
		}
		page.table("a balance of|gives|told from|", rows)
	}
	page.line("")
	page.plot(p)
	page.line("")
	page.say("*", "Density can't see a core under gold, nor what was made to the same density: take a second property that looks through the item.")
	return page.print(w)
}

// plainly prints a mass in grams to four digits, without an exponent.
func plainly(g float64) string { return strconv.FormatFloat(significant(g, 4), 'f', -1, 64) }

// share prints a share in a narrow column.
func share(p float64) string {
	switch {
	case p < 0.001:
		return "< 0.1 %"
	case p > 0.999:
		return "> 99.9 %"
	}
	return fmt.Sprintf("%.1f %%", 100*p)
}

func toldRows(p *plan.Plan) (rows [][]string) {
	for _, q := range p.Questions {
		needs, times, from := "-", "-", "-"
		if q.Needs > 0 {
			needs = fmt.Sprintf("%.2g", q.Needs)
		}
		if q.Repeats > 0 {
			times = fmt.Sprint(q.Repeats)
		}
		if q.SmallestG != nil {
			from = fmt.Sprintf("%.2g g", *q.SmallestG)
			if *q.SmallestG >= 100 {
				from = fmt.Sprintf("%.0f g", *q.SmallestG)
			}
		}
		rows = append(rows, []string{q.Against, q.Answer, needs, times, from, share(q.Error) + ", " + share(q.Floor)})
	}
	return rows
}

// table prints rows under their heads within the width of the page: the first column gives way.
func (s *sheet) table(head string, rows [][]string) {
	rows = append([][]string{strings.Split(head, "|")}, rows...)
	widths := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, cell := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	all := 2 * (len(widths) - 1)
	for _, w := range widths {
		all += w
	}
	widths[0] = max(widths[0]-max(all-s.width, 0), 8)
	for _, row := range rows {
		line := ""
		for i, cell := range row {
			cell = short(cell, widths[i])
			line += cell + strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell)+2)
		}
		s.line("%s", strings.TrimRight(line, " "))
	}
}

// plot draws the expected interval against the mass, both logarithmic, in plain characters: a letter
// for each balance, dashes for the questions, a bar for the item.
func (s *sheet) plot(p *plan.Plan) {
	const wide, tall, margin = 64, 14, 9
	least, most := math.Min(0.5, p.MassG/1.5), math.Max(100, p.MassG*1.5)
	lowest, highest := 0.01, 20.0
	curves := []func(float64) float64{p.Curve}
	names := []string{"this balance"}
	if p.Station != "" {
		names[0] = "station " + harmless(p.Station)
	}
	for _, f := range p.Finer {
		curves, names = append(curves, f.Curve), append(names, fmt.Sprintf("a balance of %s g", plainly(f.ResolutionG)))
	}
	for _, c := range curves {
		for u := c(p.MassG); u < lowest && lowest > 1e-5; {
			lowest /= 10
		}
	}
	column := func(m float64) int { return int(math.Round((wide - 1) * math.Log(m/least) / math.Log(most/least))) }
	row := func(u float64) int {
		return int(math.Round((tall - 1) * math.Log(highest/u) / math.Log(highest/lowest)))
	}
	var field [tall][wide]byte
	for i := range field {
		for j := range field[i] {
			field[i][j] = ' '
		}
	}
	for i := range field {
		field[i][column(p.MassG)] = '|'
	}
	for i, q := range p.Questions {
		if q.Needs >= lowest && q.Needs <= highest {
			for j := range wide {
				field[row(q.Needs)][j] = '-'
			}
			field[row(q.Needs)][wide-1] = byte('1' + i%9)
		}
	}
	for n, curve := range curves {
		for j := range wide {
			m := least * math.Pow(most/least, float64(j)/(wide-1))
			if u := curve(m); u >= lowest && u <= highest {
				field[row(u)][j] = byte('a' + n)
			}
		}
	}
	labels := map[int]string{}
	for u := lowest; u <= highest*0.999; u *= 10 {
		labels[row(u)] = fmt.Sprintf("%g", significant(u, 1))
	}
	if _, ok := labels[0]; !ok {
		labels[0] = fmt.Sprintf("%g", highest)
	}
	s.line("± g/cm³")
	for i := range field {
		s.line("%s", strings.TrimRight(fmt.Sprintf("%*s +%s", margin-2, labels[i], field[i][:]), " "))
	}
	axis := []byte(strings.Repeat(" ", planWidth-3))
	reach := 0
	for d := math.Floor(math.Log10(least)); d <= math.Log10(most); d++ {
		for _, k := range []float64{1, 2, 5} {
			m := k * math.Pow(10, d)
			label := fmt.Sprintf("%g", significant(m, 1))
			at := margin + column(m) - len(label)/2
			if m < least*0.999 || m > most*1.001 || at < reach+2 || at+len(label) > len(axis)-2 {
				continue
			}
			copy(axis[at:], label)
			reach = at + len(label)
		}
	}
	s.line("%s", strings.TrimRight(string(axis), " ")+"  g")
	for n, name := range names {
		s.line("%*s  %s", margin-2, string(rune('a'+n)), name)
	}
	for i, q := range p.Questions {
		if q.Needs >= lowest && q.Needs <= highest {
			s.line("%*s  told from %s below this line", margin-2, fmt.Sprint(i+1), q.Against)
		}
	}
	s.line("%*s  this item", margin-2, "|")
}
