package practice

import (
	"fmt"
	"slices"

	"wreath/internal/simulation"
)

// Judgement is what the person comes to.
type Judgement struct {
	Finding string           // met, not met or undecided
	Fault   string           // key of the fault suspected, "none" for a sound weighing of what is claimed
	Acts    []simulation.Act // what was done at the bench, in order, what was refused too
}

// Score is how well a task was judged: at most 100 points, 50 for the finding, 30 for the fault and
// 20 for the way. The rule is chosen here.
type Score struct {
	Points   int
	Finding  int // of 50
	Fault    int // of 30
	Way      int // of 20
	Needless []simulation.Act
	Missing  []string // what a careful person does and was not done, in words
	Lines    []string // the score in words
	Why      string   // the explanation
}

// Score holds a judgement against the truth.
func (t *Task) Score(j Judgement) (Score, error) {
	if !slices.Contains([]string{"met", "not met", "undecided"}, j.Finding) {
		return Score{}, fmt.Errorf("the finding is %q; give met, not met or undecided", j.Finding)
	}
	if j.Fault != "none" && !slices.Contains(Faults(), j.Fault) {
		return Score{}, fmt.Errorf("no fault is called %q; there are none and %v", j.Fault, Faults())
	}
	truth := t.Truth()
	s := Score{Why: Explanation(t.Lesson.Fault)}
	switch {
	case j.Finding == truth.Right:
		s.Finding = 50
		s.say("The finding is right: %s.", truth.Right)
	case j.Finding == "undecided":
		s.Finding = 25
		s.say("Undecided is careful; more could be said: %s.", truth.Right)
	case truth.Right == "undecided":
		s.Finding = 10
		s.say("These readings can't say %s; undecided is right.", j.Finding)
	default:
		s.say("The finding is wrong: it is %s, not %s.", truth.Right, j.Finding)
	}
	fault := t.Lesson.Fault
	switch {
	case j.Fault == fault:
		s.Fault = 30
		s.say("The cause is named rightly.")
	case fault != "none" && j.Fault != "none" && inItem(fault) == inItem(j.Fault):
		s.Fault = 10
		s.say("The cause is another one, of the same sort.")
	case fault == "none":
		s.say("There was nothing wrong.")
	default:
		s.say("The cause was another one.")
	}
	s.Needless, s.Missing = t.way(j.Acts)
	s.Way = max(0, 20-3*len(s.Needless)-5*len(s.Missing))
	if len(s.Needless) > 0 {
		s.say("%d acts were needless.", len(s.Needless))
	}
	for _, missing := range s.Missing {
		s.say("Not done: %s.", missing)
	}
	s.Points = s.Finding + s.Fault + s.Way
	return s, nil
}

func (s *Score) say(format string, a ...any) { s.Lines = append(s.Lines, fmt.Sprintf(format, a...)) }

// inItem is true of what is the matter with the item and not with the weighing.
func inItem(fault string) bool {
	f, _ := simulation.FaultByKey(fault)
	return f.InItem != nil
}

// way holds the acts against those of a careful weighing: zero, air, hanger, zero, two immersions with
// what settles between them, the check piece, and air again.
func (t *Task) way(acts []simulation.Act) (needless []simulation.Act, missing []string) {
	most := map[simulation.Act]int{
		simulation.ActZero: 8, simulation.ActPanOn: 3, simulation.ActCheckOn: 1, simulation.ActPanOff: 4, simulation.ActVesselOn: 1,
		simulation.ActHang: 2, simulation.ActHangDry: 1, simulation.ActUnhang: 2, simulation.ActImmerse: 4, simulation.ActImmerseCk: 1, simulation.ActLift: 5,
		simulation.ActSling: 2, simulation.ActUnsling: 2, simulation.ActBrush: 4, simulation.ActCentre: 4, simulation.ActDry: 2, simulation.ActWait: len(acts),
	}
	did := map[simulation.Act]int{}
	for _, act := range acts {
		if did[act]++; did[act] > most[act] {
			needless = append(needless, act)
		}
	}
	if did[simulation.ActPanOn]+did[simulation.ActSling] == 0 {
		missing = append(missing, "a weighing in air")
	}
	if did[simulation.ActImmerse] < 2 {
		missing = append(missing, "two immersions")
	}
	if did[simulation.ActPanOn]+did[simulation.ActSling] < 2 {
		missing = append(missing, "a closing weighing in air")
	}
	if liquid := t.Lesson.Fault == "liquid" || t.Lesson.Fault == "ethanol" || t.Lesson.Fault == "temperature"; liquid && did[simulation.ActImmerseCk] == 0 {
		missing = append(missing, "the check piece in the liquid")
	}
	return needless, missing
}

