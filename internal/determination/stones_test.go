package determination

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"wreath/gem"
)

// A stone of 3.995 ± 0.006 g/cm³ said to be corundum, by density and then with indices of 1.762 and
// 1.770 and a birefringence of 0.008. Computed by an independent prototype in Python (standard library,
// from the tables of stones and weightings, with Φ by erf).
func TestSharesOfStones(t *testing.T) {
	d := &Draft{Claim: &Claim{Stone: "corundum"}}
	with(t, d, `[{"kind": "refraction", "index": [1.762, 1.770], "birefringence": 0.008}]`)
	e := judged(t, d, 3.995, 0.006/3.995)
	for key, want := range map[string][2]float64{
		"corundum": {0.986660, 0.998188}, "zircon-low": {0.003185, 0.000064}, "almandine": {0.002192, 0.000044},
		"malachite": {0.001555, 0.001573}, "sphalerite": {0.003837, 0.000078}, "glass-lead": {0.002570, 0.000052},
	} {
		s, ok := gem.ByKey(key)
		if !ok {
			t.Fatal(key)
		}
		l := e.leafNamed(t, s.FullName())
		if math.Abs(l.Share-want[0]) > 2e-6 || math.Abs(*l.ShareWithEvidence-want[1]) > 2e-6 {
			t.Errorf("%s: %.6f and %.6f, the prototype has %.6f and %.6f", key, l.Share, *l.ShareWithEvidence, want[0], want[1])
		}
	}
}

// Diamond at 3.52 g/cm³: topaz and sphene share the density and are listed; the index that is off the
// scale speaks against topaz, the birefringence against sphene, and neither is hidden for it.
func TestOverlapsOfStonesAreListed(t *testing.T) {
	d := &Draft{Claim: &Claim{Stone: "diamond"}}
	plain := judged(t, d, 3.52, 0.001)
	for _, name := range []string{"diamond", "topaz", "sphene (titanite)", "glass (lead strass)"} {
		if l := plain.leafNamed(t, name); !l.Fits {
			t.Errorf("%s does not fit", name)
		}
	}
	with(t, d, `[{"kind": "refraction", "index_above": 1.81}]`)
	e := judged(t, d, 3.52, 0.001)
	if names(e) != names(plain) {
		t.Errorf("with refraction other stones are listed: %s", names(e))
	}
	ratio := func(name string) float64 {
		l := e.leafNamed(t, name)
		return *l.ShareWithEvidence / l.Share
	}
	if ratio("topaz") > 0.05*ratio("diamond") || math.Abs(ratio("sphene (titanite)")/ratio("diamond")-1) > 1e-9 {
		t.Errorf("beyond the scale: diamond %.3g, topaz %.3g, sphene %.3g", ratio("diamond"), ratio("topaz"), ratio("sphene (titanite)"))
	}
}

func TestFindingOfStones(t *testing.T) {
	data, err := os.ReadFile("../../examples/stone.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct{ evidence, says, contradicts string }{
		{`[]`, "Measure the refractive index next", ""},
		{`[{"kind": "refraction", "index": [1.762, 1.770], "birefringence": 0.008}]`, "Density and refraction are those of corundum", ""},
		{`[{"kind": "refraction", "index": [1.65]}]`, "contradicts", "claim"},
		{`[{"kind": "refraction", "index": [1.45]}]`, "contradicts", "density"},
	} {
		d, err := Decode(data)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal([]byte(row.evidence), &d.Evidence); err != nil {
			t.Fatal(err)
		}
		a := evaluated(t, d)
		if a.Finding.Result != "undecided" || !strings.Contains(a.Finding.Sentence, row.says) {
			t.Errorf("%s: %s: %s", row.evidence, a.Finding.Result, a.Finding.Sentence)
		}
		if row.contradicts != "" && !strings.Contains(strings.Join(a.Evidence[0].Contradicts, " "), row.contradicts) {
			t.Errorf("%s contradicts %q", row.evidence, a.Evidence[0].Contradicts)
		}
	}
}
