package practice

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"wreath/internal/determination"
	"wreath/internal/simulation"
)

// Lesson is a task of the list: always the same item at the same station.
type Lesson struct {
	Key   string
	Title string // says what it is about without giving the fault away
	Level int    // 1: plain, 2: a fault that shows, 3: one that is hard to see or that density can't settle
	Seed  uint64
	Kind  string // one of Shapes
	Fault string // key of simulation.LiveFaults, "none" for a clean one
}

// Lessons are the list, in the order in which to learn.
func Lessons() []Lesson {
	return []Lesson{
		{"first-ring", "A ring, calmly", 1, 1, "ring", "none"},
		{"first-coin", "A coin", 1, 2, "coin", "none"},
		{"standing-vessel", "A pendant in a vessel on the pan", 1, 3, "standing", "none"},
		{"too-light", "Too light in the liquid", 2, 4, "ring", "bubble"},
		{"heavy-start", "It weighs less and less", 2, 5, "hanging", "wet"},
		{"restless", "A display that never rests", 2, 6, "hanging", "draught"},
		{"slow-creep", "Numbers in a row", 2, 7, "hanging", "drift"},
		{"far-off", "Far too light", 2, 8, "coin", "touching"},
		{"by-the-same-grams", "Off by some milligrams", 3, 9, "ring", "zero"},
		{"tray", "Which tray was it", 2, 10, "hanging", "wrong-item"},
		{"grows", "It grows heavier", 3, 11, "hanging", "pores"},
		{"bottle", "An old bottle", 3, 12, "hanging", "ethanol"},
		{"jug", "A jug from the kitchen", 3, 13, "standing", "liquid"},
		{"tube", "Light for its size", 3, 14, "hanging", "hollow"},
		{"set", "More than metal", 3, 15, "ring", "stones"},
		{"inside", "What is inside", 3, 16, "coin", "core"},
		{"stamp", "What the stamp says", 2, 17, "hanging", "lower-standard"},
		{"yellow", "Yellow all over", 1, 18, "hanging", "look-alike"},
		{"big-bar", "A bar under the hook", 2, 19, "bar", "none"},
	}
}

// LessonByKey finds a lesson.
func LessonByKey(key string) (Lesson, bool) {
	i := slices.IndexFunc(Lessons(), func(l Lesson) bool { return l.Key == key })
	if i < 0 {
		return Lesson{}, false
	}
	return Lessons()[i], true
}

// Shapes are the kinds of items and arrangements that a task may have.
var Shapes = []string{"hanging", "standing", "ring", "coin", "bar"}

// Faults are the keys of the faults that a task may have. A hanger that is not tared is not among them: who
// practises does that himself.
func Faults() []string {
	return slices.DeleteFunc(simulation.LiveFaults(), func(key string) bool { return key == "hanger" })
}

// Task is one item to practise on, at its station.
type Task struct {
	Lesson Lesson
	Told   Told
	Live   *simulation.Live // the bench to work at; its stretches are part of the truth

	session *simulation.Session
	try     uint64 // how many draws came before
}

// Told is what the person knows.
type Told struct {
	Practice   bool                 // always true; stands on every sheet
	Shape      string               // ring, coin, bar, piece or pendant
	Colour     string               // as seen, empty where it says nothing
	StampPpt   float64              // fineness as stamped
	Family     string               // alloy family claimed
	IntakeG    float64              // mass on the bag
	CheckCm3   float64              // volume of the check piece at 20 °C
	CheckUCm3  float64              // its standard uncertainty
	Draft      *determination.Draft // claim, item, liquid, air, balance and hanger filled in; readings to come
	SeesStones bool                 // what a look shows
	SeesHollow bool
	SeesCore   bool
}

// Truth is what is really the matter.
type Truth struct {
	Fault       string  // key, empty for none
	Words       string  // the fault in words
	Size        float64 // of the fault, in the unit of the table of faults
	Made        string  // what the item is made of
	FinenessPpt float64 // 0 for what is no alloy of the tables
	DensityKgM3 float64 // of the whole body at 20 °C
	AsClaimed   bool    // its metal is what the claim says, whatever hollows, stones or pores are in it
	Decidable   bool    // a sound weighing can say so: nothing but metal, and what is not as claimed lies apart from it
	Right       string  // the finding that is right: met, not met or undecided
}

// Fresh draws a lesson that is on no list: an item of any shape with any fault, or none in one case of four.
func Fresh(seed uint64) Lesson {
	r := rand.New(rand.NewPCG(seed, 0x70726163))
	l := Lesson{Key: fmt.Sprintf("fresh-%d", seed), Title: "An item", Level: 3, Seed: seed, Kind: Shapes[r.IntN(len(Shapes))], Fault: "none"}
	if all := Faults(); r.IntN(4) > 0 {
		if l.Kind == "bar" {
			all = slices.DeleteFunc(all, func(fault string) bool { return slices.Contains(lostOnBars, fault) })
		}
		l.Fault = all[r.IntN(len(all))]
	}
	return l
}

// lostOnBars are the faults of some milligrams. A balance that bears a bar of many kilograms does not show them.
var lostOnBars = []string{"bubble", "wet", "wire"}

