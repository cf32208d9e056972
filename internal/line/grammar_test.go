package line

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
)

// grammar is an invented way to write a balance's lines. Everything about it is drawn at random.
type grammar struct {
	r *rand.Rand

	unit               string // word in the line; "" when lines name none
	meant              string // the unit it stands for
	unitPlace          string // "after", "before", "absent"
	unitWidth          int
	unitRight          bool
	decimals           int
	comma              bool
	fill               string // "right", "left", "zeros", "free"
	width              int
	sign, plus         string
	gap                int
	plusZero           bool // a zero carries a plus
	lead               string
	markPlace          string // "", "front", "behind", "tail", "unit"
	settled, moving    string
	sep                string
	channels           string // "", "two", "thermometer", "column", "net"
	channelA, channelB string
	counter            int // 0 none, 1 filled with zeros, 2 free
	clock              bool
	check              *checkKind
	checkBefore        string
	lower              bool
	heading            string
	echo               string
	overload           string
	fault              string

	count int
}

func pick[T any](r *rand.Rand, list ...T) T { return list[r.IntN(len(list))] }

func newGrammar(seed uint64) *grammar {
	r := rand.New(rand.NewPCG(seed, 20))
	g := &grammar{r: r}
	g.decimals = pick(r, 1, 2, 3, 4, 4, 5)
	g.comma = r.IntN(3) == 0
	g.meant = pick(r, "g", "g", "g", "g", "mg", "kg", "ct", "ozt", "dwt")
	g.unit = g.meant
	if g.meant == "g" && r.IntN(6) == 0 {
		g.unit = pick(r, "gr", "grm", "G")
	}
	g.unitPlace = pick(r, "after", "after", "after", "before", "absent")
	if g.unitPlace == "before" {
		g.unit = g.meant
	}
	if r.IntN(3) == 0 {
		g.unitWidth = 3 + r.IntN(2)
		g.unitRight = r.IntN(2) == 0
	}
	g.fill = pick(r, "right", "right", "left", "zeros", "free", "free")
	g.width = g.decimals + 5 + r.IntN(4)
	g.sign = pick(r, "beside", "beside", "first", "after")
	g.plus = pick(r, "", "+", " ")
	if g.fill == "free" || g.fill == "zeros" {
		g.gap = pick(r, 0, 0, 0, 1)
	}
	g.plusZero = r.IntN(2) == 0
	g.sep = pick(r, "", " ", ",", ";", "\t", "  ", ":", "|")
	g.lead = pick(r, "", "", "W", "VAL=", "<", "r.", "Now:", "# ")
	g.markPlace = pick(r, "", "front", "front", "behind", "tail", "unit")
	pair := pick(r, [2]string{"S", "M"}, [2]string{"OK", "--"}, [2]string{"ST", "MV"}, [2]string{"", "?"}, [2]string{"*", ""}, [2]string{"=", "~"},
		[2]string{"still", "wait"}, [2]string{"s", "dyn"}, [2]string{"!", "."})
	g.settled, g.moving = pair[0], pair[1]
	g.channels = pick(r, "", "", "", "", "two", "thermometer", "column", "net")
	if ab := pick(r, [2]string{"A", "B"}, [2]string{"1", "2"}, [2]string{"left", "right"}, [2]string{"P1", "P2"}); true {
		g.channelA, g.channelB = ab[0], ab[1]
	}
	g.counter = pick(r, 0, 0, 0, 1, 2)
	g.clock = r.IntN(6) == 0
	if r.IntN(4) == 0 {
		k := checkKinds[r.IntN(len(checkKinds))]
		g.check, g.checkBefore, g.lower = &k, pick(r, "", "*", " ", "#"), r.IntN(2) == 0
	}
	g.heading = pick(r, "", "", "= invented balance =", "No. 17 of the list", "weight")
	g.echo = pick(r, "", "", "P", "send?")
	g.overload = pick(r, "OL", "-----", "^^^^^^", "over range", "- - - -", "H")
	g.fault = pick(r, "", "Err 12", "E7", "fault: cell")
	if g.unitPlace == "absent" && g.markPlace == "unit" {
		g.markPlace = ""
	}
	return g
}

// scene is what happens at the balance at one line.
type scene struct {
	count   int64 // last digits shown
	moving  bool
	state   State
	channel int // 0 or 1
	other   int64
	plain   string // a line without reading
}

