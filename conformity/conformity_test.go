package conformity_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/conformity"
	"wreath/quantity"
)

func TestProbabilityTable(t *testing.T) {
	for _, r := range rows(t, "probability.txt", 9) {
		got, err := conformity.Probability(number(t, r[1]), number(t, r[2]), number(t, r[3]), number(t, r[4]), number(t, r[5]))
		if err != nil {
			t.Errorf("%s: %v", r[0], err)
			continue
		}
		near(t, r[0], got, number(t, r[6]), number(t, r[7]), r[8])
	}
}

func decide(t *testing.T, r conformity.Rule, e conformity.Estimate, l conformity.Limits) conformity.Decision {
	t.Helper()
	d, err := r.Decide(e, l)
	if err != nil {
		t.Fatalf("%s: %v", r.Name(), err)
	}
	return d
}

// The risk of an item at the acceptance limit stays below the published bound, and not by much:
// the bound is the risk rounded up.
func TestPublishedGuardBands(t *testing.T) {
	for _, r := range rows(t, "guardbands.txt", 3) {
		factor, bound := number(t, r[1]), number(t, r[2])
		d := decide(t, conformity.GuardedAcceptance{Guard: conformity.Factor(factor)}, conformity.Estimate{Value: 7, U: 0.25}, conformity.AtLeast(7))
		limit := d.AcceptanceLimits.Lower
		near(t, r[0]+": acceptance limit", limit, 7+factor*0.5, 1e-12, "w = r U, U = 2 u")
		p, err := conformity.Probability(limit, 0.25, 0, 7, math.Inf(1))
		if err != nil {
			t.Fatal(err)
		}
		risk := 1 - p
		if risk > bound {
			t.Errorf("%s: risk %.4g, published below %g", r[0], risk, bound)
		}
		if bound > 1e-6 && risk < 0.8*bound {
			t.Errorf("%s: risk %.4g is far below the published bound %g", r[0], risk, bound)
		}
	}
}

// A one-sided risk of 2.5 % needs the two-sided 95 % quantile of t.
func TestGuardBandOfFewDegreesOfFreedom(t *testing.T) {
	for _, r := range rows(t, "student-t.txt", 2) {
		e := conformity.Estimate{Value: 0, U: 1, Dof: number(t, r[0])}
		d := decide(t, conformity.GuardedAcceptance{Guard: conformity.SpecificRisk(0.025)}, e, conformity.AtLeast(0))
		half := 0.005
		if strings.HasSuffix(r[1], "0") && len(r[1]) == 5 {
			half = 0.0005
		}
		near(t, "guard band at 2.5 % with "+r[0]+" degrees of freedom", d.AcceptanceLimits.Lower, number(t, r[1]), half, "JCGM 100:2008 Table G.2")
	}
}

// US16 and the acceptance limits beside it, computed with scipy: 15446.3 for w = 1.645 u and
// 15448.6 for w = U with k = 1.9872; the value is accepted by the first only.
func TestExampleOfFiveWeighings(t *testing.T) {
	e := conformity.Estimate{Value: 15447.3876, U: 6.8666, K: 1.9872}
	limit := conformity.AtLeast(15435)
	risk := decide(t, conformity.GuardedAcceptance{Guard: conformity.SpecificRisk(0.05)}, e, limit)
	near(t, "acceptance limit, risk 5 %", risk.AcceptanceLimits.Lower, 15446.3, 0.05, "scipy")
	if risk.Outcome != conformity.Met {
		t.Errorf("w = 1.645 u: %v, want met", risk.Outcome)
	}
	full := decide(t, conformity.GuardedAcceptance{Guard: conformity.Factor(1)}, e, limit)
	near(t, "acceptance limit, w = U", full.AcceptanceLimits.Lower, 15448.6, 0.05, "scipy")
	if full.Outcome != conformity.Undecided {
		t.Errorf("w = U: %v, want undecided", full.Outcome)
	}
	// The probability of a Monte Carlo run, 0.9526, decides like any other.
	d, err := conformity.ByProbability{Accept: 0.95, Reject: 0.05}.DecideProbability(0.9526)
	if err != nil || d.Outcome != conformity.Met {
		t.Errorf("probability 0.9526: %v, %v, want met", d.Outcome, err)
	}
}

