// Package fault judges what may be wrong with a hydrostatic weighing: one small model per fault,
// each with one size, held against the readings.
//
// Every fault gets the probability of the readings under it, averaged over its size and over the
// densities that the item may have (the marginal likelihood). With the weights of the table
// data/faults.csv that gives the probability of each fault and of none. Beside it stands the size
// that would be needed, and whether it can be at all.
//
// Weights, sizes and bounds are choices, tried on simulated weighings, not data. They stand in
// the table so that a person can change them.
package fault
