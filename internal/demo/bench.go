package demo

import (
	"encoding/json"
	"fmt"

	"wreath/internal/practice"
	"wreath/internal/simulated"
	"wreath/internal/simulation"
	"wreath/internal/station"
)

// BenchName is how addresses call the simulated bench of the invented shop, BenchBalance its balance in the
// shop's files.
const (
	BenchName    = "invented-bench"
	BenchBalance = "B-5"
)

// benchLesson is what lies at the bench: a sound piece of yellow gold 750 of some 22 g, in water.
var benchLesson = practice.Lesson{Key: BenchName, Kind: "hanging", Fault: "none", Seed: 98}

// simulatedBench is the simulated bench with what is told of it.
type simulatedBench struct {
	station *simulated.Station
	told    practice.Told
}

func newBench() (*simulatedBench, error) {
	task, err := practice.New(benchLesson)
	if err != nil {
		return nil, err
	}
	b := &simulatedBench{simulated.NewStation(task.Live), task.Told}
	for _, i := range [][2]string{{"balance", "columns"}, {"thermometer", "bath"}} {
		if _, err := b.station.NewInstrument(i[0], i[1]); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// Bench is the simulated bench of the invented shop, at which its clock stands until somebody lets it run. Its
// instruments are linked in the shop; nothing is really weighed there.
func Bench() (*simulated.Station, error) {
	b, err := newBench()
	if err != nil {
		return nil, fmt.Errorf("the simulated bench: %w", err)
	}
	return b.station, nil
}

// Weighing is what an automatic person does at the bench from its beginning: air, two immersions, air again.
func Weighing() (moves []simulation.Move) {
	const pause = 22 // s between two moves; a balance of usual habits has settled by then
	for i, act := range []simulation.Act{
		simulation.ActZero, simulation.ActPanOn, simulation.ActPanOff, simulation.ActHang, simulation.ActZero, simulation.ActImmerse, simulation.ActLift,
		simulation.ActImmerse, simulation.ActLift, simulation.ActUnhang, simulation.ActDry, simulation.ActZero, simulation.ActPanOn, simulation.ActPanOff,
	} {
		moves = append(moves, simulation.Move{Act: act, At: 1 + pause*float64(i)})
	}
	return moves
}

// link is how an instrument of the bench reaches the program.
func (b *simulatedBench) link(name string) (*station.Link, error) {
	i, found := b.station.Instrument(name)
	if !found {
		return nil, fmt.Errorf("the simulated bench has no %s", name)
	}
	pattern, err := i.Pattern()
	if err != nil {
		return nil, err
	}
	document, err := pattern.Encode()
	if err != nil {
		return nil, err
	}
	return &station.Link{Address: "simulated:" + BenchName + "?instrument=" + name, Pattern: json.RawMessage(document)}, nil
}

// simulatedFiles are the files of the simulated bench's instruments and of the bench itself.
func (f papers) simulatedFiles() ([]station.Instrument, station.Station, error) {
	b, err := newBench()
	if err != nil {
		return nil, station.Station{}, err
	}
	const where = "nowhere: it is simulated"
	d := b.told.Draft
	balance := f.balance(BenchBalance, where, 210, *d.Balance.ResolutionG, *d.Balance.RepeatabilityG, *d.Balance.RepeatabilityLiquidG, f.certificate("25", -30, 335))
	thermometer := f.thermometer("T-5", where, 0, f.certificate("35", -30, 335))
	piece := f.file("K-5", station.CheckPiece, where, f.certificate("45", -30, 1795))
	piece.Solid = &station.Solid{VolumeCm3: &b.told.CheckCm3, VolumeUCm3: &b.told.CheckUCm3}
	for _, i := range []*station.Instrument{&balance, &thermometer, &piece} {
		i.Type = "invented, simulated"
	}
	if balance.Link, err = b.link("balance"); err != nil {
		return nil, station.Station{}, err
	}
	if thermometer.Link, err = b.link("thermometer"); err != nil {
		return nil, station.Station{}, err
	}
	at := station.Station{ID: "simulated", Name: "Simulated bench: nothing is really weighed", Place: where, AltitudeM: p(180.0), Arrangement: "hanging",
		Balance: ref(BenchBalance), Thermometer: ref("T-5"), CheckPiece: ref("K-5"),
		Hanger: &station.Hanger{WireDiameterMM: d.Hanger.WireDiameterMM, Wires: p(1), VesselDiameterMM: d.Hanger.VesselDiameterMM, SurfaceUG: d.Hanger.SurfaceUG},
		Liquid: &station.Liquid{Kind: "water"}, HouseRule: "two-immersions", Note: "Everything weighed here is simulated. Its hands are on the page of practice."}
	return []station.Instrument{balance, thermometer, piece}, at, nil
}
