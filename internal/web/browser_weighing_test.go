//go:build linux || darwin

package web

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"wreath/internal/desk"
	"wreath/internal/live"
	"wreath/internal/record"
	"wreath/internal/simulated"
	"wreath/internal/simulation"
	"wreath/internal/source"
	"wreath/internal/station"
)

// weighingWalks weigh invented items from intake to record: instruments speak over pseudo-terminals, somebody who
// is simulated has his hands at the bench, and nobody touches the page in between.
var weighingWalks = []struct {
	name string
	do   func(*testing.T, *chrome)
}{
	{"hanging, wet touches, thermometer", walkHanging},
	{"standing", walkStanding},
	{"bar of 12 kg under the floor", walkBar},
	{"unplugged in the middle", walkUnplugged},
	{"overload", walkOverload},
	{"hands at the bench of the shop", walkShopBench},
}

// TestWeighingInBrowser weighs from intake to record.
func TestWeighingInBrowser(t *testing.T) {
	c := startChrome(t)
	for _, walk := range weighingWalks {
		t.Run(walk.name, func(t *testing.T) { walk.do(t, c) })
	}
}

// weighingWorld is a world at whose bench somebody weighs by himself.
type weighingWorld struct {
	*benchWorld
	q       *simulation.Sequence
	station *simulated.Station

	mu  sync.Mutex
	now float64 // s of the bench
}

// displayHz is how often the display of the bench changes.
const displayHz = 5

// weighs makes a world whose station has the bench of a session, with balance and thermometer linked by lines of
// their own. Time passes there only in pass.
func weighs(t *testing.T, kind, format string, seed uint64) *weighingWorld {
	t.Helper()
	habits := &simulation.Habits{Tared: true, Immersions: 2, AirWeighs: 1, Closing: true, ClosingZero: true, Zeroes: true, Dries: true, UnderHook: kind == "bar"}
	q, err := simulation.NewSequence(seed, simulation.SequenceOptions{Kind: kind, Fault: "none", Habits: habits, Live: &simulation.LiveOptions{RateHz: displayHz, Average: 0.3}})
	if err != nil {
		t.Fatal(err)
	}
	w := &weighingWorld{benchWorld: openWorld(t), q: q, station: simulated.NewStation(q.Live)}
	w.follows(live.Options{})
	w.furnish(habits.UnderHook)
	w.cable("B-1", format)
	w.cable("T-1", "bath")
	return w
}

// follows serves the pages with instruments that are followed; what comes from them has the time of the bench.
func (w *weighingWorld) follows(o live.Options) {
	w.t.Helper()
	w.halt()
	o.Record = func(_ live.Config, next source.Sink) source.Sink {
		return func(e source.Event) {
			w.mu.Lock()
			e.Seconds = w.now
			w.mu.Unlock()
			next(e)
		}
	}
	w.options.Live = live.NewHub(o)
	w.t.Cleanup(w.options.Live.Close)
	w.serve(w.address)
}

// furnish writes the bench of the session down as the shop's station.
func (w *weighingWorld) furnish(underFloor bool) {
	w.t.Helper()
	b := w.q.Session.Bench
	ctx, by := w.t.Context(), desk.By{Who: w.who}
	for _, i := range []station.Instrument{
		{ID: "B-1", Kind: station.Balance, CapacityG: &b.Capacity, ScaleIntervalG: &b.Interval, RepeatabilityG: &b.Repeatability, RepeatabilityLiquidG: &b.RepeatabilityLiquid},
		{ID: "T-1", Kind: station.Thermometer, ScaleIntervalC: new(0.1)},
	} {
		if _, err := w.desk.SetInstrument(ctx, by, i, "the bench of this walk"); err != nil {
			w.t.Fatal(err)
		}
	}
	at := station.Station{ID: "bench", Name: "Bench", Arrangement: "hanging", Balance: &station.Ref{ID: "B-1", Version: 2}, Thermometer: &station.Ref{ID: "T-1", Version: 1}, HouseRule: "two-immersions",
		Hanger: &station.Hanger{WireDiameterMM: &b.WireMM, Wires: new(1), VesselDiameterMM: &b.VesselMM, SurfaceUG: new(0.0)}, Liquid: &station.Liquid{Kind: "water"}}
	if b.Standing {
		at.Arrangement = "standing"
	}
	if underFloor {
		at.Hanger.UnderFloor = &underFloor
	}
	if b.Ethanol > 0 {
		at.Liquid = &station.Liquid{Kind: "ethanol-water", EthanolMassPercent: new(100 * b.Ethanol)}
	}
	if _, err := w.desk.SetStation(ctx, by, at, "the bench of this walk"); err != nil {
		w.t.Fatal(err)
	}
}

