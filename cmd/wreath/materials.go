package main

import (
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"
	"text/tabwriter"

	"wreath/alloy"
	"wreath/fluid"
	"wreath/gem"
	"wreath/internal/determination"
	"wreath/quantity"
)

type materialsCmd struct {
	Table  tableName `arg:"" optional:"" help:"Which table; without it the tables are listed."`
	Match  string    `placeholder:"WORD" help:"Only rows that hold this word in any column, whatever its case."`
	Format string    `enum:"text,json" default:"text" help:"text for people, json for programs."`
}

func (materialsCmd) Help() string {
	return `Examples:

  wreath materials
  wreath materials metals --match platinum
  wreath materials standards --match vienna
  wreath materials look-alikes --match tungsten --format json

Every row names its source; json holds every column. In a source, seen means that the text was read when the table was made, memory that it was not, computed that the number follows by calculation, chosen here that nobody has published it.`
}

// tableName names one of the tables.
type tableName string

// Choices lists the names, for completion.
func (tableName) Choices() []string {
	var names []string
	for _, t := range tables {
		names = append(names, t.name)
	}
	return names
}

// table is one of the tables behind the numbers. Its rows are a slice of structs: the tag json
// names the column, the tag text:"-" keeps it for json, since it would not fit a page.
type table struct {
	name, about string
	rows        func() any
}

// tables lists all tables in the order they are printed.
var tables = []table{
	{"metals", "Pure metals: density, expansion, sound, conductivity.", metalRows},
	{"pairs", "Excess volume of two metals in one phase.", pairRows},
	{"families", "Alloy families: which recipes the trade melts under one name.", familyRows},
	{"recipes", "Published recipes with their densities.", recipeRows},
	{"standards", "Legal finenesses by list and metal.", standardRows},
	{"look-alikes", "What is met in place of a precious metal, or inside it.", lookAlikeRows},
	{"stones", "Gem species with density and refraction.", stoneRows},
	{"liquids", "Immersion liquids, and those to keep off the bench.", liquidRows},
	{"house-rules", "What a finding needs and how it is decided.", houseRuleRows},
	{"units", "Units of mass that are read.", unitRows},
}

// Run lists the tables, or prints one.
func (c *materialsCmd) Run(s *streams) error {
	if c.Table == "" {
		if c.Match != "" {
			return wrong("Name one: wreath materials metals --match "+strconv.Quote(c.Match)+".", "--match is given without a table")
		}
		return listTables(s.Out, c.Format)
	}
	for _, t := range tables {
		if t.name == string(c.Table) {
			return printTable(s.Out, t, c.Match, c.Format)
		}
	}
	return oneOf("table", string(c.Table), c.Table.Choices())
}

func listTables(w io.Writer, format string) error {
	type entry struct {
		Table string `json:"table"`
		Rows  int    `json:"rows"`
		About string `json:"about"`
	}
	var list []entry
	for _, t := range tables {
		list = append(list, entry{t.name, reflect.ValueOf(t.rows()).Len(), t.about})
	}
	if format == "json" {
		return writeJSON(w, list)
	}
	return writeRows(w, reflect.ValueOf(list))
}

// printedTable is a table in JSON.
type printedTable struct {
	Table string `json:"table"`
	About string `json:"about"`
	Rows  any    `json:"rows"`
}

func printTable(w io.Writer, t table, match, format string) error {
	all := reflect.ValueOf(t.rows())
	rows := reflect.MakeSlice(all.Type(), 0, all.Len())
	for i := range all.Len() {
		if holdsWord(all.Index(i), match) {
			rows = reflect.Append(rows, all.Index(i))
		}
	}
	if format == "json" {
		return writeJSON(w, printedTable{t.name, t.about, rows.Interface()})
	}
	if rows.Len() == 0 {
		_, err := fmt.Fprintf(w, "No row of %s holds %q.\n", t.name, match)
		return err
	}
	return writeRows(w, rows)
}

// holdsWord says whether a column of the row holds the word.
func holdsWord(row reflect.Value, word string) bool {
	for i := range row.NumField() {
		if strings.Contains(strings.ToLower(cell(row.Field(i))), strings.ToLower(word)) {
			return true
		}
	}
	return false
}

// writeRows prints a slice of structs in columns.
func writeRows(w io.Writer, rows reflect.Value) error {
	var b strings.Builder
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	columns := textColumns(rows.Type().Elem())
	for i, column := range columns {
		name, _, _ := strings.Cut(rows.Type().Elem().Field(column).Tag.Get("json"), ",")
		fmt.Fprintf(t, "%s%s", tabBefore(i), name)
	}
	fmt.Fprintln(t)
	for r := range rows.Len() {
		for i, column := range columns {
			fmt.Fprintf(t, "%s%s", tabBefore(i), cell(rows.Index(r).Field(column)))
		}
		fmt.Fprintln(t)
	}
	t.Flush()
	_, err := io.WriteString(w, b.String())
	return err
}

func textColumns(row reflect.Type) (columns []int) {
	for i := range row.NumField() {
		if row.Field(i).Tag.Get("text") != "-" {
			columns = append(columns, i)
		}
	}
	return columns
}

func tabBefore(i int) string {
	if i == 0 {
		return ""
	}
	return "\t"
}

// cell prints a value: a dash where it is not known.
func cell(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return "-"
		}
		return cell(v.Elem())
	case reflect.Float64:
		return strconv.FormatFloat(v.Float(), 'g', -1, 64)
	case reflect.Slice:
		var words []string
		for i := range v.Len() {
			words = append(words, cell(v.Index(i)))
		}
		return strings.Join(words, " ")
	case reflect.String:
		if v.Len() == 0 {
			return "-"
		}
	}
	return fmt.Sprint(v.Interface())
}

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
	ReachLow     *float64 `json:"can_be_made_from_kg_m3"`
	ReachHigh    *float64 `json:"can_be_made_to_kg_m3"`
	Source       string   `json:"source"`
}

func lookAlikeRows() any {
	var rows []lookAlikeRow
	for _, m := range alloy.Lookalikes() {
		rows = append(rows, lookAlikeRow{
			m.Key, m.Name, tidy(m.Low.KgPerM3()), tidy(m.High.KgPerM3()), known(m.Typical.KgPerM3()), m.Imitates,
			known(m.Sound), known(m.Conductivity), m.Magnetism, known(m.ReachLow.KgPerM3()), known(m.ReachHigh.KgPerM3()), m.Source,
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
