package determination

import (
	"bytes"
	"cmp"
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"wreath/fault"
)

//go:embed data/actions.csv
var actionsFile []byte

// Action is one row of the table of next steps. The table is data: data/actions.csv.
type Action struct {
	Key         string
	Act         string  // in words
	Minutes     float64 // that it takes
	Cost        float64 // what it costs beyond the time, in minutes of work
	Needs       string  // what must be at hand; empty: nothing
	Reliability float64 // chance that it tells right

	// Tells are the outcomes: the faults that each would show. The last is that none of them is it.
	Tells  [][]string
	Source string

	outcome [fault.Kinds]int // of each fault
}

// Actions lists the table of next steps.
func Actions() []Action { return actions() }

var actions = sync.OnceValue(func() []Action {
	rows, err := csv.NewReader(bytes.NewReader(actionsFile)).ReadAll()
	if err != nil {
		panic("data/actions.csv: " + err.Error())
	}
	var list []Action
	for i, row := range rows[1:] {
		number := func(column int) float64 {
			x, err := strconv.ParseFloat(row[column], 64)
			if err != nil {
				panic(fmt.Sprintf("data/actions.csv line %d: %v", i+2, err))
			}
			return x
		}
		a := Action{Key: row[0], Act: row[1], Minutes: number(2), Cost: number(3), Needs: row[4], Reliability: number(5), Source: row[7]}
		outcomes := strings.Split(row[6], "|")
		for k := range a.outcome {
			a.outcome[k] = len(outcomes) - 1
		}
		for n, outcome := range outcomes {
			keys := strings.Fields(outcome)
			a.Tells = append(a.Tells, keys)
			for _, key := range keys {
				if key == "*" {
					continue
				}
				k, ok := fault.KindByKey(key)
				if !ok {
					panic(fmt.Sprintf("data/actions.csv line %d: there is no fault %q", i+2, key))
				}
				a.outcome[k] = n
			}
		}
		list = append(list, a)
	}
	return list
})

func actionByKey(key string) *Action {
	for i := range actions() {
		if actions()[i].Key == key {
			return &actions()[i]
		}
	}
	return nil
}

// atHand lists what the acts of the table need.
func atHand() (needs []string) {
	for _, a := range actions() {
		if a.Needs != "" && !slices.Contains(needs, a.Needs) {
			needs = append(needs, a.Needs)
		}
	}
	return needs
}

// checkAtHand refuses words that no act needs.
func (d *Draft) checkAtHand() error {
	for i, word := range d.AtHand {
		if err := oneOf(fmt.Sprintf("at_hand[%d]", i), word, atHand()...); err != nil {
			return err
		}
	}
	return nil
}

// mostMinutes is the longest that an act can be said to take: a month; chosen here.
const mostMinutes = 43200

// checkActs refuses costs of acts that are not in the table, and costs that are none.
func (d *Draft) checkActs() error {
	seen := map[string]bool{}
	for i, a := range d.Acts {
		at := fmt.Sprintf("acts[%d]", i)
		if a.Key == "" || actionByKey(a.Key) == nil {
			var keys []string
			for _, known := range actions() {
				keys = append(keys, known.Key)
			}
			if a.Key == "" {
				return bad(at+".key", "Name the act, as wreath materials actions lists them.", "is missing")
			}
			return oneOf(at+".key", a.Key, keys...)
		}
		if seen[a.Key] {
			return bad(at+".key", "Say once what an act takes.", "%s is named twice", a.Key)
		}
		seen[a.Key] = true
		if err := firstError(within(at+".minutes", a.Minutes, 0, mostMinutes, "min"), within(at+".cost", a.Cost, 0, mostMinutes, "min")); err != nil {
			return err
		}
	}
	return nil
}

// takes is what an act takes here: minutes, and its cost beyond them in minutes of work.
func (e *evaluation) takes(a *Action) (minutes, cost float64) {
	for _, own := range e.draft.Acts {
		if own.Key == a.Key {
			return or(own.Minutes, a.Minutes), or(own.Cost, a.Cost)
		}
	}
	return a.Minutes, a.Cost
}

