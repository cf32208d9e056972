package materials

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"wreath/alloy"
	"wreath/fault"
	"wreath/fluid"
	"wreath/gem"
	"wreath/internal/determination"
	"wreath/quantity"
)

// known is a number of a table, nil where the table has none (0).
func known(x float64) *float64 {
	if x == 0 {
		return nil
	}
	x = tidy(x)
	return &x
}

// tidy takes the last bits off that a change of units left.
func tidy(x float64) float64 { return significant(x, 12) }

func significant(x float64, digits int) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
	if err != nil || math.IsNaN(x) {
		return x
	}
	return y
}

func orEmpty(list []string) []string {
	if list == nil {
		return []string{}
	}
	return list
}

type metalRow struct {
	Symbol       string   `json:"symbol"`
	Name         string   `json:"name"`
	Density      float64  `json:"density_kg_m3"`
	U            float64  `json:"u_kg_m3"`
	XRay         *float64 `json:"xray_density_kg_m3"`
	AtomicMass   float64  `json:"atomic_mass_g_mol"`
	Expansion    *float64 `json:"expansion_per_k"`
	Sound        *float64 `json:"sound_m_s"`
	Conductivity *float64 `json:"conductivity_percent_iacs"`
	Magnetism    string   `json:"magnetism"`
	Note         string   `json:"note" text:"-"`
	Source       string   `json:"source"`
}

func metalRows() any {
	var rows []metalRow
	for _, m := range alloy.Metals() {
		rows = append(rows, metalRow{
			m.Symbol, m.Name, tidy(m.Density.KgPerM3()), tidy(m.U.KgPerM3()), known(m.XRayDensity.KgPerM3()), m.AtomicMass,
			known(float64(m.Expansion)), known(m.Sound), known(m.Conductivity), m.Magnetism, m.Note, m.Source,
		})
	}
	return rows
}

type pairRow struct {
	A      string   `json:"a"`
	B      string   `json:"b"`
	L0     *float64 `json:"l0_cm3_mol"` // null: no data, taken as 0
	L1     *float64 `json:"l1_cm3_mol"`
	U      float64  `json:"u_percent_of_volume"`
	Source string   `json:"source"`
}

func pairRows() any {
	var rows []pairRow
	for _, p := range alloy.Pairs() {
		row := pairRow{A: p.A, B: p.B, U: significant(100*p.U, 3), Source: p.Source}
		if p.L0 != 0 || p.L1 != 0 {
			row.L0, row.L1 = &p.L0, &p.L1
		}
		rows = append(rows, row)
	}
	return rows
}

type familyRow struct {
	Key        string   `json:"family"`
	Name       string   `json:"name"`
	Metal      string   `json:"metal"`
	Colour     string   `json:"colour"`
	Role       string   `json:"role"`
	Low        float64  `json:"from_ppt"`
	High       float64  `json:"to_ppt"`
	ModelU     float64  `json:"model_u_percent"`
	Neighbours []string `json:"neighbours" text:"-"`
	Usual      []string `json:"usual_recipes" text:"-"`
	Outer      []string `json:"rare_recipes" text:"-"`
	Source     string   `json:"source"`
}

func familyRows() any {
	var rows []familyRow
	for _, f := range alloy.Families() {
		rows = append(rows, familyRow{
			f.Key, f.Name, f.Metal, f.Colour, string(f.Role), tidy(1000 * f.Low), tidy(1000 * f.High), tidy(100 * f.ModelU),
			orEmpty(f.Neighbours), recipeBounds(f.Usual), recipeBounds(f.Outer), "model_u: " + f.ModelUFrom + "; " + boundsSources(f.Usual),
		})
	}
	return rows
}