// One result under the rules gives the word of each; limit 750, U = 2.
func TestOneResultUnderEveryRule(t *testing.T) {
	for _, c := range []struct {
		value                                             float64
		simple, guarded, binary, nonBinary, byProbability string
	}{
		{753, "pass", "pass", "pass", "pass", "met"},
		{752, "pass", "pass", "pass", "pass", "met"}, // at the acceptance limit
		{751.8, "pass", "undecided", "fail", "conditional pass", "met"},
		{751, "pass", "undecided", "fail", "conditional pass", "undecided"},
		{750, "pass", "undecided", "fail", "conditional pass", "undecided"}, // at the limit
		{749.5, "fail", "undecided", "fail", "conditional fail", "undecided"},
		{748.2, "fail", "undecided", "fail", "conditional fail", "not met"},
		{748, "fail", "fail", "fail", "fail", "not met"},
		{740, "fail", "fail", "fail", "fail", "not met"},
	} {
		e := conformity.Estimate{Value: c.value, U: 1}
		want := map[string]string{"simple": c.simple, "guarded": c.guarded, "guarded-binary": c.binary, "non-binary": c.nonBinary, "probability": c.byProbability}
		for _, r := range conformity.Rules() {
			d := decide(t, r, e, conformity.AtLeast(750))
			if d.Word != want[r.Key()] {
				t.Errorf("%g under %s: %q, want %q", c.value, r.Key(), d.Word, want[r.Key()])
			}
			if d.Rule != r.Key() {
				t.Errorf("%s: decision names rule %q", r.Key(), d.Rule)
			}
			outcome := map[string]conformity.Outcome{"pass": conformity.Met, "met": conformity.Met, "fail": conformity.NotMet, "not met": conformity.NotMet}[d.Word]
			if d.Outcome != outcome {
				t.Errorf("%g under %s: word %q with outcome %v", c.value, r.Key(), d.Word, d.Outcome)
			}
			near(t, "probability under "+r.Key(), d.Probability, 0.5*math.Erfc((750-c.value)/math.Sqrt2), 1e-12, "normal distribution")
		}
	}
}

// JCGM 106:2012 and ILAC-G8:09/2019 stand in every printed statement; keys are found again.
func TestRulesNameTheirSources(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range conformity.Rules() {
		for _, words := range []string{"JCGM 106:2012 ", "ILAC-G8:09/2019 4.2."} {
			if !strings.Contains(r.Statement(), words) {
				t.Errorf("%s: statement %q does not name %q", r.Key(), r.Statement(), words)
			}
		}
		if r.Name() == "" || seen[r.Key()] {
			t.Errorf("rule %q has no name of its own", r.Key())
		}
		seen[r.Key()] = true
		if found, ok := conformity.ByKey(r.Key()); !ok || found.Name() != r.Name() {
			t.Errorf("ByKey(%q) = %v, %v", r.Key(), found, ok)
		}
	}
	if _, ok := conformity.ByKey("no such rule"); ok {
		t.Error("ByKey finds a rule that is not there")
	}
}

func TestOutcomesHaveWords(t *testing.T) {
	for o, want := range map[conformity.Outcome]string{conformity.Met: "met", conformity.NotMet: "not met", conformity.Undecided: "undecided", conformity.Outcome(9): "undecided"} {
		if o.String() != want {
			t.Errorf("outcome %d = %q, want %q", uint8(o), o, want)
		}
	}
}

// With two limits the guard band by risk makes the probability beyond either limit count.
func TestTwoLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.Float64Range(0.1, 30).Draw(t, "width in u")
		risk := rapid.Float64Range(0.001, 0.4).Draw(t, "risk")
		dof := rapid.SampledFrom([]float64{0, 2, 7.5, 60}).Draw(t, "dof")
		l := conformity.Between(-width/2, width/2)
		r := conformity.GuardedAcceptance{Guard: conformity.SpecificRisk(risk)}
		d, err := r.Decide(conformity.Estimate{Value: 0, U: 1, Dof: dof}, l)
		if err != nil {
			t.Fatal(err)
		}
		if d.AcceptanceLimits.Empty() {
			if d.Probability >= 1-risk || d.Outcome != conformity.Undecided || !strings.Contains(d.Sentence, "no value could be accepted") {
				t.Fatalf("nothing accepted at probability %v: %+v", d.Probability, d)
			}
			return
		}
		if d.Outcome != conformity.Met {
			t.Fatalf("the middle of the limits is %v", d.Outcome)
		}
		for _, y := range []float64{d.AcceptanceLimits.Lower, d.AcceptanceLimits.Upper} {
			p, err := conformity.Probability(y, 1, dof, l.Lower, l.Upper)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(1-p-risk) > 1e-9 {
				t.Fatalf("risk at the acceptance limit %v = %v, want %v", y, 1-p, risk)
			}
		}
	})
}

