package determination

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"wreath/alloy"

	"pgregory.net/rapid"
)

// with returns the ring with evidence as JSON.
func with(t *testing.T, d *Draft, evidence string) *Draft {
	t.Helper()
	if err := json.Unmarshal([]byte(evidence), &d.Evidence); err != nil {
		t.Fatal(err)
	}
	return d
}

const everything = `[
	{"kind": "magnet", "result": "none"},
	{"kind": "conductivity", "percent_iacs": 12.4},
	{"kind": "sound", "velocity_m_per_s": 3600},
	{"kind": "surface", "parts": [{"metal": "gold", "ppt": 752}, {"metal": "silver", "ppt": 125}, {"metal": "copper", "ppt": 123}]},
	{"kind": "touchstone", "fineness_ppt": 750},
	{"kind": "size", "length_mm": 20, "width_mm": 8.1, "thickness_mm": 3.1}]`

// Evidence that is switched off changes nothing but its own line.
func TestEvidenceThatIsOffIsAbsent(t *testing.T) {
	plain := evaluated(t, ring(t))
	d := with(t, ring(t), everything)
	for i := range d.Evidence {
		d.Evidence[i].Off = true
	}
	off := evaluated(t, d)
	if len(off.Evidence) != len(d.Evidence) {
		t.Fatalf("%d pieces, %d effects", len(d.Evidence), len(off.Evidence))
	}
	for _, x := range off.Evidence {
		if !x.Off || len(x.Contradicts) > 0 {
			t.Errorf("%s: off and yet %+v", x.Kind, x)
		}
	}
	off.Evidence = nil
	off.Assumed = slices.DeleteFunc(off.Assumed, func(a Assumption) bool { return strings.HasPrefix(a.Field, "evidence") })
	if !reflect.DeepEqual(plain, off) {
		a, _ := json.Marshal(plain)
		b, _ := json.Marshal(off)
		t.Errorf("the answers differ:\n%s\n%s", a, b)
	}
}

// The order in which evidence is given does not matter.
func TestOrderOfEvidenceIsIrrelevant(t *testing.T) {
	for _, list := range []string{everything, `[{"kind": "magnet", "result": "strong"}, {"kind": "sound", "velocity_m_per_s": 3400}, {"kind": "touchstone", "fineness_ppt": 585}, {"kind": "surface", "parts": [{"metal": "gold", "ppt": 750}]}]`} {
		first := evaluated(t, with(t, ring(t), list))
		d := with(t, ring(t), list)
		rng := rand.New(rand.NewPCG(1, 2))
		for range 5 {
			rng.Shuffle(len(d.Evidence), func(i, j int) { d.Evidence[i], d.Evidence[j] = d.Evidence[j], d.Evidence[i] })
			a := evaluated(t, d)
			for i := range first.Candidates {
				if math.Abs(*a.Candidates[i].ShareWithEvidence-*first.Candidates[i].ShareWithEvidence) > 1e-12 {
					t.Errorf("%s: %g and %g", a.Candidates[i].Name, *a.Candidates[i].ShareWithEvidence, *first.Candidates[i].ShareWithEvidence)
				}
			}
			if a.Finding.Result != first.Finding.Result {
				t.Errorf("the finding is %s and %s", a.Finding.Result, first.Finding.Result)
			}
		}
	}
}

// Evidence moves shares and hides nothing: the same candidates are listed, every one with more than
// no share, and none gains or loses more odds than the error rate allows.
func TestEvidenceNeverHidesNorProves(t *testing.T) {
	plain := evaluated(t, ring(t))
	for _, one := range []string{
		`[{"kind": "magnet", "result": "strong"}]`, `[{"kind": "conductivity", "ms_per_m": 45}]`, `[{"kind": "sound", "velocity_m_per_s": 2000}]`,
		`[{"kind": "surface", "parts": [{"metal": "copper", "ppt": 990}]}]`, `[{"kind": "touchstone", "metal": "gold", "fineness_ppt": 333}]`,
	} {
		a := evaluated(t, with(t, ring(t), one))
		if len(a.Candidates) != len(plain.Candidates) || !reflect.DeepEqual(a.Cautions, plain.Cautions) || !reflect.DeepEqual(a.NeverExcluded, plain.NeverExcluded) {
			t.Errorf("%s: candidates, cautions or words about twins are gone", one)
		}
		rate := a.Evidence[0].ErrorRate
		for i := range a.Candidates {
			before, after := &plain.Candidates[i], &a.Candidates[i]
			if before.Name != after.Name || before.Share != after.Share || before.Fits != after.Fits {
				t.Fatalf("%s: %s became %s", one, before.Name, after.Name)
			}
			if !after.Fits || before.Share < 1e-12 {
				continue
			}
			ratio := *after.ShareWithEvidence / before.Share
			for j := range a.Candidates {
				if other := &a.Candidates[j]; other.Fits && other.Share > 1e-12 {
					if odds := ratio / (*other.ShareWithEvidence / other.Share); odds > 1/rate*1.0001 {
						t.Errorf("%s: the odds of %s against %s move %.3g times, the error rate is %g", one, after.Name, other.Name, odds, rate)
					}
				}
			}
		}
	}
}

