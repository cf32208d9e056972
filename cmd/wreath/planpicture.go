package main

import (
	"wreath/internal/picture"
	"wreath/internal/plan"
)

// picturePlan draws a plan for a file.
func picturePlan(p *plan.Plan) picture.Picture {
	const width = 640
	return picture.PlanOf(p).Draw(width)
}