// recipeBounds writes the bounds of a region: "at 750: Ag 0.4-0.7, Zn 0-0.08, Cu rest (source)".
func recipeBounds(region alloy.Region) []string {
	lines := []string{}
	for _, box := range region {
		for _, b := range box {
			var shares []string
			for _, s := range b.Shares {
				words := fmt.Sprintf("%s %g-%g", s.Symbol, s.Low, s.High)
				if s.Symbol == b.Rest {
					words = s.Symbol + " rest" + strings.TrimSuffix(fmt.Sprintf(" %g-%g", s.Low, s.High), " 0-1")
				}
				shares = append(shares, words)
			}
			at := "at any fineness"
			if b.Fineness > 0 {
				at = fmt.Sprintf("at %g", tidy(1000*b.Fineness))
			}
			if b.Unmixed.High > 0 {
				shares = append(shares, fmt.Sprintf("unmixed %g-%g", b.Unmixed.Low, b.Unmixed.High))
			}
			lines = append(lines, fmt.Sprintf("%s: %s (%s)", at, strings.Join(shares, ", "), b.Source))
		}
	}
	return lines
}

// boundsSources joins the sources of a region's bounds, each once.
func boundsSources(region alloy.Region) string {
	var sources []string
	for _, box := range region {
		for _, b := range box {
			words := "recipes: " + b.Source
			if len(sources) == 0 || sources[len(sources)-1] != words {
				sources = append(sources, words)
			}
		}
	}
	return strings.Join(sources, "; ")
}

type recipeRow struct {
	Name            string   `json:"name"`
	Colour          string   `json:"colour"`
	Parts           string   `json:"parts_ppt"`
	Published       string   `json:"published_kg_m3"`
	Quenched        *float64 `json:"model_quenched_kg_m3"`
	Unmixed         *float64 `json:"model_unmixed_kg_m3" text:"-"`
	Ideal           *float64 `json:"ideal_kg_m3" text:"-"`
	PublishedSource string   `json:"published_source" text:"-"`
	Note            string   `json:"note" text:"-"`
	Source          string   `json:"source"`
}

func recipeRows() any {
	var rows []recipeRow
	for _, r := range alloy.Recipes() {
		rows = append(rows, recipeRow{
			r.Name, r.Colour, r.Parts.String(), r.Published, known(r.Quenched.KgPerM3()), known(r.Unmixed.KgPerM3()), known(r.Ideal.KgPerM3()),
			r.PublishedSource, r.Note, r.Source,
		})
	}
	return rows
}

type standardRow struct {
	List   string   `json:"list"`
	Metal  string   `json:"metal"`
	Ppt    string   `json:"fineness_ppt"`
	Carat  string   `json:"carat"`
	Minus  *float64 `json:"minus_ppt"`
	Source string   `json:"source"`
}

func standardRows() any {
	var rows []standardRow
	for _, list := range alloy.StandardLists() {
		for _, metal := range []string{"gold", "silver", "platinum", "palladium"} {
			for _, s := range alloy.StandardsOf(list, metal) {
				rows = append(rows, standardRow{s.List, s.Metal, s.Printed, s.Carat, known(1000 * s.Minus), s.Source})
			}
		}
	}
	return rows
}

type lookAlikeRow struct {
	Key          string   `json:"key"`
	Name         string   `json:"name"`
	Low          float64  `json:"low_kg_m3"`
	High         float64  `json:"high_kg_m3"`
	Typical      *float64 `json:"typical_kg_m3" text:"-"`
	Imitates     string   `json:"imitates"`
	Sound        *float64 `json:"sound_m_s"`
	Conductivity *float64 `json:"conductivity_percent_iacs"`
	Magnetism    string   `json:"magnetism"`
	Magnet       []string `json:"magnet" text:"-"` // what a hand magnet may do; empty: not known
	Sort         string   `json:"sort" text:"-"`
	ReachLow     *float64 `json:"can_be_made_from_kg_m3"`
	ReachHigh    *float64 `json:"can_be_made_to_kg_m3"`
	Source       string   `json:"source"`
}