// Two tests of one group mislead together: a second look at the same skin adds nothing to the first.
func TestTestsOfOneGroupCountOnce(t *testing.T) {
	once := evaluated(t, with(t, ring(t), `[{"kind": "magnet", "result": "strong"}]`))
	twice := evaluated(t, with(t, ring(t), `[{"kind": "magnet", "result": "strong"}, {"kind": "magnet", "result": "strong"}]`))
	for i := range once.Candidates {
		if math.Abs(*once.Candidates[i].ShareWithEvidence-*twice.Candidates[i].ShareWithEvidence) > 1e-12 {
			t.Errorf("%s: %g after one try, %g after two", once.Candidates[i].Name, *once.Candidates[i].ShareWithEvidence, *twice.Candidates[i].ShareWithEvidence)
		}
	}
}

// A contradiction is said and holds the finding back; the shares beside it are not a mean of the two.
func TestContradictionsHoldTheFindingBack(t *testing.T) {
	if a := evaluated(t, ring(t)); a.Finding.Result != "met" {
		t.Fatalf("the ring alone is %s", a.Finding.Result)
	}
	if a := evaluated(t, with(t, ring(t), everything)); a.Finding.Result != "met" {
		t.Errorf("with evidence that agrees it is %s: %+v", a.Finding.Result, a.Doubts)
	}
	for _, row := range []struct{ evidence, kind, against string }{
		{`[{"kind": "magnet", "result": "strong"}]`, "magnet", "claim"},
		{`[{"kind": "sound", "velocity_m_per_s": 4900}]`, "sound", "claim"},
		{`[{"kind": "sound", "velocity_m_per_s": 2200}]`, "sound", "density"},
		{`[{"kind": "surface", "parts": [{"metal": "copper", "ppt": 700}, {"metal": "zinc", "ppt": 300}]}]`, "surface", "density"},
		{`[{"kind": "size", "length_mm": 14, "width_mm": 8.1, "thickness_mm": 3.1}]`, "size", "density"},
		{`[{"kind": "size", "length_mm": 60, "width_mm": 20, "thickness_mm": 3.1}]`, "size", "density"},
		{`[{"kind": "magnet", "result": "strong"}, {"kind": "conductivity", "percent_iacs": 46}]`, "conductivity", "magnet"},
	} {
		a := evaluated(t, with(t, ring(t), row.evidence))
		i := slices.IndexFunc(a.Evidence, func(x EvidenceEffect) bool { return x.Kind == row.kind })
		if x := a.Evidence[i]; !slices.Contains(x.Contradicts, row.against) || x.Contradiction == "" {
			t.Errorf("%s: contradicts %q, %q; %s was expected", row.evidence, x.Contradicts, x.Contradiction, row.against)
		}
		if a.Finding.Result != "undecided" || a.Finding.WouldBe != "met" {
			t.Errorf("%s: the finding is %s, would be %q", row.evidence, a.Finding.Result, a.Finding.WouldBe)
		}
		if !slices.ContainsFunc(a.Doubts, func(d Doubt) bool { return d.Suspends && strings.HasPrefix(d.Cause, "evidence contradicts") }) {
			t.Errorf("%s: no doubt names it: %+v", row.evidence, a.Doubts)
		}
	}
}