// New sets up the task of a lesson. The same lesson gives the same task. Items are drawn until the fault is large
// enough to be noticed by who works with care.
func New(l Lesson) (*Task, error) {
	if !slices.Contains(Shapes, l.Kind) {
		return nil, fmt.Errorf("practice has no kind %q; it has %v", l.Kind, Shapes)
	}
	if l.Fault != "none" && !slices.Contains(Faults(), l.Fault) {
		return nil, fmt.Errorf("practice has no fault %q; it has none and %v", l.Fault, Faults())
	}
	const tries = 2000
	for n := range uint64(tries) {
		t, err := draw(l, n)
		if err != nil {
			return nil, fmt.Errorf("practice %s: %w", l.Key, err)
		}
		if t.bites() {
			return t, nil
		}
	}
	return nil, fmt.Errorf("practice %s: no item of kind %q shows the fault %q", l.Key, l.Kind, l.Fault)
}

func draw(l Lesson, n uint64) (*Task, error) {
	r := rand.New(rand.NewPCG(l.Seed, n))
	claims := simulation.Claims()
	c := simulation.Case{Claim: claims[r.IntN(len(claims))], Standing: l.Kind == "standing"}
	if l.Fault != "none" {
		c.Fault = l.Fault
	}
	switch l.Kind {
	case "ring":
		c.Mass = 1.5 + 6*r.Float64()
	case "coin":
		c.Mass = 31.1
	case "bar":
		c.Mass = 12000 + 400*r.Float64()
	default:
		c.Mass = 5 + 60*r.Float64()
	}
	s, err := simulation.Prepare(r, c)
	if err != nil {
		return nil, err
	}
	o := simulation.DrawLiveOptions(r, s.Bench.Station)
	o.RateHz, o.BubbleLeaves, o.MarkSeconds = 10, 0, 1
	t := &Task{Lesson: l, session: s, try: n, Live: simulation.Attend(s, r.Uint64(), o)}
	t.Told = t.told()
	return t, nil
}

// told is what a counter knows of the item.
func (t *Task) told() Told {
	s := t.session
	shape := map[string]string{"ring": "ring", "coin": "coin", "bar": "bar", "standing": "pendant", "hanging": "piece"}[t.Lesson.Kind]
	d := s.Draft(simulation.Plan{Intake: true})
	d.Note = "practice"
	told := Told{Practice: true, Shape: shape, StampPpt: 1000 * s.Claim.Fineness, Family: s.Claim.Family.Key, IntakeG: s.IntakeMass,
		CheckCm3: s.Check.Volume, CheckUCm3: s.Check.VolumeU, Draft: d, SeesStones: s.SeesStones, SeesHollow: s.SeesHollow, SeesCore: s.SeesCore}
	if d.Item != nil {
		told.Colour = d.Item.Colour
	}
	return told
}

// Truth is shown when the person has judged.
func (t *Task) Truth() Truth {
	s := t.session
	item := s.Bench.Item
	truth := Truth{Fault: s.Truth.Fault, Words: s.Truth.Words, Size: s.Truth.Size, Made: item.Made, FinenessPpt: 1000 * item.Fineness, DensityKgM3: 1000 * item.Density()}
	truth.AsClaimed = item.Family == s.Claim.Family.Key && item.Fineness >= s.Claim.Fineness-1e-9 && s.Truth.Fault != "core"
	sound := item.Void == 0 && !item.Stones && item.Pores == 0
	truth.Decidable = sound && (truth.AsClaimed || s.Apart() > plain)
	switch {
	case !truth.Decidable:
		truth.Right = "undecided"
	case truth.AsClaimed:
		truth.Right = "met"
	default:
		truth.Right = "not met"
	}
	return truth
}

// plain is how many standard uncertainties count as plain to see; chosen here.
const plain = 4.

// bites is true when the fault of the task shows to who works with care.
func (t *Task) bites() bool {
	s := t.session
	b := s.Bench
	noise := math.Hypot(b.RepeatabilityLiquid, b.Interval/2)
	switch s.Truth.Fault {
	case "":
		return true
	case "hollow", "stones", "core", "lower-standard", "look-alike":
		return s.Apart() > plain
	case "draught":
		return b.Draught > plain*b.RepeatabilityLiquid
	case "drift":
		return math.Abs(b.Drift)*120 > 2*plain*noise
	case "pores":
		return b.Item.Pores*b.Liquid() > 4*plain*noise
	case "wet":
		return s.Truth.Size/1000 > plain*noise
	case "wrong-item":
		return math.Abs(b.Item.Mass-s.IntakeMass) > 2*plain*noise && b.Item.Family == s.Claim.Family.Key
	}
	return t.wrongBy() > plain
}

// wrongBy is how far the weight lost in a first immersion, weighed without care, lies from what the liquid as stated
// takes off, in standard uncertainties. The weighing is done on a bench of its own.
func (t *Task) wrongBy() float64 {
	twin, err := draw(t.Lesson, t.try)
	if err != nil {
		return 0
	}
	l, b := twin.Live, twin.Live.Bench
	for _, act := range []simulation.Act{simulation.ActZero, simulation.ActPanOn, simulation.ActPanOff, simulation.ActHang, simulation.ActZero, simulation.ActImmerse} {
		l.Do(act)
		l.Step(30)
	}
	var air, lost float64
	for _, stretch := range l.Stretches() {
		switch stretch.Slot {
		case simulation.SlotAir:
			air = stretch.Net()
		case simulation.SlotLiquid:
			lost = air - stretch.Net()
		case simulation.SlotGain:
			lost = stretch.Net()
		}
	}
	rho, u := b.Station.StatedLiquid()
	volume := b.Item.Solid + b.Item.Void + b.Item.Pores
	noise := math.Hypot(math.Hypot(b.Repeatability, b.RepeatabilityLiquid), b.Interval/2)
	expected := volume * (rho - b.AirKgM3/1000) / (1 - 1.2/8000)
	return math.Abs(lost-expected) / math.Hypot(noise, volume*u)
}
