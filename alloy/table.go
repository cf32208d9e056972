package alloy

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"runtime"
	"slices"
	"sort"
	"sync"
)

//go:embed data/tables.bin
var tablesBinary []byte

// Weights of the two regions of recipes (chosen here, untested).
const (
	UsualWeight = 0.95
	OuterWeight = 0.05
)

// table holds the specific volumes of a family in cm³/g over a grid of finenesses: at the
// quantile nodes of the usual and of the outer recipes, then the least and the largest over the
// usual and over all recipes.
type table struct {
	grid         []float64
	bends        []bool    // rows where bounds of recipes bend
	usual, outer int       // numbers of nodes
	weights      []float64 // of the usual, then of the outer nodes; they add up to 1
	usualWeights []float64 // of the usual nodes alone; they add up to 1
	widest       []float32 // the widest cell between usual nodes of each row
	bands        [2]bands  // of the usual and of all recipes
	data         []float32 // row by row
	low, high    float64   // over the whole table
}

// bands holds the least and the largest specific volume of each row, and whether both fall from
// row to row, as they do in all families but those with a metal denser than the precious one.
type bands struct {
	low, high []float64
	falling   bool
}

// overlap returns the first and the last row whose band reaches into from to to; first > last when
// there is none.
func (b *bands) overlap(from, to float64) (first, last int) {
	n := len(b.low)
	if b.falling {
		first = sort.Search(n, func(i int) bool { return b.low[i] <= to })
		last = sort.Search(n, func(i int) bool { return b.high[i] < from }) - 1
		return first, last
	}
	for first < n && (b.low[first] > to || b.high[first] < from) {
		first++
	}
	last = n - 1
	for last >= first && (b.low[last] > to || b.high[last] < from) {
		last--
	}
	return first, last
}

// newTable returns an empty table for a grid and regions.
func newTable(grid []float64, usual, outer Region) *table {
	t := &table{grid: grid, bends: bent(grid, usual, outer), usual: usualNodes, outer: outerNodes}
	if single(usual) {
		t.usual = 1
	}
	if len(outer) == 0 {
		t.outer = 0
	}
	t.data = make([]float32, len(grid)*t.stride())
	usualWeight := UsualWeight
	if t.outer == 0 {
		usualWeight = 1
	}
	_, w := gaussLegendre(t.usual)
	t.usualWeights = w
	for _, x := range w {
		t.weights = append(t.weights, usualWeight*x)
	}
	if t.outer > 0 {
		_, w = gaussLegendre(t.outer)
		for _, x := range w {
			t.weights = append(t.weights, OuterWeight*x)
		}
	}
	return t
}

// bent marks the rows for which bounds are printed, if the bounds change at all.
func bent(grid []float64, regions ...Region) []bool {
	marks := make([]bool, len(grid))
	for _, region := range regions {
		for _, box := range region {
			for _, bounds := range box {
				if i, found := slices.BinarySearch(grid, bounds.Fineness); found && len(box) > 1 {
					marks[i] = true
				}
			}
		}
	}
	return marks
}

// single says whether a region is one recipe.
func single(region Region) bool {
	if len(region) != 1 {
		return false
	}
	for _, bounds := range region[0] {
		free := bounds.Unmixed.High > bounds.Unmixed.Low
		for _, share := range bounds.Shares {
			free = free || (share.Symbol != bounds.Rest && share.High > share.Low)
		}
		if free {
			return false
		}
	}
	return len(region[0]) == 1
}

func (t *table) stride() int { return t.usual + t.outer + 4 }

func (t *table) row(i int) []float32 {
	n := t.stride()
	return t.data[i*n : (i+1)*n : (i+1)*n]
}

// band returns the least and the largest specific volume in row i.
func (t *table) band(i int, outer bool) (low, high float64) {
	b := &t.bands[0]
	if outer {
		b = &t.bands[1]
	}
	return b.low[i], b.high[i]
}

