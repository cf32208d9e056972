package report

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode"

	"wreath/conformity"
	"wreath/internal/determination"
	"wreath/uncertainty"
)

const (
	labelWidth = 9
	textWidth  = 80
	shown      = 2 // materials of a kind in a short answer
)

// Text writes the answer to w: short, or with all details. Both follow the five questions: the density,
// what it can be, the claim, whether to trust the weighing, the figure to pay by. The short one fits a
// screen of 24 lines where nothing is in doubt; it leaves out no doubt, no caution, and not that other
// materials fit.
func Text(w io.Writer, a *determination.Answer, details bool) error {
	t := &page{w: bufio.NewWriter(w)}
	if title := strings.Trim(a.ID+": "+a.Item, ": "); title != "" {
		t.say("Item", "%s", title)
	}
	t.density(a, details)
	t.parts(a, details)
	t.canBe(a, details)
	t.evidence(a, details)
	t.finding(a, details)
	t.trust(a, details)
	t.payBy(a)
	t.next(a, details)
	t.stop(a)
	t.assumed(a, details)
	t.cautions(a)
	if details {
		t.families(a)
		t.budget(a)
		t.program(a)
	}
	return t.w.Flush()
}

type page struct{ w *bufio.Writer }

// say prints a paragraph with its label, wrapped; an empty label continues the one above.
func (t *page) say(label, format string, args ...any) {
	text := strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' ' // nothing from an input may steer the terminal
		}
		return r
	}, fmt.Sprintf(format, args...))
	lines := wrap(text, textWidth-labelWidth)
	for i, line := range lines {
		if i > 0 {
			label = ""
		}
		fmt.Fprintf(t.w, "%-*s%s\n", labelWidth, label, line)
	}
}

func wrap(text string, width int) (lines []string) {
	line, length := "", 0
	for _, word := range strings.Fields(text) {
		n := len([]rune(word))
		if length > 0 && length+1+n > width {
			lines, line, length = append(lines, line), "", 0
		}
		if length > 0 {
			line, length = line+" ", length+1
		}
		line, length = line+word, length+n
	}
	return append(lines, line)
}

func (t *page) density(a *determination.Answer, details bool) {
	d := a.Density20C
	value, u := uncertainty.Round(d.KgM3/1000, d.UExpanded/1000)
	if details {
		t.say("Density", "%s ± %s g/cm³ at 20 °C (95 %%, k = %.2f)", value, u, d.K)
	} else {
		t.say("Density", "%s ± %s g/cm³ at 20 °C (95 %%); %s", value, u, a.Method)
	}
	if d.HighKgM3 == nil {
		t.say("", "between %.4g g/cm³ and no upper limit: the buoyancy is hardly more than its uncertainty", d.LowKgM3/1000)
	} else if low, high := d.KgM3-d.LowKgM3, *d.HighKgM3-d.KgM3; math.Abs(high-low) > 0.1*(high+low) {
		t.say("", "the interval is lopsided: %.4g to %.4g g/cm³", d.LowKgM3/1000, *d.HighKgM3/1000)
	}
	if a.SecondLiquid != nil {
		t.say("", "%s", a.SecondLiquid.Sentence)
	}
	if !details {
		return
	}
	var causes []string
	for i, r := range a.Budget {
		if i < 3 && r.Share > 0.05 {
			causes = append(causes, fmt.Sprintf("%s %.0f %%", r.Input, 100*r.Share))
		}
	}
	t.say("", "what makes it unsure: %s", strings.Join(causes, ", "))
	t.say("", "%s; liquid %.2f kg/m³, volume %.4g cm³", a.Method, a.LiquidDensityKgM3, a.VolumeCm3)
}

// provided is what has to hold for what the item can be: "" where nothing speaks against it.
func provided(a *determination.Answer) string {
	if c := a.Composite; c != nil && (c.Kind == "layers" || c.Kind == "quartz" || c.Kind == "heap") {
		return "were it one material: "
	}
	if len(a.Doubts) > 0 || a.Clean != nil && *a.Clean < 0.5 {
		return "if the weighing is sound: "
	}
	return ""
}

