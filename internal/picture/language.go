package picture

import (
	"wreath/internal/determination"
	"wreath/internal/sentence"
)

// Language draws pictures with their words in one language; the zero Language is English. Pictures of a
// Subject take it from there.
type Language struct{ *sentence.Book }

// Budget is Language.Budget in English.
func Budget(a *determination.Answer, width int) Picture { return Language{}.Budget(a, width) }

// BudgetBar is Language.BudgetBar in English.
func BudgetBar(r determination.BudgetRow, largest float64) Picture {
	return Language{}.BudgetBar(r, largest)
}

// Density is Language.Density in English.
func Density(a *determination.Answer, width int) Picture { return Language{}.Density(a, width) }

// Fineness is Language.Fineness in English.
func Fineness(a *determination.Answer, width int) Picture { return Language{}.Fineness(a, width) }

// Sign is Language.Sign in English.
func Sign(f Finding) Picture { return Language{}.Sign(f) }

// Proof is Language.Proof in English.
func Proof(p Path, width int) Picture { return Language{}.Proof(p, width) }

// Draw draws the chart in English.
func (k Control) Draw(width int) Picture { return Language{}.Control(k, width) }

// Draw draws the plan in English.
func (p Plan) Draw(width int) Picture { return Language{}.Plan(p, width) }
