package determination

import "wreath/fault"

// What the fault engine can't be asked, in words.
const (
	unjudgedParts    = "faults that show in the density alone can't be judged for an item of parts"
	unjudgedMethod   = "faults that show in the density alone are judged for plain immersion only"
	unjudgedMaterial = "faults that show in the density alone can't be judged: the tables hold no material that is claimed"
)

// judgeReadings weighs what may be wrong with a weighing whose density is that of nothing in the tables.
// Any density is taken for as good as any other: what is left is what the readings say of each other, of
// the closing weighing, of the zero, of the check piece and of the mass at the intake.
func (e *evaluation) judgeReadings(c claim, why string) {
	e.answer.NotJudged = why
	if e.method != "immersion" && e.method != "comparison" {
		return
	}
	e.blind = true
	e.describeWeighing()
	k := &e.faultCase
	*k = fault.Case{Claimed: k.Claimed[:0], Lower: k.Lower[:0], Finer: k.Finer[:0], Cores: coreVolumes, StoneSpecific: stoneVolumes}
	// Twelve cells from a fifth lighter to a quarter denser; chosen here, wide against every fault that
	// leaves the readings unlike each other.
	v := e.v20.Y
	k.Claimed = appendRange(k.Claimed, 0.8*v, 1.25*v, 12, 1)
	e.describeSecondLiquid()
	verdict := e.faults.Judge(&e.weighed, k)
	e.secondDensity()
	e.doubtSecondLiquid()
	onlyReadings(&verdict.Posterior)
	e.judged, e.sound = true, verdict.Posterior[fault.Clean]
	if e.sound >= doubtful && !e.oddReadings() {
		return
	}
	e.writeDoubts(c, verdict, e.sound < doubtful)
}

// onlyReadings leaves out what lies in the item: it shows in the density alone.
func onlyReadings(p *[fault.Kinds]float64) {
	left := 0.0
	for k := range p {
		if k := fault.Kind(k); k != fault.Clean && k != fault.SomethingElse && !ofTheWeighing(k) {
			p[k] = 0
		}
		left += p[k]
	}
	for k := range p {
		p[k] /= left
	}
}

// oddReadings says whether something in the readings is in doubt: a sign beside those that lie in what
// the item is said to be.
func (e *evaluation) oddReadings() bool {
	for i := range e.answer.Doubts {
		if _, ofItem := settledBy[e.answer.Doubts[i].Cause]; !ofItem {
			return true
		}
	}
	return false
}

// settledBy are the acts, as wreath materials actions lists them, that settle a doubt which no fault of
// the weighing explains.
var settledBy = map[string]string{
	causeHeap: "weigh-apart", causePlate: "weigh-apart", causeRock: "weigh-apart",
	causeColour: "look-over", causeInterval: "read-again", causeUnits: "read-again",
	causeWeak: "check-piece",
}
