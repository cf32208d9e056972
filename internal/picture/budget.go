package picture

import (
	"fmt"
	"math"

	"wreath/internal/determination"
)

// Budget draws the uncertainty budget of an answer: one bar for each input, the largest first, with
// what it contributes to u of the density and its share of the variance.
func (l Language) Budget(a *determination.Answer, width int) Picture {
	const row = 24.0
	c := canvas{width: float64(max(width, narrowest)), in: l.Book}
	if a == nil || len(a.Budget) == 0 {
		c.text("m", 0, 14, start, "no budget yet")
		return c.finish("budget", "No uncertainty budget yet.", 22)
	}
	share := widthOf("100.0 %", size, false) + 4
	names := 0.0
	for _, r := range a.Budget {
		names = math.Max(names, widthOf(c.in.Say(r.Input), size, false))
	}
	names = math.Min(names, (c.width-share)*0.6)
	bars := c.width - share - names - 16
	largest := 0.0
	for _, r := range a.Budget {
		largest = math.Max(largest, r.Contribution)
	}
	for i, r := range a.Budget {
		y := float64(i) * row
		if i > 0 {
			c.line("grid", 0, y, c.width, y)
		}
		c.group(fmt.Sprintf("%s: %.2g kg/m³, %.1f %% of the variance", r.Input, r.Contribution, 100*r.Share))
		c.text("m", 0, y+17, start, cutTo(c.in.Say(r.Input), names, false))
		c.rect("dot", names+8, y+7, barLength(r.Contribution, largest, bars), 10)
		c.text("", c.width, y+17, end, fmt.Sprintf("%.1f %%", 100*r.Share))
		c.endGroup()
	}
	first := a.Budget[0]
	title := fmt.Sprintf("Uncertainty budget, largest first: %s makes %.0f percent of the variance", first.Input, 100*first.Share)
	if n := len(a.Budget) - 1; n > 0 {
		title += fmt.Sprintf(", %d more inputs the rest", n)
	}
	return c.finish("budget", title+".", float64(len(a.Budget))*row)
}

// BudgetBar draws the bar of one row alone, for a table that has the numbers; 196 by 16 px. The
// largest is the largest contribution of the budget.
func (l Language) BudgetBar(r determination.BudgetRow, largest float64) Picture {
	c := canvas{width: 196, in: l.Book}
	c.rect("dot", 0, 4, barLength(r.Contribution, largest, 190), 9)
	return c.finish("budgetbar", fmt.Sprintf("%.1f percent of the variance.", 100*r.Share), 16)
}

func barLength(contribution, largest, room float64) float64 {
	if !(largest > 0) {
		return 1
	}
	return math.Max(1, room*math.Min(1, contribution/largest))
}

// cutTo shortens words to a width.
func cutTo(words string, room float64, bold bool) string {
	if widthOf(words, size, bold) <= room {
		return words
	}
	runes := []rune(words)
	for len(runes) > 1 && widthOf(string(runes)+"…", size, bold) > room {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}
