package web

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"wreath/internal/determination"
	"wreath/internal/record"
	"wreath/uncertainty"
)

// shortActs are the next steps in at most 24 letters, to be read from afar.
var shortActs = map[string]string{
	"read-again": say("Read the display again"), "re-immerse": say("Weigh immersed again"), "air-again": say("Dry it, weigh in air"), "look-over": say("Look it over"),
	"tare-hanger": say("Tare the empty hanger"), "hold-against-bag": say("Hold it against its bag"), "read-temperature": say("Read the thermometer"), "check-piece": say("Weigh the check piece"),
	"wait-and-shield": say("Close the shield, wait"), "caliper": say("Measure its size"), "second-liquid": say("Weigh in another liquid"), "magnet": say("Hold a magnet to it"),
	"conductivity": say("Measure conductivity"), "sound": say("Measure the sound"), "xrf": say("Measure the surface"), "touchstone": say("Streak it on the stone"),
	"fresh-liquid": say("Fill in fresh liquid"), "refraction": say("Read its refraction"), "weigh-apart": say("Weigh its parts"),
	"unset-stone": say("Unset one stone"), "assay": say("Send it to an assay"),
}

// evidenceOfAct are the kinds of evidence that a next step brings.
var evidenceOfAct = map[string]string{"caliper": "size", "magnet": "magnet", "conductivity": "conductivity", "sound": "sound", "xrf": "surface", "touchstone": "touchstone", "refraction": "refraction"}

// stepLine is the act that the answer proposes, as the next line of the sheet.
func stepLine(v *sheetView, count map[string]int) next {
	step := v.Answer.Next
	n := next{Text: step.Act, Short: shortActs[step.Key]}
	if n.Short == "" {
		n.Short = say("Look at the sheet")
	}
	if len(v.Answer.Doubts) > 0 {
		n.Kind = "doubt"
	}
	switch step.Key {
	case "re-immerse":
		n.Slot = v.Slots[1].Slot
	case "air-again":
		n.Slot = "closing_air_g"
	case "read-temperature":
		n.Slot = "liquid.temperature_c"
	case "check-piece":
		if len(v.Slots) > 5 && v.Slots[4].Slot == "liquid.proof.air_g" {
			n.Slot = v.Slots[4].Slot
			if count[n.Slot] > 0 {
				n.Slot = v.Slots[5].Slot
			}
		}
	}
	n.Evidence = evidenceOfAct[step.Key]
	return n.because(step)
}

// because adds why the act is proposed.
func (n next) because(step *determination.NextStep) next {
	if step == nil {
		return n
	}
	n.Why, n.Expect, n.Minutes, n.Others = step.Why, step.Expect, minutes(step.Minutes), step.Alternatives
	return n
}

// minutes writes how long an act takes.
func minutes(m float64) string {
	if m <= 0 {
		return ""
	}
	return strconv.FormatFloat(m, 'f', -1, 64) + " min"
}

// fixed is the change at which item and claim became what they are now.
func fixed(requests []record.Request) (record.Request, error) {
	at := requests[0]
	before, err := determination.Decode(at.Document)
	if err != nil {
		return at, err
	}
	for _, q := range requests[1:] {
		now, err := determination.Decode(q.Document)
		if err != nil {
			return at, err
		}
		if !reflect.DeepEqual(now.Claim, before.Claim) || !reflect.DeepEqual(now.Item, before.Item) {
			late := at.Late
			at = q
			at.Late = at.Late || late
		}
		before = now
	}
	return at, nil
}

// stopView is the rule that says when to stop repeating, as the sheet shows it.
type stopView struct {
	*determination.Stop
	Agreed bool // by the sheet itself, before the first reading
	Late   bool // changed after it
}

// Wanted is the uncertainty that is enough, as it is printed; "" where none is asked.
func (s stopView) Wanted() string {
	if s.WantedKgM3 == nil {
		return ""
	}
	return twoDigits(*s.WantedKgM3 / 1000)
}

func stopOf(requests []record.Request, a *determination.Answer) *stopView {
	if a == nil || a.Stop == nil {
		return nil
	}
	s := &stopView{Stop: a.Stop}
	var before *determination.StopRule
	for i, q := range requests {
		now, err := determination.Decode(q.Document)
		if err != nil {
			return s
		}
		if i > 0 && q.Late && !reflect.DeepEqual(now.StopRule, before) {
			s.Late = true
		}
		before = now.StopRule
	}
	s.Agreed = before != nil && !s.Late
	return s
}

