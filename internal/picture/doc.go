// Package picture draws an answer: the interval of what was measured against the limits of what it
// can be, large as the density scale, small as a row of the day book, smallest as the sign beside
// the word of the finding.
//
// Terms. A band is the range of densities over the recipes of one fineness in one family; a lane
// holds the bands of one family, or of the look-alikes, or of the stones. The needle is the value,
// the bar its expanded interval, the hill its distribution. The window is the part of the scale
// that is shown, the haze two standard uncertainties of the mixing model beyond a band.
//
// Every picture is a pure function of what it is given and comes as SVG with a sentence that says
// the same. It carries no script, no style attribute and no colour: classes name things, and the
// style sheet (Style) gives them colours through variables. Lightness, hatch, outline and dash
// carry everything, so a grey print reads the same. Standalone makes a file of it.
//
// Text is 13 px (12 px in the strip of the whole scale) and must not be scaled down: draw the
// picture at the width it is shown at. Widths of text are those of a wide sans and therefore an
// upper bound for the usual ones.
package picture
