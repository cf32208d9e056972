// Package handsfree recognises from a balance's stream which weighing of a determination it is looking
// at, so that a person with both hands busy need not say it: the settled zero, the item in air, the
// hanger, the item in the liquid, the empty hanger after it, the check piece, the closing weighing.
//
// It is given the events of package settle and what the sheet already knows, and proposes captures: a
// slot of the draft, the value, how sure it is, why, and the span of the stream that is evidence for it.
// It writes nothing down. The caller enters what is proposed, and where a later weighing shows that an
// earlier one was something else, the capture comes again with Change Moved or Aside: the caller sets
// the old reading aside with the reason given and erases nothing.
//
// It knows no clock, disk or network, and remembers a bounded number of rests. The method is in
// doc/handsfree.md, with the figures.
//
// How it decides: several readings of the whole story so far are kept side by side, each with its
// probability. Every rest of the stream lets each story go on in all the ways that hands can go on. The
// probability of a capture is the share of the stories that agree on it, so that a later weighing makes
// an earlier one surer or takes it back. What is merely usual (air before liquid) never makes a capture
// sure by itself; what numbers show does.
package handsfree
