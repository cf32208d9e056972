// Package simulation is a bench that does not exist: items of known make, a balance, a liquid, and
// a careful person who weighs and writes down. It serves to prove the judgement (how often a
// seeded fault is named, how often a probability is right), and to practise on.
//
// A Bench is the physical world at one moment: it adds up the forces on the pan and shows what the
// balance would show. It can be stepped through time like a real one. A Session is the protocol:
// it does the weighings in order and keeps the readings, from which a draft is written down.
// A Fault is what goes wrong, in the world or at the keyboard.
//
// Nothing here uses the formulas of the judgement backwards: a body displaces its volume, a wire
// is pulled by the surface, a bubble floats. Only densities of media and metals come from the same
// tables. Everything is drawn from a seed; the same seed gives the same readings.
//
// All items, stations and faults are invented. The sizes of faults follow laws chosen here: those
// that the table of faults takes as prior (Expected), and others (Unexpected), because a judge who
// knows the law of the faults has an easy life.
package simulation
