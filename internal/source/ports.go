package source

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"go.bug.st/serial"
)

// Port is a serial port that is there now.
type Port struct {
	Name string // what the system calls it: /dev/ttyUSB0, /dev/cu.usbserial-1, COM3
	// Identity stays with the adapter when it moves to another socket, where the system tells such a
	// name (Linux: /dev/serial/by-id), and is otherwise Name.
	Identity string
}

// Address returns the address by which the port is opened again after it was unplugged, with the
// usual speed and framing.
func (p Port) Address() Address {
	return Address{Kind: Serial, Where: p.Identity, Speed: 9600, Data: 8, Parity: "none", Stop: "1"}
}

// Ports lists the serial ports of this computer, in the order of their names.
func Ports() ([]Port, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, fmt.Errorf("list serial ports: %w", err)
	}
	slices.Sort(names)
	known := adapters(byID)
	ports := make([]Port, 0, len(names))
	for _, name := range names {
		ports = append(ports, Port{Name: name, Identity: identityOf(name, known)})
	}
	return ports, nil
}

// PseudoTerminal is the identity of a port behind which stands a program and no instrument.
const PseudoTerminal = "pseudo-terminal"

// byID is where Linux names the adapters by maker, kind and serial number.
const byID = "/dev/serial/by-id"

// adapters maps the device behind each entry of folder to the entry.
func adapters(folder string) map[string]string {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil // no adapter, or another system
	}
	known := map[string]string{}
	for _, e := range entries {
		path := filepath.Join(folder, e.Name())
		if device, err := filepath.EvalSymlinks(path); err == nil {
			known[device] = path
		}
	}
	return known
}

// identityOf returns the lasting name of the port that is opened by name.
func identityOf(name string, known map[string]string) string {
	device, err := filepath.EvalSymlinks(name)
	if err != nil {
		return name
	}
	if path, ok := known[device]; ok {
		return path
	}
	if strings.HasPrefix(device, "/dev/pts/") {
		return PseudoTerminal // its number means nothing and changes each time
	}
	return name
}