// Where evidence contradicts, the next step is to try it again; what was tested is not proposed anew.
func TestNextStepAfterEvidence(t *testing.T) {
	a := evaluated(t, with(t, ring(t), `[{"kind": "magnet", "result": "none"}, {"kind": "sound", "velocity_m_per_s": 2200}]`))
	if a.Next == nil || a.Next.Key != "sound" || a.Next.Minutes <= 0 || !(a.Next.Settles >= 0 && a.Next.Settles <= 1) {
		t.Errorf("%+v", a.Next)
	}
	if actionByKey("sound") == nil {
		t.Error("no act is called sound")
	}
	for kind, act := range actionOf {
		if !slices.Contains(EvidenceKinds, kind) || actionByKey(act) == nil {
			t.Errorf("%s is given by %s", kind, act)
		}
	}
	e := judged(t, with(t, claimOf("gold", 750, ""), `[{"kind": "magnet", "result": "none"}, {"kind": "touchstone", "fineness_ppt": 750, "off": true}]`), 15.4, 0.001)
	e.draft.AtHand = []string{"magnet", "touchstone"}
	if e.can(actionByKey("magnet")) {
		t.Error("the magnet is proposed again")
	}
	if !e.can(actionByKey("touchstone")) {
		t.Error("a touchstone that is switched off counts as done")
	}
}

// A bar of 19.25 g/cm³ sold as fine gold: density leaves tungsten, sound and conductivity do not, and
// yet the core and the words stay.
func TestTungstenBar(t *testing.T) {
	d := claimOf("gold", 999, "gold-fine")
	with(t, d, `[{"kind": "sound", "echo_us": 1.235, "thickness_mm": 2}, {"kind": "conductivity", "percent_iacs": 76}]`)
	e := judged(t, d, 19.27, 0.002)
	w, gold, core := e.leafNamed(t, "tungsten, wrought"), e.leafNamed(t, "fine gold 999"), e.leafNamed(t, "dense core (tungsten or lead with a lighter metal) under plate")
	before, after := w.Share/gold.Share, *w.ShareWithEvidence / *gold.ShareWithEvidence
	if after > before/500 {
		t.Errorf("tungsten against gold: %.3g before, %.3g after sound and conductivity of gold", before, after)
	}
	if !core.Fits || *core.ShareWithEvidence < core.Share {
		t.Errorf("the core holds %g of %g: a test at one place says nothing of it", *core.ShareWithEvidence, core.Share)
	}
	if !strings.Contains(strings.Join(e.answer.NeverExcluded, " "), "Tungsten in fine gold") {
		t.Error("the words about tungsten are gone")
	}
}

// Calibration: the truth is drawn by the shares that density gives, and a touchstone reads it, a few
// times in a hundred anything at all. Of candidates to which density and touchstone together give
// about 0.9, at least that many are true. More may be: error rates are taken for worse than they are.
func TestSharesDoNotOverstate(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	said, right, n := 0.0, 0.0, 0.0
	for range 3000 {
		d := &Draft{Item: &Item{Colour: "yellow"}}
		density := []float64{15.4, 13.3, 11.4, 17.2}[rng.IntN(4)] * (1 + 0.01*rng.NormFloat64())
		prior := judged(t, d, density, 0.01)
		u, sum, truth := rng.Float64(), 0.0, 0
		for truth = range prior.leaves {
			if sum += prior.leaves[truth].Share; u < sum {
				break
			}
		}
		is := &prior.leaves[truth]
		read := 750.0 // under plate
		if is.family != nil {
			read = is.Fineness + 20*rng.NormFloat64()
		}
		if rng.Float64() < 0.05 {
			read = 300 + 700*rng.Float64()
		}
		read = math.Min(math.Max(read, 40), 1000)
		d.Evidence = []Evidence{{Kind: "touchstone", Metal: "gold", FinenessPpt: &read}}
		e := judged(t, d, density, 0.01)
		for i := range e.leaves {
			if s := *e.leaves[i].ShareWithEvidence; s >= 0.85 && s <= 0.95 {
				said, n = said+s, n+1
				if i == truth {
					right++
				}
			}
		}
	}
	if n < 200 {
		t.Fatalf("only %g cases are given about 0.9", n)
	}
	t.Logf("%g cases given %.3f on average, %.3f are true", n, said/n, right/n)
	if right/n < said/n-0.03 {
		t.Errorf("of %g cases given %.3f on average, %.3f are true", n, said/n, right/n)
	}
}

