package source

import "fmt"

// Open makes the source of an address. It touches neither port nor network nor file; Run does.
func Open(a Address, o Options) (Source, error) {
	return nil, fmt.Errorf("open %s: the way %q is not known", a, a.Kind)
}