// finish notes the reach of the table.
func (t *table) finish() {
	t.low, t.high = math.Inf(1), math.Inf(-1)
	t.widest = make([]float32, len(t.grid))
	t.bands = [2]bands{{falling: true}, {falling: true}}
	for i := range t.grid {
		row := t.row(i)[t.usual+t.outer:]
		for k := range t.bands {
			t.bands[k].low = append(t.bands[k].low, float64(row[2*k]))
			t.bands[k].high = append(t.bands[k].high, float64(row[2*k+1]))
			if b := &t.bands[k]; i > 0 && (b.low[i] > b.low[i-1] || b.high[i] > b.high[i-1]) {
				b.falling = false
			}
		}
		for k := 1; k < t.usual; k++ {
			t.widest[i] = max(t.widest[i], t.row(i)[k]-t.row(i)[k-1])
		}
		low, high := t.band(i, true)
		t.low, t.high = min(t.low, low), max(t.high, high)
	}
}

// place returns the row at or below a fineness and how far the fineness is on the way to the
// next row, from 0 to 1; false outside the grid.
func (t *table) place(fineness float64) (i int, part float64, ok bool) {
	last := len(t.grid) - 1
	if !(fineness >= t.grid[0] && fineness <= t.grid[last]) {
		return 0, 0, false
	}
	i = sort.SearchFloat64s(t.grid, fineness)
	if i > 0 && t.grid[i] != fineness {
		i--
	}
	if i == last {
		i--
	}
	return i, (fineness - t.grid[i]) / (t.grid[i+1] - t.grid[i]), true
}

const tablesMagic = "alloy tables 1\n\x00"

// tablesHash covers everything from which the tables are built, except the code.
func tablesHash() [32]byte {
	var all bytes.Buffer
	all.Write(elementsCSV)
	all.Write(pairsCSV)
	all.WriteString(familiesText)
	fmt.Fprint(&all, usualNodes, outerNodes, fewRecipes, someRecipes, manyRecipes, ZincInCopper, ZincInSilver, MostZinc)
	return sha256.Sum256(all.Bytes())
}

// BuildTables computes the tables of all families and writes them in the form that is embedded.
// It takes minutes; go generate calls it after a data file has changed.
func BuildTables(w io.Writer) error {
	families, err := parseFamilies(familiesText)
	if err != nil {
		return fmt.Errorf("read families: %w", err)
	}
	hash := tablesHash()
	if _, err := w.Write(append([]byte(tablesMagic), hash[:]...)); err != nil {
		return err
	}
	tables := make([]*table, len(families))
	var building sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i, f := range families {
		building.Go(func() {
			free <- struct{}{}
			tables[i] = f.build(buildOptions{})
			<-free
		})
	}
	building.Wait()
	for i, f := range families {
		if err := binary.Write(w, binary.LittleEndian, tables[i].data); err != nil {
			return fmt.Errorf("write table of %s: %w", f.Key, err)
		}
	}
	return nil
}

// readTables gives each family its table.
func readTables(families []*Family, data []byte) error {
	hash := tablesHash()
	head := append([]byte(tablesMagic), hash[:]...)
	if !bytes.HasPrefix(data, head) {
		return fmt.Errorf("data/tables.bin is older than the data files: run go generate ./alloy")
	}
	data = data[len(head):]
	for _, f := range families {
		t := newTable(f.finenessGrid(f.Low, f.High), f.Usual, f.Outer)
		size := 4 * len(t.data)
		if len(data) < size {
			return fmt.Errorf("data/tables.bin ends within %s: run go generate ./alloy", f.Key)
		}
		for i := range t.data {
			t.data[i] = math.Float32frombits(binary.LittleEndian.Uint32(data[4*i:]))
		}
		data = data[size:]
		t.finish()
		f.table = t
	}
	if len(data) != 0 {
		return fmt.Errorf("data/tables.bin holds %d bytes too many: run go generate ./alloy", len(data))
	}
	return nil
}
