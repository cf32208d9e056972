package web

import (
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"wreath/internal/practice"
	"wreath/internal/simulation"
)

// TestPracticeHasAWordForAll asks for a name of each fault and of each reason why an act can't be done.
func TestPracticeHasAWordForAll(t *testing.T) {
	for _, key := range append([]string{"none"}, practice.Faults()...) {
		if faultNames[key] == "" {
			t.Errorf("the fault %s has no name", key)
		}
	}
	known := strings.Join(refusals, "\n")
	for _, key := range []string{"first-ring", "standing-vessel", "big-bar"} {
		l, _ := practice.LessonByKey(key)
		task, err := practice.New(l)
		if err != nil {
			t.Fatal(err)
		}
		for _, start := range [][]simulation.Act{nil, {simulation.ActPanOn}, {simulation.ActHang}, {simulation.ActImmerse}} {
			for _, act := range start {
				task.Live.Do(act)
				task.Live.Step(30)
			}
			for _, act := range simulation.Acts() {
				if err := task.Live.Can(act); err != nil && !strings.Contains(known, err.Error()) {
					t.Errorf("%s: %q is not among the reasons", key, err)
				}
			}
		}
		if task.Told.Shape == "" || shapeNames[task.Told.Shape] == "" {
			t.Errorf("%s: the shape %q has no name", key, task.Told.Shape)
		}
	}
}

// TestPracticeIsBounded begins benches until there is no room, and looks whose they are.
func TestPracticeIsBounded(t *testing.T) {
	s, err := New(Options{Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { close(s.over) })
	l, _ := practice.LessonByKey("first-ring")
	begin := func(owner string) *practised {
		t.Helper()
		p, err := s.beginPractice(owner, l, 1)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	first := begin("ada")
	if _, err := s.practiceOf(first.id, "bo"); err == nil {
		t.Error("another person comes to a bench that is not theirs")
	}
	var asked atomic.Int64 // the clock is read by the benches too
	began := first.used
	s.o.Now = func() time.Time { return began.Add(time.Duration(asked.Add(1)) * time.Second) }
	for range mostOfOne {
		begin("ada")
	}
	if _, err := s.practiceOf(first.id, "ada"); err == nil || len(s.practisedBy("ada")) != mostOfOne {
		t.Errorf("%v; %d benches of one person, want %d, and the oldest cleared away", err, len(s.practisedBy("ada")), mostOfOne)
	}
	for n := len(s.practices.open); n < mostPractised; n++ {
		begin(strings.Repeat("x", n))
	}
	if _, err := s.beginPractice("cy", l, 1); err == nil || !strings.Contains(err.Error(), "All practice benches are in use") {
		t.Errorf("one bench too many: %v", err)
	}
	for _, p := range s.practisedBy("ada") {
		s.endPractice(p.id)
	}
	begin("cy")
}

// TestForgottenPracticeEnds leaves a bench alone: it is cleared away after its time and not before, and nothing of it
// goes on. An act begins the time anew.
func TestForgottenPracticeEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, err := New(Options{Version: "test"})
		if err != nil {
			t.Fatal(err)
		}
		defer close(s.over)
		l, _ := practice.LessonByKey("first-ring")
		p, err := s.beginPractice("ada", l, 1)
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(practiceIdle - time.Second) // within the bubble, whose clock jumps
		p.use(s.o.Now())
		time.Sleep(practiceIdle - time.Second)
		if _, err := s.practiceOf(p.id, "ada"); err != nil {
			t.Errorf("a bench at which somebody acted is gone: %v", err)
		}
		time.Sleep(2 * time.Second)
		synctest.Wait()
		if _, err := s.practiceOf(p.id, "ada"); err == nil || len(s.practices.open) != 0 {
			t.Error("a bench that was left alone is there still")
		}
	}) // it waits for all that the bench had begun
}

// TestPracticeWithoutScript weighs by forms alone: every act leads back to the page, what can't be done says why.
func TestPracticeWithoutScript(t *testing.T) {
	s := newBench(t)
	c := s.client()
	at := c.post("/practice", "lesson", "first-coin", "pace", "16").want(200).path
	c.post(at+"/do", "do", "pan-on").want(200)
	if body := c.post(at+"/do", "do", "immerse").want(409).body; !strings.Contains(body, "something is weighed already") {
		t.Errorf("it says %.300s", body)
	}
	c.post(at+"/take", "slot", "air_g").want(200)
	if body := c.get(at).want(200).body; !strings.Contains(body, "Practice (simulated)") || strings.Contains(body, "The truth") {
		t.Error("the page does not say that it is practice, or tells the truth too early")
	}
	c.post(at+"/judge", "finding", "perhaps", "fault", "none").want(422)
	c.post(at+"/judge", "finding", "met", "fault", "none").want(200)
	if body := c.get(at).want(200).body; !strings.Contains(body, "The truth") {
		t.Error("the truth is not told")
	}
	c.post(at+"/take", "slot", "air_g").want(409)
	c.post(at + "/end").want(200)
	c.get(at).want(404)
	c.get("/practice/shop").want(404)
}