func lookAlikeRows() any {
	var rows []lookAlikeRow
	for _, m := range alloy.Lookalikes() {
		rows = append(rows, lookAlikeRow{
			m.Key, m.Name, tidy(m.Low.KgPerM3()), tidy(m.High.KgPerM3()), known(m.Typical.KgPerM3()), m.Imitates,
			known(m.Sound), known(m.Conductivity), m.Magnetism, orEmpty(m.Magnet), m.Sort, known(m.ReachLow.KgPerM3()), known(m.ReachHigh.KgPerM3()), m.Source,
		})
	}
	return rows
}

type stoneRow struct {
	Key            string   `json:"key"`
	Name           string   `json:"name"`
	Variety        string   `json:"variety"`
	Origin         string   `json:"origin"`
	Low            float64  `json:"low_g_cm3"`
	Typical        float64  `json:"typical_g_cm3"`
	High           float64  `json:"high_g_cm3"`
	RefractiveLow  *float64 `json:"refractive_low"`
	RefractiveHigh *float64 `json:"refractive_high"`
	Birefringence  *float64 `json:"birefringence"`
	Optic          string   `json:"optic_character" text:"-"`
	Hardness       string   `json:"hardness_mohs"`
	Bears          string   `json:"bears_liquid"`
	Caution        string   `json:"caution" text:"-"`
	Note           string   `json:"note" text:"-"`
	Source         string   `json:"source"`
}

func stoneRows() any {
	var rows []stoneRow
	for _, s := range gem.All() {
		rows = append(rows, stoneRow{
			s.Key, s.Name, s.Variety, string(s.Origin), s.Low.GramPerCm3(), s.Typical.GramPerCm3(), s.High.GramPerCm3(),
			known(s.RefractiveLow), known(s.RefractiveHigh), known(s.Birefringence), s.Optic, s.Hardness, string(s.Bears), s.Caution, s.Note, s.Source,
		})
	}
	return rows
}

type liquidRow struct {
	Key       string   `json:"key"`
	Name      string   `json:"name"`
	Density   float64  `json:"density_20c_kg_m3"`
	Expansion *float64 `json:"expansion_per_k"`
	Tension   *float64 `json:"surface_tension_mn_m"`
	Viscosity *float64 `json:"viscosity_mpa_s"`
	DoNotUse  bool     `json:"do_not_use"`
	Use       string   `json:"use"`
	Hazards   string   `json:"hazards"`
	Cautions  []string `json:"cautions" text:"-"`
	Source    string   `json:"source"`
}

func liquidRows() any {
	var rows []liquidRow
	for _, l := range fluid.Liquids {
		rows = append(rows, liquidRow{
			l.Key, l.Name, tidy(l.Density.KgPerM3()), known(float64(l.Expansion)), known(l.SurfaceTension), known(l.Viscosity),
			l.DoNotUse, l.Use, l.Hazards, orEmpty(l.Cautions()), l.Source,
		})
	}
	return rows
}

type solidRow struct {
	Material  string  `json:"material"`
	Expansion float64 `json:"cubic_expansion_per_k"`
	Source    string  `json:"source"`
}

func solidRows() any {
	var rows []solidRow
	for _, s := range fluid.Solids {
		rows = append(rows, solidRow{s.Material, tidy(float64(s.Expansion)), s.Source})
	}
	return rows
}

type freezingRow struct {
	MassPercent float64 `json:"ethanol_mass_percent"`
	Celsius     float64 `json:"freezing_c"`
	Source      string  `json:"source"`
}

func freezingRows() any {
	var rows []freezingRow
	for _, p := range fluid.FreezingLine {
		rows = append(rows, freezingRow{tidy(100 * p.MassFraction), significant(p.Celsius, 3), p.Source})
	}
	return rows
}

type cautionRow struct {
	Key     string `json:"key"`
	Name    string `json:"name"`
	Bears   string `json:"bears_liquid"`
	Caution string `json:"caution"`
	Source  string `json:"source"`
}