// proposals asks about typed numbers that may read otherwise, as the answer proposes it. Numbers of which
// somebody said that they stand are not asked about again.
func proposals(doubts []determination.Doubt, v *sheetView) (out []*oddity) {
	for _, d := range doubts {
		if d.Proposal == nil {
			continue
		}
		o := proposed(d, v)
		if o == nil {
			continue
		}
		settled := slices.ContainsFunc(v.Notes, func(n record.Note) bool {
			if !strings.HasPrefix(n.Text, standsAsTyped) {
				return false
			}
			for i, no := range o.Readings {
				if !strings.Contains(n.Text, fmt.Sprintf("reading %d, %s", no, o.Texts[i])) {
					return false
				}
			}
			return true
		})
		switch {
		case settled:
		case v.Odd != nil && slices.Contains(v.Odd.Readings, o.Candidates[0].No):
			v.Odd.join(o.Candidates[0])
		default:
			out = append(out, o)
		}
	}
	return out
}

// join adds a candidate to a question that is asked already, unless it is among its answers.
func (o *oddity) join(c candidate) {
	for i, other := range o.Candidates {
		if other.Text == c.Text {
			o.Candidates[i].Gives = c.Gives
			return
		}
	}
	o.Candidates = append(o.Candidates, c)
}

// proposed is one proposal as a question; nil where its readings are not on the sheet.
func proposed(d determination.Doubt, v *sheetView) *oddity {
	p := d.Proposal
	slot, index := p.Field, 0
	if at := strings.IndexByte(slot, '['); at >= 0 {
		n, err := strconv.Atoi(strings.TrimSuffix(slot[at+1:], "]"))
		if err != nil {
			return nil
		}
		slot, index = slot[:at], n
	}
	counted := map[string][]record.Reading{}
	for _, row := range v.Slots {
		counted[row.Slot] = row.Kept()
	}
	if index >= len(counted[slot]) {
		return nil
	}
	it := counted[slot][index]
	o := &oddity{Question: say("Another reading of it would explain the answer. What did the display show?"), Readings: []int{it.No}, Texts: []string{it.Text}, Asks: true}
	c := candidate{No: it.No, Gives: strconv.FormatFloat(p.DensityKgM3/1000, 'g', 4, 64)}
	if d.Key == "swapped" {
		air, under := counted["air_g"], counted[v.Slots[1].Slot]
		if len(air) == 0 || len(under) == 0 {
			return nil
		}
		o.Readings, o.Texts = []int{air[0].No, under[0].No}, []string{air[0].Text, under[0].Text}
	} else if c.Text = gramsLike(p.InsteadG, it.Text); p.InsteadG <= 0 {
		return nil
	}
	o.Candidates = []candidate{c}
	return o
}

// gramsLike writes grams as a reading is written: with as many decimals, and with a unit where it is not in
// grams by itself.
func gramsLike(grams float64, text string) string {
	text = strings.ReplaceAll(text, ",", ".")
	decimals := -1
	if bare(text) {
		if _, after, found := strings.Cut(text, "."); found {
			decimals = len(strings.TrimSpace(after))
		} else {
			decimals = 0
		}
		if short := strconv.FormatFloat(grams, 'g', 7, 64); decimals < 4 && strings.Contains(short, ".") && len(short)-strings.Index(short, ".")-1 > decimals {
			decimals = -1 // a moved point shows more of them
		}
	}
	if decimals < 0 {
		rounded, err := strconv.ParseFloat(strconv.FormatFloat(grams, 'g', 7, 64), 64)
		if err != nil {
			return ""
		}
		return strconv.FormatFloat(rounded, 'f', -1, 64) + " g"
	}
	return strconv.FormatFloat(grams, 'f', decimals, 64)
}

// asks finds the question that an answer is to.
func (v *sheetView) asks(about string) *oddity {
	for _, o := range append([]*oddity{v.Odd}, v.Proposed...) {
		if o != nil && o.About() == about {
			return o
		}
	}
	return nil
}

// rest is what a doubt says beside the act that settles it: its size, how likely it is, what to expect.
func rest(d determination.Doubt) string {
	return strings.TrimSpace(strings.TrimPrefix(d.Sentence, d.Settles))
}

// sized writes one size of a fault for a table; a share is a percentage.
func sized(s *determination.FaultSize, size any) string {
	x, is := size.(float64)
	if !is {
		p, _ := size.(*float64)
		if p == nil {
			return "–"
		}
		x = *p
	}
	return s.Figures(x)
}

// within95 is a part's mass as it is printed.
func within95(value, u float64) string {
	v, expanded := uncertainty.Round(value, 1.96*u)
	return v + " ± " + expanded
}

// wholeShare is a share of a candidate: with the evidence, where there is some.
func wholeShare(c determination.Candidate) float64 {
	if c.ShareWithEvidence != nil {
		return *c.ShareWithEvidence
	}
	return c.Share
}

// likely are the candidates that fit, the likeliest first, at most so many.
func likely(a *determination.Answer, most int) (out []determination.Candidate) {
	if a == nil {
		return nil
	}
	for _, c := range a.Candidates {
		if c.Fits {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(x, y determination.Candidate) int {
		switch a, b := wholeShare(x), wholeShare(y); {
		case a > b:
			return -1
		case a < b:
			return 1
		}
		return 0
	})
	if most > 0 && len(out) > most {
		out = out[:most]
	}
	return out
}
