package alloy

import (
	_ "embed"
	"math"
	"sync"
)

//go:embed data/pairs.csv
var pairsCSV []byte

// pair holds the excess volume of two metals A and B in one disordered phase,
// V_E = x_A x_B (L0 + L1 (x_A - x_B)) in cm³/mol (Redlich-Kister), and the standard uncertainty
// of the mixture's volume at x = 0.5 as a fraction.
type pair struct {
	a, b   string
	l0, l1 float64
	u      float64
	source string
}

type pairTable struct {
	list  []pair
	other pair // stands for every pair that is not listed
}

var loadPairs = sync.OnceValue(func() pairTable {
	var table pairTable
	for _, r := range readTable("pairs.csv", pairsCSV) {
		p := pair{
			a: r.text("a"), b: r.text("b"),
			l0: r.number("L0_cm3_per_mol"), l1: r.number("L1_cm3_per_mol"),
			u:      r.number("u_pct") / 100,
			source: r.text("source"),
		}
		if p.u == 0 {
			p.u = rmsOfBounds(r.number("low_pct")/100, r.number("high_pct")/100)
		}
		if p.a == "other" {
			table.other = p
			continue
		}
		table.list = append(table.list, p)
	}
	return table
})

// rmsOfBounds is the root mean square of an excess that lies anywhere between two bounds and is
// taken as 0 (JCGM 100:2008 4.3.7 with F.2.4.5: an uncorrected shift joins the uncertainty).
func rmsOfBounds(low, high float64) float64 {
	return math.Sqrt((low*low + low*high + high*high) / 3)
}

// Volumes of one mole of dissolved zinc in cm³/mol, and their standard uncertainties.
const (
	// ZincInCopper is derived from handbook densities of wrought alpha brass with 10 to 35 %
	// zinc: mean 8.44, standard deviation 0.06 (computed), rounded.
	ZincInCopper  = 8.45
	zincInCopperU = 0.10

	// ZincInSilver holds when silver is the main partner or nothing is known: size factors of
	// zinc in copper +17.1 %, in silver -13.6 % (King, J. Mater. Sci. 1966, 1, 79; memory).
	ZincInSilver  = 8.612
	zincInSilverU = 0.25

	// MostZinc is the largest mass fraction for which the volume of dissolved zinc is used:
	// 60/40 brass is the last alloy it was compared with.
	MostZinc = 0.40
)

// zincVolume returns the volume of a mole of zinc dissolved among copper and silver (masses in
// any unit): ZincInCopper where copper is at least equal to silver by mass, ZincInSilver where
// copper is at most a quarter of the two, linear between (chosen here, so that the density has
// no step). With neither copper nor silver it is ZincInSilver.
func zincVolume(copper, silver float64) (volume, u float64) {
	share := 0.0
	if copper+silver > 0 {
		share = copper / (copper + silver)
	}
	t := min(max((share-0.25)/0.25, 0), 1)
	return ZincInSilver + t*(ZincInCopper-ZincInSilver), zincInSilverU + t*(zincInCopperU-zincInSilverU)
}

// maxConstituents is the largest number of metals in one mixture.
const maxConstituents = 16

// solution mixes a fixed list of metals.
type solution struct {
	metals               []Metal
	amount               []float64 // mol per gram
	volume               []float64 // cm³/g at 20 °C
	pairs                []solutionPair
	zinc, copper, silver int     // places in the list, -1 when absent
	zincFixed            float64 // cm³/mol, 0: by surrounding
}

type solutionPair struct {
	a, b     int
	l0, l1   float64
	u        float64
	unmixing bool // silver and copper part when cooled slowly
}

func newSolution(metals []Metal, zincMolarVolume float64) *solution {
	s := &solution{metals: metals, zinc: -1, copper: -1, silver: -1, zincFixed: zincMolarVolume}
	for i, m := range metals {
		s.amount = append(s.amount, 1/m.AtomicMass)
		s.volume = append(s.volume, m.SpecificVolume())
		switch m.Symbol {
		case "Zn":
			s.zinc = i
		case "Cu":
			s.copper = i
		case "Ag":
			s.silver = i
		}
	}
	for i := range metals {
		for j := i + 1; j < len(metals); j++ {
			if i != s.zinc && j != s.zinc {
				s.pairs = append(s.pairs, pairOf(metals, i, j))
			}
		}
	}
	return s
}