func (g *grammar) number(count int64, decimals int) string {
	n := count
	if n < 0 {
		n = -n
	}
	s := fmt.Sprintf("%0*d", decimals+1, n)
	if decimals > 0 {
		mark := "."
		if g.comma {
			mark = ","
		}
		s = s[:len(s)-decimals] + mark + s[len(s)-decimals:]
	}
	return s
}

// field writes a number with its sign and its fill.
func (g *grammar) field(count int64, decimals int) string {
	digits := g.number(count, decimals)
	sign := ""
	switch {
	case count < 0:
		sign = "-"
	case count == 0 && g.plus == "+" && !g.plusZero:
		sign = " "
	default:
		sign = g.plus
	}
	width := g.width
	if g.fill == "zeros" {
		digits = strings.Repeat("0", max(0, width-len(digits))) + digits
		width = 0
	}
	if g.fill == "free" {
		width = 0
	}
	gap := ""
	if sign != "" {
		gap = strings.Repeat(" ", g.gap)
	}
	var s string
	switch g.sign {
	case "beside":
		s = sign + gap + digits
	case "first":
		if g.fill == "right" {
			return fmt.Sprintf("%-1s%*s", sign, width-1, digits)
		}
		s = sign + gap + digits
	case "after":
		s = digits + sign
		if g.fill == "right" && sign == "" {
			s += " "
		}
	}
	if g.fill == "left" {
		return fmt.Sprintf("%-*s", width+1, s)
	}
	return fmt.Sprintf("%*s", width, s)
}

func (g *grammar) unitText(word string) string {
	switch {
	case g.unitWidth == 0:
		return word
	case g.unitRight:
		return fmt.Sprintf("%*s", g.unitWidth, word)
	}
	return fmt.Sprintf("%-*s", g.unitWidth, word)
}

// write makes the line of a scene and says what it means; a nil value means that it carries none.
func (g *grammar) write(s scene) (string, *Value) {
	if s.plain != "" {
		return s.plain, nil
	}
	var parts []string
	g.count++
	if g.clock {
		t := 9*3600 + g.count*2
		parts = append(parts, fmt.Sprintf("%02d:%02d:%02d", t/3600%24, t/60%60, t%60))
	}
	switch g.counter {
	case 1:
		parts = append(parts, fmt.Sprintf("%05d", g.count))
	case 2:
		parts = append(parts, fmt.Sprintf("%d", g.count))
	}
	v := &Value{Mark: Settled}
	mark := g.settled
	if s.moving {
		v.Mark, mark = Moving, g.moving
	}
	if g.channels == "two" || g.channels == "thermometer" {
		parts = append(parts, []string{g.channelA, g.channelB}[s.channel])
		v.Channel = parts[len(parts)-1]
	}
	if g.markPlace == "front" && mark != "" {
		parts = append(parts, mark)
	}
	unit, meant, decimals, count := g.unit, g.meant, g.decimals, s.count
	if s.channel == 1 && g.channels == "thermometer" {
		unit, meant, decimals, count = "C", "°C", 1, s.other
		if mark == "" || g.markPlace != "front" {
			mark = ""
		}
		v.Mark = Settled
	}
	if s.state != Reading {
		word := g.overload
		if s.state == Fault {
			word = g.fault
		}
		*v = Value{State: s.state, Channel: v.Channel}
		body := word
		if g.unitPlace == "after" && g.fill == "right" {
			body = fmt.Sprintf("%*s", g.width, word) + " " + g.unitText(g.unit)
		}
		parts = append(parts, body)
		return g.seal(parts), v
	}
	body := g.field(count, decimals)
	if g.channels == "column" {
		body += g.gapWord() + g.unitIf(g.unitText(g.unit)) + g.columnSep() + g.field(s.other, 1) + " C"
	} else if g.channels == "net" {
		body = g.field(count, decimals) + g.columnSep() + g.field(s.other, decimals) + g.columnSep() + g.field(count+s.other, decimals)
		body += g.gapWord() + g.unitIf(g.unitText(unit))
	} else {
		switch {
		case g.markPlace == "unit" && s.moving && meant == g.meant:
		case g.unitPlace == "after":
			body += g.gapWord() + g.unitText(unit)
		case g.unitPlace == "before":
			if unit == "C" {
				unit = "degC"
			}
			body = g.unitText(unit) + g.gapWord() + body
		case meant == "°C":
			body += g.gapWord() + "C"
		}
	}
	if g.markPlace == "behind" && meant != "°C" {
		if mark != "" && isLetter(mark[0]) {
			mark = " " + mark
		}
		body += mark
	}
	parts = append(parts, g.lead+body)
	if g.markPlace == "tail" && mark != "" {
		parts = append(parts, mark)
	}
	u, _ := unitNamed(meant)
	v.Kind, v.Unit = u.kind, u.symbol
	v.Number = float64(count)/math.Pow10(decimals)*u.scale + u.offset
	v.Interval = math.Pow10(-decimals) * u.scale
	if g.markPlace == "" {
		v.Mark = Unsaid
	}
	return g.seal(parts), v
}

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

