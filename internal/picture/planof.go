package picture

import (
	"strconv"

	"wreath/internal/plan"
)

// PlanOf makes the picture of a plan: the station, what finer balances would give, and the questions
// that an interval can answer whatever the recipe.
func PlanOf(p *plan.Plan) Plan {
	name := p.Station
	if name == "" {
		name = "this balance"
	}
	out := Plan{MassG: p.MassG, Stations: []PlanLine{{name, p.Curve}}}
	for _, f := range p.Finer {
		out.Stations = append(out.Stations, PlanLine{"a balance of " + strconv.FormatFloat(f.ResolutionG, 'f', -1, 64) + " g", f.Curve})
	}
	for _, q := range p.Questions {
		if q.Needs > 0 {
			out.Questions = append(out.Questions, PlanLevel{q.Claim + " told from " + q.Against, q.Needs})
		}
	}
	return out
}