func TestGuardBandsWiderThanTheLimits(t *testing.T) {
	d := decide(t, conformity.GuardedAcceptance{Guard: conformity.Factor(1)}, conformity.Estimate{Value: 10, U: 3}, conformity.Between(9, 11))
	if !d.AcceptanceLimits.Empty() || d.Outcome != conformity.Undecided || !strings.Contains(d.Sentence, "no value could be accepted") {
		t.Errorf("U of 6 in limits 2 apart: %+v", d)
	}
}

// Turning the axis round turns lower into upper limits and changes nothing else; a change of
// unit changes nothing.
func TestDecisionsAreSymmetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.Float64Range(-5, 5).Draw(t, "y")
		u := rapid.Float64Range(0.1, 3).Draw(t, "u")
		dof := rapid.SampledFrom([]float64{0, 3, 20, math.Inf(1)}).Draw(t, "dof")
		k := rapid.Float64Range(0.01, 100).Draw(t, "unit")
		for _, r := range conformity.Rules() {
			low, err := r.Decide(conformity.Estimate{Value: y, U: u, Dof: dof}, conformity.AtLeast(0.0625))
			if err != nil {
				t.Fatal(err)
			}
			high, err := r.Decide(conformity.Estimate{Value: -y, U: u, Dof: dof}, conformity.AtMost(-0.0625))
			if err != nil {
				t.Fatal(err)
			}
			if low.Word != high.Word || math.Abs(low.Probability-high.Probability) > 1e-12 {
				t.Fatalf("%s: %q at %v from below, %q at %v from above", r.Key(), low.Word, low.Probability, high.Word, high.Probability)
			}
			scaled, err := r.Decide(conformity.Estimate{Value: k * y, U: k * u, Dof: dof}, conformity.AtLeast(k*0.0625))
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(low.Probability-scaled.Probability) > 1e-9 {
				t.Fatalf("%s: probability %v, %v in another unit", r.Key(), low.Probability, scaled.Probability)
			}
		}
	})
}

// A wider guard band never turns a value that was not accepted into an accepted one.
func TestWiderGuardBandsAcceptLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := conformity.Estimate{Value: rapid.Float64Range(-5, 5).Draw(t, "y"), U: 1}
		a := rapid.Float64Range(0, 3).Draw(t, "r")
		b := a + rapid.Float64Range(0, 3).Draw(t, "more")
		narrow, err := conformity.GuardedAcceptance{Guard: conformity.Factor(a)}.Decide(e, conformity.AtLeast(0))
		if err != nil {
			t.Fatal(err)
		}
		wide, err := conformity.GuardedAcceptance{Guard: conformity.Factor(b)}.Decide(e, conformity.AtLeast(0))
		if err != nil {
			t.Fatal(err)
		}
		if wide.Outcome == conformity.Met && narrow.Outcome != conformity.Met || wide.Outcome == conformity.NotMet && narrow.Outcome != conformity.NotMet {
			t.Fatalf("w = %v U: %v, w = %v U: %v", a, narrow.Outcome, b, wide.Outcome)
		}
	})
}

// By hand: measured 2 with u 1, population mean 0 and standard deviation 1: the posterior has
// mean 1 and standard deviation 1/sqrt 2, so the probability of at least 0 is Phi(sqrt 2) =
// 0.92135 (between the tabled Phi(1.41) 0.9207 and Phi(1.42) 0.9222). A
// population about 3 with standard deviation 2: mean 2.2, sd 2/sqrt 5, Phi(2.459675) = 0.99305.
func TestPriorMovesTheProbability(t *testing.T) {
	for _, c := range []struct{ mean, sd, want, tol float64 }{{0, 1, 0.92135, 0.000005}, {3, 2, 0.99305, 0.000005}, {0, 1e6, 0.97725, 0.000005}} {
		post, err := conformity.Prior{Mean: c.mean, SD: c.sd}.Update(2, 1)
		if err != nil {
			t.Fatal(err)
		}
		p, err := conformity.Probability(post.Value, post.U, post.Dof, 0, math.Inf(1))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "probability with prior", p, c.want, c.tol, "by hand")
	}
}

