package main

import (
	"os"
	"slices"

	"wreath/internal/source"
	"wreath/internal/station"
	"wreath/internal/web"
)

// linkedLine is how the line of an instrument stands, as far as it shows without opening it.
type linkedLine struct {
	ID       string `json:"id"`
	Address  string `json:"address"`
	State    string `json:"state"` // ready, missing, not learned, unusable
	Sentence string `json:"sentence"`
}

// herePort is a serial port of this computer.
type herePort struct {
	Name       string `json:"name"`
	Identity   string `json:"identity"`
	Address    string `json:"address"`
	Instrument string `json:"instrument,omitempty"` // that is linked to it
}

// linesOf says how the lines of instruments stand. It opens none: another program may hold them.
func linesOf(all []station.Instrument, ports []source.Port) []linkedLine {
	out := []linkedLine{}
	for n := range all {
		i := &all[n]
		if i.Link == nil {
			continue
		}
		l := linkedLine{ID: i.ID, Address: i.Link.Address, State: "ready", Sentence: "Its lines can be read."}
		c, err := web.LiveConfig(i)
		switch {
		case err != nil:
			l.State, l.Sentence = "unusable", "The link can't be used: "+err.Error()+"."
		case c.Pattern == nil:
			l.State, l.Sentence = "not learned", "Its lines are not learned yet: wreath instrument learn "+i.ID+" --save "+i.ID+"."
		case c.Address.Kind == source.Serial && !portHere(c.Address.Where, ports):
			l.State, l.Sentence = "missing", "The port is not here; plug the cable in."
		case c.Address.Kind == source.File && !fileHere(c.Address.Where):
			l.State, l.Sentence = "missing", "The file is not here; a memory stick must be plugged in."
		case i.Link.Binding != nil && i.Link.Binding.Port == "":
			l.Sentence = "Its lines can be read; its check weight was not shown yet."
		case c.Address.Kind == source.Simulated:
			l.Sentence = "It is simulated; nothing is really weighed."
		}
		out = append(out, l)
	}
	return out
}

func portHere(name string, ports []source.Port) bool {
	return fileHere(name) || slices.ContainsFunc(ports, func(p source.Port) bool { return p.Name == name || p.Identity == name })
}

func fileHere(name string) bool {
	_, err := os.Stat(name)
	return err == nil
}

// portsFor are the ports that are here, with the instruments that are linked to them.
func portsFor(links []linkedLine, ports []source.Port) []herePort {
	out := []herePort{}
	for _, p := range ports {
		here := herePort{Name: p.Name, Identity: p.Identity, Address: p.Address().String()}
		for _, l := range links {
			if a, err := source.ParseAddress(l.Address); err == nil && a.Kind == source.Serial && (a.Where == p.Name || a.Where == p.Identity) {
				here.Instrument = l.ID
			}
		}
		out = append(out, here)
	}
	return out
}

// listPorts lists the serial ports alone.
func (c *instrumentListCmd) listPorts(s *streams) error {
	ports, err := source.Ports()
	if c.forPrograms() {
		if err != nil {
			return &failure{exitFailed, err.Error(), "The system does not tell its ports; name one by hand."}
		}
		return writeJSON(s.Out, struct {
			Ports []herePort `json:"ports"`
		}{portsFor(nil, ports)})
	}
	return printPorts(s, nil, ports, err)
}

func printPorts(s *streams, links []linkedLine, ports []source.Port, err error) error {
	switch {
	case err != nil:
		say(s, "The system does not tell its serial ports: %v", err)
		return nil
	case len(ports) == 0:
		say(s, "No serial port is on this computer now.")
		return nil
	}
	var rows [][]string
	for _, p := range portsFor(links, ports) {
		rows = append(rows, []string{p.Name, p.Address, p.Instrument})
	}
	return safeGrid(s.Out, "port|address|linked to", rows)
}
