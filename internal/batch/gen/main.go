// Gen writes invented rows for wreath batch: items of stated density, weighed in air and twice in
// water by a simulated balance. They go with the base document examples/station.json.
//
//	go run ./internal/batch/gen -rows 20000 > rows.csv
//	go run ./internal/batch/gen -rows 20000 -format jsonl -bad 100 > rows.jsonl
package main

import (
	"bufio"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"

	"wreath/fluid"
	"wreath/quantity"
)

func main() {
	var t tray
	flag.IntVar(&t.rows, "rows", 1000, "how many rows")
	flag.IntVar(&t.bad, "bad", 0, "make every n-th row a bad one; 0: none")
	flag.StringVar(&t.format, "format", "csv", "csv or jsonl")
	flag.Uint64Var(&t.seed, "seed", 1, "another seed gives other items and readings")
	flag.Parse()
	if err := t.write(os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "gen:", err)
		os.Exit(1)
	}
}

// kind is a kind of item. The densities lie among those of the trade's recipes; chosen here.
type kind struct {
	name, colour, metal, family string
	fineness                    float64 // parts per thousand; 0: nothing is claimed
	low, high                   float64 // density at 20 °C, kg/m³
	lightest, heaviest          float64 // g
}

var kinds = []kind{
	{"band", "yellow", "gold", "gold-yellow", 750, 15300, 15600, 2, 12},
	{"signet", "yellow", "gold", "gold-yellow", 585, 13000, 13400, 5, 25},
	{"chain", "yellow", "gold", "gold-yellow", 375, 11000, 11400, 3, 40},
	{"pin", "red", "gold", "gold-red", 750, 15000, 15250, 2, 6},
	{"spoon", "white", "silver", "silver-copper", 925, 10330, 10390, 15, 60},
	{"ring", "white", "platinum", "", 950, 20500, 20800, 4, 10},
	{"coin", "yellow", "", "", 0, 17500, 17800, 6, 34},
	{"plated", "yellow", "gold", "", 750, 8400, 8900, 2, 12}, // brass under a stamp
}

// The bench of examples/station.json. Humid air at 21.8 °C and 1008 hPa weighs 1.187 kg/m³ by the
// formula of OIML R 111-1, annex E; a thousandth of that does not matter here.
const (
	waterC   = 21.4   // °C
	airKgM3  = 1.187  // kg/m³
	airG     = 0.0001 // standard deviation of a reading in air
	liquidG  = 0.0003 // standard deviation of a reading in the water
	interval = 0.0001 // g
)

// tray is what is asked for.
type tray struct {
	rows, bad int
	format    string
	seed      uint64
}

const header = "id,item.description,item.colour,claim.metal,claim.fineness,claim.family,air_g,liquid_g,closing_air_g\n"

func (t tray) write(to io.Writer) error {
	if t.format != "csv" && t.format != "jsonl" || t.rows < 0 || t.bad < 0 {
		return fmt.Errorf("format %q, %d rows, bad %d: give csv or jsonl and numbers from 0", t.format, t.rows, t.bad)
	}
	water, err := fluid.WaterAirFree(quantity.Temperature(waterC))
	if err != nil {
		return err
	}
	w := bufio.NewWriter(to)
	if t.format == "csv" {
		w.WriteString(header)
	}
	r := rand.New(rand.NewPCG(t.seed, 0))
	for i := range t.rows {
		k := kinds[r.IntN(len(kinds))]
		rho := k.low + (k.high-k.low)*r.Float64()
		air := k.lightest + (k.heaviest-k.lightest)*r.Float64()
		// Archimedes: lost/air = (liquid − air)/(item − air), all densities.
		lost := air * (1000*water.GramPerCm3() - airKgM3) / (rho - airKgM3)
		in := [4]float64{air, air - lost, air - lost, air}
		for j, u := range [4]float64{airG, liquidG, liquidG, airG} {
			in[j] = math.Round((in[j]+u*r.NormFloat64())/interval) * interval
		}
		if t.bad > 0 && i%t.bad == t.bad-1 {
			in[0], in[1] = in[1], in[0] // swapped
		}
		id := fmt.Sprintf("%s-%d-%.1f", k.name, i+1, rho)
		if t.format == "csv" {
			t.csv(w, id, k, in)
		} else {
			t.jsonl(w, id, k, in)
		}
	}
	return w.Flush()
}

func (t tray) csv(w io.Writer, id string, k kind, in [4]float64) {
	fineness := ""
	if k.fineness > 0 {
		fineness = fmt.Sprintf("%g", k.fineness)
	}
	fmt.Fprintf(w, "%s,%s (invented),%s,%s,%s,%s,%.4f,%.4f %.4f,%.4f\n",
		id, k.name, k.colour, k.metal, fineness, k.family, in[0], in[1], in[2], in[3])
}

func (t tray) jsonl(w io.Writer, id string, k kind, in [4]float64) {
	claim := ""
	if k.fineness > 0 {
		claim = fmt.Sprintf(`"claim": {"metal": %q, "fineness": %g`, k.metal, k.fineness)
		if k.family != "" {
			claim += fmt.Sprintf(`, "family": %q`, k.family)
		}
		claim += "}, "
	}
	fmt.Fprintf(w, `{"id": %q, "item": {"description": "%s (invented)", "colour": %q}, %s"air_g": %.4f, "liquid_g": [%.4f, %.4f], "closing_air_g": %.4f}`+"\n",
		id, k.name, k.colour, claim, in[0], in[1], in[2], in[3])
}
