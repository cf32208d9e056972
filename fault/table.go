package fault

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"sync"
)

//go:embed data/faults.csv
var faultsCSV []byte

// Fault is one row of the table of faults.
type Fault struct {
	Key    string
	Cause  string  // in words: "a bubble on the item or under the hanger"
	Weight float64 // before the readings; the engine scales the sum to 1

	// The law of the size. Log-normal: median and standard deviation of the logarithm. Log-flat
	// and flat: the ends. Normal: mean and standard deviation.
	Law           string
	First, Second float64
	Low, High     float64 // what can be at all
	Each          float64 // chance that one immersion is hit; 0: all are, or none

	Group    string // faults of one group can't be told apart by one immersion
	Quantity string // what the size is, in words
	Unit     string // of the size; "1" is a plain ratio, "d" the scale interval

	// By how much the weight changes when the item was looked over for it and it was seen, or
	// not seen; 1 where looking does not help.
	LookedYes, LookedNo float64

	Settles string // the act, in words
	Source  string
}

// Kind is the place of a fault in the table.
type Kind int

// The faults, in the order of the table.
const (
	Clean Kind = iota
	LowerStandard
	FinerStandard
	LookAlike
	Bubble
	Zero
	Touching
	Wire
	Hanger
	Temperature
	Liquid
	Ethanol
	Hollow
	Stones
	Core
	Pores
	Wet
	Drift
	Draught
	WrongItem
	Digit
	Unit
	Swapped
	Displaced
	SomethingElse
	Kinds // how many there are
)

var keys = [Kinds]string{"clean", "lower-standard", "finer-standard", "look-alike", "bubble", "zero", "touching", "wire", "hanger",
	"temperature", "liquid", "ethanol", "hollow", "stones", "core", "pores", "wet", "drift", "draught", "wrong-item", "digit", "unit",
	"swapped", "displaced", "something-else"}

// Key is the fault's stable name.
func (k Kind) Key() string { return keys[k] }

// Fault is the fault's row of the table.
func (k Kind) Fault() *Fault { return &table()[k] }

// Faults lists the table, in its order.
func Faults() []Fault { return table() }

// KindByKey finds a fault by its stable name.
func KindByKey(key string) (Kind, bool) {
	for k, own := range keys {
		if own == key {
			return Kind(k), true
		}
	}
	return 0, false
}

// table is the parsed file. It is embedded and tested, so a fault in it is a bug.
var table = sync.OnceValue(func() []Fault {
	rows, err := csv.NewReader(bytes.NewReader(faultsCSV)).ReadAll()
	if err != nil {
		panic("data/faults.csv: " + err.Error())
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	faults := make([]Fault, 0, Kinds)
	for i, row := range rows[1:] {
		number := func(name string, otherwise float64) float64 {
			if row[column[name]] == "" {
				return otherwise
			}
			x, err := strconv.ParseFloat(row[column[name]], 64)
			if err != nil {
				panic(fmt.Sprintf("data/faults.csv line %d, %s: %v", i+2, name, err))
			}
			return x
		}
		text := func(name string) string { return row[column[name]] }
		f := Fault{
			Key: text("key"), Cause: text("cause"), Weight: number("weight", 0),
			Law: text("law"), First: number("first", 0), Second: number("second", 0), Low: number("low", 0), High: number("high", 0),
			Each: number("each", 0), Group: text("group"), Quantity: text("quantity"), Unit: text("unit"),
			LookedYes: number("looked_yes", 1), LookedNo: number("looked_no", 1), Settles: text("settles"), Source: text("source"),
		}
		if i >= int(Kinds) || f.Key != keys[i] {
			panic(fmt.Sprintf("data/faults.csv line %d: %q is not the fault that belongs here", i+2, f.Key))
		}
		faults = append(faults, f)
	}
	if len(faults) != int(Kinds) {
		panic("data/faults.csv: a fault is missing")
	}
	return faults
})
