package simulated

import (
	"fmt"
	"strings"

	"wreath/internal/line"
)

// said is one of two words: at rest, and not.
func (p paper) said(rest, moving string) string {
	if p.Settled {
		return rest
	}
	return moving
}

func (p paper) grams() string { return number(p.Grams, p.decimals) }

// beyond is what stands in the place of a number when there is none.
func (p paper) beyond(over, under string) (text string, is bool) {
	switch {
	case p.Overload:
		return over, true
	case p.Underload:
		return under, true
	}
	return "", false
}

func text(s string) line.Part { return line.Part{Is: "text", Text: s} }

func words(rest, moving string) line.Part {
	return line.Part{Is: "word", Words: []line.Word{{Word: rest, Mark: "settled"}, {Word: moving, Mark: "moving"}}}
}

var (
	blank = line.Part{Is: "blank", Min: 1, Max: 1}
	gram  = line.Part{Is: "unit"}
)

func plain(decimals int) line.Part {
	return line.Part{Is: "number", Decimals: decimals, Whole: 7, Sign: "beside"}
}

func reads(parts ...line.Part) line.Shape {
	return line.Shape{Name: "reading", Means: "reading", Parts: parts}
}

func beyond(over, under string) []line.Shape {
	return []line.Shape{
		{Name: "overload", Means: "overload", Parts: []line.Part{text(over)}},
		{Name: "underload", Means: "underload", Parts: []line.Part{text(under)}},
	}
}

// columns: "calm    12.3456 g"
func writeColumns(p paper) []string {
	if s, is := p.beyond("full ------------ g", "lift ------------ g"); is {
		return []string{s}
	}
	return []string{fmt.Sprintf("%-5s%12s g", p.said("calm", "busy"), p.grams())}
}

func shapeColumns(decimals int) []line.Shape {
	word, n := words("calm", "busy"), plain(decimals)
	word.Width, n.Width = 5, 12
	return append(beyond("full ------------ g", "lift ------------ g"), reads(word, n, blank, gram))
}

// letters: "W+0012.3456 g", "w-0000.0012 g"
func writeLetters(p paper) []string {
	if s, is := p.beyond("X", "Z"); is {
		return []string{s}
	}
	sign, g := "+", p.grams()
	if rest, negative := strings.CutPrefix(g, "-"); negative {
		sign, g = "-", rest
	}
	width := lettersWidth(p.decimals)
	return []string{p.said("W", "w") + sign + strings.Repeat("0", max(0, width-1-len(g))) + g + " g"}
}

func lettersWidth(decimals int) int {
	width := 1 + 6 + decimals
	if decimals > 0 {
		width++
	}
	return width
}

func shapeLetters(decimals int) []line.Shape {
	n := line.Part{Is: "number", Decimals: decimals, Whole: 6, Width: lettersWidth(decimals), Zeros: true, Sign: "first", Plus: "+"}
	return append(beyond("X", "Z"), reads(words("W", "w"), n, blank, gram))
}

// semicolons: "17;12.3456;g;still"
func writeSemicolons(p paper) []string {
	if s, is := p.beyond("over", "under"); is {
		return []string{fmt.Sprintf("%d;;g;%s", p.count%10000, s)}
	}
	return []string{fmt.Sprintf("%d;%s;g;%s", p.count%10000, p.grams(), p.said("still", "going"))}
}

func shapeSemicolons(decimals int) []line.Shape {
	count := line.Part{Is: "digits", Min: 1, Max: 4}
	shapes := beyond(";;g;over", ";;g;under")
	for i := range shapes {
		shapes[i].Parts = append([]line.Part{count}, shapes[i].Parts...)
	}
	return append(shapes, reads(count, text(";"), plain(decimals), text(";"), gram, text(";"), words("still", "going")))
}

// comma: "     12,3456 g !"
func writeComma(p paper) []string {
	if s, is := p.beyond("     ^^^^^^ g  ", "     vvvvvv g  "); is {
		return []string{s}
	}
	return []string{fmt.Sprintf("%12s g %s", strings.Replace(p.grams(), ".", ",", 1), p.said("!", ":"))}
}

func shapeComma(decimals int) []line.Shape {
	n := plain(decimals)
	n.Width, n.Comma = 12, decimals > 0
	return append(beyond("     ^^^^^^ g  ", "     vvvvvv g  "), reads(n, blank, gram, blank, words("!", ":")))
}

// checked: STX "12.3456 g =*5A0C" ETX
func writeChecked(p paper) []string {
	if s, is := p.beyond("too much", "too little"); is {
		return []string{s}
	}
	return []string{p.grams() + " g " + p.said("=", "~")}
}

func shapeChecked(decimals int) []line.Shape {
	return append(beyond("too much", "too little"), reads(plain(decimals), blank, gram, blank, words("=", "~")))
}

// asked: "12.3456 g fixed"
func writeAsked(p paper) []string {
	if s, is := p.beyond("heavy", "empty"); is {
		return []string{s}
	}
	return []string{p.grams() + " g " + p.said("fixed", "loose")}
}

func shapeAsked(decimals int) []line.Shape {
	return append(beyond("heavy", "empty"), reads(plain(decimals), blank, gram, blank, words("fixed", "loose")))
}

// twin: "A 12.3456 g rest" and "B 22.4 C"
func writeTwin(p paper) []string {
	bath := "B " + number(p.TemperatureC, 1) + " C"
	if s, is := p.beyond("A over", "A under"); is {
		return []string{s, bath}
	}
	return []string{"A " + p.grams() + " g " + p.said("rest", "move"), bath}
}

func shapeTwin(decimals int) []line.Shape {
	shapes := append(beyond("A over", "A under"), reads(text("A "), plain(decimals), blank, gram, blank, words("rest", "move")))
	for i := range shapes {
		shapes[i].Channel = "A"
	}
	bath := reads(text("B "), plain(1), blank, gram)
	bath.Name, bath.Channel = "bath", "B"
	return append(shapes, bath)
}

// pair: "12.3456 g, 22.4 C, quiet"
func writePair(p paper) []string {
	if s, is := p.beyond("beyond", "below"); is {
		return []string{s}
	}
	return []string{p.grams() + " g, " + number(p.TemperatureC, 1) + " C, " + p.said("quiet", "lively")}
}

func shapePair(decimals int) []line.Shape {
	pan, bath := plain(decimals), plain(1)
	pan.Channel, bath.Channel = "pan", "bath"
	return append(beyond("beyond", "below"), reads(pan, blank, gram, text(", "), bath, blank, gram, text(", "), words("quiet", "lively")))
}

// kilo: "0.0123456 kg"
func writeKilo(p paper) []string {
	if s, is := p.beyond("--- kg", "___ kg"); is {
		return []string{s}
	}
	return []string{number(p.Grams/1000, p.decimals+3) + " kg"}
}

func shapeKilo(decimals int) []line.Shape {
	return append(beyond("--- kg", "___ kg"), reads(plain(decimals), blank, gram))
}

// bath: "bath 22.4 C"
func writeBath(p paper) []string { return []string{"bath " + number(p.TemperatureC, 1) + " C"} }

func shapeBath(int) []line.Shape { return []line.Shape{reads(text("bath "), plain(1), blank, gram)} }