// cautionRows are the stones that do not bear every liquid.
func cautionRows() any {
	var rows []cautionRow
	for _, s := range gem.All() {
		if s.Caution != "" {
			rows = append(rows, cautionRow{s.Key, s.FullName(), string(s.Bears), s.Caution, s.CautionSource})
		}
	}
	return rows
}

type houseRuleRow struct {
	Key         string  `json:"key"`
	Version     int     `json:"version"`
	Name        string  `json:"name"`
	Immersions  int     `json:"immersions"`
	ClosingAir  bool    `json:"closing_air"`
	LiquidProof bool    `json:"liquid_proof"`
	Accept      float64 `json:"accept"`
	Reject      float64 `json:"reject"`
	Source      string  `json:"note"` // the note says where the rule is from
}

func houseRuleRows() any {
	var rows []houseRuleRow
	for _, r := range determination.HouseRules {
		rows = append(rows, houseRuleRow{r.Key, r.Version, r.Name, r.Immersions, r.ClosingAir, r.LiquidProof, r.Accept, r.Reject, r.Note})
	}
	return rows
}

type unitRow struct {
	Symbol string  `json:"symbol"`
	Name   string  `json:"name"`
	Gram   float64 `json:"gram"`
	Source string  `json:"source"`
}

func unitRows() any {
	var rows []unitRow
	for _, u := range quantity.MassUnits {
		rows = append(rows, unitRow{u.Symbol, u.Name, u.Gram, u.Source})
	}
	return rows
}

type faultRow struct {
	Key      string  `json:"key"`
	Cause    string  `json:"cause"`
	Weight   float64 `json:"weight"`
	Law      string  `json:"law"`
	First    float64 `json:"first"`
	Second   float64 `json:"second"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	Each     float64 `json:"each" text:"-"`
	Quantity string  `json:"size"`
	Unit     string  `json:"unit"`
	Settles  string  `json:"settles" text:"-"`
	Source   string  `json:"source"`
}

func faultRows() any {
	var rows []faultRow
	for _, f := range fault.Faults() {
		rows = append(rows, faultRow{f.Key, f.Cause, f.Weight, f.Law, f.First, f.Second, f.Low, f.High, f.Each, f.Quantity, f.Unit, f.Settles, f.Source})
	}
	return rows
}

type actionRow struct {
	Key         string  `json:"key"`
	Act         string  `json:"act"`
	Minutes     float64 `json:"minutes"`
	Cost        float64 `json:"cost_minutes"`
	Needs       string  `json:"needs"`
	Reliability float64 `json:"reliability"`
	Tells       string  `json:"tells"`
	Source      string  `json:"source"`
}

func actionRows() any {
	var rows []actionRow
	for _, a := range determination.Actions() {
		var tells []string
		for _, keys := range a.Tells {
			tells = append(tells, strings.Join(keys, " "))
		}
		rows = append(rows, actionRow{a.Key, a.Act, a.Minutes, a.Cost, a.Needs, a.Reliability, strings.Join(tells, " | "), a.Source})
	}
	return rows
}

type settlerRow struct {
	Key      string  `json:"key"`
	Act      string  `json:"act"`
	Hang     string  `json:"hang"`
	Ends     string  `json:"ends"`
	Leaves   float64 `json:"leaves"`
	Shows    string  `json:"shows"`
	Found    float64 `json:"found"`
	NotFound float64 `json:"not_found"`
	Takes    string  `json:"takes"`
	Source   string  `json:"source"`
}

func settlerRows() any {
	keys := func(kinds []fault.Kind) string {
		var words []string
		for _, k := range kinds {
			words = append(words, k.Key())
		}
		return strings.Join(words, " ")
	}
	var rows []settlerRow
	for _, s := range fault.Settlers() {
		rows = append(rows, settlerRow{s.Key, s.Act, s.Hang, keys(s.Ends), s.Leaves, keys(s.Shows), s.Found, s.NotFound, s.Takes, s.Source})
	}
	return rows
}
