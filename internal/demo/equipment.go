package demo

import (
	"context"
	"time"

	"wreath/internal/station"
)

const invented = "Invented Calibration House"

func p[T any](v T) *T { return &v }

func ref(id string) *station.Ref { return &station.Ref{ID: id, Version: 1} }

// papers makes certificates that were fine, are due soon or overdue on the day of the demo.
type papers struct{ now time.Time }

func (f papers) day(days int) station.Date { return station.Day(f.now.AddDate(0, 0, days)) }

func (f papers) certificate(number string, calibrated, due int) station.Certificate {
	return station.Certificate{Number: "INVENTED-" + number, Issuer: invented, Date: f.day(calibrated), NextDue: f.day(due)}
}

func (f papers) file(id, kind, where string, c station.Certificate) station.Instrument {
	return station.Instrument{
		ID: id, Kind: kind, Maker: "invented", Type: "invented", Serial: "INV-" + id, Place: where,
		Certificates: []station.Certificate{c},
		Acceptance:   &station.Acceptance{Date: c.Date, Person: keeper.Name, Passed: true, Note: "invented"},
	}
}

func (f papers) thermometer(id, where string, correction float64, c station.Certificate) station.Instrument {
	c.PointsC = []station.Point{{Shown: 10, Correction: correction, ExpandedU: 0.08, K: 2}, {Shown: 35, Correction: correction, ExpandedU: 0.08, K: 2}}
	i := f.file(id, station.Thermometer, where, c)
	i.ScaleIntervalC = p(0.1)
	return i
}

func (f papers) balance(id, where string, capacity, d, s, sLiquid float64, c station.Certificate) station.Instrument {
	i := f.file(id, station.Balance, where, c)
	i.CapacityG, i.ScaleIntervalG, i.RepeatabilityG, i.RepeatabilityLiquidG, i.RepeatabilityDof = &capacity, &d, &s, &sLiquid, p(19.0)
	return i
}

func (f papers) piece(id, where string, grams, density, u float64, c station.Certificate) station.Instrument {
	i := f.file(id, station.CheckPiece, where, c)
	i.Solid = &station.Solid{MassG: &grams, MassUG: p(grams * 2e-6), DensityKgM3: &density, DensityUKgM3: &u, ExpansionPerK: p(48e-6)}
	return i
}

func (f papers) instruments() []station.Instrument {
	const window, front, room = "window bench", "counter", "receiving room"
	standard := f.file("M-1", station.MassStandard, window, f.certificate("61", -150, 580))
	standard.Class, standard.Solid = "F1", &station.Solid{MassG: p(100.00003), MassUG: p(0.00008)}
	return []station.Instrument{
		f.balance("B-1", window, 210, 0.0001, 0.0001, 0.0003, f.certificate("21", -120, 245)),
		f.balance("B-2", front, 2200, 0.01, 0.006, 0.008, f.certificate("22", -344, 21)), // due soon
		f.balance("B-3", room, 41000, 0.1, 0.07, 0.12, f.certificate("23", -80, 285)),
		f.balance("B-4", front, 600, 0.01, 0.006, 0.01, f.certificate("24", -60, 305)), // dropped, see story.go
		f.thermometer("T-1", window, -0.2, f.certificate("31", -90, 275)),
		f.thermometer("T-2", front, 0.4, f.certificate("32", -400, -35)), // overdue
		f.thermometer("T-3", room, 0.05, f.certificate("33", -80, 285)),
		f.piece("K-1", window, 39.662, 7930, 0.4, f.certificate("41", -200, 1625)),
		f.piece("K-3", room, 10000.3, 7985, 0.5, f.certificate("43", -80, 1745)),
		standard,
	}
}

func (f papers) stations() []station.Station {
	hanger := func(wire, vessel float64) *station.Hanger {
		return &station.Hanger{WireDiameterMM: &wire, Wires: p(1), VesselDiameterMM: &vessel, SurfaceUG: p(0.0)}
	}
	return []station.Station{
		{ID: "bench", Name: "Window bench", Place: "back room, by the window", AltitudeM: p(180.0), Arrangement: "hanging",
			Balance: ref("B-1"), Thermometer: ref("T-1"), CheckPiece: ref("K-1"), Hanger: hanger(0.2, 70),
			Liquid: &station.Liquid{Kind: "water", DensityUKgM3: p(0.05)}, HouseRule: "closed-and-proved"},
		{ID: "spirit", Name: "Small items, in spirit", Place: "back room, by the window", AltitudeM: p(180.0), Arrangement: "hanging",
			Balance: ref("B-1"), Thermometer: ref("T-1"), CheckPiece: ref("K-1"), Hanger: hanger(0.2, 70),
			Liquid:    &station.Liquid{Kind: "ethanol-water", EthanolVolumePercent20: p(96.0), EthanolUPercent: p(0.2)},
			HouseRule: "closed-and-proved", Note: "The same balance with another vessel. Keep flames away, lid on."},
		{ID: "counter", Name: "Counter", Place: "shop, left counter", AltitudeM: p(180.0), Arrangement: "hanging",
			Balance: ref("B-2"), Thermometer: ref("T-2"), Hanger: hanger(0.5, 90),
			Liquid: &station.Liquid{Kind: "water", DensityUKgM3: p(0.1)}, HouseRule: "two-immersions"},
		{ID: "receiving", Name: "Receiving room", Place: "cellar, hook under the floor balance", AltitudeM: p(175.0), Arrangement: "hanging",
			Balance: ref("B-3"), Thermometer: ref("T-3"), CheckPiece: ref("K-3"), Hanger: hanger(1, 300),
			Liquid: &station.Liquid{Kind: "water", DensityUKgM3: p(0.05)}, HouseRule: "closed-and-proved"},
	}
}

// equip enters the instruments and then the stations that stand on them.
func (s *story) equip(ctx context.Context) error {
	f := papers{s.clock.end}
	simulated, bench, err := f.simulatedFiles()
	if err != nil {
		return err
	}
	for _, i := range append(f.instruments(), simulated...) {
		if _, err := s.desk.SetInstrument(ctx, s.by, i, "first entry"); err != nil {
			return err
		}
		s.clock.wait(10 * time.Second)
	}
	for _, st := range append(f.stations(), bench) {
		if _, err := s.desk.SetStation(ctx, s.by, st, "first entry"); err != nil {
			return err
		}
		s.clock.wait(10 * time.Second)
	}
	return nil
}