// can is true for an act that can be done here and was not done yet.
func (e *evaluation) can(a *Action) bool {
	if e.alreadyDone(a.Key) || a.Needs != "" && !slices.Contains(e.draft.AtHand, a.Needs) {
		return false
	}
	switch a.Key {
	case "look-over":
		return e.weighed.StonesSeen == fault.NotLooked || e.weighed.HollowSeen == fault.NotLooked
	case "unset-stone":
		return e.weighed.StonesSeen == fault.Yes
	case "hold-against-bag":
		return e.weighed.IntakeG > 0
	case "check-piece":
		return e.method == "immersion" && e.proof == unproved && e.check.found == 0
	case "fresh-liquid":
		return e.proof == disproved
	case "second-liquid":
		return e.draft.SecondLiquid == nil
	case "refraction":
		return e.draft.Claim != nil && e.draft.Claim.Stone != ""
	case "weigh-apart":
		return false // what the item is said to be settles that, not the readings
	}
	return true
}

// settlerOf are the acts of the table of settlers that are an act of the table of next steps.
var settlerOf = map[string]string{"read-again": "read-again", "hold-against-bag": "bag-and-photo", "read-temperature": "thermometer", "touchstone": "streaked", "tare-hanger": "zero-read"}

// alreadyDone says whether an act was done, and once more would show the same. A weighing in air that did
// not agree is worth another.
func (e *evaluation) alreadyDone(act string) bool {
	switch {
	case e.alreadyTested(act):
		return true
	case act == "air-again":
		return len(e.draft.ClosingAirG) > 0 && !e.doubted(causeUptake) && !e.doubted(causeLighter)
	case act == "tare-hanger" && len(e.draft.ClosingZeroG) > 0:
		return true
	}
	settler, ok := settlerOf[act]
	return ok && slices.ContainsFunc(e.draft.Done, func(x Done) bool { return x.Act == settler })
}

// doubted says whether the readings show a sign by themselves.
func (e *evaluation) doubted(cause string) bool {
	return slices.ContainsFunc(e.answer.Doubts, func(d Doubt) bool { return d.Cause == cause || strings.HasPrefix(d.Sign, cause+":") })
}

// information is the expected drop of uncertainty, in bits, when an act is done: it shows one of
// its outcomes, the right one with its reliability, any other alike.
func (a *Action) information(p *[fault.Kinds]float64) float64 {
	outcomes := len(a.Tells)
	wrong := (1 - a.Reliability) / float64(outcomes-1)
	var of [8]float64
	for k, x := range p {
		of[a.outcome[k]] += x
	}
	// The mutual information of what is the matter and what is shown: the entropy of what is
	// shown, less that of the act's own mistakes.
	shown := 0.0
	for n := range outcomes {
		shown += bits(wrong + of[n]*(a.Reliability-wrong))
	}
	own := bits(a.Reliability)
	for range outcomes - 1 {
		own += bits(wrong)
	}
	return math.Max(0, shown-own)
}

func bits(p float64) float64 {
	if p <= 0 {
		return 0
	}
	return -p * math.Log2(p)
}

// worthDoing is the least that an act must tell, in bits; chosen here.
const worthDoing = 0.02

// nextStep proposes the one act that tells most for its cost: among the faults where something is
// in doubt, otherwise what the house rule still asks for.
func (e *evaluation) nextStep(c claim) {
	if e.answer.Next = e.settleContradiction(); e.answer.Next != nil {
		return
	}
	if e.answer.Next = e.settleType(); e.answer.Next != nil {
		return
	}
	if !e.judged || e.sound >= doubtful && !e.oddReadings() && !e.unsure {
		e.nextOfSound(c)
		return
	}
	p := &e.faults.Verdict.Posterior
	type choice struct {
		action  *Action
		bits    float64
		perCost float64
	}
	var room [32]choice
	choices := room[:0]
	for i := range actions() {
		a := &actions()[i]
		if !e.can(a) {
			continue
		}
		if told := a.information(p); told >= worthDoing {
			minutes, cost := e.takes(a)
			choices = append(choices, choice{a, told, told / (minutes + cost + 1)})
		}
	}
	slices.SortStableFunc(choices, func(a, b choice) int { return cmp.Compare(b.perCost, a.perCost) })
	if len(choices) == 0 {
		// Nothing is open any more: what is left is to set right what is wrong.
		if a := e.remedy(p); a != nil {
			choices = append(choices, choice{action: a, bits: a.information(p)})
		} else {
			e.nextOfSound(c)
			return
		}
	}
	best := e.step(choices[0].action, choices[0].bits)
	next := &NextStep{Key: best.Key, Act: best.Act, Why: best.Why, Expect: best.Expect, Minutes: best.Minutes, Settles: best.Settles}
	for _, other := range choices[1:min(len(choices), 5)] {
		next.Alternatives = append(next.Alternatives, e.step(other.action, other.bits))
	}
	e.answer.Next = next
}