// cable lets an instrument speak over a pseudo-terminal, and links it.
func (w *weighingWorld) cable(id, format string) {
	w.t.Helper()
	i, err := w.station.NewInstrument(id, format)
	if err != nil {
		w.t.Fatal(err)
	}
	p, err := i.Pattern()
	if err != nil {
		w.t.Fatal(err)
	}
	document, err := p.Encode()
	if err != nil {
		w.t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	var speaking sync.WaitGroup
	w.t.Cleanup(func() { stop(); speaking.Wait() })
	port, opened := filepath.Join(w.t.TempDir(), "port"), make(chan string, 8)
	speaking.Go(func() {
		if err := i.ServePTY(ctx, port, func(path string) { opened <- path }); err != nil {
			w.t.Error(err)
		}
	})
	<-opened
	w.link(id, &station.Link{Address: "serial://" + port, Pattern: json.RawMessage(document)})
	awaits(w.t, id+" is followed", func() bool { return w.options.Live.Feed(id).Snapshot().Bytes > 0 })
}

// pass lets the bench live on until a time of it, a change of the display at a time; each is followed before the
// next one comes. Each, where it is not nil, is called between.
func (w *weighingWorld) pass(until float64, each func()) {
	w.t.Helper()
	feed := w.options.Live.Feed("B-1")
	for w.now < until {
		before := feed.Snapshot().Lines
		w.mu.Lock()
		w.now += 1.0 / displayHz
		w.mu.Unlock()
		if err := w.station.Advance(w.t.Context(), 1.0/displayHz); err != nil {
			w.t.Fatal(err)
		}
		w.soon(fmt.Sprintf("the display at %.1f s is followed", w.now), func() bool {
			now := feed.Snapshot()
			if now.State.Key == live.Overload || now.State.Key == live.Underload {
				return now.Lines > before // that it goes on is no event
			}
			at := w.server.ofBalance("B-1")
			at.mu.Lock()
			defer at.mu.Unlock()
			return at.timeline.seconds+at.timeline.ahead > w.now-0.1/displayHz
		})
		if each != nil {
			each()
		}
	}
}

// soon is awaits for what takes less than a millisecond mostly.
func (w *weighingWorld) soon(what string, so func() bool) {
	w.t.Helper()
	for end := time.Now().Add(patience); !so(); {
		if time.Now().After(end) {
			w.t.Fatalf("it did not come true that %s", what)
		}
		select {
		case <-w.t.Context().Done():
			w.t.Fatal(w.t.Context().Err())
		case <-time.After(200 * time.Microsecond):
		}
	}
}

// written waits until everything that was captured stands on the sheet.
func (w *weighingWorld) written(id string) {
	w.t.Helper()
	at := w.server.ofSheet(id)
	done := make(chan struct{})
	at.work <- job{done: done} // nothing more is captured meanwhile
	<-done
}

// intake lays the item on a tray at the page of the bench, with the claim that is made of it, and opens its sheet.
func (w *weighingWorld) intake(b *tab) (sheet string) {
	w.t.Helper()
	claim := w.q.Session.Claim
	b.visit("/")
	b.ready()
	b.fill(`[name=description]`, "something to weigh (invented)")
	b.choose(`[name=metal]`, claim.Family.Metal)
	b.fill(`[name=fineness]`, fmt.Sprintf("%g", 1000*claim.Fineness))
	b.choose(`[name=family]`, claim.Family.Key)
	b.choose(`[name=stones]`, "no")
	b.tap(`button[data-key=N]`)
	b.at("/sheet/")
	b.listens()
	sheet = strings.TrimPrefix(eval[string](b, `location.pathname`), "/sheet/")
	b.tap(".by-itself summary")
	b.tap(".by-itself button")
	b.reads(".hands-free", "Readings are taken by themselves.")
	return sheet
}

// keeps records the sheet by one touch, and holds what was recorded against the truth.
func (w *weighingWorld) keeps(b *tab, sheet string) {
	w.t.Helper()
	w.written(sheet)
	b.do(chromedp.Evaluate[chromedp.Void](`for (const open of document.querySelectorAll("details[open]")) open.open = false`))
	seen, err := w.desk.Sheet(w.t.Context(), w.who, sheet)
	if err != nil {
		w.t.Fatal(err)
	}
	b.until(`document.querySelector('[name="seen"]').value === "%d" && !document.querySelector('[data-key="S"]').disabled`, seen.Seq)
	b.click(`[data-key="S"]`)
	b.at("/record/")
	b.reads("main", "What the instruments said before")
	kept, err := w.desk.Show(w.t.Context(), w.who, sheet)
	if err != nil {
		w.t.Fatal(err)
	}
	bench := w.q.Session.Bench
	immersed := "liquid_g"
	if bench.Standing {
		immersed = "gain_g"
	}
	var all []string
	counts := map[string]int{}
	for _, r := range kept.Record.Sheet.Readings {
		if r.Withdrawn != nil {
			continue
		}
		all = append(all, r.Slot+" "+r.Text)
		counts[r.Slot]++
		if r.Source != record.Received || r.Evidence == "" {
			w.t.Errorf("%s came as %+v", r.Slot, r)
		}
		if r.Slot == "liquid.temperature_c" {
			if x, err := r.Value(); err != nil || math.Abs(x-bench.LiquidC) > 0.3 {
				w.t.Errorf("the thermometer shows %g °C (%v), in truth it is %g °C", x, err, bench.LiquidC)
			}
			continue
		}
		if !r.Rested {
			w.t.Errorf("%s was not found at rest", r.Slot)
		}
		off := math.Inf(1)
		for _, s := range w.station.Stretches() {
			if x, err := r.Value(); err == nil && s.Slot == r.Slot {
				off = min(off, math.Abs(x-s.True))
			}
		}
		if off > 5*bench.RepeatabilityLiquid+bench.Interval {
			w.t.Errorf("%s is %s g, %g g from any weighing of it", r.Slot, r.Text, off)
		}
	}
	for slot, n := range map[string]int{"air_g": 1, immersed: 2, "closing_air_g": 1, "liquid.temperature_c": 2} {
		if counts[slot] < n {
			w.t.Errorf("%d readings of %s are recorded, want %d: %q", counts[slot], slot, n, all)
		}
	}
	d := kept.Record.Answer
	var answer struct {
		Density struct {
			KgM3      float64 `json:"kg_m3"`
			UExpanded float64 `json:"U_kg_m3"`
		} `json:"density_20c"`
	}
	if err := json.Unmarshal(d, &answer); err != nil {
		w.t.Fatal(err)
	}
	truth := 1000 * w.q.Session.Bench.Item.Density()
	if got := answer.Density; got.KgM3 == 0 || math.Abs(got.KgM3-truth) > 2.5*got.UExpanded {
		w.t.Errorf("the density is %g ± %g kg/m³, in truth %g", got.KgM3, got.UExpanded, truth)
	}
	w.t.Logf("%.0f s of weighing: %q; %.1f ± %.1f kg/m³, in truth %.1f", w.now, all, answer.Density.KgM3, answer.Density.UExpanded, truth)
}

// walkHanging weighs on a telephone's screen, which a wet sleeve touches all the time.
func walkHanging(t *testing.T, c *chrome) {
	w := weighs(t, "hanging", "columns", 5)
	b := c.open(t, w.home())
	b.touch(390, 844)
	id := w.intake(b)
	const seed = 5
	rng := rand.New(rand.NewPCG(seed, seed))
	last, touched := time.Now(), 0
	w.pass(w.q.Ends, func() {
		if time.Since(last) < 100*time.Millisecond {
			return
		}
		points := make([]string, 20)
		for i := range points {
			points[i] = fmt.Sprintf("[%.0f,%.0f]", 390*rng.Float64(), 844*rng.Float64())
		}
		// What is meant to be touched by hand is left out: a sleeve has no second touch for what asks for one.
		touched += eval[int](b, `(() => { let n = 0; for (const [x, y] of [%s]) {
			const at = document.elementFromPoint(x, y);
			if (at && !at.closest(".take, .acts, a, .carry, dialog, .hands-free button, .ask")) { n++; at.click?.(); }
		} return n; })()`, strings.Join(points, ","))
		last = time.Now()
	})
	if touched < 100 {
		t.Errorf("only %d touches landed", touched)
	}
	w.written(id)
	for _, r := range w.sheetNow(id).Readings {
		if r.Withdrawn != nil && r.Withdrawn.Reason == "taken by mistake" {
			t.Errorf("a touch set %s aside", r.Slot)
		}
	}
	b.reads(".cond", "thermometer")
	b.picture("weighing-hanging", true)
	w.keeps(b, id)
	b.do(chromedp.Evaluate[chromedp.Void](`const heard = document.querySelector(".heard"); heard.open = true; heard.scrollIntoView(); void 0`))
	b.until(`document.querySelector(".heard pre").innerText.includes("0.00 s")`)
	b.picture("weighing-heard", false)
}

func walkStanding(t *testing.T, c *chrome) {
	w := weighs(t, "standing", "semicolons", 3)
	b := c.open(t, w.home())
	id := w.intake(b)
	w.pass(w.q.Ends, nil)
	w.keeps(b, id)
}

func walkBar(t *testing.T, c *chrome) {
	w := weighs(t, "bar", "letters", 1)
	b := c.open(t, w.home())
	id := w.intake(b)
	w.pass(w.q.Ends, nil)
	w.keeps(b, id)
}

// walkUnplugged pulls the balance's cable out while the item hangs in the liquid, and puts it back.
func walkUnplugged(t *testing.T, c *chrome) {
	w := weighs(t, "hanging", "columns", 5)
	b := c.open(t, w.home())
	id := w.intake(b)
	balance, _ := w.station.Instrument("B-1")
	var pull float64
	immersed := 0
	w.pass(w.q.Ends/2, func() {
		if n := strings.Count(strings.Join(w.readings(id), " "), "liquid_g"); n > immersed {
			immersed, pull = n, w.now
		}
	})
	if pull == 0 {
		t.Fatal("nothing was weighed in the liquid yet")
	}
	before := len(w.readings(id))
	if err := balance.Misbehave(simulated.Unplugged); err != nil {
		t.Fatal(err)
	}
	b.reads("#now .state", "no signal")
	b.reads("#now output", "–")
	b.picture("weighing-unplugged", false)
	if err := balance.Misbehave(simulated.Behaves); err != nil {
		t.Fatal(err)
	}
	awaits(t, "the balance is followed again", func() bool { return w.options.Live.Feed("B-1").Snapshot().State.Key == live.Waiting })
	if after := len(w.readings(id)); after < before {
		t.Errorf("%d readings are left of %d", after, before)
	}
	w.pass(w.q.Ends, nil)
	w.keeps(b, id)
}

// walkOverload puts too much on the balance: the page says so in words and by a sound, and nothing is taken.
func walkOverload(t *testing.T, c *chrome) {
	w := quickWorld(t, "push:b1")
	id := w.openSheet("")
	b := c.open(t, w.home())
	b.visit("/sheet/" + id)
	b.listens()
	awaits(t, "the feed runs", func() bool { return w.options.Live.Feed("B-1").Push(t.Context(), []byte(says(0, true))) == nil })
	b.tap(".by-itself summary")
	b.tap(".by-itself button")
	b.reads(".hands-free", "Readings are taken by themselves.")
	b.do(chromedp.Evaluate[chromedp.Void](`globalThis.happened = []; document.addEventListener("wreath-happened", (e) => happened.push(e.detail)); void 0`))
	for range 20 {
		w.pushed("B-1", "full ------------ g\r\n")
	}
	b.reads("#now .state", "overload")
	b.reads("#now output", "–")
	b.reads(".hands-free", "take it off, and look at the balance")
	b.until(`happened.includes("stop")`)
	b.picture("weighing-overload", false)
	w.has(id)
	balance := w.speaks("B-1")
	awaits(t, "the empty balance is known", func() bool { return w.settledAt("B-1", 0) })
	balance.rests(5)
	awaits(t, "it is taken", func() bool { return len(w.readings(id)) == 1 })
	w.has(id, "air_g 5.0000")
}

// walkShopBench weighs at the simulated bench of a demonstration shop: by hand at its page, then somebody weighs, while
// the sheet beside it listens.
func walkShopBench(t *testing.T, c *chrome) {
	q, err := simulation.NewSequence(5, simulation.SequenceOptions{Kind: "hanging", Fault: "none", Live: &simulation.LiveOptions{RateHz: displayHz, Average: 0.3}})
	if err != nil {
		t.Fatal(err)
	}
	item := q.Session.Bench.Item
	bench := simulation.Attend(q.Session, 7, simulation.LiveOptions{RateHz: displayHz, Average: 0.3})
	place := simulated.NewStation(bench)
	balance, err := place.NewInstrument("balance", "columns")
	if err != nil {
		t.Fatal(err)
	}
	var places simulated.Stations
	if err := places.Add("invented-bench", place); err != nil {
		t.Fatal(err)
	}
	w := &weighingWorld{benchWorld: openWorld(t), q: q, station: place}
	w.options.ShopBench = func() *ShopBench {
		return &ShopBench{Station: place, Balance: "B-1", Weigh: []simulation.Move{{Act: simulation.ActZero, At: 1}, {Act: simulation.ActPanOn, At: 8}, {Act: simulation.ActPanOff, At: 30}}}
	}
	w.follows(live.Options{Simulated: places.Open})
	p, err := balance.Pattern()
	if err != nil {
		t.Fatal(err)
	}
	document, err := p.Encode()
	if err != nil {
		t.Fatal(err)
	}
	w.link("B-1", &station.Link{Address: "simulated:invented-bench", Pattern: json.RawMessage(document)})
	awaits(t, "the balance is followed", func() bool { return w.options.Live.Feed("B-1").Snapshot().Bytes > 0 })
	id := w.openSheet("")
	sheet := c.open(t, w.home())
	sheet.visit("/sheet/" + id)
	sheet.listens()
	sheet.tap(".by-itself summary")
	sheet.tap(".by-itself button")
	sheet.reads("#now", "simulated")
	hands := sheet.another()
	hands.visit("/practice/shop")
	hands.listens()
	w.pass(10, nil)
	hands.reads(".now .state", "still")
	hands.until(`document.querySelector('#acts button[value="pan-off"]').getAttribute("aria-disabled") === "true"`)
	hands.picture("shop-bench", true)
	hands.touch(390, 844)
	hands.visit("/practice/shop")
	hands.listens()
	hands.picture("shop-bench-phone", true)
	hands.size(1280, 800)
	hands.tap(`#acts button[value="weigh"]`)
	hands.until(`document.querySelector('#acts button[value="weigh"]').getAttribute("aria-disabled") === "true"`)
	w.pass(50, nil)
	awaits(t, "what somebody weighs stands on the sheet", func() bool { return len(w.readings(id)) == 1 })
	if r := w.sheetNow(id).Readings[0]; r.Slot != "air_g" {
		t.Errorf("%s was read", r.Slot)
	} else if x, err := r.Value(); err != nil || math.Abs(x-item.Mass) > 0.01*item.Mass {
		t.Errorf("an item of %g g weighs %s (%v)", item.Mass, r.Text, err)
	}
	hands.visit("/practice/shop")
	hands.inspectAll([]seenPage{{"live-shop-bench", "/practice/shop"}})
}
