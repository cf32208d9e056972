package settling

import (
	"math"
	"math/rand/v2"

	"wreath/settle"
)

// Scene is a disturbance of an invented weighing.
type Scene struct {
	Name  string // the key of the trouble that is staged, or "clean"
	Place settle.Place
}

// Scenes are the rows of the table of troubles.
func Scenes() []Scene {
	return []Scene{
		{"clean", settle.PlaceAir},
		{"clean", settle.PlaceHanging},
		{"clean", settle.PlaceUnknown},
		{settle.Draught, settle.PlaceAir},
		{settle.Draught, settle.PlaceHanging},
		{settle.Drift, settle.PlaceAir},
		{settle.Drift, settle.PlaceHanging},
		{settle.Warm, settle.PlaceAir},
		{settle.Uptake, settle.PlaceHanging},
		{settle.Uptake, settle.PlaceStanding},
		{settle.Uptake, settle.PlaceUnknown},
		{settle.BubbleRelease, settle.PlaceHanging},
		{settle.BubbleRelease, settle.PlaceStanding},
		{settle.Touching, settle.PlaceHanging},
		{settle.Frozen, settle.PlaceHanging},
	}
}

// Watch is how long a scene is watched, seconds.
const Watch = 150.0

// Play stages one scene and returns the troubles of the last event that told any, each as "key" or
// "key or key".
func Play(sc Scene, seed uint64) []string {
	rng := rand.New(rand.NewPCG(seed, 5))
	pick := func(list ...float64) float64 { return list[rng.IntN(len(list))] }
	b := Balance{
		Interval: pick(0.001, 0.0001), Rate: pick(2, 5, 10, 20), Tau: pick(0.2, 0.5), Filter: pick(0, 0.4),
		Noise: 0.3 + 0.5*rng.Float64(), Hand: 0.3,
	}
	if sc.Name != settle.Frozen {
		b.Noise = 0.1 + 0.7*rng.Float64()
	}
	d := b.Interval
	b.Noise *= d
	s := NewStream(b, seed)
	e := settle.New(settle.Options{Interval: d, Repeatability: max(b.Noise, d/2), Place: settle.PlaceAir})
	var told []string
	see := func(ev settle.Event) {
		if len(ev.Troubles) == 0 {
			return
		}
		told = told[:0]
		for _, t := range ev.Troubles {
			key := t.Key
			if t.Or != "" {
				key += " or " + t.Or
			}
			told = append(told, key)
		}
	}
	step := func(until float64) {
		for s.Now() < until {
			t, y := s.Next()
			see(e.Add(settle.Sample{Seconds: t, Value: y}))
		}
	}
	step(8)
	s.Place(10 + rng.Float64())
	step(20)
	s.Place(0)
	step(30)
	e.SetPlace(sc.Place)
	up := 1.0
	if sc.Place == settle.PlaceStanding {
		up = -1
	}
	at := s.Now()
	size := 0.5 + rng.Float64()
	switch sc.Name {
	case settle.Drift:
		rate := size * 0.1 * d * pick(-1, 1)
		s.Disturb = func(t float64) float64 { return rate * (t - at) }
	case settle.Warm:
		tau := 20 + 30*rng.Float64()
		s.Disturb = func(t float64) float64 { return -size * 40 * d * math.Exp(-(t-at)/tau) }
	case settle.Uptake:
		s.Disturb = func(t float64) float64 { return up * size * 3 * d * math.Sqrt(max(t-at, 0)) }
	case settle.BubbleRelease:
		mm := 1.6 + 1.4*rng.Float64()
		when := at + 20 + 20*rng.Float64()
		weight := 0.000998 * math.Pi / 6 * mm * mm * mm
		s.Disturb = func(t float64) float64 {
			if t < when {
				return 0
			}
			return up * weight
		}
	case settle.Draught:
		s.Scatter = (4 + 6*rng.Float64()) * d
	}
	s.Place(5 + 5*rng.Float64())
	if sc.Name == settle.Touching {
		step(at + 15)
		// It sticks to the wall and slips now and then, either way.
		offset, next := 0.0, at+15.0
		s.Disturb = func(t float64) float64 {
			if t > next {
				next = t + 6 + 6*rng.Float64()
				offset = (4 + 8*rng.Float64()) * d * pick(-1, 1)
			}
			return offset
		}
		s.input *= 0.2
	}
	if sc.Name == settle.Frozen {
		step(at + 15)
		s.Stuck = true
	}
	step(at + Watch)
	return told
}
