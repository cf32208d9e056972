// Package materials shows the tables behind the numbers as rows of columns, each row with its source,
// for the command line and for the pages.
package materials

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
)

// Table is one of the tables. Its rows are a slice of structs: the tag json names the column, the tag
// text:"-" keeps it for JSON, since it would not fit a page.
type Table struct {
	Name, About string
	Rows        func() any
}

// Tables lists all tables in the order they are shown.
var Tables = []Table{
	{"metals", "Pure metals: density, expansion, sound, conductivity.", metalRows},
	{"pairs", "Excess volume of two metals in one phase.", pairRows},
	{"families", "Alloy families: which recipes the trade melts under one name.", familyRows},
	{"recipes", "Published recipes with their densities.", recipeRows},
	{"standards", "Legal finenesses by list and metal.", standardRows},
	{"look-alikes", "What is met in place of a precious metal, or inside it.", lookAlikeRows},
	{"types", "Types of coins and bars: legal mass, size, fineness and tolerance.", typeRows},
	{"tests", "Kinds of further evidence: how often each misleads, and what it sees.", testRows},
	{"conductivities", "Conductivity of alloys, where it is known.", conductivityRows},
	{"weightings", "Weightings that the shares of candidates rest on.", weightingRows},
	{"stones", "Gem species with density and refraction.", stoneRows},
	{"liquids", "Immersion liquids, and those to keep off the bench.", liquidRows},
	{"solids", "Expansion of what sinkers, vessels, hangers and check pieces are made of.", solidRows},
	{"freezing", "Where ice begins to form in ethanol and water.", freezingRows},
	{"cautions", "Stones that a liquid can harm, and what they bear.", cautionRows},
	{"house-rules", "What a finding needs and how it is decided.", houseRuleRows},
	{"faults", "What may be wrong with a weighing or an item, how often and how large.", faultRows},
	{"actions", "What to do next, and what each act tells.", actionRows},
	{"settlers", "What can be done between readings, and which faults it ends or shows.", settlerRows},
	{"units", "Units of mass that are read.", unitRows},
}

// ByName finds a table.
func ByName(name string) (Table, bool) {
	for _, t := range Tables {
		if t.Name == name {
			return t, true
		}
	}
	return Table{}, false
}

// Shown is a table as it is shown: the names of its columns, and its cells.
type Shown struct {
	Columns []string
	Cells   [][]string
}

// Match keeps the rows of a table in which a column holds the word, whatever its case; "" keeps all.
func (t Table) Match(word string) reflect.Value {
	all := reflect.ValueOf(t.Rows())
	rows := reflect.MakeSlice(all.Type(), 0, all.Len())
	for i := range all.Len() {
		if holdsWord(all.Index(i), word) {
			rows = reflect.Append(rows, all.Index(i))
		}
	}
	return rows
}

// Show lays rows out in columns.
func Show(rows reflect.Value) Shown {
	var out Shown
	columns := textColumns(rows.Type().Elem())
	for _, column := range columns {
		name, _, _ := strings.Cut(rows.Type().Elem().Field(column).Tag.Get("json"), ",")
		out.Columns = append(out.Columns, name)
	}
	for r := range rows.Len() {
		var cells []string
		for _, column := range columns {
			cells = append(cells, cell(rows.Index(r).Field(column)))
		}
		out.Cells = append(out.Cells, cells)
	}
	return out
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

func textColumns(row reflect.Type) (columns []int) {
	for i := range row.NumField() {
		if row.Field(i).Tag.Get("text") != "-" {
			columns = append(columns, i)
		}
	}
	return columns
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