// Impossible and misplaced evidence is refused with the field and a way out.
func TestBadEvidence(t *testing.T) {
	for _, row := range [][2]string{
		{`[{"result": "none"}]`, "evidence[0].kind"},
		{`[{"kind": "magnetism", "result": "none"}]`, "evidence[0].kind"},
		{`[{"kind": "magnet"}]`, "evidence[0].result"},
		{`[{"kind": "magnet", "result": "some"}]`, "evidence[0].result"},
		{`[{"kind": "magnet", "result": "none", "percent_iacs": 12}]`, "evidence[0].percent_iacs"},
		{`[{"kind": "conductivity"}]`, "evidence[0].percent_iacs"},
		{`[{"kind": "conductivity", "percent_iacs": 12, "ms_per_m": 7}]`, "evidence[0].ms_per_m"},
		{`[{"kind": "conductivity", "percent_iacs": 400}]`, "evidence[0].percent_iacs"},
		{`[{"kind": "sound", "velocity_m_per_s": 3.2}]`, "evidence[0].velocity_m_per_s"},
		{`[{"kind": "sound", "echo_us": 1.2}]`, "evidence[0].velocity_m_per_s"},
		{`[{"kind": "sound", "echo_us": 120, "thickness_mm": 2}]`, "evidence[0].echo_us"},
		{`[{"kind": "size", "diameter_mm": 20}]`, "evidence[0].thickness_mm"},
		{`[{"kind": "size", "thickness_mm": 2}]`, "evidence[0].diameter_mm"},
		{`[{"kind": "size", "diameter_mm": 2, "thickness_mm": 20}]`, "evidence[0].thickness_mm"},
		{`[{"kind": "size", "diameter_mm": 20, "length_mm": 20, "width_mm": 3, "thickness_mm": 2}]`, "evidence[0]"},
		{`[{"kind": "size", "length_mm": 20}]`, "evidence[0]"},
		{`[{"kind": "size", "length_mm": 2, "width_mm": 3, "thickness_mm": 2}]`, "evidence[0]"},
		{`[{"kind": "size", "diameter_mm": -3, "thickness_mm": 2}]`, "evidence[0].diameter_mm"},
		{`[{"kind": "surface"}]`, "evidence[0].parts"},
		{`[{"kind": "surface", "parts": [{"metal": "gold"}]}]`, "evidence[0].parts[0]"},
		{`[{"kind": "surface", "parts": [{"metal": "golt", "ppt": 750}]}]`, "evidence[0].parts[0].metal"},
		{`[{"kind": "surface", "parts": [{"metal": "gold", "ppt": 750}, {"metal": "copper", "ppt": 750}]}]`, "evidence[0].parts"},
		{`[{"kind": "surface", "parts": [{"metal": "gold", "ppt": 350}, {"metal": "gold", "ppt": 350}]}]`, "evidence[0].parts[1].metal"},
		{`[{"kind": "touchstone"}]`, "evidence[0].fineness_ppt"},
		{`[{"kind": "touchstone", "fineness_ppt": 7500}]`, "evidence[0].fineness_ppt"},
		{`[{"kind": "refraction"}]`, "evidence[0].index"},
		{`[{"kind": "refraction", "index": [17.6]}]`, "evidence[0].index[0]"},
		{`[{"kind": "refraction", "index": [1.76], "index_above": 1.8}]`, "evidence[0].index_above"},
		{`[{"kind": "refraction", "index": [1.6, 1.7], "birefringence": 0.01}]`, "evidence[0].birefringence"},
	} {
		_, err := Evaluate(with(t, ring(t), row[0]), Options{MonteCarlo: WhereNeeded})
		var bad *InputError
		if err == nil {
			t.Errorf("%s is taken", row[0])
			continue
		}
		bad, _ = err.(*InputError)
		if bad == nil || bad.Path != row[1] || bad.Hint == "" || bad.Reason == "" {
			t.Errorf("%s: %+v, want the field %s", row[0], err, row[1])
		}
	}
}

// The fields that each kind takes are fields of the draft.
func TestFieldsOfEvidenceExist(t *testing.T) {
	known := map[string]bool{}
	for i := range reflect.TypeFor[Evidence]().NumField() {
		known[reflect.TypeFor[Evidence]().Field(i).Tag.Get("json")] = true
	}
	taken := map[string]bool{"kind": true, "off": true}
	for kind, fields := range fieldsOf {
		if !slices.Contains(EvidenceKinds, kind) {
			t.Errorf("no kind %s", kind)
		}
		for _, f := range fields {
			taken[f] = true
			if !known[f] {
				t.Errorf("%s takes %s, which no draft has", kind, f)
			}
		}
	}
	for f := range known {
		if !taken[f] {
			t.Errorf("no kind takes %s", f)
		}
	}
}