// Explanation says why a fault does what it does, and what shows it. The key is that of a lesson.
func Explanation(fault string) string { return explanations[fault] }

var explanations = map[string]string{
	"none":           "Nothing was wrong: both immersions agree, the closing weighing agrees with the first, and the density is that of the claim. A sound weighing says met only as far as density can; what has the same density is not excluded.",
	"bubble":         "A bubble under the item carries part of its weight: too light in the liquid, density too low, never too high. Brush it under the liquid and read again: it grows heavier by a step.",
	"zero":           "The zero moved between tare and reading: every item is off by the same grams. The empty hanger must read zero after the immersion; where it does not, set it to zero and immerse again.",
	"touching":       "The vessel carried part of the item. It reads far too light, or, where the vessel stands on the pan, far too heavy, and does not swing. Centre it, lift it a little, read again.",
	"wire":           "The liquid pulled the wire otherwise than at the tare. At most surface tension times the girth of the wire is lost. Dip the wire deeper, raise it to its mark, read again.",
	"temperature":    "The thermometer was wrong, so the liquid had another density than was reckoned with. All items are off by the same share. The check piece in the liquid shows it.",
	"liquid":         "The vessel held another liquid than was said, or a dirty one. All items are off by the same share. The check piece in the liquid shows it. Ethanol burns: keep flames away.",
	"ethanol":        "The ethanol had lost strength, so it was denser than was reckoned with. The check piece in the liquid shows it; cover the vessel. Ethanol burns: keep flames away.",
	"drift":          "The balance drifted: readings come in a row that climbs or falls. Wait until all is of one temperature, set it to zero before each load, and repeat.",
	"draught":        "Moving air pressed on the pan: the display never rests and readings scatter in no order. Close the shield, and wait.",
	"wet":            "The item was wet when it was first weighed: its mass was too high. The closing weighing, dry, is lighter. Dry it and weigh again.",
	"wrong-item":     "Another item lay on the tray: its mass is not that of the bag. The density may be right, and it is the density of another item. Compare mass, photo and bag before weighing.",
	"pores":          "Open pores took up liquid: in the liquid it grows heavier from minute to minute, and afterwards it is heavier in air. The density of such a body is apparent only; no finding on the claim follows from it until the pores are sealed or full.",
	"hollow":         "A sealed hollow makes the body lighter for its size, the same in every immersion. No brushing and no waiting changes it. Density can't tell a hollow from a lower standard: look, measure, listen.",
	"stones":         "Stones take up volume and weigh little: the density is too low, the same in every immersion. Look under the loupe and declare them.",
	"core":           "A core of another metal lies under the surface. The density is between the two metals, the same in every immersion. A core can be tuned so that density sees nothing: sound, conductivity or a cut look through. A cut needs the owner's consent.",
	"lower-standard": "The item is of the next lower standard and stamped higher. The weighing was sound, both immersions agree, and the density fits the lower standard. The touchstone or an assay says so too.",
	"look-alike":     "It is another material that looks like it. The weighing was sound and the density is outside what the claim allows.",
}