// With limit and acceptance limit at the mean of the population the risks are the orthant
// probability of the bivariate normal distribution, arccos(rho)/(2 pi) (Sheppard 1899), rho
// the correlation between true and measured values.
func TestGlobalRisksAtTheMean(t *testing.T) {
	for _, u := range []float64{0.001, 0.1, 0.5, 1, 3} {
		rho := 1 / math.Sqrt(1+u*u/4)
		want := math.Acos(rho) / (2 * math.Pi)
		consumer, producer, err := conformity.GlobalRisks(conformity.Prior{Mean: 5, SD: 2}, u, conformity.AtLeast(5), conformity.AtLeast(5))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "consumer's risk", consumer, want, 1e-10, "Sheppard 1899")
		near(t, "producer's risk", producer, want, 1e-10, "Sheppard 1899")
	}
}

// The four cases (meets or not, accepted or not) add up; accepted alone is a normal probability
// with both variances. A guard band moves risk from the consumer to the producer.
func TestGlobalRisksAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := conformity.Prior{Mean: rapid.Float64Range(-3, 3).Draw(t, "mean"), SD: rapid.Float64Range(0.2, 3).Draw(t, "sd")}
		u := rapid.Float64Range(0.01, 2).Draw(t, "u")
		w := rapid.Float64Range(0, 0.9).Draw(t, "w")
		req := conformity.Between(-1, 1.5)
		acc := conformity.Between(-1+w, 1.5-w)
		consumer, producer, err := conformity.GlobalRisks(p, u, req, acc)
		if err != nil {
			t.Fatal(err)
		}
		meets, err := conformity.Probability(p.Mean, p.SD, 0, req.Lower, req.Upper)
		if err != nil {
			t.Fatal(err)
		}
		accepted, err := conformity.Probability(p.Mean, math.Hypot(p.SD, u), 0, acc.Lower, acc.Upper)
		if err != nil {
			t.Fatal(err)
		}
		if got := meets - producer + consumer; math.Abs(got-accepted) > 1e-9 {
			t.Fatalf("accepted in all %v, want %v", got, accepted)
		}
		plainConsumer, plainProducer, err := conformity.GlobalRisks(p, u, req, req)
		if err != nil {
			t.Fatal(err)
		}
		if consumer > plainConsumer+1e-12 || producer < plainProducer-1e-12 {
			t.Fatalf("guard band %v: consumer %v from %v, producer %v from %v", w, consumer, plainConsumer, producer, plainProducer)
		}
	})
}