// remedy is the quickest act that shows the likeliest fault; nil where none does.
func (e *evaluation) remedy(p *[fault.Kinds]float64) (best *Action) {
	likeliest := fault.Clean + 1
	for k := likeliest; k < fault.Kinds; k++ {
		if p[k] > p[likeliest] {
			likeliest = k
		}
	}
	quickest := 0.0
	for i := range actions() {
		a := &actions()[i]
		if minutes, _ := e.takes(a); a.outcome[likeliest] < len(a.Tells)-1 && e.can(a) && (best == nil || minutes < quickest) {
			best, quickest = a, minutes
		}
	}
	return best
}

// nextOfSound proposes what is still missing where no fault is in question: what the house rule asks for,
// what settles what the item is said to be, what tells a stone from others, one more weighing.
func (e *evaluation) nextOfSound(c claim) {
	refraction := actionByKey("refraction")
	undecided := c.stone != "" && e.answer.Finding != nil && e.answer.Finding.Result == "undecided" && e.answer.Finding.WouldBe == "" && !e.alreadyTested(refraction.Key)
	if undecided && slices.Contains(e.draft.AtHand, refraction.Needs) {
		e.answer.Next = e.proposed(refraction, "tells the stones apart that have this density")
		return
	}
	// Another weighing tells nothing of these.
	if e.settleDoubt(func(cause string) bool { return cause != causePlate && cause != causeRock }); e.answer.Next != nil {
		return
	}
	if e.nextByRule(c); e.answer.Next != nil {
		return
	}
	if e.settleDoubt(func(string) bool { return true }); e.answer.Next != nil {
		return
	}
	switch s := e.answer.Stop; {
	case undecided:
		e.answer.Next = e.proposed(refraction, "tells the stones apart that have this density")
	case s != nil && s.Verdict == OneMore:
		e.answer.Next = e.proposed(actionByKey("re-immerse"), "is what the stop rule asks for")
	case c.metal != "" && e.answer.Finding != nil && e.answer.Finding.Result == "undecided":
		e.answer.Next = e.proposed(e.beyondDensity(), "looks at something else than the density, which does not decide this")
	}
}

// beyondDensity is the act that looks at another property of the item: the quickest of those at hand that
// was not done, else the assay.
func (e *evaluation) beyondDensity() *Action {
	for _, key := range [...]string{"conductivity", "sound", "xrf", "touchstone"} {
		if a := actionByKey(key); e.can(a) {
			return a
		}
	}
	return actionByKey("assay")
}

// settleDoubt proposes what settles the first doubt that no fault of the weighing explains.
func (e *evaluation) settleDoubt(of func(cause string) bool) {
	for i := range e.answer.Doubts {
		d := &e.answer.Doubts[i]
		if key := settledBy[d.Cause]; key != "" && of(d.Cause) {
			e.answer.Next = e.proposed(actionByKey(key), fmt.Sprintf("settles this doubt: %s", d.Cause))
			e.answer.Next.Act, e.answer.Next.Expect = d.Settles, ""
			return
		}
	}
}

// proposed is an act that is proposed for a reason of its own.
func (e *evaluation) proposed(a *Action, why string) *NextStep {
	minutes, _ := e.takes(a)
	return &NextStep{Key: a.Key, Act: a.Act, Why: why, Expect: e.expectOf(a.Key), Minutes: minutes}
}