func (t *page) canBe(a *determination.Answer, details bool) {
	label, only := "Can be", provided(a)
	if f := a.Fineness; f != nil {
		if details {
			t.say(label, "%s%s: fineness %.0f to %.0f (95 %%, recipes weighted evenly), middle %.0f; any usual recipe %.0f to %.0f",
				only, f.Family, f.Low, f.High, f.Median, f.RangeLow, f.RangeHigh)
		} else {
			t.say(label, "%s%s: fineness %.0f to %.0f (95 %%); any usual recipe %.0f to %.0f", only, f.Family, f.Low, f.High, f.RangeLow, f.RangeHigh)
		}
		label, only = "", ""
		if len(a.OtherMetals) > 0 {
			t.say("", "%s has such a density too", strings.Join(a.OtherMetals, " and "))
		}
	}
	for _, words := range [...][2]string{{"look-alike", "not excluded, whatever it is marked: "}, {"alloy", "alloys that fit: "}, {"stone", "stones that fit: "}} {
		var names []string
		more := 0
		for _, c := range a.Candidates {
			if c.Kind != words[0] || !c.Fits {
				continue
			}
			if len(names) >= shown && !details {
				more++
				continue
			}
			names = append(names, c.Name)
		}
		if more > 0 {
			names = append(names, fmt.Sprintf("%d more", more))
		}
		if len(names) > 0 {
			t.say(label, "%s%s%s", only, words[1], strings.Join(names, ", "))
			label, only = "", ""
		}
	}
	if label != "" {
		t.say(label, "%snothing in the tables has this density", only)
	}
}

func (t *page) finding(a *determination.Answer, details bool) {
	f := a.Finding
	if f == nil {
		t.say("Claim", "none made")
		return
	}
	if f.WouldBe == "" {
		t.say("Claim", "%s: %s", f.Claim, f.Result)
	} else {
		t.say("Claim", "%s: %s (on the numbers alone: %s)", f.Claim, f.Result, f.WouldBe)
	}
	if details || f.WouldBe == "" {
		t.say("", "%s", f.Sentence)
	}
	for _, r := range f.Reasons {
		t.say("", "- %s", r)
	}
	for _, m := range f.Missing {
		t.say("", "- missing: %s", m)
	}
	if details && f.Probability != nil && f.Against != nil {
		t.say("", "chance that it is nearer the claim than %.4g: %s", *f.Against, conformity.Percent(*f.Probability))
	}
	if l := a.LegalLimit; l != nil && details {
		t.say("", "legal limit %.4g: %s (chance %s, weighting %q)", l.LimitPpt, l.Result, conformity.Percent(l.Probability), l.Weighting)
	} else if l != nil {
		t.say("", "legal limit %.4g: %s (chance %s)", l.LimitPpt, l.Result, conformity.Percent(l.Probability))
	}
	if details {
		t.say("", "by %s", f.Rule)
	}
}

// doubtsShown is how many doubts stand in a short answer.
const doubtsShown = 3

func (t *page) trust(a *determination.Answer, details bool) {
	if len(a.Doubts) == 0 {
		words := "nothing odd in the readings"
		if a.NotJudged != "" {
			words = "the readings show no fault; " + a.NotJudged
		} else if a.Clean != nil {
			words = fmt.Sprintf("nothing odd; chance that nothing is wrong, as far as density sees: %s", conformity.Chance(*a.Clean))
		}
		t.say("Trust", "%s", words)
		return
	}
	label := "Trust"
	if a.Clean != nil && *a.Clean < 0.5 {
		t.say(label, "chance that nothing is wrong: %s. %s.", conformity.Chance(*a.Clean), upperFirst(a.Doubts[0].Sign))
		label = ""
	}
	for i, d := range a.Doubts {
		if i == doubtsShown && !details {
			t.say("", "and %d more (--details)", len(a.Doubts)-i)
			break
		}
		if d.Sentence == "" {
			t.say(label, "%s: %s. %s", d.Cause, d.Sign, d.Settles)
		} else {
			t.say(label, "%s, %s: %s", d.Cause, d.Verdict, d.Sentence)
			if label != "" {
				t.say("", "%s", upperFirst(d.Sign))
			}
		}
		label = ""
		if details {
			t.size(d.Size)
		}
	}
	if a.NotJudged != "" {
		t.say("", "%s", a.NotJudged)
	}
	if details {
		for _, d := range a.Excluded {
			t.say("", "%s", d.Sentence)
		}
	} else if len(a.Excluded) > 0 {
		t.say("", "%d other causes are excluded (--details)", len(a.Excluded))
	}
}

func upperFirst(words string) string {
	for i, r := range words {
		return string(unicode.ToUpper(r)) + words[i+len(string(r)):]
	}
	return words
}

// size prints how large a fault would have to be.
func (t *page) size(s *determination.FaultSize) {
	if s == nil {
		return
	}
	words := "  " + s.Quantity + ":"
	if s.ForClaim != nil {
		words += fmt.Sprintf(" %s for the claim;", s.Figures(*s.ForClaim))
	}
	if s.ForNearest != nil {
		words += fmt.Sprintf(" %s for %s;", s.Figures(*s.ForNearest), s.Nearest)
	}
	t.say("", "%s can be %s to %s", words, s.Figures(s.Low), s.Figures(s.High))
}

