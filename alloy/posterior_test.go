package alloy

import (
	"bufio"
	"math"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
)

// checkRows returns the fields of each row of a table in testdata, comments left out.
func checkRows(t *testing.T, file string) [][]string {
	t.Helper()
	data, err := os.ReadFile("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]string
	scanner := bufio.NewScanner(strings.NewReader(string(data)))
	for scanner.Scan() {
		line := strings.TrimSpace(scanner.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		rows = append(rows, strings.Fields(strings.ReplaceAll(line, "|", " ")))
	}
	if len(rows) == 0 {
		t.Fatalf("testdata/%s has no rows", file)
	}
	return rows
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// near fails unless got lies within the tolerance of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.6g, want %.6g ± %g", what, got, want, tolerance)
	}
}

// between fails unless want lies from low to high.
func between(t *testing.T, what string, want, low, high float64) {
	t.Helper()
	if !(low <= want && want <= high) {
		t.Errorf("%s: want %.6g, got %.6g to %.6g", what, want, low, high)
	}
}

// testedFamilies builds the families of testdata/families-posterior.txt with zinc held at
// 8.612 cm³/mol, each also under its key + "/sampled" with the extremes of a finite set of recipes
// in place of the corners of the region.
var testedFamilies = sync.OnceValues(func() (map[string]*Family, error) {
	text, err := os.ReadFile("testdata/families-posterior.txt")
	if err != nil {
		return nil, err
	}
	list, err := parseFamilies(string(text))
	if err != nil {
		return nil, err
	}
	byKey := map[string]*Family{}
	for _, f := range list {
		f.table = f.build(buildOptions{zincMolarVolume: 8.612})
		byKey[f.Key] = f
		sampled := *f
		sampled.table = f.build(buildOptions{zincMolarVolume: 8.612, withoutCorners: true})
		byKey[f.Key+"/sampled"] = &sampled
	}
	return byKey, nil
})

func testedFamily(t *testing.T, key string) *Family {
	t.Helper()
	families, err := testedFamilies()
	if err != nil {
		t.Fatal(err)
	}
	f, ok := families[key]
	if !ok {
		t.Fatalf("no family %q", key)
	}
	return f
}

func TestPosteriorAgainstSimulation(t *testing.T) {
	const probability, ppt, pptFewDof = 0.001, 0.2, 0.4
	standards := []float64{.333, .375, .417, .585, .750, .8333, .875, .900, .9167, .958, .990, .999}
	for _, row := range checkRows(t, "posterior.txt") {
		t.Run(row[0], func(t *testing.T) {
			f := testedFamily(t, row[1])
			v := 1000 / number(t, row[2])
			o := Observation{V: v, U: v * number(t, row[3])}
			claim := number(t, row[4]) / 1000
			x := func(i int) float64 { return number(t, row[5+i]) }

			p, ok := f.Posterior(o, nil)
			if !ok {
				t.Fatal("out of reach")
			}
			near(t, "P(f >= claim)", p.AtLeast(claim), x(0), probability)
			for i, q := range []float64{.025, .05, .5, .975} {
				near(t, "quantile "+strconv.FormatFloat(q, 'g', -1, 64), 1000*p.Quantile(q), x(1+i), ppt)
			}
			// The check values are of a finite set of recipes, which only comes near to the corners
			// of the region: they lie between a coarse set (2^14 recipes) and the corners.
			low, high, ok := f.Range(o, 2, false)
			lowSampled, highSampled, okSampled := testedFamily(t, row[1]+"/sampled").Range(o, 2, false)
			if !ok || !okSampled {
				t.Error("no range")
			}
			between(t, "range, low", x(5), 1000*low-ppt, 1000*lowSampled+ppt)
			between(t, "range, high", x(6), 1000*highSampled-ppt, 1000*high+ppt)
			if low > lowSampled+1e-6 || high < highSampled-1e-6 || lowSampled-low > 0.001 || high-highSampled > 0.001 {
				t.Errorf("corners give %.5f to %.5f, the set %.5f to %.5f: want a little wider, by 0.001 at most", low, high, lowSampled, highSampled)
			}

			sceptic, ok := p.Weighted(Sceptic(claim, standards), claim)
			if !ok {
				t.Error("no sceptic probability")
			}
			near(t, "sceptic", sceptic, x(10), probability)
			trade, ok := p.Weighted(Trade(standards), claim)
			if !ok {
				t.Error("no trade probability")
			}
			near(t, "trade", trade, x(11), probability)
			next, ok := NextLower(standards, claim)
			if !ok {
				t.Error("no next lower standard")
			}
			near(t, "P(f >= claim - half gap)", p.AtLeast(claim-(claim-next)/2), x(12), probability)

			o.Dof = 2
			p, ok = f.Posterior(o, nil)
			if !ok {
				t.Fatal("out of reach")
			}
			for i, q := range []float64{.025, .05, .975} {
				near(t, "2 degrees of freedom, quantile "+strconv.FormatFloat(q, 'g', -1, 64), 1000*p.Quantile(q), x(7+i), pptFewDof)
			}
		})
	}
}