// settleType is the next step where mass or size are not those of the type: to measure that one again.
// No weighing in the liquid tells anything of it. Nil where they agree.
func (e *evaluation) settleType() *NextStep {
	t := e.answer.Type
	if t == nil {
		return nil
	}
	for _, r := range t.Rows {
		if !strings.HasPrefix(r.Verdict, "too") {
			continue
		}
		key, act := "", ""
		switch r.Property {
		case "mass":
			key, act = "look-over", "See whether it is this type, and whether anything was put on it or taken off it; weigh it in air again."
		case "diameter", "thickness":
			key, act = "caliper", fmt.Sprintf("Measure the %s again at three places, and see whether it is this type.", r.Property)
		default:
			continue
		}
		next := e.proposed(actionByKey(key), fmt.Sprintf("settles whether the %s was misread or the piece is not of this type", r.Property))
		next.Act = act
		next.Expect = fmt.Sprintf("A true piece has %.5g to %.5g %s.", r.Low, r.High, r.Unit)
		return next
	}
	return nil
}

// immersions counts the weighings of the item in the liquid.
func (e *evaluation) immersions() int {
	switch {
	case e.method == "pycnometer":
		return len(e.draft.WithSampleAndLiquidG)
	case e.standing:
		return len(e.draft.GainG)
	}
	return len(e.draft.LiquidG)
}

// nextByRule proposes what the house rule still asks for, in the order of the bench.
func (e *evaluation) nextByRule(c claim) {
	f := e.answer.Finding
	if f == nil || len(f.Missing) == 0 {
		return
	}
	key := ""
	switch {
	case e.immersions() < c.rule.Immersions:
		key = "re-immerse"
	case c.rule.ClosingAir && len(e.draft.ClosingAirG) == 0 && e.closable():
		key = "air-again"
	case c.rule.LiquidProof && e.proof == unproved:
		key = "check-piece"
	case e.zeroMissing(c) != "":
		key = "tare-hanger"
	default:
		return
	}
	e.answer.Next = e.proposed(actionByKey(key), "is what the "+c.rule.Title()+" asks for")
	switch {
	case key == "re-immerse" && e.method == "pycnometer":
		e.answer.Next.Act = "Empty the pycnometer, fill it with the sample and the liquid once more, and weigh it."
	case key == "check-piece" && e.check.found > 0:
		e.answer.Next.Act, e.answer.Next.Expect = "Take a larger check piece, or one whose volume is known better.", ""
	}
}

// step writes an act down.
func (e *evaluation) step(a *Action, told float64) Step {
	p := &e.faults.Verdict.Posterior
	var parts []string
	for n, keys := range a.Tells[:len(a.Tells)-1] {
		share, best := 0.0, fault.Clean
		for k := range p {
			if a.outcome[k] == n {
				share += p[k]
				if best == fault.Clean || p[k] > p[best] {
					best = fault.Kind(k)
				}
			}
		}
		if share >= 0.01 && len(keys) > 0 {
			parts = append(parts, best.Fault().Cause)
		}
	}
	why := "tells whether it is any of what it can show"
	if len(parts) > 0 {
		why = "tells " + oneOfThese(parts) + " from the rest"
	}
	minutes, _ := e.takes(a)
	return Step{Key: a.Key, Act: a.Act, Why: why, Expect: e.expectOf(a.Key), Minutes: minutes, Settles: told}
}

// expectOf is the number to expect of an act when nothing is wrong.
func (e *evaluation) expectOf(key string) string {
	if !e.judged {
		return "" // nothing was made of the readings yet
	}
	claimed := reachOf(e.faultCase.Claimed)
	switch key {
	case "re-immerse":
		return e.expected(fault.Bubble, claimed)
	case "air-again":
		return e.expected(fault.Pores, claimed)
	case "check-piece":
		return fmt.Sprintf("It should find %.2f kg/m³.", 1000*e.weighed.LiquidRho)
	}
	return ""
}