func (t *page) next(a *determination.Answer, details bool) {
	n := a.Next
	if n == nil {
		return
	}
	words := n.Act
	if details || a.Finding == nil || len(a.Finding.Missing) == 0 || len(a.Doubts) > 0 {
		words += " It " + n.Why + "." // else the finding says what is missing
	}
	if n.Expect != "" {
		words += " " + n.Expect
	}
	t.say("Next", "%s", words)
	if !details {
		return
	}
	for _, o := range n.Alternatives {
		t.say("", "or: %s It %s (%.3g min, %.2g bit).", o.Act, o.Why, o.Minutes, o.Settles)
	}
}

func (t *page) payBy(a *determination.Answer) {
	for _, d := range a.Doubts {
		if d.Suspends {
			t.say("Pay by", "no figure while the weighing is in doubt: %s", d.Cause)
			return
		}
	}
	if len(a.OtherMetals) > 0 {
		t.say("Pay by", "no figure: it may be %s or %s", a.Fineness.Metal, strings.Join(a.OtherMetals, " or "))
		return
	}
	if a.Density20C.HighKgM3 == nil {
		t.say("Pay by", "no figure: the weighing says next to nothing")
		return
	}
	if f := a.Fineness; f != nil {
		t.say("Pay by", "at least %.0f ppt of %s (safe figure, 95 %%), if sound and %s at all", math.Floor(f.Safe), f.Metal, f.Metal)
	}
}

func (t *page) assumed(a *determination.Answer, details bool) {
	if !details {
		if n := len(a.Assumed); n > 0 {
			t.say("Assumed", "%d values, such as %s (--details)", n, a.Assumed[0].Field)
		}
		return
	}
	for i, s := range a.Assumed {
		label := ""
		if i == 0 {
			label = "Assumed"
		}
		words := s.Field + ": " + s.Taken
		if s.Reason != "" {
			words += " (" + s.Reason + ")"
		}
		t.say(label, "%s", words)
	}
}

func (t *page) cautions(a *determination.Answer) {
	for i, c := range a.Cautions {
		label := ""
		if i == 0 {
			label = "Caution"
		}
		t.say(label, "%s", c)
	}
}

func (t *page) families(a *determination.Answer) {
	fmt.Fprintf(t.w, "\nBy family, parts per thousand\n%-26s %6s %7s %7s %7s %6s   %s\n", "family", "share", "low", "middle", "high", "safe", "any usual recipe")
	for _, f := range a.Families {
		fmt.Fprintf(t.w, "%-26s %5.1f%% %7.1f %7.1f %7.1f %6.1f   %.1f to %.1f\n", f.Family, 100*f.Share, f.Low, f.Median, f.High, f.Safe, f.RangeLow, f.RangeHigh)
	}
}

func (t *page) budget(a *determination.Answer) {
	fmt.Fprintf(t.w, "\nBudget of the density at 20 °C (worked in specific volume)\n%-44s %13s %10s %-6s %-11s %12s %6s\n",
		"input", "value", "u", "unit", "shape", "kg/m³", "share")
	for _, r := range a.Budget {
		fmt.Fprintf(t.w, "%-44s %13.8g %10.2g %-6s %-11s %12.4g %5.1f%%\n", r.Input, r.Value, r.U, r.Unit, r.Distribution, r.Contribution, 100*r.Share)
	}
	d := a.Density20C
	fmt.Fprintf(t.w, "%-44s %13.8g %10.3g kg/m³\n", "density at 20 °C", d.KgM3, d.UKgM3)
	if d.Dof != nil {
		fmt.Fprintf(t.w, "effective degrees of freedom %.1f\n", *d.Dof)
	}
	if m := a.MonteCarlo; m != nil {
		words := "the first-order interval agrees and is kept"
		if !m.Validated {
			words = "the first-order interval differs, this one takes its place"
		}
		high := "no limit"
		if m.HighKgM3 != nil {
			high = fmt.Sprintf("%.6g", *m.HighKgM3)
		}
		fmt.Fprintf(t.w, "Propagation of distributions: %.6g to %s kg/m³; %s\n", m.LowKgM3, high, words)
	}
}

func (t *page) program(a *determination.Answer) {
	fmt.Fprintf(t.w, "\nwreath %s, tables %s\n", a.Program.Version, a.Program.Tables)
}
