package settling

import (
	"math"
	"math/rand/v2"

	"wreath/settle"
)

// Case is a kind of balance; trials draw steps, places between digits and noise.
type Case struct {
	Name    string
	Balance Balance
	Before  int     // loads that the estimator has seen before, after the empty pan
	Drift   float64 // intervals a second
}

// Outcome is what one trial gives. Errors are against the reading at rest, in intervals, positive
// where the value stands further along the way of the load than it should.
type Outcome struct {
	Found  bool
	Error  float64
	U      float64
	Took   float64
	AtRule float64 // error of the estimator's value when the rule of five fires
	// Rule holds the error and the time of the rule of n equal readings, n as in Counts.
	RuleError, RuleTook [len(Counts)]float64
	Troubles            int // troubles told in the time watched
	TroubleKeys         string
}

// Counts are the numbers of equal readings that rules wait for.
var Counts = [...]int{5, 7, 10, 15, 20, 30, 45, 70, 100, 150, 250}

// GiveUp is the time after which a rule counts as not fired.
const GiveUp = 80.0 // seconds

// Trial weighs one invented load after some seconds of empty pan and counts what comes out.
func Trial(c Case, seed uint64) Outcome {
	rng := rand.New(rand.NewPCG(seed, 1))
	b := c.Balance
	s := NewStream(b, seed)
	o := settle.Options{Interval: b.Interval}
	e := settle.New(o)
	d := b.Interval
	zero := (rng.Float64() - 0.5) * d
	load := zero + max(2000*d, 0.1)*math.Exp(rng.Float64()*math.Log(100))
	if rng.IntN(2) == 0 {
		load = -load // lifting an item is a step down
	}
	way := math.Copysign(1, load-zero)
	slope := c.Drift * d
	s.Disturb = func(t float64) float64 { return slope * t }
	s.load = zero
	s.x = zero
	for i := range s.mean {
		s.mean[i] = zero
	}
	s.sum = zero * float64(len(s.mean))
	for until := 6 + 4*rng.Float64(); s.Now() < until; {
		t, y := s.Next()
		e.Add(settle.Sample{Seconds: t, Value: y})
	}
	for i := range c.Before {
		s.Place(zero + load*(0.4+0.2*rng.Float64())*float64(1-i%2))
		wait := 16*(b.Tau+b.Filter) + 5
		for until := s.Now() + wait; s.Now() < until; {
			t, y := s.Next()
			e.Add(settle.Sample{Seconds: t, Value: y})
		}
	}
	begin := s.Now()
	s.Place(load)
	var out Outcome
	var equal int
	var before float64
	ruled := 0
	out.AtRule = math.NaN()
	for i := range out.RuleTook {
		out.RuleError[i] = math.NaN()
	}
	first := -1
	for s.Now()-begin < GiveUp && !(out.Found && ruled == len(Counts)) {
		t, y := s.Next()
		ev := e.Add(settle.Sample{Seconds: t, Value: y})
		truth := load + slope*t
		left := math.Abs(y - zero)
		if first < 0 && left > 0.2*math.Abs(load-zero) {
			first = 0 // the load has arrived: the equal readings of the empty pan are past
		}
		if y == before {
			equal++
		} else {
			equal = 1
		}
		before = y
		if first == 0 {
			for ruled < len(Counts) && equal >= Counts[ruled] {
				out.RuleTook[ruled] = t - begin
				out.RuleError[ruled] = (y - truth) / d * way
				if ruled == 0 {
					out.AtRule = (ev.Value - truth) / d * way
				}
				ruled++
			}
		}
		if !out.Found && first == 0 && ev.Phase == settle.Settled {
			out.Found = true
			out.Error = (ev.Value - truth) / d * way
			out.U = ev.U / d
			out.Took = t - begin
		}
		if len(ev.Troubles) > 0 && out.Troubles == 0 {
			out.Troubles = len(ev.Troubles)
			out.TroubleKeys = ev.Troubles[0].Key
		}
		if out.Found && ruled < len(Counts) && t-begin > 6*out.Took+10 {
			break
		}
	}
	for i := ruled; i < len(Counts); i++ {
		out.RuleTook[i] = s.Now() - begin // at least
	}
	return out
}

// Sum is what many trials come to.
type Sum struct {
	Trials, Found  int
	Bias           float64 // mean error, intervals
	BiasError      float64 // its standard deviation
	RMS            float64
	U              float64 // root mean square of the stated standard uncertainty, intervals
	Covered        float64 // part of the trials with the truth within 1.96 U
	Took           float64 // mean seconds
	Rule           float64 // the rule of five: mean seconds; where it does not fire the end of the watch stands for it
	RuleRMS        float64
	RuleFired      float64 // part of the trials in which it fires
	AtRule         float64 // root mean square error of the estimator's value at that moment
	Equal          int     // readings that must be equal for an error no greater than the estimator's
	EqualTook      float64 // mean seconds of that rule
	EqualFired     float64
	Troubled       float64
	TroubledByName map[string]int
}

