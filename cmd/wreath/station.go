package main

import (
	"context"
	"slices"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/station"
)

type stationCmd struct {
	Set  stationSetCmd  `cmd:"" help:"Make a station, or its next version, from a document."`
	List stationListCmd `cmd:"" help:"The stations, and how the papers of their instruments stand."`
	Show stationShowCmd `cmd:"" help:"One station, its instruments and its versions."`
}

type stationSetCmd struct {
	place
	once
	File   string `arg:"" help:"JSON document of the station, or - for standard input. Its version is counted here."`
	Reason string `help:"Why it changes, for those who look at earlier results."`
}

func (stationSetCmd) Help() string {
	return `Examples:

  wreath station set examples/house/station.json
  wreath station set examples/house/station.json --reason "fresh water, moved to the window"

A station names its instruments by name and version, so they are entered first: wreath instrument set.
Earlier versions stay, and records keep the one that they were made with.`
}

// Run makes the station.
func (c *stationSetCmd) Run(s *streams) error {
	data, err := readUpTo(c.File, s.In, station.MaxDocument)
	if err != nil {
		return err
	}
	doc, err := station.DecodeStation(data)
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		ref, err := r.SetStation(ctx, c.by(who), *doc, c.Reason)
		if err != nil {
			return err
		}
		say(s, "Station %s is set.", ref)
		return nil
	})
}

type stationListCmd struct {
	place
	formatted
}

func (stationListCmd) Help() string {
	return `Examples:

  wreath station list
  wreath station list --format json`
}

// Run lists the stations.
func (c *stationListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		all, err := r.Equipment(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, all)
		}
		if len(all.Stations) == 0 {
			say(s, "No station is set. A station is made with wreath station set FILE.")
			return nil
		}
		var rows [][]string
		for i := range all.Stations {
			st := &all.Stations[i]
			rows = append(rows, []string{st.ID, st.Name, st.Place, liquidName(st), papersOf(&all, st)})
		}
		return safeGrid(s.Out, "station|name|place|liquid|papers", rows)
	})
}

func liquidName(s *station.Station) string {
	if s.Liquid == nil {
		return "not said"
	}
	return s.Liquid.Kind
}

// marks stand before the word, so that a glance finds what needs care.
var marks = map[string]string{
	station.InOrder: "✓", station.DueSoon: "!", station.Overdue: "✗", station.OutOfUse: "✗", station.NotTraceable: "?",
}

func marked(state string) string { return marks[state] + " " + state }

// instrumentsOf are the instruments of a station with how their papers stand.
func instrumentsOf(all *desk.Equipment, s *station.Station) (rows [][]string, states []string) {
	for _, part := range []struct {
		what string
		ref  *station.Ref
	}{
		{"balance", s.Balance}, {"thermometer", s.Thermometer}, {"air thermometer", s.AirThermometer}, {"barometer", s.Barometer},
		{"hygrometer", s.Hygrometer}, {"check piece", s.CheckPiece}, {"reference", s.Reference}, {"sinker", s.Sinker},
	} {
		if part.ref == nil {
			continue
		}
		for n, i := range all.Instruments {
			if i.ID == part.ref.ID {
				rows = append(rows, []string{part.what, part.ref.String(), marked(all.Papers[n].State), all.Papers[n].Sentence})
				states = append(states, all.Papers[n].State)
			}
		}
	}
	return rows, states
}

// papersOf says what is worst of the papers of a station's instruments.
func papersOf(all *desk.Equipment, s *station.Station) string {
	_, states := instrumentsOf(all, s)
	for _, worst := range []string{station.OutOfUse, station.Overdue, station.NotTraceable, station.DueSoon, station.InOrder} {
		if slices.Contains(states, worst) {
			return marked(worst)
		}
	}
	return "no instruments named"
}

type stationShowCmd struct {
	place
	formatted
	ID       string `arg:"" help:"Name of the station."`
	Versions bool   `help:"All versions: when, by whom, why, and what changed."`
}

func (stationShowCmd) Help() string {
	return `Examples:

  wreath station show counter
  wreath station show counter --versions`
}

// Run shows one station.
func (c *stationShowCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if c.Versions {
			return showVersions(ctx, s, r, who, c.ID, c.formatted)
		}
		all, err := r.Equipment(ctx, who)
		if err != nil {
			return err
		}
		at := slices.IndexFunc(all.Stations, func(st station.Station) bool { return st.ID == c.ID })
		if at < 0 {
			return notThere("wreath station list shows the stations.", "there is no station %q", c.ID)
		}
		if c.forPrograms() {
			return writeJSON(s.Out, all.Stations[at])
		}
		if err := printFields(s.Out, all.Stations[at]); err != nil {
			return err
		}
		rows, _ := instrumentsOf(&all, &all.Stations[at])
		if len(rows) == 0 {
			return nil
		}
		say(s, "")
		return safeGrid(s.Out, "instrument|name|papers|in words", rows)
	})
}

// notThere ends a command because what was named is not there.
func notThere(hint, reason string, args ...any) error {
	f := wrong(hint, reason, args...).(*failure)
	f.Code = exitMissing
	return f
}

// showVersions prints all versions of a station or an instrument.
func showVersions(ctx context.Context, s *streams, r *room, who *desk.Who, id string, f formatted) error {
	all, err := r.Versions(ctx, who, id)
	if err != nil {
		return err
	}
	if f.forPrograms() {
		return writeJSON(s.Out, all)
	}
	zone, err := shopZone(ctx, r)
	if err != nil {
		return err
	}
	for n, v := range all {
		why := v.Reason
		if v.Because != "" {
			why = strings.TrimSuffix("new version of "+v.Because+": "+why, ": ")
		}
		say(s, "version %d, %s, by %s%s", n+1, stamp(v.Time, zone), v.Person, before("; ", why))
		for _, change := range v.Changes {
			if change.Path != "version" {
				say(s, "  %s: %s -> %s", change.Path, harmless(or(change.Old, "(nothing)")), harmless(or(change.New, "(nothing)")))
			}
		}
	}
	return nil
}

// before puts something in front of a text that is there.
func before(mark, text string) string {
	if text == "" {
		return ""
	}
	return mark + text
}

func or(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}