func TestGlobalRisksWhenNothingIsAccepted(t *testing.T) {
	consumer, producer, err := conformity.GlobalRisks(conformity.Prior{Mean: 0, SD: 1}, 1, conformity.AtLeast(0), conformity.Limits{Lower: math.Inf(1), Upper: math.Inf(-1)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "consumer's risk", consumer, 0, 0, "nothing is accepted")
	near(t, "producer's risk", producer, 0.5, 1e-12, "half the items meet the limit")
}

func TestErrors(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	good := conformity.Estimate{Value: 1, U: 1}
	for _, c := range []struct {
		name string
		e    conformity.Estimate
		l    conformity.Limits
		says string
	}{
		{"value NaN", conformity.Estimate{Value: nan, U: 1}, conformity.AtLeast(0), "measured value"},
		{"value infinite", conformity.Estimate{Value: inf, U: 1}, conformity.AtLeast(0), "measured value"},
		{"no uncertainty", conformity.Estimate{Value: 1}, conformity.AtLeast(0), "uncertainty"},
		{"negative uncertainty", conformity.Estimate{Value: 1, U: -1}, conformity.AtLeast(0), "uncertainty"},
		{"uncertainty NaN", conformity.Estimate{Value: 1, U: nan}, conformity.AtLeast(0), "uncertainty"},
		{"degrees of freedom", conformity.Estimate{Value: 1, U: 1, Dof: -1}, conformity.AtLeast(0), "degrees of freedom"},
		{"no limits", good, conformity.Between(-inf, inf), "no limit"},
		{"limits swapped", good, conformity.Between(2, 1), "below"},
		{"limits left out", good, conformity.Limits{}, "below"},
		{"limit NaN", good, conformity.AtLeast(nan), "not a number"},
	} {
		for _, r := range conformity.Rules() {
			_, err := r.Decide(c.e, c.l)
			var input *conformity.InputError
			if !errors.As(err, &input) {
				t.Errorf("%s under %s: error %v, want an *InputError", c.name, r.Key(), err)
			} else if !strings.Contains(err.Error(), c.says) || !strings.HasSuffix(input.Hint, ".") || input.Field == "" {
				t.Errorf("%s under %s: %q in %q, hint %q", c.name, r.Key(), err, input.Field, input.Hint)
			}
		}
	}
	for _, r := range []conformity.Rule{
		conformity.GuardedAcceptance{Guard: conformity.Factor(-1)},
		conformity.GuardedBinary{Guard: conformity.SpecificRisk(5)},
		conformity.NonBinary{Guard: conformity.Factor(nan)},
		conformity.ByProbability{},
		conformity.ByProbability{Accept: 95, Reject: 5},
		conformity.ByProbability{Accept: 0.95, Reject: 0.6},
	} {
		_, err := r.Decide(good, conformity.AtLeast(0))
		var outside *quantity.RangeError
		if !errors.As(err, &outside) {
			t.Errorf("%s: error %v, want a *quantity.RangeError", r.Name(), err)
		}
	}
	_, err := conformity.Rules()[0].Decide(conformity.Estimate{Value: 1, U: 1, K: 1000}, conformity.AtLeast(0))
	var outside *quantity.RangeError
	if !errors.As(err, &outside) {
		t.Errorf("coverage factor 1000: error %v, want a *quantity.RangeError", err)
	}
	for _, p := range []float64{-0.1, 1.1, nan} {
		_, err := conformity.ByProbability{Accept: 0.95, Reject: 0.05}.DecideProbability(p)
		if !errors.As(err, &outside) {
			t.Errorf("probability %v: error %v, want a *quantity.RangeError", p, err)
		}
	}
	for _, p := range []conformity.Prior{{Mean: nan, SD: 1}, {Mean: 0, SD: 0}, {Mean: 0, SD: inf}} {
		if _, err := p.Update(1, 1); err == nil {
			t.Errorf("prior %v: no error", p)
		}
		if _, _, err := conformity.GlobalRisks(p, 1, conformity.AtLeast(0), conformity.AtLeast(0)); err == nil {
			t.Errorf("global risks with prior %v: no error", p)
		}
	}
	if _, _, err := conformity.GlobalRisks(conformity.Prior{SD: 1}, 1, conformity.AtLeast(0), conformity.AtLeast(nan)); err == nil {
		t.Error("global risks with an acceptance limit that is no number: no error")
	}
}

// Small probabilities keep their digits: Phi(-8) = 6.22096e-16 (mathematical tables, to these
// digits also scipy), on either side and between two limits.
func TestSmallProbabilities(t *testing.T) {
	for _, l := range []conformity.Limits{conformity.AtLeast(8), conformity.AtMost(-8), conformity.Between(8, 100), conformity.Between(-100, -8)} {
		p, err := conformity.Probability(0, 1, 0, l.Lower, l.Upper)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "tail beyond 8 u", p, 6.22096e-16, 1e-21, "Phi(-8)")
	}
}

// Both thresholds belong to their decision.
func TestProbabilityThresholds(t *testing.T) {
	r := conformity.ByProbability{Accept: 0.95, Reject: 0.05}
	for p, want := range map[float64]conformity.Outcome{1: conformity.Met, 0.95: conformity.Met, 0.9499: conformity.Undecided, 0.5: conformity.Undecided, 0.0501: conformity.Undecided, 0.05: conformity.NotMet, 0: conformity.NotMet} {
		d, err := r.DecideProbability(p)
		if err != nil {
			t.Fatal(err)
		}
		if d.Outcome != want || d.Probability != p {
			t.Errorf("probability %v: %v at %v, want %v", p, d.Outcome, d.Probability, want)
		}
	}
}

// Printed per cents never make a threshold look reached that is not.
func TestPercent(t *testing.T) {
	for p, want := range map[float64]string{0.94999: "94.9 %", 0.95: "95.0 %", 0.05: "5.0 %", 0.0501: "5.1 %", 0.5: "50.0 %",
		0.9627: "96.2 %", 0.99995: "more than 99.9 %", 1: "more than 99.9 %", 0.0001: "less than 0.1 %", 0: "less than 0.1 %"} {
		if got := conformity.Percent(p); got != want {
			t.Errorf("Percent(%v) = %q, want %q", p, got, want)
		}
	}
}

func BenchmarkDecide(b *testing.B) {
	r := conformity.ByProbability{Accept: 0.95, Reject: 0.05}
	for b.Loop() {
		if _, err := r.Decide(conformity.Estimate{Value: 752, U: 1, Dof: 12}, conformity.AtLeast(750)); err != nil {
			b.Fatal(err)
		}
	}
}