// Count runs trials.
func Count(c Case, trials int, seed uint64) Sum {
	out := Sum{Trials: trials, TroubledByName: map[string]int{}}
	var sum, squares, uu, atRule float64
	var fired [len(Counts)]int
	var ruleTook, ruleSquares [len(Counts)]float64
	covered := 0
	for i := range trials {
		o := Trial(c, seed+uint64(i)*1000003)
		if o.Found {
			out.Found++
			sum += o.Error
			squares += o.Error * o.Error
			uu += o.U * o.U
			out.Took += o.Took
			if math.Abs(o.Error) <= 1.96*o.U {
				covered++
			}
		} else {
			out.Took += GiveUp
		}
		if o.Troubles > 0 {
			out.Troubled++
			out.TroubledByName[o.TroubleKeys]++
		}
		for k := range Counts {
			ruleTook[k] += o.RuleTook[k]
			if !math.IsNaN(o.RuleError[k]) {
				fired[k]++
				ruleSquares[k] += o.RuleError[k] * o.RuleError[k]
			}
		}
		if !math.IsNaN(o.AtRule) {
			atRule += o.AtRule * o.AtRule
		}
	}
	n := float64(max(out.Found, 1))
	out.Bias = sum / n
	out.RMS = math.Sqrt(squares / n)
	out.BiasError = math.Sqrt(max(squares/n-out.Bias*out.Bias, 0) / n)
	out.U = math.Sqrt(uu / n)
	out.Covered = float64(covered) / n
	out.Took /= float64(trials)
	out.Troubled /= float64(trials)
	rms := func(k int) float64 { return math.Sqrt(ruleSquares[k] / float64(max(fired[k], 1))) }
	out.Rule = ruleTook[0] / float64(trials)
	out.RuleRMS = rms(0)
	out.RuleFired = float64(fired[0]) / float64(trials)
	out.AtRule = math.Sqrt(atRule / float64(max(fired[0], 1)))
	for k := range Counts {
		if fired[k] > trials/2 && rms(k) <= 1.03*out.RMS {
			out.Equal, out.EqualTook = Counts[k], ruleTook[k]/float64(trials)
			out.EqualFired = float64(fired[k]) / float64(trials)
			break
		}
	}
	return out
}

// Cases are the balances of doc/settling.md.
func Cases() []Case {
	mk := func(name string, d, rate, tau, damping, filter, noise, white, hand float64) Case {
		return Case{Name: name, Balance: Balance{Interval: d, Rate: rate, Tau: tau, Damping: damping, Filter: filter,
			Noise: noise * d, White: white * d, Hand: hand}}
	}
	return []Case{
		mk("exponential", 0.001, 10, 0.3, 0, 0, 0, 0, 0.2),
		mk("exponential", 0.01, 5, 0.5, 0, 0, 0.05, 0, 0.2),
		mk("exponential", 1, 2, 0.2, 0, 0, 0.1, 0, 0.2),
		mk("exponential", 0.1, 1, 0.4, 0, 0, 0.1, 0, 0.2),
		mk("exponential", 0.001, 50, 0.8, 0, 0, 0.1, 0, 0.2),
		mk("exponential", 0.0001, 20, 1.5, 0, 0, 0.5, 0, 0.3),
		mk("exponential", 0.0001, 10, 0.6, 0, 0, 1, 0, 0.3),
		mk("exponential", 0.00001, 5, 2, 0, 0, 2, 0.5, 0.3),
		mk("moving average", 0.001, 10, 0.1, 0, 0.8, 0.3, 0, 0.2),
		mk("moving average", 0.0001, 20, 0.1, 0, 1.5, 1, 0, 0.2),
		mk("moving average", 0.01, 50, 0.05, 0, 0.5, 0.1, 0.3, 0.2),
		mk("swings", 0.001, 10, 0.4, 0.6, 0, 0.1, 0, 0.2),
		mk("swings", 0.0001, 25, 0.5, 0.4, 0.4, 0.5, 0.5, 0.2),
		mk("swings", 0.01, 5, 0.6, 0.3, 0, 0.3, 0, 0.2),
		mk("white", 0.001, 10, 0.1, 0, 0, 0, 0.7, 0.2),
		mk("white", 0.0001, 50, 0.2, 0, 0, 0, 2, 0.2),
		mk("white", 0.001, 1, 0.2, 0, 0, 0, 1, 0.2),
	}
}

// Drawn draws balances at random: none of them was looked at when the estimator's constants were chosen.
func Drawn(n int, seed uint64) []Case {
	rng := rand.New(rand.NewPCG(seed, 78))
	pick := func(list ...float64) float64 { return list[rng.IntN(len(list))] }
	round := func(v float64) float64 { return math.Round(v*100) / 100 }
	var out []Case
	for range n {
		d := pick(1e-5, 1e-4, 1e-3, 1e-2, 0.1, 1)
		b := Balance{Interval: d, Rate: math.Round(math.Exp(rng.Float64() * math.Log(50))), Tau: round(0.1 * math.Exp(rng.Float64()*2.7)),
			Hand: round(0.1 + 0.4*rng.Float64())}
		if rng.IntN(3) == 0 {
			b.Damping = round(0.3 + 0.5*rng.Float64())
		}
		if rng.IntN(3) == 0 {
			b.Filter = round(0.3 + rng.Float64())
		}
		b.Noise = d * round(2*rng.Float64()*rng.Float64())
		if rng.IntN(3) == 0 {
			b.White = d * round(rng.Float64())
		}
		out = append(out, Case{Name: "drawn", Balance: b, Before: 4 * rng.IntN(2)})
	}
	return out
}