// BenchmarkDetermineWithEvidence: a full determination with six pieces of evidence.
func BenchmarkDetermineWithEvidence(b *testing.B) {
	d := ring(b)
	d.Item.Colour, d.Claim.Family = "", ""
	if err := json.Unmarshal([]byte(everything), &d.Evidence); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Evaluate(d, Options{MonteCarlo: WhereNeeded}); err != nil {
			b.Fatal(err)
		}
	}
}

// Whatever is measured, shares are shares, the list stays, and what is switched off is absent.
func TestAnyEvidence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := func(low, high float64, name string) *float64 {
			x := rapid.Float64Range(low, high).Draw(t, name)
			return &x
		}
		one := rapid.Custom(func(t *rapid.T) Evidence {
			x := Evidence{Kind: rapid.SampledFrom(EvidenceKinds).Draw(t, "kind"), Off: rapid.Bool().Draw(t, "off")}
			switch x.Kind {
			case "size":
				x.DiameterMM, x.ThicknessMM = number(25, 40, "diameter"), number(1.5, 6, "thickness")
			case "magnet":
				x.Result = rapid.SampledFrom([]string{"none", "weak", "strong"}).Draw(t, "result")
			case "conductivity":
				x.PercentIACS = number(0.5, 110, "iacs")
			case "sound":
				x.VelocityMPerS = number(1000, 7000, "velocity")
			case "surface":
				x.Parts = []SurfacePart{{"gold", number(0, 600, "gold")}, {"nickel", number(0, 300, "nickel")}}
			case "touchstone":
				x.Metal, x.FinenessPpt = "gold", number(300, 1000, "fineness")
			case "refraction":
				x.Index = []float64{*number(1.4, 2.5, "index")}
			}
			return x
		})
		d := &Draft{Evidence: rapid.SliceOfN(one, 1, 5).Draw(t, "evidence")}
		switch rapid.IntRange(0, 2).Draw(t, "claim") {
		case 1:
			d.Claim = claimOf("gold", 750, "").Claim
		case 2:
			d.Claim = &Claim{Stone: "diamond"}
		}
		density, u := rapid.Float64Range(1.1, 22.5).Draw(t, "density"), rapid.Float64Range(1e-4, 0.05).Draw(t, "u")
		judge := func(d *Draft) *evaluation {
			e := &evaluation{draft: d, answer: &Answer{TrueMassG: 15}, fits: fitsWithin, k2: 2}
			e.observation = alloy.Observation{V: 1 / density, U: u / density, Dof: math.Inf(1)}
			c, err := e.resolveClaim()
			if err == nil {
				err = e.candidates(c)
			}
			if err != nil {
				t.Fatal(err)
			}
			return e
		}
		e := judge(d)
		sum, fitting, on := 0.0, 0, false
		for _, x := range d.Evidence {
			on = on || !x.Off
		}
		for i := range e.leaves {
			l := &e.leaves[i]
			if l.Fits {
				fitting++
			}
			if (l.ShareWithEvidence != nil) != on {
				t.Fatalf("%s: evidence on %v, and its share is %v", l.Name, on, l.ShareWithEvidence)
			}
			if on {
				sum += *l.ShareWithEvidence
				if l.Share > 0 && *l.ShareWithEvidence == 0 {
					t.Errorf("%s is hidden by evidence", l.Name)
				}
			}
		}
		if on && fitting > 0 && math.Abs(sum-1) > 1e-9 {
			t.Errorf("shares add up to %g", sum)
		}
		without := *d
		without.Evidence = slices.DeleteFunc(slices.Clone(d.Evidence), func(x Evidence) bool { return x.Off })
		other := judge(&without)
		for i := range e.leaves {
			if a, b := e.leaves[i].ShareWithEvidence, other.leaves[i].ShareWithEvidence; (a == nil) != (b == nil) || a != nil && *a != *b {
				t.Errorf("%s: what is off moves its share", e.leaves[i].Name)
			}
		}
	})
}