func pairOf(metals []Metal, i, j int) solutionPair {
	table := loadPairs()
	a, b := metals[i].Symbol, metals[j].Symbol
	for _, p := range table.list {
		unmixing := p.a == "Ag" && p.b == "Cu"
		if p.a == a && p.b == b {
			return solutionPair{i, j, p.l0, p.l1, p.u, unmixing}
		}
		if p.a == b && p.b == a {
			return solutionPair{j, i, p.l0, p.l1, p.u, unmixing}
		}
	}
	return solutionPair{i, j, table.other.l0, table.other.l1, table.other.u, false}
}

// zincNow returns the volume of a mole of dissolved zinc in this mixture and its uncertainty.
func (s *solution) zincNow(w []float64) (volume, u float64) {
	var copper, silver float64
	if s.copper >= 0 {
		copper = w[s.copper]
	}
	if s.silver >= 0 {
		silver = w[s.silver]
	}
	volume, u = zincVolume(copper, silver)
	if s.zincFixed > 0 {
		return s.zincFixed, zincInSilverU
	}
	return volume, u
}

// ideal returns the specific volume in cm³/g at 20 °C if volumes of the pure metals added.
func (s *solution) ideal(w []float64) float64 {
	v := 0.0
	for i, wi := range w {
		v += wi * s.volume[i]
	}
	return v
}

// specificVolume returns the specific volume in cm³/g at 20 °C of the mixture with mass
// fractions w. Unmixed is the part of silver and copper that has parted, from 0 to 1.
//
// Ternary and higher: Muggianu, the binary terms with the mole fractions of the whole put in
// unchanged. It differs from Kohler's form by at most 0.003 g/cm³ in Au-Ag-Cu (computed).
func (s *solution) specificVolume(w []float64, unmixed float64) float64 {
	var x [maxConstituents]float64
	v, moles := 0.0, 0.0
	for i, wi := range w {
		x[i] = wi * s.amount[i]
		moles += x[i]
		v += wi * s.volume[i]
	}
	if s.zinc >= 0 && w[s.zinc] > 0 {
		zinc, _ := s.zincNow(w)
		v += x[s.zinc]*zinc - w[s.zinc]*s.volume[s.zinc]
	}
	excess := 0.0 // moles² × V_E
	for _, p := range s.pairs {
		e := x[p.a] * x[p.b] * (p.l0 + p.l1*(x[p.a]-x[p.b])/moles)
		if p.unmixing {
			e *= 1 - unmixed
		}
		excess += e
	}
	return v + excess/moles
}

// relU returns the relative standard uncertainty of the specific volume v of the mixture: of the
// end members, of the excess volume of each pair (falling as 4 x_A x_B), and of zinc.
func (s *solution) relU(w []float64, v float64) float64 {
	var x [maxConstituents]float64
	moles := 0.0
	for i, wi := range w {
		x[i] = wi * s.amount[i]
		moles += x[i]
	}
	variance := 0.0
	for i, m := range s.metals {
		u := w[i] * s.volume[i] / v * float64(m.U/m.Density)
		variance += u * u
	}
	for _, p := range s.pairs {
		u := 4 * x[p.a] * x[p.b] / (moles * moles) * p.u
		variance += u * u
	}
	if s.zinc >= 0 {
		_, uZinc := s.zincNow(w)
		u := x[s.zinc] * uZinc / v
		if w[s.zinc] > MostZinc {
			// The contraction is unknown here; it vanishes in pure zinc.
			zinc := x[s.zinc] / moles
			u = moles * zinc * (1 - zinc) * (s.metals[s.zinc].MolarVolume() - ZincInCopper) / v
		}
		variance += u * u
	}
	return math.Sqrt(variance)
}
