// Package demo fills an empty store with an invented shop, so that somebody can look around before
// the first own item is weighed. The shop, its keeper, customers, items, certificates, prices and
// register rules are invented and say so.
//
// Nothing is painted on: every entry is made through the desk's own methods, on a clock that stands
// still between acts, over the ten days that end now. Readings are weighings of items whose nature is
// known here and nowhere else: see Thing. The forces on the pan are summed up, noise of that balance
// is added, and the sum is rounded to its scale interval; then a finding comes from the readings alone.
// Two fills for the same moment differ only in keys and drawn names.
package demo