func (g *grammar) gapWord() string { return []string{"", " "}[g.width%2] }

func (g *grammar) unitIf(s string) string {
	if g.unitPlace == "absent" {
		return ""
	}
	return s
}

func (g *grammar) columnSep() string {
	if g.sep == "" {
		return ";"
	}
	return g.sep
}

// seal joins the pieces and adds the check.
func (g *grammar) seal(parts []string) string {
	sep := g.sep
	if sep == "" && len(parts) > 1 {
		sep = " "
	}
	s := strings.Join(parts, sep)
	if g.check == nil {
		return s
	}
	sum := g.check.start
	for i := range len(s) {
		sum = g.check.add(sum, s[i])
	}
	verb := "%s%s%0*X"
	if g.lower {
		verb = "%s%s%0*x"
	}
	return fmt.Sprintf(verb, s, g.checkBefore, g.check.digits, sum)
}

// written is a line with its truth.
type written struct {
	line  string
	truth *Value
	scene scene
}

// session writes n lines of somebody who puts things on, tares and lifts.
func (g *grammar) session(n int) []written {
	r := g.r
	var out []written
	now, target := 0.0, 0.0
	steady := 0
	tare := int64(0)
	most := math.Pow10(g.decimals + 1 + r.IntN(3))
	if digits := g.width - g.decimals - 2; g.fill != "free" {
		most = min(most, math.Pow10(g.decimals+min(digits, 3)))
	}
	most = max(min(most, 9e7), 1e4)
	if g.channels == "net" {
		most /= 2 // the gross has the same columns
	}
	acts := 0
	for len(out) < n {
		s := scene{other: tare}
		if math.Abs(now-target) < 2 {
			now = target
			steady++
		}
		if steady > 6+r.IntN(5) {
			steady = 0
			acts++
			before := target
			switch acts % 5 {
			case 0:
				target = 0
			case 3:
				target = -math.Round(most * (0.05 + 0.3*r.Float64())) // lifted after a tare
				tare = -int64(target)
			default:
				target = math.Round(most * math.Pow(10, -2.5*r.Float64()) * 0.95)
			}
			if math.Abs(target-before) < 200 {
				target = before + 200
			}
			if target > most*0.95 {
				target = math.Round(most * 0.5)
			}
		} else if now != target {
			now += (target - now) * (0.35 + 0.2*r.Float64())
		}
		s.moving = now != target
		s.count = int64(math.Round(now))
		if !s.moving && steady > 1 {
			s.count += int64(r.IntN(3)) - 1
		}
		s.other = tare
		switch g.channels {
		case "column":
			s.other = 200 + int64(r.IntN(15))
		case "two", "thermometer":
			s.channel = len(out) % 2
			if s.channel == 1 {
				s.other = 200 + int64(r.IntN(15))
				if g.channels == "two" {
					s.count, s.moving = int64(math.Round(most/3))+int64(r.IntN(3)), false
				}
			}
		}
		switch x := r.IntN(60); {
		case x == 0 && g.heading != "":
			s = scene{plain: g.heading}
		case x == 1 && g.echo != "":
			s = scene{plain: g.echo}
		case x == 2:
			s.state = Overload
			s.channel = 0
		case x == 3 && g.fault != "":
			s.state = Fault
			s.channel = 0
		}
		line, truth := g.write(s)
		out = append(out, written{line, truth, s})
	}
	return out
}
