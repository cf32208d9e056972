package alloy

// Node is one specific volume that a fineness of a family can have, with its weight.
type Node struct {
	V      float64 // cm³/g
	Weight float64
}

// Nodes appends the specific volumes of the family's recipes at a fineness: quantiles over the
// usual recipes in ascending order, then over the rare ones; the weights add up to 1. False
// outside the family's span.
func (f *Family) Nodes(nodes []Node, fineness float64) ([]Node, bool) {
	t := f.table
	i, part, ok := t.place(fineness)
	if !ok {
		return nodes, false
	}
	a, b := t.row(i), t.row(i+1)
	for k := range t.usual + t.outer {
		nodes = append(nodes, Node{V: float64(a[k]) + part*float64(b[k]-a[k]), Weight: t.weights[k]})
	}
	return nodes, true
}
