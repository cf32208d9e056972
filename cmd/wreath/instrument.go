package main

import (
	"context"
	"slices"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/source"
	"wreath/internal/station"
)

type instrumentCmd struct {
	Set  instrumentSetCmd  `cmd:"" help:"Make the file of an instrument, or its next version, from a document."`
	List instrumentListCmd `cmd:"" help:"The instruments and how their papers stand today."`
	Show instrumentShowCmd `cmd:"" help:"The file of one instrument, its versions, and what is missing in it."`
	Out  instrumentOutCmd  `cmd:"" help:"Take an instrument out of service."`
	Back instrumentBackCmd `cmd:"" help:"Return an instrument to service."`

	Watch    instrumentWatchCmd    `cmd:"" help:"Show what an instrument says as it says it, and how its reading stands."`
	Learn    instrumentLearnCmd    `cmd:"" help:"Learn from samples how the lines of an instrument are read."`
	Test     instrumentTestCmd     `cmd:"" help:"Try a pattern on its own tests, on a recording or on live lines."`
	Simulate instrumentSimulateCmd `cmd:"" help:"Let an invented instrument speak, for practice and tests."`
	Record   instrumentRecordCmd   `cmd:"" help:"Record what an instrument says, byte by byte with times."`
	Play     instrumentPlayCmd     `cmd:"" help:"Show a recording as if the instrument spoke now."`
}

type instrumentSetCmd struct {
	place
	once
	File   string `arg:"" help:"JSON document of the instrument, or - for standard input. Its version is counted here."`
	Reason string `help:"Why it changes: new certificate, repair."`
}

func (instrumentSetCmd) Help() string {
	return `Examples:

  wreath instrument set examples/house/balance.json
  wreath instrument set examples/house/thermometer.json --reason "certificate of this spring"

Stations that name the instrument go on with the new version, as a new version of their own.`
}

// Run makes the file.
func (c *instrumentSetCmd) Run(s *streams) error {
	data, err := readUpTo(c.File, s.In, station.MaxDocument)
	if err != nil {
		return err
	}
	// The version is counted by the shop; the document may leave it out.
	doc, err := station.DecodeInstrument(data)
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		ref, err := r.SetInstrument(ctx, c.by(who), *doc, c.Reason)
		if err != nil {
			return err
		}
		say(s, "Instrument %s is set.", ref)
		if missing := doc.Missing(); len(missing) > 0 {
			say(s, "An audit asks for more: %s.", strings.Join(missing, ", "))
		}
		return nil
	})
}

type instrumentListCmd struct {
	place
	formatted
	Ports bool `help:"Only the serial ports of this computer; no shop is needed."`
}

func (instrumentListCmd) Help() string {
	return `Examples:

  wreath instrument list
  wreath instrument list --ports
  wreath instrument list --format json

Papers: ✓ in order, ! due soon, ✗ overdue or out of service, ? traceability not shown. Behind them stand the
instruments that are linked, with the address of their line, and the serial ports that are here now.`
}

// Run lists the instruments.
func (c *instrumentListCmd) Run(s *streams) error {
	if c.Ports {
		return c.listPorts(s)
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		all, err := r.Equipment(ctx, who)
		if err != nil {
			return err
		}
		ports, noPorts := source.Ports()
		links := linesOf(all.Instruments, ports)
		if c.forPrograms() {
			return writeJSON(s.Out, struct {
				desk.Equipment
				Lines []linkedLine `json:"lines"`
				Ports []herePort   `json:"ports"`
			}{all, links, portsFor(links, ports)})
		}
		if len(all.Instruments) == 0 {
			say(s, "No instrument is set. Its file is made with wreath instrument set FILE.")
		} else {
			var rows [][]string
			for n := range all.Instruments {
				i := &all.Instruments[n]
				rows = append(rows, []string{i.ID, i.Kind, i.Place, marked(all.Papers[n].State), all.Papers[n].Sentence})
			}
			if err := safeGrid(s.Out, "instrument|kind|place|papers|in words", rows); err != nil {
				return err
			}
		}
		if len(links) > 0 {
			var rows [][]string
			for _, l := range links {
				rows = append(rows, []string{l.ID, l.Address, l.State, l.Sentence})
			}
			say(s, "")
			if err := safeGrid(s.Out, "linked|address|line|in words", rows); err != nil {
				return err
			}
		}
		say(s, "")
		return printPorts(s, links, ports, noPorts)
	})
}

type instrumentShowCmd struct {
	place
	formatted
	ID       string `arg:"" help:"Name of the instrument."`
	Versions bool   `xor:"what" help:"All versions: when, by whom, why, and what changed."`
	Missing  bool   `xor:"what" help:"Only the fields of an equipment file (ISO/IEC 17025:2017, 6.4.13) that are not filled in."`
}

func (instrumentShowCmd) Help() string {
	return `Examples:

  wreath instrument show B-1
  wreath instrument show B-1 --versions
  wreath instrument show B-1 --missing`
}

// Run shows one instrument.
func (c *instrumentShowCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if c.Versions {
			return showVersions(ctx, s, r, who, c.ID, c.formatted)
		}
		all, err := r.Equipment(ctx, who)
		if err != nil {
			return err
		}
		at := slices.IndexFunc(all.Instruments, func(i station.Instrument) bool { return i.ID == c.ID })
		if at < 0 {
			return notThere("wreath instrument list shows the instruments.", "there is no instrument %q", c.ID)
		}
		i := &all.Instruments[at]
		missing := i.Missing()
		switch {
		case c.Missing && c.forPrograms():
			return writeJSON(s.Out, append([]string{}, missing...))
		case c.forPrograms():
			return writeJSON(s.Out, i)
		case c.Missing && len(missing) == 0:
			say(s, "Nothing is missing.")
			return nil
		case c.Missing:
			say(s, "%s", strings.Join(missing, "\n"))
			return nil
		}
		if err := printFields(s.Out, i); err != nil {
			return err
		}
		say(s, "")
		say(s, "%s: %s", marked(all.Papers[at].State), all.Papers[at].Sentence)
		if len(missing) > 0 {
			say(s, "An audit asks for more: %s.", strings.Join(missing, ", "))
		}
		return nil
	})
}

type instrumentOutCmd struct {
	place
	once
	ID     string `arg:"" help:"Name of the instrument."`
	Reason string `required:"" help:"What happened: dropped, overloaded, shows odd readings."`
}

func (instrumentOutCmd) Help() string {
	return `Examples:

  wreath instrument out B-1 --reason "overloaded with a bar"

Whoever sees the fault may do it. Records made with it from that day on say so.`
}

// Run takes it out of service.
func (c *instrumentOutCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		ref, err := r.TakeOutOfService(ctx, c.by(who), c.ID, c.Reason)
		if err != nil {
			return err
		}
		say(s, "%s is out of service.", ref)
		return nil
	})
}

type instrumentBackCmd struct {
	place
	once
	ID     string `arg:"" help:"Name of the instrument."`
	Reason string `required:"" help:"What was checked, and what it showed."`
}

func (instrumentBackCmd) Help() string {
	return `Examples:

  wreath instrument back B-1 --reason "checked at two points with the mass standard"`
}

// Run returns it to service.
func (c *instrumentBackCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		ref, err := r.ReturnToService(ctx, c.by(who), c.ID, c.Reason)
		if err != nil {
			return err
		}
		say(s, "%s is in service again.", ref)
		return nil
	})
}
